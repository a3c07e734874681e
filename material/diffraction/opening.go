// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package diffraction

import (
	"errors"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"

	"github.com/isochron-imaging/isochron/internal/bessel"
)

// opening is the motion of the faces of a crack, normal or tangential, in the basis
//
//	√(1 - u²)·U_m(u),   m = 0, 1, 2, …
//
// of Chebyshev polynomials of the second kind, with the position u from -1 to 1 along the crack.
// Each function has the behaviour √distance of an opening at both tips. The Fourier transform of a
// function is, without a factor, (m+1)·J_{m+1}(ζ)/ζ with the wave number ζ in half lengths.
type opening struct {
	n       int
	inverse [2][]complex128 // of the matrix of even and of odd functions, row by row
}

// between returns the product of transforms, the inverse matrix, and other transforms.
func (o *opening) between(left, right []float64) complex128 {
	sum := complex128(0)
	for parity, inverse := range o.inverse {
		size := (o.n + 1 - parity) / 2
		for i := range size {
			re, im := 0.0, 0.0
			for j, v := range inverse[i*size : (i+1)*size] {
				re += real(v) * right[2*j+parity]
				im += imag(v) * right[2*j+parity]
			}
			sum += complex(re*left[2*i+parity], im*left[2*i+parity])
		}
	}
	return sum
}

// transforms returns (m+1)·J_{m+1}(ζ)/ζ for m from 0 to n-1.
func transforms(n int, zeta float64) []float64 {
	j := make([]float64, n+1)
	z := math.Abs(zeta)
	if z < 1e-9 { // only the first is above rounding
		j[1] = 0.5
		return j[1:]
	}
	bessel.J(j, z)
	for m := range n {
		j[m+1] *= float64(m+1) / z
		if zeta < 0 && m%2 == 1 {
			j[m+1] = -j[m+1]
		}
	}
	return j[1:]
}

// openings returns the normal and the tangential opening of a crack. Its half length is l and t
// radians of longitudinal and of transverse waves.
//
// The stress that an opening d causes on the crack is, for the wave number ζ along the crack,
// -μ·κ(ζ)·d(ζ), with the Rayleigh function R and
//
//	κ(ζ) = -R(ζ)/(2t²·√(ζ² - k²)),   R(ζ) = (2ζ² - t²)² - 4ζ²·√(ζ² - l²)·√(ζ² - t²)
//
// and k = l for the normal and k = t for the tangential opening. It cancels the stress of the
// incident wave on the crack in the sense of Galerkin: weighted with each function of the basis.
// The element of the matrix for two functions of the same parity is
//
//	∫ κ(ζ)·(m+1)·J_{m+1}(ζ)·(n+1)·J_{n+1}(ζ)/ζ² dζ,   ζ from 0 to infinity
//
// Elements of functions of different parity are 0.
func openings(l, t float64) (normal, tangential *opening, err error) {
	// The transforms of the incident waves fall faster than exponentially for orders above t.
	n := int(math.Ceil(t+6*math.Cbrt(t))) + 10
	g := newGalerkin(l, t, n)
	g.body()
	g.tail()
	if normal, err = g.invert(g.matrix[0]); err != nil {
		return nil, nil, err
	}
	tangential, err = g.invert(g.matrix[1])
	return normal, tangential, err
}

// galerkin sums the matrices of a crack. Only elements with m ≤ n and of one parity are set.
type galerkin struct {
	l, t   float64
	n      int
	split  float64 // wave number between body and tail, above t and all orders
	matrix [2][]complex128
}

func newGalerkin(l, t float64, n int) *galerkin {
	g := &galerkin{l: l, t: t, n: n, split: 1.5*float64(n) + 30}
	for i := range g.matrix {
		g.matrix[i] = make([]complex128, n*n)
	}
	return g
}

// kernel returns κ for the normal and the tangential opening. The wave number is real and positive,
// or it has a real part above t and a positive imaginary part.
func (g *galerkin) kernel(zeta complex128) [2]complex128 {
	root := func(k float64) complex128 {
		square := (zeta - complex(k, 0)) * (zeta + complex(k, 0))
		if imag(zeta) == 0 {
			return cmplx.Conj(cmplx.Sqrt(complex(real(square), 0))) // waves travel away: -i
		}
		return cmplx.Sqrt(square)
	}
	alpha, beta := root(g.l), root(g.t)
	ll, tt := complex(g.l*g.l, 0), complex(g.t*g.t, 0)
	// R without the difference of two numbers near 4ζ⁴.
	rayleigh := tt*tt - 4*zeta*zeta*beta*(tt-ll)/(alpha+beta)
	return [2]complex128{-rayleigh / (2 * tt * alpha), -rayleigh / (2 * tt * beta)}
}

