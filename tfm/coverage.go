// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/internal/vector"
	"github.com/isochron-imaging/isochron/wedge"
)

// coverage finds which pixels miss pairs, because they have no ray or because their echo is not in
// the record.
type coverage struct {
	tx, rx              *wedge.Times
	senders, receivers  []int // rows of the tables that take part, ascending
	lookups             []lookup
	complete            bool // whether each sender is looked up with each receiver
	workers             int
	unsent              State   // the state of a pixel to which a sender has no time
	first, rate, length float64 // of the record: s, Hz, samples
}

// newCoverage returns the coverage of p. Pairs of weight 0 do not count.
func newCoverage(p *Plan, c *fmc.Capture, tx, rx *wedge.Times) *coverage {
	unsent := NoRay
	if c.Events != nil {
		unsent = PartlyInsonified
	}
	v := &coverage{workers: p.workers, unsent: unsent, tx: tx, rx: rx, first: c.FirstSample, rate: c.SampleRate, length: float64(c.Samples - 1)}
	for _, l := range p.lookups {
		t := p.traces[l.trace]
		if t.terms[0].weight != 0 || t.terms[1].weight != 0 {
			v.lookups = append(v.lookups, l)
			v.senders, v.receivers = append(v.senders, l.tx), append(v.receivers, l.rx)
		}
	}
	if tx == rx { // i→j stands for j→i
		v.senders = append(v.senders, v.receivers...)
		v.receivers = v.senders
	}
	v.senders, v.receivers = distinct(v.senders), distinct(v.receivers)
	n, m := len(v.senders), len(v.receivers)
	v.complete = len(v.lookups) == n*m
	if tx == rx {
		v.complete = len(v.lookups) == n*(n+1)/2
	}
	return v
}

// distinct returns the values of s, ascending, each once.
func distinct(s []int) []int { return slices.Compact(slices.Sorted(slices.Values(s))) }

// coverageBlock is the number of pixels whose times are read at a time.
const coverageBlock = 1024

// spans holds, for a block of pixels, the range of the times of one path over the
// elements that take part, in s.
type spans struct {
	least, most [coverageBlock]float32
	missing     [coverageBlock]bool // whether an element has no ray
}

// read sets s to the times of rows to n pixels from pixel from on.
func (s *spans) read(t *wedge.Times, rows []int, from, n int) {
	least, most, missing := s.least[:n], s.most[:n], s.missing[:n]
	inf := float32(math.Inf(1))
	for i := range n {
		least[i], most[i], missing[i] = inf, -inf, false
	}
	for _, e := range rows {
		seconds := t.Seconds[e*t.Points+from:][:n]
		vector.Extend(least, most, seconds)
		if t.Missing == 0 {
			continue
		}
		for i, v := range seconds {
			if v != v {
				missing[i] = true
			}
		}
	}
}

// mark adds the states of all pixels to states. It returns the time from the first time of flight
// to time 0, in s, and 0 if no time is negative.
func (v *coverage) mark(states []State) (early float64) {
	blocks := (len(states) + coverageBlock - 1) / coverageBlock
	earliest := make([]float32, blocks)
	parallel.Each(v.workers, blocks, func() func(int) {
		sent, received := new(spans), new(spans)
		if v.tx == v.rx {
			received = sent
		}
		return func(block int) {
			from := block * coverageBlock
			n := min(coverageBlock, len(states)-from)
			sent.read(v.tx, v.senders, from, n)
			if received != sent {
				received.read(v.rx, v.receivers, from, n)
			}
			least := float32(0)
			for i := range n {
				states[from+i] |= v.state(from+i, i, sent, received)
				least = min(least, sent.least[i], received.least[i])
			}
			earliest[block] = least
		}
	})
	return -float64(slices.Min(earliest))
}

// sample returns where the record is at the sum of two times, in samples.
func (v *coverage) sample(sent, received float32) float64 {
	return (float64(sent) + float64(received) - v.first) * v.rate
}

// state returns the state of pixel p, which has the index i in the spans.
func (v *coverage) state(p, i int, sent, received *spans) State {
	if len(v.lookups) == 0 {
		return Blank
	}
	if sent.least[i] > sent.most[i] || received.least[i] > received.most[i] {
		return NoRay | Blank
	}
	first := v.sample(sent.least[i], received.least[i])
	last := v.sample(sent.most[i], received.most[i])
	if first >= 0 && last < v.length && !sent.missing[i] && !received.missing[i] {
		return 0
	}
	if !v.complete || first < 0 && last >= v.length {
		return v.exact(p)
	}
	var s State
	if sent.missing[i] {
		s |= v.unsent
	}
	if received.missing[i] {
		s |= NoRay
	}
	if first < 0 {
		s |= BeforeRecord
	}
	if last >= v.length {
		s |= AfterRecord
	}
	if last < 0 || first >= v.length {
		s |= Blank
	}
	return s
}

// exact returns the state of pixel p from every single pair.
func (v *coverage) exact(p int) State {
	s := Blank
	for _, l := range v.lookups {
		sent, received := v.tx.Seconds[l.tx*v.tx.Points+p], v.rx.Seconds[l.rx*v.rx.Points+p]
		if sent != sent {
			s |= v.unsent
		}
		if received != received {
			s |= NoRay
		}
		switch at := v.sample(sent, received); {
		case at != at: // without a ray
		case at < 0:
			s |= BeforeRecord
		case at >= v.length:
			s |= AfterRecord
		default:
			s &^= Blank
		}
	}
	return s
}
