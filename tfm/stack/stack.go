// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"sort"

	"github.com/isochron-imaging/isochron/tfm"
)

// Stack reads the images of a scan. Open it with [Open]. It is safe for concurrent use until Close.
type Stack struct {
	table   *table
	repeats []int // of each entry: the index of the frame that it repeats, or -1
	values  array
	states  array
}

// Open opens the stack whose .json file is called name. A stack that is still being made is opened
// as it is now: the frames to come are [NotImaged]. On Unix-like systems the arrays are mapped into
// memory, so the stack may be larger than the memory.
//
// Every fault of a file is an error: malformed, truncated or oversized files, and every
// disagreement of the files. The checksum of a frame is checked when the frame is read.
func Open(name string) (*Stack, error) {
	names, err := namesOf(name)
	if err != nil {
		return nil, err
	}
	s := new(Stack)
	if err := s.open(names); err != nil {
		return nil, errors.Join(fmt.Errorf("stack: %s: %w", name, err), s.Close())
	}
	return s, nil
}

func (s *Stack) open(names names) (err error) {
	if s.table, err = readTable(names); err != nil {
		return err
	}
	t := s.table
	l, frames := &t.layout, t.to-t.from
	values, states := l.headers(frames)
	if err := s.values.open(names.values, values, l.frameBytes(), frames); err != nil {
		return err
	}
	s.repeats = repeats(t)
	if l.FrameStates {
		return s.states.open(names.states, states, l.pixels(), frames)
	}
	if err := s.states.open(names.states, states, l.pixels(), 1); err != nil {
		return err
	}
	found := uint32(0)
	if err := s.states.view(0, func(b []byte) { found = sum(0, b); l.setViewStates(b) }); err != nil {
		return err
	}
	if found != t.states {
		return fmt.Errorf("%s with the checksum %08x: want %08x", names.states, found, t.states)
	}
	return nil
}

// readTable reads the table of a stack, or its journal if there is no table yet.
func readTable(names names) (*table, error) {
	text, err := readFile(names.table)
	if err == nil {
		return parseTable(text)
	}
	if errors.Is(err, os.ErrNotExist) {
		if text, err := readFile(names.journal); err == nil {
			t, _, err := parseJournal(text)
			return t, err
		}
	}
	return nil, err
}

// setViewStates sets the states of the views. A view whose pixels have no states gets none.
func (l *Layout) setViewStates(b []byte) {
	n := l.Grid.Len()
	for i := range l.Views {
		part := b[i*n : (i+1)*n]
		if !slices.ContainsFunc(part, func(s byte) bool { return s != 0 }) {
			continue
		}
		states := make([]tfm.State, n)
		for p, s := range part {
			states[p] = tfm.State(s)
		}
		l.Views[i].States = states
	}
}

// repeats returns, for each entry, the lowest index of an imaged frame of the same line that is
// closer than half the pitch, if it is below the index of the entry, and otherwise -1.
func repeats(t *table) []int {
	result := make([]int, len(t.entries))
	var order []int // of the imaged entries: by line, then by position
	for i := range t.entries {
		result[i] = -1
		if t.entries[i].state == Imaged {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := &t.entries[a], &t.entries[b]
		return cmp.Or(cmp.Compare(x.across, y.across), cmp.Compare(x.position, y.position))
	})
	near := func(j, k int) bool { // of two places in the order
		x, y := &t.entries[order[j]], &t.entries[order[k]]
		return x.across == y.across && math.Abs(x.position-y.position) < t.layout.Pitch/2
	}
	for k, i := range order {
		lowest := i
		for j := sort.Search(k, func(j int) bool { return near(j, k) }); j < len(order) && near(j, k); j++ {
			lowest = min(lowest, order[j])
		}
		if lowest < i {
			result[i] = t.from + lowest
		}
	}
	return result
}

// Layout returns what the stack holds. The caller owns it.
func (s *Stack) Layout() *Layout {
	l := s.table.layout.clone()
	return &l
}

