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
		w.sum.add(e.spectrum, nil, 1, e.out.time+e.back.time-w.scan.walls.FirstSample)
	}
	w.addEnd(one, e, one.from, -1)
	w.addEnd(one, e, one.to, 1)
}

// addEnd adds the echo of one end of a group, which is u from the middle of the beam, or the echo
// of a point. The weight of an end is an odd function of u.
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
		s.elevation.weights(w.weights, table, zones, steep, s.band.frequencies, s.roots)
	}
	w.end, w.known = u, !g.point()
	time := e.out.time + e.back.time + delay1 + delay2
	w.sum.add(e.spectrum, w.weights, sign*spreading1*spreading2, time-s.walls.FirstSample)
}
