// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package numpy

import (
	"bytes"
	"slices"
	"testing"

	"codeberg.org/sbinet/npyio/npy"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestHeader reads headers with an outside reader.
func TestHeader(t *testing.T) {
	for _, test := range []struct {
		code  string
		shape []int
		least int
		want  int // length in bytes
	}{
		{"<i2", []int{3, 4}, 0, 128},
		{"|u1", []int{1000, 2, 300, 400}, 0, 128},
		{"<f4", []int{1, 2, 3}, 300, 320},
	} {
		text := Header(test.code, test.shape, test.least)
		if len(text) != test.want {
			t.Errorf("%s %v: %d bytes, want %d", test.code, test.shape, len(text), test.want)
		}
		r := check.Must(npy.NewReader(bytes.NewReader(text)))
		if d := r.Header.Descr; d.Type != "'"+test.code+"'" || d.Fortran || !slices.Equal(d.Shape, test.shape) {
			t.Errorf("%s %v: read as %+v", test.code, test.shape, d)
		}
	}
}
