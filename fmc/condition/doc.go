// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package condition prepares raw captures for imaging: it removes offsets,
// filters, levels, tapers, averages and resamples traces, and reports those
// that were saturated.
//
// # Steps and chains
//
// A step conditions one trace, a row of K samples, and keeps its length:
//
//	OffsetRemoval  y = x − mean of x over a gate
//	Subtraction    y = x − the trace of the same pair in a reference capture
//	BandPass       zero-phase FIR about the band of the array
//	MatchedFilter  correlation with a known pulse, the peak at the echo's time
//	Gain           y = g(t)·x, exponential and from the spreading law
//	Taper          y = w(t)·x, zero in the dead zone, with raised-cosine edges
//
// A [Chain] runs steps over a capture, trace by trace, so that a trace stays in
// the nearest cache from the first step to the last. A usual chain is offset
// removal, gain, taper: [BandPass] is not needed in front of package tfm, whose
// analytic signal is filtered to its Band in the same pass that makes the
// quadrature. Take the band-pass here for traces that are looked at, picked or
// stored.
//
// Three operations are not steps. [Resampler] changes the number of samples,
// [Average] takes several frames, and [Saturation] only looks.
//
// # Order
//
// Look for saturation first, in the raw samples: every step hides it. Then
// subtract a reference, remove offsets, filter, and weight by gain and taper
// last, because a filter smears what was weighted before it. Steps that
// commute (all filters among themselves, all weights among themselves) may
// stand in any order.
//
// # Filters at the ends of a record
//
// Beyond its ends a record is taken to be zero, and the result keeps the
// length and the times of the record: y[n] = Σ h[k]·x[n−k] for the K times of
// x. An output nearer to an end than the filter reaches lacks that part of the
// sum. An offset is a step at both ends, so remove it before filtering; a taper
// with soft edges in front of the filter does the same for anything else that
// the record cuts off.
//
// The responses that the methods Response and At give are those of the
// coefficients in use, after rounding to float32. Sums are float32 too: a
// filtered sample errs by about 1e-6 of the largest sample in its reach.
//
// # Saturation
//
// A sample at the limit of the digitiser is a lost sample: all that is known
// is that the signal was at least as large. No step here repairs it. A
// reconstructed peak would be an invention that looks like a measurement, and
// an amplitude taken from it would size a flaw. Lower the receiver's gain and
// capture again, or leave the trace out.
//
// # Samples, scratch and sharing
//
// Samples that are NaN or Inf are refused as a [*fmc.SampleError] where they
// enter; samples that leave the range of float32 on the way are an error too.
// All times are in s, on the time axis of the capture, and frequencies in Hz.
// Constructors take a valid capture as the pattern of those to come: the same
// pairs in the same order, samples, sample rate and time of the first sample.
//
// Steps, chains and resamplers are immutable and safe for concurrent use; a
// [Scratch] belongs to one goroutine. Nothing allocates per frame.
//
// The package cannot see whether a filter is right for the flaw: a band or a
// dead zone that suits one inspection hides the echo of another. Check a
// conditioned set-up against a reflector of known position and size, and follow
// the procedure that governs the inspection.
package condition
