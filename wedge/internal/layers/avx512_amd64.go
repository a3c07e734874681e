// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package layers

import "golang.org/x/sys/cpu"

// Available says whether the processor has the instructions.
var Available = cpu.X86.HasAVX512F

// vectors is Solve for the given number of vectors of points, at least 1, from
// point first on. It writes from the beginning of the results.
//
//go:noescape
func vectors(seconds *float32, tangents *float64, p *Points, s *Stack, first, count int) (ok bool)
