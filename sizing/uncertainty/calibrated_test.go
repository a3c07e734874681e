// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// TestCalibrated draws errors of the speed and of the offset with which an array is calibrated over
// a face. The errors of the placement move an indication. The root of their mean square must be the
// uncertainty of the budget. Without the correlations the budget would be wrong: an offset shifts the
// height of the array so that it nearly cancels the shift of time zero.
func TestCalibrated(t *testing.T) {
	const angle, height, speed, uSpeed, uOffset = 36 * degree, 12e-3, 2340.0, 5.0, 30e-9
	acrylic := material.Isotropic{Density: 1180, Longitudinal: speed, Transverse: 1150}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	setup := check.Must(wedge.NewPlate(&acrylic, steel, 20e-3))
	flat := check.Must(fmc.LinearArray(16, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.6}))
	placed := check.Must(flat.Place(r3.NewRotation(angle, r3.Vec{Y: 1}), r3.Vec{X: -10e-3, Z: -height}))
	capture := check.Must(fmc.New(fmc.Capture{Array: placed, Pairs: fmc.FullPairs(16), Samples: 1, SampleRate: 50e6, Data: make([]float32, 256)}))
	model := check.Must(NewModel(capture, setup, "T-T", &Options{Pivot: r3.Vec{X: -10e-3, Z: -height}}))
	place := check.Must(model.At(r3.Vec{X: 8e-3, Z: 9e-3}))

	var arrivals []calibrate.Arrival
	for e, p := range flat.Elements {
		arrivals = append(arrivals, calibrate.Arrival{Transmit: e, Receive: e, Time: 2 * (height + p.X*math.Sin(angle)) / speed, Amplitude: 1})
	}
	face := func(dSpeed, dOffset float64) *calibrate.Placement {
		return check.Must(calibrate.Face(flat.Elements, arrivals, &calibrate.Options{
			Speed: calibrate.Estimate{Value: speed + dSpeed, Uncertainty: uSpeed}, Offset: calibrate.Estimate{Value: dOffset, Uncertainty: uOffset}}))
	}
	in := check.Must(Calibrated(face(0, 0)))
	for _, exact := range []Parameter{TransverseSpeed, ProbePosition, ElementSpacing, ElementPositions} {
		in.Parameters[exact] = Quantity{}
	}
	stated := check.Must(in.Z(&Reading{Place: place, SNRDB: math.Inf(1)})).Uncertainty

	rng := rand.New(rand.NewPCG(5, 6))
	const trials = 100
	square := 0.0
	for range trials {
		dSpeed, dOffset := uSpeed*rng.NormFloat64(), uOffset*rng.NormFloat64()
		c := face(dSpeed, dOffset)
		moved := place.Shift(CouplingSpeed).Z*dSpeed + place.Shift(WedgeAngle).Z*(c.Angle.Value-angle) +
			place.Shift(WedgeHeight).Z*(c.Distance.Value-height) - place.Shift(TimeZero).Z*dOffset
		square += moved * moved / trials
	}
	// The root of a mean of 100 squares scatters by 7 %. Delays of the elements add to the budget.
	t.Logf("moved by %.2f µm rms, stated %.2f µm", math.Sqrt(square)*1e6, stated*1e6)
	check.Within(t, "uncertainty over root mean square", stated/math.Sqrt(square), 1, 0.2)

	in.Correlations = nil
	if free := check.Must(in.Z(&Reading{Place: place, SNRDB: math.Inf(1)})).Uncertainty; !(free >= 1.5*stated) {
		t.Errorf("uncertainty without correlations %v m, with them %v m: want more", free, stated)
	}
	_, err := Calibrated(nil)
	check.Error(t, err, "no placement")
}
