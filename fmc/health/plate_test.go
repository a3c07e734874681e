// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// plate is an invented capture: an array in contact with a steel plate of 15 mm, in which each
// pair receives the echo of the back wall: a Gaussian pulse whose amplitude falls with its path.
// The own trace of an element also contains the initial pulse, ten times as strong. White noise is
// 20 dB below the peak of the median echo. Faults change it.
type plate struct {
	elements int
	rows     int        // of a matrix array; 0 is a linear one
	pairs    []fmc.Pair // nil for the full matrix
	noise    float64    // standard deviation over the median echo; 0.1 is 20 dB
	faults   map[int]fault
	crossed  map[fmc.Pair]float64 // amplitude of cross-talk over the median echo
	clip     float64              // modulus at which samples clip over the median echo; 0 for never
}

// fault is what is wrong with an element. The zero value is none.
type fault struct {
	transmit, receive float64 // gains less 1: -1 is dead, -2 reversed
	loss              float64 // share of the amplitude lost in the coupling, which the initial pulse does not pass
	late              float64 // s, each way
	noise             float64 // noise as a receiver / noise of the others, less 1
	offset            float64 // as a receiver, over the median echo
}

const (
	frequency  = 5e6
	bandwidth  = 0.6
	pitch      = 0.6e-3
	sampleRate = 40e6
	first      = -1e-6
	samples    = 360
	wall       = 15e-3
	speed      = 5920.0 // of longitudinal waves in steel, m/s: a usual value
	unit       = 1000   // of the median echo in the samples
)

func (q plate) capture(t testing.TB, rng *rand.Rand) *fmc.Capture {
	t.Helper()
	rows := max(1, q.rows)
	array, err := fmc.MatrixArray(q.elements/rows, rows, pitch, pitch, fmc.Array{Width: 0.5e-3, CentreFrequency: frequency, Bandwidth: bandwidth})
	if err != nil {
		t.Fatal(err)
	}
	pairs := q.pairs
	if pairs == nil {
		pairs = fmc.FullPairs(q.elements)
	}
	c, err := fmc.New(fmc.Capture{Array: array, Pairs: pairs, Samples: samples, SampleRate: sampleRate, FirstSample: first})
	if err != nil {
		t.Fatal(err)
	}
	for p, pair := range c.Pairs {
		tx, rx := q.faults[pair.Tx], q.faults[pair.Rx]
		distance := r3.Norm(r3.Sub(array.Elements[pair.Rx], array.Elements[pair.Tx]))
		path := math.Hypot(distance, 2*wall)
		late := tx.late + rx.late
		gain := (1 + tx.transmit) * (1 + rx.receive)
		trace := c.Trace(p)
		add(c, trace, unit*gain*(1-tx.loss)*(1-rx.loss)*2*wall/path, path/speed+late)
		if pair.Tx == pair.Rx {
			add(c, trace, 10*unit*gain, late)
		}
		add(c, trace, unit*q.crossed[pair], 0)
		for k := range trace {
			v := float64(trace[k]) + unit*(rx.offset+q.noise*(1+rx.noise)*rng.NormFloat64())
			if q.clip > 0 {
				v = max(-q.clip*unit, min(q.clip*unit, v))
			}
			trace[k] = float32(v)
		}
	}
	return c
}

// add adds a Gaussian pulse of the array's bandwidth, in phase at its centre.
func add(c *fmc.Capture, trace []float32, amplitude, centre float64) {
	// The spectrum of exp(-t²/2s²) is 6 dB (a half) down at sqrt(2·ln 2)/(2π·s) off its
	// centre.
	spread := math.Sqrt(2*math.Ln2) / (math.Pi * bandwidth * frequency)
	from := max(0, int((centre-6*spread-first)*sampleRate))
	to := min(len(trace), int((centre+6*spread-first)*sampleRate)+1)
	for k := from; k < to; k++ {
		t := c.Time(k) - centre
		trace[k] += float32(amplitude * math.Exp(-t*t/(2*spread*spread)) * math.Cos(2*math.Pi*frequency*t))
	}
}

func source(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 18)) }
