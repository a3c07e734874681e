// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package amplitude compares echoes with reference reflectors: distance-amplitude curves,
// time-corrected gain, equivalent reflectors and transfer correction.
//
//	curve, err := amplitude.NewCurve([]amplitude.Reading{{20e-3, 71}, {80e-3, 13}}, nil)
//	level, err := curve.LevelDB(soundPath, height) // dB relative to the holes
//	corrected, valid, err := curve.Correct(trace) // an A-scan with time-corrected gain
//	probe := beam.Disc{Diameter: 10e-3, Wavelength: 1.48e-3} // package material/beam
//	wall := amplitude.Known{Reflector: amplitude.Wall{}, Distance: 100e-3}
//	transfer, err := amplitude.NewTransfer(block, part, nil) // from two wall echoes of each
//	disc, err := amplitude.EquivalentDisc(probe, -12.5, wall, 60e-3, &transfer) // m
//	hole, err := amplitude.SideHole{Diameter: 3e-3}.FlatHole(50e-3, 1.48e-3) // with an equal echo
//
// # Laws
//
// Let D be the diameter of the probe, λ the wavelength, N = D²/(4λ) the near-field length, A = s/N
// the distance, and G = d/D the diameter d of a disc. [Echo] returns the amplitude H, 1 for a wall
// at the face of the probe. Far from the probe
//
//	wall                                H = π/(2A)
//	flat-bottomed hole                  H = π²G²/A²
//	side-drilled hole, radius r         wall · √(r/(r + s))
//	rectangle, sides e and l            wall · e·√(2/(λs)) · l·√(2/(λs)), and 1 for a long side
//	notch, height h, angle θ            rectangle with e = 2h·sin θ, times the reflection at the corner
//
// The laws of wall and disc are often said to hold from A = 3 on. Each is 0.8 dB too high there.
// Only their ratio is right, within 0.01 dB for small discs. So Echo takes the exact relations:
//
//	wall   H = |1 − exp(−iπ/A)·(J0(π/A) + i·J1(π/A))|         (Rogers and Van Buren, 1974)
//	disc   H = 2·|∫ p²·t dt|, t from 0 to G                   (Kirchhoff, by reciprocity)
//
// with the pressure p of the probe at the distance t from the axis, in radii of the probe. The
// values agree with independent calculations in all printed digits (TestWall, TestFlatHole). For
// the wall Rogers and Van Buren wrote the relation for a radius of many wavelengths. For 10
// wavelengths it is within 0.001 dB of the exact integral at A = 3.
//
// The flat-bottomed hole with the echo of a side-drilled hole follows from the laws far away
// ([SideHole.FlatHole]). Its diameter is 0.671·√(λ·√(d·s)), with the diameter d of the side-drilled
// hole.
//
// # Distance-amplitude curves
//
// A [Curve] goes through readings of equal reflectors. It interpolates levels in dB over the
// logarithm of the distance, which is exact for a law such as 1/s². With [CurveOptions.Linear] it
// interpolates over the distance, which is exact for attenuation. Between side-drilled holes from
// one to eight near-field lengths, by the exact law, the curve is off by at most
//
//	ratio of neighbouring distances    2         1.41
//	over the logarithm                 0.63 dB   0.16 dB
//	over the distance                  0.69 dB   0.18 dB
//
// most of it between one and two near-field lengths (TestCurveBetweenHoles). Outside of the
// readings a curve is a guess. It refuses distances there, unless [CurveOptions.Beyond] allows a
// share.
//
// For the images of an array, package tfm/sensitivity predicts the level of a reference reflector
// at each pixel. A curve needs readings instead, one for each beam.
//
// # Transfer correction
//
// [NewTransfer] separates the loss at the surface from the attenuation, by two wall echoes in the
// block and two in the part. Let Δs be the difference of the distances. An error of 1 dB of one
// reading is an error of 1/(2Δs) dB/m of the attenuation: 20 dB/m for 25 mm. So a transfer
// correction far beyond the second wall is poor. Repeat the readings at several places: coupling
// alone scatters by some dB (common practice, no source).
//
// # What the laws leave out
//
//   - The pulse: laws are for one frequency. A short pulse fills the minima near the probe.
//   - The beam: reflectors lie on the axis. An array that steers has another aperture at each
//     angle; read a curve for each.
//   - Mode conversion, creeping waves around a hole, and the roughness of all faces.
//   - A corner that does not reflect totally, unless the caller gives its reflection.
//
// # Cautions
//
// The height of an echo is no size. A tilted or rough flaw can be large and have a small echo, and
// an equivalent disc is nearly always smaller than the flaw. Reference blocks, reflectors, curves,
// corrections and levels for evaluation are set by the applicable code and the qualified procedure.
// Qualified and licensed practitioners judge; this package computes.
//
// The functions keep no state, change no argument, and may be called at the same time.
package amplitude
