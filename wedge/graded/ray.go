// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/wedge"
)

// PartRay is a ray from an element to a point of a [Part].
type PartRay struct {
	Status wedge.Status // OK, EndOutside, Obstructed, NotConverged or LimitMet
	Time   float64      // s; NaN unless Status is OK
	Error  float64      // estimated error of Time from the last refinements, s
	// Points is the ray as a polyline from element to point, m; empty unless Status is OK. The
	// points of a shot ray lie on the ray. The distance of a bent polyline from the ray is of
	// second order in the spacing of its points, while Time is extrapolated.
	Points []r3.Vec
}

// Options are the options of the search for rays in a [Part].
type Options struct {
	// Spacing is the spacing of the lattice of the rough search in m, at least 1e-6. In a fan of
	// shot rays it is the largest distance between neighbouring rays and steps. It does not set
	// the accuracy of times. With a finer spacing the search finds paths between smaller
	// obstacles, and more rays close to caustics. 0 stands for 1/128 of the longer side of Region.
	// If Region is zero too, it is the longer side of the rectangle around all points in the part
	// and the nearest points of the entry surface to the elements, with a tenth added all round.
	Spacing float64
	// Region is a rectangle of the section: X is x, Y is the depth z, in m. A shot ray that leaves
	// it is lost. The zero value stands for a rectangle that no shot ray can leave and come back to
	// a point in time. A shot ray takes at most three times as long as the way by the foot of the
	// element: straight to the nearest point of the entry surface, then straight to the point at
	// the mean group speed. Bent rays may leave the region, but the rough search for them does not.
	Region r2.Box
	// Arrival is the number of the ray in the order of arrival, 0 (the first, the default) to 15.
	// If a point has fewer rays, its time is NaN. The times jump where a fold of the wave fronts
	// begins or ends.
	Arrival int
	// Skips holds the wave after each reflection of the ray in the part, at most 8: first at the back
	// wall, then at the entry surface, and so on in turns. The wave that the methods take as an
	// argument is the wave before the first reflection. A wave keeps its polarisation where it
	// crosses a face. Empty stands for a direct ray. SH is reflected as SH only.
	Skips []Polarisation
	// Tolerance is the largest error of a time in s, at least 1e-15. A ray that does not reach it
	// is NotConverged. 0 stands for 100 ps.
	Tolerance float64
	// Progress, if not nil, is called now and then, one call at a time, with the share of the work
	// that is done, in (0, 1].
	Progress func(share float64)
	Workers  int // the largest number of goroutines that work at a time; 0 stands for all cores
}

// complete checks o and returns the search with the defaults filled in. If all is set, the search
// is for all rays.
func (o *Options) complete(
	p *Part, pol Polarisation, elements, points []r3.Vec, all bool,
) (search, error) {
	if o == nil {
		o = new(Options)
	}
	if err := p.checkSkips(pol, o.Skips); err != nil {
		return search{}, err
	}
	s := newSearch(newSpace(p, pol, o.Skips), elements, points)
	s.Options = *o
	if s.Arrival < 0 || s.Arrival > 15 {
		return s, fmt.Errorf("graded: arrival %d: want 0 to 15", s.Arrival)
	}
	shoots := all || s.shoots(pol)
	s.bounded = s.Region != (r2.Box{})
	if s.bounded {
		if err := rectangle(s.Region).validate(); err != nil {
			return s, err
		}
	}
	region := s.around(elements)
	if shoots {
		region, s.latest = s.reachable(elements)
	}
	if !s.bounded {
		s.Region = r2.Box(region)
	}
	s.fixed = s.Spacing != 0
	if !s.fixed {
		s.Spacing = s.ends.longest() / 128
		if s.bounded {
			s.Spacing = rectangle(s.Region).longest() / 128
		}
	}
	if err := checkRange("spacing of the lattice", s.Spacing, 1e-6, math.MaxFloat64,
		" m"); err != nil {
		return s, err
	}
	size := r2.Box(s.ends).Size()
	if !shoots {
		size = s.Region.Size()
	}
	if nodes := size.X / s.Spacing * size.Y / s.Spacing; !(nodes <= mostNodes) {
		return s, fmt.Errorf("graded: lattice of %.0f nodes at a spacing of %v m: "+
			"want at most %d", nodes, s.Spacing, mostNodes)
	}
	if err := parallel.Check(s.Workers); err != nil {
		return s, fmt.Errorf("graded: %w", err)
	}
	if s.Tolerance == 0 {
		s.Tolerance = 100e-12
	}
	return s, checkRange("tolerance", s.Tolerance, 1e-15, math.MaxFloat64, " s")
}

