// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// joints are welds of several kinds, with invented sizes.
func joints() []namedJoint {
	bevel := joint.Bevel{Angle: 0.5}
	vee, both := joint.Edge{Upper: bevel}, joint.Edge{Upper: bevel, Lower: joint.Bevel{Angle: 0.7}}
	you := joint.Edge{Upper: joint.Bevel{Angle: 0.2, Radius: 4e-3}}
	fillet := joint.TeeWeld{Fillet: joint.Fillet{Leg: 8e-3}}
	tee := joint.TeeWeld{Fillet: fillet.Fillet, Angle: 0.8, Depth: 5e-3}
	butt := func(b joint.Butt) *joint.Joint {
		b.Thickness, b.Gap = 30e-3, 3e-3
		return check.Must(b.Joint())
	}
	return []namedJoint{
		{"V", false, butt(joint.Butt{RootFace: 2e-3, Left: vee, Right: vee})},
		{"X", false, butt(joint.Butt{RootFace: 2e-3, LowerGroove: 12e-3, Left: both, Right: both})},
		{"U", false, butt(joint.Butt{RootFace: 2e-3, Left: you, Right: you})},
		{"J", true, butt(joint.Butt{RootFace: 2e-3, Right: you})},
		{"bevel", false, butt(joint.Butt{Left: vee})},
		{"open root", false, butt(joint.Butt{RootFace: 8e-3, Unwelded: 5e-3, Left: vee, Right: vee})},
		{"fillets", false, check.Must(joint.Tee{Flange: 12e-3, Web: 12e-3, Gap: 0.1e-3, Left: fillet, Right: fillet}.Joint())},
		{"through tee", false, check.Must(joint.Tee{Flange: 12e-3, Web: 10e-3, Gap: 2e-3, Left: tee, Right: tee}.Joint())},
		{"lap", true, check.Must(joint.Lap{Upper: 10e-3, Lower: 12e-3, Overlap: 20e-3, Gap: 0.5e-3, Left: fillet.Fillet, Right: fillet.Fillet}.Joint())},
	}
}

type namedJoint struct {
	name string
	shot bool // whether rays are shot too
	weld *joint.Joint
}

// isotropicCurves returns the slowness curves of an isotropic solid.
func isotropicCurves(m material.Isotropic) *SlownessCurves {
	shear := m.Density * m.Transverse * m.Transverse
	c11 := m.Density * m.Longitudinal * m.Longitudinal
	c := material.TransverselyIsotropic{C11: c11, C12: c11 - 2*shear, C13: c11 - 2*shear, C33: c11, C44: shear}
	return check.Must(NewSlownessCurves(material.Anisotropic{Density: m.Density, Stiffness: c.Stiffness()}))
}

// TestJointsOfOneMetal makes joints of one isotropic metal. Their rays are straight lines that the
// voids of the joint may block, as package wedge finds it from the outlines of the joint. Shooting
// is checked in some joints only, because it is slow.
func TestJointsOfOneMetal(t *testing.T) {
	if !long {
		t.Skip("runs with the build tag long")
	}
	curves := isotropicCurves(parent)
	elements := []r3.Vec{{X: -26e-3}, {X: -9e-3}, {X: 1e-3}}
	for _, row := range joints() {
		t.Run(row.name, func(t *testing.T) {
			part := check.Must(NewWeld(nil, parent, curves, check.Must(NewGrowth(row.weld)), row.weld))
			setup := check.Must(row.weld.Setup(row.weld.Plate, parent, 1e-6))
			setup.Back = nil // direct rays into all plates
			setup.BackGaps = nil
			path := check.Must(setup.Path([]material.Mode{material.L}))
			points := []r3.Vec{{X: 2e-3, Z: 29e-3}, {X: 3e-3, Z: 24.5e-3}}
			for i := range 40 {
				points = append(points, r3.Vec{X: (float64(i%8) - 3.75) * 5.3e-3, Z: 2.3e-3 + 5.1e-3*float64(i/8)})
			}
			blocked := 0
			for _, pol := range []Polarisation{qL, qSV} {
				speed, elements := parent.Longitudinal, elements
				if pol == qSV {
					if !row.shot {
						continue
					}
					speed, elements = parent.Transverse, elements[:1]
				}
				times := check.Must(part.Times(context.Background(), pol, elements, points, nil))
				for e, element := range elements {
					for i, q := range points {
						zone := row.weld.Zone(r2.Vec{X: q.X, Y: q.Z}, 0)
						ray := path.Solve(element, q)
						want := distance(element, q) / speed
						if zone == joint.Outside || ray.Status != wedge.OK {
							want = math.NaN()
							blocked++
						}
						got := float64(times.Seconds[e*len(points)+i])
						if math.IsNaN(got) != math.IsNaN(want) || !(math.IsNaN(want) || math.Abs(got-want) <= 1e-12) {
							t.Errorf("%v from %v to %v mm: %v s, want %v (%v, %v)", pol, element.X*1e3,
								r3.Scale(1e3, q), got, want, zone, ray.Status)
						}
					}
				}
			}
			if open := row.weld.Other != nil && len(check.Must(row.weld.Outlines(1e-5)).Voids) == 0; !open && blocked == 0 {
				t.Error("no ray is blocked by a void")
			}
		})
	}
}

