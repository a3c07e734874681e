// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import "unsafe"

// Assembly holds the kernels of one instruction set.
type Assembly struct {
	Name           string // "avx512", "avx2" or "neon"
	Int16, Float32 Kernel // for samples of 16 bits, and for samples in single precision
}

// Plain stands for the general way in plain Go on the tables of the kernels in assembly.
var Plain = Assembly{Int16: Kernel{Format: Format16}, Float32: Kernel{Format: Format32}}

// Kernel sums the blocks of a format.
type Kernel struct {
	Format Format
	// Sums holds a function for each window of the format. It adds the lookups of a run, in their
	// order, to its accumulators. Nil stands for the general way in plain Go, which any kernel
	// must equal.
	Sums []func(*Run)
	// Write does what [Block.Write] does, for a block whose pixels are all in the image. The rows
	// of the image are stride bytes apart. Nil stands for [Block.Write].
	Write func(dst *complex64, stride uintptr, acc *float32, unit float32)
	// More sums two and three layers at once ([Traces]), which then share their delays: a further
	// layer takes about half of the time of the first. In single precision the further layers have
	// 16 bits. Without More, layers are summed one by one.
	More [maxMore][]func(*Run)
	// Prefetched says that [Adder.Prefetch] saves time where the traces do not fit into the
	// second-level cache.
	Prefetched bool
	// Pairs says that the kernel takes segments of two transmitters, and is faster with them.
	Pairs bool
}

// AtOnce reports whether k sums more layers after the first at once with it.
func (k Kernel) AtOnce(more int) bool {
	return 0 < more && more <= maxMore && k.More[more-1] != nil
}

// maxMore is the largest number of layers after the first that a kernel sums at once.
const maxMore = 2

// Run is the work of one call of a [Kernel]: the lookups of a chunk in consecutive blocks. The
// kernels in assembly read it through the offsets in go_asm.h. Strides are in bytes, from a block
// to the next one.
type Run struct {
	// The accumulators of the first block. A block has [Pixels] sums of real parts, then as many
	// of imaginary parts.
	Acc *float32
	// AccLayer is the distance in bytes from the accumulators of a layer to those of the next.
	AccLayer uintptr
	// The offsets and bases of slot 0 in the first block.
	TxOffsets, RxOffsets         unsafe.Pointer
	TxBases, RxBases             *int32
	TxOffsetStride, TxBaseStride uintptr
	RxOffsetStride, RxBaseStride uintptr
	Traces                       unsafe.Pointer
	Plane                        uintptr // bytes from a real part to its imaginary part
	Narrow                       uintptr // bytes from a layer of 16 bits in single precision to the next
	Segments                     *Segment
	Count                        int // of Segments, at least 1
	Entries                      *Entry
	// A kernel counts Blocks, at least 1, down to 0. It may count Done, TxOffsetsDone and
	// TxBasesDone up from 0: the bytes of accumulators, and of the transmitters' offsets and
	// bases, that it has finished with. It must not move the pointers of the run. After the last
	// block they would point behind their memory, where the garbage collector may find them.
	Blocks                           int
	Done, TxOffsetsDone, TxBasesDone uintptr
}
