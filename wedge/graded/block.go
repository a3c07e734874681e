// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Block is a homogeneous anisotropic part behind an entry surface. Unlike a
// [Part] it gives every arrival: where the qSV curve is dented, energy reaches a
// point along several rays. It must not be changed while it is in use; methods
// may run concurrently.
type Block struct {
	Coupling *material.Isotropic // as for [Part]
	Entry    wedge.Surface       // its far side is the part; extruded
	Crystal  *Crystal
	Axis     float64 // angle of the grain axis, rad from +x towards +z, finite
}

// Validate reports the first field that is missing or out of range.
func (b *Block) Validate() error {
	m, err := NewUniform(b.Crystal, b.Axis)
	if err != nil {
		return err
	}
	return b.part(m).Validate()
}

// part returns b as a part of the medium m.
func (b *Block) part(m Medium) *Part {
	return &Part{Coupling: b.Coupling, Entry: b.Entry, Media: []Medium{m}}
}

// BlockRay is a ray into a [Block].
type BlockRay struct {
	Time   float64 // s
	Entry  r3.Vec  // where it enters the part: the element itself in contact, m
	Phase  float64 // direction of the wave normal in the part, rad from +x towards +z
	Speed  float64 // group speed in the part, m/s
	Snell  float64 // difference of the slownesses along the surface at Entry, s/m; 0 in contact
	Convex bool    // whether the slowness curve is convex there: if not, the wave fronts are bent the other way
}

// Rays returns all rays of a mode from an element to a point, the first to arrive
// first: none if the point lies outside the part. Through a coupling, a point of the
// entry surface has one, with Phase and Speed NaN. Times are exact to rounding. Two that are about to merge at a caustic, their phase directions less
// than 0.03° apart, may be missed.
func (b *Block) Rays(mode Mode, element, point r3.Vec) ([]BlockRay, error) {
	if err := b.check(mode, []r3.Vec{element}, []r3.Vec{point}); err != nil {
		return nil, err
	}
	return b.rays(mode, element, point), nil
}

// check reports arguments that no ray can be sought for.
func (b *Block) check(mode Mode, elements, points []r3.Vec) error {
	if err := b.Validate(); err != nil {
		return err
	}
	if err := mode.validate(); err != nil {
		return err
	}
	return checkEnds(b.part(nil), elements, points)
}

// rays is [Block.Rays] for arguments that have been checked.
func (b *Block) rays(mode Mode, element, point r3.Vec) []BlockRay {
	var out []BlockRay
	switch depth := b.Entry.Depth(point); {
	case depth < -tolerance:
		return nil
	case b.Coupling != nil && depth <= tolerance:
		out = []BlockRay{{
			Time: distance(element, point) / b.Coupling.Longitudinal, Entry: point,
			Phase: math.NaN(), Speed: math.NaN(), Convex: true,
		}}
	case b.Coupling == nil:
		out = b.direct(mode, element, point)
	default:
		out = b.refracted(mode, element, point)
	}
	slices.SortStableFunc(out, func(a, b BlockRay) int { return compareFloat(a.Time, b.Time) })
	return out
}

// direct returns the rays of an array in contact.
func (b *Block) direct(mode Mode, element, point r3.Vec) []BlockRay {
	var out []BlockRay
	d := r3.Sub(point, element)
	length := math.Hypot(d.X, d.Z)
	if length < tolerance {
		return nil
	}
	for _, a := range b.Crystal.Arrivals(mode, math.Atan2(d.Z, d.X)-b.Axis) {
		out = append(out, BlockRay{
			Time: length / a.Speed, Entry: element, Phase: a.Phase + b.Axis, Speed: a.Speed,
			Convex: b.Crystal.convex(mode, a.Phase),
		})
	}
	return out
}

// convex reports whether the slowness curve is convex at the phase direction.
func (c *Crystal) convex(mode Mode, chi float64) bool {
	v, _, ddv := c.curves[mode].at(chi)
	return v+ddv > 0
}

// refracted returns the rays through the coupling. Each phase direction in the
// part has one ray through the point; it is a ray from the element if the
// slownesses on both sides of the surface agree along it. The search is by phase
// direction because everything is smooth in it, also where the wave
// surface has cusps.
func (b *Block) refracted(mode Mode, element, point r3.Vec) []BlockRay {
	var out []BlockRay
	residual := func(phase float64) float64 {
		r, ok := b.enter(mode, element, point, phase)
		if !ok {
			return math.NaN()
		}
		return r.Snell
	}
	for _, phase := range roots(residual, -math.Pi, math.Pi, scan) {
		r, ok := b.enter(mode, element, point, phase)
		if !ok || !(math.Abs(r.Snell) <= 1e-8/r.Speed) || !b.clear(element, r.Entry, point) {
			continue
		}
		r.Phase = math.Remainder(phase, 2*math.Pi)
		out = append(out, r)
	}
	return out
}

