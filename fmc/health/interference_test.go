// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
)

// spoil multiplies the traces of each element by its gain at both ends, then adds white
// noise.
func spoil(c *fmc.Capture, gains []float64, noise float64, rng *rand.Rand) {
	for p, pair := range c.Pairs {
		gain := gains[pair.Tx] * gains[pair.Rx]
		for k, v := range c.Trace(p) {
			c.Trace(p)[k] = float32(gain*float64(v) + noise*rng.NormFloat64())
		}
	}
}

// addTone adds a steady tone to every trace, of a random phase where there is a source.
func addTone(c *fmc.Capture, amplitude, frequency float64, phases *rand.Rand) {
	for p := range c.Pairs {
		phase := 0.7
		if phases != nil {
			phase = 2 * math.Pi * phases.Float64()
		}
		for k := range c.Trace(p) {
			c.Trace(p)[k] += float32(amplitude * math.Cos(2*math.Pi*frequency*c.Time(k)+phase))
		}
	}
}

// TestTones adds a steady tone to sound captures at 3 % noise. Nothing but the tone may be
// found, and it with its frequency, level and share.
func TestTones(t *testing.T) {
	t.Parallel()
	names, levels := references, []float64{0.05, 0.2}
	frequencies := []float64{0.3, 0.5, 0.87, 1, 1.18, 1.5, 2} // of the centre
	if !long {
		names, frequencies = []string{"block16"}, []float64{0.5, 1.18}
	}
	if testing.Short() {
		levels, frequencies = levels[:1], frequencies[1:]
	}
	for _, name := range names {
		peak := echoPeak(t, name)
		for l, level := range levels {
			for i, of := range frequencies {
				for j, phase := range []string{"random", "fixed"} {
					if (l+i+j)%2 != 0 {
						continue // each two of level, frequency and phase meet once
					}
					t.Run(fmt.Sprintf("%s/%v/%v/%s", name, level, of, phase), func(t *testing.T) {
						c, rng := reference(t, name), source(uint64(i))
						spoil(c, slices.Repeat([]float64{1}, len(c.Array.Elements)), 0.03*peak, rng)
						phases := rng
						if phase == "fixed" {
							phases = nil
						}
						frequency := of * c.Array.CentreFrequency
						addTone(c, level*peak, frequency, phases)
						r := assess(t, c, nil)
						if compare(t, []string{describe(health.Interference, both)}, r) {
							tone := r.Findings[0].Tone
							if !(math.Abs(tone.Frequency/frequency-1) <= 2e-3) || !(math.Abs(float64(tone.Level)/level-1) <= 0.2) || !(tone.Share >= 0.9) {
								t.Errorf("%+v: want %v Hz, level %v in all traces", tone, frequency, level)
							}
						}
					})
				}
			}
		}
	}
}

// TestFaultsUnderTone plants a fault and a tone: the finding must be the same as without the tone.
func TestFaultsUnderTone(t *testing.T) {
	t.Parallel()
	names, frequencies := references[1:], []float64{0.9, 1.2} // of the centre
	if !long {
		names, frequencies = names[:1], frequencies[:1]
	}
	for _, name := range names {
		peak := echoPeak(t, name)
		for i, row := range []struct {
			kind health.Kind
			gain float64
		}{{health.Reversed, -1}, {health.Dead, 0}, {health.Weak, 0.5}} {
			if !long && row.kind == health.Dead {
				continue // TestDead has no tone, and a dead element none but the tone
			}
			for _, of := range frequencies {
				t.Run(fmt.Sprintf("%s/%v/%v", name, row.kind, of), func(t *testing.T) {
					const bad = 13
					c, rng := reference(t, name), source(uint64(i))
					gains := slices.Repeat([]float64{1}, len(c.Array.Elements))
					gains[bad] = row.gain
					spoil(c, gains, 0.03*peak, rng)
					addTone(c, 0.1*peak, of*c.Array.CentreFrequency, rng)
					want := []string{describe(row.kind, both, bad), describe(health.Interference, both)}
					slices.Sort(want)
					compare(t, want, assess(t, c, nil))
				})
			}
		}
	}
}

// TestDead plants one, two and three dead neighbours in the full-wave captures, at 3 %
// noise, and wants exactly those found: no late elements beside a gap.
func TestDead(t *testing.T) {
	t.Parallel()
	const most = 3
	names, step := references, 5
	if !long {
		names, step = []string{"block16"}, 13 // one end of the array, and near the other
	}
	if testing.Short() {
		step = 15
	}
	for _, name := range names {
		peak := echoPeak(t, name)
		for run := 1; run <= most; run++ {
			elements := len(reference(t, name).Array.Elements)
			for at := 0; at+run <= elements; at += step {
				c := reference(t, name)
				gains := slices.Repeat([]float64{1}, elements)
				var want []string
				for e := at; e < at+run; e++ {
					gains[e] = 0
					want = append(want, describe(health.Dead, both, e))
				}
				slices.Sort(want)
				spoil(c, gains, 0.03*peak, source(uint64(100*run+at)))
				if !compare(t, want, assess(t, c, nil)) {
					t.Errorf("that was %s with %d dead from %d", name, run, at)
				}
			}
		}
	}
}

// TestSlope wants no wrong polarity or time zero where the gain changes by 20 dB along
// the array.
func TestSlope(t *testing.T) {
	t.Parallel()
	names := references
	if !long {
		names = names[:1]
	}
	for _, name := range names {
		for _, decibels := range []float64{-20, 20} {
			c := reference(t, name)
			n := len(c.Array.Elements)
			gains := make([]float64, n)
			for e := range gains {
				gains[e] = math.Pow(10, decibels/20*(float64(e)/float64(n-1)-0.5))
			}
			spoil(c, gains, 0.03*echoPeak(t, name), source(1))
			r := assess(t, c, nil)
			if slices.ContainsFunc(r.Findings, func(f health.Finding) bool { return f.Kind == health.Reversed || f.Kind == health.Drift }) {
				t.Errorf("%s, %v dB: reversed or late elements\n%v", name, decibels, r)
			}
		}
	}
}
