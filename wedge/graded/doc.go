// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package graded computes times of flight through anisotropic and graded media:
// forged or rolled anisotropic parts, austenitic welds whose grains turn from
// place to place, parts with a gradient of temperature. Its tables are
// [wedge.Times], so that an image is made from them as from any others.
//
// # When
//
// In a medium that is anisotropic, energy travels at the group speed of its
// direction, and the wave fronts are not across the rays; where the medium
// changes with place, rays bend. A weld of austenitic steel does both: its columnar grains
// make the speed of longitudinal waves differ by 12 to 22 % with direction, and a focus that takes it for
// isotropic misses by millimetres (see the example). Where the medium is
// isotropic and uniform, package wedge is a thousand times quicker.
//
// # Two dimensions
//
// Everything happens in one section x–z of constant y, x along the entry surface
// and z into the part, in metres and seconds; angles are in radians from +x towards
// +z. The section is a plane of symmetry of all media, as for columnar grains, the same
// all round their axis, whose axis lies in the section. Welds whose grains
// lean along the weld need three dimensions; they are not covered. A [Mode] is
// named by its polarisation: [QL], [QSV] in the section, [SH] across it. All cross a
// coupling as longitudinal waves.
//
// # Media
//
// A [Medium] gives the time over a short step, by place and direction, with its
// derivatives; that by the step is the phase slowness. There are [NewIsotropic],
// [NewLinear], a [Crystal] in one orientation ([NewUniform]) and one that turns
// with a [Texture] ([NewGrains]): the [Law] with two parameters of V welds, or a [Table]
// of measured orientations. A [Part] is made of zones with faces between them;
// [NewWeld] makes that of a V weld.
//
// # Homogeneous parts: every arrival
//
// A [Block] is one crystal behind any extruded entry surface. [Block.Rays] finds all
// stationary rays: each phase direction in the part has one ray through the
// point, and it comes from the element when Snell's law holds at the surface, the
// slownesses on both sides being equal along it. So folds of the wave surface,
// where several qSV rays arrive, need no special care. Times are exact to rounding.
//
// # Graded parts: the ray of least time
//
// [Part.Times] searches a lattice for the path of least time, by Dijkstra's
// method on edges to all nodes within five steps. Its error of up to a per cent does not
// matter, as it is only the start: the path is laid out anew as a polyline with
// a knot on every face that it crosses, and the knots are moved, across the path or
// along their faces, until the time is least (Fermat's principle), by Newton's
// method. Faces are sharp: no smoothing is involved. The number of segments is
// doubled until the times, extrapolated to infinitely many (Romberg), agree
// within a tolerance, 100 ps by default. A ray takes about 0.2 ms of one core.
//
// # Accuracy
//
// The tests hold the times against
//
//   - the closed form of a linear gradient: within 10 ps with the default tolerance
//     (they come within 0.01 ps), within the rounding with a small one;
//   - plane layers, package wedge for isotropic media, and the exact group
//     speeds in homogeneous weld metal treated as graded: to rounding;
//   - the ray equations in a weld, integrated by a method of their own: a bent ray, marched for its
//     time, ends within a nanometre of its point, and no point that a marched
//     qL or SH ray reaches is missed.
//
// [Ray].Error is the difference of the last two extrapolations. Wherever there is a
// closed form, it was above the true error but for rounding. What really limits the times of a weld is knowledge of
// its grains: a grain axis 5° off is up to 0.1 to 0.2 µs in 30 mm of weld metal.
//
// # What it does not do
//
//   - In a [Part], a point has one time, that of the ray of least time. If two rays'
//     times differ by less than about 1 % either may be returned.
//   - Head waves, and waves that creep along a surface or round an edge, are no
//     rays: points that only they reach have the time NaN. Points near the
//     surface beyond a weld are often such, as grains that lean to the cap bend
//     rays up and out of the part.
//   - In a graded part, qSV is incomplete. Its times are those of rays all of whose
//     waves lie on the convex hull of the slowness curve. A ray whose wave passes
//     through a dent of the curve on its way has none. In austenitic welds whose
//     grains turn by the Law that is nearly every ray: hardly any point in or
//     behind the weld gets a qSV time. qL and SH have convex curves and no
//     such gaps. For qSV in a homogeneous part, use a [Block].
//   - Rays do not skip off walls. Amplitudes are not computed.
//
// Measure the grains of the very procedure on a specimen, confirm an image of a
// weld on known reflectors before any decision hangs on it, and follow the codes
// and the qualified practice that apply.
//
// # Sources
//
// Slowness and group velocity: B. A. Auld, Acoustic Fields and Waves in Solids, vol. 1,
// 1973, chapter 7. The grain law: J. A. Ogilvy, Computerized ultrasonic ray tracing in
// austenitic steel, NDT International 18(2), 1985, from memory of that paper.
// Shortest paths and bending: T. J. Moser, Shortest path calculation of seismic rays,
// Geophysics 56(1), 1991, from memory.
package graded
