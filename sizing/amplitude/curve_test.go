// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package amplitude

import (
	"fmt"
	"math"
	"strconv"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm/ascan"
)

// Both interpolations are exact for their law, between the readings and beyond.
func TestCurveOfLaws(t *testing.T) {
	power := func(s float64) float64 { return 3 * math.Pow(s/0.05, -1.5) } // a side-drilled hole, far
	loss := func(s float64) float64 { return 700 * math.Exp(-40*s) }
	for _, test := range []struct {
		name    string
		law     func(float64) float64
		options *CurveOptions
	}{
		{"power law", power, &CurveOptions{Beyond: 0.2}},
		{"attenuation", loss, &CurveOptions{Linear: true, Beyond: 0.2}},
	} {
		var readings []Reading
		for _, s := range []float64{0.08, 0.02, 0.05} { // in any order
			readings = append(readings, Reading{s, test.law(s)})
		}
		c, err := NewCurve(readings, test.options)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range []float64{0.0161, 0.02, 0.031, 0.05, 0.066, 0.08, 0.0959} {
			what := fmt.Sprintf("%s at %v m", test.name, s)
			check.Within(t, what, check.Must(c.Amplitude(s)), test.law(s), 1e-12*test.law(s))
			check.Within(t, what+", half an echo", check.Must(c.LevelDB(s, test.law(s)/2)), -sizing.SixDB, 1e-11)
			check.Within(t, what+", gain", check.Must(c.GainDB(s)), sizing.LevelDB(test.law(0.02), test.law(s)), 1e-11)
		}
		from, to := c.Range()
		check.Within(t, "from", from, 0.016, 1e-15)
		check.Within(t, "to", to, 0.096, 1e-15)
	}
}

// The error of the curve between holes of 3 mm at each step of √2 and 2 in distance, from one
// near-field length on, by the exact law of the wall with the curvature of the holes.
func TestCurveBetweenHoles(t *testing.T) {
	n := probe10.NearField()
	law := func(s float64) float64 { return check.Must(Echo(probe10, SideHole{3e-3}, s)) }
	for _, test := range []struct {
		step   float64
		linear bool
		worst  float64 // dB, as the package documentation states
	}{
		{2, false, 0.63}, {math.Sqrt2, false, 0.16}, {2, true, 0.69}, {math.Sqrt2, true, 0.18},
	} {
		var readings []Reading
		for s := n; s < 8.1*n; s *= test.step {
			readings = append(readings, Reading{s, law(s)})
		}
		c := check.Must(NewCurve(readings, &CurveOptions{Linear: test.linear}))
		from, to := c.Range()
		worst := 0.0
		for k := range 400 {
			s := from + (to-from)*float64(k)/400
			worst = max(worst, math.Abs(check.Must(c.LevelDB(s, law(s)))))
		}
		check.Within(t, fmt.Sprintf("worst error in dB, step %v, linear %v", test.step, test.linear), worst, test.worst, 0.02)
	}
}

