// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"compress/gzip"
	"io"
)

// inflate returns a reader of the content of r. packed reports whether r yields a gzip file (RFC
// 1952), which inflate decompresses.
func inflate(r io.Reader) (plain io.Reader, packed bool, err error) {
	var start [2]byte
	n, err := io.ReadFull(r, start[:])
	if err != nil {
		return nil, false, arrayError("header: %w", eofUnexpected(err))
	}
	whole := io.MultiReader(bytes.NewReader(start[:n]), r)
	if start != [2]byte{0x1f, 0x8b} {
		return whole, false, nil
	}
	z, err := gzip.NewReader(whole)
	if err != nil {
		return nil, true, arrayError("gzip: %w", eofUnexpected(err))
	}
	return z, true, nil
}
