// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package numpy writes the headers of NumPy files.
package numpy

import (
	"encoding/binary"
	"fmt"
	"strconv"
	"strings"
)

// Magic is the beginning of every .npy file. Two bytes of the version follow.
const Magic = "\x93NUMPY"

// Header returns the header of an array in C order, in version 1.0 of the format. The type is a
// code such as "<f4". The header is padded with spaces to a multiple of 64 bytes, and to at least
// the given number of bytes. So the values are aligned in memory that maps the file.
func Header(code string, shape []int, least int) []byte {
	numbers := make([]string, len(shape))
	for i, n := range shape {
		numbers[i] = strconv.Itoa(n)
	}
	dictionary := fmt.Sprintf("{'descr': '%s', 'fortran_order': False, 'shape': (%s), }",
		code, strings.Join(numbers, ", "))
	const align = 64
	length := len(Magic) + 4
	padded := max(length+len(dictionary)+1, least)
	padded += (align - padded%align) % align
	dictionary += strings.Repeat(" ", padded-length-len(dictionary)-1) + "\n"

	b := append(make([]byte, 0, length+len(dictionary)), Magic...)
	b = append(b, 1, 0)
	b = binary.LittleEndian.AppendUint16(b, uint16(len(dictionary)))
	return append(b, dictionary...)
}
