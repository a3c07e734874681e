// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
)

// captured returns a reference capture and its echoes.
func captured(t *testing.T, name string) (*npy.Record, []Arrival) {
	t.Helper()
	r, err := npy.ReadFile("../../testdata/"+name+".json", nil)
	if err != nil {
		t.Fatal(err)
	}
	arrivals, err := Pick(r.Capture, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r, arrivals
}

// TestFaceWedgeOfCapture finds the wedge of full-wave captures from their traces, the pitch of the
// array and the speed in the wedge. The true values stand in their set-up: 36°, and 6 mm from the
// floor to the first element.
func TestFaceWedgeOfCapture(t *testing.T) {
	for _, name := range []string{"weld32", "sdh32"} {
		t.Run(name, func(t *testing.T) {
			r, arrivals := captured(t, name)
			// The speed is known to 0.1 %. The captures state the times of their echoes to one
			// sample, taken as a uniform distribution.
			options := &Options{
				Speed:  Estimate{Value: r.Coupling.Longitudinal, Uncertainty: 1e-3 * r.Coupling.Longitudinal},
				Offset: Estimate{Uncertainty: 0.02e-6 / math.Sqrt(3)},
			}
			c, err := Face(elementsOf(32, 0.6e-3), arrivals, options)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("angle %.3f° ± %.3f°, first element at %.4f ± %.4f mm; %d arrivals, %.2f ns rms",
				c.Angle.Value/degree, c.Angle.Uncertainty/degree, c.Heights[0].Value*1e3, c.Heights[0].Uncertainty*1e3, c.Used, c.RMS*1e9)
			if miss := c.Angle.Value - 36*degree; !(math.Abs(miss) <= 0.1*degree) || !(math.Abs(miss) <= 2*c.Angle.Uncertainty) {
				t.Errorf("angle %.4f° ± %.4f°: want 36° within 0.1° and twice the uncertainty",
					c.Angle.Value/degree, c.Angle.Uncertainty/degree)
			}
			if !(c.Angle.Uncertainty < 0.1*degree) {
				t.Errorf("uncertainty of the angle %.4f°: want below 0.1°",
					c.Angle.Uncertainty/degree)
			}
			for e, h := range c.Heights {
				truth := -r.Capture.Array.Elements[e].Z
				if miss := h.Value - truth; !(math.Abs(miss) <= 0.05e-3) || !(math.Abs(miss) <= 2*h.Uncertainty) {
					t.Errorf("element %d at %.4f ± %.4f mm: want %.4f mm within 0.05 mm and twice the uncertainty",
						e, h.Value*1e3, h.Uncertainty*1e3, truth*1e3)
				}
				// Simulated elements have no delay errors.
				if d := c.Delays[e]; !(math.Abs(d.Value) <= 1e-9) || !(d.Uncertainty < 1e-9) {
					t.Errorf("element %d is late by %.2f ± %.2f ns: want 0 within 1 ns",
						e, d.Value*1e9, d.Uncertainty*1e9)
				}
			}
			for e, p := range c.Elements() {
				// The origin of these captures is the exit point of the same ray.
				if away := r3.Norm(r3.Sub(p, r.Capture.Array.Elements[e])); !(away <= 0.05e-3) {
					t.Errorf("element %d placed %.4f mm from where it is", e, away*1e3)
				}
			}
		})
	}
}

// TestFaceNoiseOfCapture adds white noise to a full-wave capture: a tenth of the echo of the floor
// at the last element. The changes of the results must have the size of the uncertainties.
func TestFaceNoiseOfCapture(t *testing.T) {
	if testing.Short() {
		t.Skip("many captures")
	}
	r, arrivals := captured(t, "weld32")
	options := &Options{Speed: Estimate{Value: r.Coupling.Longitudinal}}
	quiet, err := Face(elementsOf(32, 0.6e-3), arrivals, options)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(19, 20))
	samples := slices.Clone(r.Capture.Data)
	const rounds, noise = 20, 600
	var angle, height float64
	for range rounds {
		for k, v := range samples {
			r.Capture.Data[k] = v + float32(noise*rng.NormFloat64())
		}
		arrivals, err := Pick(r.Capture, nil)
		if err != nil {
			t.Fatal(err)
		}
		c, err := Face(elementsOf(32, 0.6e-3), arrivals, options)
		if err != nil {
			t.Fatal(err)
		}
		if !(math.Abs(c.Angle.Value-36*degree) <= 0.1*degree) || !(math.Abs(c.Heights[0].Value-6e-3) <= 0.05e-3) {
			t.Errorf("angle %.4f°, first element at %.4f mm: want 36° within 0.1°, 6 mm within 0.05 mm",
				c.Angle.Value/degree, c.Heights[0].Value*1e3)
		}
		angle += math.Pow((c.Angle.Value-quiet.Angle.Value)/c.Angle.Uncertainty, 2) / rounds
		height += math.Pow((c.Heights[0].Value-quiet.Heights[0].Value)/c.Heights[0].Uncertainty, 2) / rounds
		if c.RMS < 2e-9 {
			t.Errorf("residuals of %v s rms: the noise does nothing", c.RMS)
		}
	}
	// The mean of 20 squares has a standard deviation of 0.3.
	if !(angle >= 0.3 && angle <= 2) || !(height >= 0.3 && height <= 2) {
		t.Errorf("mean squares of the changes over their uncertainties %.2f (angle), %.2f (height): want about 1",
			angle, height)
	}
}