// Range returns the range of the frames that the stack has room for: from to to-1.
func (s *Stack) Range() (from, to int) { return s.table.from, s.table.to }

// Frame returns what is known of the frame of an index. A frame beyond the range of the stack is
// NotImaged.
func (s *Stack) Frame(index int) Frame {
	i := index - s.table.from
	if i < 0 || i >= len(s.table.entries) {
		return unknown.frame(index, -1)
	}
	return s.table.entries[i].frame(index, s.repeats[i])
}

// frame returns the entry as users see it.
func (e *entry) frame(index, repeats int) Frame {
	return Frame{
		Index: index, State: e.state, Position: e.position, Across: e.across, Time: e.time,
		Repeats: repeats, Reason: e.reason, Samples: e.samples,
	}
}

// Envelope writes the image of a frame in a view to dst and returns dst. A nil dst is allocated.
// Otherwise its memory is used again if it is long enough. Pixels without a value have the state
// [tfm.Blank]. A frame that is not [Imaged] is an error, because its pixels are not zero: nothing
// is known of them.
func (s *Stack) Envelope(dst *tfm.Envelope, frame, view int) (*tfm.Envelope, error) {
	l := &s.table.layout
	if view < 0 || view >= len(l.Views) {
		return nil, fmt.Errorf("stack: view %d: want 0 to %d", view, len(l.Views)-1)
	}
	if dst == nil {
		dst = new(tfm.Envelope)
	}
	n := l.Grid.Len()
	*dst = tfm.Envelope{Grid: l.Grid, Data: slices.Grow(dst.Data[:0], n)[:n], States: dst.States}
	err := s.read(frame, func(values, states []byte) {
		l.decodeAmplitudes(dst.Data, view, values[view*n*l.Values.size():])
		dst.States = l.appendStates(dst.States[:0], view, states)
	})
	if err != nil {
		return nil, err
	}
	return dst, nil
}

// appendStates appends the states of a view of a frame, or returns nil if no pixel has any. states
// holds the states of the frame, if each frame has its own.
func (l *Layout) appendStates(dst []tfm.State, view int, states []byte) []tfm.State {
	if !l.FrameStates {
		if l.Views[view].States == nil {
			return nil
		}
		return append(dst, l.Views[view].States...)
	}
	n := l.Grid.Len()
	for _, s := range states[view*n : (view+1)*n] {
		dst = append(dst, tfm.State(s))
	}
	return dst
}

// read calls use with the bytes of an imaged frame, after it has checked them. states is nil if all
// frames have the same states.
func (s *Stack) read(frame int, use func(values, states []byte)) error {
	f := s.Frame(frame)
	if f.State != Imaged {
		return fmt.Errorf("stack: frame %d is %v: want a frame that is %v", frame, f.State, Imaged)
	}
	i := frame - s.table.from
	e := &s.table.entries[i]
	found := uint32(0)
	checked := func(values, states []byte) {
		if found = sum(sum(0, values), states); found == e.values {
			use(values, states)
		}
	}
	err := s.view(i, checked)
	if err == nil && found != e.values {
		err = fmt.Errorf("bytes with the checksum %08x: want %08x", found, e.values)
	}
	if err != nil {
		return fmt.Errorf("stack: frame %d: %w", frame, err)
	}
	return nil
}

// view calls use with the bytes of an entry.
func (s *Stack) view(i int, use func(values, states []byte)) error {
	if s.values.file == nil {
		return errClosed
	}
	if !s.table.layout.FrameStates {
		return s.values.view(i, func(values []byte) { use(values, nil) })
	}
	var inner error
	err := s.values.view(i, func(values []byte) {
		inner = s.states.view(i, func(states []byte) { use(values, states) })
	})
	return errors.Join(err, inner)
}

// Close closes the files.
func (s *Stack) Close() error { return errors.Join(s.values.close(), s.states.close()) }
