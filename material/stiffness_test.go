// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// steadyStiffness is an invented stable stiffness for the error tests.
func steadyStiffness() Stiffness { return Cubic{C11: 200e9, C12: 100e9, C44: 80e9}.Stiffness() }

func TestStiffnessForms(t *testing.T) {
	ti := TransverselyIsotropic{C11: 240e9, C12: 100e9, C13: 130e9, C33: 250e9,
		C44: 110e9}.Stiffness()
	want := Stiffness{
		{240e9, 100e9, 130e9, 0, 0, 0},
		{100e9, 240e9, 130e9, 0, 0, 0},
		{130e9, 130e9, 250e9, 0, 0, 0},
		{0, 0, 0, 110e9, 0, 0},
		{0, 0, 0, 0, 110e9, 0},
		{0, 0, 0, 0, 0, 70e9}, // (C11 − C12)/2, the identity of transverse isotropy
	}
	if diff := cmp.Diff(want, ti); diff != "" {
		t.Errorf("transversely isotropic (-want +got):\n%s", diff)
	}
	a := check.Must(Isotropic{Density: 8000, Longitudinal: 6000, Transverse: 3000}.Anisotropic())
	// λ + 2μ = 288 GPa, λ = 144 GPa, μ = 72 GPa by the definitions of Lamé.
	lame := Cubic{C11: 288e9, C12: 144e9, C44: 72e9}.Stiffness()
	if diff := cmp.Diff(Anisotropic{8000, lame}, a); diff != "" {
		t.Errorf("isotropic (-want +got):\n%s", diff)
	}
}

func TestStiffnessValidate(t *testing.T) {
	edited := func(edit func(*Stiffness)) Stiffness {
		c := steadyStiffness()
		edit(&c)
		return c
	}
	tests := []struct {
		name string
		c    Stiffness
		want string // part of the error; empty for none
	}{
		{"stable", steadyStiffness(), ""},
		{"rounded symmetry", edited(func(c *Stiffness) { c[0][1] *= 1 + 1e-10 }), ""},
		{"negative Poisson's ratio is physical",
			Cubic{C11: 200e9, C12: -50e9, C44: 80e9}.Stiffness(), ""},
		{"NaN", edited(func(c *Stiffness) { c[3][4] = math.NaN() }), "C45 NaN Pa: want a finite value"},
		{"infinite", edited(func(c *Stiffness) { c[5][5] = math.Inf(1) }), "C66 +Inf Pa: want a finite value"},
		{"one corner only", edited(func(c *Stiffness) { c[0][3] = 1e9 }), "C14 1e+09 Pa and C41 0 Pa: want a symmetric matrix"},
		{"all zero", Stiffness{}, "want all six above 0"},
		{"C44 negative", Cubic{C11: 200e9, C12: 100e9, C44: -1e9}.Stiffness(),
			"want all six above 0"},
		{"C12 above C11", Cubic{C11: 100e9, C12: 101e9, C44: 80e9}.Stiffness(),
			"want all six above 0"},
		{"no resistance to pressure", Cubic{C11: 100e9, C12: -50e9, C44: 80e9}.Stiffness(),
			"want all six above 0"},
		{"C13 too large", TransverselyIsotropic{C11: 200e9, C12: 100e9, C13: 150e9, C33: 150e9, C44: 50e9}.Stiffness(), "want all six above 0"},
		{"fluid", Cubic{C11: 2.25e9, C12: 2.25e9}.Stiffness(), "want all six above 0"},
		{"huge elements do not overflow", Cubic{C11: 2e305, C12: 1e305, C44: 1e305}.Stiffness(),
			""},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) { checkStiffnessError(t, test.c.Validate(), test.want) })
	}
}

// checkStiffnessError fails the test unless err contains the text, or is nil for an empty text.
func checkStiffnessError(t *testing.T, err error, want string) {
	t.Helper()
	switch {
	case want == "" && err != nil:
		t.Errorf("got error %q, want none", err)
	case want != "" && err == nil:
		t.Errorf("got no error, want one with %q", want)
	case want != "" && (!strings.Contains(err.Error(), want) ||
		!strings.HasPrefix(err.Error(), "material: ")):
		t.Errorf("got error %q, want \"material: \" and %q", err, want)
	}
}

