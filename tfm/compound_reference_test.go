// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm_test

import (
	"context"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
)

// compoundCase compares an image of waves with the image of the full matrix.
type compoundCase struct {
	name, view     string
	x0, x1, z0, z1 float64 // mm
	waves          func(c *fmc.Capture, part, coupling float64) ([]fmc.Event, error)
	peaks          []r3.Vec // mm, near which to compare
	along          bool     // whether the reflector is a line along z, so that only x is compared
}

// TestCompoundReference images a full-wave simulation by compounded plane waves. The traces of the waves are superpositions of the traces of the full matrix. The
// peaks must lie within 0.1 mm of the peaks of the full matrix. Plane waves of weight 1 put the
// deepest hole of block16 0.6 mm to the side.
func TestCompoundReference(t *testing.T) {
	holes := []r3.Vec{{X: -8.65, Z: 9.4}, {X: -2.95, Z: 16.3}, {X: 2.75, Z: 23.35}, {X: 8.45, Z: 30.4}}
	for _, test := range []compoundCase{
		{"block16", "L-L", -12, 12, 8, 32, planeWaves(-55*degree, 55*degree, 27), holes, false},
	} {
		t.Run(test.name+" "+test.view, func(t *testing.T) {
			if testing.Short() {
				t.Skip("seconds, most of them for the traces of the waves")
			}
			compareWaves(t, test)
		})
	}
}

const degree = math.Pi / 180

func compareWaves(t *testing.T, test compoundCase) {
	ctx := context.Background()
	r, s := reference(t, test.name)
	part, coupling := r.Part.Longitudinal, r.Part.Longitudinal // in contact
	if r.Coupling != nil {
		part, coupling = r.Part.Transverse, r.Coupling.Longitudinal
	}
	full := check.Must(r.Capture.Full())
	waves := check.Must(transmit.Encode(ctx, full, check.Must(test.waves(full, part, coupling)), nil))
	g := check.Must(tfm.NewSection(test.x0*1e-3, test.x1*1e-3, test.z0*1e-3, test.z1*1e-3, 0.1e-3))
	want := check.Must(check.Must(tfm.PlanView(ctx, full, s, test.view, g, nil)).Image(ctx, full)).Envelope(nil)
	plan := check.Must(tfm.PlanView(ctx, waves, s, test.view, g, &tfm.Options{Compound: &tfm.CompoundOptions{}}))
	got := check.Must(plan.Image(ctx, waves)).Envelope(nil)
	// Measured: 0.993 to 0.999, the least in notch32, whose picture holds many faint echoes.
	if c := correlated(got, want); !(c >= 0.99) {
		t.Errorf("correlation %v with the full matrix, want 0.99", c)
	}
	for _, at := range test.peaks {
		there, high := finePeak(want, r3.Scale(1e-3, at), 1e-3)
		here, height := finePeak(got, r3.Scale(1e-3, at), 1e-3)
		apart := r3.Sub(here, there)
		if test.along {
			apart.Z = 0
		}
		if !(r3.Norm(apart) <= 0.1e-3) {
			t.Errorf("peak at (%.2f, %.2f) mm, %.2f mm from the full matrix", here.X*1e3, here.Z*1e3, r3.Norm(apart)*1e3)
		}
		check.Within(t, "amplitude relative to the full matrix", height/high, 0.98, 0.08)
		if !test.along {
			check.Within(t, "width relative to the full matrix", rowWidth(got, here)/rowWidth(want, there), 1.02, 0.06)
		}
	}
}

// finePeak returns the position of the peak within radius of a point, from the parabolas through
// the highest pixel and its neighbours, and the amplitude of the highest pixel.
func finePeak(e *tfm.Envelope, at r3.Vec, radius float64) (r3.Vec, float64) {
	peak, amplitude := peakNear(e, at, radius)
	c, r := int(math.Round((peak.X-e.Origin.X)/e.Step.X)), int(math.Round((peak.Z-e.Origin.Z)/e.Step.Z))
	offset := func(before, after float64) float64 {
		return (after - before) / 2 / (2*amplitude - before - after)
	}
	if c > 0 && c < e.Cols-1 {
		peak.X += e.Step.X * offset(e.Z(c-1, r), e.Z(c+1, r))
	}
	if r > 0 && r < e.Rows-1 {
		peak.Z += e.Step.Z * offset(e.Z(c, r-1), e.Z(c, r+1))
	}
	return peak, amplitude
}

// rowWidth returns the -6 dB width in m along the row of a peak.
func rowWidth(e *tfm.Envelope, peak r3.Vec) float64 {
	c, r := int(math.Round((peak.X-e.Origin.X)/e.Step.X)), int(math.Round((peak.Z-e.Origin.Z)/e.Step.Z))
	half := e.Z(c, r) / 2
	crossing := func(direction int) float64 {
		i := c
		for ; i > 0 && i < e.Cols-1 && e.Z(i, r) >= half; i += direction {
		}
		a, b := e.Z(i-direction, r), e.Z(i, r)
		return math.Abs(float64(i-c)) - 1 + (a-half)/(a-b)
	}
	return (crossing(1) + crossing(-1)) * e.Step.X
}

func planeWaves(from, to float64, count int) func(c *fmc.Capture, part, coupling float64) ([]fmc.Event, error) {
	return func(c *fmc.Capture, part, coupling float64) ([]fmc.Event, error) {
		directions, err := transmit.Fan{From: from, To: to, Count: count}.Directions(part, coupling)
		if err != nil {
			return nil, err
		}
		return transmit.PlaneWaves(c.Array, coupling, directions)
	}
}

// correlated returns the correlation of two envelopes.
func correlated(a, b *tfm.Envelope) float64 {
	ab, aa, bb := 0.0, 0.0, 0.0
	for i, v := range a.Data {
		x, y := float64(v), float64(b.Data[i])
		ab, aa, bb = ab+x*y, aa+x*x, bb+y*y
	}
	return ab / math.Sqrt(aa*bb)
}
