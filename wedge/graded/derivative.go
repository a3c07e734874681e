// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/wedge"
)

// Derivatives are the first derivatives of the time along a ray.
type Derivatives struct {
	Time  float64 // s; NaN, as all other fields, if there is no ray
	Start r3.Vec  // by the place of the element, s/m; its y is 0
	End   r3.Vec  // by the place of the point, s/m; its y is 0
	// By holds the derivative by each parameter of the [Family], in s for one unit of the parameter.
	By []float64
}

// Derivatives returns the derivatives of the times from every element to every point (m), at the
// index element·len(points) + point. Rays and options are the same as for [Part.Times].
//
// By Fermat's principle, a small change of the ray does not change the time. So the time changes by
// the change of the speeds along the ray as it is, and by the motion of the faces that it crosses:
//
//	∂t/∂p = −∫ (∂v/∂p)/v dt + Σ (s₁ − s₂)·n ∂h/∂p
//
//	p       parameter
//	v       phase speed, at the place and for the wave normal of the ray
//	s₁, s₂  slowness before and behind a face
//	n, h    normal of the face to its far side, and how far the face has moved along it
//
// The derivatives hold for small errors. They do not tell that a ray appears or disappears.
func (f *Family) Derivatives(
	ctx context.Context, pol Polarisation, elements, points []r3.Vec, options *Options,
) ([]Derivatives, error) {
	return f.derivatives(ctx, pol, elements, points, nil, options)
}

// derivatives is [Family.Derivatives] for the wanted pairs of element and point; nil stands for all
// pairs.
func (f *Family) derivatives(
	ctx context.Context, pol Polarisation, elements, points []r3.Vec, wanted []bool, options *Options,
) ([]Derivatives, error) {
	o, err := f.part.check(pol, elements, points, options, false)
	if err != nil {
		return nil, err
	}
	prepare, err := f.tracers(ctx, pol, points, &o, elements[0].Y)
	if err != nil {
		return nil, err
	}
	out := make([]Derivatives, len(elements)*len(points))
	spread := parallel.Options{Workers: o.Workers, Progress: o.Progress}
	return out, parallel.Do(ctx, len(elements), spread, func() func(int) error {
		return func(e int) error {
			ray, err := prepare(elements[e])
			if err != nil {
				return fmt.Errorf("graded: element %d: %w", e, err)
			}
			for i := range points {
				if i%chunk == 0 && ctx.Err() != nil {
					return ctx.Err()
				}
				at := e*len(points) + i
				if wanted == nil || wanted[at] {
					out[at] = f.along(ray(i))
				}
			}
			return nil
		}
	})
}

// tracers returns a function that prepares an element. It returns a function that follows the ray
// to a point.
func (f *Family) tracers(
	ctx context.Context, pol Polarisation, points []r3.Vec, o *search, y float64,
) (func(element r3.Vec) (func(point int) *trace, error), error) {
	if o.shoots(pol) {
		index := newPointIndex(points, o)
		return func(element r3.Vec) (func(int) *trace, error) {
			a := newAim(element, index, o)
			return func(point int) *trace {
				rays := a.fan.rays(a.candidates[point], points[point])
				if o.Arrival >= len(rays) {
					return nil
				}
				return f.shotTrace(a.fan, &rays[o.Arrival], points[point])
			}, a.fan.limit()
		}, nil
	}
	l, err := newLattice(ctx, f.part, pol, rectangle(o.Region), o.Spacing, y, o.Workers)
	if err != nil {
		return nil, err
	}
	benders := sync.Pool{New: func() any { return newBender(f.part, pol) }}
	return func(element r3.Vec) (func(int) *trace, error) {
		front := newFront(l, element)
		return func(point int) *trace {
			b := benders.Get().(*bender)
			defer benders.Put(b)
			r := b.ray(front, points[point], o.Tolerance)
			if r.Status != wedge.OK {
				return nil
			}
			return f.bentTrace(b, r.Time)
		}, nil
	}, nil
}

// trace is a ray as its derivatives need it.
type trace struct {
	time       float64
	stretches  []stretch
	transits   []transit
	start, end r3.Vec // slowness at both ends, s/m
}

// stretch is a place on a ray with a weight in s. The weights add up to the time.
type stretch struct {
	pol           Polarisation
	medium        int // of the arrangement
	at            r3.Vec
	angle, weight float64
}

// transit is a place where a ray crosses a face, or where it is reflected.
type transit struct {
	surface int // of the arrangement
	at      r3.Vec
	jump    r3.Vec // slowness before less slowness behind, s/m
}

// along returns the derivatives along a ray. A nil ray stands for none.
func (f *Family) along(t *trace) Derivatives {
	nan := math.NaN()
	d := Derivatives{Time: nan, Start: r3.Vec{X: nan, Z: nan}, End: r3.Vec{X: nan, Z: nan}, By: make([]float64, len(f.changes))}
	for k := range d.By {
		d.By[k] = nan
	}
	if t == nil {
		return d
	}
	d.Time, d.Start, d.End = t.time, r3.Scale(-1, t.start), t.end
	for k := range f.changes {
		d.By[k] = f.changes[k].slope(&f.base, t)
	}
	return d
}