// shoots reports whether rays are found by shooting; otherwise they are found by bending.
func (o *Options) shoots(pol Polarisation) bool {
	return pol == QuasiShearVertical || o.Arrival > 0 || len(o.Skips) > 0
}

// Ray returns one ray from an element to a point, chosen by Options.Arrival. Nil options stand for
// the defaults. The search begins anew for each call; for many points, [Part.Times] is far faster.
//
// If there is no such ray, Status is EndOutside or Obstructed. It is LimitMet if the search for shot
// rays met one of its limits, so that there may be such a ray. The limits are Options.Region, if it
// is not zero, and the limits of [ErrLimit].
func (p *Part) Ray(pol Polarisation, element, point r3.Vec, options *Options) (PartRay, error) {
	elements, points := []r3.Vec{element}, []r3.Vec{point}
	o, err := p.check(pol, elements, points, options, false)
	if err != nil {
		return PartRay{}, err
	}
	if o.shoots(pol) {
		return p.arrival(element, point, &o), nil
	}
	l, err := newLattice(context.Background(), p, pol, rectangle(o.Region), o.Spacing, element.Y,
		o.Workers)
	if err != nil {
		return PartRay{}, err
	}
	b := newBender(p, pol)
	r := b.ray(newFront(l, element), point, o.Tolerance)
	if r.Status == wedge.OK {
		for i := range b.knots {
			r.Points = append(r.Points, b.knots[i].at)
		}
	}
	return r, nil
}

// arrival is [Part.Ray] by shooting.
func (p *Part) arrival(element, point r3.Vec, o *search) PartRay {
	none := PartRay{Status: wedge.Obstructed, Time: math.NaN(), Error: math.NaN()}
	if !p.inside(point, contactTolerance) {
		none.Status = wedge.EndOutside
		return none
	}
	a := newAim(element, newPointIndex([]r3.Vec{point}, o), o)
	rays := a.rays(point)
	if o.Arrival < len(rays) {
		return rays[o.Arrival]
	}
	if a.fan.limit() != nil || a.fan.left {
		none.Status = wedge.LimitMet
	}
	return none
}

// ErrLimit is wrapped by errors of [Part.Rays] and [Part.Times] if a search met one of its limits
// before it was complete. The limits are 2^14 rays of a fan, and for each ray 32 zones, and 1,024
// pieces if it is split at faces.
var ErrLimit = errors.New("the search for rays met a limit")

// Rays returns all rays from an element to a point in the order of arrival, found by shooting. It
// returns no ray if the point lies outside the part or in a shadow. Nil options stand for the
// defaults; Options.Arrival has no effect. Near a caustic, two rays that nearly coincide may be
// missed. If the search met a limit, Rays returns the rays that it found and an error that wraps
// [ErrLimit].
func (p *Part) Rays(pol Polarisation, element, point r3.Vec, options *Options) ([]PartRay, error) {
	o, err := p.check(pol, []r3.Vec{element}, []r3.Vec{point}, options, true)
	if err != nil {
		return nil, err
	}
	a := newAim(element, newPointIndex([]r3.Vec{point}, &o), &o)
	return a.rays(point), a.fan.limit()
}

// rays returns all rays to the only point of an aim.
func (a *aim) rays(point r3.Vec) []PartRay {
	var out []PartRay
	for _, s := range a.fan.rays(a.candidates[0], point) {
		r := PartRay{Time: s.time, Points: []r3.Vec{a.fan.element}}
		if a.fan.part.Coupling == nil {
			r.Points = nil // the element is on the ray in the part
		}
		var trail []footprint
		_, again, _ := a.fan.reach(s.chain, s.launch, s.time, point, &trail)
		for i, p := range trail {
			if i == 0 || trail[i-1].exit < 0 { // once on each face
				r.Points = append(r.Points, p.at(a.fan.y))
			}
		}
		a.fan.tolerance *= 32
		_, rough, _ := a.fan.reach(s.chain, s.launch, s.time, point, nil)
		a.fan.tolerance /= 32
		r.Error = math.Abs(rough-again) + 8*0x1p-52*again
		out = append(out, r)
	}
	return out
}

// check returns an error for arguments for which no ray can be searched, and completes the options.
// If all is set, the search is for all rays.
func (p *Part) check(
	pol Polarisation, elements, points []r3.Vec, options *Options, all bool,
) (search, error) {
	if err := p.validate(); err != nil {
		return search{}, err
	}
	if err := pol.validate(); err != nil {
		return search{}, err
	}
	if err := checkEnds(p, elements, points); err != nil {
		return search{}, err
	}
	return options.complete(p, pol, elements, points, all)
}

