// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package beam has the formulas that plan a probe: near field, beam spread, focal width and depth,
// and grating lobes. It also has the directivity of an element on a solid or on a wedge.
//
//	probe := beam.Disc{Diameter: 10e-3, Wavelength: 1.184e-3}     // 5 MHz in steel
//	fmt.Println(probe.NearField(), "m")                           // 0.0211
//	fmt.Println(2*probe.HalfAngle(beam.HalfPulseEcho), "rad")     // between halves of the echo
//
//	array := beam.Strip{Width: 64 * 0.6e-3, Wavelength: 1.184e-3} // 64 elements
//	fmt.Println(array.FocalWidth(60e-3, beam.HalfPulseEcho), "m") // resolution at 60 mm
//	fmt.Println(beam.MaxPitch(1.184e-3, math.Pi/4), "m")          // no grating lobe up to 45°
//
// The formulas are textbook formulas for one frequency, in the far field or in the focus. Package
// wedge has times and amplitudes along the rays of a set-up, and package tfm has images.
//
// # Which question, which function
//
//	What is the length of the near field?       Disc.NearField, RectangleNearField
//	How wide is the beam in the far field?      Disc.HalfAngle, Strip.HalfAngle
//	How wide and deep is the focus?             FocalWidth, FocalDepth of Disc and Strip
//	What is the resolution of total focusing?   Strip.FocalWidth at HalfPulseEcho
//	What is the pressure on the axis?           Disc.Axial
//	Are there grating lobes, and where?         GratingLobes, MaxPitch
//	How strong is an element at an angle?       ContactElement.Directivity
//	How strong is it through a wedge?           WedgeElement.Directivity
//
// # One-way or pulse-echo
//
// The edge of a beam is where the amplitude has fallen to a [Level]. The constants k of sin θ =
// k·λ/D in use belong to different levels:
//
//	                      one-way   pulse-echo   disc     strip
//	HalfPulseEcho         −3 dB     −6 dB        0.514    0.443
//	HalfOneWay            −6 dB     −12 dB       0.705    0.603
//	PulseEcho(-20)        −10 dB    −20 dB       0.869    0.738
//	OneWay(-20)           −20 dB    −40 dB       1.089    0.908
//	FirstZero             zero      zero         1.220    1
//
// The constants 0.51 and 0.44 of training notes for "−6 dB" are therefore for pulse-echo. The 0.87
// for "−20 dB" is for pulse-echo too, but the 1.08 is for one pass. Every function here takes the
// level, so that nobody needs to remember the constants.
//
// # Conventions
//
// All numbers are in SI units. Angles are in radians from the normal or the axis, with either sign.
// Amplitudes are never energies. Decibels occur only as arguments of [OneWay] and [PulseEcho]:
// levels relative to the axis, at or below 0. The time factor of complex amplitudes is exp(−iωt).
//
// The result is NaN for arguments outside their ranges, and where no answer exists. Examples are an
// angle that no wave reaches, and a source so small that its beam does not fall to the level. All
// types are plain values, and goroutines may share them; the functions keep no state.
//
// # What it leaves out
//
// The spectrum of a pulse, the losses along the path (see [material.Attenuation]), the gaps between
// elements, crosstalk, the transverse waves that an element sends into its wedge, and surface
// waves.
//
// # For contributors
//
// The array is described in package fmc, but the formulas are here: package wedge needs the
// directivity of an element along a path, and does not import fmc.
package beam
