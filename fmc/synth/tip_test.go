// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/material/diffraction"
	"github.com/isochron-imaging/isochron/wedge"
)

var testSteel = material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}

// waveAt returns a wave in the section that travels at an angle from x to z, with the reference
// polarisation of the package.
func waveAt(m material.Mode, angle float64) Wave {
	sin, cos := math.Sincos(angle)
	direction := r3.Vec{X: cos, Z: sin}
	w := Wave{Mode: m, Direction: direction, Polarisation: direction, Radius: 10e-3}
	if m == material.T {
		w.Polarisation = r3.Vec{X: -sin, Z: cos}
	}
	return w
}

// TestHalfPlaneSpecular checks that towards the specular direction the exact jump of the
// displacement and the jump of plane-wave theory have the same pole.
func TestHalfPlaneSpecular(t *testing.T) {
	f, err := newFace(testSteel)
	if err != nil {
		t.Fatal(err)
	}
	h := check.Must(diffraction.NewTip(testSteel))
	along, normal := r3.Vec{X: 1}, r3.Vec{Z: -1}
	for mode := material.L; mode <= material.T; mode++ {
		for angle := 0.07; angle < math.Pi; angle += 0.1 {
			in := waveAt(mode, angle)
			s0 := f.slowness(in).X
			const off = 1e-9 // of the slowness
			s := s0 + off/testSteel.Transverse
			stress := r3.Scale(1/testSteel.Speed(mode), f.traction(in, normal))
			x, y := h.Jump(s, s0, r3.Dot(stress, normal), r3.Dot(stress, along))
			moved := f.motion(in, normal)
			edge := complex(0, -1/(s-s0))
			for _, c := range []struct {
				name      string
				got, want complex128
			}{{"along", x / edge, moved.dot(along)}, {"normal", y / edge, moved.dot(normal)}} {
				if !(cmplx.Abs(c.got-c.want) <= 1e-6) {
					t.Errorf("%v at %.2f rad: displacement %s %v, of plane waves %v",
						mode, angle, c.name, c.got, c.want)
				}
			}
		}
	}
}

// TestHalfPlaneReciprocity checks that the tip of an endless crack is reciprocal: the amplitude
// stays the same if both waves travel backwards, with the factor of the force of each mode. The
// solution does not assume reciprocity.
func TestHalfPlaneReciprocity(t *testing.T) {
	f, err := newFace(testSteel)
	if err != nil {
		t.Fatal(err)
	}
	c := &crack{face: f, tips: check.Must(diffraction.NewTip(testSteel))}
	along, up := r3.Vec{X: 1}, r3.Vec{Z: -1}
	for a := 0.1; a < 2*math.Pi; a += 0.37 {
		for b := 0.2; b < 2*math.Pi; b += 0.41 {
			for in := material.L; in <= material.T; in++ {
				for out := material.L; out <= material.T; out++ {
					i, o := waveAt(in, a), waveAt(out, b)
					there := c.diffracted(i, o, up, along, f.slowness(o).X, f.slowness(i).X) *
						complex(math.Pow(testSteel.Speed(out), 1.5), 0)
					again := c.diffracted(reversed(o), reversed(i), up, along, -f.slowness(i).X, -f.slowness(o).X) *
						complex(math.Pow(testSteel.Speed(in), 1.5), 0)
					if !(cmplx.Abs(there-again) <= 1e-6*(cmplx.Abs(there)+1e-3)) {
						t.Fatalf("%v at %.2f rad to %v at %.2f rad: %v, backwards %v",
							in, a, out, b, there, again)
					}
				}
			}
		}
	}
}

// TestTipCoefficient checks that a tip scatters with the coefficients of package diffraction. The
// coefficient refers to a wavelength, the amplitude to a metre and 1 rad/s.
func TestTipCoefficient(t *testing.T) {
	c := &crack{face: check.Must(newFace(testSteel)), tips: check.Must(diffraction.NewTip(testSteel))}
	along, up := r3.Vec{X: 1}, r3.Vec{Z: -1}
	for a := 0.1; a < 2*math.Pi; a += 0.37 {
		for b := 0.2; b < 2*math.Pi; b += 0.41 {
			for in := material.L; in <= material.T; in++ {
				for out := material.L; out <= material.T; out++ {
					i, o := waveAt(in, a+math.Pi), waveAt(out, b) // from the direction a, to b
					got := c.diffracted(i, o, up, along, c.face.slowness(o).X, c.face.slowness(i).X)
					want := c.tips.Coefficient(in, out, a, b) * complex(math.Sqrt(2*math.Pi*testSteel.Speed(out)), 0)
					if !(cmplx.Abs(got-want) <= 1e-9*cmplx.Abs(want)) {
						t.Fatalf("%v from %.2f rad, %v to %.2f rad: %v, want %v", in, a, out, b, got, want)
					}
				}
			}
		}
	}
}

// TestSlitEnd checks that the end of a slit scatters with the coefficients of package diffraction.
func TestSlitEnd(t *testing.T) {
	const frequency, width = 5e6, 0.12e-3
	around := Surroundings{Part: testSteel, Dimension: wedge.Section, Frequencies: []float64{frequency}}
	slit := Crack{From: r3.Vec{}, To: r3.Vec{X: 1}, Width: width}
	f := check.Must(newFace(testSteel))
	tips := check.Must(diffraction.NewTip(testSteel))
	ends := (&crack{slit, around, f, tips}).ends(r3.Vec{X: 1}, r3.Vec{Z: 1})[:2] // a tip and its flat end
	for a := 0.15; a < 2*math.Pi; a += 0.37 {
		for b := 0.25; b < 2*math.Pi; b += 0.41 {
			for in := material.L; in <= material.T; in++ {
				for out := material.L; out <= material.T; out++ {
					i, o := waveAt(in, a+math.Pi), waveAt(out, b)
					one, sum := make([]complex128, 1), complex(0, 0)
					for _, end := range ends {
						end.Scatter(one, i, o)
						sum += one[0]
					}
					// A crack contains its face. The tip contains the rest.
					edge := complex(0, -1/(f.slowness(o).X-f.slowness(i).X)/math.Sqrt(2*math.Pi*frequency))
					lead := (&crack{slit, around, f, tips}).lead(i, o, r3.Vec{Z: 1}, width/2)
					sum += f.echo(wedge.Section, i, o, r3.Vec{Z: 1}) * edge * cmplx.Rect(1, -2*math.Pi*frequency*lead)
					wavelength := testSteel.Speed(out) / frequency
					got := sum / complex(math.Sqrt(wavelength), 0)
					want := tips.Slit(in, out, a, b, width*frequency/testSteel.Transverse)
					if !(cmplx.Abs(got-want) <= 1e-6*(cmplx.Abs(want)+1)) {
						t.Errorf("%v from %.2f rad, %v to %.2f rad: %v, want %v", in, a, out, b, got, want)
					}
				}
			}
		}
	}
}
