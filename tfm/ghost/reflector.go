// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// way is a path from the array to the points of a reflector.
type way struct {
	modes []material.Mode
	times *wedge.Times
	speed float64 // of the last leg
}

// ways returns the direct paths to points, and the paths with one skip.
func (b *builder) ways(ctx context.Context, points []r3.Vec) (ways []way, err error) {
	paths := allSequences(1, b.modes())
	if b.setup.Back != nil {
		paths = append(paths, allSequences(2, b.modes())...)
	}
	for _, modes := range paths {
		path, err := b.setup.Path(modes)
		if err != nil {
			return nil, err
		}
		t, err := path.Times(ctx, b.elements, points, &b.times)
		if err != nil {
			return nil, err
		}
		ways = append(ways, way{modes, t, b.setup.Part.Speed(modes[len(modes)-1])})
	}
	return ways, nil
}

// slowness returns the slowness vector with which the ray from element e arrives at point p.
func (w *way) slowness(e, p int) r3.Vec {
	d := w.times.Arrival[e*w.times.Points+p]
	return r3.Scale(1/w.speed, r3.Vec{X: float64(d.X), Y: float64(d.Y), Z: float64(d.Z)})
}

// to returns the time from element e to point p.
func (w *way) to(e, p int) float64 { return float64(w.times.Seconds[e*w.times.Points+p]) }

// reflector appends the echoes of a reflector.
func (b *builder) reflector(ctx context.Context, r Reflector) error {
	points := b.sample(r.Outline)
	ways, err := b.ways(ctx, points)
	if err != nil {
		return err
	}
	m := mirror{b: b, ways: ways, radius: r.Radius}
	last := len(points) - 1
	m.nearest(r.Name, 0, last)
	if last > 0 {
		m.nearest("the first end of "+r.Name, 0, 0)
		m.nearest("the last end of "+r.Name, last, last)
		if len(r.Outline) > 2 {
			m.hollow(r.Name, last)
		}
		m.alongFace(r, last)
	}
	if r.Radius > 0 && !b.setup.Part.Fluid() {
		m.creeping(r)
	}
	return nil
}

// sample returns points along an outline.
func (b *builder) sample(o wedge.Outline) (points []r3.Vec) {
	for _, p := range o {
		at := r3.Vec{X: p.X, Y: b.elements[0].Y, Z: p.Y}
		if k := len(points); k > 0 {
			from := points[k-1]
			way := r3.Sub(at, from)
			steps := math.Ceil(r3.Norm(way) / b.spacing)
			for s := 1.0; s < steps; s++ {
				points = append(points, r3.Add(from, r3.Scale(s/steps, way)))
			}
		}
		points = append(points, at)
	}
	return points
}

// mirror makes the echoes of one reflector.
type mirror struct {
	b      *builder
	ways   []way
	radius float64
}

// views yields the pairs of ways of which none is the reverse of another one.
func (m *mirror) views(yield func(v wedge.View, out, back *way)) {
	for k := range m.ways {
		for l := range k + 1 {
			out, back := &m.ways[k], &m.ways[l]
			yield(wedge.View{Transmit: out.modes, Receive: reversed(back.modes)}, out, back)
		}
	}
}

// table returns the table of a time from each element to each element.
func (m *mirror) table(time func(i, j int) float64) []float32 {
	n := len(m.b.elements)
	seconds := make([]float32, n*n)
	for i := range n {
		for j := range n {
			seconds[i*n+j] = float32(time(i, j))
		}
	}
	return seconds
}

// nearest appends the echoes of the points first to last, in each view. By Fermat's principle a
// face mirrors a wave where the time is shortest. If no point of the face mirrors the wave, the
// shortest time is the time of an end, which diffracts.
//
// The echo of a hole comes from the point of its circle at which the time is shortest. The time is
// shorter than over the centre by the radius times the modulus of the sum of both slownesses, to
// the first order in the radius.
func (m *mirror) nearest(name string, first, last int) {
	m.views(func(v wedge.View, out, back *way) {
		seconds := m.table(func(i, j int) float64 {
			least := math.NaN()
			for p := first; p <= last; p++ {
				t := out.to(i, p) + back.to(j, p)
				if m.radius > 0 {
					t -= m.radius * r3.Norm(r3.Add(out.slowness(i, p), back.slowness(j, p)))
				}
				least = earlier(least, t)
			}
			return least
		})
		e := echo{
			name: fmt.Sprintf("%v echo of %s", v, name),
			own:  []string{v.String(), v.Reciprocal().String()},
		}
		m.b.add(e, seconds, !v.Symmetric())
	})
}

