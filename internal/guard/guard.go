// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package guard gives tests of assembly buffers that stand between unreadable pages. A
// read or a write outside a buffer is then a fault, and [Memory.Run] turns the fault into
// an error that names the buffer. A system without such pages (see [Pages]) gets buffers
// in ordinary memory.
package guard

import (
	"fmt"
	"os"
	"runtime/debug"
	"testing"
	"unsafe"
)

// Side is the end of a buffer that touches an unreadable page. The other end has an
// unreadable page too, less than one page away.
type Side uint8

const (
	Before Side = iota // the first element touches the page
	Behind             // the last element touches the page
)

// Sides are both ends: a test that runs on each of them sees every access outside.
var Sides = []Side{Before, Behind}

// String returns "before" or "behind".
func (s Side) String() string { return [...]string{"before", "behind"}[s] }

// Memory hands out buffers between unreadable pages. It must not be used concurrently.
type Memory struct {
	tb   testing.TB
	side Side
	used []buffer
	free map[shape][]*mapping
}

// shape is the size of a mapping: rows of pages, with an unreadable page before each row
// and behind the last one.
type shape struct{ rows, pages int }

// stride returns the distance of two rows in bytes.
func (s shape) stride() int { return (s.pages + 1) * os.Getpagesize() }

type mapping struct {
	shape
	bytes []byte
}

// buffer is a mapping in use: size bytes in each row, from first on.
type buffer struct {
	*mapping
	name        string
	first, size int
}

// New returns memory whose buffers touch an unreadable page at the given side. The memory
// is unmapped at the end of the test.
func New(tb testing.TB, side Side) *Memory {
	m := &Memory{tb: tb, side: side, free: make(map[shape][]*mapping)}
	tb.Cleanup(func() {
		m.Reset()
		for _, all := range m.free {
			for _, p := range all {
				unmapPages(tb, p.bytes)
			}
		}
	})
	return m
}

// Reset takes all buffers back. None of them may be used afterwards.
func (m *Memory) Reset() {
	for _, b := range m.used {
		m.free[b.shape] = append(m.free[b.shape], b.mapping)
	}
	m.used = m.used[:0]
}

// Copy returns a copy of src between unreadable pages. The collector of garbage does not
// see pointers in the copy: src must be kept as long as it.
func Copy[T any](m *Memory, name string, src []T) []T {
	rows, _ := Rows(m, name, src)
	return rows[0]
}

// Rows returns copies of src, slices of one length, each between unreadable pages of its
// own, and the constant distance of their first elements in bytes.
func Rows[T any](m *Memory, name string, src ...[]T) (rows [][]T, stride int) {
	n := len(src[0])
	b := m.take(name, len(src), n*int(unsafe.Sizeof(*new(T))))
	for i, from := range src {
		row := unsafe.Slice((*T)(unsafe.Pointer(&b.bytes[b.first+i*b.stride()])), n)
		copy(row, from)
		rows = append(rows, row)
	}
	return rows, b.stride()
}

// take returns a buffer of rows of size bytes.
func (m *Memory) take(name string, rows, size int) buffer {
	page := os.Getpagesize()
	s := shape{rows, (size + page - 1) / page}
	var p *mapping
	if free := m.free[s]; len(free) > 0 {
		p, m.free[s] = free[len(free)-1], free[:len(free)-1]
	} else {
		p = &mapping{s, mapPages(m.tb, rows*s.stride()+page)}
		for i := range rows + 1 {
			forbid(m.tb, p.bytes[i*s.stride():][:page])
		}
	}
	b := buffer{p, name, page, size}
	if m.side == Behind {
		b.first = s.stride() - size
	}
	m.used = append(m.used, b)
	return b
}

// fault is what the runtime panics with where memory is unreadable.
type fault interface {
	error
	Addr() uintptr
}

// Run calls do. It returns an error if do, in its own goroutine, accesses memory that
// must not be accessed.
func (m *Memory) Run(do func()) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		switch r := recover().(type) {
		case nil:
		case fault:
			err = m.explain(r.Addr())
		default:
			panic(r)
		}
	}()
	do()
	return nil
}

// explain returns the error of an access at an address, with the buffer next to it. Some
// processors report the first address of the page instead.
func (m *Memory) explain(address uintptr) error {
	for _, b := range m.used {
		at := int(address - uintptr(unsafe.Pointer(&b.bytes[0])))
		if at < 0 || at >= len(b.bytes) {
			continue
		}
		row, within := at/b.stride(), at%b.stride()
		if within < os.Getpagesize() && row > 0 && (row == b.rows || m.side == Behind) {
			row, within = row-1, within+b.stride() // the page stands behind the row as well
		}
		what := fmt.Sprintf("%d bytes before", b.first-within)
		if within >= b.first {
			what = fmt.Sprintf("%d bytes behind", within-b.first-b.size)
		}
		return fmt.Errorf("access %s row %d of %s, which has %d bytes", what, row, b.name, b.size)
	}
	return fmt.Errorf("access at %#x, which is in no buffer", address)
}
