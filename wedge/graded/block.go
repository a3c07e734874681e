// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Block is a homogeneous anisotropic part behind an entry surface. All its rays are found, with
// exact times: where the qSV curve is dented, energy reaches a point along several rays. The block
// must not be changed while it is in use. Its methods may run concurrently.
//
// Each phase direction in the part has one ray through a point. The ray comes from the element if
// the slownesses on both sides of the entry surface agree along the surface (Snell's law). All
// functions of the phase direction are smooth, also where the wave surface has cusps. The search
// therefore runs over the phase direction.
type Block struct {
	Coupling *material.Isotropic // as for [Part]
	Entry    wedge.Surface       // its far side is the part; extruded
	Curves   *SlownessCurves
	Axis     float64 // angle of the grain axis, rad from +x towards +z, finite
}

// validate returns an error that names the first field that is missing or out of range.
func (b *Block) validate() error {
	m, err := NewUniform(b.Curves, b.Axis)
	if err != nil {
		return err
	}
	return b.part(m).validate()
}

// part returns the block as a part of the medium m.
func (b *Block) part(m Medium) *Part {
	return &Part{Coupling: b.Coupling, Entry: b.Entry, Media: []Medium{m}}
}

// BlockRay is a ray into a [Block].
type BlockRay struct {
	Time  float64 // s
	Entry r3.Vec  // point of entry into the part, m; in contact the element itself
	Phase float64 // direction of the wave normal in the part, rad from +x towards +z
	Speed float64 // group speed in the part, m/s
	Snell float64 // difference of the slownesses along the surface at Entry, s/m; 0 in contact
	// Convex reports whether the slowness curve is convex at Phase. If not, the wave fronts are
	// curved to the other side.
	Convex bool
}

// Rays returns all rays from an element to a point, in the order of arrival, and no ray if the
// point lies outside the part. Times are exact to rounding. Through a coupling, a point of the
// entry surface has one ray; its Phase and Speed are NaN. Near a caustic, two rays whose phase
// directions are less than 0.03° apart may be missed.
func (b *Block) Rays(pol Polarisation, element, point r3.Vec) ([]BlockRay, error) {
	if err := b.check(pol, []r3.Vec{element}, []r3.Vec{point}); err != nil {
		return nil, err
	}
	return b.rays(pol, element, point), nil
}

// check returns an error for arguments for which no ray can be searched.
func (b *Block) check(pol Polarisation, elements, points []r3.Vec) error {
	if err := b.validate(); err != nil {
		return err
	}
	if err := pol.validate(); err != nil {
		return err
	}
	return checkEnds(b.part(nil), elements, points)
}

// rays is [Block.Rays] for arguments that have been checked.
func (b *Block) rays(pol Polarisation, element, point r3.Vec) []BlockRay {
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
		out = b.direct(pol, element, point)
	default:
		out = b.refracted(pol, element, point)
	}
	slices.SortStableFunc(out, func(a, b BlockRay) int { return cmp.Compare(a.Time, b.Time) })
	return out
}

// direct returns the rays of an array in contact.
func (b *Block) direct(pol Polarisation, element, point r3.Vec) []BlockRay {
	var out []BlockRay
	d := r3.Sub(point, element)
	length := math.Hypot(d.X, d.Z)
	if length < tolerance {
		return nil
	}
	for _, a := range b.Curves.arrivals(pol, math.Atan2(d.Z, d.X)-b.Axis) {
		out = append(out, BlockRay{
			Time: length / a.Speed, Entry: element, Phase: a.Phase + b.Axis, Speed: a.Speed,
			Convex: b.Curves.convex(pol, a.Phase),
		})
	}
	return out
}

// convex reports whether the slowness curve is convex at the phase direction.
func (c *SlownessCurves) convex(pol Polarisation, chi float64) bool {
	v, _, ddv := c.curves[pol].at(chi)
	return v+ddv > 0
}

// refracted returns the rays through the coupling.
func (b *Block) refracted(pol Polarisation, element, point r3.Vec) []BlockRay {
	var out []BlockRay
	residual := func(phase float64) float64 {
		r, ok := b.enter(pol, element, point, phase)
		if !ok {
			return math.NaN()
		}
		return r.Snell
	}
	for _, phase := range roots(residual, -math.Pi, math.Pi, scan) {
		r, ok := b.enter(pol, element, point, phase)
		if !ok || !(math.Abs(r.Snell) <= 1e-8/r.Speed) || !b.clear(element, r.Entry, point) {
			continue
		}
		r.Phase = math.Remainder(phase, 2*math.Pi)
		out = append(out, r)
	}
	return out
}

