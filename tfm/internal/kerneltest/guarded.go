// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package kerneltest runs kernels in assembly between unreadable pages.
//
//	k = kerneltest.Guarded[int16](t, k, samples)
//
// From then on, an access of k outside its buffers fails the test.
package kerneltest

import (
	"math"
	"slices"
	"sync"
	"testing"
	"unsafe"

	"github.com/isochron-imaging/isochron/internal/guard"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
)

// guarded runs assembly on copies of its buffers between unreadable pages, once for each side of
// the buffers. It may be used concurrently.
type guarded struct {
	t      *testing.T
	lock   sync.Mutex
	memory []*guard.Memory // one for each side
}

func newGuarded(t *testing.T) *guarded {
	g := &guarded{t: t}
	for _, side := range guard.Sides {
		g.memory = append(g.memory, guard.New(t, side))
	}
	return g
}

// do calls the function do once for each side, and reports accesses outside the buffers. Then it
// calls the function that do returned last, which copies the results to the caller's memory.
func (g *guarded) do(what string, do func(m *guard.Memory) (results func())) {
	g.t.Helper()
	g.lock.Lock()
	defer g.lock.Unlock()
	results := func() {}
	for _, m := range g.memory {
		m.Reset()
		if err := m.Run(func() { results = do(m) }); err != nil {
			g.t.Errorf("%s: %v", what, err)
		}
	}
	results()
}

// Guarded returns a kernel that calls k with all buffers between unreadable pages. A trace has the
// given number of samples.
func Guarded[S window.Sample](t *testing.T, k window.Kernel, samples int) window.Kernel {
	g := newGuarded(t)
	way := func(name string, way func(*window.Run)) func(*window.Run) {
		return func(r *window.Run) {
			t.Helper()
			g.do(name, func(m *guard.Memory) func() {
				run := guardedRun[S](m, r, samples)
				acc := accumulators(run)
				way(run)
				return func() { copy(accumulators(r), acc) }
			})
		}
	}
	guarded := window.Kernel{
		Joint: way("joint", k.Joint),
		Split: way("split", k.Split),
		Pairs: k.Pairs,
	}
	if k.Write != nil {
		guarded.Write = func(dst *complex64, stride uintptr, acc *float32, unit float32) {
			t.Helper()
			g.do("write", func(m *guard.Memory) func() {
				return guardedWrite(m, k.Write, dst, stride, acc, unit)
			})
		}
	}
	return guarded
}

// accumulators returns the accumulators of all blocks of r.
func accumulators(r *window.Run) []float32 {
	return unsafe.Slice(r.Acc, r.Blocks*2*window.Pixels)
}

// guardedRun returns r with all buffers in m.
func guardedRun[S window.Sample](m *guard.Memory, r *window.Run, samples int) *window.Run {
	run := &guard.Copy(m, "run", []window.Run{*r})[0]
	segments := unsafe.Slice(r.Segments, r.Count)
	lookups := 0
	for _, s := range segments {
		lookups += int(s.Count)
		if s.Second != window.Alone {
			lookups += int(s.Count)
		}
	}
	bytes := func(name string, first unsafe.Pointer, stride uintptr) unsafe.Pointer {
		all := unsafe.Slice((*byte)(first), r.Blocks*int(stride))
		return unsafe.Pointer(&guard.Copy(m, name, all)[0])
	}
	run.Acc = &guard.Copy(m, "accumulators", accumulators(r))[0]
	run.TxOffsets = bytes("transmitters' offsets", r.TxOffsets, r.TxOffsetStride)
	run.RxOffsets = bytes("receivers' offsets", r.RxOffsets, r.RxOffsetStride)
	run.TxBases = (*int32)(bytes("transmitters' bases", unsafe.Pointer(r.TxBases), r.TxBaseStride))
	run.RxBases = (*int32)(bytes("receivers' bases", unsafe.Pointer(r.RxBases), r.RxBaseStride))
	run.Segments = &guard.Copy(m, "segments", segments)[0]
	entries := guard.Copy(m, "entries", unsafe.Slice(r.Entries, lookups))
	run.Entries = &entries[0]
	guardTraces[S](m, run, entries, samples)
	return run
}

// guardTraces gives each lookup a trace of its own. Its real and its imaginary parts stand between
// unreadable pages, each with the padding that a kernel may read and must not use.
func guardTraces[S window.Sample](
	m *guard.Memory, run *window.Run, entries []window.Entry, samples int,
) {
	var planes [][]S
	for _, e := range entries {
		re := unsafe.Add(run.Traces, uintptr(e.Line)*window.Line)
		for _, first := range []unsafe.Pointer{re, unsafe.Add(re, run.Plane)} {
			plane := slices.Clone(unsafe.Slice((*S)(first), samples))
			padding := slices.Repeat([]S{unusable[S]()}, window.Padding)
			planes = append(planes, slices.Concat(plane, padding))
		}
	}
	planes, stride := guard.Rows(m, "traces", planes...)
	for i, e := range entries {
		entries[i] = window.NewEntry(int(e.Rx), 2*i*stride)
	}
	run.Traces, run.Plane = unsafe.Pointer(&planes[0][0]), uintptr(stride)
}

// unusable returns a sample whose use in a sum would be visible.
func unusable[S window.Sample]() (s S) {
	switch s := any(&s).(type) {
	case *int16:
		*s = math.MinInt16
	case *float32:
		*s = float32(math.NaN())
	}
	return s
}

// guardedWrite writes a block to rows in m. It returns a function that copies the rows to dst.
func guardedWrite(
	m *guard.Memory, write func(*complex64, uintptr, *float32, float32),
	dst *complex64, stride uintptr, acc *float32, unit float32,
) func() {
	var image [window.Rows][]complex64
	for r := range image {
		first := unsafe.Add(unsafe.Pointer(dst), uintptr(r)*stride)
		image[r] = unsafe.Slice((*complex64)(first), window.Cols)
	}
	rows, distance := guard.Rows(m, "image", image[:]...)
	sums := guard.Copy(m, "accumulators", unsafe.Slice(acc, 2*window.Pixels))
	write(&rows[0][0], uintptr(distance), &sums[0], unit)
	return func() {
		for r, row := range rows {
			copy(image[r], row)
		}
	}
}
