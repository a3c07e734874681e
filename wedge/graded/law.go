// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge/joint"
)

// grainLaw is Ogilvy's law of the grains in one groove.
type grainLaw struct {
	groove groove
	t, eta float64
}

// NewGrainLaw returns Ogilvy's law of the grains in a symmetrical butt weld as a texture. The law has
// two parameters, T and η:
//
//	tan θ = T (D + h tan α) / |x|^η
//
// Here θ is the angle of the grain axis from the surface of the plate, x the distance from the
// centre line, h the height above the root, D half of the root gap, and α the bevel angle. The
// grains grow towards the cap and the centre line. On the centre line they stand upright.
//
// T is the parameter t, from 0.01 to 100; about 1 is common. It sets the angle at which the grains
// leave the fusion face. For η = 1 that angle is arctan T all along the face of a V. η is the
// parameter eta, from 0.1 to 2. It sets how fast the grains turn upright towards the centre line. For
// η = 1 the law is smooth across the centre line.
//
// The law was published for a V. Other preparations are taken as follows (assumed, no source):
//
//   - beside a root face, D + h tan α is D;
//   - a U is the V through the ends of its root and of its cap;
//   - an X, or any weld from two sides, has one law above the middle of its root faces and the mirrored
//     law below, where grains grow towards the lower cap.
//
// The fusion faces of the joint are mirror images of each other, its root gap is at least 20 µm, and
// the V has a bevel angle of at most 1.4 rad. For other joints see [NewGrowth].
//
// The law is published in J. A. Ogilvy, Computerized ultrasonic ray tracing in austenitic steel,
// NDT International 18(2), 1985 (from memory of that paper). For η other than 1 the formula
// contains different powers of lengths, so the result depends on the unit. The lengths x, D and h
// are then in millimetres (common practice, no source).
func NewGrainLaw(weld *joint.Joint, t, eta float64) (Texture, error) {
	if err := checkRange("T of the grain law", t, 0.01, 100, ""); err != nil {
		return nil, err
	}
	if err := checkRange("eta of the grain law", eta, 0.1, 2, ""); err != nil {
		return nil, err
	}
	section, err := sectionOf(weld)
	if err != nil {
		return nil, err
	}
	var laws doubleLaw
	for _, r := range section.Regions {
		if r.Zone != joint.WeldMetal {
			continue
		}
		g, err := newGroove(r)
		if err != nil {
			return nil, err
		}
		laws = append(laws, grainLaw{g, t, eta})
	}
	if len(laws) == 1 {
		return laws[0], nil
	}
	return laws, nil
}

// doubleLaw is the law of a weld from two sides: of its upper metal, and of its lower metal.
type doubleLaw []grainLaw

// At implements [Texture].
func (l doubleLaw) At(p r3.Vec) Grain {
	if p.Z <= l[0].groove.waist {
		return l[0].At(p)
	}
	return l[1].At(p)
}

// in implements regional.
func (l doubleLaw) in(r joint.Region) Texture {
	if r.Faces[0].At(0.5).Y < l[0].groove.waist {
		return l[0]
	}
	return l[1]
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

// growth is the law of heat flow in a joint.
type growth []joint.Region

// NewGrowth returns the law of [joint.Region.Growth] as a texture: in each region of weld metal the
// grains grow against the flow of heat through the fusion faces and the root. The law is assumed; no
// measurement supports it. But it holds for every joint, also for welds without a centre line:
// single bevels, fillets, T joints and lap joints.
func NewGrowth(weld *joint.Joint) (Texture, error) {
	section, err := sectionOf(weld)
	if err != nil {
		return nil, err
	}
	var g growth
	for _, r := range section.Regions {
		if r.Zone == joint.WeldMetal {
			g = append(g, r)
		}
	}
	return g, nil
}

// At implements [Texture].
func (g growth) At(p r3.Vec) Grain {
	region := g[len(g)-1]
	for _, r := range g {
		if r.Boundary != nil && r.Boundary.Depth(p) <= 0 {
			region = r
			break
		}
	}
	angle, gradient := region.Growth(r2.Vec{X: p.X, Y: p.Z})
	return Grain{Angle: angle, AngleGradient: r3.Vec{X: gradient.X, Z: gradient.Y}, Factor: 1}
}

// in implements regional.
func (g growth) in(r joint.Region) Texture { return growth{r} }
