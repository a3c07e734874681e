// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// cutting is one way in which a reading is not the reading of one whole reflector.
type cutting struct {
	name  string
	state tfm.State // of the pixels from a column on; 0 for the edge of the picture
	blank bool      // whether these pixels are black
}

var cuttings = []cutting{
	{"edge", 0, false},
	{"end of the record", tfm.AfterRecord | tfm.Blank, true},
	{"end of the record for some pairs", tfm.AfterRecord, false},
	{"no ray", tfm.NoRay | tfm.Blank, true},
	{"coarse grid", tfm.CoarseGrid, false},
	{"clipped", tfm.Clipped, false},
}

// hills is a picture of hills with phases.
type hills struct {
	blobs  []blob
	phases []float64
}

// draw returns the envelope of the hills and of a level of noise.
func (h hills) draw(t *testing.T, noise []complex128, level float64) *tfm.Envelope {
	env := draw(t, 100, 70, 1)
	for i := range env.Data {
		p := env.Point(i)
		v := noise[i] * complex(level, 0)
		for k, b := range h.blobs {
			v += cmplx.Rect(b.at(p.X, p.Z), h.phases[k])
		}
		env.Data[i] = float32(cmplx.Abs(v))
	}
	return env
}

// noises returns eight fields of noise for hills.
func noises() (fields [8][]complex128) {
	for i := range fields {
		fields[i] = field(uint64(i), 100, 70, 2)
	}
	return fields
}

// verdicts counts the answers of a trial.
type verdicts struct{ flagged, missed, clear, wrong int }

func (v *verdicts) count(is, says bool) {
	switch {
	case is && says:
		v.flagged++
	case is:
		v.missed++
	case says:
		v.wrong++
	default:
		v.clear++
	}
}

// trialCut draws hills that the edge of the picture or the state of pixels cuts, or nearly cuts, in
// noise 25 to 45 dB below them. A hill is cut if its contour reaches half a pixel or more beyond
// the last pixel that is whole. Within half a pixel both answers are right.
func trialCut(t *testing.T, n int) (v verdicts) {
	noise := noises()
	for i := range n {
		rng := rand.New(rand.NewPCG(uint64(i), 11))
		kind := cuttings[i%len(cuttings)]
		b := blob{width: 4 + 6*rng.Float64(), tilt: (rng.Float64() - 0.5) * math.Pi, height: 1, z: 35 + rng.Float64()}
		b.length = b.width * (1 + rng.Float64())
		reach := b.across(0) / 2 // along x
		last := 60               // the last whole column
		b.x = float64(last) - reach + (rng.Float64()*2-1)*reach*0.9
		level := math.Pow(10, -(25+20*rng.Float64())/20)
		cols := 100
		if kind.state == 0 {
			cols = last + 1
		}
		env := hills{[]blob{b}, []float64{0}}.draw(t, noise[i%8], level)
		env = crop(env, cols)
		if kind.state != 0 {
			env.States = make([]tfm.State, len(env.Data))
			for p := range env.Data {
				if p%cols > last {
					env.States[p] = kind.state
					if kind.blank {
						env.Data[p] = 0
					}
				}
			}
		}
		found := find(t, env, nil)
		if len(found) == 0 {
			t.Errorf("%s: no indication of a hill of %v pixels", kind.name, b.width)
			continue
		}
		in := found[0]
		says := in.Edge
		if kind.state != 0 {
			says = in.States == kind.state
		}
		beyond := b.x + reach - float64(last)
		if math.Abs(beyond) < 0.5 {
			continue
		}
		v.count(beyond > 0, says)
	}
	return v
}

// crop returns the first columns of a picture.
func crop(env *tfm.Envelope, cols int) *tfm.Envelope {
	out := &tfm.Envelope{Grid: env.Grid}
	out.Cols = cols
	for r := range env.Rows {
		out.Data = append(out.Data, env.Data[r*env.Cols:][:cols]...)
	}
	return out
}

// trialMerged draws one hill or two, in the even trials (part 0) or the odd ones (part 1). Two
// hills have merged if the picture without noise is one indication, although the saddle lies more
// than 3 dB below the weaker hill. Shallower saddles count neither way.
func trialMerged(t *testing.T, n, part int) (v verdicts) {
	noise := noises()
	for i := part; i < n; i += 2 {
		rng := rand.New(rand.NewPCG(uint64(i), 12))
		b := blob{x: 45 + rng.Float64(), z: 35 + rng.Float64(), width: 6 + 6*rng.Float64(), tilt: (rng.Float64() - 0.5) * math.Pi, height: 1}
		b.length = b.width * (1 + rng.Float64())
		h := hills{[]blob{b}, []float64{0}}
		two := rng.IntN(2) == 0
		if two {
			other := b
			other.height = 0.55 + 0.45*rng.Float64()
			angle := 2 * math.Pi * rng.Float64()
			distance := b.across(angle) * (0.6 + 0.7*rng.Float64())
			other.x += distance * math.Cos(angle)
			other.z += distance * math.Sin(angle)
			h = hills{[]blob{b, other}, []float64{0, 2 * math.Pi * rng.Float64()}}
		}
		if two {
			whole := h.draw(t, noise[0], 0)
			halves, thirds := find(t, whole, &sizing.Options{Floor: -6}), find(t, whole, &sizing.Options{Floor: -6, Drop: 3})
			if len(halves) != 1 || len(thirds) < 2 {
				continue
			}
		}
		level := math.Pow(10, -(25+20*rng.Float64())/20)
		found := find(t, h.draw(t, noise[i/2%8], level), nil)
		if two && len(found) > 1 {
			continue // the noise has parted them
		}
		v.count(two, found[0].Merged)
	}
	return v
}

