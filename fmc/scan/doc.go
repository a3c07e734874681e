// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package scan tells where the frames of a scan lie in the part, and which places have no frame.
//
//	weld := scan.Line{X: -20e-3}                                 // 20 mm beside the weld, along y
//	grid := scan.Grid{Along: scan.Axis{Step: 1e-3, Steps: 501}}  // 0 to 500 mm in steps of 1 mm
//	assigned, err := scan.Assign(frames, grid, nil)              // frames of the scan, in any order
//	for _, gap := range assigned.Gaps {                          // steps without a frame
//		log.Print(gap)
//	}
//	frame, ok := assigned.Frame(0, 250)                          // the frame of step 250
//	pose, err := weld.Pose(frames[frame].Position, 0)
//	point, err := pose.Part(x, z)                                // a point of its image in the part
//	place, err := weld.Locate(point, 0)                          // and back
//
// # Coordinates
//
// A frame of [fmc] has its own axes: x along the entry surface, positive in the direction in which
// the array fires, y out of the imaging plane, z into the part. The part has axes of the same kind.
// A [Path] tells where a frame lies in the part, from two positions:
//
//	s  the position along the path, [fmc.Frame].Position, of the scan encoder
//	u  the position across the path, [fmc.Frame].Across, of the index encoder of a raster; else 0
//
// The result is a [Pose]: the origin of the frame and its three axes. With the origin O and the unit
// vectors X and Z of the frame's axes, all in coordinates of the part, the point (x, 0, z) of the
// frame lies at
//
//	q = O + x·X + z·Z.
//
// For a [Line] on a flat surface with the heading h and the skew ψ,
//
//	O = (x₀ + u·cos h − s·sin h, y₀ + u·sin h + s·cos h, 0)
//	X = (cos ψ, sin ψ, 0)    Y = (−sin ψ, cos ψ, 0)    Z = (0, 0, 1).
//
// So a line without heading and skew runs along y, and the y of the part is y₀ + s. A weld that is
// scanned from both sides has two lines; the skew of one of them is π.
//
// # Pipes
//
// The axis of a [Pipe] is parallel to x. With the radius R of the surface that the array moves on,
// the arc c on this surface has the angle φ = c/R, and a frame at the axial position x₀ on the
// outside has
//
//	O = (x₀, R·sin φ, R·(1 − cos φ))    Z = (0, −sin φ, cos φ)
//
// before its skew about Z. At arc 0 these are the axes of the part, as on a plate: near arc 0 the
// weld of a pipe lies as the weld of a plate. [Round] is the path along a girth weld, [Lengthwise]
// the path along the pipe. A raster round or along a pipe uses the position across.
//
// An encoder on the surface measures the arc on the surface. At the depth d in the wall, an arc from
// the outside is shorter by the factor (R − d)/R, and an arc from the bore is longer by (R + d)/R.
// [Pipe.Length] converts. It also measures over the seam, where the position returns to 0 after a
// turn of 2πR. On an axis from [Pipe.Axis], frames after a whole turn belong to the first steps
// again.
//
// # Encoders
//
// An [Encoder] converts counts into positions. With backlash, the position after a reversal depends
// on the direction of motion: [Encoder.Positions] needs all counts in their order. Package fmc/npy
// stores counts and both positions of each frame.
//
// # Gaps and repeats
//
// A [Grid] says where a scan wants frames: one [Axis], or a raster of lines. [Assign] assigns frames
// to the places. Frames may come in any order: forward, backward, back and forth. A place without a
// frame stays empty and is listed as a gap; nothing is interpolated. A place with several frames is
// listed as repeated, and the rule [Keep] says which frames count. Frames beyond the tolerance are
// listed as stray.
//
// # Several scans of one part
//
// A [Piece] is a path with its grid. All pieces lie in the coordinates of the part. [Through] finds
// the frames of all pieces whose imaging planes hold a point.
//
// # What it does not show
//
// The paths are nominal. An array that drifts away from the weld, a scanner that slips, and a pipe
// that is not round move the frames, and no position tells it. A position of an encoder is not the
// position of the beam. Check the start, the end and a reference mark of each scan by measurement.
// Positions of flaws in the part are no better than this.
package scan