// clear reports whether both legs stay on their sides of the entry surface.
func (b *Block) clear(element, entry, point r3.Vec) bool {
	return b.Entry.Depth(middle(element, entry)) <= tolerance && b.Entry.Depth(middle(entry, point)) >= -tolerance
}

// enter returns the path that reaches the point with the given phase direction,
// and reports whether there is one. Snell is the signed residual.
func (b *Block) enter(mode Mode, element, point r3.Vec, phase float64) (BlockRay, bool) {
	speed, direction := b.Crystal.Group(mode, phase-b.Axis)
	along := heading(direction + b.Axis)
	length, ok := b.back(point, along, 1e3*(distance(element, point)+b.Entry.Depth(point)))
	if !ok {
		return BlockRay{}, false
	}
	at := r3.Sub(point, r3.Scale(length, along))
	patch := b.Entry.At(b.Entry.Locate(at))
	tangent := r3.Unit(patch.U)
	lead := distance(element, at)
	slowness := r3.Scale(1/b.Crystal.Phase(mode, phase-b.Axis), heading(phase))
	d := r3.Sub(at, element)
	return BlockRay{
		Time:   lead/b.Coupling.Longitudinal + length/speed,
		Entry:  at,
		Phase:  phase,
		Speed:  speed,
		Snell:  r3.Dot(slowness, tangent) - r3.Dot(d, tangent)/(lead*b.Coupling.Longitudinal),
		Convex: b.Crystal.convex(mode, phase-b.Axis),
	}, true
}

// back returns the distance from the point, against the unit vector along, to the
// entry surface, if it is met within the given one.
func (b *Block) back(point, along r3.Vec, within float64) (float64, bool) {
	if b.Entry.Depth(point) <= tolerance {
		return 0, true
	}
	return meet(b.Entry, point, r3.Scale(-1, along), within)
}

// meet returns the distance from a point, along the unit vector, to a surface, if
// it is met within the given one. The depth of a point is the distance that it can
// go without meeting the surface; from where the depth falls the secant method is
// quicker, on a plane at once.
func meet(surface wedge.Surface, point, along r3.Vec, within float64) (float64, bool) {
	side := math.Copysign(1, surface.Depth(point))
	depth := func(t float64) float64 { return side * surface.Depth(r3.Add(point, r3.Scale(t, along))) }
	last, dLast := 0.0, depth(0)
	t := dLast
	d := depth(t)
	for steps := 0; d >= dLast; steps++ {
		last, dLast = t, d
		t += d
		if t > within || steps > 1000 {
			return 0, false
		}
		d = depth(t)
	}
	for range 60 {
		if math.Abs(d) <= 1e-15*(1+t) || d == dLast {
			break
		}
		next := t - d*(t-last)/(d-dLast)
		last, dLast = t, d
		t = next
		d = depth(t)
	}
	return t, math.Abs(d) <= tolerance && t <= within
}

// BlockOptions modifies [Block.Times]. Nil stands for the zero value.
type BlockOptions struct {
	// Arrival is the number of the ray in the order of arrival, 0 to 15, 0 for the
	// first. Where a point has fewer, the time is NaN. The table of one number
	// jumps where a fold of the wave surface begins or ends.
	Arrival int
	// Convex asks for the rays of the convex parts of the slowness curve
	// only, those whose wave fronts are bent as those of an isotropic medium.
	Convex bool
	// Progress is as in [Options].
	Progress func(share float64)
	// Workers is the most goroutines that work at a time; 0 stands for all cores.
	Workers int
}

// blockPath is the path of the tables of a block, as it was when they were made.
type blockPath struct {
	block   Block
	mode    Mode
	arrival int
	convex  bool
}

// Times returns the table of times of a mode from every element to every point
// (m), on all cores, under the conditions of [Part.Times]; times are exact but
// for the rounding to float32.
func (b *Block) Times(ctx context.Context, mode Mode, elements, points []r3.Vec, options *BlockOptions) (*wedge.Times, error) {
	if options == nil {
		options = new(BlockOptions)
	}
	if options.Arrival < 0 || options.Arrival > 15 {
		return nil, fmt.Errorf("graded: arrival %d: want 0 to 15", options.Arrival)
	}
	if err := b.check(mode, elements, points); err != nil {
		return nil, err
	}
	path := blockPath{*b, mode, options.Arrival, options.Convex}
	w := newWriter(path, elements, points, options.Workers, options.Progress)
	err := w.fill(ctx, 0, len(elements), func(e, i int) float64 {
		rays := b.rays(mode, elements[e], points[i])
		if options.Convex {
			rays = slices.DeleteFunc(rays, func(r BlockRay) bool { return !r.Convex })
		}
		if options.Arrival >= len(rays) {
			return math.NaN()
		}
		return rays[options.Arrival].Time
	})
	if err != nil {
		return nil, err
	}
	return w.finish(), nil
}
