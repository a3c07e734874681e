// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// Fillet is a fillet weld in a right-angled corner.
type Fillet struct {
	Leg       float64 // leg length on the plate that the other stands or lies on: m, above 0; 0 for no weld
	OtherLeg  float64 // leg length on the other: m; 0 stands for the same
	Convexity float64 // height of the weld face over the line from toe to toe: m, 0 to half of that line
}

// legs returns both leg lengths.
func (f Fillet) legs() (leg, other float64) {
	if f.OtherLeg == 0 {
		return f.Leg, f.Leg
	}
	return f.Leg, f.OtherLeg
}

// Throat returns the theoretical throat of the fillet in m: the height of the
// largest triangle that its legs hold, from the corner to the line between the toes,
// 1/√2 of the leg length if both are the same (ISO 2553: z = a·√2, from memory).
func (f Fillet) Throat() float64 {
	leg, other := f.legs()
	if leg == 0 {
		return 0
	}
	return leg * other / math.Hypot(leg, other)
}

// none reports whether there is no weld.
func (f Fillet) none() bool { return f == Fillet{} }

// validate reports the first field out of range, of a fillet whose other leg has at
// least the length low, and at most high.
func (f Fillet) validate(name string, low, high float64) error {
	leg, other := f.legs()
	if err := first(
		checkPositive("leg length of the "+name, leg),
		checkRange("other leg length of the "+name, other, math.Max(low, least), high),
	); err != nil {
		return err
	}
	return checkRange("convexity of the "+name, f.Convexity, 0, math.Hypot(leg, other)/2)
}

// face returns the weld face from the toe on the other plate to that on the plate, of
// a weld to the side of the sign.
func (f Fillet) face(other, plate r2.Vec, sign float64) Curve {
	return Curve{From: other, To: plate, Sagitta: sign * f.Convexity}
}

// checkWelded reports that neither of two fillets is a weld.
func checkWelded(left, right Fillet) error {
	if left.none() && right.none() {
		return fmt.Errorf("joint: no weld on the left nor on the right: want a leg length above 0")
	}
	return nil
}
