// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package thickness

import (
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm/ascan"
)

// TestMethods reads a wall of 7.3 mm from invented A-scans without noise, by each method and pick.
func TestMethods(t *testing.T) {
	const wall = 7.3
	coated := func(late float64) []rung { // three echoes, all later by a time in s
		list := []rung{at(wall, 1), at(2*wall, 0.5), at(3*wall, 0.25)}
		for i := range list {
			list[i].time += late
		}
		return list
	}
	water := append(coated(0.2e-6), rung{0.2e-6, -2}) // the interface has the opposite sign
	for _, c := range []struct {
		name   string
		echoes []rung
		change func(*Reader)
		want   float64 // mm
	}{
		{"first echo", coated(0), func(*Reader) {}, wall},
		{"first echo, known delay", coated(0.2e-6), func(r *Reader) { r.Delay = 0.2e-6 }, wall},
		{"first echo, unknown delay", coated(0.05e-6), func(*Reader) {}, wall + speed/2*0.05e-6/mm},
		{"echo to echo, unknown delay", coated(0.05e-6), func(r *Reader) { r.Method = EchoToEcho }, wall},
		{"from interface", water, func(r *Reader) { r.Method, r.Interface = FromInterface, 1e-6 }, wall},
		{"echo to echo on the envelope's flank", coated(0), func(r *Reader) { r.Method, r.Flank = EchoToEcho, &Flank{Share: 0.5} }, wall},
		{"echo to echo on positive half-waves", coated(0), func(r *Reader) { r.Method, r.Flank = EchoToEcho, &Flank{0.5, 1} }, wall},
		{"echo to echo on negative half-waves", coated(0), func(r *Reader) { r.Method, r.Flank = EchoToEcho, &Flank{0.5, -1} }, wall},
		{"from interface on half-waves of opposite signs", water, func(r *Reader) {
			r.Method, r.Interface, r.Flank = FromInterface, 1e-6, &Flank{0.5, 1}
		}, wall},
		{"first echo for lack of a second", []rung{at(wall, 1)}, func(r *Reader) { r.Method, r.Fallback = EchoToEcho, true }, wall},
		// A Gaussian envelope falls to one half √(2·ln 2) standard deviations before its peak.
		{"first echo on the envelope's flank", coated(0), func(r *Reader) { r.Flank, r.Agree = &Flank{Share: 0.5}, math.Inf(1) }, wall - speed/2*sigma*math.Sqrt(2*math.Ln2)/mm},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := plain()
			c.change(r)
			got := check.Must(r.Read(traced(c.echoes...)))
			if got.State != Measured {
				t.Fatalf("state %v, want measured: %+v", got.State, got)
			}
			check.Within(t, "thickness in mm", got.Thickness/mm, c.want, 1e-3)
		})
	}
}

// TestHalfWave checks that the half-wave of a sign is read where the carrier crosses the threshold,
// found by a fine search on the formula of the pulse.
func TestHalfWave(t *testing.T) {
	for _, f := range []Flank{{0.4, 1}, {0.4, -1}, {0.7, 1}, {0.7, -1}} {
		want := -4 * sigma
		for ; ; want += 1e-12 {
			if float64(f.Sign)*math.Exp(-want*want/(2*sigma*sigma))*math.Cos(2*math.Pi*frequency*want) >= f.Share {
				break
			}
		}
		for _, shift := range []float64{0, 0.3, 0.71} { // of a sample
			r := plain()
			r.Flank = &f
			late := shift / rate
			got := check.Must(r.Read(traced(rung{3e-6 + late, 1})))
			check.Within(t, "time in ns", 1e9*(got.Thickness*2/speed-3e-6-late), 1e9*want, 1)
		}
	}
}

// TestZero calibrates the delay on a part of known thickness, and reads another.
func TestZero(t *testing.T) {
	late := func(wall float64) *ascan.Trace {
		e := at(wall, 1)
		e.time += 0.31e-6
		return traced(e)
	}
	r := plain()
	r.Flank = &Flank{Share: 0.5, Sign: -1}
	r.Delay = check.Must(r.Zero(late(10), 10*mm))
	check.Within(t, "thickness in mm", check.Must(r.Read(late(5.55))).Thickness/mm, 5.55, 1e-3)
	_, err := r.Zero(traced(), 10*mm)
	check.Error(t, err, "no echo")
	_, err = r.Zero(late(10), math.NaN())
	check.Error(t, err, "NaN", "above 0")
}

