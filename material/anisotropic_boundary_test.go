// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// anisotropicKinds makes boundaries of each kind from random media.
var anisotropicKinds = []struct {
	name string
	make func(rng *rand.Rand) (*AnisotropicBoundary, error)
}{
	{"welded", func(rng *rand.Rand) (*AnisotropicBoundary, error) {
		return NewAnisotropicBoundary(randomSolid(rng), randomSolid(rng), Welded)
	}},
	{"liquid film", func(rng *rand.Rand) (*AnisotropicBoundary, error) {
		return NewAnisotropicBoundary(randomSolid(rng), randomSolid(rng), LiquidFilm)
	}},
	{"isotropic solid on anisotropic solid", func(rng *rand.Rand) (*AnisotropicBoundary, error) {
		return NewAnisotropicBoundary(randomBoundaryMedium(rng, 0.3), randomSolid(rng), Contact(rng.IntN(2)))
	}},
	{"two isotropic solids", func(rng *rand.Rand) (*AnisotropicBoundary, error) {
		return NewAnisotropicBoundary(randomBoundaryMedium(rng, 0.3), randomBoundaryMedium(rng, 0.3), Contact(rng.IntN(2)))
	}},
	{"fluid on solid", func(rng *rand.Rand) (*AnisotropicBoundary, error) {
		return NewAnisotropicBoundary(liquefied(randomBoundaryMedium(rng, 0.3)), randomSolid(rng), LiquidFilm)
	}},
	{"solid on fluid", func(rng *rand.Rand) (*AnisotropicBoundary, error) {
		return NewAnisotropicBoundary(randomSolid(rng), liquefied(randomBoundaryMedium(rng, 0.3)), Welded)
	}},
	{"two fluids", func(rng *rand.Rand) (*AnisotropicBoundary, error) {
		return NewAnisotropicBoundary(liquefied(randomBoundaryMedium(rng, 0.3)), liquefied(randomBoundaryMedium(rng, 0.3)), Welded)
	}},
	{"free solid", func(rng *rand.Rand) (*AnisotropicBoundary, error) {
		return NewAnisotropicBoundary(randomSolid(rng), nil, Welded)
	}},
	{"free fluid", func(rng *rand.Rand) (*AnisotropicBoundary, error) {
		return NewAnisotropicBoundary(liquefied(randomBoundaryMedium(rng, 0.3)), nil, Welded)
	}},
}

// randomSolid returns a solid of a random symmetry on random axes.
func randomSolid(rng *rand.Rand) Anisotropic {
	return randomSolids[rng.IntN(len(randomSolids))].make(rng)
}

// randomSlowness returns a slowness along the boundary, from 0 to above the slowness of the slowest
// wave of the upper medium.
func randomSlowness(rng *rand.Rand, b *AnisotropicBoundary) r2.Vec {
	least, _, err := b.upper.speeds()
	if err != nil {
		panic(err)
	}
	if rng.IntN(20) == 0 {
		return r2.Vec{}
	}
	sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
	return r2.Scale(1.1*rng.Float64()/least, r2.Vec{X: cos, Y: sin})
}

// anisotropicCase calls f with random boundaries of every kind.
func anisotropicCase(t *testing.T, n int, f func(t *testing.T, rng *rand.Rand, b *AnisotropicBoundary, p r2.Vec)) {
	for _, kind := range anisotropicKinds {
		t.Run(kind.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(14, 2026))
			for range n {
				b, err := kind.make(rng)
				if err != nil {
					continue // the speeds differ too much
				}
				p := randomSlowness(rng, b)
				f(t, rng, b, p)
				if t.Failed() {
					t.Fatalf("at %+v, slowness %v s/m", b, p)
				}
			}
		})
	}
}

