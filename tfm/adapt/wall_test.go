// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"errors"
	"math"
	"path/filepath"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// plate returns a capture with echoes at the given times and amplitudes in every pulse-echo trace.
func plate(noise float64, times, amplitudes []float64) *fmc.Capture {
	array := check.Must(fmc.LinearArray(8, 1e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(8), Samples: 1000, SampleRate: 50e6}))
	random := newRandom(11)
	for p, pair := range c.Pairs {
		trace := c.Data[p*1000 : (p+1)*1000]
		for i, time := range times {
			if pair.Tx == pair.Rx {
				addPulse(c, trace, time, amplitudes[i])
			}
		}
		for k := range trace {
			trace[k] += float32(noise * random.NormFloat64())
		}
	}
	return c
}

// TestWall measures invented plates of 25 mm, with echoes at n·2d/c.
func TestWall(t *testing.T) {
	const l, s = 2 * 25e-3 / 5900, 2 * 25e-3 / 3230 // intervals of both modes, s
	for _, test := range []struct {
		name              string
		times, amplitudes []float64
		least, most, want float64
		options           *WallOptions
	}{
		{"wall and its repetition, with an unknown time zero", []float64{l + 3e-7, 2*l + 3e-7}, []float64{1, -0.4}, 7e-6, 10e-6, l, nil},
		{"front and wall", []float64{4e-6, 4e-6 + l}, []float64{1, 0.2}, 7e-6, 10e-6, l, nil},
		{"shear wave among longitudinal ones", []float64{3e-6, 3e-6 + l, 3e-6 + s}, []float64{1, 0.5, 0.2}, 13e-6, 17e-6, s, nil},
		{"one echo", []float64{l}, []float64{1}, 7e-6, 10e-6, l, &WallOptions{FromPulse: true}},
	} {
		w, err := FindWall(plate(0.01, test.times, test.amplitudes), test.least, test.most, test.options)
		if err != nil {
			t.Errorf("%s: %v", test.name, err)
			continue
		}
		check.Within(t, test.name+": interval, s", w.Interval.Value, test.want, 2e-9)
		check.Within(t, test.name+": elements", float64(w.Used), 8, 0)
	}
	if w, err := FindWall(plate(1, nil, nil), 7e-6, 7.3e-6, nil); !errors.Is(err, ErrUndetermined) {
		t.Errorf("noise: %+v, %v, want ErrUndetermined", w, err)
	}
	c := plate(0, nil, nil)
	check.Error(t, second(FindWall(nil, 1, 2, nil)), "no capture")
	check.Error(t, second(FindWall(c, 2, 1, nil)), "interval from 2")
	check.Error(t, second(FindWall(c, 1, 2, &WallOptions{Common: -1})), "-1")
}

// TestWallClosedForms checks thickness, speed and their uncertainties: relative ones add as
// squares.
func TestWallClosedForms(t *testing.T) {
	w := &Wall{Interval: calibrate.Estimate{Value: 10e-6, Uncertainty: 0.04e-6}}
	d := w.Thickness(calibrate.Estimate{Value: 6000, Uncertainty: 18})
	check.Within(t, "thickness, m", d.Value, 30e-3, 1e-15)
	check.Within(t, "its uncertainty, m", d.Uncertainty, 0.005*30e-3, 1e-15)
	c := w.Speed(calibrate.Estimate{Value: 30e-3, Uncertainty: 0.09e-3})
	check.Within(t, "speed, m/s", c.Value, 6000, 1e-9)
	check.Within(t, "its uncertainty, m/s", c.Uncertainty, 30, 1e-9)
}

// TestWallOfCaptures measures the full-wave captures: a pipe in water, and two plates in contact,
// whose records hold one wall echo. The set-up files state the thickness and the speed.
func TestWallOfCaptures(t *testing.T) {
	for _, test := range []struct {
		name    string
		options *WallOptions
	}{
		{"pipe32", nil},
		{"block16", &WallOptions{FromPulse: true}},
		{"notch32", &WallOptions{FromPulse: true}},
	} {
		record := check.Must(npy.ReadFile(filepath.Join("..", "..", "testdata", test.name+".json"), nil))
		interval := 2 * record.Thickness / record.Part.Longitudinal
		w, err := FindWall(record.Capture, 0.85*interval, 1.15*interval, test.options)
		if err != nil {
			t.Errorf("%s: %v", test.name, err)
			continue
		}
		d := w.Thickness(calibrate.Estimate{Value: record.Part.Longitudinal})
		t.Logf("%s: %d elements, thickness %.3f ± %.3f mm", test.name, w.Used, d.Value*1e3, d.Uncertainty*1e3)
		check.Within(t, test.name+": thickness, m", d.Value, record.Thickness, 2*d.Uncertainty)
		c := w.Speed(calibrate.Estimate{Value: record.Thickness})
		check.Within(t, test.name+": speed, m/s", c.Value, record.Part.Longitudinal, 2*c.Uncertainty)
		if math.IsNaN(c.Uncertainty) || d.Uncertainty > 0.1e-3 {
			t.Errorf("%s: thickness uncertain by %v m", test.name, d.Uncertainty)
		}
	}
}
