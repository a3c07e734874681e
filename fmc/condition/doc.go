// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package condition prepares raw captures for imaging. It removes offsets, filters, levels,
// windows, averages and resamples traces, and reports saturated traces.
//
//	saturated, err := condition.AppendSaturations(nil, raw, -32768, 32767)
//
//	chain, err := condition.NewChain(raw, // for captures like raw
//		condition.OffsetRemoval{From: 25e-6, To: math.Inf(1)},
//		condition.Gain{Start: 10e-6, Spreading: 1, DecibelsPerSecond: 0.6e6},
//		condition.Window{From: 1.5e-6, Rise: 0.5e-6, To: math.Inf(1)},
//	)
//	err = chain.Apply(raw, raw) // once a frame, in place
//
// # Steps and chains
//
// A [Step] conditions one trace, a row of K samples, and keeps its length:
//
//	OffsetRemoval  y = x − mean of x over a gate
//	Subtraction    y = x − the trace of the same pair in a reference capture
//	BandPass       zero-phase FIR filter; the default band is the band of the array
//	MatchedFilter  correlation with a known pulse; the peak is at the time of the echo
//	Gain           y = g(t)·x, exponential and by the spreading law
//	Window         y = w(t)·x, zero in the dead zone, with raised-cosine edges
//
// A [Chain] runs steps over a capture. The usual chain is offset removal, gain, window. It needs no
// [BandPass] in front of package tfm: the analytic signal of tfm is filtered to its band in the
// pass that makes the quadrature. Use the band-pass here for traces that you look at, pick or
// store.
//
// Three operations are not steps. A [Resampler] changes the number of samples. An [Average] takes
// several frames. [AppendSaturations] only reports.
//
// # Order
//
// Look for saturation first, in the raw samples, because every step hides it. Then subtract a
// reference, remove offsets, filter, and apply gain and window last: a filter would smear the
// effect of weights that come before it. Steps that commute may stand in any order: all filters
// commute with each other, and all weights with each other.
//
// # Filters at the ends of a record
//
// A filter treats samples beyond the ends of the record as zero. The result keeps the length and
// the times of the record: y[n] = Σ h[k]·x[n−k] over the K samples of x. Near an end, closer than
// the reach of the filter, an output lacks a part of this sum. An offset is a step at both ends of
// the record, so remove it before filtering. A window with soft edges in front of the filter does
// the same for other signals that the record cuts off.
//
// The response of [Chain.Response] is computed from the coefficients in use, after rounding to
// float32. Sums are float32 too. The error of a filtered sample is about 1e-6 of the largest sample
// in the reach of the filter.
//
// # Saturation
//
// A sample at the limit of the digitiser is a lost sample: only a lower bound of the signal is
// known. No step here repairs it. A reconstructed peak would be invented but look like a
// measurement, and a flaw might be sized by its amplitude. Lower the gain of the receiver and
// capture again, or leave the trace out.
//
// # Samples and concurrency
//
// A sample that is NaN or Inf is an error, a [*fmc.SampleError]. A result outside the range of
// float32 is an error too. All times are in s, on the time axis of the capture, and all
// frequencies in Hz. Constructors take a valid capture as the pattern for later captures. Later
// captures must have the same pairs in the same order, the same number of samples and the same
// sample times.
//
// Chains and resamplers are safe for concurrent use. Nothing allocates per frame.
//
// The package cannot check whether a filter suits the flaw: a band or a dead zone that suits one
// inspection may hide the echo in another inspection. Check a conditioned set-up on a reflector of
// known position and size, and follow the procedure that governs the inspection.
//
// # For contributors
//
// [NewChain] compiles each step to a runner, which holds all that depends on the format of the
// captures: coefficients, weights, indices. A new step is a struct with a compile method. Filters
// compile to fir, and weights to weights. A runner must be immutable, because calls of
// [Chain.Apply] share it; its only memory for intermediate samples is the scratch that it is given.
// allSteps in the tests lists every step once. The tests of linearity, buffers, allocation and
// concurrency run for all steps in that list.
//
// Operations on rows of samples are in internal/vector. Comments beside the code say what was
// measured: maxTaps for direct sums, allFinite for the test of samples.
package condition
