// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build amd64 && !purego

package avx2

import (
	"testing"

	"github.com/isochron-imaging/isochron/tfm/internal/kerneltest"
)

func needAVX2(t *testing.T) {
	if !Available {
		t.Skip("this processor has no AVX2; TestSelection of package tfm tells if that is wrong")
	}
}

func TestInt16(t *testing.T) {
	needAVX2(t)
	kerneltest.Int16(t, Int16())
}

func TestFloat32(t *testing.T) {
	needAVX2(t)
	kerneltest.Float32(t, Float32())
}
