// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !amd64 || purego

package layers

// Available says whether the processor has the instructions: this build has no assembly.
const Available = false

func begin(tangents *float64, p *Points, s *Stack, first, count int) {
	panic("layers: not in this build")
}

func finish(seconds *float32, tangents *float64, p *Points, s *Stack, first, count int) (ok bool) {
	panic("layers: not in this build")
}