// checkEnergy checks that the energies of each incident wave have the sum 1, and returns the number
// of incident waves.
func checkEnergy(t *testing.T, s *AnisotropicScattering) int {
	t.Helper()
	for i, energy := range s.Energy {
		sum := 0.0
		for _, e := range energy {
			if !(e >= 0) {
				t.Errorf("incident wave %d: energies %v: want none below 0", i, energy)
			}
			sum += e
		}
		in := s.Incident[i]
		cos := math.Abs(in.Group.Z) / r3.Norm(in.Group)
		if !(math.Abs(sum-1) <= max(1e-10, 1e-15/cos)) {
			t.Errorf("incident wave %d: energies %v have the sum 1 %+g", i, energy, sum-1)
		}
	}
	return len(s.Energy)
}

func TestAnisotropicEnergy(t *testing.T) {
	const n = 200
	waves := 0
	anisotropicCase(t, n, func(t *testing.T, _ *rand.Rand, b *AnisotropicBoundary, p r2.Vec) {
		waves += checkEnergy(t, check.Must(b.Scatter(p)))
	})
	if waves < 10*n {
		t.Errorf("only %d incident waves", waves)
	}
}

// TestAnisotropicEnergyNearIsotropy checks the energies where polarisations are nearly undefined:
// isotropic solids with a small anisotropy, down to the rounding.
func TestAnisotropicEnergyNearIsotropy(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 2026))
	near := func() Anisotropic {
		m := check.Must(randomBoundaryMedium(rng, 0.2).Anisotropic())
		size := m.Stiffness[5][5] * math.Pow(10, -16*rng.Float64()-1)
		for i := range 6 {
			for k := range i + 1 {
				v := size * rng.NormFloat64()
				m.Stiffness[i][k] += v
				m.Stiffness[k][i] = m.Stiffness[i][k]
			}
		}
		return m
	}
	for range 500 {
		b, err := NewAnisotropicBoundary(near(), near(), Contact(rng.IntN(2)))
		if err != nil {
			continue // the speeds differ too much
		}
		checkEnergy(t, check.Must(b.Scatter(randomSlowness(rng, b))))
		if t.Failed() {
			t.Fatalf("%+v", b)
		}
	}
}

// TestAnisotropicEnergyContrast checks the energies for contrasts up to the limit.
func TestAnisotropicEnergyContrast(t *testing.T) {
	rng := rand.New(rand.NewPCG(16, 2026))
	waves := 0
	for range 1000 {
		u, l := randomBoundaryMedium(rng, 0.5), randomBoundaryMedium(rng, 1.5)
		b, err := NewAnisotropicBoundary(u, l, Contact(rng.IntN(2)))
		if err != nil {
			continue
		}
		waves += checkEnergy(t, check.Must(b.Scatter(randomSlowness(rng, b))))
		if t.Failed() {
			t.Fatalf("%+v", b)
		}
	}
	if waves < 500 {
		t.Errorf("only %d incident waves", waves)
	}
}

// TestAnisotropicCriticalAngles checks the energies at critical angles, where two roots merge. The
// angles are found by bisection on the number of incident waves.
func TestAnisotropicCriticalAngles(t *testing.T) {
	angles := 0
	anisotropicCase(t, 12, func(t *testing.T, rng *rand.Rand, b *AnisotropicBoundary, p r2.Vec) {
		count := func(f float64) int { return len(check.Must(b.Scatter(r2.Scale(f, p))).Incident) }
		low, high := 0.1, 8*rng.Float64()+1
		for high-low > 1e-15*high {
			m := (low + high) / 2
			if m == low || m == high {
				break
			}
			if count(m) == count(low) {
				low = m
			} else {
				high = m
			}
		}
		if count(low) == count(high) {
			return
		}
		angles++
		for k := -3.; k <= 3; k++ {
			checkEnergy(t, check.Must(b.Scatter(r2.Scale(low*(1+k*0x1p-52), p))))
		}
		for k := 1e-15; k < 1e-5; k *= 10 {
			checkEnergy(t, check.Must(b.Scatter(r2.Scale(low*(1-k), p))))
			checkEnergy(t, check.Must(b.Scatter(r2.Scale(low*(1+k), p))))
		}
	})
	if angles < 25 {
		t.Errorf("only %d critical angles", angles)
	}
}

