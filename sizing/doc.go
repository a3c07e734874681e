// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package sizing finds the indications of a focused section. It measures where they are, how strong
// they are, and how large they are by the drop of the amplitude:
//
//	spread, err := quality.NewSpread(capture, setup, "T-T", nil) // package tfm/quality
//	found, err := sizing.Find(image.Envelope(nil), &sizing.Options{Spread: spread.Picture})
//	wall, err := sizing.NewWall(setup.Entry, setup.Back)
//	for _, f := range found {
//		fmt.Printf("%d: x %.1f mm, z %.1f mm, %.1f dB, %.1f mm long\n",
//			f.ID, f.X*1e3, f.Z*1e3, f.LevelDB, f.Length*1e3)
//		if length, tilt, ok := f.Size(); ok {
//			fmt.Println("   the reflector is resolved", length, tilt)
//		}
//		fmt.Printf("   %.1f mm from the far surface\n", wall.Span(f).FarLigament*1e3)
//	}
//	profile, spacing, err := sizing.Profile(envelope, from, to, 200) // along any line
//	extent, err := sizing.Drop(profile, spacing, sizing.SixDB)
//	beam, err := sizing.SincBeam(width) // of the focus at half amplitude, m
//	strip, err := beam.Strip(extent.Length(), sizing.SixDB, deviation) // corrected for the beam
//
// # Units and axes
//
// Lengths are in metres, angles in radians. The axis x runs along the entry surface, z runs into
// the part. Amplitudes are linear, in the unit of a [tfm.Envelope]. A level is 20·log10 of the
// ratio of an amplitude to a reference, in decibels: an amplitude below the reference has a level
// below 0. A drop is how far a level lies below another one, a positive number of decibels. The
// 6 dB drop is the drop to half of the amplitude, [SixDB].
//
// # Indications
//
// [Find] lists the indications of a section, strongest first. An indication is a peak with the
// connected area in which the amplitude falls by less than the drop. A lower maximum is another
// indication only if the amplitude falls by more than the drop below it on every line from this
// maximum to a stronger one. Levels are relative to the highest peak of the section, or to a
// reference that the caller gives, such as the focused echo of a calibration reflector.
//
// The contour at the drop below the peak gives the extents along x, along z, and along the
// principal axes of the area. For these axes each pixel is weighted by its height above the
// contour. So noise at the rim of the contour hardly moves the axes, unlike a line that is fitted
// to the contour. The length is the extent of the contour along the long axis, the width is the
// extent across it. The width of a bent indication includes the bend.
//
// The tilt is the angle of the long axis from the vertical, positive where the top leans to +x.
// The tilt is the direction of the spot in the picture. It is the direction of a flaw only if the
// flaw is resolved, because the spot of a small reflector has the direction of the
// point spread. Side-drilled holes of 2 mm through a wedge have tilts of 31° and 35° in view T-T
// (testdata/sdh32), although a hole has no direction.
//
// # Resolution
//
// With [Options.Spread] each indication is compared with the predicted contour of a point reflector
// at its place ([Resolution]). The contour is compared along all directions. If it exceeds the
// point spread by less than 35 % along every direction, it is unresolved: it has no length and no
// tilt ([Indication.Size]). Otherwise the extent along the direction of the largest excess is the
// length.
//
// In 250 trials there were pores, holes of 0.5 to 2.5 mm, and cracks of 3 to 5 widths of the point
// spread. The signal-to-noise ratio was 13 to 50 dB. None of 126 holes and pores had a length, and
// none of 122 cracks lost its length (TestResolutionLong). The cracks mirrored the beam into the
// array, within 6°. Their tilts were within 13°, their lengths 0.38 to 1.08 of the true lengths.
//
// An unresolved indication may still belong to a long flaw: a tilted smooth crack shows only its
// tips, each unresolved. A resolved indication may be no crack: the spot of a hole in the shadow of
// another hole is up to twice as long (testdata/sdh32).
//
// # Validity
//
// An indication has the states of the pixels that it touches ([Indication.States]): pixels that no
// ray reaches, pixels with an echo outside the record, pixels on a grid that is too coarse, clipped
// pixels. [Indication.Edge] says that the image cuts the indication. [Indication.Complete] reports
// that none of this is so. [Indication.Merged] says that the contour holds several peaks. In 600
// pictures of hills at a cut, Edge or a state marked all readings whose contour was cut, and no
// other reading (TestCutLong). All merged hills with a saddle of more than 3 dB were marked, and
// none of 487 single hills (TestMergedLong).
//
// # Noise and the default floor
//
// [EstimateNoise] estimates the root mean square of the noise from the median of the picture, and
// the area of its correlation from neighbouring pixels. Indications are taken out first. The ratio
// of a peak to this level is the signal-to-noise ratio [Indication.SNRDB]. A ratio of 6 dB is
// nothing special: 2 % of all cells of noise are as high.
//
// Above the default floor a picture of noise alone has 0.02 peaks. The default floor is usually 11
// to 12 dB above the level of the noise. Of 900 pictures of noise alone, 18 had one indication, and
// none had more (TestNoiseAloneLong). The estimate takes the noise as equal in the whole picture. A
// picture without noise has a level too, the level of its residual waves and side lobes: 34 to 55
// dB below the highest peak in the captures of testdata. Artefacts, such as echoes of other modes,
// are no noise, and exceed the floor. A window of fewer than 20 correlation cells, such as a window
// that one indication fills, has no estimate, and a default floor of -20 dB. Indications that fill
// half of a larger picture make the level too high. Then the floor may hide flaws: give a Floor.
//
// # Position in the part
//
// [Wall] turns positions into distance along the surface, depth and the ligaments to both surfaces,
// on plates and pipes. [Part.Position] adds the weld: the distance from its centre line, the
// zone, and the signed distance from each fusion face. [Wall.Unfold] unfolds the skips of a beam:
// surface distance, unfolded depth, sound path and refraction angle on any leg.
//
// # Accuracy of the measurement
//
// A peak is placed between pixels by a quadratic through the logarithms of nine amplitudes: the
// highest pixel and its eight neighbours. None of the neighbours may be more than 12 dB lower.
// Otherwise a parabola along an axis places it, if neither neighbour along this axis is more than
// 12 dB lower. Otherwise, and at the edge of the section, the peak is the centre of the pixel. A
// flat top more than two pixels across, which clipping causes, has its peak in its middle.
//
// The quadratic is exact for a Gaussian. For the sinc² of a focused array its error is within
// 0.01, 0.003 and 0.001 of a pixel at 3, 5 and 10 pixels across the 6 dB width. The quadratic also
// gives the amplitude, and so the level of the contour.
//
// The contour is interpolated linearly between pixels. For a Gaussian its extents, length and
// width, its tilt (for lengths of at least three widths) and its area are within these bounds of
// the true values:
//
//	pixels across the width    extents       tilt        area
//	                      3    -9 % +3 %    0.040 rad    13 %
//	                      5    -3 % +1 %    0.012 rad   3.5 %
//	                     10    -1 % +0.3 %  0.003 rad     1 %
//
// These are errors of the measurement in the picture. The errors of the picture itself add to
// them: errors of wave speeds, wedge and probe position, and noise.
//
// # Weighted images
//
// A coherence weight narrows echoes, so a drop in a weighted image gives sizes that are too small.
// [Find] and [Profile] refuse such images. With [Options.Amplitudes] Find takes the places from the
// weighted image, and levels and sizes from the amplitudes there.
//
// # What the 6 dB drop measures
//
// A uniform reflector that is larger than the beam returns half of the amplitude when the axis of
// the beam is at its edge. So the distance between the half-amplitude points is the length of the
// reflector, and nothing is subtracted. In a focused picture the beam is the two-way point spread
// of the array, with the width w at half amplitude. If all points of a strip of length L reflect
// with the same amplitude and in phase, its picture is the convolution of strip and point spread.
// For a Gaussian point spread the 6 dB drop measures
//
//	L/w         0   0.25  0.5   0.75  1     2     3     5
//	measured/w  1   1.01  1.06  1.14  1.25  2.02  3.00  5.00
//
// (convolution model, independent calculation). So the measured length is within 2 % of L from
// L = 2w on, 25 % too long at L = w, and never below w.
//
// A measured length near w says nothing about the size of a smooth planar flaw: the picture may
// show only its tip, or the one spot that mirrors the beam. In a trial with invented cracks, which
// is not in the tests, smooth cracks measured 0.8 to 1.5 w. Of these 63 to 76 % were longer than
// 2w. So a measured length near w does not mean that the reflector is at most about w long, unless
// the reflector is known to be rough, or to scatter as in the model.
//
// # Drop methods and their bias
//
// [Drop] sizes by any drop along a profile: on a straight line ([Profile]), or on a curve
// ([ProfileAlong]) such as the arc of a pipe or a fusion face. [Find] does so along the axes of an
// indication. [Beam] states the bias of each for the strip model, as a function of the drop, the
// length L and the width w of the beam at half amplitude:
//
//	method                       assumes                      bias of the length
//	6 dB drop                    L above 2w                   Measured(L, SixDB) - L
//	another drop                 L above 2w                   Measured(L, drop) - L
//	drop with the ends moved     L above 2w                   Measured(L, drop) - from - to - L,
//	by Edge(drop)                                             from, to of Edge
//	20 dB drop with the edges    a point, or an end that      the same with Point:
//	of the beam subtracted       scatters like a point        0 for a point, -0.73w for L above 2w
//	([Beam.Within])                                           (Gaussian)
//	corrected ([Beam.Strip])     a strip, the width w known   0 by definition
//
// Each end of a long strip moves outward by these shares of w (computed independently; sinc² is the
// focus of a full matrix of a line aperture):
//
//	drop, dB    3       6   10      12      14      20
//	Gaussian    -0.232  0   +0.203  +0.285  +0.358  +0.544
//	sinc²       -0.247  0   +0.216  +0.304  +0.384  +0.604
//
// The points of a rough face echo with random phases, so their powers add. In the mean the 6 dB
// drop then places each end 0.20w (Gaussian) outside of the face: see [Beam].
//
// At 6 dB no width is subtracted. Each even profile gives half of the amplitude at the end of a
// long strip, so the 6 dB drop does not depend on the shape of the beam. All other drops do.
//
// [Beam.Strip] inverts the model. The measured length of a short strip hardly depends on its
// length: a strip of w/4 measures 1.4 % longer than a point. So Strip takes the standard deviation
// of the measured length, and returns an interval of 95 % confidence. It returns no length if a
// point could measure as long. In 300 trials for each of five lengths from 0 to 3w, 95 to 98 % of
// the intervals held the true length (TestStripCovers, normal errors of 0.04w). [Indication.Strip]
// takes the beam from the predicted point spread, with an uncertainty of 10 %. Holes in full-wave
// captures have no length by it, except in a deep shadow (TestStripOfCaptures, testdata/sdh32).
//
// Let R be the ratio of the amplitude to the standard deviation of the noise. Noise moves one end
// of a long strip by the standard deviation w/(0.939·R) for a Gaussian beam, and w/(0.886·R) for
// sinc². Positions rounded to a step d add d/√12 ([Beam.EdgeSD]).
//
// The model does not hold in these cases:
//
//   - a smooth face that reflects specularly: its picture depends on where it mirrors the beam;
//   - the ends of a crack, which are separate echoes;
//   - a hole, of which only the near face shows;
//   - neighbours closer than w, which interfere.
//
// # Cautions
//
// Sizes from amplitudes are estimates. A flaw can be larger than its indication: a rough, tilted
// or shadowed part of the flaw may return an echo below the contour. So a ligament may be smaller
// than the picture shows. The applicable code and the written procedure set which drop, reference,
// floor and grouping apply, what is acceptable, and who may judge it. Qualified and licensed
// practitioners decide. This package measures pictures. It does not accept or reject parts.
//
// The functions of this package do not change their arguments, and may be called at the same time.
// NaN, infinite and negative amplitudes are errors.
package sizing
