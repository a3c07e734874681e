// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package transmit makes transmissions in which several elements fire together: plane waves,
// diverging and focused beams, and Hadamard codes. It converts a full matrix to a capture of such
// events, and back.
//
//	// A plane wave at 20° in steel, from a full matrix.
//	sin, cos := math.Sincos(20 * math.Pi / 180)
//	waves, err := transmit.PlaneWaves(array, 5920, []r3.Vec{{X: sin, Z: cos}})
//	plane, err := transmit.Encode(ctx, full, waves, nil)
//
//	// Transverse plane waves from 35° to 75° in steel, through a wedge, for an image 40 mm wide.
//	fan, err := transmit.NewFan(35*math.Pi/180, 75*math.Pi/180, 3240/5e6, 40e-3)
//	directions, err := fan.Directions(3240, 2330) // m/s in steel and in the wedge
//	waves, err = transmit.PlaneWaves(array, 2330, directions)
//
//	// Four codes in which all elements fire, and the full matrix from them.
//	codes, err := transmit.Hadamard(4)
//	coded, err := transmit.Encode(ctx, full, codes, nil) // or captured by an instrument
//	decoded, recovery, err := transmit.Decode(ctx, coded, nil)
//
// # Events
//
// In an event all elements fire: element i with the weight w_i and the delay d_i. Let s_ij(t) be
// the trace of the full matrix from element i to receiver j. The trace of the event at receiver j
// is then
//
//	y_j(t) = Σ w_i · s_ij(t − d_i).
//
// [PlaneWaves], [Diverging], [Focused], [FocalLaw] and [Hadamard] make events. All weights are 1 or
// -1, except that an element without a ray has the weight 0 in a focal law. You may change weights:
// an apodisation is a window over Weights, e.g. from gonum's dsp/window. Time 0 of an event is when
// its first element fires, so that no delay is negative.
//
// The delays hold in the medium that the array is coupled to, as if this medium had no end. A plane
// wave in a wedge or in water stays plane through a flat surface. To focus through surfaces, give
// [FocalLaw] the times of package wedge.
//
// # Which plane waves
//
// The angles of a set are equally spaced in the sine ([Fan]). Two numbers choose a set:
//
//   - The range of angles determines the resolution. For the f-number F, the depth over the
//     aperture, sin α = 1/(2F) at ±α. The focus of the waves is 1.21·λ/(2·sin α) wide at -6 dB,
//     before the receivers focus ([Fan.Width]). An array of the length D insonifies a point on its
//     axis at the angle α down to the depth D/(2·tan α). Larger angles are of no use below this
//     depth.
//   - The step of the sines determines where the waves are in phase again: at λ/step to the side of
//     each echo ([Fan.Replica]). [NewFan] takes the width of the image.
//
// A virtual source at the distance F behind an aperture of the length D insonifies the opening
// angle 2·atan(D/(2F)). With F large, the wave becomes plane. A common choice is one source behind
// each element or each second element.
//
// # What is exact
//
//	full → events   delays of whole samples   exact, rounded once to float32
//	full → events   other delays              band-limited interpolation: exact for a trace that
//	                                          is zero at its ends and has no part at half the
//	                                          sample rate
//	codes → full    orthogonal, no delays     exact, rounded once to float32
//	events → full   any other                 least squares, damped; see [Recovery]
//
// Orthogonal codes without delays are the codes of Hadamard, and events of single elements. Integer
// samples, such as int16, return from codes of up to 256 elements bit for bit. Fewer events than
// elements do not determine the full matrix. [Decode] then returns the part of the matrix that the
// events saw.
//
// A trace ends with the record. If a delay shifts a part of a trace beyond the last sample, this
// part is lost. The end of a decoded trace therefore lacks a time as long as the largest delay of
// its element.
//
// # Noise
//
// N elements that fire together send more energy than one. Compare N codes of Hadamard with a full
// matrix that was captured element by element, with the same noise in every trace. The decoded
// matrix has 10·log10(N) dB less noise relative to the signal. Codes of +1 and 0 (S-sequences),
// which an instrument without inverted pulses can send, gain 20·log10((N+1)/(2·√N)) dB: about 6 dB
// less.
//
// # Images
//
// tfm.EventTimes makes the transmit table of the events of wavefronts. With this table tfm.NewPlan
// images a capture of such events directly. Codes must be decoded first. The option Compound of
// tfm weights the waves so that their images add up to the image of the full matrix.
//
// # Concurrency
//
// No function of this package changes its arguments. All functions are safe for concurrent use.
//
// # For contributors
//
// A new kind of event is a law in events.go, with a row in TestLaws that was worked by hand. If the
// event makes a wavefront, add a closed form to TestEventTimes of package tfm, whose EventTimes
// turns the table of elements into a table of events.
package transmit
