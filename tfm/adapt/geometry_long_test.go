// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package adapt

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// TestAngleOfCaptures finds the wedge angle of full-wave captures. It agrees with the angle of the
// echo of the wedge's floor and with the set-up, within the uncertainties.
func TestAngleOfCaptures(t *testing.T) {
	for _, test := range []struct {
		name, view     string
		x0, x1, z0, z1 float64 // region, mm
		radius         float64 // m
		face           bool    // the echo of the wedge's floor gives an angle to compare with
	}{
		{"sdh32", "T-T", 10.5, 15.5, 5.5, 9.5, 1e-3, true}, // the hole that no other one shadows
		{"weld32", "TT-T", 14, 18, 12, 17, 0, true},        // the corner of the root notch
		{"tips_weld1", "TT-T", 13, 17, 12, 17, 0, false},   // the same
	} {
		record, setup := read(t, test.name)
		elements := record.Capture.Array.Elements
		middle := r3.Scale(0.5, r3.Add(elements[0], elements[len(elements)-1]))
		region := check.Must(tfm.NewSection(test.x0*1e-3, test.x1*1e-3, test.z0*1e-3, test.z1*1e-3, 0.1e-3))
		f := check.Must(Focus(t.Context(), record.Capture, test.view, []tfm.Grid{region},
			WedgeAngle(setup, elements, middle), wedge.Interval{Min: degrees(32), Max: degrees(40)},
			&FocusOptions{Radius: test.radius, Steps: 9}))
		t.Logf("%s: angle %.2f° ± %.2f°, drop %.1f dB", test.name,
			f.Value.Value/degrees(1), f.Value.Uncertainty/degrees(1), f.Drop)
		if f.Verdict != Determined {
			t.Errorf("%s: %v, want %v", test.name, f.Verdict, Determined)
		}
		check.Within(t, test.name+": angle of the set-up, rad", f.Value.Value, degrees(36), 2*f.Value.Uncertainty)
		check.Within(t, test.name+": uncertainty, rad", f.Value.Uncertainty, 0, degrees(1))
		if !test.face {
			continue
		}
		flat := make([]r3.Vec, len(elements)) // the array in its own frame
		for i, e := range elements {
			flat[i].X = math.Copysign(r3.Norm(r3.Sub(e, middle)), e.X-middle.X)
		}
		face := check.Must(calibrate.Face(flat, check.Must(calibrate.Pick(record.Capture, nil)), &calibrate.Options{
			Speed: calibrate.Estimate{Value: record.Coupling.Longitudinal}, Offset: calibrate.Estimate{Uncertainty: 5e-9}}))
		both := math.Hypot(f.Value.Uncertainty, face.Angle.Uncertainty)
		check.Within(t, test.name+": angle, rad", f.Value.Value, face.Angle.Value, 2*both)
	}
}

// TestThicknessOfCaptures finds the thickness of full-wave plates behind a wedge, from reflectors
// seen over the back wall.
func TestThicknessOfCaptures(t *testing.T) {
	for _, test := range []struct {
		name           string
		x0, x1, z0, z1 float64 // region, mm
		radius         float64 // m
	}{
		{"sdh32", 12, 16, 5.5, 10.5, 1e-3}, // a hole
		{"weld32", 14, 18, 12, 18, 0},      // the corner of the root notch
	} {
		record, setup := read(t, test.name)
		region := check.Must(tfm.NewSection(test.x0*1e-3, test.x1*1e-3, test.z0*1e-3, test.z1*1e-3, 0.1e-3))
		f := check.Must(Focus(t.Context(), record.Capture, "TT-T", []tfm.Grid{region},
			Thickness(setup, record.Capture.Array.Elements),
			wedge.Interval{Min: 0.95 * record.Thickness, Max: 1.06 * record.Thickness},
			&FocusOptions{Radius: test.radius, Steps: 9}))
		t.Logf("%s: thickness %.3f mm ± %.3f mm, drop %.1f dB", test.name, f.Value.Value*1e3, f.Value.Uncertainty*1e3, f.Drop)
		if f.Verdict != Determined {
			t.Errorf("%s: %v, want %v", test.name, f.Verdict, Determined)
		}
		check.Within(t, test.name+": thickness, m", f.Value.Value, record.Thickness, 2*f.Value.Uncertainty)
		check.Within(t, test.name+": uncertainty, m", f.Value.Uncertainty, 0, 0.15e-3)
	}
}
