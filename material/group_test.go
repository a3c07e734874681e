// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// groupSolvers holds the solvers that groupSolverOf has made, by name of the crystal.
var groupSolvers sync.Map

// groupSolverOf returns the solver of the crystal of that name. Tests share it, because it does not
// change.
func groupSolverOf(t testing.TB, name string) *GroupSolver {
	t.Helper()
	if s, ok := groupSolvers.Load(name); ok {
		return s.(*GroupSolver)
	}
	s := check.Must(NewGroupSolver(publishedCrystal(t, name)))
	groupSolvers.Store(name, s)
	return s
}

// arrivalsAlong returns the arrivals along a valid direction.
func arrivalsAlong(t testing.TB, s *GroupSolver, d r3.Vec) []PlaneWave {
	t.Helper()
	list := check.Must(s.Arrivals(nil, d))
	return list
}

// TestArrivalRoundTrip goes from a phase direction to the group direction and back: the wave at the
// start is among the arrivals.
func TestArrivalRoundTrip(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	for _, solid := range randomSolids {
		t.Run(solid.name, func(t *testing.T) {
			for range 2 {
				s := check.Must(NewGroupSolver(solid.make(rng)))
				for range 25 {
					for _, w := range phaseAlong(t, s.christoffel, randomDirection(rng)) {
						list := arrivalsAlong(t, s, w.Group)
						checkArrivals(t, list, r3.Unit(w.Group))
						found := slices.ContainsFunc(list, func(a PlaneWave) bool {
							return a.Sheet == w.Sheet && groupAngle(a.Normal, w.Normal) < 1e-6
						})
						if !found {
							t.Errorf("%v with normal %v is not among the %d arrivals along its group velocity", w.Sheet, w.Normal, len(list))
						}
					}
				}
			}
		})
	}
}

// firstArrival returns the quasi-longitudinal arrival along d, if there is one.
func firstArrival(c *Christoffel, d r3.Vec) (PlaneWave, bool) {
	u := r3.Unit(d)
	return c.arrivalAt(c.leastAcross(u), u, QL)
}

func TestFirstArrivalRoundTrip(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	for _, solid := range randomSolids {
		t.Run(solid.name, func(t *testing.T) {
			for range 20 {
				c := check.Must(NewChristoffel(solid.make(rng)))
				for range 50 {
					want := phaseAlong(t, c, randomDirection(rng))[QL]
					got, ok := firstArrival(c, want.Group)
					if !ok {
						t.Fatalf("no arrival along the group velocity of %v", want.Normal)
					}
					check.Within(t, "angle between the phase directions, rad",
						groupAngle(got.Normal, want.Normal), 0, 1e-11)
					check.Within(t, "group speed, relative", got.GroupSpeed()/want.GroupSpeed(), 1,
						1e-12)
				}
			}
		})
	}
}

// inPlaneGroupAngle returns the group angle from the axis, in radians, of the qSV wave with the
// phase angle theta in a transversely isotropic solid. It uses the closed form of Christoffel's
// equation:
//
//	2ρv² = A + B − √((A − B)² + 4H²),  A = C11·sin² + C44·cos²,
//	B = C44·sin² + C33·cos²,  H = (C13 + C44)·sin·cos
//
// and tan(ψ − θ) = v'/v (Auld, Acoustic Fields and Waves in Solids, vol. 1,
// 1973, chapter 7).
func inPlaneGroupAngle(c Stiffness, theta float64) float64 {
	c11, c13, c33, c44 := c[0][0], c[0][2], c[2][2], c[3][3]
	sin, cos := math.Sincos(theta)
	sin2, cos2 := math.Sincos(2 * theta)
	a, b, h := c11*sin*sin+c44*cos*cos, c44*sin*sin+c33*cos*cos, (c13+c44)*sin2/2
	da, db, dh := (c11-c44)*sin2, (c44-c33)*sin2, (c13+c44)*cos2
	root := math.Hypot(a-b, 2*h)
	square := (a + b - root) / 2
	slope := (da + db - ((a-b)*(da-db)+4*h*dh)/root) / 2
	return theta + math.Atan(slope/(2*square))
}

