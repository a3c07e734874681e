// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestElevation checks closed forms of the beam: the sinc² of the far field, and half the echo at the end
// of a long flaw. It checks the apparent length at -6 dB of a row of pores, whose echoes add up without
// phase: the convolution of the row with sinc². The lengths are quadratures of sinc², made without this
// package.
func TestElevation(t *testing.T) {
	const far = 0.3 // b: the far field
	e, err := newElevation(t.Context(), far, 5, parallel.Options{})
	must(t, err)
	at := func(table []complex128, b, steep float64) complex128 {
		var out [1]complex128
		e.weights(out[:], table, b, steep, []float64{1}, []float64{1})
		return out[0]
	}
	for _, b := range []float64{far, 1, 2.3, 5} {
		if v := at(e.edge, b, 0); !(cmplx.Abs(v+0.5) <= 1e-6) {
			t.Errorf("weight %v at the end of a flaw, b = %v: want -0.5", v, b)
		}
	}
	profile := func(v float64) float64 { return cmplx.Abs(at(e.point, far, math.Abs(v))) }
	for v := 0.0; v < 3; v += 0.17 {
		want := 1.0
		if v > 0 {
			want = math.Pow(math.Sin(math.Pi*v)/(math.Pi*v), 2)
		}
		if got := profile(v); !(math.Abs(got-want) <= 1e-3) {
			t.Errorf("far field %v at V = %v: want %v", got, v, want)
		}
	}
	const width = 2 * 0.442946 // sinc² is ½ at V = 0.442946
	for _, row := range []struct{ length, apparent float64 }{{0.5, 1.0446588}, {1, 1.2058777}, {2, 2.0527753}, {5, 5.0289216}} {
		echo := func(at float64) (sum float64) {
			const n = 400
			for k := range n {
				sum += profile(at+row.length*width*((float64(k)+0.5)/n-0.5)) * row.length * width / n
			}
			return sum
		}
		low, high := 0.0, 6*width
		for half := echo(0) / 2; high-low > 1e-6; {
			if middle := (low + high) / 2; echo(middle) > half {
				low = middle
			} else {
				high = middle
			}
		}
		if got := 2 * low / width; !(math.Abs(got-row.apparent) <= 4e-3) {
			t.Errorf("row of %v beam widths: apparent length %v: want %v", row.length, got, row.apparent)
		}
	}
}

// TestElevationIntegral compares the tables with sums of waves over the length of the element: no
// recurrence, no table, no asymptotic form.
func TestElevationIntegral(t *testing.T) {
	e, err := newElevation(t.Context(), 0.7, 4, parallel.Options{})
	must(t, err)
	const n = 400
	field := func(a, u float64) (sum complex128) {
		for j := range n {
			h := u + 0.5 - (float64(j)+0.5)/n
			sum += cmplx.Rect(1.0/n, a*h*h)
		}
		return sum
	}
	for _, row := range []struct{ b, steep float64 }{{0.7, 0.4}, {1.3, 2.2}, {2, 1.3}, {4, 0.3}, {3.95, 2.6}} {
		a := row.b * row.b
		u := math.Pi * row.steep / a
		var alone complex128 // of all pairs of parts of two elements
		for i := range n {
			v := (float64(i) + 0.5) / n
			alone += cmplx.Rect(2*(1-v)/n, a*v*v/2)
		}
		demodulated := cmplx.Rect(1, -2*a*u*u)
		there := field(a, u)
		var got [1]complex128
		e.weights(got[:], e.point, row.b, row.steep, []float64{1}, []float64{1})
		if want := there * there / alone * demodulated; !(cmplx.Abs(got[0]-want) <= 3e-4) {
			t.Errorf("point at b = %v, V = %v: %.5f: want %.5f", row.b, row.steep, got[0], want)
		}
		var inside complex128 // integral of the field of both elements from 0 to u
		for i := range n {
			f := field(a, u*(float64(i)+0.5)/n)
			inside += f * f * complex(u/n, 0)
		}
		whole := cmplx.Sqrt(complex(0, math.Pi/(2*a))) * alone
		e.weights(got[:], e.edge, row.b, row.steep, []float64{1}, []float64{1})
		if want := (inside/whole - 0.5) * demodulated; !(cmplx.Abs(got[0]-want) <= 3e-4) {
			t.Errorf("end at b = %v, V = %v: %.5f: want %.5f", row.b, row.steep, got[0], want)
		}
	}
}

