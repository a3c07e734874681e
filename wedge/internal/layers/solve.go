// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package layers

// lanes is the number of rays in a vector.
const lanes = 8

// Solve finds the rays to all points. For each point it writes the time in seconds, and the tangent
// q of the angle in the fastest layer. It reports whether all rays were found. Time and tangent of
// a ray that was not found are NaN.
func (s *Stack) Solve(seconds []float32, tangents []float64, p *Points) (ok bool) {
	if !Available {
		return s.plain(seconds, tangents, p)
	}
	seconds, tangents = seconds[:p.n], tangents[:p.n]
	ok = true
	whole := p.n / lanes
	if whole > 0 {
		begin(&tangents[0], p, s, 0, whole)
		ok = finish(&seconds[0], &tangents[0], p, s, 0, whole)
	}
	if done := whole * lanes; done < p.n {
		var times [lanes]float32
		var qs [lanes]float64
		p.pad()
		begin(&qs[0], p, s, done, 1)
		ok = finish(&times[0], &qs[0], p, s, done, 1) && ok
		copy(seconds[done:], times[:])
		copy(tangents[done:], qs[:])
	}
	return ok
}
