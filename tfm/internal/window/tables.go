// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import "sync"

// Tables holds the delays of one path for one or several layouts. The tables are made with the
// layouts, one layout after the other, and never change afterwards. Layouts of different windows
// may need different offsets of a block: only then a block stands in more than one table
// ([Layout.shared]).
type Tables struct {
	order
	lock sync.Mutex // guards what follows
	all  []*Table
}

// order is the order of the elements of a path in its tables. Elements stand in groups. A group
// holds the delays of its elements in all blocks, block after block. A chunk reads the elements of
// one group or few, so it reads the memory from its begin to its end. If each block held all
// elements, a chunk would read pieces of 1 KB with large gaps, which the processor does not
// foresee.
type order struct {
	Elements int
	group    int // elements of a group; the last group may have fewer, and room for all
	blocks   int
}

// maxGroup is the largest number of elements in a group.
const maxGroup = 16

// newOrder returns groups of about the same size.
func newOrder(elements, blocks int) order {
	groups := (elements + maxGroup - 1) / maxGroup
	return order{elements, (elements + groups - 1) / groups, blocks}
}

// Group returns the number of the group of element e.
func (o order) Group(e int) int { return e / o.group }

// Slot returns the number that stands for element e in a [Chunk]. Kernels find the delays of the
// element with it.
func (o order) Slot(e int) int { return e/o.group*o.group*o.blocks + e%o.group }

// element returns the element of a slot.
func (o order) element(slot int) int { return slot/(o.group*o.blocks)*o.group + slot%o.group }

// at returns where the delays of a slot in block b stand.
func (o order) at(b, slot int) int { return slot + b*o.group }

// places returns the number of places in a table.
func (o order) places() int { return (o.Elements + o.group - 1) / o.group * o.group * o.blocks }

// write makes sure that a table holds the delays d of block b of l, and returns its number. The
// number of pixels that share a base there is shared.
func (t *Tables) write(l *Layout, b int, d *delays, shared int) uint8 {
	n, known := t.claim(l, b, uint8(shared))
	if !known {
		t.all[n].write(b, d, shared)
	}
	return n
}

// claim returns the number of a table in which the given number of pixels of block b share a base,
// and whether the table holds the block already. Otherwise the caller must write the block.
func (t *Tables) claim(l *Layout, b int, shared uint8) (n uint8, known bool) {
	t.lock.Lock()
	defer t.lock.Unlock()
	for n, table := range t.all {
		switch table.shared[b] {
		case shared:
			return uint8(n), true
		case 0:
			table.shared[b] = shared
			return uint8(n), false
		}
	}
	table := newTable(l, t.order)
	table.shared[b] = shared
	t.all = append(t.all, table)
	return uint8(len(t.all) - 1), false
}

// number returns the number of the table that claim would return.
func (t *Tables) number(b, shared int) int {
	t.lock.Lock()
	defer t.lock.Unlock()
	for n, table := range t.all {
		if has := int(table.shared[b]); has == shared || has == 0 {
			return n
		}
	}
	return len(t.all)
}

// newTable returns an empty table for the blocks of l.
func newTable(l *Layout, o order) *Table {
	n := o.places()
	t := &Table{order: o, shared: make([]uint8, len(l.Blocks)), Bases: make([]int32, l.parts*n)}
	if l.Format.Narrow {
		t.Narrow = make([]uint16, Pixels*n)
	} else {
		t.Wide = make([]uint32, Pixels*n)
	}
	return t
}

// bytes returns the memory of t in bytes.
func (t *Tables) bytes() (n int) {
	for _, table := range t.all {
		n += 4*(len(table.Bases)+len(table.Wide)) + 2*len(table.Narrow) + len(table.shared)
	}
	return n
}