// TestScanLength checks the length at -6 dB of lack of fusion of 20 mm: the distance of the positions with
// half the echo is the true length.
func TestScanLength(t *testing.T) {
	part := scanPart(t, 2, 10e-3, straight(-10e-3, 10e-3))
	part.Scene.Walls = nil
	at := append(Steps(-12e-3, 0.5e-3, 9), 0)
	all := frames(t, part, at...)
	half := peak(all[9]) / 2
	for i := 1; i < 9; i++ {
		before, after := peak(all[i-1]), peak(all[i])
		if before < half && after >= half {
			end := at[i-1] + 0.5e-3*(half-before)/(after-before)
			if !(math.Abs(end+10e-3) <= 0.2e-3) {
				t.Errorf("-6 dB at %v m: want -0.01 m", end)
			}
			return
		}
	}
	t.Error("no position has half the echo")
}

// TestScanPipe compares the distance along a scan round a pipe with the chord in coordinates.
func TestScanPipe(t *testing.T) {
	const radius, depth = 80e-3, 14e-3
	s := &Scan{part: Part{Radius: radius}}
	g := &group{stretch: math.Sqrt(1 - depth/radius)}
	for _, arc := range []float64{0, 3e-3, -20e-3, 60e-3} {
		sin, cos := math.Sincos(arc / radius)
		chord := math.Hypot((radius-depth)*sin, radius-(radius-depth)*cos)
		if got := math.Hypot(depth, s.distance(g, arc)); !(math.Abs(got-chord) <= 1e-12) {
			t.Errorf("distance %v m at the arc %v m: want %v m", got, arc, chord)
		}
	}
}

// TestScanBack checks that a frame over a sloping wall has the wall of its own section.
func TestScanBack(t *testing.T) {
	part := scanPart(t, 2, 8e-3)
	part.Back = func(s float64) (wedge.Surface, error) { return wedge.HorizontalPlane(30e-3 - s/100) }
	got := frames(t, part, 0, 100e-3)[1]
	thin := scanPart(t, 2, 8e-3)
	var err error
	thin.Scene.Setup.Back, err = wedge.HorizontalPlane(29e-3)
	must(t, err)
	if d := differ(got, frames(t, thin, 0)[0]); d != 0 {
		t.Errorf("difference %v: want 0", d)
	}
}

// TestScanErrors checks that errors name the field.
func TestScanErrors(t *testing.T) {
	good := Pass{Positions: []float64{0}}
	for _, row := range []struct {
		name, want string
		part       func(*Part)
		pass       Pass
	}{
		{"no positions", "0 positions", nil, Pass{}},
		{"position", "position 0", nil, Pass{Positions: []float64{math.NaN()}}},
		{"noise", "noise 2", nil, Pass{Positions: []float64{0}, Noise: 2}},
		{"bits", "1 bits", nil, Pass{Positions: []float64{0}, Bits: 1}},
		{"patch", "patch 0", nil, Pass{Positions: []float64{0}, Patches: []Patch{{From: 1, To: 1}}}},
		{"length", "length of the elements", func(p *Part) { p.Scene.Length = 0 }, good},
		{"section", "section", func(p *Part) { p.Scene.Dimension = wedge.Section }, good},
		{"radius", "radius", func(p *Part) { p.Radius = -1 }, good},
		{"point", "moves with the array", func(p *Part) { p.Scene.Reflectors = []Reflector{Point{}} }, good},
		{"nil flaw", "flaw 0", func(p *Part) { p.Flaws = []Flaw{nil} }, good},
		{"one station", "1 stations", func(p *Part) { p.Flaws = []Flaw{Planar{Stations: make([]Station, 1)}} }, good},
		{"order of stations", "station 1", func(p *Part) { p.Flaws = []Flaw{Planar{Stations: make([]Station, 2)}} }, good},
		{"hole", "drilled hole", func(p *Part) { p.Flaws = []Flaw{Drilled{}} }, good},
		{"pores", "0 pores", func(p *Part) { p.Flaws = []Flaw{Pores{}} }, good},
		{"base", "base of the pit", func(p *Part) { p.Flaws = []Flaw{Pit{Diameter: 1e-3, Depth: 1e-3, Base: 1e-3}} }, good},
		{"pit", "depth of the pit", func(p *Part) { p.Flaws = []Flaw{Pit{Diameter: 1e-3, Depth: 1}} }, good},
	} {
		part := scanPart(t, 2, 8e-3)
		if row.part != nil {
			row.part(part)
		}
		_, err := NewScan(t.Context(), part, row.pass, Recording{Samples: 10, SampleRate: 40e6, Pairs: fmc.HalfPairs(2)})
		if err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%s: error %v: want one that names %q", row.name, err, row.want)
		}
	}
}
