// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package fmc holds the data of an ultrasonic array: the array, and the matrix of its captured
// traces.
//
//	probe := fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
//	array, err := fmc.LinearArray(64, 0.6e-3, probe)
//	capture, err := fmc.New(fmc.Capture{
//		Array:      array,
//		Pairs:      fmc.FullPairs(64),
//		Samples:    2048,
//		SampleRate: 50e6,
//	})
//	err = capture.SetInt16(samples)        // []int16, as the digitiser delivers them
//	trace, ok := capture.Between(3, 7)     // the trace from element 3 to element 7
//	half, err := capture.Half()            // half the memory
//	gated, err := half.Gate(5e-6, 30e-6)   // 5 to 30 µs
//
// The page HARDWARE.md beside this package leads from the samples of your own hardware to a
// picture and a list of flaws.
//
// # The capture
//
// In full matrix capture the elements of an array fire one at a time, and all elements record at
// each firing. The record of receiver j while transmitter i fires is one trace: a row of samples
// that are equally spaced in time (the A-scan of ISO 5577). N elements give N² traces: the full
// matrix.
//
// A [Capture] keeps all traces in one contiguous slice. With K samples a trace,
//
//	sample k of pair p is Data[p*K+k], taken at FirstSample + k/SampleRate,
//
// where pair p is Pairs[p]: a transmission and a receiver, both numbered from 0. Time 0 is the
// centre of the envelope of the transmitted pulse at the face of the element. The envelope of an
// echo therefore peaks at the echo's time of flight. Samples are float32, in any unit that is
// proportional to pressure or voltage. Nothing in this package depends on the scale of the
// samples.
//
// # Layouts
//
// Waves in linear, passive media at rest are reciprocal: with equal elements, i→j and j→i give the
// same trace, apart from noise. The N(N+1)/2 pairs with rx ≥ tx, called the half matrix, therefore
// hold the same information in about half the memory. A [Layout] says which pairs a capture holds:
//
//	Full    N²        p = tx·N + rx                        every pair
//	Half    N(N+1)/2  p = tx·N − tx(tx−1)/2 + (rx − tx)    the pairs with rx ≥ tx
//	Listed  any       the order of the list                any other set or order of distinct pairs
//
// 16 elements give 256 and 136 traces, 64 elements 4096 and 2080, 128 elements 16384 and 8256. In a
// sum over the full matrix, an off-diagonal pair of a half matrix counts twice. Only the noise of
// the sum then differs. A half matrix that was captured as such has more white noise than the full
// matrix, by 10·log10(2 − 1/N) dB. This is 2.87 dB for 16 elements, and never more than 3.01 dB.
// The reason is that the full matrix averages the noise of two reciprocal traces. [Capture.Half]
// therefore takes the mean of the two.
//
// [Capture.Full], [Capture.Half] and [Capture.Select] convert one layout into another. They copy
// samples unchanged; only the mean of two traces is rounded.
//
// An instrument that delivers its traces in another order needs no conversion: Pairs list that
// order, and the layout is Listed. A half matrix in another order, such as the pairs with rx ≤ tx,
// is also Listed. In a sum each of its traces then counts once, unless [Capture.Half] converts it.
//
// # Events
//
// Several elements can fire together, each with its own delay and weight. Such a transmission is an
// [Event]. A capture with Events has one trace for each event and receiver. The formula is the
// same. The Tx of its pairs is the number of an event. A sparse set of transmitters needs no
// events: it is a list of pairs, [SparsePairs]. Package fmc/transmit makes the events of plane
// waves, of diverging and focused beams and of Hadamard codes. It also converts a full matrix to a
// capture of events, and back.
//
// # Frames
//
// A scan is a sequence of [Frame]s: captures, each with a position and a time. A [FrameSource]
// delivers the frames. It lends its memory, so that the samples from the hardware are not copied.
// [Frames] ranges over the frames of a source. Package fmc/scan tells where frames lie in the
// part.
//
// # Axes and units
//
// All values are in SI units: metres, seconds, hertz. The axes are fixed to the part. The axis x
// runs along the entry surface, positive in the direction in which a wedge fires. The axis y runs
// along the weld, out of the imaging plane. The axis z points into the part. Elements in contact
// with a flat part have z = 0. Elements on a wedge or in water have z < 0.
//
// # Bad input
//
// [New] and [Capture.Validate] check a whole capture, and all other functions check their
// arguments. Errors name the field, the value and the allowed range. NaN and Inf are errors, also
// in samples. After that the accessors do not fail. When a frame has overwritten Data in place,
// [Capture.CheckSamples] checks the samples without allocating.
//
// The package cannot check whether the values are true. A wrong sample rate, a wrong time zero or
// a swapped channel passes every check here, and gives a sharp image at the wrong place. Check a
// set-up on a reflector of known position before you rely on it.
//
// # Concurrency
//
// Any number of goroutines may read a capture at once, as long as none writes to its slices.
//
// # For contributors
//
// The package imports no other package that users see, and package wedge does not import fmc. The
// formulas of probes and beams are therefore in material/beam, although the array is described
// here: wedge needs the directivity of an element along a path.
//
// Methods that make a capture from a checked one do not read all samples again. Layout, Index and
// the conversions know the order of pairs from fullIndex and halfIndex alone.
package fmc
