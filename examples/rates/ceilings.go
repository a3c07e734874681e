// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"fmt"
	"io"
)

// ceilings prints how fast one core reads memory: a search for a byte that is not there,
// which the standard library does in vector instructions, through as much memory as
// fits into each level of the caches, and more.
func (m meter) ceilings(w io.Writer) {
	fmt.Fprintln(w, "one core reads")
	for _, size := range []int{16 << 10, 256 << 10, 8 << 20, 128 << 20} {
		memory := make([]byte, size)
		clear(memory) // so that every page is there
		found := 0
		rates, _ := m.rates(func() error {
			found += bytes.IndexByte(memory, 1)
			return nil
		})
		if found >= 0 {
			panic("rates: found a byte that is not there")
		}
		fmt.Fprintf(w, "%10d KB at %5.0f GB/s\n", size>>10, rates[0]*float64(size)/1e9)
	}
	fmt.Fprint(w, `
A lookup is a trace at a pixel, two samples interpolated and summed. The window
kernels read about 5 bytes a lookup in 16 bits, and 12 in single precision, most of
them from the nearest cache. "chain" is all of a frame, from 16-bit samples to an
image in dB; "all cores" is how many times faster all of them reconstruct.

`)
}
