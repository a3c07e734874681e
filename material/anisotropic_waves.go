// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"cmp"
	"errors"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"
)

// vector3 is a complex vector on the axes x, y, z.
type vector3 [3]complex128

// dot returns Σ a_i·b_i, without a conjugate.
func (a vector3) dot(b vector3) complex128 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// conj returns the conjugate.
func (a vector3) conj() vector3 {
	return vector3{cmplx.Conj(a[0]), cmplx.Conj(a[1]), cmplx.Conj(a[2])}
}

// plus returns a + f·b.
func (a vector3) plus(f complex128, b vector3) vector3 {
	return vector3{a[0] + f*b[0], a[1] + f*b[1], a[2] + f*b[2]}
}

// times returns f·a.
func (a vector3) times(f complex128) vector3 { return vector3{f * a[0], f * a[1], f * a[2]} }

// cross returns a × b, without a conjugate.
func (a vector3) cross(b vector3) vector3 {
	return vector3{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// square returns the square of the length.
func (a vector3) square() float64 {
	return boundaryNorm(a[0]) + boundaryNorm(a[1]) + boundaryNorm(a[2])
}

// unit returns a at unit length.
func (a vector3) unit() vector3 { return a.times(complex(1/math.Sqrt(a.square()), 0)) }

// along returns the real matrix m times a.
func (a vector3) along(m *[3][3]float64) vector3 {
	var out vector3
	for i := range out {
		for k := range a {
			out[i] += boundaryScale(a[k], m[i][k])
		}
	}
	return out
}

// partialWave is a wave of one half-space. Its traction on a plane of constant z is iω·traction.
type partialWave struct {
	q                      complex128
	displacement, traction vector3
}

// product returns the scalar product Σ (u*·h' + h*·u') of two waves, with the displacements u and
// u' and the tractions h and h'. It is 0 for two waves with different real q, and for an evanescent
// wave with itself. For a wave with itself it is twice the energy flux divided by ω²/2.
func (w *partialWave) product(v *partialWave) complex128 {
	return w.displacement.conj().dot(v.traction) + w.traction.conj().dot(v.displacement)
}

// flux is the energy flux of the wave, divided by ω²/2.
func (w *partialWave) flux() float64 { return real(w.product(w)) / 2 }

// add adds f times v.
func (w *partialWave) add(f complex128, v *partialWave) {
	w.displacement = w.displacement.plus(f, v.displacement)
	w.traction = w.traction.plus(f, v.traction)
}

// partialWaves holds the waves of a half-space that go up, and the waves that go down.
type partialWaves struct{ up, down []partialWave }

// waves returns the waves of h for the slowness along the boundary.
func (h *halfSpace) waves(slowness r2.Vec) (partialWaves, error) {
	if h.isotropic != (Isotropic{}) {
		return h.isotropicWaves(slowness), nil
	}
	// The units of the calculation make the stiffness and the slowness about 1.
	unit := h.largest()
	speed := math.Sqrt(unit / h.density)
	s := newStroh(&h.stiffness, unit, slowness.X*speed, slowness.Y*speed)
	w, err := s.waves()
	if err != nil {
		return w, err
	}
	for _, list := range [][]partialWave{w.up, w.down} {
		for i := range list {
			list[i].q *= complex(1/speed, 0)
			list[i].traction = list[i].traction.times(complex(unit/speed, 0))
		}
	}
	return w, nil
}

// isotropicWaves returns the waves of an isotropic solid or of a fluid, which have a closed form.
func (h *halfSpace) isotropicWaves(slowness r2.Vec) (out partialWaves) {
	along, level := axesAlong(slowness)
	p := r2.Norm(slowness)
	wave := func(c float64, cos complex128, plane, across complex128, z complex128) partialWave {
		w := partialWave{q: cos / complex(c, 0)}
		for i, axes := range [3][2]float64{{along.X, level.X}, {along.Y, level.Y}} {
			w.displacement[i] = boundaryScale(plane, axes[0]) + boundaryScale(across, axes[1])
		}
		w.displacement[2] = z
		w.traction = h.traction(slowness, w.q, w.displacement)
		return w
	}
	cosine := func(c float64) complex128 {
		square := (1 - c*p) * (1 + c*p)
		if math.Abs(square) < 0x1p-52 {
			square = 0x1p-52 // as in snellComplex
		}
		return cmplx.Sqrt(complex(square, 0))
	}
	cL, cT := h.isotropic.Longitudinal, h.isotropic.Transverse
	for _, side := range []struct {
		list *[]partialWave
		sign complex128
	}{{&out.down, 1}, {&out.up, -1}} {
		cos, sin := side.sign*cosine(cL), complex(cL*p, 0)
		*side.list = append(*side.list, wave(cL, cos, sin, 0, cos))
		if h.fluid {
			continue
		}
		cos, sin = side.sign*cosine(cT), complex(cT*p, 0)
		*side.list = append(*side.list, wave(cT, cos, cos, 0, -sin), wave(cT, cos, 0, 1, 0))
	}
	return out
}

// axesAlong returns the unit vector along a slowness along the boundary, and the unit vector z ×
// along.
func axesAlong(slowness r2.Vec) (along, level r3.Vec) {
	along = r3.Vec{X: 1}
	if slowness != (r2.Vec{}) {
		u := r2.Unit(r2.Scale(0x1p600, slowness)) // the length of the smallest slownesses has no finite inverse
		along = r3.Vec{X: u.X, Y: u.Y}
	}
	return along, r3.Vec{X: -along.Y, Y: along.X}
}

// stress returns the stress over iω of a wave with the polarisation g.
func (h *halfSpace) stress(slowness r2.Vec, q complex128, g vector3) [6]complex128 {
	x, y := complex(slowness.X, 0), complex(slowness.Y, 0)
	strain := [6]complex128{x * g[0], y * g[1], q * g[2], y*g[2] + q*g[1], x*g[2] + q*g[0], x*g[1] + y*g[0]}
	var stress [6]complex128
	for i := range stress {
		for k, e := range strain {
			stress[i] += boundaryScale(e, h.stiffness[i][k])
		}
	}
	return stress
}

// traction returns the traction over iω on a plane of constant z.
func (h *halfSpace) traction(slowness r2.Vec, q complex128, g vector3) vector3 {
	s := h.stress(slowness, q, g)
	return vector3{s[4], s[3], s[2]}
}

// stroh holds the matrices of Stroh's equation; see [AnisotropicBoundary].
type stroh struct {
	px, py  float64
	q, r, t [3][3]float64 // q is Q − ρ
}

// newStroh returns the matrices in the unit of stiffness, for a density of 1.
func newStroh(c *Stiffness, unit, px, py float64) *stroh {
	s := &stroh{px: px, py: py}
	p := [2]float64{px, py}
	at := func(i, a, k, b int) float64 { return c[voigtIndex[i][a]][voigtIndex[k][b]] / unit }
	for i := range 3 {
		for k := range 3 {
			for a := range p {
				for b := range p {
					s.q[i][k] += at(i, a, k, b) * p[a] * p[b]
				}
				s.r[i][k] += at(i, a, k, 2) * p[a]
			}
			s.t[i][k] = at(i, 2, k, 2)
		}
		s.q[i][i]--
	}
	return s
}

// christoffel returns the matrix whose null vectors are polarisations.
func (s *stroh) christoffel(q complex128) [3]vector3 {
	var m [3]vector3
	for i := range 3 {
		for k := range 3 {
			m[i][k] = complex(s.q[i][k], 0) + q*complex(s.r[i][k]+s.r[k][i], 0) + q*q*complex(s.t[i][k], 0)
		}
	}
	return m
}

// wave returns the wave with the normal slowness q and the polarisation g.
func (s *stroh) wave(q complex128, g vector3) partialWave {
	w := partialWave{q: q, displacement: g, traction: g.along(&s.t).times(q)}
	for i := range 3 {
		for k := range 3 {
			w.traction[i] += boundaryScale(g[k], s.r[k][i])
		}
	}
	return w
}

// roots returns the six roots q: the eigenvalues of the real matrix N in
//
//	q·(u, h) = N·(u, h),  N = ( −T⁻¹Rᵀ              T⁻¹   )
//	                          ( ρ − Q + R·T⁻¹·Rᵀ   −R·T⁻¹ )
func (s *stroh) roots() ([]complex128, error) {
	row := func(i int) r3.Vec { return r3.Vec{X: s.t[i][0], Y: s.t[i][1], Z: s.t[i][2]} }
	cofactors := [3]r3.Vec{r3.Cross(row(1), row(2)), r3.Cross(row(2), row(0)), r3.Cross(row(0), row(1))}
	det := r3.Dot(row(0), cofactors[0])
	var inverse, forward [3][3]float64 // T⁻¹ and T⁻¹Rᵀ
	for i, c := range cofactors {
		inverse[i] = [3]float64{c.X / det, c.Y / det, c.Z / det}
	}
	for i := range 3 {
		for k := range 3 {
			for j := range 3 {
				forward[i][k] += inverse[i][j] * s.r[k][j]
			}
		}
	}
	n := mat.NewDense(6, 6, nil)
	for i := range 3 {
		for k := range 3 {
			n.Set(i, k, -forward[i][k])
			n.Set(i, 3+k, inverse[i][k])
			n.Set(3+i, 3+k, -forward[k][i])
			v := -s.q[i][k]
			for j := range 3 {
				v += s.r[i][j] * forward[j][k]
			}
			n.Set(3+i, k, v)
		}
	}
	var e mat.Eigen
	if !e.Factorize(n, mat.EigenNone) {
		return nil, errors.New("material: the waves at a boundary were not found")
	}
	return e.Values(nil), nil
}

const (
	// grazing is the least difference of the roots of two waves that merge at a critical angle, as
	// a part of the largest root. The rounding of a double root has this size.
	grazing = 1e-8
	// merged is the difference of two roots below which both waves get polarisations together.
	merged = 1e-11
	// flat is the size of the second pivot of Christoffel's matrix, as a part of the first, below
	// which the matrix has two null vectors.
	flat = 1e-6
)

// root is a normal slowness. A double root has two polarisations.
type root struct {
	q      complex128
	double bool
}

// settle sorts the six roots into real roots and roots with Im q > 0, which stand for a pair. It
// joins double roots, and separates the roots of a wave at its critical angle.
func (s *stroh) settle(roots []complex128) (onAxis, off []root) {
	var scale float64
	for _, q := range roots {
		scale = max(scale, cmplx.Abs(q))
	}
	var reals []float64
	var upper []complex128 // above the real axis
	for _, q := range roots {
		switch {
		case math.Abs(imag(q)) <= grazing*scale:
			reals = append(reals, real(q))
		case imag(q) > 0:
			upper = append(upper, q)
		}
	}
	slices.Sort(reals)
	for i := 0; i < len(reals); i++ {
		q := reals[i]
		if i+1 == len(reals) || reals[i+1]-q > 2*grazing*scale {
			onAxis = append(onAxis, root{q: complex(q, 0)})
			continue
		}
		next := reals[i+1]
		mean := (q + next) / 2
		i++
		switch two := s.twofold(complex(mean, 0)); {
		case !two:
			onAxis = append(onAxis, root{q: complex(mean-grazing*scale, 0)}, root{q: complex(mean+grazing*scale, 0)})
		case next-q <= merged*scale:
			onAxis = append(onAxis, root{complex(mean, 0), true})
		default:
			onAxis = append(onAxis, root{q: complex(q, 0)}, root{q: complex(next, 0)})
		}
	}
	slices.SortFunc(upper, func(a, b complex128) int {
		return cmp.Or(cmp.Compare(imag(b), imag(a)), cmp.Compare(real(a), real(b)))
	})
	for len(upper) > 0 {
		q := upper[0]
		upper = upper[1:]
		at := slices.IndexFunc(upper, func(p complex128) bool { return cmplx.Abs(p-q) <= merged*scale })
		if at >= 0 && s.twofold((q+upper[at])/2) {
			off = append(off, root{(q + upper[at]) / 2, true})
			upper = slices.Delete(upper, at, at+1)
		} else {
			off = append(off, root{q: q})
		}
	}
	return onAxis, off
}

// twofold reports whether Christoffel's matrix has two null vectors at q, nearly.
func (s *stroh) twofold(q complex128) bool {
	m := s.christoffel(q)
	_, rest := nullVector(&m)
	return rest <= flat
}

// nullVector returns the null vector of a singular matrix, by elimination with full pivoting. rest
// is the size of the second pivot as a part of the first. If it is 0, there is a second null
// vector.
func nullVector(m *[3]vector3) (v vector3, rest float64) {
	row, col := 0, 0
	for i := range 3 {
		for k := range 3 {
			if cmplx.Abs(m[i][k]) > cmplx.Abs(m[row][col]) {
				row, col = i, k
			}
		}
	}
	pivot := m[row][col]
	// The other columns, and the equation that remains for them: s·x + t·y = 0.
	x, y := (col+1)%3, (col+2)%3
	s, t := complex128(1), complex128(0)
	for _, i := range [...]int{(row + 1) % 3, (row + 2) % 3} {
		f := m[i][col] / pivot
		one, two := m[i][x]-f*m[row][x], m[i][y]-f*m[row][y]
		if size := max(cmplx.Abs(one), cmplx.Abs(two)); size > rest {
			rest, s, t = size, one, two
		}
	}
	v[x], v[y] = -t, s
	v[col] = -(m[row][x]*v[x] + m[row][y]*v[y]) / pivot
	return v, rest / cmplx.Abs(pivot)
}

// polarised appends to dst the waves of a root. Of two polarisations, one is as near as possible to
// the horizontal direction across the slowness.
func (s *stroh) polarised(dst []partialWave, r root) []partialWave {
	m := s.christoffel(r.q)
	if !r.double {
		g, _ := nullVector(&m)
		return append(dst, s.wave(r.q, g.unit()))
	}
	row := slices.MaxFunc(m[:], func(a, b vector3) int { return cmp.Compare(a.square(), b.square()) }).unit()
	level := vector3{complex(-s.py, 0), complex(s.px, 0)}
	if s.px == 0 && s.py == 0 {
		level[1] = 1
	}
	across := level.plus(-row.dot(level), row.conj()).unit()
	other := row.cross(across.conj()).unit()
	return append(dst, s.wave(r.q, other), s.wave(r.q, across))
}

// waves returns the waves in the units of s.
func (s *stroh) waves() (partialWaves, error) {
	values, err := s.roots()
	if err != nil {
		return partialWaves{}, err
	}
	onAxis, off := s.settle(values)
	var running, fading []partialWave
	for _, r := range onAxis {
		running = s.polarised(running, r)
	}
	for _, r := range off {
		fading = s.polarised(fading, r)
	}
	separate(running, fading)
	var out partialWaves
	for _, w := range fading { // Im q > 0: falls downwards
		out.down = append(out.down, w)
		out.up = append(out.up, partialWave{cmplx.Conj(w.q), w.displacement.conj(), w.traction.conj()})
	}
	for _, w := range running {
		if w.flux() > 0 {
			out.down = append(out.down, w)
		} else {
			out.up = append(out.up, w)
		}
	}
	if len(out.up) != 3 || len(out.down) != 3 {
		return out, errors.New("material: the waves at a boundary were not found: three waves up and three waves down are wanted")
	}
	return out, nil
}

// separate removes the rounding of products that are 0 in exact arithmetic. These are the products
// of two different waves that carry energy, of such a wave and an evanescent wave, and of an
// evanescent wave with itself. Where two roots nearly coincide, their small distance amplifies the
// rounding. Without these products energy is conserved to rounding.
func separate(running, fading []partialWave) {
	for range 2 {
		for i := range running {
			for k := range i {
				a, b := &running[i], &running[k]
				product := a.product(b)
				if fa, fb := a.flux(), b.flux(); math.Abs(fa) > math.Abs(fb) {
					b.add(-product/complex(2*fa, 0), a)
				} else {
					a.add(-product/complex(2*fb, 0), b)
				}
			}
		}
		for i := range fading {
			w := &fading[i]
			for k := range running {
				r := &running[k]
				w.add(-r.product(w)/complex(2*r.flux(), 0), r)
			}
			conj := partialWave{cmplx.Conj(w.q), w.displacement.conj(), w.traction.conj()}
			w.add(-w.product(w)/(2*w.product(&conj)), &conj)
		}
	}
}
