// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import (
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
)

// capturedOnce keeps the captures that several tests read. The tests run one after the other.
var capturedOnce = map[string]capturedEchoes{}

type capturedEchoes struct {
	record   *npy.Record
	arrivals []Arrival
}

// captured returns a reference capture and its echoes.
func captured(t *testing.T, name string) (*npy.Record, []Arrival) {
	t.Helper()
	if c, ok := capturedOnce[name]; ok {
		return c.record, slices.Clone(c.arrivals)
	}
	r, err := npy.ReadFile("../../testdata/"+name+".json", nil)
	if err != nil {
		t.Fatal(err)
	}
	arrivals, err := Pick(r.Capture, nil)
	if err != nil {
		t.Fatal(err)
	}
	capturedOnce[name] = capturedEchoes{r, slices.Clone(arrivals)}
	return r, arrivals
}

// TestFaceWedgeOfCapture finds the wedge of full-wave captures from their traces and the pitch of
// the array. All uncertainties are defaults. The true values stand in the set-up of the captures:
// 36°, 2340 m/s, and 6 mm from the floor to the first element. The file testdata/grainw32.csv holds
// the echoes of a capture of another program, at 2.25 MHz, with a wedge that is bonded to the part.
func TestFaceWedgeOfCapture(t *testing.T) {
	type source struct {
		name     string
		pitch    float64
		arrivals []Arrival
	}
	sources := []source{{"grainw32", 0.8e-3, readArrivals(t, "testdata/grainw32.csv")}}
	for _, name := range []string{"weld32", "sdh32"} {
		if name == "sdh32" && testing.Short() {
			continue
		}
		_, arrivals := captured(t, name)
		sources = append(sources, source{name, 0.6e-3, arrivals})
	}
	for _, from := range sources {
		for _, test := range []struct {
			name         string
			options      Options
			angle, speed float64 // largest uncertainty, rad and m/s
		}{
			{"speed given", Options{Speed: Estimate{Value: 2340}}, 0.06 * degree, 2.34},
			{"speed given, 18°", Options{Speed: Estimate{Value: 2340}, MaxIncidence: 18 * degree}, 0.06 * degree, 2.34},
			{"speed found", Options{}, 0.5 * degree, 30},
			{"speed found, 18°", Options{MaxIncidence: 18 * degree}, 0.5 * degree, 30},
		} {
			t.Run(from.name+", "+test.name, func(t *testing.T) {
				elements := elementsOf(32, from.pitch)
				c, err := Face(elements, from.arrivals, &test.options)
				if err != nil {
					t.Fatal(err)
				}
				t.Logf("angle %.3f° ± %.3f°, speed %.1f ± %.1f m/s, first element at %.4f ± %.4f mm; %d arrivals, %.2f ns rms",
					c.Angle.Value/degree, c.Angle.Uncertainty/degree, c.Speed.Value, c.Speed.Uncertainty,
					c.Heights[0].Value*1e3, c.Heights[0].Uncertainty*1e3, c.Used, c.RMS*1e9)
				holds(t, "angle, rad", c.Angle, 36*degree, test.angle)
				holds(t, "speed, m/s", c.Speed, 2340, test.speed*1.001)
				if ratio := math.Sin(c.Angle.Value) / c.Speed.Value / (math.Sin(36*degree) / 2340); !(math.Abs(ratio-1) <= 1e-3) {
					t.Errorf("sine of the angle over the speed is %.5f of its true value", ratio)
				}
				for e, h := range c.Heights {
					holds(t, "height, m", h, 6e-3+from.pitch*float64(e)*math.Sin(36*degree), 0.2e-3)
					// Simulated elements have no delay errors.
					if d := c.Delays[e]; !(math.Abs(d.Value) <= 1e-9) || !(d.Uncertainty < 3e-9) {
						t.Errorf("element %d is late by %.2f ± %.2f ns: want 0 within 1 ns",
							e, d.Value*1e9, d.Uncertainty*1e9)
					}
				}
			})
		}
	}
}

// holds checks that twice the uncertainty holds the truth, and that the uncertainty is not idle.
func holds(t *testing.T, name string, e Estimate, truth, most float64) {
	t.Helper()
	if miss := e.Value - truth; !(math.Abs(miss) <= 2*e.Uncertainty) || !(e.Uncertainty <= most) {
		t.Errorf("%s %v ± %v: want %v within twice the uncertainty, and an uncertainty up to %v",
			name, e.Value, e.Uncertainty, truth, most)
	}
}

// readArrivals reads a table of transmitter, receiver, time in ns and amplitude.
func readArrivals(t *testing.T, name string) (arrivals []Arrival) {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(data)) {
		var a Arrival
		if _, err := fmt.Sscanf(line, "%d,%d,%g,%g", &a.Transmit, &a.Receive, &a.Time, &a.Amplitude); err != nil {
			t.Fatalf("%s: line %q: %v", name, line, err)
		}
		a.Time *= 1e-9
		arrivals = append(arrivals, a)
	}
	return arrivals
}

// TestFaceRefused checks captures without the echo of a flat face: a pipe, a wavy surface, and two
// records that begin after the echo of the floor.
func TestFaceRefused(t *testing.T) {
	for _, test := range []struct {
		name string
		want error
	}{{"pipe32", ErrNotFlat}, {"wavy32", ErrNotFlat}, {"tips_weld1", nil}, {"tips_weld2", nil}} {
		if testing.Short() && (test.name == "pipe32" || test.name == "tips_weld2") {
			continue
		}
		r, arrivals := captured(t, test.name)
		for _, options := range []*Options{nil, {MaxIncidence: 18 * degree}, {Speed: Estimate{Value: r.Coupling.Longitudinal}}} {
			c, err := Face(elementsOf(32, 0.6e-3), arrivals, options)
			if err == nil {
				t.Errorf("%s: angle %.3f° ± %.3f°: want an error", test.name, c.Angle.Value/degree, c.Angle.Uncertainty/degree)
			} else if test.want != nil && !errors.Is(err, test.want) || !errors.Is(err, ErrNotFlat) && !errors.Is(err, ErrUndetermined) {
				t.Errorf("%s: error %v: want %v", test.name, err, test.want)
			}
		}
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
