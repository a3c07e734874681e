// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build arm64 && !purego

package neon

import (
	"testing"

	"github.com/isochron-imaging/isochron/tfm/internal/kerneltest"
)

func TestInt16(t *testing.T) { kerneltest.Int16(t, Int16()) }

func TestFloat32(t *testing.T) { kerneltest.Float32(t, Float32()) }
