// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package kerneltest runs kernels in assembly between unreadable pages.
//
//	k = kerneltest.Guarded[int16](t, k, samples)
//
// From then on, an access of k outside its buffers fails the test.
package kerneltest

import (
	"fmt"
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
	all := func(sums []func(*window.Run), layers int) (guarded []func(*window.Run)) {
		for i, sum := range sums {
			guarded = append(guarded, func(r *window.Run) {
				t.Helper()
				g.do(fmt.Sprintf("window %d, %d layers", i, layers), func(m *guard.Memory) func() {
					run := guardedRun[S](m, r, samples, layers, k.Format)
					acc := accumulators(run, layers)
					sum(run)
					return func() {
						for i, layer := range accumulators(r, layers) {
							copy(layer, acc[i])
						}
					}
				})
			})
		}
		return guarded
	}
	guarded := window.Kernel{Format: k.Format, Sums: all(k.Sums, 1), Pairs: k.Pairs}
	for i, more := range k.More {
		guarded.More[i] = all(more, 2+i)
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

// accumulators returns the accumulators of all blocks of each layer of r.
func accumulators(r *window.Run, layers int) [][]float32 {
	all := make([][]float32, layers)
	for i := range all {
		first := unsafe.Add(unsafe.Pointer(r.Acc), uintptr(i)*r.AccLayer)
		all[i] = unsafe.Slice((*float32)(first), r.Blocks*2*window.Pixels)
	}
	return all
}

// guardedRun returns r with all buffers in m.
func guardedRun[S window.Sample](m *guard.Memory, r *window.Run, samples, layers int, f window.Format) *window.Run {
	run := &guard.Copy(m, "run", []window.Run{*r})[0]
	segments := unsafe.Slice(r.Segments, r.Count)
	lookups := 0
	for _, s := range segments {
		lookups += int(s.Count)
		if s.Second != window.Alone {
			lookups += int(s.Count)
		}
	}
	entries := guard.Copy(m, "entries", unsafe.Slice(r.Entries, lookups))
	segments = guard.Copy(m, "segments", segments)
	run.Entries, run.Segments = &entries[0], &segments[0]
	acc, distance := guard.Rows(m, "accumulators", accumulators(r, layers)...)
	run.Acc, run.AccLayer = &acc[0][0], uintptr(distance)
	offset, base := 4*window.Pixels, 4
	if f.Narrow {
		offset /= 2
	}
	for _, w := range f.Windows {
		base = max(base, 4*window.Pixels/w.Pixels)
	}
	tx, rx := renumber(segments, entries)
	bytes := func(name string, first unsafe.Pointer, stride *uintptr, slots []uint32, size int) unsafe.Pointer {
		var all []byte
		for b := range r.Blocks {
			for _, slot := range slots {
				at := unsafe.Add(first, uintptr(b)**stride+uintptr(slot)*uintptr(size))
				all = append(all, unsafe.Slice((*byte)(at), size)...)
			}
		}
		*stride = uintptr(len(slots) * size)
		return unsafe.Pointer(&guard.Copy(m, name, all)[0])
	}
	run.TxOffsets = bytes("transmitters' offsets", r.TxOffsets, &run.TxOffsetStride, tx, offset)
	run.RxOffsets = bytes("receivers' offsets", r.RxOffsets, &run.RxOffsetStride, rx, offset)
	run.TxBases = (*int32)(bytes("transmitters' bases", unsafe.Pointer(r.TxBases), &run.TxBaseStride, tx, base))
	run.RxBases = (*int32)(bytes("receivers' bases", unsafe.Pointer(r.RxBases), &run.RxBaseStride, rx, base))
	switch {
	case f.Bytes:
		guardBytes(m, run, entries, samples)
	case f.Interleaved:
		guardInterleaved(m, run, entries, samples)
	default:
		guardTraces[S](m, run, entries, samples, layers)
	}
	return run
}

// renumber numbers the slots of transmitters and of receivers from 0 on, without gaps. It returns the
// slots that they had.
func renumber(segments []window.Segment, entries []window.Entry) (tx, rx []uint32) {
	number := func(slots *[]uint32, slot *uint32) {
		n := slices.Index(*slots, *slot)
		if n < 0 {
			n = len(*slots)
			*slots = append(*slots, *slot)
		}
		*slot = uint32(n)
	}
	for i := range segments {
		number(&tx, &segments[i].Tx)
		if segments[i].Second != window.Alone {
			number(&tx, &segments[i].Second)
		}
	}
	for i := range entries {
		number(&rx, &entries[i].Rx)
	}
	return tx, rx
}

// guardTraces gives each lookup a trace of its own in each layer. Its real and its imaginary parts
// stand between unreadable pages. Two layers of 16 bits stand between the same pages.
func guardTraces[S window.Sample](
	m *guard.Memory, run *window.Run, entries []window.Entry, samples, layers int,
) {
	narrow := layers > 1 && unsafe.Sizeof(*new(S)) == 4 // further layers of single precision
	count := 2 * layers
	if narrow {
		count = 4
	}
	var planes [][]S
	for _, e := range entries {
		re := unsafe.Add(run.Traces, uintptr(e.Line)*window.Line)
		for i := range count {
			first := unsafe.Add(re, uintptr(i)*run.Plane)
			plane := slices.Clone(unsafe.Slice((*S)(first), samples))
			if narrow && i >= 2 {
				to := unsafe.Slice((*int16)(unsafe.Pointer(&plane[0])), 2*samples)
				copy(to, unsafe.Slice((*int16)(first), samples))
				copy(to[samples:], unsafe.Slice((*int16)(unsafe.Add(first, run.Narrow)), samples))
			}
			planes = append(planes, plane)
		}
	}
	planes, stride := guard.Rows(m, "traces", planes...)
	for i, e := range entries {
		entries[i] = window.NewEntry(int(e.Rx), count*i*stride)
	}
	run.Narrow = uintptr(2 * samples)
	run.Traces, run.Plane = unsafe.Pointer(&planes[0][0]), uintptr(stride)
}

// guardBytes does what guardTraces does, for one layer in planes of bytes.
func guardBytes(m *guard.Memory, run *window.Run, entries []window.Entry, samples int) {
	var planes [][]byte
	for _, e := range entries {
		first := unsafe.Add(run.Traces, uintptr(e.Line)*window.Line)
		for i := range uintptr(4) {
			planes = append(planes, unsafe.Slice((*byte)(unsafe.Add(first, i*run.Plane/2)), samples))
		}
	}
	planes, stride := guard.Rows(m, "traces", planes...)
	for i, e := range entries {
		entries[i] = window.NewEntry(int(e.Rx), 4*i*stride)
	}
	run.Traces, run.Plane = unsafe.Pointer(&planes[0][0]), 2*uintptr(stride)
}

// guardInterleaved does what guardTraces does, for one layer of interleaved samples.
func guardInterleaved(m *guard.Memory, run *window.Run, entries []window.Entry, samples int) {
	var traces [][]float32
	for _, e := range entries {
		first := unsafe.Add(run.Traces, uintptr(e.Line)*window.Line)
		traces = append(traces, unsafe.Slice((*float32)(first), 2*samples))
	}
	traces, stride := guard.Rows(m, "traces", traces...)
	for i, e := range entries {
		entries[i] = window.NewEntry(int(e.Rx), i*stride)
	}
	run.Traces = unsafe.Pointer(&traces[0][0])
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
