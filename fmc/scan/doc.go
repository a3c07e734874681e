// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package scan tells where the frames of a scan lie in the part, and checks the scan itself.
//
//	grid := scan.Grid{Along: scan.Axis{Step: 1e-3, Steps: 501}} // 0 to 500 mm in steps of 1 mm
//	wall := scan.Gate{Name: "back wall", Gate: health.Gate{From: 9e-6, To: 11e-6}}
//	report, err := scan.Check(ctx, file.Next, &scan.Options{Grid: grid, Gates: []scan.Gate{wall}})
//	// file is used up: open it again for the images (package tfm/stack)
//	for _, finding := range report.Findings {
//		fmt.Println(finding) // missing steps: 12 to 14 mm: 3, limit 0
//	}
//
//	weld := scan.Line{X: -20e-3}                  // along y, 20 mm beside the weld
//	frames := file.Frames()                       // positions, in any order
//	assigned, err := scan.Assign(frames, grid, nil)
//	i, ok := assigned.Frame(0, 250)               // frame of step 250
//	pose, err := weld.Pose(frames[i].Position, 0)
//	point, err := pose.Part(x, z)                 // a point of its image in the part
//	place, err := weld.Locate(point, 0)           // and back
//
// # Coordinates
//
// A frame of [fmc] has axes of its own. The axis x runs along the entry surface, positive in the
// direction in which the array fires. The axis y points out of the imaging plane, and z into the
// part. The part has axes of the same kind. A [Path] tells where a frame lies in the part, from two
// positions:
//
//	s  the position along the path, [fmc.Frame].Position, of the scan encoder
//	u  the position across the path, [fmc.Frame].Across, of the index encoder of a raster; else 0
//
// The result is a [Pose]: the origin of the frame and its three axes. Let O be the origin, and X
// and Z the unit vectors of the frame's axes, all in coordinates of the part. The point (x, 0, z)
// of the frame lies at
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
// The axis of a [Pipe] is parallel to x. The array moves on a surface of the radius R. The arc c on
// this surface has the angle φ = c/R. A frame at the axial position x₀ on the outside has
//
//	O = (x₀, R·sin φ, R·(1 − cos φ))    Z = (0, −sin φ, cos φ)
//
// before its skew about Z. At arc 0 these are the axes of the part, as on a plate: near arc 0 the
// weld of a pipe lies as the weld of a plate. [Round] is the path along a girth weld, [Lengthwise]
// the path along the pipe. A raster round or along a pipe uses the position across.
//
// An encoder on the surface measures the arc on the surface. At the depth d in the wall, an arc
// from the outside is shorter by the factor (R − d)/R, and an arc from the bore is longer by (R +
// d)/R. [Pipe.Length] converts. It also measures over the seam, where the position returns to 0
// after a turn of 2πR. On an axis from [Pipe.Axis], frames after a whole turn belong to the first
// steps again.
//
// # Encoders
//
// An [Encoder] converts counts into positions. With backlash, the position after a reversal depends
// on the direction of motion: [Encoder.Positions] needs all counts in their order. Package fmc/npy
// stores counts and both positions of each frame.
//
// # Gaps and repeats
//
// A [Grid] says where a scan wants frames: one [Axis], or a raster of lines. [Assign] assigns
// frames to the places. Frames may come in any order: forward, backward, back and forth. A place
// without a frame stays empty and is listed as a gap; nothing is interpolated. A place with several
// frames is listed as repeated, and the rule [Keep] says which frames count. Frames beyond the
// tolerance are listed as stray.
//
// # Several scans of one part
//
// A [Piece] is a path with its grid. All pieces lie in the coordinates of the part. [Through] finds
// the frames of all pieces whose imaging planes hold a point.
//
// # The check of a scan
//
// [Check] reads all frames of a source once. It keeps the positions and a few numbers of each
// frame, and no samples: about 150 bytes a frame. A [Checker] does the same while frames come. Each
// value beyond its limit makes a [Finding], with its frames and positions. [Limits] holds the
// limits with their defaults; the report holds the limits that were used.
//
//	finding        means                                         may also give
//	empty scan     no frame was taken                            missing steps
//	wrong shape    array, pairs or times unlike the first frame  -
//	not finite     samples that are NaN or Inf                   -
//	stuck          samples bit for bit as in an earlier frame    -
//	disorder       index not above the index before              lost frames
//	clock          time before the time of the frame before      -
//	lost frames    gap of the indices                            missing steps
//	missing steps  steps of the grid without a frame             -
//	repeated       several frames at a step                      -
//	stray          frame off its step or beyond the ends         missing steps
//	encoder jump   distance of two frames above 5 steps          missing steps, repeated, stray
//	reversal       motion back by more than half a step          repeated
//	too sparse     distance of two frames above 1.5 steps        missing steps
//	too fast       speed above the limit of the procedure        -
//	coupling loss  level of a gate 6 dB below the reference      -
//	gain drift     level of a gate changes by more than 2 dB     -
//	saturated      clipped samples                               -
//
// Two records of an instrument are never equal, because of noise. Equal samples are therefore the
// sign of an array, a recorder or a file that is stuck. Frames of a simulation without noise along
// a uniform part are equal too.
//
// The level of a frame in a gate is 20·log10(a/a₀) in dB. Here a is the root mean square of the
// samples in the gate about their mean. The reference a₀ is by default the median of all frames.
// Choose a gate whose echo passes the coupling of each element and is the same along the scan. Such
// echoes are the wedge floor, the back wall, and the noise of the grains. A flaw that shadows the
// back wall, a change of the thickness and a weld cap give losses without any fault of coupling.
//
// Drift is the largest less the smallest median of the level over an eighth of the frames, without
// the frames that have a loss. It is a finding if it exceeds its limit by 4 standard errors of such
// a median. A slow change of coupling, temperature or thickness reads as a drift of the gain.
//
// On a closed axis, positions count modulo a turn: the return to 0 at the seam is no jump. In a
// raster, motion is judged within each line, so that lines back and forth are no reversals.
//
// # What the trials showed
//
// Scans of 120 frames had up to two planted faults. The position noise was 0.05 steps, and the
// level scattered by 0.7 dB (one standard deviation each). The echo was 30 dB above the noise. The
// smallest planted faults were
//
//	coupling loss   9 dB in 1 frame         stuck          1 frame
//	lost frames     1                       not finite     1 sample
//	encoder glitch  7 steps in 1 frame      wrong shape    1 frame
//	reversal        2 steps                 saturated      1 trace, 12 dB above full scale
//	too sparse      2 steps                 clock          0.05 s back
//	gain drift      4 dB over the scan      disorder       1 index back
//
// The limits were chosen on other seeds. In 3,000 scans, all 2,998 faults were found, and nothing
// was invented. 991 of the scans had no fault.
//
// # What it does not show
//
// A check without findings does not say that the scan covers the part, nor that a flaw would show.
// It does not know whether the plan itself is right. An encoder that slips evenly passes every
// check, and so does a wrong number of counts per metre. So compare the ends of the scan with a
// rule.
//
// The paths are nominal. An array that drifts away from the weld, a scanner that slips, and a pipe
// that is not round move the frames, and no position tells it. A position of an encoder is not the
// position of the beam. Check the start, the end and a reference mark of each scan by measurement.
// Positions of flaws in the part are no better than this. Qualified personnel decide by the
// procedure in force whether a scan is valid or has to be repeated.
//
// # For contributors
//
// check.go measures frames, judge.go and motion.go make findings from these measurements, and
// report.go holds the results. A new kind of finding needs its place in units, a row in TestCheck,
// and a planted fault in the trials.
package scan
