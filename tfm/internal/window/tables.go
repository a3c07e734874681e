// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import "sync"

// Tables holds the delays of one path for one or several layouts. The tables are made with the
// layouts, one layout after the other, and never change afterwards. Layouts of different windows
// may need different offsets of a block: only then a block stands in more than one table.
type Tables struct {
	Elements int
	lock     sync.Mutex // guards what follows
	all      []*Table
}

// write makes sure that a table holds the delays d of block b of l, and returns its number.
func (t *Tables) write(l *Layout, b int, d *delays) uint8 {
	shared := l.Windows[l.Blocks[b].Kind].Pixels
	n, known := t.claim(l, b, uint8(shared))
	if !known {
		t.all[n].write(b, d, shared)
	}
	return n
}

// claim returns the number of a table whose windows in block b are of shared pixels, and whether
// it holds the block already. Otherwise the caller must write the block.
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
	table := newTable(l, t.Elements)
	table.shared[b] = shared
	t.all = append(t.all, table)
	return uint8(len(t.all) - 1), false
}

// newTable returns an empty table for the blocks of l.
func newTable(l *Layout, elements int) *Table {
	n := elements * len(l.Blocks)
	t := &Table{Elements: elements, shared: make([]uint8, len(l.Blocks)), Bases: make([]int32, l.parts*n)}
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
