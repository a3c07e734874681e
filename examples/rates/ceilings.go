// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"fmt"
	"io"
)

// ceilings prints the speed at which one core reads memory. It searches for a byte that does not
// occur, with the vector instructions of the standard library. The sizes fit into each level of the
// caches; the last size exceeds them.
func (m meter) ceilings(w io.Writer) {
	fmt.Fprintln(w, "one core reads")
	for _, size := range []int{16 << 10, 256 << 10, 8 << 20, 128 << 20} {
		memory := make([]byte, size)
		clear(memory) // makes the system provide every page
		found := 0
		rates, _ := m.rates(func() error {
			found += bytes.IndexByte(memory, 1)
			return nil
		})
		if found >= 0 {
			panic("rates: found a byte that does not occur")
		}
		fmt.Fprintf(w, "%10d KB at %5.0f GB/s\n", size>>10, rates[0]*float64(size)/1e9)
	}
	fmt.Fprint(w, `
A lookup interpolates two samples of one trace for one pixel, and adds the result. The
window kernels read about 5 bytes a lookup in 16 bits, and 12 in single precision,
most of them from the nearest cache. "chain" is the whole work on a frame, from 16-bit
samples to an image in dB. "all cores" is the speed of the reconstruction on all cores
relative to one core.

`)
}
