// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"encoding/binary"
	"unsafe"
)

// littleEndian reports the byte order of this machine.
var littleEndian = binary.NativeEndian.Uint16([]byte{1, 0}) == 1

// int16View returns the samples of an int16 file that lie in b, without copying. It returns nil if
// the machine has the other byte order, or if a header of odd length puts the samples at an odd
// address.
func (h header) int16View(b []byte) []int16 {
	start := unsafe.Pointer(unsafe.SliceData(b))
	aligned := uintptr(start)%unsafe.Alignof(int16(0)) == 0
	if !aligned || littleEndian != (h.byteOrder == binary.LittleEndian) {
		return nil
	}
	return unsafe.Slice((*int16)(start), len(b)/2)
}

// appendInt16 appends the samples that b holds to samples.
func (h header) appendInt16(samples []int16, b []byte) []int16 {
	for ; len(b) > 0; b = b[2:] {
		samples = append(samples, int16(h.byteOrder.Uint16(b)))
	}
	return samples
}
