// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package diffraction has the exact echoes of cracks in an elastic solid: of a tip, and of a whole
// crack of finite length.
//
//	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
//	tip, err := diffraction.NewTip(steel)
//	const degree = math.Pi / 180
//	top := tip.Coefficient(material.L, material.L, 150*degree, 150*degree) // from above
//	bottom := tip.Coefficient(material.L, material.L, 30*degree, 30*degree) // 3.3 times as strong
//	crack, err := diffraction.NewCrack(steel, 1.5e-3, 5e6) // m, Hz
//	s := crack.Amplitude(material.T, material.T, 60*degree, 60*degree) // all waves between tips
//	width := crack.CrossSection(material.L, 90*degree) // m
//
// A tip coefficient ([Tip.Coefficient]) says how strong a tip echoes, and with which phase. It
// depends on the directions of the source and of the receiver, and on both modes. It predicts which
// tips a picture shows. Package sizing/tips compares the predictions with pictures, and package
// fmc/synth makes captures of cracks with the same coefficients.
//
// # What the coefficients show
//
//   - The tips of one crack do not always have opposite phases. Take time-of-flight diffraction
//     with L waves in steel (5920 and 3255 m/s), and a vertical crack. The echoes of its two tips
//     have opposite phases only if the waves travel at more than 39.25° from the vertical. At
//     39.25° the lower tip has no echo. The angle is 42.9° for a Poisson's ratio of 1/4.
//   - From above, the lower tip of a vertical crack is stronger than the upper tip.
//   - Other modes have other zeros: with transverse waves on both paths the upper tip nearly
//     vanishes at 65° from the vertical.
//   - The flat end of a slit echoes more than a sharp tip ([Tip.Slit]). A machined notch is not a
//     model of a fatigue crack.
//   - Coefficients of scalar waves are wrong for L waves by 3 to 4 dB.
//
// # A crack of finite length
//
// A crack of finite length is not the sum of its two tips: Rayleigh waves run along its faces from
// one tip to the other and radiate there. Without losses the sum of both tips does not converge to
// the exact echo, however long the crack is. In a pulse the echoes of these waves arrive after the
// echoes of the tips. They show in pictures as further spots behind a crack. The echo of the nearer
// tip, which arrives first, is the echo of a half plane within 2e-5 (TestNearTip).
//
// [Crack] has all of these waves, for one frequency. [Crack.Amplitude] is the scattering matrix of
// the crack. It shows
//
//   - that a short crack is no point: with L waves, a crack of a quarter of a wavelength still
//     echoes three times as strongly from its normal as from 60°. An omnidirectional point is a
//     poor model below a wavelength;
//   - what a cross-section is: twice the length for long cracks at normal incidence, and up to 2.7
//     times the length for short ones ([Crack.CrossSection]);
//   - the errors of Kirchhoff's approximation: 2 % of the echo at normal incidence for L waves and
//     a length of three wavelengths, 6 % for one wavelength, 11 % for a half.
//
// # Assumptions
//
// The crack is plane, open, empty and without traction, and its tip is sharp and straight. The
// waves are plane: source and receiver are many wavelengths away, and lie in the plane at right
// angles to the tip. For [Tip] the other end of the crack is at infinity. [Crack] is a strip,
// endless at right angles to the plane; losses of the material are left out.
//
// [LobeLength] reads the length of a short crack from the width of its lobe. It needs no tips, and
// is an approximation.
//
// # Cautions
//
// Real cracks are rough, branched, partly closed by stress, or filled. Their tips may echo less
// than an open tip, or not at all. A missing tip echo does not prove that there is no crack.
// Qualified, licensed practitioners and local codes decide what an echo means.
//
// # For contributors
//
// tip.go has the half plane, by the method of Wiener and Hopf. opening.go has the strip: the motion
// of its faces as a sum of Chebyshev functions, and the matrix of Galerkin's method as integrals
// over the wave number. lobe.go has Kirchhoff's approximation.
package diffraction
