// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package tfm focuses a capture of an ultrasonic array afterwards, at every point
// of a picture: the total focusing method, delay-and-sum of all
// transmitter-receiver pairs (C. Holmes, B. W. Drinkwater and P. D. Wilcox,
// NDT & E International 38 (2005) 701).
//
// # The sum
//
// For the point r of the part and the trace s_ij from transmitter i to receiver
// j, the image is
//
//	I(r) = Σ w_ij · s_ij(t_i(r) + t_j(r)),
//
// where s_ij is the analytic signal of the trace, t_i(r) the time of flight from
// element i to r along the transmitting path and t_j(r) that along the receiving
// path, and w_ij a weight. Samples are interpolated linearly. A reflector at r
// adds in phase there, and out of phase elsewhere. |I| is the envelope of the
// focused echo, which an image in decibels shows.
//
// # From capture to picture
//
// A [Grid] says where the pixels are: row-major, row = depth. Package wedge makes
// the tables of times from the elements to its points. [NewPlan] turns both into a
// [Plan], which depends on geometry alone and is made once; [Plan.Image], or
// [Scratch.Reconstruct] in a loop that must not allocate, makes an [Image] of each
// frame; [Image.Envelope] and [Envelope.Decibels] make pictures of it, which are
// standard image.Image values and satisfy the grid interface of gonum plot.
//
// [Bands] images grids whose tables are too large for the memory at hand.
//
// Before the sum each trace goes through a zero-phase band-pass that also makes the
// analytic signal ([Analytic]): raw captures hold an offset, and the ring-down of
// the transmitting element.
//
// A half matrix (j ≥ i) stands for the full one by reciprocity: its off-diagonal
// traces count for both directions. It gives the same picture from half the data,
// with up to 3 dB more noise, since noise is not reciprocal.
//
// A capture of events, as of plane waves, is imaged with times of its own for the
// transmitting path: [EventTimes] finds when the wave of each event comes to each point.
//
// # Accuracy
//
// The sum is done in the [Precision] that the plan asks for, with delays in fixed
// point: in single precision images lie within 5e-6 of their peak of a sum in double
// precision, in 16 bits within 2e-4 for arrays of 16 elements and more ([Int16]). So it
// is for records that end within 8,192 samples of time 0; of later ones the error may
// grow as their end does, like the steps in which a float32 holds a time. The kernel is
// chosen from the processor ([Plan.Kernel]); all keep to these bounds, and give the
// same bits for any number of cores.
//
// Linear interpolation loses amplitude where samples are few: the worst loss of a tone
// is cos(π·f/fs), 0.44 dB at 10 samples a period and 1.8 dB at 5.
//
// # States of pixels
//
// A pixel has a [State] where it may not show all that lies there. By geometry: no ray
// reaches it ([NoRay]), or its echo lies before or after the record ([BeforeRecord],
// [AfterRecord]). One pair that is missing is enough, because a smooth flaw may mirror the
// beam to just that pair. [Blank] pixels miss all pairs. Pairs of weight 0 do not count.
//
// Pixels must be close enough not to miss a peak. A pixel is [CoarseGrid] if an echo half
// a step off along each axis would be more than 2 dB stronger than the pixel shows. The
// loss follows from the change of the times from pixel to pixel, and so from the speeds of
// the view; from the centre frequency and the bandwidth; and from the aperture. Along the
// beam alone steps of a quarter of a wavelength lose 2 dB at a bandwidth of 100 %, of two
// fifths at 60 %. The expected loss is within 8 % and 0.04 dB of that of Gaussian pulses.
//
// With [Options.FullScale] a pixel is [Clipped] if a pair reads a clipped sample for it.
// The filter spreads a clipped sample to its neighbours; those within 1/(High - Low) of it
// count, the main lobe of the filter's impulse response.
//
// States of geometry cost the plan and each image 1 byte a pixel, and nothing if no pixel
// has one.
//
// # What a picture shows, and does not
//
// The echo of a hole comes from its near face, not from its centre; a smooth planar
// flaw shows only where it mirrors the beam into the array, and by its tips; a
// reflector in the shadow of another is weak or missing; waves of another mode than
// the view's focus nowhere, or in the wrong place. A picture needs a trained reader
// and a procedure that suits the part.
package tfm
