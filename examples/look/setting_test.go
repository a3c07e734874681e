// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
)

// A record with a setting has the values of the setting. With the recorded setting nothing
// changes. The files hold the recorded values: weld32 has a wedge of 36°, pipe32 has 10 mm of
// water.
func TestApply(t *testing.T) {
	const degree = math.Pi / 180
	for _, test := range []struct {
		capture       string
		angle, height float64
	}{
		{"weld32", 36 * degree, 11.4664e-3},
		{"pipe32", 0, 10e-3},
	} {
		record := check.Must(npy.ReadFile(folder+test.capture+".json", nil))
		now := recorded(record)
		if !(math.Abs(now.Angle-test.angle) <= 1e-6) || !(math.Abs(now.Height-test.height) <= 1e-6) {
			t.Errorf("%s: angle %.4f°, height %.4f mm; want %.4f°, %.4f mm",
				test.capture, now.Angle/degree, now.Height*1e3, test.angle/degree, test.height*1e3)
		}
		same, _, err := now.apply(record)
		if err != nil {
			t.Fatal(err)
		}
		for i, e := range record.Capture.Array.Elements {
			if d := r3.Norm(r3.Sub(e, same.Capture.Array.Elements[i])); !(d <= 1e-12) {
				t.Errorf("%s: element %d moves by %g m with the recorded setting", test.capture, i, d)
			}
		}
		want := now
		want.Longitudinal, want.Transverse, want.Coupling = 1.01*now.Longitudinal, 0.99*now.Transverse, 1.02*now.Coupling
		want.Angle, want.Height, want.Thickness = now.Angle+degree, now.Height+1e-3, now.Thickness-1e-3
		changed, setup, err := want.apply(record)
		if err != nil {
			t.Fatal(err)
		}
		got := recorded(changed)
		for _, c := range controls(record) {
			if g, w := *c.of(&got), *c.of(&want); !(math.Abs(g-w) <= 1e-9*max(1, w)) {
				t.Errorf("%s: %s is %v; want %v", test.capture, c.Key, g, w)
			}
		}
		if setup.Part.Transverse != want.Transverse || setup.Coupling.Longitudinal != want.Coupling {
			t.Errorf("%s: the geometry has the speeds %v and %v", test.capture, setup.Part.Transverse, setup.Coupling.Longitudinal)
		}
		if again := recorded(record); again != now {
			t.Errorf("%s: the record itself has changed to %v", test.capture, again)
		}
	}
}
