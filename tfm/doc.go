// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package tfm images a capture of an ultrasonic array by the total focusing method:
//
//	record, err := npy.ReadFile("testdata/weld32.json", nil)
//	setup, err := record.Geometry()
//	grid, err := tfm.NewSection(8e-3, 32e-3, 2e-3, 17e-3, 1e-4) // m
//	plan, err := tfm.PlanView(ctx, record.Capture, setup, "TT-T", grid, nil) // once a geometry
//	image, err := plan.Image(ctx, record.Capture)                            // once a frame
//	envelope := image.Envelope(nil)
//	peak, index := envelope.Peak()
//	levels, err := envelope.Decibels(nil, peak, -40) // an image.Image, black at -40 dB
//
// The method focuses at every pixel, by delay-and-sum of the traces of all pairs of transmitter
// and receiver (C. Holmes, B. W. Drinkwater and P. D. Wilcox, NDT & E International 38 (2005)
// 701).
//
// # The sum
//
// At the point r of the part the image is
//
//	I(r) = Σ w_ij · s_ij(t_i(r) + t_j(r))
//
//	s_ij  analytic signal of the trace from transmitter i to receiver j
//	t_i   time of flight from element i to r along the transmitting path
//	t_j   time of flight from element j to r along the receiving path
//	w_ij  weight of the pair
//
// Samples are interpolated linearly. The echoes of a reflector at r add in phase at r, and out of
// phase elsewhere. The modulus |I| is the envelope of the focused echo. An image in decibels shows
// this envelope.
//
// Before the sum each trace goes through a zero-phase band-pass, which also makes the analytic
// signal ([Analytic]). The band-pass takes away the offset of raw captures and most of the
// ring-down of the transmitting element.
//
// # From capture to picture
//
// A [Grid] says where the pixels are. Pixels are row-major, and all pixels of a row have the same
// depth. [PlanView] makes the tables of times from the elements to the pixels, and makes a [Plan]
// from these tables. A plan depends on the geometry alone and is made once. [Plan.Image] makes an
// [Image] of each frame. [ImageView] does both, for a single frame. [Image.Envelope] and
// [Envelope.Decibels] make pictures of an image. They are standard image.Image values, and satisfy
// the grid interface of gonum plot.
//
// The parts can be used alone:
//
//   - [NewPlan] takes any tables, such as interpolated tables, the tables of package wedge/graded,
//     or the tables of a solver of your own ([wedge.NewTimes]).
//   - [Scratch.Reconstruct] and [Scratch.ReconstructInt16] image in a loop without allocation.
//     They make complex images, or faster the envelope alone or its levels ([Output]). The example
//     of the latter is a whole program for samples of your own.
//   - [Bands] images grids whose tables are too large for the memory.
//   - [EventTimes] finds when the wave of each event of a capture of events, such as a plane wave,
//     reaches each pixel.
//
// A half matrix (j ≥ i) stands for the full matrix by reciprocity: a trace of two different
// elements counts for both directions. The image of a half matrix is the same, but has up to 3 dB
// more noise, because the noise is not reciprocal.
//
// # Compounding
//
// A plane wave or a diverging wave insonifies much of a section in one firing. The images of
// several such waves are summed: compounded. A capture of N waves and M receivers has N·M traces,
// where the full matrix has M·M. Over 100 mm of steel and back a pulse takes 34 µs. So 64 firings
// allow at most 460 images a second, and 7 firings 4,200.
//
// Enough waves hold the same information as the full matrix. N plane waves with sines λ/(N·p)
// apart, in an array of N elements with the pitch p, are its discrete Fourier transform over the
// elements. But the sum of their images is the image of the full matrix only if each wave has the
// right weight at each pixel. With [Options].Compound the weight of wave q at the point r is
//
//	W_q(r) = Σ Δ_qi · g((a_qi − τ_q)/T) · exp(2πif·(a_qi − τ_q)),   a_qi = d_qi + t_i(r),
//
//	f     centre frequency
//	d_qi  delay of element i in wave q
//	t_i   time of flight from element i to r, through any surfaces
//	τ_q   time at which the wave passes r ([EventTimes]); beyond the beam, the wave of its edge
//	Δ_qi  range of slopes for which the wave stands. The slope is the change of the delay from
//	      element to element, in periods (p·sin β/λ for a plane wave in the coupling). Each wave
//	      stands for the slopes that are closer to its slope than to the slope of another wave
//	g     1 near 0, and 0 from 1 on; T is the half-length of the pulse. So elements do not count
//	      whose pulses do not overlap with the wave
//
// At the frequency f this is the inverse of the transform, exact for a complete set. In contact,
// where the beam is wide, it becomes Δ(sin β)·√(f·z/c)/cos^(3/2) β: waves at large angles weigh
// more. The weights hold for waves that are spaced by any rule, for virtual sources, for walking
// apertures and through a wedge. A set of few waves has side lobes at its ends;
// [CompoundOptions].Taper lowers them. See transmit.Fan for the choice of the angles.
//
// Where waves are missing, the amplitude is lower. [Plan.Shares] says how much of the aperture the
// waves replace, and [CompoundOptions].LeastShare divides by this share. For 24 elements and 41
// plane waves up to ±62° amplitudes are within 2 % of the full matrix. Widths across the beam are 3
// % larger, because the weights hold at the centre frequency only. In the full-wave captures the
// peaks of holes lie within 0.03 mm of the peaks of the full matrix, and a fusion face through a
// wedge within 0.02 mm. With all weights equal, the deepest hole of block16 lies 0.6 mm off.
//
// The array sees a point within a range of angles. Plane waves at larger angles are of no use
// there, because they do not reach the point. Within its beam a set of waves can be sharper than
// the full matrix, which has fewer elements at large angles.
//
// # Accuracy
//
// The sum has the [Precision] that the options ask for, with delays in fixed point. For records
// that end within 8,192 samples of time 0, images in single precision differ from a sum in double
// precision by at most 5e-6 of their peak. Images of echoes in 16 bits differ by at most 2e-4 for
// arrays of 16 elements and more ([Fixed16] tells what holds for noise). If the record ends later,
// the error may grow in proportion to the end of the record, because a float32 holds a late time
// in larger steps. The processor decides which kernel sums ([Plan.Kernel]). Every kernel stays
// within these bounds. The result of a kernel has the same bits for any number of cores.
//
// Linear interpolation loses amplitude where samples are few. The largest loss of a tone of
// frequency f at the sample rate fs is the factor cos(π·f/fs): 0.44 dB at 10 samples a period and
// 1.8 dB at 5.
//
// # States of pixels
//
// A pixel has a [State] if it may not show all that lies at its place. Some states follow from the
// geometry. No ray reaches the pixel ([NoRay]). The echo of the pixel lies before or after the
// record ([BeforeRecord], [AfterRecord]). The waves of some events do not reach the pixel
// ([PartlyInsonified]). In captures of plane waves the last state is common. One missing pair is
// enough for a state, because a smooth flaw may mirror the beam to that pair alone. [Blank] pixels
// miss all pairs. Pairs of weight 0 do not count.
//
// Pixels must be close enough not to miss a peak. A pixel is [CoarseGrid] if an echo half a step
// off along each axis would be more than 2 dB stronger than the pixel shows. The loss follows from
// the change of the times from pixel to pixel, from the centre frequency, the bandwidth and the
// aperture. Along the beam alone, steps of a quarter of a wavelength lose 2 dB at a bandwidth of
// 100 %. At 60 % steps of two fifths of a wavelength do. For Gaussian pulses the expected loss
// differs from the true loss by at most 8 % plus 0.04 dB.
//
// With [Options.FullScale] a pixel is [Clipped] if a pair reads a clipped sample for this pixel.
// The filter spreads a clipped sample to its neighbours. Neighbours within the time 1/(High - Low)
// count as clipped too. This time is the half-width of the main lobe of the impulse response of
// the filter.
//
// Package tfm/sensitivity corrects an image by the sensitivity of the view, up to a limit of the
// gain. A pixel at the limit is [GainLimited]: an echo there is shown too low.
//
// States of geometry take 1 byte a pixel in the plan and in each image, and nothing if no pixel
// has one.
//
// # Several views
//
// [PlanViews] images a capture in several views in one pass, such as T-T and TT-T. The views share
// the transforms of the traces and the tables of equal paths. [Fuse] joins the views to one image,
// which names the view of each pixel. It needs a reference for each view, because the
// sensitivities of views differ.
//
// # Several rays to a point
//
// A table of times holds one ray from each element to each point. In an austenitic weld several
// transverse rays lead to a point, and the first is often weak. [NewBranchPlan] sums over all rays
// with their amplitudes and phases ([wedge.Branches]). wedge/graded makes the branches of such a
// weld, and [wedge.Path.Branches] the branches under strongly curved surfaces. In a full-wave
// capture of a weld the sum puts three holes within 0.15 mm of their near faces. The first rays
// put one of them on its far side.
//
// # Coherence
//
// [Options.Coherence] measures how well the channels of each pixel agree in phase
// ([Image.Coherence]). [Image.WeightedEnvelope] weights amplitudes with it, to find indications in
// noise. [Image.CoherenceEnvelope] is the measure as an image. A weighted envelope holds no
// amplitudes ([Envelope.Quantity]), and package sizing does not size it. COHERENCE.md has the
// definitions, the levels in noise, the effects on amplitudes, and the accuracy.
//
// # What a picture shows, and does not
//
// The echo of a hole comes from its near face, not from its centre. A smooth planar flaw shows
// only where it mirrors the beam into the array, and by its tips. A reflector in the shadow of
// another one is weak or missing. Waves of another mode than the modes of the view do not focus,
// or focus at a wrong place. Only trained personnel should interpret a picture, by a procedure
// that suits the part.
//
// # For contributors
//
// BENCHMARKS.md has the measured speeds, and says what was chosen and why. Package
// tfm/internal/window describes the kernels in assembly. BenchmarkRatio compares the kernels with
// a simple loop. Both run in turns, so that the ratios also hold while other work slows the
// machine down. The states of the pixels take a sixth of the time of a plan of 64 elements and
// 65,536 pixels, and the identity of the pixels ([wedge.Places]) takes 1 %.
package tfm
