// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"cmp"
	"errors"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"
)

// scatter returns the coefficients for the waves of both media.
func (b *AnisotropicBoundary) scatter(slowness r2.Vec, upper, lower *partialWaves) (*AnisotropicScattering, error) {
	orient(upper, slowness)
	orient(lower, slowness)
	incident := slices.Concat(carrying(upper.down), carrying(lower.up))
	leaving := slices.Concat(ordered(upper.up), ordered(lower.down))
	amplitudes, err := b.match(incident, len(carrying(upper.down)), leaving, len(upper.up))
	if err != nil {
		return nil, err
	}
	out := &AnisotropicScattering{Displacement: amplitudes}
	for i := range incident {
		out.Incident = append(out.Incident, b.describe(&incident[i], slowness, i >= len(carrying(upper.down))))
	}
	for k := range leaving {
		out.Leaving = append(out.Leaving, b.describe(&leaving[k], slowness, k >= len(upper.up)))
	}
	for i := range incident {
		energy := make([]float64, len(leaving))
		for k := range leaving {
			energy[k] = boundaryNorm(amplitudes[i][k]) * math.Abs(out.Leaving[k].Flux/out.Incident[i].Flux)
		}
		out.Energy = append(out.Energy, energy)
	}
	return out, nil
}

// evanescent reports whether w carries no energy through the boundary.
func (w *partialWave) evanescent() bool { return imag(w.q) != 0 }

// carrying returns the waves that carry energy.
func carrying(waves []partialWave) []partialWave {
	var out []partialWave
	for _, w := range ordered(waves) {
		if !w.evanescent() {
			out = append(out, w)
		}
	}
	return out
}

// ordered returns the waves in the order of [AnisotropicScattering].
func ordered(waves []partialWave) []partialWave {
	out := slices.Clone(waves)
	slices.SortStableFunc(out, func(a, b partialWave) int {
		return cmp.Or(cmp.Compare(math.Abs(imag(b.q)), math.Abs(imag(a.q))),
			cmp.Compare(math.Abs(real(a.q)), math.Abs(real(b.q))))
	})
	return out
}

// orient gives the waves the length, the phase and the sign of [BoundaryWave].
func orient(waves *partialWaves, slowness r2.Vec) {
	_, level := axesAlong(slowness)
	for _, list := range []struct {
		waves []partialWave
		sign  float64
	}{{waves.down, 1}, {waves.up, -1}} {
		for i := range list.waves {
			w := &list.waves[i]
			factor := complex(1/math.Sqrt(w.displacement.square()), 0)
			if w.evanescent() {
				if phase := cmplx.Sqrt(w.displacement.dot(w.displacement)); phase != 0 {
					factor *= cmplx.Conj(phase) / complex(cmplx.Abs(phase), 0)
				}
			}
			g := w.displacement.times(factor)
			shown := r3.Vec{X: real(g[0]), Y: real(g[1]), Z: real(g[2])}
			n := r3.Vec{X: slowness.X, Y: slowness.Y, Z: real(w.q)}
			if n == (r3.Vec{}) {
				n.Z = list.sign
			}
			n = r3.Unit(n)
			var most float64
			for _, axis := range [...]r3.Vec{n, r3.Scale(list.sign, r3.Cross(level, n)), level} {
				if v := r3.Dot(shown, axis); math.Abs(v) > math.Abs(most) {
					most = v
				}
			}
			if most < 0 {
				factor = -factor
			}
			w.displacement, w.traction = w.displacement.times(factor), w.traction.times(factor)
		}
	}
}