// slope returns the derivative of the time along a ray by the parameter.
func (c *change) slope(base *arrangement, t *trace) float64 {
	var sum float64
	for i := range t.stretches {
		s := &t.stretches[i]
		if !c.media[s.medium] {
			continue
		}
		speed := func(a *arrangement) float64 { return a.media[s.medium].Phase(s.pol, s.at, s.angle).Speed }
		sum -= s.weight * (speed(&c.high) - speed(&c.low)) / speed(base)
	}
	for i := range t.transits {
		x := &t.transits[i]
		surface := base.surfaces[x.surface]
		u, v := surface.Locate(x.at)
		normal := surface.At(u, v).Normal()
		// A place on the near side of a surface has a negative depth.
		moved := c.low.surfaces[x.surface].Depth(x.at) - c.high.surfaces[x.surface].Depth(x.at)
		sum += r3.Dot(x.jump, normal) * moved
	}
	return sum / c.step
}

// cross adds a crossing of a surface; the index -1 stands for a face between equal media.
func (t *trace) cross(surface int, at, before, behind r3.Vec) {
	if surface >= 0 {
		t.transits = append(t.transits, transit{surface, at, r3.Sub(before, behind)})
	}
}

// add adds a step by Simpson's rule: the angles of the wave normal, and the times over the step at the
// slowness there, at the start, in the middle and at the end.
func (t *trace) add(pol Polarisation, medium int, from, to r3.Vec, a, b, c float64, times [3]float64) {
	t.stretches = append(t.stretches,
		stretch{pol, medium, from, a, times[0] / 6},
		stretch{pol, medium, middle(from, to), b, times[1] * 4 / 6},
		stretch{pol, medium, to, c, times[2] / 6})
}

// angleOf returns the angle of a vector from +x towards +z.
func angleOf(v r3.Vec) float64 { return math.Atan2(v.Z, v.X) }

// bentTrace returns the ray that a bender has found.
func (f *Family) bentTrace(b *bender, time float64) *trace {
	t := &trace{time: time}
	var last r3.Vec // slowness at the end of the segment before
	for i := range b.segments {
		s := &b.segments[i]
		from, to := b.knots[i].at, b.knots[i+1].at
		travel := s.medium.Travel(b.pol, middle(from, to), r3.Sub(to, from))
		half := r3.Scale(0.5, travel.Place)
		first := r3.Sub(travel.Slowness, half)
		if i == 0 {
			t.start = first
		} else if b.segments[i-1].zone != s.zone {
			t.cross(f.surface(b.knots[i].face), from, last, first)
		}
		last = r3.Add(travel.Slowness, half)
		t.add(b.pol, f.base.of(s.zone), from, to, angleOf(first), angleOf(travel.Slowness), angleOf(last),
			[3]float64{travel.Time, travel.Time, travel.Time})
	}
	t.end = last
	return t
}

// surface returns the index of a face of the part or of its entry surface.
func (f *Family) surface(s wedge.Surface) int {
	if k := slices.Index(f.part.Faces, s); k >= 0 {
		return f.base.face[k]
	}
	return f.base.entry()
}

// shotTrace returns a ray that a fan has found.
func (f *Family) shotTrace(fan *fan, s *solution, q r3.Vec) *trace {
	var trail []footprint
	_, time, ok := fan.reach(s.chain, s.launch, s.time, q, &trail)
	if !ok {
		return nil
	}
	if f.part.Coupling != nil {
		lead := footprint{state{fan.element.X, fan.element.Z, s.launch}, -1, -1}
		end := footprint{state{trail[0].x, trail[0].z, s.launch}, -1, f.base.entry()}
		trail = append([]footprint{lead, end}, trail...)
	}
	place := func(p *footprint) (Polarisation, int) {
		if p.room < 0 {
			return fan.pol, f.base.of(-1)
		}
		return fan.part.wave(p.room), f.base.of(p.room % len(f.part.Media))
	}
	slowness := func(p *footprint) r3.Vec {
		pol, medium := place(p)
		return r3.Scale(1/f.base.media[medium].Phase(pol, p.at(fan.y), p.angle).Speed, heading(p.angle))
	}
	t := &trace{time: time, start: slowness(&trail[0]), end: slowness(&trail[len(trail)-1])}
	for i := range len(trail) - 1 {
		a, b := &trail[i], &trail[i+1]
		from, to := a.at(fan.y), b.at(fan.y)
		before, after := slowness(a), slowness(b)
		if a.exit >= 0 {
			t.cross(f.exit(a), from, before, after)
			continue
		}
		mid := footprint{state{(a.x + b.x) / 2, (a.z + b.z) / 2, a.angle + (b.angle-a.angle)/2}, a.room, -1}
		step := r3.Sub(to, from)
		pol, medium := place(a)
		t.add(pol, medium, from, to, a.angle, mid.angle, b.angle,
			[3]float64{r3.Dot(before, step), r3.Dot(slowness(&mid), step), r3.Dot(after, step)})
	}
	return t
}

// exit returns the index of the surface by which a wave leaves its room.
func (f *Family) exit(p *footprint) int {
	switch {
	case p.room < 0:
		return f.base.entry()
	case p.exit < len(f.part.Faces):
		return f.base.face[p.exit]
	}
	// Waves are reflected at the back wall and at the entry surface in turns.
	return f.base.entry() + 1 - p.room/len(f.part.Media)%2
}
