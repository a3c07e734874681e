// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package stream images frames while they come from an instrument or a file, in several views:
//
//	direct, err := tfm.PlanView(ctx, capture, setup, "T-T", grid, nil)
//	skip, err := tfm.PlanView(ctx, capture, setup, "TT-T", grid, nil)
//	s, err := stream.New([]*tfm.Plan{direct, skip}, nil)
//	for r, err := range s.Images(ctx, source) { // source fills one frame at each call
//		if err != nil { /* one bad frame, or the end: see FrameError */ }
//		show(r.Index, r.Images[0], r.Images[1], r.Latency)
//	}
//	fmt.Println(s.Latency().Median)
//
// A scan in a file is a source as well: s.Captures(ctx, scan.Next), with a scan of package fmc/npy.
//
// # Order, memory and back-pressure
//
// Images come in the order of the frames. At most F + Q + 1 frames are held at a time: F are imaged
// ([Options.Frames]), Q wait ([Options.Queue]), and the loop works on one. Finished images that
// wait for an earlier frame or for the loop count too. While all of these places are taken, the
// source is not called. So a slow loop slows the source down, and no frame is lost in the stream. A
// source that cannot wait, such as an instrument with a small buffer, must drop frames itself. The
// gap in the indices then shows what was lost.
//
// The memory of a place is used again for later frames. After the first frames nothing is
// allocated. The images of a step of the loop are valid until the next step.
//
// # Latency
//
// The latency of a frame runs from the return of the source to the step of the loop that receives
// the images. It has three parts: the frame waits in the queue, the frame is imaged, and the images
// wait for earlier frames and for the loop. If the source is faster than imaging and loop together,
// all places are full. The latency is then about F + Q + 1 times the time between two steps. If the
// source is slower, the latency is the time of imaging alone. [Stream.Latency] sums up: median and
// worst.
//
// # Errors and ends
//
// A frame that cannot be imaged is reported in its place with a [*FrameError]. The stream goes on,
// because one sample with a fault does not make the rest of a scan worthless. A loop that should
// end at such a frame breaks. After every other error the loop ends.
//
// When ctx ends, frames that were begun are finished and delivered, without a gap. This takes at
// most the time of one frame on its cores. When the loop is left by break, return or panic, images
// under way are abandoned at once. In both cases all goroutines end before the loop does. A source
// that ignores its ctx delays this end.
//
// Images have the same bits for any number of frames at a time and any number of cores. They are
// the images of [tfm.Views] if the plans have the same grid and options, and otherwise the images
// of each plan.
//
// # For contributors
//
// run.go has the goroutines: one reads, and each of F images frames. Both hand over slots, which
// hold a frame and its images. Frames must be begun in order (take), because otherwise the frames
// that are delivered after ctx has ended could have a gap. The tests run on the clock of
// testing/synctest, which also finds goroutines that do not end. TestCancel ends ctx at every
// moment of a loop. BENCHMARKS.md, in the folder of this package, says why small frames are imaged
// beside each other and large frames one after the other.
package stream
