// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package joint describes welded joints as geometry in the section across the weld:
// to draw them over an image, to say where an indication lies in one, to choose
// the beam that strikes a fusion face squarely, and to keep rays out of gaps.
//
// # Preparations
//
// A [Preparation] holds the sizes by which the trade describes one. Square, V, U, J
// and bevel preparations, single and double, share the fields of [Butt], those of plates
// of different thickness ([Taper]) among them; a [Tee] is a T joint with fillet or butt
// welds; a [Lap] is two overlapping plates with fillet welds.
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
// The words are those of ISO 2553, ISO 9692-1 and ISO 17659: the bevel angle is
// that of one edge, half the groove angle of a symmetrical V; the root face is the
// part of an edge that is not bevelled; excess weld metal is what stands out over
// the toes. What is not welded is incomplete root penetration in ISO 6520-1, and a
// mismatch is a linear misalignment. (The standards are named from memory; no
// figure of theirs is built in, and sizes are the user's to give.)
//
// # Geometry
//
// Lengths are in m, angles in radians. Points are gonum r2.Vec whose X is x along
// the entry surface and whose Y is the depth z into the part, as in package wedge.
// The origin is on the entry surface in the middle of the root gap, over the middle
// of the web or of the overlap; [Joint.Shifted] moves it. Left is towards -x.
//
// A [Joint] consists of outlines of straight lines and arcs. Areas, distances and
// zones are those of the arcs themselves, right to rounding; only
// [Outline.Polyline] and [Joint.Outlines] replace arcs by chords, within a tolerance.
//
// # Use with rays
//
// [Joint.Setup] gives a wedge.Setup of one of the joint's plates. What is not welded of a
// root or of a tee, the gap of a lap joint, and the outside where the joint is no plate of
// one thickness then block rays that would pass through them. Rays skip off a [Plate]'s
// surfaces only where these are: not under a cap or a root bead, nor where a web or another
// plate is welded on. The same rays would skip off the bead's own surface, or go on into the
// web, in directions that are not looked for.
//
// # What it does not do
//
// The outlines are nominal: a weld has the shape that the welder and the melt gave it,
// and a distance from a nominal fusion face is no better than the preparation, the
// position of the array and the speeds are known. Whether an indication is a
// lack of fusion, and whether it is acceptable, is for qualified personnel to say
// by the standard that applies.
//
// Caps and root beads do not reflect rays. Undercut, and the melting of the parent part
// beyond its prepared edge, are not modelled.
package joint
