// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"unsafe"

	"github.com/isochron-imaging/isochron/internal/guard"
)

// TestGroups compares the samples that a group looks up with the samples that a layout of this
// group alone reads. A group may look up more, because the earliest delays of a pair may be in
// different blocks.
func TestGroups(t *testing.T) {
	const samples, txElements, rxElements, count, loose = 300, 3, 4, 12, 5
	rng := rand.New(rand.NewPCG(7, 7))
	starts := []int{0, 1, 4, 4 + 3, count}
	for range 50 {
		tx := randomPath(rng, txElements, count, 200*rng.Float64(), 40)
		rx := randomPath(rng, rxElements, count, 200*rng.Float64()-100, 40)
		tx.Reach = 220 // some elements have no ray to some blocks
		for _, receive := range []*Path{rx, nil} {
			lay := func(from, to int) *Layout {
				var blocks []Block
				for b := from; b < to; b++ {
					blocks = append(blocks, Block{First: b * Pixels, Rows: Rows, Cols: Cols})
				}
				return New(narrow, blocks, Cols, samples, tx, receive, 1)
			}
			all := lay(0, count)
			all.Group(starts)
			for g := range starts[1:] {
				alone := lay(starts[g], starts[g+1])
				for i := range all.Tx.Elements {
					for j := range all.Rx.Elements {
						want := alone.Reads(i, j)
						if want != (Range{}) {
							want.To = min(want.To-4+ahead, samples) // Reads adds 4 samples to the last delay
						}
						got := all.looksUp(g, i, j)
						if got.From > want.From || got.To < want.To || got.From < want.From-loose || got.To > want.To+loose {
							t.Fatalf("group %d, pair %d, %d: looks up %v, want %v", g, i, j, got, want)
						}
					}
				}
			}
		}
	}
}

// TestStreams sets some samples of all layers, and compares the bytes that have changed with the
// streams.
func TestStreams(t *testing.T) {
	const plane, from, to = 32, 5, 19
	whole := func(f Format, more int) (string, []byte, []stream) {
		traces := Traces[int16]{Data: make([]int16, 2*plane*(1+more)), Plane: plane, More: more}
		for p := range 2 * (1 + more) {
			ints := f.NewInts(traces.Data[p*plane:], plane, Range{from, to})
			for k := range to - from {
				ints.Set(k, -1)
			}
		}
		return fmt.Sprintf("16 bits, bytes %t, %d more layers", f.Bytes, more), bytesOf(traces.Data), traces.streams(f)
	}
	single := func(f Format, more int, isNarrow bool) (string, []byte, []stream) {
		traces := Traces[float32]{Plane: plane, More: more, Narrow: isNarrow}
		traces.Data = make([]float32, traces.Planes()*plane)
		ones := unsafe.Slice((*uint32)(unsafe.Pointer(&traces.Data[0])), len(traces.Data))
		for layer := range 1 + more {
			for k := from; k < to; k++ {
				at := ones[2*layer*plane:]
				switch {
				case isNarrow && layer > 0:
					n := NarrowLayer(traces, layer)
					n.Data[k], n.Data[n.Plane+k] = -1, -1
				case f.Interleaved:
					at[2*k], at[2*k+1] = 1<<32-1, 1<<32-1
				default:
					at[k], at[plane+k] = 1<<32-1, 1<<32-1
				}
			}
		}
		return fmt.Sprintf("single, interleaved %t, narrow %t, %d more layers", f.Interleaved, isNarrow, more), bytesOf(traces.Data), traces.streams(f)
	}
	check := func(name string, memory []byte, streams []stream) {
		t.Helper()
		covered := make([]int, len(memory))
		for _, s := range streams {
			for b := uintptr(from) * s.size; b < to*s.size; b++ {
				covered[s.offset+b]++
			}
		}
		for i, v := range memory {
			if want := int(v / 255); covered[i] != want {
				t.Fatalf("%s: byte %d is in %d streams, want %d", name, i, covered[i], want)
			}
		}
	}
	for more := range 1 + maxMore {
		check(whole(narrow, more))
		check(whole(bytes, more))
		check(single(wide, more, false))
		check(single(paired, more, false))
		if more > 0 {
			check(single(wide, more, true))
		}
	}
}

func bytesOf[S Sample](data []S) []byte {
	return unsafe.Slice((*byte)(unsafe.Pointer(&data[0])), len(data)*int(unsafe.Sizeof(data[0])))
}

// TestPrefetch prefetches memory that cannot be read, and lookups at the ends of the traces.
func TestPrefetch(t *testing.T) {
	if guard.Pages {
		unreadable := guard.Unreadable[byte](t, 4096)
		for from := range 130 {
			for n := range 200 {
				prefetch(unsafe.Pointer(&unreadable[from]), uintptr(n))
			}
		}
	}
	const samples, elements, count = 100, 2, 6
	rng := rand.New(rand.NewPCG(8, 8))
	path := randomPath(rng, elements, count, -10, 5)
	for i := range path.Seconds {
		path.Seconds[i] += float32(i % path.Points / Pixels * 15) // before the record, in it, and behind it
	}
	blocks := make([]Block, count)
	for b := range blocks {
		blocks[b] = Block{First: b * Pixels, Rows: Rows, Cols: Cols}
	}
	l := New(wide, blocks, Cols, samples, path, nil, 1)
	l.Group([]int{0, 1, 2, 3, 4, 5, 6})
	c := new(Chunk)
	c.Add(0, NewEntry(1, 0))
	c.AddTwo(0, 1, NewEntry(1, 1024), NewEntry(1, 2048))
	a := NewAdder(Plain.Float32, l, Traces[float32]{Data: make([]float32, 3*256), Plane: 128})
	empty := 0
	for g := range count {
		if l.looksUp(g, 0, 1) == (Range{}) {
			empty++
		}
	}
	if empty == 0 || empty == count {
		t.Errorf("%d of %d groups look nothing up, want some", empty, count)
	}
	if allocated := testing.AllocsPerRun(10, func() {
		for g := range count {
			a.Prefetch(g, c)
		}
	}); allocated != 0 {
		t.Errorf("%v allocations, want none", allocated)
	}
}