// TestFoldsOfTransverseIsotropy counts the arrivals around the folds by a fine scan of the closed
// form, which has no code in common with the solver. The qSV normals lie in the plane of the axis
// and the direction, and SH has one arrival.
func TestFoldsOfTransverseIsotropy(t *testing.T) {
	for _, test := range []struct {
		crystal string
		most    int // arrivals of qSV in the directions tried
	}{
		{"zinc", 3},
		{"weld metal X6CrNi18-11", 3},
		{"weld metal type 308", 3},
		{"weld metal, austenitic", 3},
		{"magnesium", 1},
	} {
		t.Run(test.crystal, func(t *testing.T) {
			m := publishedCrystal(t, test.crystal)
			s := groupSolverOf(t, test.crystal)
			const steps = 4000
			angles := make([]float64, steps+1)
			for i := range angles {
				angles[i] = inPlaneGroupAngle(m.Stiffness, 2*math.Pi*float64(i)/steps)
			}
			most := 0
			for degrees := 0.35; degrees < 180; degrees += 2 {
				want := 0
				for i := range steps {
					from, to := angles[i]-degrees*degreeTest, angles[i+1]-degrees*degreeTest
					if math.Cos(from) > 0 && math.Sin(from)*math.Sin(to) < 0 {
						want++
					}
				}
				most = max(most, want)
				sin, cos := math.Sincos(degrees * degreeTest)
				sinAz, cosAz := math.Sincos(degrees) // any azimuth will do
				list := arrivalsAlong(t, s, r3.Vec{X: sin * cosAz, Y: sin * sinAz, Z: cos})
				if got := len(list); got != want+2 { // and qL and SH
					t.Errorf("%.2f° from the axis: %d arrivals, want %d", degrees, got, want+2)
				}
			}
			if most != test.most {
				t.Errorf("at most %d arrivals of qSV, want %d: the test lost its folds",
					most, test.most)
			}
		})
	}
}

// TestGroupAngleBeyond90 uses directions of weld metals that lie beyond 90° from the axis although
// the phase directions do not. Independent calculation with numpy 1.24, from constants from memory.
func TestGroupAngleBeyond90(t *testing.T) {
	for _, test := range []struct {
		crystal          string
		direction, phase float64 // degrees
		groupSpeed       float64 // m/s
	}{
		{crystal: "weld metal X6CrNi18-11", direction: 107.736, phase: 75, groupSpeed: 4095.56},
		{crystal: "weld metal type 308", direction: 111.744, phase: 75, groupSpeed: 4457.33},
		{crystal: "weld metal type 308", direction: -26.750, phase: 15, groupSpeed: 4623.92},
	} {
		sin, cos := math.Sincos(test.direction * degreeTest)
		list := arrivalsAlong(t, groupSolverOf(t, test.crystal), r3.Vec{X: sin, Z: cos})
		found := slices.ContainsFunc(list, func(a PlaneWave) bool {
			// The direction is printed to 0.001°.
			return math.Abs(axisAngle(a.Normal)-test.phase) < 0.005 &&
				math.Abs(a.GroupSpeed()-test.groupSpeed) < 0.05
		})
		if !found {
			t.Errorf("%s along %v°: no wave with phase at %v° and group speed %v m/s among %v",
				test.crystal, test.direction, test.phase, test.groupSpeed, list)
		}
	}
}

