// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// planted is a fault of a trial: the kinds that it must give between two indices of frames, and the
// kinds that it may give as well.
type planted struct {
	name        string
	must, may   []Kind
	first, last int // indices of frames
}

// plants are the faults of the trials. Each is planted about frame i, in at most 10 frames.
var plants = []func(m *made, i int) planted{
	func(m *made, i int) planted {
		n := 1 + m.rng.IntN(8)
		for k := range n {
			m.gain[i+k] -= 9 + 12*m.rng.Float64()
		}
		return planted{"coupling", []Kind{CouplingLoss}, nil, i, i + n - 1}
	},
	func(m *made, i int) planted {
		n := 1 + m.rng.IntN(5)
		for range n {
			m.drop(i)
		}
		return planted{"lost", []Kind{LostFrames, MissingSteps}, nil, i, i + n - 1}
	},
	func(m *made, i int) planted {
		by := float64(7+m.rng.IntN(30)) * madeStep // the way to the next frame is a step less
		if m.rng.IntN(2) == 0 {
			by = -by
		}
		m.frames[i].Position += by
		return planted{"glitch", []Kind{EncoderJump, MissingSteps}, []Kind{Repeated, Stray}, i, i}
	},
	func(m *made, i int) planted { // the array goes back, and then over the same way again
		n := 1 + m.rng.IntN(4)
		for k := i; k < len(m.frames); k++ {
			back := float64(2*min(k-i+1, n)) * madeStep
			m.frames[k].Position -= back
		}
		m.steps -= 2 * n
		return planted{"reversal", []Kind{Reversal, Repeated}, nil, i, i + n - 1}
	},
	func(m *made, i int) planted { // the array moves two to four steps from one frame to the next
		n := 1 + m.rng.IntN(3)
		for k := i; k < len(m.frames); k++ {
			m.frames[k].Position += float64(n) * madeStep
		}
		m.steps += n
		return planted{"too sparse", []Kind{TooSparse, MissingSteps}, nil, i, i}
	},
	func(m *made, i int) planted {
		n := 1 + m.rng.IntN(5)
		var kept []float32
		m.change[i-1] = func(c *fmc.Capture) { kept = slices.Clone(c.Data) }
		for k := range n {
			m.change[i+k] = func(c *fmc.Capture) { copy(c.Data, kept) }
		}
		return planted{"stuck", []Kind{Stuck}, nil, i, i + n - 1}
	},
	func(m *made, i int) planted {
		at := m.rng.IntN(700)
		m.change[i] = func(c *fmc.Capture) { c.Data[at] = float32(math.NaN()) }
		return planted{"not finite", []Kind{NotFinite}, nil, i, i}
	},
	func(m *made, i int) planted {
		m.change[i] = func(c *fmc.Capture) { c.SampleRate *= 2 }
		return planted{"wrong shape", []Kind{WrongShape}, nil, i, i}
	},
	func(m *made, i int) planted { // an echo 12 to 20 dB above full scale in one trace
		amplitude := 127 * math.Pow(10, (12+8*m.rng.Float64())/20)
		at := 60 + m.rng.IntN(20)
		m.change[i] = func(c *fmc.Capture) {
			for k := range 12 {
				v := amplitude * math.Sin(math.Pi*float64(k)/11)
				c.Trace(2)[at+k] = float32(min(127, v))
			}
		}
		return planted{"saturated", []Kind{Saturated}, nil, i, i}
	},
	func(m *made, i int) planted {
		m.frames[i].Time -= 0.05 + 0.2*m.rng.Float64()
		return planted{"clock", []Kind{Clock}, nil, i, i}
	},
	func(m *made, i int) planted {
		m.frames[i].Index -= 1 + m.rng.IntN(5)
		return planted{"disorder", []Kind{Disorder}, []Kind{LostFrames}, i - 6, i + 1}
	},
	func(m *made, _ int) planted {
		total := (4 + 4*m.rng.Float64()) * float64(1-2*m.rng.IntN(2))
		for k := range m.gain {
			m.gain[k] += total * float64(k) / float64(len(m.gain))
		}
		return planted{"drift", []Kind{GainDrift}, nil, 0, len(m.frames)}
	},
}

// trial plants up to two faults in a scan of 120 frames with the noise of [made], forward or
// backward, and returns what was missed and what was invented.
func trial(t *testing.T, seed uint64) (faults []planted, missed, invented []string) {
	t.Helper()
	m := makeScan(seed, 120)
	m.steps = len(m.frames)
	kinds := m.rng.Perm(len(plants))[:m.rng.IntN(3)]
	// The later fault is planted first, so that the indices of the other one are still its places.
	for k, kind := range kinds {
		faults = append(faults, plants[kind](m, 70-40*k+m.rng.IntN(20)))
	}
	o := m.options()
	o.Grid.Along.Steps = m.steps
	if seed%2 == 1 { // the scanner runs towards smaller positions
		for k := range m.frames {
			m.frames[k].Position = madeStep*float64(m.steps-1) - m.frames[k].Position
		}
	}
	report := check.Must(Check(t.Context(), m.next(), o))
	for _, p := range faults {
		for _, kind := range p.must {
			if !slices.ContainsFunc(report.Findings, func(f Finding) bool { return p.explains(f, kind) }) {
				missed = append(missed, fmt.Sprintf("seed %d: %s: %s", seed, p.name, kind))
			}
		}
	}
	for _, f := range report.Findings {
		if !slices.ContainsFunc(faults, func(p planted) bool {
			return slices.ContainsFunc(slices.Concat(p.must, p.may), func(k Kind) bool {
				return p.explains(f, k)
			})
		}) {
			invented = append(invented, fmt.Sprintf("seed %d: %s", seed, f))
		}
	}
	return faults, missed, invented
}

// explains reports whether a finding of a kind lies where the fault was planted. Steps are not
// frames: the steps of a fault lie elsewhere if another fault moved the positions.
func (p planted) explains(f Finding, kind Kind) bool {
	if f.Kind != kind {
		return false
	}
	return kind == MissingSteps || kind == Repeated ||
		f.FirstFrame <= p.last+1 && f.LastFrame >= p.first-1
}

// judgeTrials runs trials and fails for each fault that is missed or invented.
func judgeTrials(t *testing.T, first, n uint64) {
	t.Helper()
	planted, sound := 0, 0
	for seed := first; seed < first+n; seed++ {
		faults, missed, invented := trial(t, seed)
		planted += len(faults)
		if len(faults) == 0 {
			sound++
		}
		for _, text := range missed {
			t.Errorf("missed: %s", text)
		}
		for _, text := range invented {
			t.Errorf("invented: %s", text)
		}
	}
	t.Logf("%d scans, %d of them without a fault, %d faults planted", n, sound, planted)
}

// TestTrials: a short form of the trials, on the seeds by which the limits were chosen.
func TestTrials(t *testing.T) {
	n := uint64(150)
	if testing.Short() {
		n = 40
	}
	judgeTrials(t, 1, n)
}