// TestStates checks what becomes of each kind of A-scan.
func TestStates(t *testing.T) {
	short := traced(at(25, 1))
	short.Analytic = short.Analytic[:200] // 11.8 mm
	beamEnds := traced()
	beamEnds.Line.Legs[0].To.Z = 15 * mm
	clipped, elsewhere := traced(at(10, 1)), traced(at(10, 1))
	clipped.Clipped, elsewhere.Clipped = [][2]int{{165, 166}}, [][2]int{{0, 150}} // the echo is at sample 169
	for _, c := range []struct {
		name   string
		trace  *ascan.Trace
		method Method
		want   State
		mm     float64 // NaN for none
	}{
		{"wall", traced(at(10, 1)), FirstEcho, Measured, 10},
		{"clipped echo", clipped, FirstEcho, Clipped, 10},
		{"clipped elsewhere", elsewhere, FirstEcho, Measured, 10},
		{"no echo", traced(), FirstEcho, NoEcho, math.NaN()},
		{"echo below the threshold", traced(at(10, 0.03)), FirstEcho, NoEcho, math.NaN()},
		{"thicker than the gate", traced(at(22, 1)), FirstEcho, OutOfGate, math.NaN()},
		{"a wall of 2.5 mm repeats at 5 mm", traced(at(2.5, 1), at(5, 0.8), at(7.5, 0.6), at(10, 0.5)), FirstEcho, OutOfGate, math.NaN()},
		{"a wall of 1.45 mm repeats at 4.35 mm", traced(at(1.45, 1), at(2.9, 0.8), at(4.35, 0.6), at(5.8, 0.5)), FirstEcho, OutOfGate, math.NaN()},
		{"small pit before a wall", traced(at(6, 0.4), at(10, 0.9)), FirstEcho, TwoEchoes, 6},
		{"weak echo behind a pit", traced(at(6, 0.9), at(10, 0.4)), FirstEcho, Measured, 6},
		{"second echo far from twice the first", traced(at(8, 1), at(17, 0.5)), FirstEcho, Disagree, 8},
		{"echo to echo without comparison", traced(at(8, 1), at(17, 0.5)), EchoToEcho, Measured, 9},
		{"wall around a pit near twice its thickness", traced(at(6.8, 1), at(11.8, 0.5)), FirstEcho, Measured, 6.8},
		{"second echo missing", traced(at(10, 1)), EchoToEcho, NoRepeat, math.NaN()},
		{"interface missing", traced(at(10, 1)), FromInterface, NoInterface, math.NaN()},
		{"record ends in the gate", short, FirstEcho, RecordEnds, math.NaN()},
		{"beam ends in the gate", beamEnds, FirstEcho, RecordEnds, math.NaN()},
		{"tail of an echo before the gate", traced(at(2.7, 1)), FirstEcho, NoEcho, math.NaN()},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := plain()
			r.Method, r.Interface = c.method, 0.5e-6
			got := check.Must(r.Read(c.trace))
			if got.State != c.want {
				t.Errorf("state %v, want %v: %+v", got.State, c.want, got)
			}
			if math.IsNaN(c.mm) != math.IsNaN(got.Thickness) || math.Abs(got.Thickness/mm-c.mm) > 1e-3 {
				t.Errorf("thickness %v mm, want %v", got.Thickness/mm, c.mm)
			}
		})
	}
}

// TestRefusals checks the errors of bad readers and A-scans.
func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		word   string
		change func(*Reader)
	}{
		{"gate", func(r *Reader) { r.Least = 0 }},
		{"gate", func(r *Reader) { r.Most = math.Inf(1) }},
		{"method", func(r *Reader) { r.Method = 7 }},
		{"reference", func(r *Reader) { r.Reference = 0 }},
		{"threshold", func(r *Reader) { r.Threshold = 3 }},
		{"delay", func(r *Reader) { r.Delay = math.NaN() }},
		{"interface", func(r *Reader) { r.Method = FromInterface }},
		{"agreement", func(r *Reader) { r.Agree = math.NaN() }},
		{"flank", func(r *Reader) { r.Flank = &Flank{Share: 1} }},
		{"flank", func(r *Reader) { r.Flank = &Flank{Share: 0.5, Sign: 2} }},
		{"errors", func(r *Reader) { r.Errors.Wall = -1 }},
	} {
		r := plain()
		c.change(r)
		_, err := r.Read(traced())
		check.Error(t, err, "thickness: ", c.word, "want")
	}
	_, err := plain().Read(nil)
	check.Error(t, err, "no A-scan")
	_, err = plain().Read(&ascan.Trace{})
	check.Error(t, err, "line of a beam")
	none := traced()
	none.Analytic = nil
	_, err = plain().Read(none)
	check.Error(t, err, "0 samples")
}

// FuzzRead checks that no A-scan makes a reading fail, and that only states with a thickness have a
// finite one, within the gate unless it is read between echoes.
func FuzzRead(f *testing.F) {
	f.Add([]byte{0, 10, 200, 10, 0, 0, 90, 3}, uint8(0), int8(1), 0.5)
	f.Add([]byte("wall and wall and wall"), uint8(2), int8(0), 0.9)
	f.Add([]byte{}, uint8(1), int8(-1), 0.01)
	f.Fuzz(func(t *testing.T, samples []byte, method uint8, sign int8, share float64) {
		trace := blank()
		trace.Analytic = make([]complex64, 1+len(samples))
		for k, v := range samples {
			trace.Analytic[k] = complex(float32(v)*float32(math.Abs(share)), float32(int(v)-128)/8)
		}
		r := &Reader{Least: 0.1 * mm, Most: 5 * mm, Method: Method(method % 3), Fallback: method&8 != 0, Reference: 100, Threshold: -20, Interface: 1e-7}
		if share > 0 && share < 1 {
			r.Flank = &Flank{Share: share, Sign: int(sign) % 2}
		}
		got, err := r.Read(trace)
		if err != nil {
			t.Fatal(err)
		}
		if has := got.State.Counts() || got.State == Disagree || got.State == Clipped; has == math.IsNaN(got.Thickness) {
			t.Errorf("%v with the thickness %v", got.State, got.Thickness)
		}
		if got.State.Counts() && got.Method != EchoToEcho && !(got.Thickness >= r.Least && got.Thickness <= r.Most) {
			t.Errorf("thickness %v m outside the gate", got.Thickness)
		}
	})
}