func TestCurveInput(t *testing.T) {
	ok := []Reading{{0.02, 10}, {0.04, 5}}
	for _, test := range []struct {
		name     string
		readings []Reading
		options  *CurveOptions
		words    []string
	}{
		{"one", ok[:1], nil, []string{"1 readings", "at least 2"}},
		{"none", nil, nil, []string{"0 readings"}},
		{"twice", []Reading{{0.02, 10}, {0.04, 5}, {0.02, 9}}, nil, []string{"two readings at 0.02 m"}},
		{"distance", []Reading{{0, 10}, {0.04, 5}}, nil, []string{"distance 0 m"}},
		{"NaN", []Reading{{math.NaN(), 10}, {0.04, 5}}, nil, []string{"distance NaN m"}},
		{"amplitude", []Reading{{0.02, 0}, {0.04, 5}}, nil, []string{"amplitude 0"}},
		{"infinite", []Reading{{0.02, math.Inf(1)}, {0.04, 5}}, nil, []string{"amplitude +Inf"}},
		{"beyond", ok, &CurveOptions{Beyond: 0.6}, []string{"share 0.6", "0 to 0.5"}},
		{"limit", ok, &CurveOptions{LimitDB: -1}, []string{"limit of the gain -1 dB"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := NewCurve(test.readings, test.options)
			check.Error(t, err, test.words...)
		})
	}
	c := check.Must(NewCurve(ok, nil))
	for _, s := range []float64{0.0199, 0.0401, math.NaN()} {
		_, err := c.Amplitude(s)
		check.Error(t, err, fmt.Sprint(s), "0.02 to 0.04 m")
		_, err = c.LevelDB(s, 1)
		check.Error(t, err, fmt.Sprint(s), "0.02 to 0.04 m")
		_, err = c.GainDB(s)
		check.Error(t, err, fmt.Sprint(s), "0.02 to 0.04 m")
	}
	_, err := c.LevelDB(0.03, 0)
	check.Error(t, err, "amplitude 0 of the echo")
	_, _, err = c.Correct(&ascan.Trace{})
	check.Error(t, err, "without a beam")
	limited := check.Must(NewCurve(ok, &CurveOptions{LimitDB: 4}))
	check.Within(t, "limited gain", check.Must(limited.GainDB(0.04)), 4, 0)
	check.Within(t, "gain below the limit", check.Must(limited.GainDB(0.025)), sizing.SixDB*math.Log2(1.25), 1e-12)
}

// Equal reflectors have equal echoes after the correction. The A-scan is invented: three Gaussian
// echoes at 20, 40 and 70 mm with the amplitudes of the law of holes.
func TestCorrect(t *testing.T) {
	const rate, speed, delay = 50e6, 5920.0, 2e-6
	law := func(s float64) float64 { return 100 * math.Pow(s/0.02, -1.5) }
	trace := &ascan.Trace{
		Line: &ascan.Line{Speed: speed, Delay: delay}, SampleRate: rate, FirstSample: 1e-6,
		Analytic: make([]complex64, 1600), Partial: [][2]int{{0, 5}},
	}
	places := []float64{0.02, 0.04, 0.07}
	peaks := make([]int, len(places))
	for k, s := range places {
		peaks[k] = int(math.Round((trace.Line.Time(s) - trace.FirstSample) * rate))
		for i := range trace.Analytic {
			d := float64(i-peaks[k]) / 12
			phase := 0.6 * float64(i-peaks[k])
			a := law(s) * math.Exp(-d*d)
			trace.Analytic[i] += complex(float32(a*math.Cos(phase)), float32(a*math.Sin(phase)))
		}
	}
	before := append([]complex64(nil), trace.Analytic...)
	c := check.Must(NewCurve([]Reading{{0.02, law(0.02)}, {0.06, law(0.06)}}, &CurveOptions{Beyond: 0.25}))
	corrected, valid, err := c.Correct(trace)
	if err != nil {
		t.Fatal(err)
	}
	envelope := corrected.Envelope(nil)
	for k, s := range places {
		check.Within(t, fmt.Sprintf("echo at %v m", s), envelope[peaks[k]], 100, 0.2) // the peak is rounded to a sample
	}
	if diff := cmp.Diff(before, trace.Analytic); diff != "" {
		t.Errorf("Correct changed the A-scan:\n%s", diff)
	}
	if diff := cmp.Diff(trace.Partial, corrected.Partial); diff != "" || corrected.Line != trace.Line {
		t.Errorf("other fields differ:\n%s", diff)
	}
	for end, want := range [2]float64{0.015, 0.075} {
		at := trace.SoundPath(trace.Time(float64(valid[end])))
		check.Within(t, "end of the valid samples", at, want, speed/(2*rate))
	}
	if first := trace.SoundPath(trace.Time(float64(valid[0]))); !(first >= 0.015) {
		t.Errorf("first valid sample at %v m, before the range", first)
	}
	// Outside of the range the gain is the gain of the end.
	trace.Analytic[1599] = 1
	corrected = corrected3(c.Correct(trace))
	check.Within(t, "last sample", float64(real(corrected.Analytic[1599])), sizing.Ratio(check.Must(c.GainDB(0.075))), 1e-5)
	// An A-scan that ends before the range has no valid sample.
	short := *trace
	short.Analytic = trace.Analytic[:20]
	if _, valid, _ := c.Correct(&short); valid[0] != valid[1] {
		t.Errorf("valid samples %v of an A-scan before the range, want none", valid)
	}
}

