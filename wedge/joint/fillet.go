// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"cmp"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// Fillet is a fillet weld in a right-angled corner. The zero value is no weld.
type Fillet struct {
	// Leg is the leg length in m, above 0, on the plate on which the other plate stands or lies.
	Leg float64
	// OtherLeg is the leg length in m on the other plate; 0 stands for the same length.
	OtherLeg float64
	// Convexity is the height of the weld face over the line from toe to toe in m, from 0 to half
	// of that line.
	Convexity float64
}

// legs returns both leg lengths.
func (f Fillet) legs() (leg, other float64) {
	if f.OtherLeg == 0 {
		return f.Leg, f.Leg
	}
	return f.Leg, f.OtherLeg
}

// Throat returns the theoretical throat in m, 0 for no weld. The throat is the height of the
// largest triangle within the legs, from the corner to the line between the toes. If both legs have
// the length z, the throat is a = z/√2 (ISO 2553, from memory).
func (f Fillet) Throat() float64 {
	leg, other := f.legs()
	if leg == 0 {
		return 0
	}
	return leg * other / math.Hypot(leg, other)
}

// none reports whether there is no weld.
func (f Fillet) none() bool { return f == Fillet{} }

// validate returns an error that names the first field that is out of range. The other leg has a
// length from low to high.
func (f Fillet) validate(name string, low, high float64) error {
	leg, other := f.legs()
	return cmp.Or(
		checkPositive("leg length of the "+name, leg),
		checkRange("other leg length of the "+name, other, max(low, least), high),
		checkRange("convexity of the "+name, f.Convexity, 0, math.Hypot(leg, other)/2),
	)
}

// face returns the weld face from the toe on the other plate to the toe on the plate. The weld lies
// on the side of the sign.
func (f Fillet) face(other, plate r2.Vec, sign float64) curve {
	return curve{other, plate, sign * f.Convexity}
}

// checkWelded returns an error if neither of two fillets is a weld.
func checkWelded(left, right Fillet) error {
	if left.none() && right.none() {
		return fmt.Errorf("joint: no weld on the left nor on the right: want a leg length above 0")
	}
	return nil
}