// TestArrivalsOnAxes uses directions in which sheets meet.
func TestArrivalsOnAxes(t *testing.T) {
	t.Run("isotropic", func(t *testing.T) {
		m := check.Must(Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}.Anisotropic())
		s := check.Must(NewGroupSolver(m))
		rng := rand.New(rand.NewPCG(17, 18))
		for range 100 {
			d := randomDirection(rng)
			list := arrivalsAlong(t, s, d)
			if len(list) != 3 {
				t.Fatalf("%d arrivals, want 3", len(list))
			}
			for i, speed := range []float64{5920, 3255, 3255} {
				check.Within(t, "group speed", list[i].GroupSpeed(), speed, 1e-9)
				check.Within(t, "angle between normal and ray", groupAngle(list[i].Normal, d), 0,
					1e-12)
			}
		}
	})
	t.Run("zinc along its axis", func(t *testing.T) {
		// The energy of a ring of qSV normals travels along the axis. A bisection of the closed
		// form gives the phase angle and the group speed of the ring.
		m := publishedCrystal(t, "zinc")
		low, high := 20*degreeTest, 30*degreeTest
		for range 60 {
			middle := (low + high) / 2
			if inPlaneGroupAngle(m.Stiffness, middle) < 0 {
				low = middle
			} else {
				high = middle
			}
		}
		list := arrivalsAlong(t, groupSolverOf(t, "zinc"), r3.Vec{Z: 2})
		var sheets []Sheet
		for _, a := range list {
			sheets = append(sheets, a.Sheet)
		}
		if diff := cmp.Diff([]Sheet{QL, QT1, QT2, QT2}, sheets); diff != "" {
			t.Fatalf("sheets (-want +got):\n%s", diff)
		}
		for _, a := range list[:3] {
			check.Within(t, "angle of the normal from the axis", groupAngle(a.Normal, r3.Vec{Z: 1}),
				0, 1e-7)
			if a.Caustic {
				t.Errorf("%v with the axis as normal: marked a caustic", a.Sheet)
			}
		}
		ring := list[3]
		check.Within(t, "phase angle of the ring", groupAngle(ring.Normal, r3.Vec{Z: 1}), low,
			1e-12)
		if !ring.Caustic || ring.Degenerate {
			t.Errorf("ring: caustic %v, degenerate %v, want true, false",
				ring.Caustic, ring.Degenerate)
		}
	})
	t.Run("iron along a cube edge", func(t *testing.T) {
		list := arrivalsAlong(t, groupSolverOf(t, "iron"), r3.Vec{X: 1})
		axial := 0
		for _, a := range list {
			if groupAngle(a.Normal, r3.Vec{X: 1}) < 1e-7 {
				axial++
			}
		}
		if axial != 3 {
			t.Errorf("%d waves with the edge as normal, want 3", axial)
		}
		// The planes of symmetry through the edge have the same folds on four sides.
		if (len(list)-axial)%4 != 0 {
			t.Errorf("%d other arrivals, want a multiple of 4 by symmetry", len(list)-axial)
		}
	})
	t.Run("iron along a body diagonal", func(t *testing.T) {
		d := r3.Unit(r3.Vec{X: 1, Y: 1, Z: 1})
		list := arrivalsAlong(t, groupSolverOf(t, "iron"), d)
		for _, a := range list[1:] {
			if groupAngle(a.Normal, d) < 0.01 {
				t.Errorf("%v: the lid of the cone of conical refraction is listed", a.Sheet)
			}
		}
		if n := len(list) - 1; n == 0 || n%3 != 0 {
			t.Errorf("%d quasi-transverse arrivals, want a multiple of 3 by symmetry", n)
		}
	})
}

// TestArrivalsOnTwofoldAxes uses axes of twofold rotational symmetry. There the energy of each wave
// travels along its phase direction, unless the sheets meet in a cone.
func TestArrivalsOnTwofoldAxes(t *testing.T) {
	for _, crystal := range crystals {
		t.Run(crystal.Name, func(t *testing.T) {
			s := groupSolverOf(t, crystal.Name)
			axes := []r3.Vec{{X: 1}, {Y: 1}, {Z: 1}, {Z: -1}}
			if c := crystal.Medium.Stiffness; c[0][0] == c[1][1] {
				axes = append(axes, r3.Vec{X: 1, Y: 1}, r3.Vec{X: -1, Y: 1})
			}
			for _, d := range axes {
				list := arrivalsAlong(t, s, d)
				for _, w := range phaseAlong(t, s.christoffel, d) {
					listed := slices.ContainsFunc(list, func(a PlaneWave) bool {
						return a.Sheet == w.Sheet && groupAngle(a.Normal, w.Normal) < 1e-6
					})
					if !listed {
						t.Errorf("%v is not among the %d arrivals along %v", w.Sheet, len(list), d)
					}
				}
			}
		})
	}
}

