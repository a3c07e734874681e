// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/num/quat"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Array is an ultrasonic array: equal elements at any places.
type Array struct {
	// Elements are the centres of the elements in m: at least one, finite and distinct. The number
	// of an element is its index.
	Elements []r3.Vec

	// Width is the width of an element along the array in m, finite and above 0. [Capture] says
	// which elements may overlap.
	Width float64

	// CentreFrequency is in Hz, finite and above 0.
	CentreFrequency float64

	// Bandwidth is the -6 dB bandwidth of the echo as a fraction of the centre frequency, above 0
	// and below 2.
	Bandwidth float64
}

// LinearArray returns n elements on the line y = z = 0. They are a pitch (m) apart along x, in
// ascending order, and centred on x = 0. Width, centre frequency and bandwidth are copied from
// like; the Elements of like are ignored. This is the place of an array in contact with a flat
// part. [Array.Place] moves an array to its place on a wedge.
//
// n ≥ 1 and width ≤ pitch are required, so that elements do not overlap. The pitch must be finite
// and above 0, also for n = 1, where it has no effect.
func LinearArray(n int, pitch float64, like Array) (Array, error) {
	return MatrixArray(n, 1, pitch, pitch, like)
}

// MatrixArray returns nx × ny elements on the plane z = 0, pitchX and pitchY (m) apart and centred
// on the origin. The element of column ix and row iy has the number iy·nx + ix and lies at
//
//	x = (ix − (nx−1)/2)·pitchX, y = (iy − (ny−1)/2)·pitchY.
//
// Width (along x), centre frequency and bandwidth are copied from like; the Elements of like are
// ignored.
//
// nx, ny ≥ 1, finite pitches above 0 and width ≤ pitchX are required.
func MatrixArray(nx, ny int, pitchX, pitchY float64, like Array) (Array, error) {
	if nx < 1 || ny < 1 || nx > maxElements/ny {
		return Array{}, fmt.Errorf("fmc: %d × %d elements: want at least one and at most %d in all",
			nx, ny, maxElements)
	}
	for _, pitch := range []float64{pitchX, pitchY} {
		if !number.Positive(pitch) {
			return Array{}, fmt.Errorf("fmc: pitch %v m: want a finite value above 0", pitch)
		}
	}
	if like.Width > pitchX {
		return Array{}, fmt.Errorf("fmc: element width %v m: want at most the pitch, %v m",
			like.Width, pitchX)
	}
	a := like
	a.Elements = make([]r3.Vec, 0, nx*ny)
	for iy := range ny {
		for ix := range nx {
			a.Elements = append(a.Elements, r3.Vec{
				X: (float64(ix) - float64(nx-1)/2) * pitchX,
				Y: (float64(iy) - float64(ny-1)/2) * pitchY,
			})
		}
	}
	return a, a.Validate()
}

// maxElements bounds the arrays that are made from a count alone. It is far above any array that
// was ever built. A wrong count is then an error and does not exhaust the memory.
const maxElements = 1 << 20

// Place returns the array turned about the origin and then moved by shift (m). The turn must be a
// rotation as [r3.NewRotation] makes it: a unit quaternion, to 1e-9. The shift must be finite. The
// elements are copied.
//
// A turn by a positive angle about +y lifts the end of the array at large x away from the part. A
// linear array on a wedge of angle α is therefore
//
//	a.Place(r3.NewRotation(α, r3.Vec{Y: 1}), centre)
//
// where centre, with z < 0, is the middle of the array's face.
func (a Array) Place(turn r3.Rotation, shift r3.Vec) (Array, error) {
	if norm := quat.Abs(quat.Number(turn)); !(math.Abs(norm-1) <= 1e-9) {
		return Array{}, fmt.Errorf("fmc: rotation %v of norm %v: want a unit quaternion",
			quat.Number(turn), norm)
	}
	placed := a
	placed.Elements = make([]r3.Vec, len(a.Elements))
	for i, e := range a.Elements {
		placed.Elements[i] = r3.Add(turn.Rotate(e), shift)
	}
	return placed, placed.Validate()
}

// Mirrored returns the array on the other side of the plane x = centre (m), such as the centre line
// of a weld. There it fires the other way. Elements keep their numbers. The array and the centre
// are valid. The elements are copied.
func (a Array) Mirrored(centre float64) Array {
	mirrored := a
	mirrored.Elements = make([]r3.Vec, len(a.Elements))
	for i, e := range a.Elements {
		mirrored.Elements[i] = r3.Vec{X: 2*centre - e.X, Y: e.Y, Z: e.Z}
	}
	return mirrored
}

// sub returns the array of the given elements alone, renumbered from 0. It wants at least one
// element, in strictly ascending order, each in 0 … N−1. The elements are copied.
func (a Array) sub(elements []int) (Array, error) {
	sub := a
	sub.Elements = make([]r3.Vec, len(elements))
	for i, e := range elements {
		if e < 0 || e >= len(a.Elements) {
			return Array{}, fmt.Errorf("fmc: element %d of the sub-aperture: want 0 to %d",
				e, len(a.Elements)-1)
		}
		if i > 0 && e <= elements[i-1] {
			return Array{}, fmt.Errorf("fmc: element %d of the sub-aperture after %d: "+
				"want ascending order", e, elements[i-1])
		}
		sub.Elements[i] = a.Elements[e]
	}
	return sub, sub.Validate()
}

// SpectralDeviation returns the standard deviation in Hz of a Gaussian spectrum with the -6 dB
// Bandwidth of a: Bandwidth·CentreFrequency/√(8·ln 2).
func (a Array) SpectralDeviation() float64 {
	return a.Bandwidth * a.CentreFrequency / math.Sqrt(8*math.Ln2)
}

// Validate returns an error for the first field that is outside the range in its comment.
func (a Array) Validate() error {
	if len(a.Elements) == 0 {
		return fmt.Errorf("fmc: array of 0 elements: want at least 1")
	}
	at := make(map[r3.Vec]int, len(a.Elements))
	for i, e := range a.Elements {
		if !number.Finite(e.X) || !number.Finite(e.Y) || !number.Finite(e.Z) {
			return fmt.Errorf("fmc: centre %v m of element %d: want finite coordinates", e, i)
		}
		if first, taken := at[e]; taken {
			return fmt.Errorf("fmc: elements %d and %d both lie at %v m: want distinct centres",
				first, i, e)
		}
		at[e] = i
	}
	if !number.Positive(a.Width) {
		return fmt.Errorf("fmc: element width %v m: want a finite value above 0", a.Width)
	}
	if !number.Positive(a.CentreFrequency) {
		return fmt.Errorf("fmc: centre frequency %v Hz: want a finite value above 0",
			a.CentreFrequency)
	}
	if !(a.Bandwidth > 0 && a.Bandwidth < 2) {
		return fmt.Errorf("fmc: bandwidth %v of the centre frequency: "+
			"want a value above 0 and below 2", a.Bandwidth)
	}
	return nil
}
