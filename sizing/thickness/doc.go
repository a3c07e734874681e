// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package thickness follows the back-wall echo over a scan. It maps the thickness of a wall with
// its uncertainty. Where there is no thickness, it states the reason.
//
//	like := ascan.Beam{Mode: material.L, Transmit: ascan.Focus{Dynamic: true}, Receive: ascan.Focus{Dynamic: true}}
//	beams, err := ascan.Linear(like, 16, 8, 1) // straight beams of 8 elements along an array of 16
//	plan, err := ascan.NewPlan(ctx, capture, setup, beams, nil)
//	reader := &thickness.Reader{Least: 3e-3, Most: 12e-3, Reference: wall, Threshold: -20,
//		Errors: thickness.Errors{Speed: 15, Delay: 3e-9}} // m/s, s
//	m, err := thickness.NewMap(s, x) // s of each frame, x of each beam, m
//	scratch := plan.NewScratch()
//	for i := range s { // one frame after another, in bounded memory
//		traces, err := scratch.Traces(ctx, frame(i))
//		err = m.Read(reader, i, 0, traces)
//	}
//	summary, err := m.Summary(&thickness.SummaryOptions{Limit: 6e-3}) // minimum, pits, gaps
//	err = m.WriteCSV(file)
//
// # Methods
//
// Let c be the wave speed in the part, and t1 and t2 the times of the first and second back-wall
// echo. Let t0 be the time zero in the entry surface, and ti the time of the echo of the entry
// surface. The thickness d is
//
//	FirstEcho       d = c·(t1 - t0)/2
//	FromInterface   d = c·(t1 - ti)/2
//	EchoToEcho      d = c·(t2 - t1)/2
//
// ISO 16809 (from memory) calls these ways mode 1, 2 and 3. FirstEcho needs one echo only, and so
// reads the smallest pits. A coating, or couplant of another thickness, adds to it. EchoToEcho does
// not depend on both, but pits and rough walls often have no second echo. A reader compares the
// first echo with the distance of the echoes where it can ([Disagree]).
//
// The time of an echo is the peak of its envelope, or the place where a flank crosses a threshold
// ([Flank]). The peak needs no choice of a half-wave. The flank is less disturbed by a second echo
// close behind the first.
//
// # Which echo
//
// The first echo that reaches the threshold counts, not the highest. The first echo of a small pit
// is weaker than the echo of the wall around it, and is the one that matters. Two echoes are told
// apart if the envelope falls by 6 dB between them: about half a pulse length times c/2.
//
// An echo at which the receiver clipped has a wrong height and shape. Set FullScale of the options
// of package ascan, and such echoes get the state [Clipped]. Otherwise they are read as they are.
//
// # Beams
//
// A straight beam with dynamic focus is a column of the image of package tfm that the elements of
// the aperture make. Each sample is focused at its own depth. So it is focused at the bottom of a
// pit as well as at the wall. Its width at half amplitude, there and back, is about
//
//	b = 0.89·λ·d/A
//
// with the wavelength λ, the depth d and the aperture A. A pit that is narrower than b returns only
// a part of the beam. It is read if its echo comes first and reaches the threshold.
//
// TestSmallPits compares beams over pits of 2 to 5 mm depth in plates of 12 mm, at 5 MHz (λ 1.2
// mm), with a threshold of -20 dB. The back wall is a row of point sources, without shadows and
// without echoes from the sides of a pit. So real pits are harder to see.
//
//	beam                      b       pits read within 0.1 mm
//	8 elements, unfocused     4.8 mm  from a width of 2 mm on
//	8 elements, focused       2.6 mm  from a width of 1.5 mm on
//	16 elements, focused      1.3 mm  from a width of 1.5 mm on
//
// A pit appears larger on the map than it is, by about the width of the beam. In the focused beams
// the thickness was also nearer to the truth, so take focused beams. For an unfocused beam b is the
// aperture.
//
// # Uncertainty
//
// [Reader.Budget] combines, after the GUM (package uncertainty),
//
//	d/c·u(c)      wave speed
//	c/2·u(t0)     time zero and delay, for FirstEcho
//	c/2·u(noise)  noise, estimated for each A-scan from its own lower quartile
//	u(wall)       roughness, curvature and tilt of the wall in the beam
//	u(method)     anything else, such as a change of the pulse
//
// The errors of speed and time zero move all cells of a map alike. The noise does not.
//
// In trials with noise, all quantities were drawn from their distributions (TestCoverage). The bias
// was below 0.002 mm, and 96 to 97 % of the intervals of 95 % held the truth.
//
// The full-wave captures of testdata have walls of 14 to 40 mm, in contact, through water and under
// a wavy surface. Errors.Method was half a sample (0.03 mm). All readings lay within their
// intervals of 95 % where no flaw weakened the echo by more than 3 dB (TestWalls). The mean error
// was between -0.035 and +0.035 mm. Beside a notch that weakens the wall's echo by 5 dB, a reading
// was 0.09 mm too thin. In the shadow of a hole, weakened by 20 dB, it was 0.24 mm too thin.
//
// # The minimum
//
// The least of many readings lies below the least thickness, because each reading has a random
// error. Of n equal walls it lies lower by about 3 standard deviations for n = 500.
// [Statistics].Bias is this amount, an upper bound for other walls. [Statistics].Confirmed is a
// minimum that two neighbours share. No reading is removed or smoothed: a pit of one cell is kept.
//
// # What it does not show
//
//   - A flaw parallel to the wall, such as a lamination, has the echo of a thin wall. An inclusion
//     has the echo of a pit. Other beams and views tell them apart.
//   - A pit with steep sides sends the sound aside, and shows as a gap only. Look at the gaps.
//   - A wall thinner than Least has no echo in the gate. Its repetitions are recognised if they
//     are separate and not weaker than half the echo before.
//   - Thickness is measured along the beam. Where the entry surface is not parallel to the wall,
//     the beam must be aimed at right angles to the wall.
//   - The map has no time: corrosion rates need two scans and their uncertainties.
//
// # Cautions
//
// Fitness for service is decided by the applicable code and by qualified, and where the law
// requires it licensed, personnel. Check the reader on a step block of the same material at the
// same temperature. The speed in steel falls by about 1 % in 100 K (common practice, no source). A
// map without gaps on a plate with deep pits is a reason for doubt.
//
// # For contributors
//
// signal.go finds echoes and their times, walls.go decides which echo is the wall, reader.go joins
// them. map.go holds the cells, summary.go the statistics, region.go pits and gaps. pits_test.go
// has a fast model of a plate in a section, which shares nothing with package synth.
package thickness
