// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package flaw makes one list of flaws from the indications of several views:
//
//	record, err := npy.ReadFile("testdata/weld32.json", nil)
//	setup, err := record.Geometry()
//	var views []flaw.View
//	for _, name := range []string{"T-T", "TT-T"} {
//		plan, err := tfm.PlanView(ctx, record.Capture, setup, name, grid, nil)
//		image, err := plan.Image(ctx, record.Capture)
//		views = append(views, flaw.View{Name: name, Image: image}) // List finds the indications
//	}
//	flaws, err := flaw.List(ctx, record.Capture, setup, views, nil)
//	for _, f := range flaws {
//		fmt.Printf("%d %s: %.1f mm, %s, in %v\n", f.ID, f.Kind, f.Length*1e3, f.LengthIs, f.Views)
//	}
//	groups, err := flaw.Interact(flaws, flaw.Rule{X: flaw.Gap{Distance: 2e-3}}) // by procedure
//
// One flaw shows as several indications: two tips in one view, a corner in another view, a face in
// a third one. Walls and other modes add indications where no flaw is. [List] sorts all of them
// into entries. Each indication belongs to exactly one entry, and no indication is deleted.
//
// # How the list is made
//
//  1. Package tfm/ghost marks the echoes of walls in their true place, of shapes that the caller
//     knows, and the ghosts of both.
//  2. Package sizing/tips finds planar flaws: pairs of tips, tips above a corner, faces. Their
//     indications, and the indications on the line between their ends, are one entry each.
//  3. The indications of one wall are one entry. Each ghost is an entry.
//  4. What is left is grouped over the views. Two indications of different views belong together if
//     their 6 dB ellipses meet. The closest ones are joined first. Two indications of one view are
//     two entries: only tips join them.
//  5. An entry behind a stronger point, along the beam, may be a wave that creeps round a hole. It
//     is marked as such a wave. Round a hole of radius a the wave shows about (1 + π/2)·a behind
//     the near face. Only the place and the level tell, so a second reflector may look the same.
//  6. Entries that nothing explains yet are compared with the ghosts of the flaws that were found.
//
// The number of an entry is its rank by level. Levels of different views compare only after a
// correction of the sensitivity (package tfm/sensitivity). Without it, the rank is a convention.
//
// # Kinds
//
// An entry is [Planar] if package sizing/tips finds tips, a corner or a face. It is [Point] if the
// echo of a hole explains at least 0.55 of the energy of its signals, or 0.45 if several views show
// it. Beside or behind an indication that is 6 dB stronger, 0.85 is needed, because waves that
// creep round a hole arrive there. It is [Geometry] if a wall, a known shape, or a ghost of both
// explains it. Otherwise it is [Unknown]. [Flaw.Reasons] lists the findings with their numbers.
//
// A tip above a corner is not taken for a tip if a hole of one strength explains its spots in two
// views. There are two exceptions: the face of the flaw shows from the wall up to the tip, or the
// tip explains 0.05 more of the energy of the signals. A second reflector close behind a stronger
// one is unknown or is marked as a late wave.
//
// A kind is evidence, never a verdict. A tip whose partner does not show looks like a point. So a
// point may be the end of a crack. Some tips differ clearly from a hole. Their entries are planar
// without ends, and their length is not resolved: nothing shows where the flaw ends. A crack
// shorter than a wavelength looks like a point too.
//
// # What was measured
//
// Ten full-wave captures of testdata were computed without any ray model. Each of their 25
// reflectors is one entry of its kind, and no other entry is planar or a point (TestCaptures).
// Walls are geometry. 53 other entries down to -30 dB are unknown, some of them explained. The
// limits were chosen on block16, sdh32, weld32 and tips_plate1. The other captures judge.
//
// In 250 synthetic scenes (odd seeds from 1001) there are 444 holes, pores and cracks. The long
// form of TestTrial repeats the first 100 scenes. The array is in contact in 200 scenes, and on a
// wedge in 50 scenes with two views. Of the reflectors, 26 are below the floor. In 240 scenes there
// are as many entries as reflectors that were detected. The kind is right for 401 of 418 detected
// reflectors, unknown for 8, and wrong for 9. Some of the 9 are cracks of which one tip shows.
// Others are holes beside the corner of a crack. The floor was 35 dB below the back wall, or 30 dB
// below the strongest reflector on a wedge. The 250 scenes of the choice have 242, and 413 of 423.
// The synthetic captures contain the same coefficients of tips as the predictions, so they test the
// method, not the physics.
//
// # Uncertainties
//
// All uncertainties are half-widths of intervals of 95 %. Without [Options.Inputs] they contain the
// picture alone: the extents of the spots, noise, and the grid. With Inputs they are the expanded
// uncertainties of budgets of package sizing/uncertainty, which contain the speeds, the wedge, the
// position of the array, and so on. Each entry keeps its budgets.
//
// The place of an entry without tips is the mean of its peaks. The phases of the amplitudes move
// each peak away from its reflector. In contact and in water they do not. For pores of the trial on
// a wedge they do so by up to 0.2 mm (T-T) and 0.4 mm (TT-T). The places of these pores were wrong
// by up to 0.17 mm, within intervals of 0.21 to 0.25 mm. [uncertainty.Model.Reflector] corrects one
// peak of a pore. List does not apply it, because it is not shown to help for holes. In sdh32 the
// correction of both views moved the places of three holes off their surfaces, by 0.00, 0.01 and
// 0.05 mm. The last two holes lie in the shadow of the first one.
//
// # Acceptance
//
// The caller brings a [Table]: rows with conditions on kind, zone, length, height, depth, ligament
// and level. [Table.Judge] says which row an entry meets first. A condition is met only if all
// values within the uncertainty meet it. If only some of them do, the outcome is undecided, with a
// reason. A length that is a lower bound never meets an upper limit, and neither does the length of
// a planar entry without ends.
//
// [Interact] joins entries by a rule of the caller.
//
// # Cautions
//
// The list says what pictures show. It does not say whether a part is fit for service. An
// explained entry may hide a flaw. A smooth flaw may not show at all. The length along the weld
// needs a scan. Rows, limits, interaction rules and their order are set by the applicable code and
// the written procedure. Qualified and licensed practitioners apply them and decide.
//
// # For contributors
//
// list.go has the order of the steps. mark.go marks walls and ghosts, character.go makes entries
// and decides on kinds, group.go groups over views, output.go and reasons.go make the outer form.
// table.go and interact.go need no capture.
package flaw
