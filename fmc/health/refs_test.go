// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"math"
	"sync"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/fmc/npy"
)

var references = []string{"block16", "notch32", "pipe32", "sdh32", "wavy32", "weld32"}

func reference(t testing.TB, name string) *fmc.Capture {
	t.Helper()
	r, err := npy.ReadFile("../../testdata/"+name+".json", nil)
	if err != nil {
		t.Fatal(err)
	}
	return r.Capture
}

// echoPeaks are the median echoes of the full-wave captures, by name.
var echoPeaks sync.Map

// echoPeak returns the median echo of a full-wave capture.
func echoPeak(t testing.TB, name string) float64 {
	peak, ok := echoPeaks.Load(name)
	if !ok {
		peak = float64(assess(t, reference(t, name), nil).EchoPeak)
		echoPeaks.Store(name, peak)
	}
	return peak.(float64)
}

// TestReferences wants no findings for the full-wave captures: wedge, pipe, waves along the
// surface, shadows and clipped initial pulses are not faults of elements.
func TestReferences(t *testing.T) {
	for _, name := range references {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c := reference(t, name)
			r, err := health.Assess(c, nil)
			if err != nil {
				t.Fatal(err)
			}
			if len(r.Findings) > 0 {
				t.Errorf("a clean capture has findings:\n%v", r)
			}
			// Their pulse is known: the array's nominal frequency and bandwidth. Oblique
			// elements see less of the high frequencies.
			if f := float64(r.CentreFrequency) / c.Array.CentreFrequency; !(math.Abs(f-1) <= 0.1) {
				t.Errorf("centre frequency is %.3f of the nominal one: want 0.9 to 1.1", f)
			}
			if b := float64(r.Bandwidth) / c.Array.Bandwidth; !(math.Abs(b-1) <= 0.1) {
				t.Errorf("bandwidth is %.3f of the nominal one: want 0.9 to 1.1", b)
			}
		})
	}
}

// TestReferencesWithFaults plants faults in the full-wave captures, away from the
// simple geometry of the invented plate.
func TestReferencesWithFaults(t *testing.T) {
	// The first echo of the wall or the surface, and in contact with the wedge or the
	// block also the waves along the array.
	gates := map[string]health.Gate{
		"block16": {},
		"notch32": {From: 8e-6, To: 10.5e-6},
		"pipe32":  {From: 13e-6, To: 19e-6},
		"wavy32":  {From: 13e-6, To: 20e-6},
		"sdh32":   {},
		"weld32":  {},
	}
	names := references
	if !long {
		names = []string{"block16", "pipe32"}
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c := reference(t, name)
			options := &health.Options{Echo: gates[name]}
			if name == "pipe32" {
				// The baseline of a curved pipe is not a line: at the ends of the array it
				// deviates by 0.37 of a period.
				options.Limits.Drift = 0.5
			}
			peak := float64(0)
			if r, err := health.Assess(c, options); err == nil {
				peak = float64(r.EchoPeak)
			}
			rng := source(5)
			const weak, dead, reversed = 5, 8, 11
			for p, pair := range c.Pairs {
				gain := 1.0
				for _, e := range []int{pair.Tx, pair.Rx} {
					switch e {
					case dead:
						gain = 0
					case weak:
						gain *= 0.5
					case reversed:
						gain = -gain
					}
				}
				for k, v := range c.Trace(p) {
					c.Trace(p)[k] = float32(gain*float64(v) + 0.1*peak*rng.NormFloat64())
				}
			}
			r, err := health.Assess(c, options)
			if err != nil {
				t.Fatal(err)
			}
			want := []string{
				describe(health.Dead, both, dead),
				describe(health.Reversed, both, reversed),
				describe(health.Weak, both, weak),
			}
			compare(t, want, r)
		})
	}
}
