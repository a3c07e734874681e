// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package volume

import (
	"context"
	"math"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/tips"
)

// TestProfile checks peaks and crossings at uneven positions. The parabola is exact for a Gaussian.
func TestProfile(t *testing.T) {
	var p profile
	for _, s := range []float64{0, 1, 1.7, 3.2, 4, 5.5} {
		p.s = append(p.s, s)
		p.amplitudes = append(p.amplitudes, 2*math.Exp(-(s-1.9)*(s-1.9)/4))
	}
	s, rise := p.peak(2)
	check.Within(t, "peak", s, 1.9, 1e-12)
	check.Within(t, "height of the peak", p.amplitudes[2]*math.Exp(rise), 2, 1e-12)
	if s, rise := p.peak(0); s != 0 || rise != 0 {
		t.Errorf("peak at the end %v, %v", s, rise)
	}
	steps := profile{s: []float64{0, 1, 3, 4}, amplitudes: []float64{0.2, 1, 0.6, 0.5}}
	for _, c := range []struct {
		name  string
		step  int
		level float64
		s     float64
		falls bool
	}{
		{"before, at the first value", -1, 0.5, 1 - 0.5/0.8, true},
		{"behind, not below", 1, 0.5, 4, false},
		{"behind", 1, 0.8, 2, true},
		{"a level above the top", 1, 1.5, 1, true},
	} {
		got, falls := steps.crossing(1, c.step, c.level)
		check.Within(t, c.name, got, c.s, 1e-12)
		if falls != c.falls {
			t.Errorf("%s: falls %v", c.name, falls)
		}
	}
}

// TestLastMaximum checks which place is the end of a flaw.
func TestLastMaximum(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name             string
		amplitudes       []float64
		dip, flat, least float64
		want             int
	}{
		{"a single peak", []float64{1, 0.7, 0.4, 0.2, 0.1}, 0, nan, 0.05, 0},
		{"a second peak", []float64{1, 0.5, 0.8, 0.4, 0.1}, 0, nan, 0.05, 2},
		{"a second peak below the least", []float64{1, 0.5, 0.3, 0.4, 0.1}, 0, nan, 0.45, 0},
		{"a dip of 1 dB", []float64{1, 0.75, 0.8, 0.4, 0.1}, 0, nan, 0.05, 0},
		{"a dip of noise", []float64{1, 0.5, 0.8, 0.4, 0.1}, 0.4, nan, 0.05, 0},
		{"a shoulder", []float64{1, 0.8, 0.4, 0.39, 0.385, 0.1}, 0, 1, 0.05, 3},
		{"a shoulder without a beam", []float64{1, 0.8, 0.4, 0.39, 0.385, 0.1}, 0, nan, 0.05, 0},
	} {
		p := profile{s: steps(1, len(c.amplitudes)), amplitudes: c.amplitudes}
		if got := p.lastMaximum(0, 1, c.least, c.dip, c.flat); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}

// TestEdges checks flaws at each side of the image.
func TestEdges(t *testing.T) {
	for _, c := range []struct {
		name string
		x, z float64 // mm
		edge bool
	}{{"left", -6, 10, true}, {"right", 6, 10, true}, {"above", 0, 4, true}, {"below", 0, 16, true}, {"inside", -4.5, 5.5, false}} {
		m := invented(1e-3, 50, strip{20e-3, 32e-3, 1, 4e-3, fixed(c.x*1e-3, c.z*1e-3), nil})
		in := check.Must(Find(context.Background(), m, &Options{Floor: -20, Beam: gaussian(4e-3)}))[0]
		if in.Edge != c.edge || in.Complete() == c.edge || (in.LengthIs == tips.LowerBound) != c.edge {
			t.Errorf("%s: edge %v, %v", c.name, in.Edge, in.LengthIs)
		}
	}
}

// TestWeakEnd checks how weak the end of an uneven face may be: 14 dB below the peak.
func TestWeakEnd(t *testing.T) {
	for _, c := range []struct {
		share float64
		to    float64 // mm
	}{{0.25, 60}, {0.15, 40}} {
		face := strip{20e-3, 60e-3, 1, 4e-3, fixed(0, 10e-3), func(s float64) float64 {
			if s < 40e-3 {
				return 1
			}
			return c.share
		}}
		in := check.Must(Find(context.Background(), invented(1e-3, 90, face), &Options{Floor: -30, Beam: gaussian(4e-3)}))[0]
		check.Within(t, "end of the tips in mm", in.Tips.To*1e3, c.to, 1)
		check.Within(t, "end of the drop in mm", in.Drop.To*1e3, 40.4, 0.4)
		if reaches := in.Most >= 40e-3; reaches != (c.to == 60) {
			t.Errorf("share %v: the length is at most %v m", c.share, in.Most)
		}
	}
}

