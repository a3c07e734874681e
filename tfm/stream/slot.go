// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stream

import (
	"context"
	"fmt"
	"time"

	"github.com/isochron-imaging/isochron/tfm"
)

// slot is the memory of a frame that is under way, and of its images.
type slot struct {
	frame   Frame
	images  []*tfm.Image
	err     error // a *FrameError, or nil
	dropped bool  // not imaged, because ctx ended before

	arrived time.Time
	imaging time.Duration
	done    chan struct{} // holds a token when the images are finished, or the frame is dropped
}

func newSlot(plans []*tfm.Plan) *slot {
	s := &slot{done: make(chan struct{}, 1)}
	for _, p := range plans {
		s.images = append(s.images, tfm.NewImage(p.Grid()))
	}
	return s
}

// reset prepares the slot for a new frame. The memory is kept.
func (s *slot) reset() {
	s.frame = Frame{Int16: s.frame.Int16[:0], Float32: s.frame.Float32[:0]}
	s.err, s.dropped, s.imaging = nil, false, 0
	select { // a loop that was left has not taken the token
	case <-s.done:
	default:
	}
}

// read reads a frame from source.
func (s *slot) read(ctx context.Context, source Source) error {
	s.reset()
	err := source(ctx, &s.frame)
	s.arrived = time.Now()
	return err
}

// image makes the images of all plans.
func (s *slot) image(ctx context.Context, scratches []*tfm.ViewsScratch) {
	begun := time.Now()
	f := &s.frame
	if (len(f.Int16) == 0) == (len(f.Float32) == 0) {
		s.fail(fmt.Errorf("%d int16 and %d float32 samples: want samples of one type", len(f.Int16), len(f.Float32)))
		return
	}
	images := len(s.images) / len(scratches) // of a pass: all or one
	for i, scratch := range scratches {
		var err error
		dst := s.images[i*images : (i+1)*images]
		if len(f.Int16) > 0 {
			err = scratch.ReconstructInt16(ctx, dst, f.Int16)
		} else {
			err = scratch.Reconstruct(ctx, dst, f.Float32)
		}
		if err != nil {
			s.fail(err)
			return
		}
	}
	s.imaging = time.Since(begun)
}

func (s *slot) fail(err error) { s.err = &FrameError{Index: s.frame.Index, Err: err} }

// result returns the images for the loop, and notes the latency.
func (s *slot) result(l *latencies) (Result, error) {
	r := Result{Index: s.frame.Index, Time: s.frame.Time, Position: s.frame.Position, Across: s.frame.Across}
	r.Imaging, r.Latency = s.imaging, time.Since(s.arrived)
	if s.err != nil {
		return r, s.err
	}
	r.Images = s.images
	l.add(r.Latency)
	return r, nil
}