// TestCladding compares rays through a clad plate with Fermat's principle at one plane, and takes
// the cladding away from a part of the plate.
func TestCladding(t *testing.T) {
	if !long {
		t.Skip("runs with the build tag long")
	}
	slow := material.Isotropic{Density: 8000, Longitudinal: 5000, Transverse: 2800}
	clad := Layer{
		Outline: wedge.Outline{{X: -80e-3, Y: -5e-3}, {X: 80e-3, Y: -5e-3}, {X: 80e-3, Y: 6e-3}, {X: -80e-3, Y: 6e-3}},
		Medium:  check.Must(NewIsotropic(slow)),
	}
	part := check.Must(NewWeld(nil, parent, isotropicCurves(parent), constant(0), veeWeld, clad))
	from, to := r3.Vec{X: -15e-3}, r3.Vec{X: 11e-3, Z: 22e-3}
	for _, pol := range []Polarisation{qL, qSV} {
		v := [2]float64{slow.Longitudinal, parent.Longitudinal}
		if pol == qSV {
			v = [2]float64{slow.Transverse, parent.Transverse}
		}
		least := math.Inf(1)
		for i := range 26001 {
			at := r3.Vec{X: from.X + 1e-6*float64(i), Z: 6e-3}
			least = min(least, distance(from, at)/v[0]+distance(at, to)/v[1])
		}
		ray := check.Must(part.Ray(pol, from, to, nil))
		check.Within(t, pol.String()+" through the cladding", ray.Time, least, 1e-13)
	}
}

// TestGrainsOfAnX checks the law of a weld from two sides: the lower weld is the upper weld of the
// joint turned over.
func TestGrainsOfAnX(t *testing.T) {
	edge := joint.Edge{Upper: joint.Bevel{Angle: 0.5}, Lower: joint.Bevel{Angle: 0.5}}
	x := check.Must(joint.Butt{Thickness: 30e-3, Gap: 3e-3, RootFace: 2e-3, LowerGroove: 14e-3, Left: edge, Right: edge}.Joint())
	for name, law := range map[string]Texture{"law": check.Must(NewGrainLaw(x, 1.2, 0.7)), "growth": check.Must(NewGrowth(x))} {
		for _, at := range []r3.Vec{{X: 3e-3, Z: 4e-3}, {X: -2e-3, Z: 9e-3}, {X: 1e-3, Z: 13e-3}, {X: 0.5e-3, Z: 14.7e-3}} {
			up, down := law.At(at), law.At(r3.Vec{X: at.X, Z: 30e-3 - at.Z})
			check.Within(t, name+": angle below", axial(down.Angle, -up.Angle), 0, 1e-12)
			check.Within(t, name+": gradient below", down.AngleGradient.Z, up.AngleGradient.Z, 1e-9*math.Abs(up.AngleGradient.Z))
			checkGradients(t, name, law, at)
		}
	}
	// Each zone of the weld metal has the grains of its own weld.
	curves, _ := metal(t, weldMetals[0])
	for name, law := range map[string]Texture{"law": check.Must(NewGrainLaw(x, 1.2, 1)), "growth": check.Must(NewGrowth(x))} {
		part, whole := check.Must(NewWeld(nil, parent, curves, law, x)), check.Must(NewGrains(curves, law))
		for _, at := range []r3.Vec{{X: 3e-3, Z: 4e-3}, {X: 1e-3, Z: 14.5e-3}, {X: 1e-3, Z: 15.5e-3}, {X: -3e-3, Z: 26e-3}} {
			got, want := part.Media[part.zone(at)].Phase(qL, at, 0.3), whole.Phase(qL, at, 0.3)
			check.Within(t, name+": speed in the zone", got.Speed, want.Speed, 1e-9*want.Speed)
		}
	}
	// The kink at the centre line and the middle of the root faces divide the weld metal in four.
	part := check.Must(NewWeld(nil, parent, curves, check.Must(NewGrainLaw(x, 1.2, 0.7)), x))
	zones := map[int]bool{}
	for _, at := range []r3.Vec{{X: 1e-3, Z: 4e-3}, {X: -1e-3, Z: 4e-3}, {X: 1e-3, Z: 26e-3}, {X: -1e-3, Z: 26e-3}, {X: 20e-3, Z: 15e-3}, {X: -20e-3, Z: 15e-3}} {
		zones[part.zone(at)] = true
	}
	if len(zones) != 6 {
		t.Errorf("places in the zones %v, want six zones", zones)
	}
}

// TestGrowthOfAFillet checks that the grains of a fillet with equal legs grow along its bisector,
// and that they cross the middle of each leg at a steep angle.
func TestGrowthOfAFillet(t *testing.T) {
	fillet := joint.TeeWeld{Fillet: joint.Fillet{Leg: 8e-3}}
	tee := check.Must(joint.Tee{Flange: 10e-3, Web: 10e-3, Gap: 1e-9, Right: fillet}.Joint())
	_, err := NewGrowth(tee)
	check.Error(t, err, "want a gap")
	tee = check.Must(joint.Tee{Flange: 10e-3, Web: 10e-3, Gap: 20e-6, Right: fillet}.Joint())
	law := check.Must(NewGrowth(tee))
	for _, d := range []float64{1e-3, 2e-3, 3e-3} {
		check.Within(t, "angle on the bisector", law.At(r3.Vec{X: 5e-3 + d, Z: 10e-3 + d}).Angle, math.Pi/4, 0.01)
	}
	check.Within(t, "angle at the flange", law.At(r3.Vec{X: 9e-3, Z: 10e-3}).Angle, math.Pi/2, 0.6)
	check.Within(t, "angle at the web", law.At(r3.Vec{X: 5e-3, Z: 14e-3}).Angle, 0, 0.6)
}
