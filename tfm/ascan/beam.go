// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Beam describes a beam of an aperture: the same elements send and receive.
type Beam struct {
	// Elements are the numbers of the elements of the aperture, at least one, distinct. Nil stands
	// for all elements of the array.
	Elements []int `json:"elements"`
	// Weights holds the apodisation: a finite factor for each of Elements, not all 0. The factor
	// counts on transmission and on reception. Nil stands for 1 each.
	Weights []float64 `json:"weights,omitempty"`
	// Mode is the wave in the part, on all legs.
	Mode material.Mode `json:"-"`
	// Angle is the refraction angle in the part in radians, between -π/2 and π/2. It is measured
	// from the normal of the entry surface at the exit point, and positive towards +x.
	Angle float64 `json:"angle_rad"`
	// Transmit and Receive say where the beam is focused in transmission and in reception.
	Transmit Focus `json:"transmit"`
	Receive  Focus `json:"receive"`
	// DelayStep is the step in s to which an instrument rounds its delays, finite, at least 0. The
	// default, 0, does not round. The package documentation has the loss.
	DelayStep float64 `json:"delay_step_s,omitempty"`
}

// Focus is where a delay law is focused. At most one of its fields SoundPath, Depth and Dynamic is
// set. The zero value is an unfocused law: the elements make a plane wave in their own medium, the
// coupling or the part. A flat entry surface refracts this wave to a plane wave of the angle of the
// beam.
type Focus struct {
	// SoundPath is the sound path of the focus in the part in m, from the exit point along the beam
	// and its skips, above 0.
	SoundPath float64 `json:"sound_path_m,omitempty"`
	// Depth is the coordinate z of the focus in m, above 0. The focus lies where the leg with the
	// number Leg comes to this depth. Leg 1, also for 0, is the leg before the first skip.
	Depth float64 `json:"depth_m,omitempty"`
	Leg   int     `json:"leg,omitempty"`
	// Dynamic moves the focus along the beam with time, so that each sample is focused at its own
	// place. On transmission this is possible in post-processing only.
	Dynamic bool `json:"dynamic,omitempty"`
}

// validate reports the first field outside its range.
func (f Focus) validate() error {
	set := 0
	for _, v := range []float64{f.SoundPath, f.Depth} {
		if !(v >= 0) || math.IsInf(v, 1) {
			return fmt.Errorf("sound path %v m, depth %v m: want finite values above 0, or 0 for none", f.SoundPath, f.Depth)
		}
		if v > 0 {
			set++
		}
	}
	if f.Dynamic {
		set++
	}
	if set > 1 {
		return fmt.Errorf("sound path %v m, depth %v m, dynamic %v: want at most one of them", f.SoundPath, f.Depth, f.Dynamic)
	}
	if f.Leg < 0 || f.Leg > 0 && f.Depth == 0 {
		return fmt.Errorf("leg %d: want at least 1, with a depth", f.Leg)
	}
	return nil
}

// complete returns b with all elements and weights listed, for an array of n elements. It reports
// the first field outside its range.
func (b Beam) complete(n int) (Beam, error) {
	if b.Elements == nil {
		for e := range n {
			b.Elements = append(b.Elements, e)
		}
	}
	if b.Weights == nil {
		b.Weights = slices.Repeat([]float64{1}, len(b.Elements))
	}
	b.Elements, b.Weights = slices.Clone(b.Elements), slices.Clone(b.Weights)
	if len(b.Elements) == 0 {
		return b, errors.New("no elements: want at least one")
	}
	seen := make([]bool, n)
	for _, e := range b.Elements {
		if e < 0 || e >= n || seen[e] {
			return b, fmt.Errorf("element %d: want distinct numbers from 0 to %d", e, n-1)
		}
		seen[e] = true
	}
	if len(b.Weights) != len(b.Elements) {
		return b, fmt.Errorf("%d weights: want one for each of %d elements", len(b.Weights), len(b.Elements))
	}
	silent := true
	for _, w := range b.Weights {
		if !number.Finite(w) {
			return b, fmt.Errorf("weight %v: want a finite value", w)
		}
		silent = silent && w == 0
	}
	if silent {
		return b, errors.New("all weights are 0: want at least one other weight")
	}
	if b.Mode != material.L && b.Mode != material.T {
		return b, fmt.Errorf("mode %d: want material.L or material.T", b.Mode)
	}
	if !(math.Abs(b.Angle) < math.Pi/2) {
		return b, fmt.Errorf("angle %v rad: want a value between -π/2 and π/2", b.Angle)
	}
	if err := b.Transmit.validate(); err != nil {
		return b, fmt.Errorf("focus of transmission: %w", err)
	}
	if err := b.Receive.validate(); err != nil {
		return b, fmt.Errorf("focus of reception: %w", err)
	}
	if !(b.DelayStep >= 0) || math.IsInf(b.DelayStep, 1) {
		return b, fmt.Errorf("delay step %v s: want a finite value of at least 0", b.DelayStep)
	}
	return b, nil
}