// TestArrivalSymmetry uses the opposite direction, and the turned solid.
func TestArrivalSymmetry(t *testing.T) {
	rng := rand.New(rand.NewPCG(19, 20))
	m := randomOrthotropic(rng)
	turn := randomRotation(rng)
	turnedStiffness := check.Must(m.Stiffness.Rotate(turn))
	s := check.Must(NewGroupSolver(m))
	turned := check.Must(NewGroupSolver(Anisotropic{m.Density, turnedStiffness}))
	for range 100 {
		d := randomDirection(rng)
		list := arrivalsAlong(t, s, d)
		opposite := arrivalsAlong(t, s, r3.Scale(-2, d))
		other := arrivalsAlong(t, turned, turn.Rotate(d))
		if len(opposite) != len(list) || len(other) != len(list) {
			t.Errorf("%d arrivals along d, %d along −d, %d in the turned solid",
				len(list), len(opposite), len(other))
			continue
		}
		for i := range list {
			check.Within(t, "group speed along −d, relative",
				opposite[i].GroupSpeed()/list[i].GroupSpeed(), 1, 1e-9)
			check.Within(t, "group speed in the turned solid, relative",
				other[i].GroupSpeed()/list[i].GroupSpeed(), 1, 1e-9)
		}
	}
}

// TestNoFirstArrival makes an invented stable cubic solid whose two fastest waves meet in a cone on
// the body diagonal. With C12 < −C44 both shear waves are faster there than the longitudinal wave.
func TestNoFirstArrival(t *testing.T) {
	m := Anisotropic{8000, Cubic{C11: 300e9, C12: -120e9, C44: 100e9}.Stiffness()}
	c := check.Must(NewChristoffel(m))
	d := r3.Vec{X: 1, Y: 1, Z: 1}
	if a, ok := firstArrival(c, d); ok {
		t.Errorf("got %v inside the cone, want none", a)
	}
	s := check.Must(NewGroupSolver(m))
	for _, a := range arrivalsAlong(t, s, d) {
		if a.Sheet == QL {
			t.Errorf("qL arrival %v inside the cone", a)
		}
	}
	if _, ok := firstArrival(c, r3.Vec{X: 1, Y: 0.2}); !ok {
		t.Error("no qL arrival outside the cone")
	}
}

func TestArrivalsErrors(t *testing.T) {
	s := groupSolverOf(t, "zinc")
	kept := []PlaneWave{{Caustic: true}}
	for _, bad := range []r3.Vec{{}, {Y: math.NaN()}, {X: math.Inf(-1)}} {
		got, err := s.Arrivals(kept, bad)
		checkStiffnessError(t, err, "group direction")
		if diff := cmp.Diff(kept, got); diff != "" {
			t.Errorf("dst after an error (-want +got):\n%s", diff)
		}
	}
	got := check.Must(s.Arrivals(kept, r3.Vec{X: 1, Z: 1}))
	if diff := cmp.Diff(append(kept, arrivalsAlong(t, s, r3.Vec{X: 1, Z: 1})...), got); diff != "" {
		t.Errorf("appended (-want +got):\n%s", diff)
	}
}

// TestGroupSolverShared uses one solver in several goroutines. All must find the same bits.
func TestGroupSolverShared(t *testing.T) {
	s := groupSolverOf(t, "weld metal type 308")
	d := r3.Vec{X: 0.3, Y: -0.1, Z: 0.8}
	want := arrivalsAlong(t, s, d)
	var group sync.WaitGroup
	for range 4 {
		group.Go(func() {
			for range 20 {
				got, err := s.Arrivals(nil, d)
				if err != nil || !slices.Equal(got, want) {
					t.Errorf("got %v, %v, want %v", got, err, want)
					return
				}
			}
		})
	}
	group.Wait()
}

func TestAnisotropyAllocations(t *testing.T) {
	s := groupSolverOf(t, "zinc")
	d := r3.Vec{X: 0.1, Z: 1}
	list := make([]PlaneWave, 0, 16)
	for _, test := range []struct {
		name string
		run  func()
	}{
		{"Phase", func() { _, _ = s.christoffel.Phase(d) }},
		{"Arrivals", func() { list, _ = s.Arrivals(list[:0], d) }},
	} {
		if got := testing.AllocsPerRun(50, test.run); got != 0 {
			t.Errorf("%s: %v allocations, want 0", test.name, got)
		}
	}
}