// body adds the integral from 0 to split. It has three parts, between the branch points l and t of
// κ. In each, a substitution removes the square roots at its ends.
func (g *galerkin) body() {
	g.piece(math.Pi/2, g.l, func(angle float64) (zeta, slope float64) {
		sin, cos := math.Sincos(angle)
		return g.l * sin, g.l * cos
	})
	g.piece(math.Pi, g.t-g.l, func(angle float64) (zeta, slope float64) {
		sin, cos := math.Sincos(angle)
		return g.l + (g.t-g.l)/2*(1-cos), (g.t - g.l) / 2 * sin
	})
	g.piece(math.Sqrt(g.split-g.t), 2*(g.split-g.t), func(root float64) (zeta, slope float64) {
		return g.t + root*root, 2 * root
	})
}

// piece adds an integral over a parameter from 0 to end, over which ζ rises by about span.
func (g *galerkin) piece(end, span float64, at func(float64) (zeta, slope float64)) {
	nodes := 40 + int(1.3*span)
	place, weight := make([]float64, nodes), make([]float64, nodes)
	quad.Legendre{}.FixedLocations(place, weight, 0, end)
	for i, p := range place {
		zeta, slope := at(p)
		f := transforms(g.n, zeta)
		kernel := g.kernel(complex(zeta, 0))
		for side, matrix := range g.matrix {
			factor := kernel[side] * complex(weight[i]*slope, 0)
			for m := range g.n {
				row := factor * complex(f[m], 0)
				for n := m; n < g.n; n += 2 {
					matrix[m*g.n+n] += row * complex(f[n], 0)
				}
			}
		}
	}
}

// tail adds the integral from split to infinity, where κ is real. With the Hankel functions H = J +
// iY the product of two Bessel functions is
//
//	J_m·J_n = Re(H_m·H̄_n)/2 + Re(H_m·H_n)/2
//
// The first term does not oscillate, and is a smooth function of 1/ζ. The second term decays
// exponentially above the real axis, where tail integrates it.
func (g *galerkin) tail() {
	const nodes, height = 40, 20 // exp(-2·height) is below rounding
	place, weight := make([]float64, nodes), make([]float64, nodes)
	quad.Legendre{}.FixedLocations(place, weight, 0, 1)
	for i, v := range place {
		smooth := g.split / v
		g.addTail(complex(smooth, 0), complex(smooth/v*weight[i]/2, 0), true)
		g.addTail(complex(g.split, height*v), complex(0, height*weight[i]/2), false)
	}
}

// addTail adds the real part of an integrand at a node with a weight. The second Hankel function is
// conjugate or not.
func (g *galerkin) addTail(zeta, weight complex128, conjugate bool) {
	h := make([]complex128, g.n+1)
	bessel.Hankel(h, zeta)
	f := h[1:]
	for m := range f {
		f[m] *= complex(float64(m+1), 0) / zeta
	}
	kernel := g.kernel(zeta)
	for side, matrix := range g.matrix {
		for m := range f {
			row := weight * kernel[side] * f[m]
			for n := m; n < g.n; n += 2 {
				other := f[n]
				if conjugate {
					other = cmplx.Conj(other)
				}
				matrix[m*g.n+n] += complex(real(row*other), 0)
			}
		}
	}
}

// invert returns the opening with the inverse of a matrix, for each parity. The inverse of A + iB
// is a block of the inverse of the real matrix with the rows (A, -B) and (B, A).
func (g *galerkin) invert(matrix []complex128) (*opening, error) {
	o := &opening{n: g.n}
	for parity := range o.inverse {
		size := (g.n + 1 - parity) / 2
		block := mat.NewDense(2*size, 2*size, nil)
		for i := range size {
			for j := range size {
				m, n := 2*min(i, j)+parity, 2*max(i, j)+parity
				v := matrix[m*g.n+n]
				block.Set(i, j, real(v))
				block.Set(i, size+j, -imag(v))
				block.Set(size+i, j, imag(v))
				block.Set(size+i, size+j, real(v))
			}
		}
		var inverse mat.Dense
		if err := inverse.Inverse(block); err != nil {
			return nil, errors.New("diffraction: the equations of the crack have no unique solution")
		}
		o.inverse[parity] = make([]complex128, size*size)
		for i := range size {
			for j := range size {
				o.inverse[parity][i*size+j] = complex(inverse.At(i, j), inverse.At(size+i, j))
			}
		}
	}
	return o, nil
}
