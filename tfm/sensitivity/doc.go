// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package sensitivity predicts how strongly a reference reflector shows at each pixel of a view,
// and corrects images by this prediction:
//
//	hole := sensitivity.Hole{Diameter: 1.5e-3}
//	m, err := sensitivity.New(ctx, capture, setup, "TT-T", grid, hole, nil) // once for a geometry
//	best, _ := m.Peak()
//	levels, err := m.Decibels(nil, best, -40)                // a picture of the map
//	share, err := sensitivity.Coverage(weld, float64(best), -12, m) // of the weld, from 0 to 1
//	gain, err := m.Gain(float64(best), 20)                   // at most 20 dB
//	image, err := plan.Image(ctx, capture)
//	err = gain.Correct(image)                                // equal holes now have equal levels
//
// # The map
//
// The image of a reflector with its centre at c has at the pixel r the value (see package tfm)
//
//	I(r) = Σ w_ij · Σ P(f) · A_i(f) · S(f, i, j) · A_j(f) · q · exp(2πif·(τ_i + τ_j))
//
// with the sums over the pairs of elements ij and over frequencies f.
//
//	w_ij  weight of the pair
//	P     spectrum of the pulse: Gaussian, with the centre frequency and bandwidth of the array;
//	      the sum of P is 1
//	A_i   amplitude of the ray from element i to c ([wedge.Amplitudes]): directivity of the
//	      element, transmission and reflection at the surfaces, spreading, losses
//	S     amplitude that the reflector scatters from the one ray to the other, as in package
//	      fmc/synth: exact for a [Hole], Kirchhoff's approximation for a [Planar] flaw
//	q     weight with which an element receives the mode, by reciprocity
//	τ_i   time by which the wave from element i reaches c later than r, for plane waves.
//
// The amplitude of the map is the highest |I(r)|. It stands at the pixel r where the image has this
// peak: for a hole near the face that the beam meets first. Where the amplitudes change their sign
// along the array, as for transverse waves below an array in contact, the peak is beside the
// reflector. If the paths of the view differ, each trace contains the echo of the reciprocal view
// too. Near the back wall both echoes coincide, and the map adds them.
//
// The sum is computed at about 900 nodes and interpolated. The error of the interpolation was
// measured for holes in L-L and T-T, over 26 mm × 21 mm, where the map is within 20 dB of its best.
// It is below 0.35 dB at 99 % of the pixels, and below 0.8 dB at all. A map of 65,536 pixels for 32
// elements takes 0.5 s of one core in T-T and 0.9 s in TT-T (BenchmarkNew).
//
// # Units
//
// Amplitudes have the unit of package fmc/synth ([Map]), the same for all views. To compare views,
// divide each image by its map. In the full-wave captures of testdata, one hole then has the same
// level within 2 dB in L-L, T-T and TT-T. Without the division the views are up to 16 dB apart. A
// fusion face, a root notch and a hole in captures of one wedge agree within 2 dB too, each divided
// by the map of its kind. A real capture has one more factor, the gain of its instrument. It
// cancels in levels relative to a known reflector, such as a hole of a reference block that was
// taken with the same array and gain.
//
// Images of synthetic captures are about 0.5 dB below the map, the same at all pixels. The
// band-pass and the interpolation between samples cause this loss.
//
// # Correction
//
// [Map.Gain] gives the factor reference/amplitude of each pixel, and [Gain.Correct] multiplies the
// image after the sum. For the reference reflector this is exact, and it takes less than a tenth of
// the time of the sum. Noise does not depend on the map, so the gain raises it by the same factor.
// Therefore the gain has a limit. Pixels at the limit have the state [tfm.GainLimited]: package
// sizing hands it on, and package tfm/picture hatches them. Their echoes are shown too low.
//
// Tested results: block16 of testdata has four equal holes, 5.3 dB apart without and 0.6 dB with
// correction. Synthetic holes all over the field differ by 15 to 17 dB without correction, and by
// at most 1.5 dB with it. This holds for L-L and T-T, in contact and through a wedge, with a limit
// of 20 dB.
//
// In half-skip and full-skip views the correction holds as well where the beam is, but the map
// falls steeply beside it. In TT-TT through a wedge, 22 of 24 synthetic holes were within the limit
// of 20 dB. Their levels differed by 14 dB without and by 1.5 dB with correction.
//
// [LimitAngle] leaves out the elements that hear almost nothing of a pixel. Where an element passes
// the limit, the image and the map have a step.
//
// # Planar flaws and coverage
//
// The map of a [Planar] flaw of a given tilt shows where a set-up is blind for lack of fusion.
// There no pair of elements receives the mirrored beam. [Coverage] states the share of an area,
// such as a weld, in which the reference shows at least at a given level in one of several views.
//
// # Coverage of a scan
//
// A [Survey] follows the maps along a scan:
//
//	survey, err := sensitivity.NewSurvey(x, y, z) // cells in the part
//	for _, f := range frames {
//		pose, err := path.Pose(f.Position, 0)              // package fmc/scan
//		err = survey.Add(pose, step/2, loss, direct, skip) // the maps of two views
//	}
//	share, err := survey.Coverage(weld, float64(best), -12) // of the volume of the weld
//	weakest, err := survey.Weakest(weld)                    // seen from above
//
// Each cell holds the best level of all frames and views. A loss of coupling lowers the frames that
// have it. Where frames are missing, cells hold 0. The views compare in a survey, because all maps
// have one unit.
//
// # What it does not show
//
//   - The map knows no shadows: a reflector in front of the pixel, or a part that is not in the
//     set-up. In the capture sdh32 two holes in the shadow of a third one are 11 and 22 dB weaker
//     than the map says. A shadow is a blind place that the map does not show.
//   - The map does not know where the record ends. [Map.Hide] takes the pixels out that an image
//     leaves blank.
//   - It is ray theory: less than a few wavelengths from an element, a caustic, a tip or a surface
//     it may be wrong by many dB. Where several rays lead to a pixel, it counts the ray that
//     [wedge.Path.Solve] finds.
//   - It shows the echo of a view, not other waves that reach the pixel at the same time. Where the
//     map is more than about 10 dB below its best, such waves may be stronger.
//   - Near a critical angle the reflected beam shifts. There a reflector shows up to some mm beside
//     its place, and the map may be wrong by several dB.
//   - A smooth planar flaw of another tilt, a rough or a closed crack may show far less than any
//     reference reflector.
//
// # Cautions
//
// A coverage is a prediction for one reflector, ideal coupling and the nominal geometry. It is no
// proof that a flaw will be found, and no probability of detection. Verify a set-up on a reference
// block with representative reflectors. The applicable code and the qualified procedure decide
// which reflectors, levels and volumes are required.
//
// # For contributors
//
// beam.go follows rays, reflector.go tabulates the scattering by angles, focus.go predicts one
// node, map.go interpolates, survey.go adds up frames. The map shares the amplitudes of rays and
// the scattering with package fmc/synth, so TestField, which uses synthetic captures, cannot find
// their errors. TestFullWave, TestViewsComparable, TestClosedForm and TestUnit can.
package sensitivity
