// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package fmc holds the data that an ultrasonic array delivers: the array
// itself and the matrix of its captured traces.
//
// # The capture
//
// In full matrix capture the elements of an array fire one at a time, and at
// each firing all elements record. The record of receiver j while transmitter
// i fires is one trace, a row of samples equally spaced in time (the A-scan of
// ISO 5577). With N elements there are N² traces: the full matrix.
//
// A [Capture] keeps all traces in one contiguous slice. With K samples a trace,
//
//	sample k of pair p is Data[p*K+k], taken at FirstSample + k/SampleRate,
//
// where pair p is Pairs[p], a transmission and a receiver numbered from 0. Time
// 0 is the centre of the transmitted pulse's envelope at the face of the
// element, so that an echo's envelope peaks at its time of flight. Samples are
// float32, in any unit that is proportional to pressure or voltage; nothing
// here depends on their scale.
//
// # Layouts
//
// Waves in linear, passive media at rest are reciprocal: with like elements
// i→j and j→i give the same trace, apart from noise. So the N(N+1)/2 pairs
// with rx ≥ tx, the half matrix, hold the same information in about half the
// memory. [Layout] tells the layouts apart:
//
//	Full    N²        p = tx·N + rx                        every pair
//	Half    N(N+1)/2  p = tx·N − tx(tx−1)/2 + (rx − tx)    the pairs with rx ≥ tx
//	Listed  any       the order of the list                any other set or order of distinct pairs
//
// N = 16 gives 256 and 136 traces, N = 64 gives 4096 and 2080, N = 128 gives
// 16384 and 8256. Where a sum over the full matrix is meant, an off-diagonal
// pair of a half matrix counts twice. The sum is the same but for noise: a
// half matrix that was captured as such carries 10·log10(2 − 1/N) dB more
// white noise than the full one, 2.87 dB for 16 elements and never more than
// 3.01 dB, because the twin traces with noise of their own are not there to
// average with. [Capture.Half] therefore takes the mean of the twins unless
// told otherwise.
//
// [Capture.Full], [Capture.Half] and [Capture.Select] go from one to another. They copy
// samples unchanged and are exact, but for the mean of two traces.
//
// # Events
//
// Several elements can fire together, each with a delay and a weight of its own: an
// [Event]. A capture with Events has one trace for each event and receiver, by the
// same formula, and the Tx of its pairs numbers events. Sparse sets of transmitters
// need no events: they are a list of pairs, [SparsePairs]. Package fmc/transmit
// makes the events of plane waves, of diverging and focused beams and of Hadamard
// codes, and turns a full matrix into a capture of events and back.
//
// # Frames
//
// A scan is a sequence of [Frame]s, captures with a position and a time. A
// [FrameSource] delivers them; it lends its memory, so that samples need not be
// copied on their way from hardware. [Frames] ranges over them.
//
// # Axes and units
//
// Everything is in SI units: metres, seconds, hertz. Axes are those of the
// part: x along the entry surface, positive the way a wedge fires; y along the
// weld, out of the imaging plane; z into the part. Elements in contact with a
// flat part have z = 0, elements on a wedge or in water have z < 0.
//
// # Bad input
//
// [New] and every method that makes a capture check all that is given and
// return an error that names the field, the value and the allowed range. NaN
// and Inf are refused where they enter, samples included. After that the
// accessors do not fail. A frame that overwrites Data in place is checked by
// [Capture.CheckSamples], which does not allocate.
//
// The package cannot see whether the values are true: a wrong sample rate, a
// wrong time zero or a swapped channel passes every check here and yields a
// sharp image at the wrong place. Check a set-up against a reflector of known
// position before relying on it.
//
// # Sharing
//
// A capture may be read from any number of goroutines at once, as long as none
// writes to its slices.
package fmc
