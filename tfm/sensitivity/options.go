// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Options modifies [New]. Nil stands for the zero value.
type Options struct {
	// Dimension says how waves spread. The default, [wedge.Space], stands for real parts. Captures
	// of two-dimensional computations need [wedge.Section].
	Dimension wedge.Dimension
	// Losses are the laws of attenuation. A nil law stands for no loss.
	Losses synth.Losses
	// Normal is the direction straight ahead of the elements, Axis the direction along their
	// width, both of any length above 0 and at right angles. A zero Axis stands for the direction
	// from the first to the second element, or +x for one element. A zero Normal stands for the
	// direction at right angles to Axis and to y that points to the part.
	Normal, Axis r3.Vec
	// Length is the size of an element across its width in m, finite, at least 0. 0 stands for an
	// element that is small against the wavelength. It has no effect in a Section.
	Length float64
	// Angle is the largest angle between the normal of the elements and a ray that counts, in rad,
	// above 0 and at most π/2 ([LimitAngle]). The value 0 stands for no limit.
	Angle float64
	// Weights are the weights of the plan, one a pair: see [tfm.Options]. Nil stands for 1 each.
	Weights []float32
	// Spacing is the largest distance of the nodes for which amplitudes are computed, in m, finite
	// and above 0. 0 stands for about 900 nodes. Between nodes the map is interpolated.
	Spacing float64
	// Workers is the largest number of goroutines; 0 stands for all cores.
	Workers int

	// omnidirectional, in tests, takes away the directivity of the elements.
	omnidirectional bool
}

// validate reports the first field that is out of range for captures like c.
func (o *Options) validate(c *fmc.Capture) error {
	if o.Weights != nil && len(o.Weights) != len(c.Pairs) {
		return fmt.Errorf("sensitivity: %d weights: want %d, one a pair", len(o.Weights), len(c.Pairs))
	}
	for i, w := range o.Weights {
		if !number.Finite(float64(w)) {
			return fmt.Errorf("sensitivity: weight %d is %v: want a finite value", i, w)
		}
	}
	if !(o.Length >= 0) || !number.Finite(o.Length) {
		return fmt.Errorf("sensitivity: length of the elements %v m: want a finite value of 0 or above", o.Length)
	}
	if o.Angle != 0 {
		if err := checkAngle(o.Angle); err != nil {
			return err
		}
	}
	if o.Spacing != 0 && !number.Positive(o.Spacing) {
		return fmt.Errorf("sensitivity: spacing of the nodes %v m: want a finite value above 0, or 0 for the default", o.Spacing)
	}
	for _, law := range []struct {
		name string
		law  material.Attenuation
	}{
		{"the coupling", o.Losses.Coupling},
		{"longitudinal waves", o.Losses.Longitudinal},
		{"transverse waves", o.Losses.Transverse},
	} {
		if err := law.law.Validate(); err != nil {
			return fmt.Errorf("sensitivity: losses of %s: %w", law.name, err)
		}
	}
	if err := parallel.Check(o.Workers); err != nil {
		return fmt.Errorf("sensitivity: %w", err)
	}
	return nil
}

// source returns an element of the array.
func (o *Options) source(a *fmc.Array) *wedge.Source {
	axis, normal := o.Axis, o.Normal
	if axis == (r3.Vec{}) {
		axis = r3.Vec{X: 1}
		if len(a.Elements) > 1 {
			axis = r3.Sub(a.Elements[1], a.Elements[0])
		}
	}
	if normal == (r3.Vec{}) {
		normal = r3.Cross(axis, r3.Vec{Y: 1})
		if normal.Z < 0 {
			normal = r3.Scale(-1, normal)
		}
	}
	s := &wedge.Source{Width: a.Width, Length: o.Length, Normal: normal, Axis: axis}
	if o.Dimension == wedge.Section {
		s.Length = 0
	}
	return s
}

// spectrum returns frequencies of the transmitted pulse in Hz, with the centre frequency in the
// middle, and the share of each of them in the peak of the pulse. The spectrum is Gaussian. The
// reflector rings for the given time in s.
func spectrum(a *fmc.Array, ringing float64) (frequencies, shares []float64) {
	deviation := a.SpectralDeviation()
	// A spectrum in steps repeats the echo after the time 1/step. The first repetition of its end
	// must come after the pulse, which has 3e-6 of its peak at the time 0.8/deviation. Echoes of
	// the reciprocal view, up to 0.75/deviation late, need the second limit.
	step := min(1/(ringing+0.8/deviation), 0.65*deviation)
	reach := math.Min(2.8*deviation, 0.95*a.CentreFrequency)
	steps := int(reach / step)
	sum := 0.0
	for k := -steps; k <= steps; k++ {
		off := float64(k) * step
		share := math.Exp(-off * off / (2 * deviation * deviation))
		frequencies, shares = append(frequencies, a.CentreFrequency+off), append(shares, share)
		sum += share
	}
	for k := range shares {
		shares[k] /= sum
	}
	return frequencies, shares
}
