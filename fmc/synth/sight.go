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

// add adds the echo of a group in one view and for one pair to the signal.
func (w *scanWorker) add(one sight, e *groupEcho) {
	time := e.out.time + e.back.time
	if one.group.point() {
		w.addEnd(one, e, one.from, 1)
		return
	}
	if one.from < 0 && one.to >= 0 {
		copy(w.spectrum, e.spectrum)
		w.place(time, one.group)
	}
	w.addEnd(one, e, one.to, 1)
	w.addEnd(one, e, one.from, -1)
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
	weight := sign * spreading1 * spreading2
	steep, zones := length*slowness, math.Sqrt(math.Pi*bend)*length
	for k, f := range s.band.frequencies {
		w.spectrum[k] = e.spectrum[k] * s.elevation.at(table, zones*math.Sqrt(f), steep*f) * complex(weight, 0)
	}
	w.place(e.out.time+e.back.time+delay1+delay2, g)
}

// place adds an echo with the spectrum of w at a time to the signal.
func (w *scanWorker) place(time float64, g *group) {
	s := w.scan
	c := s.walls
	start := int(math.Floor((time - c.FirstSample - s.lead(g.strip) - s.reach) * c.SampleRate))
	if start >= c.Samples || start+s.band.length <= 0 {
		return
	}
	phase, advance := s.band.turns(time - c.FirstSample - float64(start)/c.SampleRate)
	for k, v := range w.spectrum {
		w.spectrum[k] = v * phase
		phase *= advance
	}
	s.band.fill(w.bins, w.spectrum)
	w.transform.Sequence(w.burst, w.bins)
	from := max(0, -start)
	to := min(len(w.burst), c.Samples-start)
	signal := w.signal[start+from : start+to]
	for k, v := range w.burst[from:to] {
		signal[k] += v
	}
}
