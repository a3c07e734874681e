// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build amd64 && !purego

package avx512

import (
	"testing"

	"github.com/isochron-imaging/isochron/tfm/internal/kerneltest"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
)

func needAVX512(t *testing.T) {
	if !Available {
		t.Skip("this processor has no AVX-512; TestSelection of package tfm tells if that is wrong")
	}
}

func TestInt16(t *testing.T) {
	needAVX512(t)
	kerneltest.Int16(t, window.Kernel{Joint: joint16, Split: split16, Pairs: true})
}

func TestInt16DotProduct(t *testing.T) {
	needAVX512(t)
	if !dotProduct {
		t.Skip("this processor has no VPDPWSSD")
	}
	kerneltest.Int16(t, window.Kernel{Joint: joint16dot, Split: split16dot, Pairs: true})
}

func TestFloat32(t *testing.T) {
	needAVX512(t)
	kerneltest.Float32(t, Float32())
}
