// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"context"
	"math"

	"github.com/isochron-imaging/isochron/internal/parallel"
)

// addElevation makes the tables of the beam for all groups.
func (s *Scan) addElevation(ctx context.Context, p pulse) error {
	least, most := math.Inf(1), 0.0
	for _, g := range s.groups {
		if g.nearest.bend > 0 {
			length := s.part.Scene.Length * g.stretch
			least = min(least, length*length*g.farthest.bend)
			most = max(most, length*length*g.nearest.bend)
		}
	}
	if most == 0 {
		return nil // no flaw has an echo
	}
	// At lower frequencies the pulse is below -60 dB, and the tables need not be exact.
	lowest := max(p.centre/8, p.centre-3.7*p.deviation)
	frequencies := s.band.frequencies
	highest := frequencies[len(frequencies)-1]
	var err error
	s.elevation, err = newElevation(ctx, math.Sqrt(math.Pi*lowest*least), math.Sqrt(math.Pi*highest*most),
		parallel.Options{Workers: s.recording.Workers})
	return err
}

// burst collects echoes that lie within slack of each other, so that one transform serves them all.
type burst struct {
	spectrum    []complex128
	first, last float64 // times of its echoes, s
	start       int     // sample at which its transform begins
	empty       bool
}

// slack is the largest difference of the times of echoes in a burst, in s.
const slack = 0.6e-6

// add adds the echo of a group in one view and for one pair.
func (w *scanWorker) add(one sight, e *groupEcho) {
	if w.flaw != one.group.flaw {
		w.flaw, w.known = one.group.flaw, false
	}
	if one.group.point() {
		w.addEnd(one, e, one.from, 1)
		return
	}
	if one.from < 0 && one.to >= 0 {
		w.place(e.spectrum, e.out.time+e.back.time)
	}
	w.addEnd(one, e, one.from, -1)
	w.addEnd(one, e, one.to, 1)
}

// addEnd adds the echo of one end of a group, which is u from the middle of the beam, or the echo of
// a point. The weight of an end is an odd function of u.
func (w *scanWorker) addEnd(one sight, e *groupEcho, u, sign float64) {
	s, g := w.scan, one.group
	delay1, slowness1, spreading1 := e.out.later(u)
	delay2, slowness2, spreading2 := e.back.later(u)
	slowness, bend := math.Abs(slowness1+slowness2)/2, (e.out.bend+e.back.bend)/2
	if !s.visible(g, slowness, bend) {
		return
	}
	length := s.part.Scene.Length * g.stretch
	table := s.elevation.point
	if !g.point() {
		table = s.elevation.edge
		if u < 0 {
			sign = -sign
		}
	}
	if !(w.known && u == w.end) {
		steep, zones := length*slowness, math.Sqrt(math.Pi*bend)*length
		for k, f := range s.band.frequencies {
			w.weights[k] = s.elevation.at(table, zones*s.roots[k], steep*f)
		}
	}
	w.end, w.known = u, !g.point()
	weight := complex(sign*spreading1*spreading2, 0)
	for k, v := range e.spectrum {
		w.spectrum[k] = v * w.weights[k] * weight
	}
	w.place(w.spectrum, e.out.time+e.back.time+delay1+delay2)
}

// place adds an echo at a time to the burst. If the burst is too far away, it is finished first.
func (w *scanWorker) place(spectrum []complex128, time float64) {
	s, b := w.scan, &w.burst
	if first, last := min(b.first, time), max(b.last, time); !b.empty && last-first <= slack {
		b.first, b.last = first, last
	} else {
		w.finish()
		b.first, b.last, b.empty = time, time, false
		b.start = int(math.Floor((time - s.walls.FirstSample - s.before) * s.walls.SampleRate))
		clear(b.spectrum)
	}
	phase, advance := s.band.turns(time - s.walls.FirstSample - float64(b.start)/s.walls.SampleRate)
	for k, v := range spectrum {
		b.spectrum[k] += v * phase
		phase *= advance
	}
}

// finish adds the burst to the signal.
func (w *scanWorker) finish() {
	s, b := w.scan, &w.burst
	empty := b.empty
	b.empty = true
	if empty || b.start >= s.walls.Samples || b.start+s.band.length <= 0 {
		return
	}
	s.band.fill(w.bins, b.spectrum)
	w.transform.Sequence(w.echo, w.bins)
	from := max(0, -b.start)
	to := min(len(w.echo), s.walls.Samples-b.start)
	signal := w.signal[b.start+from : b.start+to]
	for k, v := range w.echo[from:to] {
		signal[k] += v
	}
}
