// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package layers

import "golang.org/x/sys/cpu"

// Available says whether the processor has the instructions.
var Available = cpu.X86.HasAVX512F

// The functions take count vectors of points, at least 1, from the point first on. They write the
// results from the beginning of the slices.

// begin sets p.apart, and writes the tangents after the first step.
//
//go:noescape
func begin(tangents *float64, p *Points, s *Stack, first, count int)

// finish writes the times. It reads the tangents after the first step, and writes the final ones.
// It reports whether all rays were found.
//
//go:noescape
func finish(seconds *float32, tangents *float64, p *Points, s *Stack, first, count int) (ok bool)
