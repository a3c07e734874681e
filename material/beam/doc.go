// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package beam holds the formulas that plan a probe: near field, beam spread,
// focal width and depth, grating lobes, and the directivity of an element on a
// solid or a wedge. They are the textbook's: one frequency, far field or focus,
// no ray tracing. For times and amplitudes along the rays of a set-up see package
// wedge, for an image package tfm.
//
// # Which question, which function
//
//	How far does the near field reach?       Disc.NearField, Disc.LastMaximum, RectangleNearField
//	How wide is the beam far out?            Disc.HalfAngle, Strip.HalfAngle
//	How wide and deep is the focus?          FocalWidth, FocalDepth of Disc and Strip
//	What resolution will total focusing have? Strip.FocalWidth at HalfPulseEcho
//	What is the pressure on the axis?        Disc.Axial
//	Are there grating lobes, and where?      GratingLobes, MaxPitch
//	How strongly does an element fire there? Element.Directivity, through a wedge WedgeElement.Directivity
//
// # One-way or pulse-echo
//
// A beam's edge is drawn where the amplitude has fallen to a [Level], and the
// constants k of sin θ = k·λ/D in use belong to different levels:
//
//	                      one-way   pulse-echo   disc     strip
//	HalfPulseEcho         −3 dB     −6 dB        0.514    0.443
//	HalfOneWay            −6 dB     −12 dB       0.705    0.603
//	PulseEcho(-20)        −10 dB    −20 dB       0.869    0.738
//	OneWay(-20)           −20 dB    −40 dB       1.089    0.908
//	FirstZero             zero      zero         1.220    1
//
// So the 0.51 and 0.44 that training notes give for "−6 dB" are pulse-echo, and
// the 0.87 for "−20 dB" is too, while 1.08 is one-way. Every function takes the
// level, so that none of them has to be remembered.
//
// # Conventions
//
// SI units; angles in radians from the normal or axis, of either sign;
// amplitudes, never energies. Decibels occur only as arguments of [OneWay] and
// [PulseEcho], with their sign. The time factor of complex amplitudes is
// exp(−iωt).
//
// Where there is no answer (a source so small that its beam never falls to the
// level, an angle that no wave reaches), and for arguments out of range, the
// result is NaN. Each type has a Validate that says which field is at fault. All
// types are plain values, safe to share; the functions keep no state.
//
// # What it leaves out
//
// The width of a pulse's spectrum, the losses along the path (see
// [material.Attenuation]), the gaps between elements, crosstalk, the transverse
// waves that an element sends into its wedge, and surface waves.
package beam