// find returns the index of the wave of one side and one mode of an isotropic medium, in the plane
// of incidence, or -1.
func find(waves []BoundaryWave, lower bool, speed float64, p r2.Vec) int {
	_, level := axesAlong(p)
	across := vector3{complex(level.X, 0), complex(level.Y, 0)}
	for k, w := range waves {
		square := complex(r2.Norm2(p), 0) + w.Normal*w.Normal
		if w.Lower == lower && cmplx.Abs(across.dot(w.Polarisation)) < 0.5 && cmplx.Abs(square*complex(speed*speed, 0)-1) <= 1e-6 {
			return k
		}
	}
	return -1
}

// TestAnisotropicIsotropicLimit compares with [Boundary], which uses closed forms.
func TestAnisotropicIsotropicLimit(t *testing.T) {
	compared := 0
	randomBoundaryCase(t, 0.4, func(t *testing.T, b Boundary, mode Mode, angle float64) {
		compared++
		if compared%15 != 0 {
			return
		}
		p := math.Sin(angle) / b.upper.Speed(mode)
		if leastCosineSquared(b, p) < 1e-7 {
			return // sensitive to the rounding of p; TestAnisotropicCriticalAngles has these
		}
		var upper, lower Medium = b.upper, nil
		if b.lower.Density != 0 {
			lower = b.lower
		}
		if compared%2 != 0 { // not by the closed forms
			upper, lower = withoutSymmetry(upper), withoutSymmetry(lower)
		}
		any, err := NewAnisotropicBoundary(upper, lower, b.contact)
		if err != nil {
			return
		}
		sin, cos := math.Sincos(float64(compared)) // any direction along the boundary
		along := r2.Vec{X: p * cos, Y: p * sin}
		s, want := check.Must(any.Scatter(along)), check.Must(b.Scatter(mode, angle))
		i := find(s.Incident, false, b.upper.Speed(mode), along)
		for out := L; out <= T; out++ {
			for _, lower := range []bool{false, true} {
				speed, d, e := b.upper.Speed(out), want.Displacement.Reflected[out], want.Energy.Reflected[out]
				if lower {
					speed, d, e = b.lower.Speed(out), want.Displacement.Transmitted[out], want.Energy.Transmitted[out]
				}
				k := find(s.Leaving, lower, speed, along)
				if k < 0 {
					if d != 0 {
						t.Errorf("no %v (lower %v)", out, lower)
					}
					continue
				}
				if forward := real(s.Leaving[k].Polarisation[2] * s.Leaving[k].Normal); out == L && !s.Leaving[k].Evanescent() && !(forward > 0) {
					t.Errorf("L (lower %v): displacement against the direction of travel", lower)
				}
				// Boundary scales evanescent polarisations d so that d·d = 1.
				g := vector3(s.Leaving[k].Polarisation)
				got := s.Displacement[i][k] * cmplx.Sqrt(g.dot(g))
				if !(cmplx.Abs(got-d) <= 1e-10*(1+cmplx.Abs(d))) {
					t.Errorf("%v (lower %v): displacement %v, want %v", out, lower, got, d)
				}
				if !(math.Abs(s.Energy[i][k]-e) <= 1e-10) {
					t.Errorf("%v (lower %v): energy %v, want %v", out, lower, s.Energy[i][k], e)
				}
			}
		}
	})
}

// withoutSymmetry returns a solid as an anisotropic solid; other media remain.
func withoutSymmetry(m Medium) Medium {
	if solid, ok := m.(Isotropic); ok && !solid.Fluid() {
		return check.Must(solid.Anisotropic())
	}
	return m
}