// clear reports whether each leg stays on its side of the entry surface.
func (b *Block) clear(element, entry, point r3.Vec) bool {
	return b.Entry.Depth(middle(element, entry)) <= tolerance &&
		b.Entry.Depth(middle(entry, point)) >= -tolerance
}

// enter returns the path that reaches the point with the given phase direction, and whether there
// is one. Snell is the signed residual of Snell's law.
func (b *Block) enter(pol Polarisation, element, point r3.Vec, phase float64) (BlockRay, bool) {
	speed, direction := b.Curves.group(pol, phase-b.Axis)
	along := heading(direction + b.Axis)
	length, ok := b.back(point, along, 1e3*(distance(element, point)+b.Entry.Depth(point)))
	if !ok {
		return BlockRay{}, false
	}
	at := r3.Sub(point, r3.Scale(length, along))
	patch := b.Entry.At(b.Entry.Locate(at))
	tangent := r3.Unit(patch.U)
	lead := distance(element, at)
	slowness := r3.Scale(1/b.Curves.phase(pol, phase-b.Axis), heading(phase))
	d := r3.Sub(at, element)
	return BlockRay{
		Time:   lead/b.Coupling.Longitudinal + length/speed,
		Entry:  at,
		Phase:  phase,
		Speed:  speed,
		Snell:  r3.Dot(slowness, tangent) - r3.Dot(d, tangent)/(lead*b.Coupling.Longitudinal),
		Convex: b.Curves.convex(pol, phase-b.Axis),
	}, true
}

// back returns the distance from the point, against the unit vector along, to the entry surface,
// and whether the distance is at most within.
func (b *Block) back(point, along r3.Vec, within float64) (float64, bool) {
	if b.Entry.Depth(point) <= tolerance {
		return 0, true
	}
	return meet(b.Entry, point, r3.Scale(-1, along), within)
}

// meet returns the distance from a point, along the unit vector, to a surface, and whether the
// distance is at most within. A point can move by its depth without meeting the surface. Once the
// depth falls, the secant method is faster; for a plane it needs one step.
func meet(surface wedge.Surface, point, along r3.Vec, within float64) (float64, bool) {
	side := math.Copysign(1, surface.Depth(point))
	depth := func(t float64) float64 {
		return side * surface.Depth(r3.Add(point,
			r3.Scale(t, along)))
	}
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

// BlockOptions are the options of [Block.Times].
type BlockOptions struct {
	// Arrival is the number of the ray in the order of arrival, 0 (the first, the default) to 15.
	// If a point has fewer rays, its time is NaN. The times jump where a fold of the wave surface
	// begins or ends.
	Arrival int
	// Convex leaves out the rays of the parts of the slowness curve that are not convex. The wave
	// fronts of the remaining rays are curved to the same side as in an isotropic medium.
	Convex   bool
	Progress func(share float64) // as in [Options]
	Workers  int                 // as in [Options]
}

// blockPath identifies the tables of a block. It holds the block as it was when a table was made.
type blockPath struct {
	block   Block
	pol     Polarisation
	arrival int
	convex  bool
}

// Times returns the table of times of one wave from every element to every point (m), as
// [Part.Times] does. Times are exact to the rounding to float32. Nil options stand for the
// defaults.
func (b *Block) Times(
	ctx context.Context, pol Polarisation, elements, points []r3.Vec, options *BlockOptions,
) (*wedge.Times, error) {
	if options == nil {
		options = new(BlockOptions)
	}
	if options.Arrival < 0 || options.Arrival > 15 {
		return nil, fmt.Errorf("graded: arrival %d: want 0 to 15", options.Arrival)
	}
	if err := b.check(pol, elements, points); err != nil {
		return nil, err
	}
	path := blockPath{*b, pol, options.Arrival, options.Convex}
	path.block.Coupling = copyOf(b.Coupling)
	w := newWriter(path, elements, points, options.Workers, options.Progress)
	err := w.fill(ctx, 0, len(elements), func(e, i int) float64 {
		rays := b.rays(pol, elements[e], points[i])
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
