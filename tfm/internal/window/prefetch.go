// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import (
	"slices"
	"unsafe"
)

// Group notes the delays of each element in groups of blocks, for [Adder.Prefetch]: group g has
// the blocks starts[g] to starts[g+1]-1. It must be called before Planned.
func (l *Layout) Group(starts []int) {
	l.groups = len(starts) - 1
	for i := range l.spans {
		if i > 0 && l.Rx == l.Tx {
			l.spans[i] = l.spans[0]
			continue
		}
		l.spans[i] = l.bounds[i].group(starts, len(l.Blocks))
	}
}

// group returns the bounds of each element in each group of the given number of blocks.
func (b bounds) group(starts []int, blocks int) bounds {
	groups, elements := len(starts)-1, len(b.first)/blocks
	grouped := bounds{first: make([]int32, elements*groups), last: make([]int32, elements*groups)}
	for e := range elements {
		of, to := b.of(e, blocks), grouped.of(e, groups)
		for g := range groups {
			to.first[g], to.last[g] = slices.Min(of.first[starts[g]:starts[g+1]]), slices.Max(of.last[starts[g]:starts[g+1]])
		}
	}
	return grouped
}

// ahead is how far windows reach beyond the last delay of a group, half a window.
const ahead = 16

// looksUp returns the range of samples that a transmitter and a receiver look up in a group. A
// window may reach a few samples beyond it.
func (l *Layout) looksUp(group, tx, rx int) Range {
	sent, received := tx*l.groups+group, rx*l.groups+group
	first := int64(l.spans[0].first[sent]) + int64(l.spans[1].first[received])
	last := int64(l.spans[0].last[sent]) + int64(l.spans[1].last[received])
	from, to := max(first, 0), min(last+ahead, int64(l.samples))
	if first > last || from >= to {
		return Range{}
	}
	return Range{int(from), int(to)}
}

// stream is memory of a trace with one number after the other: real or imaginary parts, their low
// or high bytes, or both parts in turn.
type stream struct {
	offset uintptr // bytes from the begin of the trace
	size   uintptr // bytes of a sample
}

// streams returns the streams of a trace of all layers.
func (t *Traces[S]) streams(f Format) (all []stream) {
	var s S
	room, size := uintptr(t.Plane)*unsafe.Sizeof(s), unsafe.Sizeof(s)
	add := func(from, to, size, step uintptr) {
		for ; from < to; from += step {
			all = append(all, stream{from, size})
		}
	}
	end := uintptr(2*(1+t.More)) * room
	switch {
	case t.Narrow && t.More > 0:
		add(0, 2*room, size, room)
		add(2*room, 4*room, size/2, room/uintptr(t.More))
	case f.Interleaved:
		add(0, end, 2*size, 2*room)
	case f.Bytes:
		add(0, end, 1, room/2)
	default:
		add(0, end, size, room)
	}
	return all
}

// Prefetch asks the processor for the samples that the blocks of a group look up for c. They
// arrive in the second-level cache while the processor sums other lookups. Without [Layout.Group]
// it does nothing.
func (a *Adder[S]) Prefetch(group int, c *Chunk) {
	l := a.Layout
	if l.groups == 0 {
		return
	}
	for tx, e := range c.lookups {
		r := l.looksUp(group, l.Tx.element(tx), l.Rx.element(int(e.Rx)))
		if r.From == r.To {
			continue
		}
		begin := unsafe.Pointer(&a.Traces.Data[trace[S](e)])
		for _, s := range a.streams {
			prefetch(unsafe.Add(begin, s.offset+uintptr(r.From)*s.size), uintptr(r.To-r.From)*s.size)
		}
	}
}