// TestMergedSaddles: the saddle must lie 1.5 dB or more below the weaker peak, and both peaks
// within the drop.
func TestMergedSaddles(t *testing.T) {
	for _, test := range []struct {
		name string
		row  []float32
		want bool
	}{
		{"saddle of 1.4 dB", []float32{0, 80, 66, 78, 0}, false},
		{"saddle of 1.6 dB", []float32{0, 80, 65, 78, 0}, true},
		{"weaker peak 6.5 dB down", []float32{0, 80, 28, 38, 0}, false},
		{"weaker peak 5.5 dB down", []float32{0, 80, 32, 42, 0}, true},
		{"three peaks, the last of them parted", []float32{0, 80, 75, 76, 40, 60, 0}, true},
		{"separate peaks", []float32{0, 80, 20, 60, 0}, false},
	} {
		for _, in := range find(t, picture(t, test.row), nil) {
			if in.Merged != test.want {
				t.Errorf("%s: merged %v, want %v", test.name, in.Merged, test.want)
			}
		}
	}
}

// TestCut: all readings that are cut have a state, and at most 1 % of the others.
func TestCut(t *testing.T) {
	n := 120
	if testing.Short() {
		n = 60
	}
	trialCut(t, n).judge(t, n/4)
}

// TestMerged judges the limits of Indication.Merged on the odd trials. They were chosen on the even
// trials.
func TestMerged(t *testing.T) {
	n := 160
	if testing.Short() {
		n = 80
	}
	trialMerged(t, n, 1).judge(t, n/60)
}

// TestEndOfRecord images a hole from records that end at other times. If the reading differs from
// the reading of the whole record, it must carry AfterRecord. If the record holds the echoes of all
// pairs from all of the area and from the pixels around it, it must carry nothing.
func TestEndOfRecord(t *testing.T) {
	s := inspections()[0]
	at := r3.Vec{X: 1e-3, Z: 14e-3}
	whole := s.record(t, synth.Hole{X: at.X, Z: at.Z, Diameter: 1.5e-3})
	reading := func(samples int) (sizing.Indication, *tfm.Envelope) {
		c := *whole
		c.Samples, c.Data = samples, nil
		for p := range c.Pairs {
			c.Data = append(c.Data, whole.Trace(p)[:samples]...)
		}
		env := s.image(t, &c, at, 3e-3)
		return find(t, env, &sizing.Options{Floor: -20})[0], env
	}
	want, _ := reading(whole.Samples)
	if want.States != 0 {
		t.Fatalf("states %v of the whole record, want none", want.States)
	}
	changed, same := 0, 0
	const first, last, step = 150, 300, 6 // samples of 25 ns; the echo of the middle pair is at 180
	for samples := first; samples < last; samples += step {
		got, env := reading(samples)
		differs := math.Abs(sizing.LevelDB(got.Amplitude, want.Amplitude)) > 0.1 || math.Abs(got.Length/want.Length-1) > 0.02
		touched := false
		for _, p := range want.Contour {
			col, row := (p.X-env.Origin.X)/env.Step.X, (p.Z-env.Origin.Z)/env.Step.Z
			for _, c := range []float64{math.Floor(col), math.Ceil(col)} {
				for _, r := range []float64{math.Floor(row), math.Ceil(row)} {
					for d := -1; d <= 1; d++ {
						touched = touched || env.State((int(r)+d)*env.Cols+int(c)-1)|env.State((int(r)+d)*env.Cols+int(c)+1) != 0
					}
				}
			}
		}
		switch {
		case differs && got.States&tfm.AfterRecord == 0:
			t.Errorf("record of %d samples: level %.2f dB and length %.2f of the whole record, without a state", samples, sizing.LevelDB(got.Amplitude, want.Amplitude), got.Length/want.Length)
		case !touched && got.States != 0:
			t.Errorf("record of %d samples: states %v, want none", samples, got.States)
		case differs:
			changed++
		case !touched:
			same++
		}
	}
	if changed < 4 || same < 4 {
		t.Errorf("%d readings changed and %d did not, want at least 4 of each", changed, same)
	}
}

// judge fails the test if a reading was missed, if more than 1 % of the others were flagged, or if
// the trial has too few readings of a kind.
func (v verdicts) judge(t *testing.T, least int) {
	t.Helper()
	if v.missed > 0 || 100*v.wrong > v.clear+v.wrong {
		t.Errorf("%d of %d missed, %d of %d wrong: want none missed and 1 %% wrong at most", v.missed, v.missed+v.flagged, v.wrong, v.wrong+v.clear)
	}
	if v.flagged < least || v.clear < least {
		t.Errorf("%d flagged and %d clear: want at least %d of each", v.flagged, v.clear, least)
	}
}
