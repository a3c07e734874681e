// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package graded computes times of flight through anisotropic and graded media:
// forged or rolled anisotropic parts, austenitic welds whose grains turn from
// place to place, parts with a gradient of temperature. Its tables are
// [wedge.Times], so that an image is made from them as from any others.
//
// # When
//
// In a medium that is anisotropic, energy travels at the group speed of its direction, and the wave
// fronts are not across the rays; where the medium changes with place, rays bend. A weld of
// austenitic steel does both: its columnar grains make the speed of longitudinal waves differ by 12
// % with direction (X6CrNi18-11), and a focus that takes it for isotropic misses by a millimetre
// and more (see the example). Where the medium is isotropic and uniform, package wedge is a
// thousand times quicker.
//
// # Two dimensions
//
// Everything happens in one section x–z of constant y, x along the entry surface and z into the
// part, in metres and seconds; angles are in radians from +x towards +z. The section is a plane of
// symmetry of all media, as for columnar grains, the same all round their axis, whose axis lies in
// the section. Welds whose grains lean along the weld need three dimensions; they are not covered.
// A [Polarisation] is named by its polarisation: [QuasiLongitudinal], [QuasiShearVertical] in the
// section, [ShearHorizontal] across it. All cross a coupling as longitudinal waves.
//
// # Media
//
// A [Medium] gives two things, by place and direction and with their derivatives: the time of
// energy over a short step, and the phase speed of a wave by its normal. There are [NewIsotropic],
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
// # Graded parts: qL and ShearHorizontal by bending
//
// [Part.Times] searches a lattice for the path of least time, by Dijkstra's
// method on edges to all nodes within five steps. Its error of up to a per cent does not
// matter, as it is only the start, and decides on which side a ray passes slow metal: the path is
// laid out anew as a polyline with
// a knot on every face that it crosses, and the knots are moved, across the path or
// along their faces, until the time is least (Fermat's principle), by Newton's
// method. Faces are sharp: no smoothing is involved. The number of segments is
// doubled until the times, extrapolated to infinitely many (Romberg), agree
// within a tolerance, 100 ps by default. A ray takes about 0.2 ms of one core.
//
// # Graded parts: qSV by shooting
//
// The qSV curve of weld metal is dented: a direction of energy may belong to several waves, rays
// cross, and the time is no minimum. Bending does not find such rays. A wave with
// a given normal, however, goes on in one way only. So qSV rays are shot, by Hamilton's equations
//
//	dx/dt = ∂H/∂p,  dp/dt = −∂H/∂x,  H(x, p) = v(x, p/|p|)·|p|
//
// where p is the slowness and v the phase speed, integrated by the method of Dormand and Prince
// with steps that follow the error. At a face the slowness along it stays; a dented curve on the
// far side may carry the wave on as two or more, and each is followed. Between neighbouring rays of
// a fan from the element others are shot until neighbours are side by side all along, down to 1e-13
// rad where a kind of ray begins. Cells between neighbours and time steps then tell between which
// rays a point lies, and the secant method finds its ray there, all of them if the cells overlap.
// [Part.Rays] returns them; Options.Arrival chooses one for a table, of qL and ShearHorizontal too.
// One fan serves all points of a table: it takes about 0.1 s, then a point 0.2 to 0.5 ms of one
// core.
//
// In an austenitic V weld of 30 mm in the tests, 92 % of the points in and beside the weld get a
// qSV time from an element on a wedge, 89 % from one in contact. The others lie under the cap:
// grains that lean to it bend the rays away. They are in a true shadow, to which no ray of a finer
// fan leads either.
//
// # Accuracy
//
// The tests hold the times against
//
//   - the closed form of a linear gradient: within 10 ps with the default tolerance
//     (they come within 0.01 ps), within the rounding with a small one;
//   - plane layers, package wedge for isotropic media, and the exact group
//     speeds in homogeneous weld metal treated as graded: to rounding, by shooting
//     for all arrivals;
//   - the ray equations in a weld, integrated by a method of their own: a bent ray, marched for its
//     time, ends within a nanometre of its point, one that was shot within 15 nm, and no point that a marched
//     qL or ShearHorizontal ray reaches is missed;
//   - each other: where bending finds a qL or ShearHorizontal ray, shooting finds the same, and no
//     others, but for points on the very edge of a shadow;
//   - the way back: each shot ray has one, with the same time to 2 ps.
//
// [Ray].Error is the difference of the last two extrapolations, or of two integrations with
// different steps. Wherever there is a closed form, it was above the true error but for rounding.
// What really limits the times of a weld is knowledge of its grains: a grain axis 5° off is up to
// 0.1 to 0.2 µs in 30 mm of weld metal.
//
// # What it does not do
//
//   - By bending, a point has one time, that of the ray of least time. If two rays'
//     times differ by less than about 1 % either may be returned.
//   - By shooting, two rays that are about to merge at a caustic may be missed: about
//     one ray in a thousand, of a pair that arrives within 0.1 ns or so. A kind of ray that
//     only exists between neighbours of the first 360 directions of a fan can escape it.
//   - The first qSV ray may carry little energy, as one that has grazed a fusion face, or one
//     of a fold. Amplitudes are not computed.
//   - Head waves, and waves that creep along a surface or round an edge, are no
//     rays: points that only they reach have the time NaN. Points near the
//     surface beyond a weld are often such, as grains that lean to the cap bend
//     rays up and out of the part.
//   - Rays do not skip off walls, nor off faces.
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
// Geophysics 56(1), 1991, from memory. Hamilton's equations of rays and fans of them:
// V. Červený, Seismic Ray Theory, 2001, chapters 3 and 4, from memory. Steps: J. R. Dormand and
// P. J. Prince, A family of embedded Runge-Kutta formulae, Journal of Computational and Applied
// Mathematics 6(1), 1980, from memory.
package graded
