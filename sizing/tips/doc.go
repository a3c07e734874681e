// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package tips reads the ends of planar flaws from the echoes of their tips:
//
//	record, err := npy.ReadFile("testdata/tips_weld2.json", nil)
//	setup, err := record.Geometry()
//	var views []tips.View
//	for _, name := range []string{"T-T", "TT-T", "TT-TT"} { // as many views as there are
//		plan, err := tfm.PlanView(ctx, record.Capture, setup, name, grid, nil)
//		image, err := plan.Image(ctx, record.Capture)
//		views = append(views, tips.View{Name: name, Image: image})
//	}
//	flaws, err := tips.Find(ctx, record.Capture, setup, views, nil)
//	for _, f := range flaws {
//		fmt.Printf("%s: %.1f mm, %s, tilt %.0f°\n", f.Method, f.Length*1e3, f.LengthIs, f.Tilt*180/math.Pi)
//	}
//
// A smooth planar flaw shows as two small spots, its tips, and hardly by its face. Its 6 dB contour
// is then a contour of one tip, and says nothing about the length of the flaw. The distance of the
// tips is its length. [Find] looks for pairs of spots that are the tips of one flaw, and for tips
// above the corner of the flaw with the back wall. [Pitch] has the formulas of time-of-flight
// diffraction.
//
// # How a pair is recognised
//
// For two spots of one view, the line between them is assumed to be a crack. The exact diffraction
// coefficients ([diffraction.Tip.Slit]) then predict the echo of each tip for each pair of
// elements:
//
//	p_ij = a_i · b_j · D(θ_i, θ_j)
//
//	a_i, b_j   amplitudes of the rays from element i, and back to element j ([wedge.Amplitudes])
//	θ_i, θ_j   directions of both rays at the tip, from the crack
//	D          coefficient of the tip for the modes of the view
//
// The signals s_ij of the capture at the times of the tip are compared with the prediction. The tip
// lies where |Σ s_ij·conj(p_ij)| is largest near the spot. So the place of a tip does not suffer
// from a coefficient that changes its sign within the aperture, which splits or shifts the spot.
// These must be within limits:
//
//   - Fit: the share of the energy of both spots that one common gain explains. The signals of
//     neighbouring elements are summed in blocks first. The sums are limited to three times their
//     median, because echoes of walls and of other modes cross the echo of a tip.
//   - Phase: the difference of the phases of both spots, against the predicted difference. There is
//     no rule of opposite phases: both tips may have equal phases, see package
//     material/diffraction.
//   - Level: the ratio of both spots against the predicted ratio.
//   - HoleFit: two holes of any size and strength must not explain the signals clearly better, in
//     this view or in another one. A spot close behind a much stronger spot is no tip: waves that
//     creep round a hole arrive there.
//
// A slit has a flat end, which echoes more than a sharp tip. So slits with openings of up to a
// quarter of a transverse wavelength are tried, and the best is reported.
//
// If several views show the same flaw, its ends are means, weighted with the inverse of their
// covariances. A spot is short along the beam and long across it. So two views whose beams cross
// place an end far better than each of them.
//
// # Flaws on the back wall
//
// A tip that no pair contains may stand on the back wall. Its foot is the corner echo. The corner
// echo is a spot on the wall in a half-skip view, or in a direct view where the wall itself cannot
// mirror the beam. The face of such a flaw shows in half-skip views of one mode, such as TT-T. It
// confirms a flaw. If no tip shows, because the corner drowns it, the 6 dB extent of the face above
// the wall is the height ([FaceAndWall]). Without a corner and a face, a tip is accepted if its
// signals fit a tip clearly better than a hole. Nothing then shows where the flaw ends, so its
// length is not measured ([OneTip]). The flaw may reach the wall, or end anywhere. With the foot
// assumed on the wall, free cracks of 1.3 and 5.1 mm were read as 9.9 and 10.7 mm.
//
// Other echoes cross the wall, too, and their spots may be long and narrow. So the signals of a
// corner and of a face must add in phase: in views of one mode, a hole must explain at least 0.15
// of their energy. The limit lies between the crossing echoes in sdh32 (0.08) and the corners of
// tips_weld1 (0.22 to 0.29). It also holds for the corners of weld32 and tips_weld2 (0.39 to 0.67).
// A specular face inside the part needs 0.30.
//
// [Examine] also compares each spot with a hole, for lists of all flaws (package sizing/flaw).
//
// # What a length means
//
// [Measured] is the distance of both ends within its uncertainty. [LowerBound] is the 6 dB length
// of a face that mirrors the beam and drowns its tips: the flaw is at least that long. Of [OneTip]
// the bound is 0. [Unresolved] says that the flaw is shorter than the picture can show.
//
// # Accuracy
//
// The full-wave captures of testdata contain six slits and five notches in six captures.
// TestCaptures finds all of them, and no other flaw. Nine lengths are measured. Their errors are
// within 0.16 mm, and the errors of their tilts within 2°. Two slits are fusion faces that are seen
// square on. Their lengths are lower bounds: 2.4 of 5.0 mm, and 3.0 of 4.6 mm. The notch of 1.2 mm
// is read from its face, and all others from their tips. Captures of holes have no flaw.
//
// The limits were chosen on tips_plate1, tips_weld1 and synthetic captures of even seeds. The other
// captures judge the limits, but they were not hidden while the method was built.
//
// Of 500 synthetic cracks of 2 to 7 mm, 497 lengths are within 0.5 mm, and three cracks are not
// found. 100 scenes of two to five holes have no false flaw. In a quarter of them one hole lies
// above an equal one. The captures come from [synth.Crack] and [synth.Hole]. They have noise of 0.5
// % of the peak, and no echoes of walls. The odd seeds have 249 of 250 cracks, and 50 scenes without
// a false flaw. TestLongTrial repeats the first 100 cracks and 20 scenes of them. The captures
// contain the same coefficients as the predictions. So they test the method, and the full-wave
// captures test the physics.
//
// # What it does not show
//
//   - A flaw whose tips do not echo above the floor: rough, closed, filled or shadowed tips.
//   - The end of a flaw out of the section, and the length along the weld.
//   - A flaw with more than two tips: branches and steps show as unrelated pairs or not at all.
//   - Whether a spot above the wall is a tip or a pore, if the tip is blunt and no corner shows.
//     Such a notch is not reported.
//   - The height of a notch below about 0.6 of the 6 dB length of a point. In weld32 this is 1.3
//     mm. The picture of a face of 0.4 mm is 1.2 mm high.
//   - Waves from tip to tip along the face. A finite crack is not the sum of its tips (package
//     material/diffraction): these waves cause weaker spots behind the tips.
//   - Errors of wave speeds, wedge and probe position. They add to the uncertainties.
//
// # Cautions
//
// A length from tips is evidence, not a verdict. That no pair was found does not mean that there is
// no crack. A wrong pair can make a long flaw look short. Look at the evidence of each flaw and at
// the pictures. The applicable code and the written procedure set how flaws are sized and what is
// acceptable, and qualified and licensed practitioners decide.
//
// # For contributors
//
// view.go makes the spots of a view, rays.go and channels.go the amplitudes and the signals,
// focus.go the predictions and their match. pair.go decides on pairs, wall.go on flaws at the wall
// and on faces. draft.go and flaw.go join views. The limits stand at the top of pair.go and
// wall.go. Whoever changes a limit runs the long trial, and keeps the halves apart: even seeds to
// choose, odd seeds to judge.
package tips
