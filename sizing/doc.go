// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package sizing finds the indications of a focused section and measures them: where
// they are, how strong they are, and how large by the drop of the amplitude.
//
// # Units and axes
//
// Lengths are in metres, angles in radians. The axis x runs along the entry surface,
// z into the part. Amplitudes are linear, those of a [tfm.Envelope]; levels and
// drops are in decibels, 20·log10 of a ratio of amplitudes, where their names or
// comments say so. The 6 dB drop of the trade is the one to half the amplitude,
// [SixDB].
//
// # Indications
//
// [Find] lists the indications of a section, strongest first. Each is a peak with the
// connected area in which the amplitude falls by less than the drop; a lesser
// maximum counts as an indication of its own only if the amplitude falls by more than
// the drop, from that maximum, on every way to a stronger one. Levels are relative
// to the highest peak of the section or to a reference that the caller gives, such as
// the echo of a calibration reflector, focused the same way.
//
// The contour at the drop below the peak gives the extents: along x, along z, and
// along the indication's own axes. These are the principal axes of the area, each
// pixel weighted by its height above the contour: unlike a line fitted to the contour
// alone, they hardly move when noise frays its rim. The length is the whole extent
// of the contour along the long axis, the width that across it; for a bent
// indication the width so includes the bend. The tilt is the angle of the long axis
// from the vertical, positive where its top leans to +x. It is the direction of the spot in the
// picture. It is the direction of a flaw only if the length is several beam widths: the spot of a small
// reflector has the direction of the point spread. Side-drilled holes of 2 mm through a wedge have
// tilts of 31° and 35° in view T-T (testdata/sdh32), though a hole leans nowhere.
//
// An indication carries the states of the pixels that it touches ([Indication.States]), such
// as those that no ray reaches. [Indication.Complete] reports whether the image shows all of
// it.
//
// [Profile] and [Drop] size along any line instead; [Wall] turns positions into
// distance along the surface, depth and ligament.
//
// # Accuracy of the measurement
//
// A peak is placed between pixels by the quadratic through the logarithms of the
// amplitudes of the highest pixel and its eight neighbours, where none of these is
// more than 12 dB lower; else by a parabola along each axis whose two neighbours are
// not; else it is the pixel, as it is at the edge of the section. A flat top more than
// two pixels across, as clipping makes, has its peak in its middle. The quadratic is
// exact for a Gaussian; for the sinc² of a focused array it is within 0.01, 0.003
// and 0.001 of a pixel at 3, 5 and 10 pixels across its 6 dB width. The amplitude is
// taken from the quadratic too, and with it the level of the contour.
//
// The contour runs through linear interpolations between pixels. Its extents, length
// and width, for a Gaussian, are then within these bounds of the true ones, the
// tilt (of lengths of three widths or more) and the area as well:
//
//	pixels across the width    extents       tilt        area
//	                      3    -9 % +3 %    0.040 rad    13 %
//	                      5    -3 % +1 %    0.012 rad   3.5 %
//	                     10    -1 % +0.3 %  0.003 rad     1 %
//
// They are errors of measuring the picture, to which those of the picture add: speeds,
// wedge, probe position, noise.
//
// # What the 6 dB drop measures
//
// A beam whose axis is on the edge of a reflector that is uniform and larger than the
// beam returns half the amplitude, so the distance between the half-amplitude points
// is the reflector's length. Nothing is subtracted from it. In a focused picture
// the beam is the point spread of the array, two-way, of width w at half amplitude. If
// the strip of length L reflects incoherently, its picture is the convolution of the
// two, and, for a Gaussian point spread, the 6 dB drop measures
//
//	L/w         0   0.25  0.5   0.75  1     2     3     5
//	measured/w  1   1.01  1.06  1.14  1.25  2.02  3.00  5.00
//
// (convolution model, independent calculation). So it is true within 2 % from
// L = 2w on, 25 % too long at L = w, and never below w.
//
// A measured length near w says nothing about the size of a smooth planar flaw: what shows may be
// its tip, or the one spot that mirrors the beam. Of synthetic smooth cracks that measured 0.8 to
// 1.5 w, 63 to 76 % were longer than 2w (a trial with invented cracks, which is not in the
// tests). Only of a reflector that is known to be rough, or to scatter as the model says, does it
// mean that the reflector is no larger than about w.
//
// Subtracting a beam width belongs to the 20 dB drop method, whose extents run to the edges of the
// beam on either side of the reflector; that subtraction is left to the caller, who
// knows the beam at that range.
//
// The model does not hold for a smooth face seen by specular reflection, whose picture
// depends on where it mirrors the beam; for the ends of a crack, which are separate
// echoes of their own; for a hole, of which only the near face shows; nor for
// neighbours closer than w, which interfere.
//
// # Cautions
//
// Sizes from amplitudes are estimates, and a flaw can be larger than its indication: a
// rough, tilted or shadowed part of it may return too little to count, and a
// ligament may be smaller than it seems. Which drop, reference, floor and grouping
// apply, what counts as acceptable and who may judge it are set by the applicable
// code and the written procedure, and are for qualified and licensed practitioners
// to decide. This package measures pictures; it does not accept or reject parts.
//
// Functions of this package change none of their arguments and may be called at the same
// time. NaN, infinite and negative amplitudes are refused with an error.
package sizing
