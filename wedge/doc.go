// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package wedge computes the time that a wave takes from an array element,
// through a wedge or a liquid, into a part and to a point of it: directly, or by
// skips off the part's walls, converted from one mode to another on the way or
// not.
//
// # Geometry
//
// All lengths are in metres, times in seconds, angles in radians. The axis x
// runs along the entry surface, positive the way a wedge fires; y along the weld,
// out of the imaging plane; z into the part. An element in a wedge or in water
// has a negative z over a flat entry surface at z = 0.
//
// A [Surface] parts two media. Its near side faces the array, its far side is
// the deeper one: [Surface.Depth] is negative on the near and positive on the far
// side. [NewPlane], [NewCylinder], [NewCone] and [NewSphere] make surfaces. [NewProfile]
// and [NewHeightField] make surfaces through measured points. Other surfaces can be added
// by implementing the interface.
//
// # Paths and rays
//
// A [Path] is a sequence of straight legs, each with a speed, and of crossings
// between them, each on a surface at which the ray refracts or reflects. A
// [Setup] names the usual ones: an array coupled to a plate or a pipe, and views
// such as TT-T ([ParseView]): down as a transverse wave (T), once off the back wall
// as T, and back directly as T. The letter L is a longitudinal wave. Both halves of a
// view are read in order of travel.
//
// A [Ray] is the path between two given points whose time is stationary: by
// Fermat's principle no small shift of its crossings changes the time to first
// order, and that is the same as Snell's law at every crossing,
//
//	sin θ₁ / c₁ = sin θ₂ / c₂,
//
// for refraction, and for reflection with or without a change of mode. All
// crossings are solved for at once, by Newton's method on the gradient of the
// time, each step shortened until the gradient shrinks. The search ends with a
// named [Status]; a ray that does not exist has the time NaN.
//
// [Path.Times] makes the table of times that imaging needs, elements × points,
// on all cores, each ray starting from its neighbour's; through planes parallel to each
// other, each by itself and several at a time. [Path.Interpolate] makes
// the same table of a regular array of points from few rays, within a stated
// error, for geometry that changes while one looks.
//
// A table remembers which elements, points and path it was made for ([MadeFor]), so that
// package tfm refuses it for any others. [NewTimes] makes one from the times of another
// solver.
//
// Where several paths are stationary, as under a concave surface or a wavy one,
// [Path.Solve] and [Path.Times] find the one reached from the straight line or
// from a neighbour's ray. [Path.Rays] finds them all, in order of time, and
// tells minima from maxima and where a caustic is.
//
// A ray that a [Setup] does not admit has a [Status] that says why: it comes to a
// surface from the wrong side, a leg would leave the part on its way and come
// back, as through the bore of a pipe, it would pass through one of the voids that
// the part is given as outlines ([Setup.Voids]), it meets a surface where there is none,
// as beyond the end of a plate ([Setup.Sides]) or under the root bead of a weld
// ([Setup.BackGaps]), or it enters beyond the contact length of the wedge.
//
// Views skip off the back wall and the entry surface. A path off another wall, such as
// the echo of a corner, is one of [NewPath].
//
// # Along a ray
//
// [Path.Derivatives] says how the time of a ray changes with its ends, the
// speeds and the surfaces, [Setup.Derivatives] with the wedge's angle and height
// and the part's thickness; both are in closed form. [Amplitudes.Along] gives the amplitude and phase of the wave: directivity of the
// element, spreading, what each boundary reflects or lets through, losses, each
// to be read by itself.
//
// Package wedge/calibrate finds where an array stands over a flat face, such as the floor of a
// wedge, from the echoes of that face.
//
// # What it does not do
//
// Media are homogeneous and isotropic: grain structures, as of austenitic welds,
// bend rays in ways that these tables do not hold; package graded makes tables of them. Paths of [NewPath] are not
// checked for obstacles, only those of a Setup. Head waves and surface waves are
// not rays of this kind.
//
// The method is that of ray theory at high frequency; see e.g. L. W. Schmerr,
// Fundamentals of Ultrasonic Nondestructive Evaluation, 2nd ed. (2016), on Fermat's
// principle and ray paths (cited from memory). The package wedge/exact holds rays
// with known times, which this one is tested against and another solver can be.
package wedge