// places returns the places of the elements of a complete beam.
func (b Beam) places(array fmc.Array) []r3.Vec {
	places := make([]r3.Vec, len(b.Elements))
	for i, e := range b.Elements {
		places[i] = array.Elements[e]
	}
	return places
}

// centre returns the mean place of the elements of a complete beam whose weights are not 0.
func (b Beam) centre(array fmc.Array) r3.Vec {
	var sum r3.Vec
	count := 0.0
	for i, e := range b.Elements {
		if b.Weights[i] != 0 {
			sum = r3.Add(sum, array.Elements[e])
			count++
		}
	}
	return r3.Scale(1/count, sum)
}

// Sector returns the beams of a sector image: beams like the given beam, at refraction angles from
// the first angle to the last angle in equal steps (rad). The last beam lies at the last angle, or
// less than one step before it. It wants -π/2 < from ≤ to < π/2 and a step of at least 1e-4 rad.
func Sector(like Beam, from, to, step float64) ([]Beam, error) {
	if !(from > -math.Pi/2 && from <= to && to < math.Pi/2) {
		return nil, fmt.Errorf("ascan: sector from %v to %v rad: want -π/2 < from ≤ to < π/2", from, to)
	}
	if !(step >= 1e-4) || math.IsInf(step, 1) {
		return nil, fmt.Errorf("ascan: step of the sector %v rad: want a finite value of at least 1e-4", step)
	}
	// The small addition keeps the last angle in spite of rounding.
	beams := make([]Beam, 1+int((to-from)/step+1e-9))
	for k := range beams {
		beams[k] = like
		beams[k].Angle = from + float64(k)*step
	}
	return beams, nil
}

// Linear returns the beams of a linear image. They are like the given beam. Their aperture has the
// given number of neighbouring elements, and moves along an array of n elements by a step of
// elements. Like.Elements must be nil. It wants 1 ≤ aperture ≤ n and a step of at least 1.
func Linear(like Beam, n, aperture, step int) ([]Beam, error) {
	if like.Elements != nil {
		return nil, fmt.Errorf("ascan: linear image with %d elements listed: want none", len(like.Elements))
	}
	if aperture < 1 || aperture > n || step < 1 {
		return nil, fmt.Errorf("ascan: aperture of %d elements of %d in steps of %d: "+
			"want 1 to n elements and a step of at least 1", aperture, n, step)
	}
	var beams []Beam
	for first := 0; first+aperture <= n; first += step {
		b := like
		b.Elements = make([]int, aperture)
		for i := range b.Elements {
			b.Elements[i] = first + i
		}
		beams = append(beams, b)
	}
	return beams, nil
}

// Aim returns a beam like the given beam that points at p, a point of the part in m, on the leg
// with the given number. It is focused at p in transmission and in reception. Leg 1 is the leg
// before the first skip. The point must have the y of the centre of the aperture. A point without a
// ray from this centre is an error that wraps [wedge.ErrNoRay].
func Aim(setup *wedge.Setup, array fmc.Array, like Beam, p r3.Vec, leg int) (Beam, error) {
	b, err := like.complete(len(array.Elements))
	if err != nil {
		return b, fmt.Errorf("ascan: %w", err)
	}
	t, err := newTracer(setup, b.Mode)
	if err != nil {
		return b, err
	}
	path, err := t.path(leg)
	if err != nil {
		return b, err
	}
	start := b.centre(array)
	if setup.Coupling == nil {
		start = t.foot(start)
	}
	ray := path.Solve(start, p)
	if err := ray.Status.Err(); err != nil {
		return b, fmt.Errorf("ascan: beam at %v m, leg %d: %w", p, leg, err)
	}
	points := ray.Points[len(ray.Points)-1-leg:] // of the legs in the part
	soundPath := 0.0
	for k := range leg {
		soundPath += r3.Norm(r3.Sub(points[k+1], points[k]))
	}
	b.Transmit, b.Receive = Focus{SoundPath: soundPath}, Focus{SoundPath: soundPath}
	along, _, err := t.axes(points[0])
	if err != nil {
		return b, err
	}
	b.Angle = math.Asin(r3.Dot(r3.Unit(r3.Sub(points[1], points[0])), along))
	return b, nil
}
