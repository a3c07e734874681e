// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"slices"

	"github.com/isochron-imaging/isochron/internal/vector"
)

// closeScale is the least ratio of the strongest samples of two views in 16 bits that share packed
// traces: -1 dB. The weaker view is then rounded to steps that are up to 1 dB coarser than its own
// steps. In the tests of the errors of [Fixed16] steps of 1 dB more change nothing that can be
// told from chance. Steps of 3 dB more exceed a bound. Many views of a capture read the same
// strongest echo, and have the same steps.
const closeScale = 0.89

// sharing is all views of a scratch in 16 bits that sum the same traces. In each frame, views of
// close scales read the packed traces of one of them, the lender. The lenders follow from the
// samples of the frame alone. The traces are packed for the lenders of the last frame. If those
// turn out to be others, the traces are packed again.
type sharing struct{ members []*member }

// member is a view in 16 bits. It packs no traces while it has a lender other than itself.
type member struct {
	view      *viewScratch
	frame     *frame16 // made for the view
	strongest float32  // sample that the view reads, in the frame in hand
	lender    *member  // whose traces it reads
	next      *member  // the right lender for the frame in hand
}

// add adds v, and reports whether it sums the same traces as the members.
func (s *sharing) add(v *viewScratch) bool {
	frame, ok := v.frames[0].(*frame16)
	if !ok || len(v.frames) > 1 {
		return false
	}
	if len(s.members) > 0 && !s.members[0].view.plan.sumsTracesOf(v.plan) {
		return false
	}
	s.members = append(s.members, &member{view: v, frame: frame})
	return true
}

// begin lets all members share. Most often this is right for the first frame.
func (s *sharing) begin() {
	for _, m := range s.members {
		m.frame.readers = slices.Grow(m.frame.readers, len(s.members)) // so that regroup does not allocate
		m.next = s.members[0]
	}
	s.lend()
}

// regroup finds the lenders for the frame in hand, whose traces have been packed. It reports
// whether the lenders have changed, so that the traces must be packed again.
func (s *sharing) regroup() (changed bool) {
	for _, m := range s.members {
		m.strongest, m.next = vector.Peak(m.frame.own.peaks), nil
	}
	for s.findLender() {
	}
	for _, m := range s.members {
		changed = changed || m.next != m.lender
	}
	if changed {
		s.lend()
	}
	return changed
}

// findLender finds the lender of the strongest member without one, and of all members close to
// it. It reports whether there was such a member.
func (s *sharing) findLender() bool {
	strongest, lender := float32(-1), (*member)(nil)
	for _, m := range s.members {
		if m.next == nil {
			strongest = max(strongest, m.strongest)
		}
	}
	for _, m := range s.members {
		if m.next != nil || m.strongest < closeScale*strongest {
			continue
		}
		if lender == nil {
			lender = m
		}
		m.next = lender
	}
	return lender != nil
}

// lend gives each member the frame of its next lender, which packs what all its readers read.
func (s *sharing) lend() {
	for _, m := range s.members {
		m.lender = m.next
		m.frame.clearReaders()
		m.view.frames[0], m.view.borrows = m.lender.frame, m.lender != m
	}
	for _, m := range s.members {
		m.lender.frame.addReader(m.frame.own)
	}
}

// share finds the views that may share packed traces.
func (s *Scratch) share() {
	for _, v := range s.views {
		if !slices.ContainsFunc(s.sharings, func(sh *sharing) bool { return sh.add(v) }) {
			if sh := new(sharing); sh.add(v) {
				s.sharings = append(s.sharings, sh)
			}
		}
	}
	for _, sh := range s.sharings {
		sh.begin()
	}
	s.order, s.batches = make([]int, 0, len(s.views)), make([][]int, 0, len(s.views))
	s.batch()
}

// regroup finds out which views share packed traces in the frame in hand, and reports whether this
// has changed.
func (s *Scratch) regroup() (changed bool) {
	for _, sh := range s.sharings {
		changed = sh.regroup() || changed
	}
	if changed {
		s.batch()
	}
	return changed
}

// batch sorts the views by the traces that they read.
func (s *Scratch) batch() {
	s.order, s.batches = s.order[:0], s.batches[:0]
	for i, v := range s.views {
		if slices.Contains(s.order, i) {
			continue
		}
		from := len(s.order)
		for k := i; k < len(s.views); k++ {
			if s.views[k].frames[0] == v.frames[0] {
				s.order = append(s.order, k)
			}
		}
		s.batches = append(s.batches, s.order[from:])
	}
}
