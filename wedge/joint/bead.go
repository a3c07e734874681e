// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r2"
)

// Bead is the weld metal beyond the surface of a plate, bounded by an arc. On the entry surface it
// is the cap (excess weld metal), on the back wall the root bead (penetration).
type Bead struct {
	// Height is the height of the arc over the line from toe to toe in m, from 0 to half of the
	// width; 0 stands for a flush weld.
	Height float64
	// Width is the distance from toe to toe along x in m, at least the width of the groove; 0
	// stands for the width of the groove.
	Width float64
}

// toes are the ends of a bead.
type toes struct{ left, right r2.Vec }

// between returns the surface of the bead over a groove from its left end to its right end, and the
// toes. The bead bulges towards +z for the sign +1, and the surface then runs from left to right.
// For the sign -1 the bead bulges towards -z, and the surface runs from right to left.
func (b Bead) between(name string, left, right r2.Vec, sign float64) ([]curve, toes, error) {
	width, groove := b.Width, right.X-left.X
	if width == 0 {
		width = groove
	}
	if !(width >= groove-tolerance && width <= extent) {
		return nil, toes{}, fmt.Errorf(
			"joint: width of the %s %v m: want 0, or %v m (the groove) to %v m",
			name, b.Width, groove, extent)
	}
	if err := checkRange("height of the "+name, b.Height, 0, width/2); err != nil {
		return nil, toes{}, err
	}
	overlap := max(0, (width-groove)/2)
	ends := toes{r2.Vec{X: left.X - overlap, Y: left.Y}, r2.Vec{X: right.X + overlap, Y: right.Y}}
	if b.Height == 0 && left.Y == right.Y {
		ends = toes{left, right} // a flush weld has no metal beyond the groove
	}
	chain := appendCurve(nil, curve{from: left, to: ends.left})
	chain = appendCurve(chain, curve{ends.left, ends.right, sign * b.Height})
	chain = appendCurve(chain, curve{from: ends.right, to: right})
	if sign < 0 {
		chain = backwards(chain)
	}
	return chain, ends, nil
}