// fieldAt returns the displacement and the traction over iω at the boundary, from the waves and the
// full matrix of stiffness. It has no code in common with the solver.
func fieldAt(c *Stiffness, p r2.Vec, w *BoundaryWave) (u, h vector3) {
	s := [3]complex128{complex(p.X, 0), complex(p.Y, 0), w.Normal}
	g := w.Polarisation
	var tensor [3][3][3][3]complex128
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				for l := range 3 {
					tensor[i][j][k][l] = complex(c[voigtIndex[i][j]][voigtIndex[k][l]], 0)
				}
			}
		}
	}
	for i := range 3 {
		for k := range 3 {
			for l := range 3 {
				h[i] += tensor[i][2][k][l] * s[l] * g[k]
			}
		}
	}
	return g, h
}

// TestAnisotropicConditions checks the conditions that define each kind of boundary, on the fields
// that the coefficients give, and Christoffel's equation of each wave.
func TestAnisotropicConditions(t *testing.T) {
	anisotropicCase(t, 60, func(t *testing.T, _ *rand.Rand, b *AnisotropicBoundary, p r2.Vec) {
		s := check.Must(b.Scatter(p))
		unit := b.upper.impedance()
		for i := range s.Incident {
			var u, h [2]vector3 // above, below
			size := 1.0
			add := func(f complex128, w *BoundaryWave) {
				side, c := 0, &b.upper.stiffness
				if w.Lower {
					side, c = 1, &b.lower.stiffness
				}
				g, traction := fieldAt(c, p, w)
				u[side], h[side] = u[side].plus(f, g), h[side].plus(f/complex(unit, 0), traction)
				size += cmplx.Abs(f) * (1 + math.Sqrt(traction.square())/unit)
			}
			add(1, &s.Incident[i])
			for k := range s.Leaving {
				add(s.Displacement[i][k], &s.Leaving[k])
			}
			zero := func(what string, v complex128) {
				if !(cmplx.Abs(v) <= 1e-11*size) {
					t.Errorf("incident wave %d: %s: %v of %v", i, what, v, size)
				}
			}
			zero("normal traction", h[0][2]-h[1][2])
			if b.lower.density != 0 {
				zero("normal displacement", u[0][2]-u[1][2])
			}
			for k := range 2 {
				if b.welded {
					zero("displacement along the boundary", u[0][k]-u[1][k])
					zero("shear traction", h[0][k]-h[1][k])
				} else {
					zero("upper shear traction", h[0][k])
					zero("lower shear traction", h[1][k])
				}
			}
		}
	})
}

// TestAnisotropicWaves compares the waves that carry energy with the waves of [Christoffel], and
// checks that every wave satisfies Christoffel's equation and goes to its side.
func TestAnisotropicWaves(t *testing.T) {
	anisotropicCase(t, 60, func(t *testing.T, _ *rand.Rand, b *AnisotropicBoundary, p r2.Vec) {
		s := check.Must(b.Scatter(p))
		for _, w := range s.Leaving {
			h, away := &b.upper, -1.0
			if w.Lower {
				h, away = &b.lower, 1
			}
			if w.Evanescent() {
				if !(away*imag(w.Normal) > 0) {
					t.Errorf("normal slowness %v does not fall (lower %v)", w.Normal, w.Lower)
				}
				continue
			}
			if !(away*w.Flux > 0) || imag(w.Normal) != 0 {
				t.Errorf("flux %v, normal slowness %v (lower %v)", w.Flux, w.Normal, w.Lower)
			}
			if h.fluid {
				continue
			}
			slowness := r3.Vec{X: p.X, Y: p.Y, Z: real(w.Normal)}
			c := check.Must(NewChristoffel(Anisotropic{h.density, h.stiffness}))
			ok := false
			for _, v := range check.Must(c.Phase(slowness)) {
				ok = ok || math.Abs(v.Speed*r3.Norm(slowness)-1) <= 1e-12 && (v.Degenerate ||
					r3.Norm(r3.Sub(v.Group, w.Group)) <= 1e-7*v.Speed)
			}
			if !ok {
				t.Errorf("%+v is not a wave of the medium", w)
			}
		}
	})
}

