// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/wedge"
)

// Ray is a ray from an element to a point.
type Ray struct {
	Status wedge.Status // OK, EndOutside, Obstructed or NotConverged
	Time   float64      // s; NaN unless Status is OK
	Error  float64      // what Time may be wrong by, s: an estimate from the last refinements
	// Points is the ray as a polyline, from element to point, m; empty unless Status
	// is OK. If bent it lies on the ray to second order in its spacing, while Time is
	// extrapolated; if shot its points are on the ray.
	Points []r3.Vec
}

// Options modifies the search for rays. Nil stands for the zero value.
type Options struct {
	// Spacing of the lattice of the first, rough search, m, at least 1e-6; of a fan that
	// is shot, the most between neighbouring rays and steps. It is not the
	// accuracy of a time: finer finds the way between more, smaller obstacles, and more rays
	// close to caustics. 0 stands for 1/128 of the longer side of the region.
	Spacing float64
	// Region is where rays are sought. The zero value stands for the rectangle
	// around all points in the part and the elements' nearest points of the entry
	// surface, with a tenth of its longer side added all round.
	Region Region
	// Arrival is the number of the ray in the order of arrival, 0 to 15, 0 for the first.
	// Where a point has fewer, the time is NaN. The table of one number jumps where a
	// fold of the wave fronts begins or ends.
	Arrival int
	// Tolerance is the largest error of a time, s, at least 1e-15; a ray that does not reach it is
	// NotConverged. 0 stands for 100 ps.
	Tolerance float64
	// Progress, if not nil, is called now and then, one call at a time, with the
	// share of the work that is done, in (0, 1].
	Progress func(share float64)
	// Workers is the most goroutines that work at a time; 0 stands for all cores.
	Workers int
}

// complete returns o with its defaults filled in, checked.
func (o *Options) complete(p *Part, elements, points []r3.Vec) (Options, error) {
	var out Options
	if o != nil {
		out = *o
	}
	if out.Region == (Region{}) {
		out.Region = around(p, elements, points)
	}
	if err := out.Region.validate(); err != nil {
		return out, err
	}
	if out.Spacing == 0 {
		out.Spacing = out.Region.longest() / 128
	}
	if err := checkRange("spacing of the lattice", out.Spacing, 1e-6, math.MaxFloat64, " m"); err != nil {
		return out, err
	}
	if nodes := (out.Region.X.Max - out.Region.X.Min) / out.Spacing * (out.Region.Z.Max - out.Region.Z.Min) / out.Spacing; !(nodes <= mostNodes) {
		return out, fmt.Errorf("graded: lattice of %.0f nodes at a spacing of %v m: want at most %d", nodes, out.Spacing, mostNodes)
	}
	if err := parallel.Check(out.Workers); err != nil {
		return out, fmt.Errorf("graded: %w", err)
	}
	if out.Arrival < 0 || out.Arrival > 15 {
		return out, fmt.Errorf("graded: arrival %d: want 0 to 15", out.Arrival)
	}
	if out.Tolerance == 0 {
		out.Tolerance = 100e-12
	}
	return out, checkRange("tolerance", out.Tolerance, 1e-15, math.MaxFloat64, " s")
}

// around returns the region that [Options] promises.
func around(p *Part, elements, points []r3.Vec) Region {
	none := wedge.Interval{Min: math.Inf(1), Max: math.Inf(-1)}
	r := Region{none, none}
	hold := func(q r3.Vec) {
		r.X = wedge.Interval{Min: min(r.X.Min, q.X), Max: max(r.X.Max, q.X)}
		r.Z = wedge.Interval{Min: min(r.Z.Min, q.Z), Max: max(r.Z.Max, q.Z)}
	}
	for _, q := range points {
		if p.inside(q, tolerance) {
			hold(q)
		}
	}
	for _, e := range elements {
		hold(p.Entry.At(p.Entry.Locate(e)).P)
	}
	margin := max(r.longest()/10, 1e-4)
	r.X.Min, r.X.Max = r.X.Min-margin, r.X.Max+margin
	r.Z.Min, r.Z.Max = r.Z.Min-margin, r.Z.Max+margin
	return r
}

// shoots reports whether rays are found by shooting rather than by bending.
func (o *Options) shoots(mode Mode) bool { return mode == QSV || o.Arrival > 0 }

// Ray returns a ray of a mode from an element to a point: the one of Options.Arrival.
// It searches afresh; for many points, [Part.Times] is far quicker.
func (p *Part) Ray(mode Mode, element, point r3.Vec, options *Options) (Ray, error) {
	elements, points := []r3.Vec{element}, []r3.Vec{point}
	o, err := p.check(mode, elements, points, options)
	if err != nil {
		return Ray{}, err
	}
	if o.shoots(mode) {
		return p.arrival(mode, element, point, &o), nil
	}
	l, err := newLattice(context.Background(), p, mode, o.Region, o.Spacing, element.Y, o.Workers)
	if err != nil {
		return Ray{}, err
	}
	b := newBender(p, mode)
	r := b.ray(newFront(l, element), point, o.Tolerance)
	if r.Status == wedge.OK {
		for i := range b.knots {
			r.Points = append(r.Points, b.knots[i].at)
		}
	}
	return r, nil
}