func TestAnisotropicValidate(t *testing.T) {
	tests := []struct {
		name string
		m    Anisotropic
		want string
	}{
		{"stable", Anisotropic{8000, steadyStiffness()}, ""},
		{"density 0", Anisotropic{0, steadyStiffness()}, "density 0 kg/m³"},
		{"density NaN", Anisotropic{math.NaN(), steadyStiffness()}, "density NaN kg/m³"},
		{"density infinite", Anisotropic{math.Inf(1), steadyStiffness()}, "density +Inf kg/m³"},
		{"stiffness", Anisotropic{8000, Stiffness{}}, "want all six above 0"},
		{"too fast", Anisotropic{1e-12, steadyStiffness()}, "want a ratio"},
		{"too slow", Anisotropic{1e40, steadyStiffness()}, "want a ratio"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			checkStiffnessError(t, test.m.Validate(), test.want)
			_, err := NewChristoffel(test.m)
			checkStiffnessError(t, err, test.want)
			_, err = NewGroupSolver(test.m)
			checkStiffnessError(t, err, test.want)
			_, err = test.m.Hill()
			checkStiffnessError(t, err, test.want)
		})
	}
	_, err := Isotropic{Density: 1000, Longitudinal: 1480}.Anisotropic()
	checkStiffnessError(t, err, "want all six above 0")
	_, err = Isotropic{Density: -1, Longitudinal: 1480}.Anisotropic()
	checkStiffnessError(t, err, "density -1 kg/m³")
}

// tensorRotated returns c turned by the definition, index by index.
func tensorRotated(c Stiffness, m *r3.Mat) Stiffness {
	var out Stiffness
	for a, ij := range voigtPair {
		for b, kl := range voigtPair {
			for p := range 3 {
				for q := range 3 {
					for r := range 3 {
						for s := range 3 {
							out[a][b] += m.At(ij[0], p) * m.At(ij[1], q) * m.At(kl[0],
								r) * m.At(kl[1], s) *
								c[voigtIndex[p][q]][voigtIndex[r][s]]
						}
					}
				}
			}
		}
	}
	return out
}

// stiffnessDistance returns the largest difference of two elements as a fraction of the largest
// element of a.
func stiffnessDistance(a, b Stiffness) float64 {
	var difference, largest float64
	for i := range a {
		for j := range a[i] {
			difference = max(difference, math.Abs(a[i][j]-b[i][j]))
			largest = max(largest, math.Abs(a[i][j]))
		}
	}
	return difference / largest
}

func TestStiffnessRotate(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, solid := range randomSolids {
		t.Run(solid.name, func(t *testing.T) {
			for range 20 {
				c := solid.make(rng).Stiffness
				angle, axis := 2*math.Pi*rng.Float64(), randomDirection(rng)
				turn := r3.NewRotation(angle, axis)
				got := check.Must(c.Rotate(turn))
				x, y, z := turn.Rotate(r3.Vec{X: 1}), turn.Rotate(r3.Vec{Y: 1}), turn.Rotate(r3.Vec{Z: 1})
				want := tensorRotated(c,
					r3.NewMat([]float64{x.X, y.X, z.X, x.Y, y.Y, z.Y, x.Z, y.Z, z.Z}))
				if d := stiffnessDistance(want, got); !(d <= 1e-14) {
					t.Errorf("off by %v of the largest element from the tensor turned by definition", d)
				}
				back := check.Must(got.Rotate(r3.NewRotation(-angle, axis)))
				if d := stiffnessDistance(c, back); !(d <= 1e-14) {
					t.Errorf("turned there and back: off by %v of the largest element", d)
				}
				for i := range got {
					for j := range i {
						if got[i][j] != got[j][i] {
							t.Errorf("C%d%d %v and C%d%d %v: want equal bits",
								i+1, j+1, got[i][j], j+1, i+1, got[j][i])
						}
					}
				}
			}
		})
	}
}

