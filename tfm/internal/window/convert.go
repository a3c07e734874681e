// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import "math"

// conversion turns times to the pixels of a block into delays in fixed point. The assembly reads
// it by the names that the compiler writes to go_asm.h.
type conversion struct {
	// seconds begins with the time from element 0 to the first pixel. The rows of the block are
	// row times apart, the elements are element times apart.
	seconds      []float32
	row, element int
	// A delay is (seconds - offset)·scale. A delay beyond ±reach counts as no ray. The reach is
	// below the constant beyond.
	offset, scale, reach float64
	fixed                [][Pixels]int64 // of each element; none without a ray
	extents              []extent        // of each element
}

// none is the fixed-point delay where there is no ray.
const none = math.MinInt64

// beyond is larger than any delay. Below it, float64 holds each whole number and each half.
const beyond = 1 << 51

// A quarter of a block has consecutive pixels, two rows of a half. A window of a format holds
// whole quarters.
const (
	quarters = 4
	quarter  = Pixels / quarters
)

// extent holds the least and the greatest delay in each part of a block: the four quarters, the
// two halves and the whole. In a part without a ray they are beyond and -beyond.
type extent struct{ first, last [7]int64 }

// Where the parts of an extent begin.
const halves, whole = quarters, quarters + 2

// partsOf returns where the parts of a number of pixels begin in an extent.
func partsOf(pixels int) int {
	switch pixels {
	case Pixels:
		return whole
	case half:
		return halves
	}
	return 0
}

// join sets the halves and the whole from the quarters.
func (x *extent) join() {
	a, b := min(x.first[0], x.first[1]), min(x.first[2], x.first[3])
	x.first[halves], x.first[halves+1], x.first[whole] = a, b, min(a, b)
	a, b = max(x.last[0], x.last[1]), max(x.last[2], x.last[3])
	x.last[halves], x.last[halves+1], x.last[whole] = a, b, max(a, b)
}

// converter is a function in assembly that does what [conversion.plain] does, bit for bit. It is
// nil where there is none.
var converter func(c *conversion) (missing bool)

// convert sets the delays and the extents of the quarters of all elements, and reports whether a
// ray is missing.
func (c *conversion) convert() (missing bool) {
	if converter == nil {
		return c.plain()
	}
	last := len(c.fixed) - 1
	_, _ = c.seconds[last*c.element+(Rows-1)*c.row+Cols-1], c.extents[last]
	return converter(c)
}

// plain is convert in plain Go.
func (c *conversion) plain() (missing bool) {
	for e := range c.fixed {
		fixed, x := &c.fixed[e], &c.extents[e]
		for q := range quarters {
			first, last := int64(beyond), int64(-beyond)
			to := fixed[q*quarter:][:quarter]
			for r := range 2 {
				row := c.seconds[e*c.element+(q%2*2+r)*c.row+q/2*4:][:4]
				for i, s := range row {
					delay := (float64(s) - c.offset) * c.scale
					if !(math.Abs(delay) <= c.reach) {
						to[r*4+i], missing = none, true
						continue
					}
					v := int64(math.RoundToEven(delay))
					to[r*4+i] = v
					first, last = min(first, v), max(last, v)
				}
			}
			x.first[q], x.last[q] = first, last
		}
	}
	return missing
}
