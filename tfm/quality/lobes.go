// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package quality

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material/beam"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// Lobe is a grating lobe of an array, far from the array.
type Lobe struct {
	// Angle is the direction of the lobe at the centre frequency, in radians from the normal of the
	// array.
	Angle float64
	// Peak is the direction in which the lobe of the pulse is highest, in radians. It lies closer
	// to the reflector: a shorter delay between elements lets more echoes overlap.
	Peak float64
	// LevelDB is the level of the lobe at Peak in dB relative to the picture of the reflector. It
	// holds for the pulse of the array and for elements without directivity.
	LevelDB float64
}

// GratingLobes returns the grating lobes in images of captures like c, of a reflector in the
// direction steer (radians from the normal), in ascending order of their angles. The array is in
// contact with a medium of a speed in m/s. For an array on a wedge, give the speed in the wedge:
// the angles are then angles in the wedge. The lobes of pairs of different elements lie at
//
//	sin(lobe) = sin(steer) + m·λ/pitch,   m = ±1, ±2, …
//
// If each element records its own echoes only, λ/(2·pitch) replaces λ/pitch. A short pulse lowers
// the lobes: the echoes of few elements overlap. Let N be the number of elements and B the
// bandwidth. For one period of delay between elements about n/N of the amplitude is left, where n =
// 0.94/B is the length of the pulse in periods. It is the same for one-way and for two-way
// focusing, and not the square.
//
// The array must be a line of equal steps along x. The zero Band stands for the default of images.
func GratingLobes(c *fmc.Capture, speed, steer float64, band tfm.Band) ([]Lobe, error) {
	if err := c.ValidateTemplate(); err != nil {
		return nil, fmt.Errorf("quality: %w", err)
	}
	if !number.Positive(speed) {
		return nil, fmt.Errorf("quality: speed %v m/s: want a finite value above 0", speed)
	}
	if !(math.Abs(steer) <= math.Pi/2) {
		return nil, fmt.Errorf("quality: direction %v rad: want -π/2 to π/2", steer)
	}
	if c.Events != nil {
		return nil, fmt.Errorf("quality: capture of %d events: want transmissions of single elements", len(c.Events))
	}
	pitch, err := pitchOf(c.Array.Elements)
	if err != nil {
		return nil, err
	}
	p, err := newPulse(c.Array, c.SampleRate, band)
	if err != nil {
		return nil, err
	}
	places, own := coarray(c)
	if own {
		pitch *= 2
	}
	var lobes []Lobe
	for angle := range beam.GratingLobes(pitch, speed/c.Array.CentreFrequency, steer) {
		lobe := Lobe{Angle: angle}
		highest := 0.0
		for k := range lobeSteps {
			sin := math.Sin(steer) + (1-lobeRange*float64(k)/(lobeSteps-1))*(math.Sin(angle)-math.Sin(steer))
			if level := p.overlap(places, (sin-math.Sin(steer))/speed); level > highest {
				highest, lobe.Peak = level, math.Asin(min(max(sin, -1), 1))
			}
		}
		lobe.LevelDB = sizing.LevelDB(highest, 1)
		lobes = append(lobes, lobe)
	}
	return lobes, nil
}

// The peak of a lobe is sought over lobeRange of the distance to the main lobe, in sines, in
// lobeSteps. With a Gaussian spectrum of the standard deviation σ, as a share of the centre
// frequency, the peak lies σ² of the distance inside: 0.06 at a bandwidth of 60 %.
const lobeRange, lobeSteps = 0.2, 21

// pitchOf returns the pitch of a line of equal steps along x.
func pitchOf(elements []r3.Vec) (float64, error) {
	if len(elements) < 2 {
		return 0, fmt.Errorf("quality: array of %d element: want at least 2", len(elements))
	}
	step := r3.Sub(elements[1], elements[0])
	for i := 1; i < len(elements); i++ {
		d := r3.Sub(elements[i], elements[i-1])
		if !(d.X > 0) || r3.Norm(r3.Sub(d, step)) > 1e-3*step.X || math.Hypot(d.Y, d.Z) > 1e-3*d.X {
			return 0, fmt.Errorf("quality: element %d at %v m, %v m from the one before: want equal steps along x", i, elements[i], d)
		}
	}
	return step.X, nil
}

// place is a sum of the x of a transmitter and a receiver, in m, with its share of the pairs.
type place struct{ x, share float64 }

// coarray returns the places of the pairs of c, equal places together. It sets own if each pair is
// one element.
func coarray(c *fmc.Capture) (places []place, own bool) {
	own = true
	half := c.Layout() == fmc.Half
	index := make(map[int64]int)
	total := 0.0
	for _, pair := range c.Pairs {
		weight := 1.0
		if half && pair.Tx != pair.Rx {
			weight = 2
		}
		own = own && pair.Tx == pair.Rx
		x := c.Array.Elements[pair.Tx].X + c.Array.Elements[pair.Rx].X
		const nanometre = 1e-9
		key := int64(math.Round(x / nanometre))
		i, found := index[key]
		if !found {
			i = len(places)
			index[key] = i
			places = append(places, place{x: x})
		}
		places[i].share += weight
		total += weight
	}
	for i := range places {
		places[i].share /= total
	}
	return places, own
}

// overlap returns the highest envelope of the sum of pulses that are delayed by delay (s/m) times
// their places.
func (p *pulse) overlap(places []place, delay float64) float64 {
	first, last := math.Inf(1), math.Inf(-1)
	for _, q := range places {
		first, last = min(first, q.x*delay), max(last, q.x*delay)
	}
	highest := 0.0
	const step = finer / 2 // half a sample: the envelope changes slowly
	for t := first; t <= last; t += step / p.rate {
		var sum complex128
		for _, q := range places {
			sum += complex(q.share, 0) * p.at(t-q.x*delay)
		}
		highest = max(highest, cmplx.Abs(sum))
	}
	return highest
}
