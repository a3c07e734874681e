// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package transmit holds what is fired when it is not one element at a time: the
// events of plane waves, of diverging and focused beams and of Hadamard codes, and
// the way from a full matrix to a capture of such events and back.
//
// # Events
//
// In an event all elements fire, element i with the weight w_i and the delay d_i. With
// s_ij(t) the trace of the full matrix from element i to receiver j, the trace of the
// event at receiver j is
//
//	y_j(t) = Σ w_i · s_ij(t − d_i).
//
// [PlaneWaves], [Diverging], [Focused], [FocalLaw], [Hadamard] and [Elements] make
// lists of events. Weights are 1 or -1 and may be changed: an apodisation is a window
// over Weights, e.g. of gonum's dsp/window. Time 0 of an event is when its first element
// fires, so that no delay is negative. The delays hold for the medium that the array
// is coupled to, as if it had no end: a plane wave in a wedge or in water stays plane
// through a flat surface. To focus through surfaces, give [FocalLaw] the times of
// package wedge.
//
// # What is exact
//
//	full → events   delays of whole samples    exact, rounded once to float32
//	full → events   other delays               band-limited interpolation: exact for a trace that is zero
//	                                           at its ends and has nothing at half the sample rate
//	codes → full    orthogonal, no delays      exact, rounded once to float32
//	events → full   any other                  least squares, damped; see [Report]
//
// Orthogonal codes without delays are those of Hadamard and single elements.
// Samples that are whole numbers, as int16 are, come back from codes of up to 256
// elements bit for bit. Fewer events than elements do not determine the full matrix:
// what comes back is the part of it that they saw.
//
// A trace ends where the record does: of what a delay shifts beyond the last sample
// nothing is left, and a decoded trace lacks as much of its end as the largest delay
// it had.
//
// # Noise
//
// N elements that fire together send more than one. Noise of the same level in
// every trace is 10·log10(N) dB lower after the decoding of N codes of Hadamard,
// relative to the signal, than in a full matrix captured element by element.
//
// # Images
//
// tfm.EventTimes makes the transmitting table of the events of wavefronts, with
// which tfm.NewPlan images a capture of them as it is. Codes have to be decoded.
//
// No function of this package changes what it is given. All are safe for concurrent
// use.
package transmit
