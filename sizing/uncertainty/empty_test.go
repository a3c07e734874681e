// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"
)

// TestEmpty checks that missing arguments and zero values are errors or NaN.
func TestEmpty(t *testing.T) {
	quantities := []Quantity{{Name: "q", Uncertainty: 1}}
	reading := &Reading{Place: &Place{}, SNRDB: 20}
	var missing *Inputs
	for _, c := range []struct {
		name string
		call func() error
		want string
	}{
		{"propagate without a function", func() error { _, err := Propagate("y", "m", nil, quantities, nil); return err }, "function of y"},
		{"simulate without a function", func() error { _, err := MonteCarlo(nil, quantities, nil, nil); return err }, "function"},
		{"result without a function", func() error { _, err := new(Inputs).Of("y", "m", nil, reading); return err }, "function of y"},
		{"no inputs", func() error { _, err := missing.X(reading); return err }, "inputs of x"},
		{"empty place", func() error { _, err := new(Inputs).X(reading); return err }, "place of Model.At"},
		{"empty model, at", func() error { _, err := new(Model).At(r3.Vec{}); return err }, "NewModel"},
		{"empty model, reflector", func() error { _, err := new(Model).Reflector(r3.Vec{}); return err }, "NewModel"},
	} {
		if err := c.call(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
	if low, high := new(Distribution).Interval(0.95); !math.IsNaN(low) || !math.IsNaN(high) {
		t.Errorf("interval of an empty distribution %v to %v, want NaN", low, high)
	}
	if shift := new(Place).Shift(TimeZero); !math.IsNaN(shift.X) {
		t.Errorf("shift of an empty place %v, want NaN", shift)
	}
}
