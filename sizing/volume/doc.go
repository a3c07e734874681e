// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package volume finds the indications of a scan or of the volume of a matrix array. It measures
// where they are, and how long they are along the scan:
//
//	line, err := volume.NewLine(stack, 0, nil) // view 0 of a stack (package tfm/stack)
//	beam := func(at r3.Vec) (sizing.Beam, error) { // elements of 10 mm along the scan, in contact
//		return volume.ElementBeam(10e-3, 5e6, 5920*r3.Norm(r3.Vec{X: at.X, Z: at.Z}))
//	}
//	found, err := volume.Find(ctx, line, &volume.Options{Floor: -20, Beam: beam})
//	for _, f := range found {
//		fmt.Println(f.S, f.X, f.Z, f.Drop.Length(), f.LengthIs, f.Least, f.Most)
//		sections, err := volume.Heights(line, &f, 3, &sizing.Options{Spread: spread.Picture})
//		flaws = append(flaws, f.Flaw())
//	}
//	groups, err := flaw.Interact(flaws, flaw.Rule{S: flaw.Gap{Distance: 5e-3}}) // by procedure
//	block, err := volume.NewBlock(image.Envelope(nil)) // of a matrix array, in place of line
//
// # Axes
//
// x and z are the axes of a section, s is the position along the scan: the position of the encoder,
// or the y of a volume. For the place in the part see package fmc/scan. Lengths are in metres,
// levels in dB relative to a reference.
//
// # Indications
//
// An indication is a peak with the connected pixels that lie less than 6 dB below it, in three
// dimensions: the rule of [sizing.Find]. Maxima belong together unless every way from one to the
// other falls by more than 6 dB below the lower one. A face that echoes unevenly may so be two
// indications. Whether they count as one flaw is decided by the procedure ([flaw.Interact]).
//
// # Gaps
//
// Sections more than 1.5 pitches apart have a gap between them: nobody looked there. An indication
// ends at a gap ([AtGap]), and its length is a lower bound. [Options].Bridge lets an indication go
// on over so many missing sections. Indication.Bridged says how many of them lie inside. A bridge
// is an assumption: a short flaw on each side of the gap looks the same.
//
// # Lengths
//
// The profile P(s) holds the highest amplitude of the indication in each section, between pixels.
// Let w be the width of the beam along the scan at half amplitude, L the true length.
//
//	Drop   where P falls by 6 dB below its peak
//	Full   where P falls to Options.Level
//	Tips   where P falls by D = Options.TipDrop below its last significant maximum or shoulder at
//	       each end, moved outward by -e(D): the ends of a long strip at the drop D (sizing.Beam.Edge)
//
// A drop needs no correction at 6 dB, because e is 0 there for each even beam. The bias of Drop for
// a face that echoes evenly and in phase (convolution model, as in package sizing) is
//
//	L/w               0   0.25  0.5   0.75  1     2     3     5
//	Gaussian, Drop/w  1   1.01  1.06  1.14  1.25  2.02  3.00  5.00
//	sinc², Drop/w     1   1.01  1.04  1.11  1.21  2.05  3.06  5.03
//
// Full is longer than the flaw by the width of the beam at the level. It is no size: compare it
// with limits that were set for the same level. Tips is the better length of a face whose amplitude
// changes along the scan, because the ends do not depend on the highest peak. A shoulder is flat,
// within 1 dB over w/2. Maxima more than 14 dB below the peak are no ends, because side lobes of
// the beam lie there. A neighbour joins Tips if the dip between them is not deeper than 14 dB below
// the peak. For L below 2w the bias of Tips is [sizing.Beam.Measured](L, D) - 2e(D) - L.
//
// # What a length means
//
// A length near w is no length: a point measures w. [tips.Unresolved] says so, with the greatest
// length Most that the flaw may have. [tips.LowerBound] says that an end is cut by a gap or by the
// end of the scan. It also says that the highest pixel of a section lies at the edge of the image
// or the zone, or has a state. The contour of a crack at the back wall touches pixels that no ray
// reaches. Its length along the scan is measured all the same, and [Indication.Complete] tells the
// difference. For this the image must go on beyond the back wall by two pixels: in the last row of
// an image a crest is cut.
//
// The interval from Least to Most holds the true length with a probability of 95 % or more. It
// joins the intervals of kinds of flaws that the profile does not tell apart:
//
//   - a face whose echoes add in phase: the convolution model with the beam w ([sizing.Beam.Strip])
//   - a rough face, whose powers add: w/√2 and a drop of 12 dB, so the 6 dB drop is 0.4w too long
//   - a smooth face that mirrors the beam in a Fresnel zone narrower than w: the length of the drop
//   - an uneven face: the length of the tips, or of the drop by 14 dB less 2e(14 dB), if it is
//     longer
//
// Each has the standard deviation of the noise, of the pitch d/√12 at both ends, and of the width
// of the beam, 10 %. The noise moves an end by its slope: see [sizing.Beam.EdgeSD]. Errors of the
// encoder add to it.
//
// # What the trial showed
//
// The ray model (package fmc/synth) scanned 200 flaws in a plate, with 10 elements of 8 mm at 4 MHz
// in steps of 1 mm. The width w was 2.8 to 4 mm, and the peaks were 18 to 65 dB above the noise.
// Faces had 0 to 20 mm. The tables of both halves are in trial.txt. Of the half that did not choose
// the constants:
//
//	                          smooth face   rough face    upright crack   pore
//	found                     25 of 25      25 of 25      22 of 25        25 of 25
//	length in the interval    25            24            22              25
//	middle in the interval    25            22            22              25
//	error of Drop, mm         -0.02 ± 0.08  -2.80 ± 3.37  -0.01 ± 0.75    3.69 ± 0.30
//	error of Tips, mm          0.59 ± 0.13   0.61 ± 1.42   0.41 ± 1.12    4.58 ± 0.31
//	error of the middle, mm    0.00 ± 0.01  -0.80 ± 1.46  -0.04 ± 0.21    0.01 ± 0.05
//
// Errors of lengths (mean and standard deviation) are of flaws of 2w or more, and of pores. Of 35
// even faces of 2w or more, 34 had a drop within one step and 5 % of the true length. No pore had a
// length. Weak cracks were not found, because their tips echo below the floor.
//
// The drop is far too short on rough faces, because their echoes interfere: a part behind a dip of
// more than 6 dB is another indication. Tips follows them better. It is 0.2w too long on smooth
// faces, whose ends are sharper than the beam.
//
// The scan of testdata/scan/weld16 has steps of 2.25 mm. Its two planar flaws lie from 7.8 to 22.0
// mm and from 37.4 to 49.1 mm. They are measured from 7.9 to 22.0 mm and from 37.3 to 49.0 mm.
//
// # Flaws that curve
//
// Centre is the line through the middles of the sections. Its length is CurveLength. It is smoothed
// over the width of the beam, because noise of single sections would lengthen it.
//
// # What it does not show
//
// A flaw that tilts along the scan may mirror the beam past the array, and show only in parts or
// not at all. An uneven flaw may be longer than the 6 dB drop. A flaw in the echo of a wall, a root
// or a cap belongs to the indication of this echo: limit the zone with Options.X and Z. A pitch
// above a third of w loses peaks.
//
// # Cautions
//
// Which level, drop, rule of interaction and beam apply is set by the code and the procedure in
// force. Trained and authorised personnel decide about a part. Check the lengths on a reference
// block with notches of known lengths, with the same array and at the same depths.
//
// # For contributors
//
// find.go joins pixels to components, one section after another, and holds open components only.
// split.go floods a component that has closed. profile.go reads the sections again and collects the
// profiles, because the pixels beyond a contour are not held. measure.go turns profiles into
// lengths.
package volume
