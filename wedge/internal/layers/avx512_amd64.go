// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package layers

import "golang.org/x/sys/cpu"

// Available says whether the processor has the instructions.
var Available = cpu.X86.HasAVX512F

// Counts are of vectors of points, at least 1, from point first on; results are
// written from the beginning of theirs.

// begin sets p.apart, and the tangents after the first step.
//
//go:noescape
func begin(tangents *float64, p *Points, s *Stack, first, count int)

// finish sets the times, and the tangents from those after the first step, and
// reports whether all were found.
//
//go:noescape
func finish(seconds *float32, tangents *float64, p *Points, s *Stack, first, count int) (ok bool)
