// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package joint describes welded joints in the section across the weld.
//
//	edge := joint.Edge{Upper: joint.Bevel{Angle: 30 * math.Pi / 180}}
//	butt := joint.Butt{Thickness: 20e-3, Gap: 3e-3, RootFace: 2e-3, Left: edge, Right: edge}
//	weld, err := butt.Joint()
//	place := r2.Vec{X: -7e-3, Y: 9e-3}                 // x and depth z of an indication, m
//	zone := weld.Zone(place, 3e-3)                     // weld metal, heat-affected zone, ...
//	nearest := weld.Nearest(place)                     // fusion face, distance, inclination
//	face, ok := weld.Face("left bevel")
//	beam, err := weld.Plate.Square(face, 0.5, 1)       // strikes the face at a right angle
//	outlines, err := weld.Outlines(20e-6)              // polylines to draw over an image
//	setup, err := weld.Setup(weld.Plate, steel, 10e-6) // blocks rays in gaps
//
// # Joints
//
// [Butt] is a butt joint of two plates, [Tee] is a T joint, and [Lap] is a lap joint. The method
// Joint of each checks the sizes and returns the geometry, a [Joint].
//
//	             width of the cap
//	          |<------------------>|
//	        left      cap        right
//	         toe   __------__     toe
//	----------+--''          ''--+---------- entry surface, z = 0
//	 left      \     weld       /            |
//	 plate      \    metal     / <- fusion    | depth z
//	             \            /    face:      v
//	              \          /     right bevel
//	               |        | <- right root face (land)
//	---------------+--.__.--+--------------- back wall
//	               |<------>|
//	                root gap      x ->
//
// The two edges of a [Butt] decide which preparation it is:
//
//	square        root face as high as the plate, no bevel
//	single V      Upper.Angle on both edges
//	single U      Upper.Angle and Upper.Radius on both edges
//	single bevel  Upper.Angle on one edge
//	single J      Upper.Angle and Upper.Radius on one edge
//	double ...    a LowerGroove, and the same of Lower
//
// The terms come from ISO 2553, ISO 9692-1 and ISO 17659. The bevel angle belongs to one edge; it
// is half of the groove angle of a symmetrical V. The root face is the part of an edge that is not
// bevelled. Excess weld metal is the metal above the line between the toes. A root that is not
// welded is called incomplete root penetration in ISO 6520-1. A mismatch is called linear
// misalignment there. (The standards are named from memory. The package contains no numbers from
// these standards: the user gives all sizes.)
//
// # Geometry
//
// Lengths are in m, angles in radians. A point is a gonum r2.Vec. Its X is x along the entry
// surface, its Y is the depth z into the part. The origin lies on the entry surface, in the middle
// of the root gap, of the web or of the overlap. [Joint.Shifted] moves it. Left is towards -x.
//
// A joint consists of straight lines and arcs. Areas, distances and zones are computed from the
// arcs themselves and are exact to rounding. Only [Joint.Outlines] and [Joint.Setup] replace arcs
// by chords, within a tolerance.
//
// # Use with rays
//
// [Joint.Setup] returns a wedge.Setup of one plate of the joint. Three things then block rays: a
// root that is not welded, the gap of a lap joint, and the outside of the joint. Rays skip off the
// surfaces of a [Plate] only where the plate has a free surface. It has none under a cap or a root
// bead, nor where a web or another plate is welded on. Real rays skip off the bead there, or go on
// into the web. The package does not compute such rays.
//
// # Use with grains
//
// [Joint.Section] returns the joint as regions with boundaries: parent metal, weld metal and voids.
// Package wedge/graded computes rays through these regions. [Region.Growth] is a simple law of the
// growth of grains by heat flow, for any joint.
//
// # What it does not do
//
// The outlines are nominal. A real weld has the shape that the welder and the melt gave it. The
// accuracy of a distance from a nominal fusion face depends on how accurately the preparation, the
// position of the array and the wave speeds are known. Qualified personnel decide whether an
// indication is a lack of fusion, and whether it is acceptable, by the standard that applies.
//
// Caps and root beads do not reflect rays. The package models neither undercut nor the melting of
// the parent part beyond its prepared edge.
//
// # For contributors
//
// A butt joint is made of two edges, a tee and a lap joint of two corners each. Each of them fills
// a [Joint] with outlines, fusion faces and plates. Measurements and beams use only these. Each
// also fills the regions of the section; region_test.go compares them with the outlines.
package joint
