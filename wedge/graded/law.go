// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge/joint"
)

// grainLaw is Ogilvy's law of the grains in a V weld.
type grainLaw struct {
	groove groove
	t, eta float64
}

// NewGrainLaw returns Ogilvy's law of the grains in a V weld as a texture. The weld is a joint with
// two straight fusion faces, as [NewWeld] takes it. The law has two parameters, T and η:
//
//	tan θ = T (D + h tan α) / |x|^η
//
// Here θ is the angle of the grain axis from the surface of the plate, x the distance from the
// centre line, h the height above the root, D half of the root gap, and α the bevel angle. The
// grains grow towards the cap and the centre line. On the centre line they stand upright.
//
// T is the parameter t, from 0.01 to 100; about 1 is common. It sets the angle at which the grains
// leave the fusion face. For η = 1 that angle is arctan T all along the face. η is the parameter
// eta, from 0.1 to 2. It sets how fast the grains turn upright towards the centre line. For η = 1
// the law is smooth across the centre line.
//
// The law is published in J. A. Ogilvy, Computerized ultrasonic ray tracing in austenitic steel,
// NDT International 18(2), 1985 (from memory of that paper). For η other than 1 the formula
// contains different powers of lengths, so the result depends on the unit. The lengths x, D and h
// are then in millimetres (common practice, no source).
func NewGrainLaw(weld *joint.Joint, t, eta float64) (Texture, error) {
	g, err := newGroove(weld)
	if err != nil {
		return nil, err
	}
	if err := checkRange("T of the grain law", t, 0.01, 100, ""); err != nil {
		return nil, err
	}
	if err := checkRange("eta of the grain law", eta, 0.1, 2, ""); err != nil {
		return nil, err
	}
	return grainLaw{g, t, eta}, nil
}

// At implements [Texture].
func (l grainLaw) At(p r3.Vec) Grain {
	const scale = 1e3 // millimetres in a metre
	x := scale * (p.X - l.groove.centre)
	width, byZ := l.groove.halfWidth(p.Z)
	rise := scale * l.t * width
	// The run is |x|^η with the sign of x, so that the angle turns on through π/2 at the centre
	// line. For η < 1 the slope is infinite there; it is kept finite within a nanometre.
	far := max(math.Abs(x), 1e-6)
	run := math.Copysign(math.Pow(math.Abs(x), l.eta), x)
	byX := scale * l.eta * math.Pow(far, l.eta-1)
	up := l.groove.up()
	square := rise*rise + run*run
	// Towards the cap the grains lean to the centre line.
	return Grain{
		Angle: -up * math.Atan2(rise, run),
		AngleGradient: r3.Vec{
			X: up * rise * byX / square,
			Z: -up * run * l.t * scale * byZ / square,
		},
		Factor: 1,
	}
}
