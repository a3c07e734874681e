// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package wedge computes the times that waves take from the elements of an array to the points of a
// part. The waves pass through a wedge or a liquid, or start in contact. They go directly or skip
// off the walls of the part, with or without conversion of the mode.
//
//	acrylic := material.Isotropic{Density: 1180, Longitudinal: 2730, Transverse: 1430}
//	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230}
//	setup, err := wedge.NewPlate(&acrylic, steel, 20e-3) // 20 mm thick, its surface at z = 0
//	path, err := setup.Path([]material.Mode{material.T, material.T}) // down and up again
//	ray := path.Solve(r3.Vec{X: -20e-3, Z: -15e-3}, r3.Vec{X: 30e-3, Z: 10e-3})
//	fmt.Println(ray.Status, ray.Time) // s
//	table, err := path.Times(ctx, elements, points, nil)
//
// # Geometry
//
// Lengths are in metres, times in seconds, angles in radians. The axis x runs along the entry
// surface, positive in the direction in which a wedge fires. The axis y runs along the weld, out of
// the section. The axis z points into the part. An element in a wedge or in water has a negative z
// if the entry surface is flat at z = 0.
//
// A [Surface] separates two media. Its near side faces the array, its far side is the deeper side.
// [Surface.Depth] is negative on the near side and positive on the far side. [NewPlane],
// [NewCylinder], [NewCone] and [NewSphere] make surfaces. [NewProfile], [NewSmoothProfile] and
// [NewHeightField] make surfaces through measured points. A user can implement further surfaces.
//
// # Paths and rays
//
// A [Path] is a sequence of straight legs, each with a speed. Between two legs is a crossing: a
// surface at which the ray refracts or reflects. A [Setup] makes the usual paths, for an array
// coupled to a plate or a pipe, and for views such as TT-T ([ParseView]). The letters are the modes
// of the legs in the part: L for a longitudinal wave, T for a transverse wave. TT-T goes down as T,
// skips once off the back wall as T, and returns directly as T. Paths of a Setup skip off the back
// wall and off the entry surface only. [NewPath] makes any other path, such as the echo of a
// corner.
//
// A [Ray] is the path of stationary time between two points. By Fermat's principle a small shift of
// its crossings does not change the time to first order. This is the same as Snell's law at every
// crossing,
//
//	sin θ₁ / c₁ = sin θ₂ / c₂,
//
// with the angles θ between the legs and the normal of the surface, and the speeds c of the legs.
// The law holds for refraction, and for reflection with or without a change of the mode. The search
// for a ray ends with a [Status]. A ray that does not exist has the time NaN.
//
// The Status of a ray that a [Setup] does not admit tells the reason:
//
//   - [WrongSide]: the ray comes to a surface from the wrong side;
//   - [Obstructed]: a leg leaves the part and comes back, as through the bore of a pipe, or passes
//     through one of [Setup.Voids];
//   - [OffSurface]: the ray meets a surface where it is missing, beyond one of [Setup.Sides] or in
//     one of [Setup.EntryGaps] and [Setup.BackGaps];
//   - [OffContact]: the ray enters the part beyond the contact length of the wedge.
//
// Where several paths are stationary, as under a concave or wavy surface, [Path.Solve] finds the
// ray to which the search leads from the straight line. [Path.Rays] finds all rays in a section, in
// order of time. For each ray it states the index and whether a caustic is near.
//
// # Tables
//
// [Path.Times] makes the table of times that imaging needs, elements × points, on all cores. Where
// several rays lead to a point of a section, it holds the first ray, for any order of the points. A
// [Choice] asks for the strongest ray, or for the ray nearest to another table. [Path.Branches]
// returns all rays with their phases ([Branches]), for images that sum them. Out of a section, a
// table holds one of several rays: the ray to which the search leads.
//
// [Path.Interpolate] makes the same table for a [Grid] from few rays, within a stated error, for
// geometry that changes while the user watches the image. A table remembers for which elements,
// points and path it was made ([MadeFor]), so package tfm rejects it for others. [NewTimes] makes a
// table from the times of another solver.
//
// # Along a ray
//
// [Path.Derivatives] returns the derivatives of the time of a ray with respect to its ends, the
// speeds and the surfaces. [Setup.Derivatives] returns the derivatives with respect to the height
// and the angle of the wedge, the speeds and the thickness of the part. [Amplitudes.Along] returns
// the amplitude of the wave in factors: directivity of the element, spreading with caustics, the
// coefficient of each boundary, losses.
//
// Package wedge/calibrate finds the position of an array over a flat face, such as the floor of a
// wedge, from the echoes of this face.
//
// # Limits
//
// Media are homogeneous and isotropic. Grain structures, as in austenitic welds, bend rays:
// package wedge/graded makes tables for them. Paths of a Setup are checked for obstacles. Paths of
// [NewPath] are not checked. Head waves and surface waves are not covered.
//
// The method is ray theory at high frequency; see e.g. L. W. Schmerr, Fundamentals of Ultrasonic
// Nondestructive Evaluation, 2nd ed. (2016), on Fermat's principle and ray paths (cited from
// memory). Package wedge/exact holds rays with known times. They test this package, and can test
// another solver.
//
// # For contributors
//
// Four solvers share the work. Each solver has its own file, with a comment on the method:
//
//   - solve.go: the general solver, Newton steps over all crossings, in space, for any surfaces;
//   - section.go: the same in a section of extruded surfaces; each ray starts from the ray to the
//     neighbouring point;
//   - layered.go and package layers: parallel planes, each ray by itself, several at a time;
//   - interpolate_cells.go: interpolated tables, bicubic between rays at the corners of cells.
//
// Every solver works for every [Surface] that it can take. Functions that know the surfaces of this
// package only save time: newSection, single (fan.go), convex, blocks and clearance (obstacle.go),
// newLayered. TestForeignSurfaces hides the types from them and compares the results.
//
// rays.go searches for all rays of a section, by shooting (shoot.go). Tables use a fan of rays from
// each element (fan.go): it shows whether several rays can lead to a point, and where they leave
// (first_ray.go). choice.go chooses among the rays.
//
// Obstacles are checked after a ray is found: walls in obstacle.go, outlines in void.go, gaps,
// sides and the contact length in gap.go. Path.addWall keeps only the surfaces through which a
// straight leg can pass.
//
// Least times are tested against brute force over 10,000 geometries in the section and 10,000 skew
// geometries; some of them run with the build tag long only.
package wedge
