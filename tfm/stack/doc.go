// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package stack images a scan frame by frame into a stack of images on the disk. It shows the stack
// from above, from the side and from the end:
//
//	file, err := npy.OpenScan("scan7.json", nil)
//	source := stream.CaptureSource(direct, file.Next) // or an own source of frames
//	layout := &stack.Layout{Frames: 500, Pitch: 1e-3, Values: stack.Int16, Views: []stack.View{
//		{Name: "T-T", Reference: 4.1e4}, {Name: "TT-T", Reference: 2.6e4}}} // echoes of a hole
//	report, err := stack.Image(ctx, "weld7.json", []*tfm.Plan{direct, skip}, layout, source, nil)
//	s, err := stack.Open("weld7.json")
//	p, err := stack.Project(ctx, []stack.Source{{Stack: s}}, nil)
//	level, cell := p.Plan.Peak()                    // the strongest cell from above, in dB
//	place := p.Plan.Places[cell]                    // where its level comes from
//	section, err := s.Envelope(nil, int(place.Frame), int(place.View))
//	m, err := picture.LevelMap(&p.Plan, -30)        // and m.WritePNG(file)
//
// A scan moves an array along a part. Each frame of the scan is one capture, with the position of
// the encoder. A stack holds one image of each frame in each view.
//
// Before: package fmc/scan checks positions, gaps and coupling. The check reads the frames once,
// and Image reads them again: open the file again, or make a new source. After: package
// sizing/volume finds the indications of a stack, with their lengths. The program examples/scan
// shows all but the check.
//
// # Frames and positions
//
// Images are stored by the index of the frame, as the scan was recorded. Positions are kept beside
// the images: in any order, with gaps and repeats. What is known of a frame is its [FrameState]. A
// frame that was lost is [Missing]. A frame with a fault in its samples is [Refused], with a
// reason. A frame that is still to come is [NotImaged]. None of them has values: each value is NaN,
// or the code of no value. They are never zero, because a zero says that nothing lies there.
//
// # On the disk
//
// A stack is a .json file with three parts: what the stack holds, what it was made from, and a
// line for each frame. Beside it lie NAME.npy with the values, in the order frame, view, row
// (depth), column (x), and NAME-states.npy with the states of the pixels. Both are NumPy arrays,
// little endian. FORMAT.md describes them, with a program that reads them. [Float32] holds
// amplitudes, and [Int16] levels in hundredths of a decibel relative to the reference of the view.
//
// The memory does not grow with the frames, apart from tables of about 130 bytes a frame.
// [Options].Memory limits the memory of imaging. Reading maps the files into memory where the
// system can.
//
// # Ends and new beginnings
//
// While a stack is made, NAME.journal lists the frames that are done, with checksums of their
// bytes. A run that is killed at any moment is repeated with the same call. Frames that are done
// are kept, and the files get the bytes that an uninterrupted run gives. A frame whose bytes do not
// have their checksum, as after a loss of power, is imaged again.
//
// A stack goes on only with what it was begun with. [Layout].Origin holds a fingerprint of the
// plans ([tfm.Plan.Fingerprint]): set-up, grid, filter and all other options, and the kernel of
// the processor. Each frame that comes again must have the position, time and samples that the
// stack knows.
//
// # Several machines
//
// The frames of a scan do not depend on each other. So any range of them can be imaged on any
// machine, as a part with [Options].From and To, and [Merge] joins parts in any order. The result
// has the bytes of one run. Images of different kernels differ by rounding, so parts of different
// kernels are refused. With GODEBUG=cpu.avx512f=off in the environment, a machine with AVX-512 uses
// the kernel of a machine with AVX2. BENCHMARKS.md of package tfm says how many frames an hour one
// machine images, and BATCH.md in this folder shares a scan between machines by a queue of jobs.
//
// # Projections
//
// [Project] looks through the stack along its three axes at once. The plan view shows the highest
// level over the depth, the side view over x, and the end view over the positions. Each cell says
// where its level comes from ([Place]): stack, view, frame and pixel. Limits of x, position and
// depth choose a zone.
//
// Levels of several views are compared relative to the reference of each view. One number for a
// view ignores that its sensitivity changes over the image: [Source].References takes maps, as
// [tfm.Fuse] does.
//
// Several stacks, such as the two sides of a weld, are joined by the pose of each frame in the
// part ([Source].Pose). [Along] makes poses from a path of package fmc/scan.
//
// Cells without a level are NaN. [Map].Missing marks the columns that no frame shows: nobody
// looked there.
//
// [Slice] cuts stacks at a plane in any direction, by linear interpolation of amplitudes between
// pixels and between frames.
//
// # Cautions
//
// A projection is an overview. It hides weaker echoes behind a stronger echo. The echoes of walls,
// roots and caps hide all weaker echoes in their cells: choose a zone that leaves them out. A
// length that is read along the scan is widened by the beam. Sizes are measured in the images
// (package sizing), and only trained personnel should interpret them, by a procedure that suits the
// part.
//
// # For contributors
//
// layout.go and frame.go say what a stack holds, codec.go turns images into bytes, table.go and
// array.go are the files. writer.go holds the promise of resuming. It writes the bytes of a frame
// before the line of the frame in the journal. The line has the checksum of the bytes, so no order
// of writes on the disk is assumed. The function finish writes the .json file after everything
// else. project.go holds the highest levels of a frame, and of all frames of one pose, by pixel. So
// the inner loop does not look for cells. Its ties are decided by the order of places, so any order
// of frames gives the same result.
package stack