// TestAnisotropicReciprocity checks that time can be reversed. If amplitudes are in the unit of
// equal energy flux, wave a causes wave b as the reversed wave b causes the reversed wave a. The
// reversed waves have the opposite slowness along the boundary.
func TestAnisotropicReciprocity(t *testing.T) {
	anisotropicCase(t, 60, func(t *testing.T, _ *rand.Rand, b *AnisotropicBoundary, p r2.Vec) {
		s, back := check.Must(b.Scatter(p)), check.Must(b.Scatter(r2.Scale(-1, p)))
		// opposite returns the reversed wave among waves and the sign of its polarisation.
		opposite := func(w *BoundaryWave, waves []BoundaryWave) (int, float64) {
			at, best, sign := -1, math.Inf(1), 0.0
			for k := range waves {
				v := &waves[k]
				if v.Lower != w.Lower || v.Evanescent() {
					continue
				}
				dot := real(vector3(v.Polarisation).dot(w.Polarisation))
				if miss := cmplx.Abs(v.Normal+w.Normal)/cmplx.Abs(w.Normal) + 1e-6*(1-math.Abs(dot)); miss < best {
					at, best, sign = k, miss, math.Copysign(1, dot)
				}
			}
			return at, sign
		}
		for i := range s.Incident {
			for k := range s.Leaving {
				if s.Leaving[k].Evanescent() {
					continue
				}
				from, one := opposite(&s.Leaving[k], back.Incident)
				to, two := opposite(&s.Incident[i], back.Leaving)
				there := s.Displacement[i][k] * complex(math.Sqrt(math.Abs(s.Leaving[k].Flux/s.Incident[i].Flux)), 0)
				reverse := back.Displacement[from][to] * complex(one*two*math.Sqrt(math.Abs(back.Leaving[to].Flux/back.Incident[from].Flux)), 0)
				if !(cmplx.Abs(there-reverse) <= 1e-9) {
					t.Errorf("from %d to %d: %v, reversed %v", i, k, there, reverse)
				}
			}
		}
	})
}

// TestAnisotropicIdenticalMedia checks that a welded boundary in one solid changes no wave.
func TestAnisotropicIdenticalMedia(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 2026))
	for range 100 {
		m := randomSolid(rng)
		b := check.Must(NewAnisotropicBoundary(m, m, Welded))
		s := check.Must(b.Scatter(randomSlowness(rng, b)))
		for i, in := range s.Incident {
			for k, out := range s.Leaving {
				want := 0.0
				if out.Lower != in.Lower && cmplx.Abs(in.Normal-out.Normal) <= 1e-12*cmplx.Abs(in.Normal) &&
					math.Abs(real(vector3(in.Polarisation).dot(out.Polarisation))) > 0.5 {
					want = 1
				}
				if !(math.Abs(cmplx.Abs(s.Displacement[i][k])-want) <= 1e-10) {
					t.Errorf("%+v into %+v: %v, want %v", in, out, s.Displacement[i][k], want)
				}
			}
		}
	}
}

// TestAnisotropicRotation checks that the energies do not change if the media and the slowness turn
// together about z.
func TestAnisotropicRotation(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 2026))
	for range 100 {
		u, l, contact := randomSolid(rng), randomSolid(rng), Contact(rng.IntN(2))
		b := check.Must(NewAnisotropicBoundary(u, l, contact))
		p := randomSlowness(rng, b)
		angle := 2 * math.Pi * rng.Float64()
		turn := r3.NewRotation(angle, r3.Vec{Z: 1})
		u.Stiffness, l.Stiffness = check.Must(u.Stiffness.Rotate(turn)), check.Must(l.Stiffness.Rotate(turn))
		turned := check.Must(NewAnisotropicBoundary(u, l, contact))
		s, other := check.Must(b.Scatter(p)), check.Must(turned.Scatter(r2.Rotate(p, angle, r2.Vec{})))
		for i := range s.Energy {
			for k, want := range s.Energy[i] {
				if got := other.Energy[i][k]; !(math.Abs(got-want) <= 1e-9) {
					t.Errorf("from %d to %d: energy %v, turned %v", i, k, want, got)
				}
			}
		}
		if t.Failed() {
			t.Fatalf("%+v", b)
		}
	}
}

