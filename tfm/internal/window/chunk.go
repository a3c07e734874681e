// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import (
	"math"
	"unsafe"
)

// Entry is one lookup of a transmitter: the slot of a receiver ([Tables.Slot]), and the trace of
// both. A kernel loads it as one word.
type Entry struct {
	Rx   uint32
	Line uint32 // where the trace begins in the packed traces, in units of [Line] bytes
}

// Line is the unit of the place of traces in bytes.
const (
	Line     = 1 << lineBits
	lineBits = 6
)

// NewEntry returns the lookup of the receiver of slot rx in the trace that begins traceBytes into
// the packed traces. The place traceBytes is a multiple of [Line].
func NewEntry(rx, traceBytes int) Entry {
	return Entry{Rx: uint32(rx), Line: uint32(traceBytes / Line)}
}

// trace returns where the trace of e begins, in samples.
func trace[S Sample](e Entry) int {
	var s S
	return int(e.Line) * (Line / int(unsafe.Sizeof(s)))
}

// Segment gives the slots of the transmitters of the next entries in a [Chunk]. If Second is
// [Alone], Count entries of the transmitter Tx follow. Otherwise 2·Count entries follow, in turn of
// Tx and of Second. Both entries of such a pair have the same receiver.
type Segment struct {
	Tx, Second uint32
	Count      uint64 // at least 1
}

// Alone in place of a second transmitter means that there is none.
const Alone = math.MaxUint32

// MaxEntries is the largest number of lookups in a [Chunk]. A sum of so many full-scale 16-bit
// samples, with weights of 11 bits, fits into 32 bits:
//
//	32 · 32767 · 2048 = 2,147,418,112 < 2³¹
const MaxEntries = 32

// Chunk holds up to [MaxEntries] lookups, which a kernel sums in one call. The lookups of a
// transmitter, or of two transmitters, stand together.
type Chunk struct {
	Segments []Segment
	Entries  []Entry
}

// Add adds a lookup of the transmitter of slot tx to c.
func (c *Chunk) Add(tx int, e Entry) {
	c.segment(uint32(tx), Alone).Count++
	c.Entries = append(c.Entries, e)
}

// AddTwo adds two lookups to c, of the transmitters of slots tx and second with one receiver.
func (c *Chunk) AddTwo(tx, second int, e, secondEntry Entry) {
	c.segment(uint32(tx), uint32(second)).Count++
	c.Entries = append(c.Entries, e, secondEntry)
}

// segment returns the segment for lookups of the given transmitters. It adds the segment if need
// be.
func (c *Chunk) segment(tx, second uint32) *Segment {
	last := len(c.Segments) - 1
	if last < 0 || c.Segments[last].Tx != tx || c.Segments[last].Second != second {
		c.Segments = append(c.Segments, Segment{Tx: tx, Second: second})
		last++
	}
	return &c.Segments[last]
}

// clear removes all lookups and keeps the memory.
func (c *Chunk) clear() { c.Segments, c.Entries = c.Segments[:0], c.Entries[:0] }

// lookups yields each lookup of c with the slot of its transmitter.
func (c *Chunk) lookups(yield func(tx int, e Entry) bool) {
	entries := c.Entries
	for _, s := range c.Segments {
		for range s.Count {
			if !yield(int(s.Tx), entries[0]) {
				return
			}
			entries = entries[1:]
			if s.Second == Alone {
				continue
			}
			if !yield(int(s.Second), entries[0]) {
				return
			}
			entries = entries[1:]
		}
	}
}