// describe returns w in the form of the result.
func (b *AnisotropicBoundary) describe(w *partialWave, slowness r2.Vec, lower bool) BoundaryWave {
	out := BoundaryWave{Lower: lower, Normal: w.q, Polarisation: w.displacement}
	if w.evanescent() {
		return out
	}
	h := &b.upper
	if lower {
		h = &b.lower
	}
	// The energy flux is the product of stress and particle velocity.
	var stress symmetric3
	for i, v := range h.stress(slowness, w.q, w.displacement) {
		stress[i] = real(v)
	}
	g := r3.Vec{X: real(w.displacement[0]), Y: real(w.displacement[1]), Z: real(w.displacement[2])}
	out.Flux = w.flux()
	out.Group = r3.Scale(1/h.density, stress.mulVec(g))
	out.Group.Z = out.Flux / h.density
	return out
}

// match returns the amplitude of each leaving wave for each incident wave. The first down of the
// incident waves, and the first up of the leaving waves, belong to the upper medium.
//
// If two solids move together, the displacement and the traction are continuous. Otherwise the
// shear traction is 0 on each solid side. The normal displacement and the normal traction are
// continuous. At a free surface the whole traction is 0.
func (b *AnisotropicBoundary) match(incident []partialWave, down int, leaving []partialWave, up int) ([][]complex128, error) {
	n := len(leaving)
	rows := make([][]complex128, n) // n unknowns, then the negative of each incident wave
	column := func(at int, w *partialWave, lower bool, sign float64) {
		side := sign
		if lower {
			side = -sign
		}
		// The unit of the traction makes displacement and traction equally large.
		u, h := w.displacement, w.traction.times(complex(1/b.upper.impedance(), 0))
		row := 0
		set := func(f float64, v complex128) {
			rows[row][at] = boundaryScale(v, f)
			row++
		}
		if b.welded {
			for k := range 3 {
				set(side, u[k])
				set(side, h[k])
			}
			return
		}
		for _, s := range []*halfSpace{&b.upper, &b.lower} {
			if s.fluid || s.density == 0 {
				continue
			}
			own := 0.
			if lower == (s == &b.lower) {
				own = sign
			}
			set(own, h[0])
			set(own, h[1])
		}
		set(side, h[2])
		if b.lower.density != 0 {
			set(side, u[2])
		}
	}
	for i := range rows {
		rows[i] = make([]complex128, n+len(incident))
	}
	for k := range leaving {
		column(k, &leaving[k], k >= up, 1)
	}
	for i := range incident {
		column(n+i, &incident[i], i >= down, -1)
	}
	if !eliminate(rows) {
		return nil, errors.New("material: the coefficients of a boundary were not found: a surface wave has the slowness along it")
	}
	out := make([][]complex128, len(incident))
	for i := range out {
		for k := range n {
			out[i] = append(out[i], rows[k][n+i])
		}
	}
	return out, nil
}

// impedance returns the unit of impedances in kg/(m²·s).
func (h *halfSpace) impedance() float64 { return math.Sqrt(h.largest() * h.density) }

// eliminate solves n linear equations. Each row holds n coefficients, then the right sides. They
// are replaced by the solutions. It uses elimination with pivots that are chosen relative to the
// size of their rows, and reports whether the equations have a solution.
func eliminate(rows [][]complex128) bool {
	n := len(rows)
	for i := range rows {
		var size float64
		for _, v := range rows[i][:n] {
			size = max(size, cmplx.Abs(v))
		}
		if size == 0 {
			return false
		}
		for k := range rows[i] {
			rows[i][k] /= complex(size, 0)
		}
	}
	for k := range n {
		pivot := k
		for i := k + 1; i < n; i++ {
			if cmplx.Abs(rows[i][k]) > cmplx.Abs(rows[pivot][k]) {
				pivot = i
			}
		}
		rows[k], rows[pivot] = rows[pivot], rows[k]
		if rows[k][k] == 0 {
			return false
		}
		for j := len(rows[k]) - 1; j >= k; j-- {
			rows[k][j] /= rows[k][k]
		}
		for i := range rows {
			if i == k {
				continue
			}
			f := rows[i][k]
			for j := k; j < len(rows[i]); j++ {
				rows[i][j] -= f * rows[k][j]
			}
		}
	}
	return true
}