// costRounding is larger than the relative rounding of a time by the costs of a lattice, in
// float32.
const costRounding = 1e-6

const (
	coarsest = 4   // segments of a leg at first
	finest   = 512 // and at most
	reroutes = 6   // repeated layouts of a path that has moved into other zones
)

// ray finds the ray to q, and leaves the knots of its finest path in b. The errors of the times of
// polylines with n segments are a series in even powers of 1/n. Romberg's scheme removes its first
// terms.
func (b *bender) ray(f *front, q r3.Vec, tolerance float64) PartRay {
	if !b.part.inside(q, contactTolerance) {
		return PartRay{Status: wedge.EndOutside, Time: math.NaN(), Error: math.NaN()}
	}
	status := b.route(f, q)
	if status != wedge.OK {
		return PartRay{Status: status, Time: math.NaN(), Error: math.NaN()}
	}
	if !b.bends() {
		return PartRay{Time: b.time, Error: 8 * 0x1p-52 * b.time}
	}
	row := []float64{b.time}
	for n := 2 * coarsest; n <= finest; n *= 2 {
		if !b.layout(b.polyline(), n) || !b.bend() || !b.sound() {
			break
		}
		next := []float64{b.time}
		for k, coarser := range row[:min(len(row), 3)] {
			next = append(next, next[k]+(next[k]-coarser)/(math.Pow(4, float64(k+1))-1))
		}
		best, last := len(next)-1, len(row)-1
		if miss := math.Abs(next[best] - row[last]); len(row) > 1 && miss <= tolerance {
			return PartRay{Time: next[best], Error: miss}
		}
		row = next
	}
	return PartRay{Status: wedge.NotConverged, Time: math.NaN(), Error: math.NaN()}
}

// bends reports whether any segment of the path lies in a medium that is not uniform.
func (b *bender) bends() bool {
	return slices.ContainsFunc(b.segments, func(s segment) bool { return !s.medium.Uniform() })
}

// polyline returns the places of the knots. It is valid until the next call of a method that lays
// out a path.
func (b *bender) polyline() []r3.Vec {
	b.trial = b.trial[:0]
	for k := range b.knots {
		b.trial = append(b.trial, b.knots[k].at)
	}
	return b.trial
}

// route bends the shortest path over the lattice on few segments. If the path leads to no ray, it
// bends the straight line.
//
// route begins with one segment per leg. The crossings of faces then find their places before there
// are knots between them. But a leg of one segment does not keep the side on which the path passes
// slow metal. The ray may then be slower than the path itself. In this case route searches again
// with knots on the path, and takes the faster of the two rays.
func (b *bender) route(f *front, q r3.Vec) wedge.Status {
	var least float64
	b.guess, least = f.path(b.guess[:0], q)
	status, best := wedge.Obstructed, math.Inf(1)
	if !math.IsInf(least, 1) {
		for _, n := range []int{1, coarsest} {
			if status = b.refine(b.guess, n); status != wedge.OK {
				continue
			}
			if b.time <= least*(1+costRounding) {
				return wedge.OK
			}
			if b.time < best {
				best = b.time
				b.best = append(b.best[:0], b.polyline()...)
			}
		}
	}
	if !math.IsInf(best, 1) {
		return b.settle(b.best, coarsest)
	}
	var ok bool
	if b.guess, ok = f.straight(b.guess[:0], q); !ok {
		return status
	}
	for _, n := range []int{1, coarsest} {
		if status = b.refine(b.guess, n); status == wedge.OK {
			break
		}
	}
	return status
}

// refine bends the polyline on n segments per leg, then on twice as many, up to the constant
// coarsest.
func (b *bender) refine(line []r3.Vec, n int) wedge.Status {
	for ; n < coarsest; n *= 2 {
		if status := b.settle(line, n); status != wedge.OK {
			return status
		}
		line = b.polyline()
	}
	return b.settle(line, coarsest)
}

// settle bends the polyline on n segments per leg until its knots are evenly spaced. If the
// polyline comes to lie in other zones, settle lays it out anew through these.
func (b *bender) settle(polyline []r3.Vec, n int) wedge.Status {
	status := wedge.NotConverged
	for range reroutes {
		if !b.layout(polyline, n) || !b.bend() {
			return wedge.NotConverged
		}
		if !b.sound() {
			status = wedge.Obstructed
		} else if status == wedge.OK || n < coarsest || !b.bends() {
			return wedge.OK
		} else {
			status = wedge.OK // once more, from evenly spaced knots
		}
		polyline = b.polyline()
	}
	return status
}