// TestFaceSpeedOfCapture also finds the speed in the wedge, up to the incidence at which the echo
// of the floor comes near a head wave. The accuracy is the accuracy that times with an error of 1
// ns allow.
func TestFaceSpeedOfCapture(t *testing.T) {
	r, arrivals := captured(t, "weld32")
	c, err := Face(elementsOf(32, 0.6e-3), arrivals, &Options{MaxIncidence: 18 * degree})
	if err != nil {
		t.Fatal(err)
	}
	truth := r.Coupling.Longitudinal
	if !(math.Abs(c.Speed.Value-truth) <= 6e-3*truth) || !(math.Abs(c.Angle.Value-36*degree) <= 0.3*degree) || !(math.Abs(c.Heights[0].Value-6e-3) <= 0.05e-3) {
		t.Errorf("speed %.1f m/s, angle %.3f°, first element at %.4f mm: want %.0f m/s, 36°, 6 mm",
			c.Speed.Value, c.Angle.Value/degree, c.Heights[0].Value*1e3, truth)
	}
}

// TestFaceDelaysOfCapture adds delays to some elements of a full-wave capture and finds them. A
// trend of the delays along the array cannot be found.
func TestFaceDelaysOfCapture(t *testing.T) {
	r, arrivals := captured(t, "weld32")
	late := map[int]float64{3: 30e-9, 17: -15e-9, 18: 45e-9}
	for i, a := range arrivals {
		arrivals[i].Time += late[a.Transmit] + late[a.Receive]
	}
	options := &Options{Speed: Estimate{Value: r.Coupling.Longitudinal}}
	c, err := Face(elementsOf(32, 0.6e-3), arrivals, options)
	if err != nil {
		t.Fatal(err)
	}
	if !(math.Abs(c.Angle.Value-36*degree) <= 0.1*degree) || !(math.Abs(c.Heights[0].Value-6e-3) <= 0.05e-3) {
		t.Errorf("angle %.4f°, first element at %.4f mm",
			c.Angle.Value/degree, c.Heights[0].Value*1e3)
	}
	for e, d := range c.Delays {
		if !(math.Abs(d.Value-late[e]) <= 1e-9) {
			t.Errorf("element %d is late by %.2f ± %.2f ns: want %.0f ns within 1 ns",
				e, d.Value*1e9, d.Uncertainty*1e9, late[e]*1e9)
		}
	}
}

// TestFacePlateOfCapture finds the speed of longitudinal waves from the back wall of a known
// thickness, and thickness and speed together from the echoes between elements. In these captures
// surface waves and the echoes of reflectors overlap the echo of the back wall. The tolerances
// allow for the overlap.
func TestFacePlateOfCapture(t *testing.T) {
	for _, test := range []struct {
		name         string
		n            int
		pitch        float64
		known, found float64 // shares by which the speed may miss
	}{
		{"block16", 16, 1e-3, 3e-3, 6e-2}, // holes before the wall
		{"notch32", 32, 0.6e-3, 2e-4, 1e-2},
	} {
		t.Run(test.name, func(t *testing.T) {
			r, arrivals := captured(t, test.name)
			elements := elementsOf(test.n, test.pitch)
			if away := r3.Norm(r3.Sub(elements[0], r.Capture.Array.Elements[0])); !(away <= 1e-9) {
				t.Fatalf("the pitch of the array is not %v m", test.pitch)
			}
			speed, thickness := r.Part.Longitudinal, r.Thickness
			known := &Options{Facing: Parallel, Distance: Estimate{Value: thickness}}
			c, err := Face(elements, arrivals, known)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("thickness given: speed %.1f ± %.1f m/s", c.Speed.Value, c.Speed.Uncertainty)
			if miss := c.Speed.Value - speed; !(math.Abs(miss) <= test.known*speed) || !(math.Abs(miss) <= 3*c.Speed.Uncertainty) {
				t.Errorf("speed %.1f ± %.1f m/s: want %.0f m/s",
					c.Speed.Value, c.Speed.Uncertainty, speed)
			}
			c, err = Face(elements, arrivals, &Options{Facing: Parallel})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("both found: speed %.1f ± %.1f m/s, thickness %.3f ± %.3f mm",
				c.Speed.Value, c.Speed.Uncertainty, c.Distance.Value*1e3, c.Distance.Uncertainty*1e3)
			if miss := c.Speed.Value - speed; !(math.Abs(miss) <= test.found*speed) || !(math.Abs(miss) <= 3*c.Speed.Uncertainty) {
				t.Errorf("speed %.1f ± %.1f m/s: want %.0f m/s",
					c.Speed.Value, c.Speed.Uncertainty, speed)
			}
			if miss := c.Distance.Value - thickness; !(math.Abs(miss) <= test.found*thickness) || !(math.Abs(miss) <= 3*c.Distance.Uncertainty) {
				t.Errorf("thickness %.3f ± %.3f mm: want %.3f mm",
					c.Distance.Value*1e3, c.Distance.Uncertainty*1e3, thickness*1e3)
			}
		})
	}
}