func corrected3(t *ascan.Trace, _ [2]int, err error) *ascan.Trace { return check.Must(t, err) }

// The levels are computed by hand. Block: 3 dB/m, part: 30 dB/m and 4 dB at the surface. The wall
// of the block is at 25 and 50 mm, the wall of the part at 15 and 30 mm.
func TestTransfer(t *testing.T) {
	reading := func(level, attenuation, s float64, spreading func(float64) float64) Reading {
		return Reading{s, 80 * spreading(s) * sizing.Ratio(level-2*attenuation*s)}
	}
	n := probe10.NearField()
	piston := func(s float64) float64 { return check.Must(Echo(probe10, Wall{}, s)) }
	for name, spreading := range map[string]func(float64) float64{
		"far": func(s float64) float64 { return 1 / s }, "piston": piston,
	} {
		block := [2]Reading{reading(0, 3, 25e-3, spreading), reading(0, 3, 50e-3, spreading)}
		part := [2]Reading{reading(-4, 30, 15e-3, spreading), reading(-4, 30, 30e-3, spreading)}
		given := spreading
		if name == "far" {
			given = nil
		}
		got, err := NewTransfer(block, part, given)
		if err != nil {
			t.Fatal(err)
		}
		check.Within(t, name+": surface", got.SurfaceDB, 4, 1e-12)
		check.Within(t, name+": block", got.BlockAttenuation, 3, 1e-10)
		check.Within(t, name+": part", got.PartAttenuation, 30, 1e-10)
		check.Within(t, name+": gain at 40 mm", got.DB(40e-3), 4+2*27*40e-3, 1e-11)
	}
	// Without the law of the near field its flat beam counts as a gain: 1.5 near-field lengths and
	// 3.
	flat := [2]Reading{{1.5 * n, piston(1.5 * n)}, {3 * n, piston(3 * n)}}
	_, err := NewTransfer(flat, flat, nil)
	check.Error(t, err, "second echo of the block", "above the spreading")

	good := [2]Reading{{0.025, 10}, {0.05, 5}}
	for _, test := range []struct {
		name        string
		block, part [2]Reading
		spreading   func(float64) float64
		words       []string
	}{
		{"order", [2]Reading{good[1], good[0]}, good, nil, []string{"echoes of the block at 0.05 and 0.025 m"}},
		{"equal", good, [2]Reading{good[0], good[0]}, nil, []string{"echoes of the part"}},
		{"amplitude", good, [2]Reading{good[0], {0.05, -1}}, nil, []string{"echo 2 of the part", "amplitude -1"}},
		{"distance", [2]Reading{{0, 1}, good[1]}, good, nil, []string{"echo 1 of the block", "distance 0 m"}},
		{"spreading", good, good, func(float64) float64 { return 0 }, []string{"spreading 0 at 0.025 m"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := NewTransfer(test.block, test.part, test.spreading)
			check.Error(t, err, test.words...)
		})
	}
	for _, v := range []float64{Transfer{}.DB(-1), Transfer{}.DB(math.NaN()), Transfer{SurfaceDB: math.NaN()}.DB(1)} {
		if !math.IsNaN(v) {
			t.Errorf("gain %s, want NaN", strconv.FormatFloat(v, 'g', -1, 64))
		}
	}
}
