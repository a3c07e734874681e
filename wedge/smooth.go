// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r3"
)

// NewSmoothProfile returns the smoothest surface that is consistent with measured points. Points
// and surface are described at [NewProfile]. The deviation is the standard deviation of a measured
// z in m, finite, at least 0. The root mean square of the distances along z between the points and
// the curve is at most the deviation. Of all such curves z(x), the function returns the curve with
// the least integral of the squared second derivative. This curve is a natural cubic spline. For a
// deviation of 0 it passes through the points. Where the points lie nearer to a straight line than
// the deviation, the curve is this line.
//
// Noise of a few hundredths of a millimetre in points 1 mm apart can bend a curve more than the
// part is bent. Rays follow such bends, so measured points should be smoothed by the known noise.
//
// The method is by C. H. Reinsch, Smoothing by spline functions, Numerische Mathematik 10 (1967)
// 177-183 (cited from memory).
func NewSmoothProfile(points []r3.Vec, deviation float64) (Surface, error) {
	if !(deviation >= 0) || math.IsInf(deviation, 0) {
		return nil, fmt.Errorf("wedge: deviation %v m of the points of the profile: want a finite value of at least 0",
			deviation)
	}
	exact, err := newProfile(points)
	switch {
	case err != nil:
		return nil, err
	case deviation == 0 || len(points) == 2:
		return exact, nil
	}
	s := newSmoother(exact.x, exact.z)
	budget := deviation * deviation * float64(len(points))
	// The misfit grows with the stiffness, up to the misfit of the straight line.
	scale := math.Pow((exact.x[exact.final]-exact.x[0])/float64(exact.final), 3)
	low, high := math.Log(scale)-30, math.Log(scale)+30
	var z []float64
	for range 60 {
		middle := (low + high) / 2
		smooth, misfit, err := s.fit(math.Exp(middle))
		if err != nil {
			return nil, err
		}
		if misfit <= budget {
			low, z = middle, smooth
		} else {
			high = middle
		}
	}
	if z == nil {
		return exact, nil // the deviation is below the rounding errors
	}
	fitted := make([]r3.Vec, len(points))
	for i := range fitted {
		fitted[i] = r3.Vec{X: exact.x[i], Z: z[i]}
	}
	return NewProfile(fitted)
}

// smoother solves for the smoothing spline through given points. Q is the matrix of second divided
// differences, R the matrix of the integrals of products of hat functions. The second derivatives γ
// of the spline at the inner points satisfy (R + λ·QᵀQ)·γ = Qᵀz. The values of the spline are z -
// λ·Q·γ.
type smoother struct {
	z      []float64
	q      [][3]float64 // the factors of three neighbouring values: a row of Qᵀ
	h      []float64    // distances along x
	system *mat.SymBandDense
}

func newSmoother(x, z []float64) *smoother {
	n := len(x) - 2
	s := &smoother{z: z, system: mat.NewSymBandDense(n, min(2, n-1), nil)}
	for i := range n + 1 {
		s.h = append(s.h, x[i+1]-x[i])
	}
	for i := range n {
		a, b := 1/s.h[i], 1/s.h[i+1]
		s.q = append(s.q, [3]float64{a, -a - b, b})
	}
	return s
}

// fit returns the values of the spline of stiffness λ (m³), and the sum of the squared differences
// from the points, in m².
func (s *smoother) fit(stiffness float64) (z []float64, misfit float64, err error) {
	n := len(s.q)
	right := mat.NewVecDense(n, nil)
	for i, q := range s.q {
		right.SetVec(i, q[0]*s.z[i]+q[1]*s.z[i+1]+q[2]*s.z[i+2])
		for j := i; j < min(i+3, n); j++ {
			product := 0.0
			for k := j - i; k < 3; k++ {
				product += q[k] * s.q[j][k-j+i]
			}
			element := stiffness * product
			switch j {
			case i:
				element += (s.h[i] + s.h[i+1]) / 3
			case i + 1:
				element += s.h[i+1] / 6
			}
			s.system.SetSymBand(i, j, element)
		}
	}
	var factors mat.BandCholesky
	var bend mat.VecDense
	if !factors.Factorize(s.system) {
		return nil, 0, fmt.Errorf("wedge: smoothing the profile: the points are too uneven in x")
	}
	if err := factors.SolveVecTo(&bend, right); err != nil {
		return nil, 0, fmt.Errorf("wedge: smoothing the profile: %w", err)
	}
	z = append(z, s.z...)
	for i, q := range s.q {
		for k := range q {
			z[i+k] -= stiffness * q[k] * bend.AtVec(i)
		}
	}
	for i := range z {
		misfit += (z[i] - s.z[i]) * (z[i] - s.z[i])
	}
	return z, misfit, nil
}