// TestStiffnessSymmetries turns solids by the operations of their symmetry, which must not change
// the stiffness.
func TestStiffnessSymmetries(t *testing.T) {
	cubic := Cubic{C11: 237e9, C12: 141e9, C44: 116e9}.Stiffness()
	transverse := TransverselyIsotropic{C11: 240e9, C12: 100e9, C13: 130e9, C33: 250e9,
		C44: 110e9}.Stiffness()
	isotropic := check.Must(Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}.Anisotropic())
	tests := []struct {
		name  string
		c     Stiffness
		angle float64
		axis  r3.Vec
	}{
		{"cubic, quarter turn about an edge", cubic, math.Pi / 2, r3.Vec{Y: 1}},
		{"cubic, third of a turn about a body diagonal", cubic, 2 * math.Pi / 3,
			r3.Vec{X: 1, Y: 1, Z: -1}},
		{"cubic, half turn about a face diagonal", cubic, math.Pi, r3.Vec{X: 1, Y: 1}},
		{"transversely isotropic, any turn about its axis", transverse, 0.7, r3.Vec{Z: 1}},
		{"transversely isotropic, half turn across its axis", transverse, math.Pi,
			r3.Vec{X: 0.3, Y: 0.8}},
		{"isotropic, any turn", isotropic.Stiffness, 1.1, r3.Vec{X: 1, Y: -2, Z: 0.4}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := check.Must(test.c.Rotate(r3.NewRotation(test.angle, test.axis)))
			if d := stiffnessDistance(test.c, got); !(d <= 1e-14) {
				t.Errorf("changed by %v of the largest element", d)
			}
		})
	}
}

func TestStiffnessTransform(t *testing.T) {
	c := Orthotropic{
		C11: 320e9, C22: 196e9, C33: 233e9, C12: 68e9, C13: 72e9, C23: 77e9, C44: 64e9, C55: 77e9, C66: 79e9,
	}.Stiffness()
	// A mirror plane of the solid, which is not a rotation.
	got, err := c.transform(r3.NewMat([]float64{1, 0, 0, 0, -1, 0, 0, 0, 1}))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(c, got); diff != "" {
		t.Errorf("mirrored (-want +got):\n%s", diff)
	}
	// x to y, y to z, z to x: C11 becomes C22, C44 becomes C55.
	got, err = c.transform(r3.NewMat([]float64{0, 0, 1, 1, 0, 0, 0, 1, 0}))
	if err != nil {
		t.Fatal(err)
	}
	want := Orthotropic{
		C22: 320e9, C33: 196e9, C11: 233e9, C23: 68e9, C12: 72e9, C13: 77e9, C55: 64e9, C66: 77e9, C44: 79e9,
	}.Stiffness()
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("axes exchanged (-want +got):\n%s", diff)
	}

	for _, bad := range []struct {
		name string
		m    []float64
	}{
		{"stretched", []float64{1.001, 0, 0, 0, 1, 0, 0, 0, 1}},
		{"sheared", []float64{1, 0.001, 0, 0, 1, 0, 0, 0, 1}},
		{"NaN", []float64{math.NaN(), 0, 0, 0, 1, 0, 0, 0, 1}},
		{"zero", make([]float64, 9)},
	} {
		_, err := c.transform(r3.NewMat(bad.m))
		if err == nil || !strings.HasPrefix(err.Error(), "material: rotation matrix") {
			t.Errorf("%s: got error %v, want one about the rotation matrix", bad.name, err)
		}
	}
	_, err = c.Rotate(r3.Rotation{})
	checkStiffnessError(t, err, "rotation matrix")
	_, err = c.Rotate(r3.NewRotation(1, r3.Vec{})) // not a number in gonum
	checkStiffnessError(t, err, "rotation matrix")
}

func TestTransverseAbout(t *testing.T) {
	s := TransverselyIsotropic{C11: 240e9, C12: 100e9, C13: 130e9, C33: 250e9, C44: 110e9}
	got, err := s.About(r3.Vec{X: 3e-9})
	if err != nil {
		t.Fatal(err)
	}
	want := Orthotropic{
		C11: 250e9, C22: 240e9, C33: 240e9,
		C12: 130e9, C13: 130e9, C23: 100e9,
		C44: 70e9, C55: 110e9, C66: 110e9,
	}.Stiffness()
	if d := stiffnessDistance(want, got); !(d <= 1e-15) {
		t.Errorf("about x: off by %v of the largest element", d)
	}
	tilt := r3.NewRotation(0.4, r3.Vec{Y: 1})
	got, err = s.About(r3.Vec{X: math.Sin(0.4), Z: math.Cos(0.4)})
	if err != nil {
		t.Fatal(err)
	}
	want, err = s.Stiffness().Rotate(tilt)
	if err != nil {
		t.Fatal(err)
	}
	if d := stiffnessDistance(want, got); !(d <= 1e-14) {
		t.Errorf("tilted: off by %v of the largest element from the turned matrix", d)
	}
	for _, bad := range []r3.Vec{{}, {X: math.NaN()}, {Y: math.Inf(-1)}} {
		_, err := s.About(bad)
		checkStiffnessError(t, err, "axis of symmetry")
	}
}
