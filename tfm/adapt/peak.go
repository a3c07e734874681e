// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import "math"

// peak returns the level of the highest amplitude in dB, the index of its pixel, and the place of
// the peak relative to this pixel, in columns and rows. The level between pixels is the top of the
// quadric through the logarithms of the pixel and its neighbours, with a mixed term for a spot that
// leans. It is exact for a Gaussian spot.
func peak(a []float32, cols, rows int) (level float64, index int, right, down float64) {
	for i, v := range a {
		if v > a[index] {
			index = i
		}
	}
	c, r := index%cols, index/cols
	log := func(dc, dr int) float64 { return math.Log(float64(a[index+dr*cols+dc])) }
	top := log(0, 0)
	if c > 0 && c < cols-1 && r > 0 && r < rows-1 {
		x, z := (log(1, 0)-log(-1, 0))/2, (log(0, 1)-log(0, -1))/2
		xx, zz := log(1, 0)+log(-1, 0)-2*top, log(0, 1)+log(0, -1)-2*top
		xz := (log(1, 1) - log(1, -1) - log(-1, 1) + log(-1, -1)) / 4
		if d := xx*zz - xz*xz; xx < 0 && d > 0 && !math.IsInf(d, 0) {
			right, down = (xz*z-zz*x)/d, (xz*x-xx*z)/d
			if max(math.Abs(right), math.Abs(down)) > 1 { // no top near the pixel
				return top * 20 / math.Ln10, index, 0, 0
			}
			top += (x*right + z*down) / 2
		}
	}
	return top * 20 / math.Ln10, index, right, down
}
