// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

func TestStripInverts(t *testing.T) {
	for name, b := range beams() {
		for _, drop := range []float64{3, sizing.SixDB, 12, 20} {
			for _, length := range []float64{0.2, 0.6, 1, 1.5, 2.5, 7, 40} {
				s, err := b.Strip(b.Measured(length, drop), drop, 0)
				if err != nil {
					t.Fatal(err)
				}
				check.Within(t, fmt.Sprintf("%s, strip of %v at %v dB", name, length, drop), s.Length, length, 1e-6)
				if !s.Resolved {
					t.Errorf("%s, strip of %v at %v dB without error is not resolved", name, length, drop)
				}
			}
		}
	}
}

// Measured lengths grow with the length, so that the inverse is unique.
func TestMeasuredGrows(t *testing.T) {
	for name, b := range beams() {
		for _, drop := range []float64{1, 3, sizing.SixDB, 12, 20} {
			last := b.Measured(0, drop)
			for length := 0.05; length < 6; length += 0.05 {
				m := b.Measured(length, drop)
				if !(m > last) {
					t.Errorf("%s at %v dB: strip of %.2f measures %v, a shorter one %v", name, drop, length, m, last)
				}
				last = m
			}
		}
	}
}

// TestStripCovers draws measured lengths around the truth: the interval must hold the true length
// in 95 % of the trials, also where the flaw is not resolved. A point must be resolved in 2.5 %.
func TestStripCovers(t *testing.T) {
	const trials, sd = 300, 0.04
	b := beams()["gauss"]
	rng := rand.New(rand.NewPCG(5, 20))
	for _, length := range []float64{0, 0.2, 0.5, 1, 3} {
		held, resolved := 0, 0
		truth := b.Measured(length, sizing.SixDB)
		for range trials {
			s, err := b.Strip(truth+sd*max(-2.9, rng.NormFloat64()), sizing.SixDB, sd)
			if err != nil {
				t.Fatal(err)
			}
			if s.Low <= length && length <= s.High {
				held++
			}
			if s.Resolved {
				resolved++
			} else if !math.IsNaN(s.Length) {
				t.Fatalf("not resolved, but length %v", s.Length)
			}
		}
		t.Logf("length %v: held %d, resolved %d of %d", length, held, resolved, trials)
		// 4 standard deviations of a count
		check.Within(t, fmt.Sprintf("share of intervals that hold %v", length), float64(held)/trials, 0.95, 0.05)
		if length == 0 && !(float64(resolved)/trials <= 0.025+0.036) {
			t.Errorf("%d of %d points are resolved, want 2.5 %%", resolved, trials)
		}
		if length == 3 && resolved != trials {
			t.Errorf("%d of %d strips of 3 widths are resolved, want all", resolved, trials)
		}
	}
}

func TestStripInput(t *testing.T) {
	b := beams()["gauss"]
	for _, test := range []struct {
		name               string
		measured, drop, sd float64
		words              []string
	}{
		{"no length", 0, 6, 0, []string{"measured length 0 m"}},
		{"NaN", math.NaN(), 6, 0, []string{"measured length NaN m"}},
		{"too long", 901, 6, 0, []string{"measured length 901 m", "900"}},
		{"drop", 2, 0, 0, []string{"drop 0 dB"}},
		{"negative sd", 2, 6, -1, []string{"standard deviation -1 m"}},
		{"endless sd", 2, 6, math.Inf(1), []string{"standard deviation +Inf m"}},
		{"narrower than a point", 0.9, sizing.SixDB, 0.03, []string{"0.9 m", "the length of a point"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := b.Strip(test.measured, test.drop, test.sd)
			check.Error(t, err, test.words...)
		})
	}
	if _, err := b.Strip(0.9, sizing.SixDB, 0.04); err != nil {
		t.Errorf("2.5 standard deviations below a point: %v", err)
	}
}

