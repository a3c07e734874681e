// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

// solveSlipping returns the displacements of the waves that leave a boundary without shear stress
// on either side. This is a free surface, a fluid next to a fluid or a solid, or two solids with a
// liquid film.
//
// Without shear stress, a displacement uz of the surface of one side causes the normal stress
// iω·uz·Z·R/cosL on that side, where R is Rayleigh's function. The stress and the displacement uz
// are equal on both sides. One unknown remains, uz, and the sum S is the only denominator:
//
//	S = Z1·R1·cosL2 + Z2·R2·cosL1
//
// For a fluid over a solid this is the classical result in Brekhovskikh, Waves in Layered Media,
// 1960, chapter 1. For a free surface, Z2 = 0, it is the result of Aki and Richards, section 5.2.
func solveSlipping(up, down *boundarySide, incident Mode) Coefficients {
	square := complex(up.cos2T*up.cos2T, 0)
	product := up.sinProduct()
	far := boundaryScale(down.rayleigh()*up.cosL, down.impedance)
	near := boundaryScale(down.cosL, up.impedance)
	sum := far + near*(square+product)

	// drive is uz without the factor cosL1·cosL2.
	drive := boundaryScale(1/sum, 2*up.impedance*up.cos2T)
	if incident == T {
		drive = boundaryScale(up.cosT/sum, -4*up.impedance*up.kappa*up.sinT)
	}
	uz := drive * up.cosL * down.cosL

	var d Coefficients
	if incident == T {
		d.Reflected[L] = boundaryScale(drive*down.cosL, -up.cos2T)
		d.Reflected[T] = (far + near*(square-product)) / sum
	} else {
		d.Reflected[L] = (far - near*(square-product)) / sum
		d.Reflected[T] = boundaryScale(uz, 2*up.sinT)
	}
	d.Transmitted[L] = boundaryScale(drive*up.cosL, down.cos2T)
	d.Transmitted[T] = boundaryScale(uz, -2*down.sinT)
	return d
}
