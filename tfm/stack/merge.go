// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
)

// Merge joins parts of a scan into the stack whose .json file is called name. It returns the
// indices of the holes: the frames, from the first to the last frame of the parts, that no part has
// imaged, refused or found missing. The parts are stacks, finished or not, that were made with the
// same layout and the same plans. Their order does not matter, and a merged stack may be merged
// again.
//
// If the parts cover the scan, the result has the bytes of one run over the whole scan. Parts may
// overlap: a frame that two parts hold must have the same bytes, position, time and samples in
// both. A frame that one part holds and another found missing is an error too.
//
// The parts are not changed. A merge that was killed is repeated with the same call.
func Merge(name string, parts ...string) (holes []int, err error) {
	if len(parts) == 0 {
		return nil, errors.New("stack: no parts to merge: want at least one")
	}
	if slices.Contains(parts, name) {
		return nil, fmt.Errorf("stack: %s is the result and a part: want another name", name)
	}
	whole, err := hull(parts)
	if err != nil {
		return nil, err
	}
	w, err := Create(name, &whole.layout, whole.from, whole.to)
	if err != nil {
		return nil, err
	}
	defer w.Close()
	for _, part := range parts {
		if err := w.add(part); err != nil {
			return nil, err
		}
	}
	for i := range w.table.entries {
		if w.table.entries[i].state == NotImaged {
			holes = append(holes, w.table.from+i)
		}
	}
	return holes, w.commit()
}

// hull returns a table without frames, whose range holds the ranges of all parts.
func hull(parts []string) (*table, error) {
	var whole *table
	for _, part := range parts {
		s, err := Open(part)
		if err != nil {
			return nil, err
		}
		t := s.table
		if err := s.Close(); err != nil {
			return nil, fmt.Errorf("stack: %s: %w", part, err)
		}
		if whole == nil {
			whole = newTable(&t.layout, t.from, t.to)
		}
		if err := whole.difference(t); err != nil {
			return nil, fmt.Errorf("stack: %s and %s: %w", parts[0], part, err)
		}
		whole.from, whole.to = min(whole.from, t.from), max(whole.to, t.to)
	}
	return whole, nil
}

// add adds the frames of a part.
func (w *Writer) add(part string) error {
	s, err := Open(part)
	if err != nil {
		return err
	}
	for i := range s.table.entries {
		if err = w.addFrame(s, i); err != nil {
			err = fmt.Errorf("%w (in %s)", err, part)
			break
		}
	}
	return errors.Join(err, s.Close())
}

// addFrame adds entry i of a stack.
func (w *Writer) addFrame(s *Stack, i int) error {
	e, index := s.table.entries[i], s.table.from+i
	held := &w.table.entries[index-w.table.from]
	if e.state == NotImaged {
		return nil
	}
	if held.state != NotImaged {
		if e.state != held.state || e.reason != held.reason || e.values != held.values {
			return fmt.Errorf("stack: frame %d is %v %q with the checksum %08x, and in another part %v %q with %08x: want the same",
				index, e.state, e.reason, e.values, held.state, held.reason, held.values)
		}
		if err := held.conflict(index, &e); err != nil || e.state != Imaged {
			return err
		}
	}
	switch e.state {
	case Missing:
		*held, w.stale = e, true
		return nil
	case Refused:
		return w.put(index-w.table.from, e)
	}
	return w.addImages(s, i, held.state == Imaged)
}

// addImages adds the images of entry i of a stack, or compares them with the images that w holds.
func (w *Writer) addImages(s *Stack, i int, compare bool) (err error) {
	e, index := s.table.entries[i], s.table.from+i
	if compare {
		if err := w.read(index - w.table.from); err != nil {
			return err
		}
	}
	same := true
	if err := s.read(index, func(values, states []byte) {
		if compare {
			same = bytes.Equal(values, w.codec.values) && bytes.Equal(states, w.codec.states)
			return
		}
		copy(w.codec.values, values)
		copy(w.codec.states, states)
	}); err != nil {
		return err
	}
	switch {
	case !same:
		return fmt.Errorf("stack: frame %d has other values than in another part: want the same", index)
	case compare:
		return nil
	}
	return w.put(index-w.table.from, e)
}
