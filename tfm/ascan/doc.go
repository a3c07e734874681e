// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package ascan makes the A-scans of beams from a full or half matrix, and reads them with gates:
//
//	like := ascan.Beam{Mode: material.T, Receive: ascan.Focus{Dynamic: true}}
//	beams, err := ascan.Sector(like, 40*degree, 70*degree, 1*degree)
//	plan, err := ascan.NewPlan(ctx, capture, setup, beams, nil) // once a geometry
//	traces, err := plan.Traces(ctx, capture)                    // once a frame
//	reader := ascan.Reader{FullHeight: reference, Setup: setup}
//	gate := ascan.Gate{Name: "A", Start: 10e-3, End: 30e-3, Threshold: 20} // m, % of full height
//	readings, err := reader.Read(traces[0], []ascan.Gate{gate})
//	fmt.Println(readings[0].Height, readings[0].SoundPath, readings[0].Depth) // %, m, m
//	image, err := ascan.Image(grid, traces, 1) // a sector image of the first leg
//
// # Beams
//
// A beam is formed in post-processing. Let s_ij be the analytic signal of the trace from element i
// to element j ([tfm.Analytic]), and w_i the weight of element i. Let d_i be its delay in
// transmission, and e_j the delay of element j in reception. The A-scan of the beam is
//
//	a(t) = Σ w_i · w_j · s_ij(t − d_i − e_j).
//
// The sum runs over the elements of the aperture. The axis of the beam is the ray from the centre
// of the aperture through the entry surface, with the refraction angle of the beam, and with its
// skips ([Line]). For a focus at the sound path s on this axis the delay of element i is
//
//	d_i = τ(s) − t_i(s),
//
// where t_i(s) is the time from element i to the focus, through the surfaces and with the skips
// (package wedge), and τ(s) is the time along the axis. So the echo of a reflector at the focus
// lies at 2·τ(s), and the sound path of an echo at time t is
//
//	s = c · (t/2 − t0),
//
// with the wave speed c in the part and the time t0 from the centre of the aperture to the exit
// point. An unfocused law makes a plane wave where the elements lie. A dynamic law takes for each
// sample the delays of its own place on the axis.
//
// If both laws are focused at one point, the sample at the time of this point is the pixel of
// package tfm there. If both laws are dynamic, every sample is a pixel of package tfm. If only the
// reception is dynamic, this holds at the focus of the transmission only.
//
// [Sector] makes the beams of a sector image, [Linear] the beams of a linear image, and [Aim] a
// beam that points at a place. The waves are pulse-echo, with one mode on all legs. The axis ends
// where the beam leaves the part. It also ends at a wall off which paths of a set-up do not skip,
// such as the outer surface of a pipe for a beam that misses the bore.
//
// # Readings
//
// A gate reads the envelope of an A-scan: the peak of the highest echo, or the flank where the
// first echo crosses the threshold. Between samples the peak is the vertex of the parabola through
// the logarithms of three samples, which is exact for a Gaussian envelope. The flank is
// interpolated linearly. The terms gate, time base range, sound path and probe index point come
// from ISO 5577. Full height is the amplitude that a display would show at the top of its screen.
// The caller gives this amplitude, because the library has no screen. The place, depth and
// distances of a reading lie on the axis of the beam. An echo from the side of the beam has the
// sound path of its own place, and so appears at a wrong place.
//
// Time zero is the centre of the envelope of the transmitted pulse, and a peak reads the centre of
// the envelope of the echo. In the full-wave captures of testdata these readings agree with the
// geometry within half a sample, under conditions:
//
//   - The echo of a side-drilled hole is near the sound path of its near face, but not exactly. For
//     a hole of 1.5 mm at 3 MHz in aluminium the exact solution of elastic scattering puts the peak
//     0.03 mm behind the near face.
//   - An unfocused aperture sees a plane wall beyond its near field late, because the waves between
//     distant elements are late. For 10 mm of array over 40 mm of aluminium the wall is 0.08 mm
//     late. A focus at the wall leaves 0.01 mm.
//   - Other waves that arrive at the same time, such as converted waves of other holes, shift a
//     peak by up to a few samples. Compare two apertures to find out.
//
// [Reader.BackWall] reads the first back-wall echo and the thickness from successive echoes, which
// does not depend on time zero or the couplant.
//
// # Delays of an instrument
//
// An instrument rounds delays to a step. [Beam.DelayStep] rounds them as well. With the step 1/(μf)
// at the frequency f, the main lobe loses the factor sinc(1/μ). This is 0.9 dB for μ = 4 and 0.06
// dB for 16. N elements have a mean side-lobe level of (2π/μ)²/(12·N) in power, one way, which is
// -37 dB for μ = 16 and N = 64. The errors of a regular array repeat along the array, so some lobes
// are higher than this mean (Gray, IEEE J. Oceanic Eng. 10 (1985)). A sum over N² traces of b bits
// needs b + 2·log2(N) bits. Sums here have 53 bits.
//
// # Records
//
// A [Trace] is kept as JSON with its beam, axis and time base, and is read back bit for bit.
//
// # What an A-scan does not show
//
// A smooth flaw that does not mirror the beam back has no echo from its face. Height is not size.
// Samples at which the receiver clipped make a height too low ([Options].FullScale finds them). A
// gate sees what lies in it, and nothing else: a wrong start can hide an echo. A wrong wave speed,
// wedge or thickness moves every reading. A thickness needs parallel walls, and a part between the
// walls without flaws. Only trained personnel should judge readings, by a procedure that suits the
// part, on equipment that was checked on reference blocks. The applicable code decides what is
// acceptable.
//
// # Concurrency
//
// Plans, lines and traces are safe for concurrent use as long as none is changed. A [Scratch]
// serves one call at a time.
//
// # For contributors
//
// line.go traces the axis. law.go turns a focus into delays in samples, one for each element or one
// for each element and sample. plan.go sums with one loop for fixed laws and one for dynamic laws.
// The sums are in double precision and in the order of the pairs, so that they have the same bits
// for any number of workers.
package ascan