// hollow appends the echoes of the inside of a bowl, such as a root bead. By Fermat's principle a
// bowl that is more curved than the wave front mirrors the wave where the time is longest. The
// longest time at an end is no mirror.
func (m *mirror) hollow(name string, last int) {
	m.views(func(v wedge.View, out, back *way) {
		mirrors := false
		seconds := m.table(func(i, j int) float64 {
			most, at := math.NaN(), 0
			for p := range last + 1 {
				if t := out.to(i, p) + back.to(j, p); t > most || math.IsNaN(most) {
					most, at = t, p
				}
			}
			if at == 0 || at == last {
				return math.NaN()
			}
			before, after := out.to(i, at-1)+back.to(j, at-1), out.to(i, at+1)+back.to(j, at+1)
			if math.IsNaN(before) || math.IsNaN(after) { // the end of what the rays reach
				return math.NaN()
			}
			if most-min(before, after) > m.b.spacing/4/back.speed { // a corner is no mirror
				return math.NaN()
			}
			mirrors = true
			return most
		})
		if !mirrors {
			return
		}
		e := echo{
			name: fmt.Sprintf("%v echo of the hollow of %s", v, name),
			own:  []string{v.String(), v.Reciprocal().String()},
		}
		m.b.add(e, seconds, !v.Symmetric())
	})
}

// earlier returns the smaller of two times, of which each may be NaN for no time.
func earlier(a, b float64) float64 {
	switch {
	case math.IsNaN(a):
		return b
	case math.IsNaN(b):
		return a
	}
	return min(a, b)
}

// alongFace appends the surface waves from one end of a face to the other.
func (m *mirror) alongFace(r Reflector, last int) {
	speed := m.b.setup.Part.Rayleigh()
	if speed == 0 {
		return
	}
	length := 0.0
	for i := 1; i < len(r.Outline); i++ {
		length += math.Hypot(r.Outline[i].X-r.Outline[i-1].X, r.Outline[i].Y-r.Outline[i-1].Y)
	}
	for k := range m.ways {
		for l := range m.ways {
			out, back := &m.ways[k], &m.ways[l]
			v := wedge.View{Transmit: out.modes, Receive: reversed(back.modes)}
			seconds := m.table(func(i, j int) float64 {
				return out.to(i, 0) + length/speed + back.to(j, last)
			})
			e := echo{name: fmt.Sprintf("%v echo of the surface wave along %s", v, r.Name)}
			m.b.add(e, seconds, true)
		}
	}
}

// creeping appends the waves that creep round a hole with the speed cR of surface waves. A wave of
// speed c starts to creep where it meets the circle at the angle θ from the normal, sin θ = cR/c.
// It leaves the circle at the same angle. Between both rays to the centre is the angle β. Then the
// arc of the creeping wave is 2π - β - θ - θ', and each leg is shorter by the radius times cos θ.
func (m *mirror) creeping(r Reflector) {
	speed := m.b.setup.Part.Rayleigh()
	m.views(func(v wedge.View, out, back *way) {
		seconds := m.table(func(i, j int) float64 {
			angle := 2*math.Pi - between(out.slowness(i, 0), back.slowness(j, 0))
			saved := 0.0
			for _, w := range []*way{out, back} {
				sine := speed / w.speed
				angle -= math.Asin(sine)
				saved += r.Radius * math.Sqrt(1-sine*sine) / w.speed
			}
			return out.to(i, 0) + back.to(j, 0) - saved + angle*r.Radius/speed
		})
		e := echo{name: fmt.Sprintf("%v echo of the wave that creeps round %s", v, r.Name)}
		m.b.add(e, seconds, !v.Symmetric())
	})
}

// between returns the angle between two vectors.
func between(a, b r3.Vec) float64 {
	return math.Acos(min(1, max(-1, r3.Dot(r3.Unit(a), r3.Unit(b)))))
}