// TestAnisotropicClosedForms compares with closed forms. In a plane of symmetry the wave SH does not
// couple to others; its coefficients follow from the impedances Z = C44·q + C45·p (Auld, Acoustic
// Fields and Waves in Solids, vol. 2, 1973, chapter 9, from memory). At normal incidence along an
// axis of symmetry each wave has R = (Z1 − Z2)/(Z1 + Z2) in displacement, up to the sign of the
// polarisation.
func TestAnisotropicClosedForms(t *testing.T) {
	rng := rand.New(rand.NewPCG(19, 2026))
	solid := func() Anisotropic { // axis of symmetry in the plane x–z
		for {
			angle := math.Pi * rng.Float64()
			c, err := TransverselyIsotropic{
				C11: (200 + 100*rng.Float64()) * 1e9, C12: (80 + 40*rng.Float64()) * 1e9,
				C13: (80 + 60*rng.Float64()) * 1e9, C33: (180 + 100*rng.Float64()) * 1e9,
				C44: (50 + 80*rng.Float64()) * 1e9,
			}.About(r3.Vec{X: math.Cos(angle), Z: math.Sin(angle)})
			if err == nil && c.Validate() == nil {
				return Anisotropic{7000 + 2000*rng.Float64(), c}
			}
		}
	}
	// The normal slowness of SH from c66·p² + 2·c46·p·q + c44·q² = ρ, in Voigt's numbers.
	impedance := func(m *Anisotropic, p, down float64) float64 {
		c66, c46, c44 := m.Stiffness[5][5], m.Stiffness[3][5], m.Stiffness[3][3]
		root := math.Sqrt(c46*c46*p*p - c44*(c66*p*p-m.Density))
		q := (-c46*p + down*root) / c44
		return c44*q + c46*p
	}
	for range 200 {
		u, l := solid(), solid()
		b := check.Must(NewAnisotropicBoundary(u, l, Welded))
		p := 2.2e-4 * (2*rng.Float64() - 1)
		s := check.Must(b.Scatter(r2.Vec{X: p}))
		z1, z2 := impedance(&u, p, 1), impedance(&l, p, 1)
		for i, in := range s.Incident {
			if in.Lower || cmplx.Abs(in.Polarisation[1]) < 0.99 {
				continue
			}
			for k, out := range s.Leaving {
				want := 0.0
				if cmplx.Abs(out.Polarisation[1]) > 0.99 {
					if want = (z1 - z2) / (z1 + z2); out.Lower {
						want = 2 * z1 / (z1 + z2)
					}
				}
				if got := s.Displacement[i][k]; !math.IsNaN(z1+z2) && !(cmplx.Abs(got-complex(want, 0)) <= 1e-10) {
					t.Errorf("SH into %+v: %v, want %v", out, got, want)
				}
			}
		}
	}
	for range 50 {
		one, two := randomUpright(rng), randomUpright(rng)
		s := check.Must(check.Must(NewAnisotropicBoundary(one, two, Welded)).Scatter(r2.Vec{}))
		for i, in := range s.Incident {
			for k, out := range s.Leaving {
				along := in.Polarisation == out.Polarisation || in.Polarisation == vector3(out.Polarisation).times(-1)
				z := func(m Anisotropic) float64 {
					at := [...]int{4, 3, 2}
					for axis := range 3 {
						if in.Polarisation[axis] != 0 {
							return math.Sqrt(m.Density * m.Stiffness[at[axis]][at[axis]])
						}
					}
					return math.NaN()
				}
				z1, z2 := z(one), z(two)
				if in.Lower {
					z1, z2 = z2, z1
				}
				want := 0.0
				if along {
					if want = math.Abs(z1-z2) / (z1 + z2); out.Lower != in.Lower {
						want = 2 * z1 / (z1 + z2)
					}
				}
				if got := cmplx.Abs(s.Displacement[i][k]); !(math.Abs(got-want) <= 1e-12) {
					t.Errorf("%+v into %+v: %v, want %v", in, out, got, want)
				}
			}
		}
	}
}