// TestDeviation compares the interval of the middle with the closed form for a long strip and a Gaussian beam:
// a crossing of the slope 0.939/w, noise of one component, a level that follows the peak.
func TestDeviation(t *testing.T) {
	const w, pitch = 5e-3, 1e-3
	m := invented(pitch, 60, strip{15e-3, 45e-3, 1, w, fixed(0, 10e-3), nil})
	m.noise = 0.08
	in := check.Must(Find(context.Background(), m, &Options{Floor: -12, Beam: gaussian(w)}))[0]
	ratio := sizing.Ratio(in.SNRDB) * math.Sqrt2 / math.Sqrt(1.25)
	end := math.Hypot(w/(0.939*ratio), pitch/math.Sqrt(12))
	sd := math.Sqrt(2*end*end + 0.1*0.1*w*w)
	longest := max(in.Drop.Length(), in.Tips.Length())
	if want := 1.96 * sd / 2; !(in.CentreU > 0.99*want && in.CentreU < want+0.5e-3) {
		t.Errorf("uncertainty of the middle %v m, want %v m or little more", in.CentreU, want)
	}
	if want := longest + 1.96*sd; !(in.Most > want-1e-6 && in.Most < want+1e-3) {
		t.Errorf("most %v m, want %v m or little more", in.Most, want)
	}
}

// TestExtents checks the contours of a flaw that climbs: half of the spot beyond the line. The level
// of the contour is half of the peak in all sections, so the contour is narrower near the ends.
func TestExtents(t *testing.T) {
	climb := func(s float64) (x, z float64) { return (s - 30e-3) / 10, 10e-3 - (s-30e-3)/10 }
	m := invented(0.5e-3, 140, strip{10e-3, 50e-3, 1, 3e-3, climb, nil})
	in := check.Must(Find(context.Background(), m, &Options{Floor: -20}))[0]
	for i, want := range []float64{-2.75e-3, 2.75e-3} {
		check.Within(t, "extent along x", in.ExtentX[i], want, 0.35e-3)
		check.Within(t, "extent along z", in.ExtentZ[i], 10e-3+want, 0.35e-3)
	}
	f := in.Flaw()
	if f.LengthIs != tips.Unresolved || f.TiltU != math.Pi/2 || f.Kind != flaw.Unknown || f.ExtentX != in.ExtentX ||
		f.Along.From != in.Drop.From || f.Along.To != in.Drop.To || f.Along.Most != nil || f.Along.Curve != in.CurveLength {
		t.Errorf("entry %+v, along %+v", f, f.Along)
	}
}

// TestNearest checks which indication of a section belongs to an indication of the volume.
func TestNearest(t *testing.T) {
	in := &Indication{
		ExtentX: [2]float64{0, 10}, ExtentZ: [2]float64{0, 10},
		Centre: []r3.Vec{{X: 2, Y: 0, Z: 2}, {X: 5, Y: 1, Z: 5}, {X: 8, Y: 2, Z: 8}},
	}
	found := []sizing.Indication{{X: 1, Z: 1}, {X: 5, Z: 4}, {X: 9, Z: 9}, {X: 11, Z: 8}}
	for _, c := range []struct {
		s    float64
		want int
	}{{-1, 0}, {0.9, 1}, {2, 2}} {
		if got := in.nearest(found, c.s); got != c.want {
			t.Errorf("at %v: %d, want %d", c.s, got, c.want)
		}
	}
	if got := in.nearest(found[3:], 2); got != -1 {
		t.Errorf("%d outside of the extents, want -1", got)
	}
}

// TestBest checks the order of the best sections.
func TestBest(t *testing.T) {
	in := &Indication{
		First: 10, Profile: []float64{9, 1, 3, 2, 3, 9}, Positions: []float64{0, 1, 2, 3, 4, 5},
		Drop: Extent{From: 0.5, To: 4.5},
	}
	for n, want := range map[int][]int{-1: {}, 2: {12, 14}, 9: {12, 14, 13, 11}} {
		if diff := gocmp.Diff(want, append([]int{}, in.Best(n)...)); diff != "" {
			t.Errorf("best %d (-want +got):\n%s", n, diff)
		}
	}
}

// TestSmoothed checks the means of a line.
func TestSmoothed(t *testing.T) {
	points := []r3.Vec{{X: 0, Y: 0}, {X: 3, Y: 1}, {X: 0, Y: 2}, {X: 3, Y: 3}, {X: 5, Y: 4}}
	want := []r3.Vec{{X: 0, Y: 0}, {X: 1, Y: 1}, {X: 2, Y: 2}, {X: 8. / 3, Y: 3}, {X: 5, Y: 4}}
	if diff := gocmp.Diff(want, smoothed(points, 1)); diff != "" {
		t.Errorf("line (-want +got):\n%s", diff)
	}
}
