// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

// solveWelded returns the displacements of the waves that leave a boundary at
// which two solids stick together.
//
// It solves for the displacement (ux, uz) of the boundary. A half-space that
// waves leave answers it with the traction iω·Z·u on a face normal to z. This is
// the surface impedance of the lower side; that of the upper has the opposite
// diagonal:
//
//	Z = (ρ·cL/C)·( κ·cosL   −q·sinT )     C = cos(θL − θT) = sinL·sinT + cosL·cosT
//	             ( q·sinT     cosT  )     q = 1 − 2κ·C
//
// The traction is continuous if the impedances of both sides together answer
// the forcing by the incident wave. Unlike the usual four equations for the
// amplitudes, these two stay well conditioned when L and T are both strongly
// evanescent and so almost the same wave.
func solveWelded(up, down *boundarySide, incident Mode) DisplacementCoefficients {
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

	var d DisplacementCoefficients
	d.Reflected[L], d.Reflected[T] = up.split(x-inX, inZ-z)
	d.Transmitted[L], d.Transmitted[T] = down.split(x, z)
	return d
}

// split returns the amplitudes of L and T that together displace the surface by
// x along it and by z away from it, into the half-space.
func (s *boundarySide) split(x, z complex128) (l, t complex128) {
	c := s.cosDelta()
	l = (boundaryScale(x, s.sinT) + s.cosT*z) / c
	t = (s.cosL*x - boundaryScale(z, s.sinL)) / c
	return l, t
}