// randomUpright returns an orthotropic solid on the axes x, y, z.
func randomUpright(rng *rand.Rand) Anisotropic {
	between := func(low, high float64) float64 { return (low + (high-low)*rng.Float64()) * 1e9 }
	return Anisotropic{7000 + 2000*rng.Float64(), Orthotropic{
		C11: between(200, 300), C22: between(200, 300), C33: between(200, 300),
		C12: between(30, 90), C13: between(30, 90), C23: between(30, 90),
		C44: between(40, 70), C55: between(75, 95), C66: between(40, 120),
	}.Stiffness()}
}

func TestAnisotropicErrors(t *testing.T) {
	steel := check.Must(boundarySteel.Anisotropic())
	soft := boundarySteel
	soft.Transverse = 1
	light := boundarySteel
	light.Density = 0.01
	for _, tc := range []struct {
		name         string
		upper, lower Medium
		contact      Contact
		words        string
	}{
		{"no upper medium", nil, steel, Welded, "upper medium is missing"},
		{"invalid upper medium", Isotropic{}, steel, Welded, "upper"},
		{"invalid lower medium", steel, Anisotropic{}, Welded, "lower"},
		{"unknown contact", steel, steel, 2, "contact 2"},
		{"slow transverse wave", soft, nil, Welded, "wave speeds"},
		{"light medium", steel, light, Welded, "densities"},
	} {
		_, err := NewAnisotropicBoundary(tc.upper, tc.lower, tc.contact)
		t.Run(tc.name, func(t *testing.T) { check.Error(t, err, "material: ", tc.words) })
	}
	b := check.Must(NewAnisotropicBoundary(steel, nil, Welded))
	for _, p := range []r2.Vec{{X: math.NaN()}, {Y: math.Inf(1)}, {X: 1}} {
		_, err := b.Scatter(p)
		check.Error(t, err, "material: slowness", "s/m")
	}
	_, err := new(AnisotropicBoundary).Scatter(r2.Vec{})
	check.Error(t, err, "zero AnisotropicBoundary")
	if s := check.Must(b.Scatter(r2.Vec{X: 1e-3})); len(s.Incident) != 0 || len(s.Leaving) != 3 {
		t.Errorf("beyond all waves: %d incident, %d leaving, want 0 and 3", len(s.Incident), len(s.Leaving))
	}
}

// TestAnisotropicBoundarySmallestSlowness checks that the coefficients near normal incidence do not
// depend on the length of the slowness, also where its inverse is not finite.
func TestAnisotropicBoundarySmallestSlowness(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 4))
	water := Isotropic{Density: 998, Longitudinal: 1480}
	steel := Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230}
	for _, lower := range []Medium{randomSolid(rng), steel} {
		b := check.Must(NewAnisotropicBoundary(water, lower, LiquidFilm))
		for _, p := range []r2.Vec{{X: 1e-320}, {Y: -5e-324}, {X: 4e-310, Y: -3e-310}} {
			same := r2.Scale(1e-20, r2.Unit(r2.Scale(0x1p600, p)))
			got, want := check.Must(b.Scatter(p)), check.Must(b.Scatter(same))
			if diff := cmp.Diff(want.Energy, got.Energy, cmpopts.EquateApprox(0, 1e-12)); diff != "" {
				t.Errorf("slowness %v s/m (-1e-20 s/m +slowness):\n%s", p, diff)
			}
			for k, w := range got.Leaving {
				u := vector3(want.Leaving[k].Polarisation)
				if v := u.plus(-1, vector3(w.Polarisation)); !(v.square() <= 1e-20) {
					t.Errorf("slowness %v s/m: polarisation %v, want %v", p, w.Polarisation, want.Leaving[k].Polarisation)
				}
			}
		}
	}
}
