// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"context"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

const (
	degree = math.Pi / 180
	mm     = 1e-3
)

var ctx = context.Background()

// captured returns a full-wave capture of testdata with its set-up.
func captured(t testing.TB, name string) (*npy.Record, *wedge.Setup) {
	t.Helper()
	record := check.Must(npy.ReadFile("../../testdata/"+name+".json", nil))
	return record, check.Must(record.Geometry())
}

// traces returns the A-scans of beams.
func traces(t testing.TB, c *fmc.Capture, setup *wedge.Setup, beams ...Beam) []*Trace {
	t.Helper()
	plan, err := NewPlan(ctx, c, setup, beams, nil)
	if err != nil {
		t.Fatal(err)
	}
	return check.Must(plan.Traces(ctx, c))
}

// elements returns the numbers of a count of elements from first.
func elements(first, count int) []int {
	list := make([]int, count)
	for i := range list {
		list[i] = first + i
	}
	return list
}

// The materials of the invented set-ups.
var (
	steel   = material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plastic = material.Isotropic{Density: 1055, Longitudinal: 2340, Transverse: 1150}
	water   = material.Isotropic{Density: 998, Longitudinal: 1482}
)

// contactArray returns an array in contact, with any number of elements 0.6 mm apart.
func contactArray(n int) fmc.Array {
	return check.Must(fmc.LinearArray(n, 0.6*mm, fmc.Array{Width: 0.5 * mm, CentreFrequency: 5e6, Bandwidth: 0.6}))
}

// empty returns a capture of zeros.
func empty(array fmc.Array, pairs []fmc.Pair) *fmc.Capture {
	return check.Must(fmc.New(fmc.Capture{Array: array, Pairs: pairs, Samples: 1000, SampleRate: 50e6}))
}

// near fails the test unless two places agree within a tolerance in m.
func near(t testing.TB, what string, got, want r3.Vec, tolerance float64) {
	t.Helper()
	if !(r3.Norm(r3.Sub(got, want)) <= tolerance) {
		t.Errorf("%s is at %v, want %v ± %v", what, got, want, tolerance)
	}
}