// arrival is [Part.Ray] by shooting.
func (p *Part) arrival(mode Mode, element, point r3.Vec, o *Options) Ray {
	if !p.inside(point, contactTolerance) {
		return Ray{Status: wedge.EndOutside, Time: math.NaN(), Error: math.NaN()}
	}
	rays := p.arrivals(mode, element, point, o)
	if o.Arrival >= len(rays) {
		return Ray{Status: wedge.Obstructed, Time: math.NaN(), Error: math.NaN()}
	}
	return rays[o.Arrival]
}

// Rays returns all rays of a mode from an element to a point, the first to arrive
// first, found by shooting: none if the point lies outside the part or in a shadow.
// Options.Arrival is not looked at. Two rays that are about to merge at a caustic
// may be missed.
func (p *Part) Rays(mode Mode, element, point r3.Vec, options *Options) ([]Ray, error) {
	o, err := p.check(mode, []r3.Vec{element}, []r3.Vec{point}, options)
	if err != nil {
		return nil, err
	}
	return p.arrivals(mode, element, point, &o), nil
}

// arrivals is [Part.Rays] for arguments that have been checked.
func (p *Part) arrivals(mode Mode, element, point r3.Vec, o *Options) []Ray {
	a := newAim(p, mode, element, newPointIndex([]r3.Vec{point}, o.Region, o.Spacing), o)
	var out []Ray
	for _, s := range a.fan.rays(a.candidates[0], point) {
		r := Ray{Time: s.time, Points: []r3.Vec{element}}
		if p.Coupling == nil {
			r.Points = nil // the element is on the ray in the part
		}
		_, again, _ := a.fan.reach(s.chain, s.launch, s.time, point, &r.Points)
		a.fan.tolerance *= 32
		_, rough, _ := a.fan.reach(s.chain, s.launch, s.time, point, nil)
		a.fan.tolerance /= 32
		r.Error = math.Abs(rough-again) + 8*0x1p-52*again
		out = append(out, r)
	}
	return out
}

// check reports arguments that no ray can be sought for, and completes the
// options.
func (p *Part) check(mode Mode, elements, points []r3.Vec, options *Options) (Options, error) {
	if err := p.Validate(); err != nil {
		return Options{}, err
	}
	if err := mode.validate(); err != nil {
		return Options{}, err
	}
	if err := checkEnds(p, elements, points); err != nil {
		return Options{}, err
	}
	return options.complete(p, elements, points)
}

// costRounding is above the share by which the costs of a lattice, in float32, round a time.
const costRounding = 1e-6

const (
	coarsest = 4   // segments of a leg at first
	finest   = 512 // and at most
	reroutes = 6   // times that a path is laid out anew, through the zones that it came to lie in
)

// ray finds the ray to q, and leaves the knots of its finest path in b. The polylines of
// ever more segments have times whose errors fall as even powers of their
// number, which Romberg's scheme takes away.
func (b *bender) ray(f *front, q r3.Vec, tolerance float64) Ray {
	if !b.part.inside(q, contactTolerance) {
		return Ray{Status: wedge.EndOutside, Time: math.NaN(), Error: math.NaN()}
	}
	status := b.route(f, q)
	if status != wedge.OK {
		return Ray{Status: status, Time: math.NaN(), Error: math.NaN()}
	}
	if !b.bends() {
		return Ray{Time: b.time, Error: 8 * 0x1p-52 * b.time}
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
			return Ray{Time: next[best], Error: miss}
		}
		row = next
	}
	return Ray{Status: wedge.NotConverged, Time: math.NaN(), Error: math.NaN()}
}

// bends reports whether any segment of the path lies in a medium that is not uniform.
func (b *bender) bends() bool {
	return slices.ContainsFunc(b.segments, func(s segment) bool { return !s.medium.Uniform() })
}

// polyline returns the knots' places. It is valid until the next call of a
// method that lays out.
func (b *bender) polyline() []r3.Vec {
	b.trial = b.trial[:0]
	for k := range b.knots {
		b.trial = append(b.trial, b.knots[k].at)
	}
	return b.trial
}

// route bends the shortest path over the lattice, or else the straight line, on few segments.
//
// It begins with one segment a leg: the points where faces are crossed then find their places
// before there are knots between that they could run into. But a leg of one segment forgets
// which way the path went round slow metal. The ray may then be slower than the path itself, and
// is sought again with the knots on the path. The faster of the two rays is taken.
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

// refine bends the polyline on n segments a leg, then on twice as many, until there are the
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

// settle bends the polyline on n segments a leg, through other zones if it comes to lie in
// such, until its knots are evenly spaced.
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
