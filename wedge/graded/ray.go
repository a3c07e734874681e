// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
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
	Status wedge.Status // OK, EndOutside, Obstructed or NotConverged
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
	// obstacles, and more rays close to caustics. 0 stands for 1/128 of the longer side of the
	// region.
	Spacing float64
	// Region is the rectangle of the section in which rays are searched: X is x, Y is the depth z,
	// in m. The zero value stands for the rectangle around all points in the part and the nearest
	// points of the entry surface to the elements, with a tenth of its longer side added all round.
	Region r2.Box
	// Arrival is the number of the ray in the order of arrival, 0 (the first, the default) to 15.
	// If a point has fewer rays, its time is NaN. The times jump where a fold of the wave fronts
	// begins or ends.
	Arrival int
	// Tolerance is the largest error of a time in s, at least 1e-15. A ray that does not reach it
	// is NotConverged. 0 stands for 100 ps.
	Tolerance float64
	// Progress, if not nil, is called now and then, one call at a time, with the share of the work
	// that is done, in (0, 1].
	Progress func(share float64)
	Workers  int // the largest number of goroutines that work at a time; 0 stands for all cores
}

// complete checks o and returns it with the defaults filled in.
func (o *Options) complete(p *Part, elements, points []r3.Vec) (Options, error) {
	var out Options
	if o != nil {
		out = *o
	}
	if out.Region == (r2.Box{}) {
		out.Region = r2.Box(around(p, elements, points))
	}
	if err := rectangle(out.Region).validate(); err != nil {
		return out, err
	}
	if out.Spacing == 0 {
		out.Spacing = rectangle(out.Region).longest() / 128
	}
	if err := checkRange("spacing of the lattice", out.Spacing, 1e-6, math.MaxFloat64,
		" m"); err != nil {
		return out, err
	}
	size := out.Region.Size()
	if nodes := size.X / out.Spacing * size.Y / out.Spacing; !(nodes <= mostNodes) {
		return out, fmt.Errorf("graded: lattice of %.0f nodes at a spacing of %v m: "+
			"want at most %d",
			nodes, out.Spacing, mostNodes)
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

// around returns the default region of [Options].
func around(p *Part, elements, points []r3.Vec) rectangle {
	inf := math.Inf(1)
	r := rectangle{Min: r2.Vec{X: inf, Y: inf}, Max: r2.Vec{X: -inf, Y: -inf}}
	hold := func(q r3.Vec) {
		r.Min = r2.Vec{X: min(r.Min.X, q.X), Y: min(r.Min.Y, q.Z)}
		r.Max = r2.Vec{X: max(r.Max.X, q.X), Y: max(r.Max.Y, q.Z)}
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
	all := r2.Vec{X: margin, Y: margin}
	r.Min, r.Max = r2.Sub(r.Min, all), r2.Add(r.Max, all)
	return r
}

// shoots reports whether rays are found by shooting; otherwise they are found by bending.
func (o *Options) shoots(pol Polarisation) bool {
	return pol == QuasiShearVertical ||
		o.Arrival > 0
}

// Ray returns one ray from an element to a point, chosen by Options.Arrival. Nil options stand for
// the defaults. The search begins anew for each call; for many points, [Part.Times] is far faster.
func (p *Part) Ray(pol Polarisation, element, point r3.Vec, options *Options) (PartRay, error) {
	elements, points := []r3.Vec{element}, []r3.Vec{point}
	o, err := p.check(pol, elements, points, options)
	if err != nil {
		return PartRay{}, err
	}
	if o.shoots(pol) {
		return p.arrival(pol, element, point, &o), nil
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
func (p *Part) arrival(pol Polarisation, element, point r3.Vec, o *Options) PartRay {
	if !p.inside(point, contactTolerance) {
		return PartRay{Status: wedge.EndOutside, Time: math.NaN(), Error: math.NaN()}
	}
	rays := p.arrivals(pol, element, point, o)
	if o.Arrival >= len(rays) {
		return PartRay{Status: wedge.Obstructed, Time: math.NaN(), Error: math.NaN()}
	}
	return rays[o.Arrival]
}

// Rays returns all rays from an element to a point in the order of arrival, found by shooting. It
// returns no ray if the point lies outside the part or in a shadow. Nil options stand for the
// defaults; Options.Arrival has no effect. Near a caustic, two rays that nearly coincide may be
// missed.
func (p *Part) Rays(pol Polarisation, element, point r3.Vec, options *Options) ([]PartRay, error) {
	o, err := p.check(pol, []r3.Vec{element}, []r3.Vec{point}, options)
	if err != nil {
		return nil, err
	}
	return p.arrivals(pol, element, point, &o), nil
}

// arrivals is [Part.Rays] for arguments that have been checked.
func (p *Part) arrivals(pol Polarisation, element, point r3.Vec, o *Options) []PartRay {
	a := newAim(p, pol, element, newPointIndex([]r3.Vec{point}, rectangle(o.Region), o.Spacing), o)
	var out []PartRay
	for _, s := range a.fan.rays(a.candidates[0], point) {
		r := PartRay{Time: s.time, Points: []r3.Vec{element}}
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

// check returns an error for arguments for which no ray can be searched, and completes the options.
func (p *Part) check(
	pol Polarisation, elements, points []r3.Vec, options *Options,
) (Options, error) {
	if err := p.validate(); err != nil {
		return Options{}, err
	}
	if err := pol.validate(); err != nil {
		return Options{}, err
	}
	if err := checkEnds(p, elements, points); err != nil {
		return Options{}, err
	}
	return options.complete(p, elements, points)
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
