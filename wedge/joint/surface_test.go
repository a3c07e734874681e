// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/internal/check"
)

// The free surfaces of joints: their names, their ends, and within 0.5 mm the point that is
// farthest from the line between both ends. All of them follow from the sizes of the joints.
func TestSurfaces(t *testing.T) {
	open := lackV
	open.Unwelded = 3e-3
	closed := open
	closed.Gap = 0
	type row struct {
		name           string
		from, to, peak r2.Vec
	}
	for _, test := range []struct {
		name  string
		joint preparation
		want  []row
	}{
		{"single V", singleV, []row{
			{"cap", r2.Vec{X: -14e-3}, r2.Vec{X: 14e-3}, r2.Vec{Y: -2e-3}},
			{"root", r2.Vec{X: -3e-3, Y: 20e-3}, r2.Vec{X: 3e-3, Y: 20e-3}, r2.Vec{Y: 21e-3}},
		}},
		{"double V", doubleV, []row{
			{"cap", r2.Vec{X: -11e-3}, r2.Vec{X: 11e-3}, r2.Vec{Y: -2e-3}},
			{"lower cap", r2.Vec{X: -11e-3, Y: 30e-3}, r2.Vec{X: 11e-3, Y: 30e-3}, r2.Vec{Y: 32e-3}},
		}},
		{"flush", singleVee(Butt{Thickness: 20e-3, Gap: 3e-3}, 30*deg, 2e-3), nil},
		{"root with a gap not welded", open, []row{
			{"root", r2.Vec{X: -0.5e-3, Y: 20e-3}, r2.Vec{X: 0.5e-3, Y: 20e-3}, r2.Vec{X: -0.5e-3, Y: 17e-3}},
		}},
		{"root without a gap not welded", closed, []row{
			{"root", r2.Vec{Y: 17e-3}, r2.Vec{Y: 20e-3}, r2.Vec{Y: 17e-3}},
		}},
		{"fillets", filletT, []row{
			{"left weld face", r2.Vec{X: -6e-3, Y: 24e-3}, r2.Vec{X: -14e-3, Y: 16e-3}, r2.Vec{X: -6e-3, Y: 24e-3}},
			{"right weld face", r2.Vec{X: 6e-3, Y: 24e-3}, r2.Vec{X: 14e-3, Y: 16e-3}, r2.Vec{X: 6e-3, Y: 24e-3}},
		}},
		{"lap", lapped, []row{
			{"left weld face", r2.Vec{X: -20e-3, Y: 18e-3}, r2.Vec{X: -28e-3, Y: 10e-3}, r2.Vec{X: -20e-3, Y: 18e-3}},
			{"right weld face", r2.Vec{X: 20e-3, Y: 2.5e-3}, r2.Vec{X: 28e-3, Y: 10.5e-3},
				r2.Vec{X: 24e-3 + 0.5e-3*math.Sqrt2/2, Y: 6.5e-3 - 0.5e-3*math.Sqrt2/2}},
		}},
	} {
		const away = 7e-3
		j := check.Must(test.joint.Joint()).Shifted(r2.Vec{X: away})
		got := check.Must(j.Outlines(1e-6)).Surfaces
		if len(got) != len(test.want) {
			t.Errorf("%s: %d surfaces %v, want %d", test.name, len(got), got, len(test.want))
			continue
		}
		for i, want := range test.want {
			line := got[i].Line
			far, from, to := line[0], line[0], line[len(line)-1]
			height := func(p r2.Vec) float64 { return math.Abs(r2.Cross(r2.Sub(p, from), r2.Sub(to, from))) }
			for _, p := range line {
				if height(p) > height(far)+1e-12 {
					far = p
				}
			}
			near := func(p, want r2.Vec, within float64) bool {
				return r2.Norm(r2.Sub(p, r2.Add(want, r2.Vec{X: away}))) <= within
			}
			ends := near(from, want.from, 1e-9) && near(to, want.to, 1e-9)
			if got[i].Name != want.name || !ends || !near(far, want.peak, 0.5e-3) {
				t.Errorf("%s: %s from %v over %v to %v, want %s from %v over %v to %v (moved by %v m)", test.name,
					got[i].Name, from, far, to, want.name, want.from, want.peak, want.to, away)
			}
		}
	}
}
