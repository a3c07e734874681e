// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

// solveWelded returns the displacements of the waves that leave a boundary at which two solids move
// together.
//
// The unknown is the displacement u = (ux, uz) of the boundary. A half-space with outgoing waves
// responds with the traction iω·Z·u on a face normal to z. Z is the surface impedance of the lower
// side:
//
//	Z = (ρ·cL/C)·( κ·cosL   −q·sinT )     C = cos(θL − θT) = sinL·sinT + cosL·cosT
//	             ( q·sinT     cosT  )     q = 1 − 2κ·C
//
// In the surface impedance of the upper side the diagonal has the opposite sign. The traction is
// continuous if the sum of both impedances, times u, equals the forcing by the incident wave. The
// usual method solves four equations for the amplitudes. These two equations stay well conditioned
// if L and T are both strongly evanescent and therefore nearly the same wave.
func solveWelded(up, down *boundarySide, incident Mode) Coefficients {
	upC, downC := up.cosDelta(), down.cosDelta()
	upZ, downZ := complex(up.impedance, 0)/upC, complex(down.impedance, 0)/downC

	xx := boundaryScale(upZ*up.cosL, up.kappa) + boundaryScale(downZ*down.cosL, down.kappa)
	zz := upZ*up.cosT + downZ*down.cosT
	zx := boundaryScale(downZ*(1-boundaryScale(downC, 2*down.kappa)), down.sinT) -
		boundaryScale(upZ*(1-boundaryScale(upC, 2*up.kappa)), up.sinT)

	// The displacement of the incident wave, and its forcing.
	inX, inZ := complex(up.sinL, 0), up.cosL
	forceX, forceZ := boundaryScale(up.cosL, up.sinT), up.cosL*up.cosT
	if incident == T {
		inX, inZ = up.cosT, complex(-up.sinT, 0)
		forceX, forceZ = boundaryScale(up.cosL*up.cosT, up.kappa), boundaryScale(up.cosT, -up.sinT)
	}
	scale := 2 * upZ / (xx*zz + zx*zx)
	x := scale * (forceX*zz + zx*forceZ)
	z := scale * (xx*forceZ - zx*forceX)

	var d Coefficients
	d.Reflected[L], d.Reflected[T] = up.split(x-inX, inZ-z)
	d.Transmitted[L], d.Transmitted[T] = down.split(x, z)
	return d
}

// split returns the amplitudes of L and T that together displace the surface by x along the surface
// and by z into the half-space.
func (s *boundarySide) split(x, z complex128) (l, t complex128) {
	c := s.cosDelta()
	l = (boundaryScale(x, s.sinT) + s.cosT*z) / c
	t = (s.cosL*x - boundaryScale(z, s.sinL)) / c
	return l, t
}
