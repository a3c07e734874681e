// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package guard gives tests buffers that stand between unreadable pages. A read or a write outside
// a buffer is then a fault, also in assembly, which checks no bounds.
//
//	for _, side := range guard.Sides {
//		m := guard.New(t, side)
//		dst, src := guard.Copy(m, "dst", dst), guard.Copy(m, "src", src)
//		if err := m.Run(func() { add(dst, src) }); err != nil {
//			t.Errorf("guard %s: %v", side, err)
//		}
//	}
//
// [Memory.Run] turns a fault into an error that names the buffer. [Toucher] tells which function
// accesses unreadable memory first, so a test can find out whether assembly or plain Go runs. A
// system without unreadable pages (see [Pages]) gives buffers in ordinary memory.
//
// # For contributors
//
// Each function in assembly has a test that gives it each buffer between unreadable pages, on both
// sides and for every remainder of a vector. It also has a row in a test TestDispatch. From the
// features of the processor this test derives which function must access the buffers. Where
// assembly may read padding, a constant says how much. The unreadable page then lies right behind
// the padding.
package guard

import (
	"fmt"
	"os"
	"runtime/debug"
	"testing"
	"unsafe"
)

// Side is the end of a buffer that touches an unreadable page. Another unreadable page lies less
// than one page from the other end.
type Side uint8

const (
	Before Side = iota // the first element touches the page
	Behind             // the last element touches the page
)

// Sides holds both ends. A test that uses both sees every access just outside a buffer.
var Sides = []Side{Before, Behind}

// String returns "before" or "behind".
func (s Side) String() string { return [...]string{"before", "behind"}[s] }

// Memory makes buffers between unreadable pages. It must not be used concurrently.
type Memory struct {
	tb   testing.TB
	side Side
	used []buffer
	free map[shape][]*mapping
}

// shape is the size of a mapping: rows of pages. An unreadable page lies before each row, and one
// behind the last row.
type shape struct{ rows, pages int }

// stride returns the distance from a row to the next one in bytes.
func (s shape) stride() int { return (s.pages + 1) * os.Getpagesize() }

type mapping struct {
	shape
	bytes []byte
}

// buffer is a mapping in use. Each row has size bytes. In the first row they begin at first.
type buffer struct {
	*mapping
	name        string
	first, size int
}

// New returns memory whose buffers touch an unreadable page at the given side. It is unmapped at
// the end of the test.
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

// Reset takes all buffers back. They must not be used any more.
func (m *Memory) Reset() {
	for _, b := range m.used {
		m.free[b.shape] = append(m.free[b.shape], b.mapping)
	}
	m.used = m.used[:0]
}

// Copy returns a copy of src between unreadable pages. The name is for error messages. The garbage
// collector does not see pointers in the copy, so src must be kept as long as the copy.
func Copy[T any](m *Memory, name string, src []T) []T {
	rows, _ := Rows(m, name, src)
	return rows[0]
}

// Rows returns copies of the slices of src, each between unreadable pages. The slices have the same
// length. The stride is the distance from the first element of a copy to the first element of the
// next copy, in bytes.
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

// fault is the type of the panic after an access to unreadable memory.
type fault interface {
	error
	Addr() uintptr
}

// Run calls do. It returns an error if do accesses unreadable memory. Accesses by other goroutines
// that do starts are not seen.
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

// explain returns the error for an access at an address. It names the buffer next to the address.
// Some processors report the first address of the page instead of the address.
func (m *Memory) explain(address uintptr) error {
	for _, b := range m.used {
		at := int(address - uintptr(unsafe.Pointer(&b.bytes[0])))
		if at < 0 || at >= len(b.bytes) {
			continue
		}
		row, within := at/b.stride(), at%b.stride()
		if within < os.Getpagesize() && row > 0 && (row == b.rows || m.side == Behind) {
			row, within = row-1, within+b.stride() // the page lies behind the row as well
		}
		what := fmt.Sprintf("%d bytes before", b.first-within)
		if within >= b.first {
			what = fmt.Sprintf("%d bytes behind", within-b.first-b.size)
		}
		return fmt.Errorf("access %s row %d of %s, which has %d bytes", what, row, b.name, b.size)
	}
	return fmt.Errorf("access at %#x, which is in no buffer", address)
}