// TestStripOfIndication corrects the length of a strip in a picture whose point spread is Gaussian.
func TestStripOfIndication(t *testing.T) {
	const width = 1e-3
	spread := func(at r3.Vec, _ float64) (*tfm.Envelope, error) { return stripPicture(at, width, 0), nil }
	for _, drop := range []float64{sizing.SixDB, 10} {
		for _, length := range []float64{1.5e-3, 2e-3, 4e-3} {
			found, err := sizing.Find(stripPicture(r3.Vec{X: 1e-3, Z: 20e-3}, width, length),
				&sizing.Options{Spread: spread, Drop: drop, Floor: -20})
			if err != nil || len(found) != 1 {
				t.Fatalf("%d indications, error %v", len(found), err)
			}
			s, err := found[0].Strip(drop, 0.02e-3)
			if err != nil {
				t.Fatal(err)
			}
			what := fmt.Sprintf("strip of %v m at %v dB", length, drop)
			check.Within(t, what, s.Length, length, 0.06e-3)
			// The uncertainty of the point spread is 10 % of its extent, which grows with the drop.
			half := 1.96 * math.Hypot(0.02e-3, 0.1*width*math.Sqrt(drop/sizing.SixDB))
			if length >= 4*width {
				check.Within(t, what+", half of the interval", (s.High-s.Low)/2, half, 0.02*half)
			}
			if !(s.Low < length && length < s.High && s.Resolved) {
				t.Errorf("%s: %+v, want an interval around it", what, s)
			}
		}
	}
	whole := check.Must(sizing.Find(stripPicture(r3.Vec{Z: 20e-3}, width, 2e-3), &sizing.Options{Spread: spread, Floor: -20}))[0]
	for name, change := range map[string]func(*sizing.Indication){
		"without a Resolution": func(in *sizing.Indication) { in.Resolution = nil },
		"several peaks":        func(in *sizing.Indication) { in.Merged = true },
		"image cuts":           func(in *sizing.Indication) { in.Edge = true },
		"want a complete one":  func(in *sizing.Indication) { in.States = tfm.Clipped },
		"width of the beam":    func(in *sizing.Indication) { r := *in.Resolution; r.Ratio = math.Inf(1); in.Resolution = &r },
	} {
		in := whole
		change(&in)
		_, err := in.Strip(sizing.SixDB, 0)
		check.Error(t, err, name)
	}
}

// The captures are full-wave computations. A hole has no length. The lack of fusion, 4.6 mm long,
// mirrors only a part of the beam into the array, so its length is a lower bound.
func TestStripOfCaptures(t *testing.T) {
	for _, test := range []struct {
		name, view     string
		x0, x1, z0, z1 float64 // mm
		resolved       bool
	}{
		{"sdh32", "T-T", 10, 17, 4, 11, false},
		{"sdh32", "T-T", 17, 23, 11, 17, false}, // in the shadow of the first hole
		{"block16", "L-L", -12, 6, 5, 26, false},
		{"weld32", "T-T", 12, 28, 4, 14, true},
	} {
		envelope, spread, err := imaged(test.name, test.view, test.x0*1e-3, test.x1*1e-3, test.z0*1e-3, test.z1*1e-3)
		if err != nil {
			t.Fatal(err)
		}
		found, err := sizing.Find(envelope, &sizing.Options{Floor: -6, Spread: spread.Picture})
		if err != nil || len(found) == 0 {
			t.Fatalf("%d indications, error %v", len(found), err)
		}
		for _, in := range found {
			s, err := in.Strip(sizing.SixDB, 0.05e-3)
			what := fmt.Sprintf("%s (%.1f, %.1f) mm: %+v", test.name, in.X*1e3, in.Z*1e3, s)
			switch {
			case err != nil:
				t.Errorf("%s: %v", what, err)
			case s.Resolved != test.resolved:
				t.Errorf("%s, want resolved %v", what, test.resolved)
			case test.resolved && !(s.Length > 2.5e-3 && s.Length < 4.6e-3):
				t.Errorf("%s, want a length of 2.5 to 4.6 mm", what)
			case !test.resolved && !(s.High < 2e-3):
				t.Errorf("%s, want at most 2 mm", what)
			}
		}
	}
}

// A corner echo on the back wall itself has no predicted point spread, because the last leg of its
// rays has no length. It must not hide the other indications.
func TestSpreadOnBackWall(t *testing.T) {
	envelope, spread, err := imaged("weld32", "TT-T", 12e-3, 20e-3, 10e-3, 16e-3)
	if err != nil {
		t.Fatal(err)
	}
	found, err := sizing.Find(envelope, &sizing.Options{Spread: spread.Picture})
	if err != nil || len(found) == 0 {
		t.Fatalf("%d indications, error %v", len(found), err)
	}
}

// stripPicture returns the picture of a strip along x with a Gaussian point spread.
func stripPicture(at r3.Vec, width, length float64) *tfm.Envelope {
	const pixel, half = 0.1e-3, 45
	g := tfm.Grid{
		Origin: r3.Vec{X: at.X - half*pixel, Z: at.Z - half*pixel},
		Step:   r3.Vec{X: pixel, Y: 1, Z: pixel}, Cols: 2*half + 1, Rows: 2*half + 1, Slices: 1,
	}
	env := &tfm.Envelope{Grid: g, Data: make([]float32, g.Len())}
	const points = 40
	for i := range env.Data {
		d := r3.Sub(g.Point(i), at)
		sum := 0.0
		for k := range points {
			x := d.X - ((float64(k)+0.5)/points-0.5)*length
			sum += math.Exp2(-4 * (x*x + d.Z*d.Z) / (width * width))
		}
		env.Data[i] = float32(sum / points)
	}
	return env
}
