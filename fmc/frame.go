// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Frame is one capture of a scan, with its time and position. Package fmc/scan turns positions into
// places in the part.
type Frame struct {
	Index    int      // number of the frame in its scan, from 0; a gap is a frame that was lost
	Time     float64  // since the start of the scan in s, finite
	Position float64  // of the encoder along the scan in m, finite
	Across   float64  // of the encoder across the scan in m, finite: the line of a raster; else 0
	Count    int64    // of the encoder along the scan, as the instrument reads it; 0 if not recorded
	Capture  *Capture // never nil
}

// FrameSource returns the frames of a scan, one at each call. It may read an instrument, a file or
// a simulation.
//
// A FrameSource returns the next frame, and waits for it if necessary. After the last frame it
// returns io.EOF itself. An error that wraps io.EOF is a failure, e.g. of a lost connection. If ctx
// ends while the source waits, the source returns the error of ctx.
//
// The frame belongs to the source. The capture of the frame is valid until the next call, and may
// then be overwritten in place. No sample needs to be copied: a source can lend the memory that the
// hardware writes to. A caller that keeps a frame must copy it. All captures of a source have the
// same array, events, pairs and times, so that one plan serves all of them.
//
// Two goroutines must not call a source at once. Nobody may call it after an error.
type FrameSource func(ctx context.Context) (Frame, error)

// Frames yields the frames of source to its end. A frame is valid until the next step of the loop.
//
// An error other than io.EOF itself is yielded with a zero frame, and is the last. The error of ctx
// is yielded if ctx ends between two frames. A frame without a capture is an error, and so is a
// time or a position that is not finite. Samples are not checked; [Capture.CheckSamples] checks
// them.
func Frames(ctx context.Context, source FrameSource) iter.Seq2[Frame, error] {
	return func(yield func(Frame, error) bool) {
		for {
			frame, err := source.next(ctx)
			if err == io.EOF { // an error that wraps io.EOF is a scan that was cut short
				return
			}
			if err != nil {
				yield(Frame{}, err)
				return
			}
			if !yield(frame, nil) {
				return
			}
		}
	}
}

// next returns the next frame of the source if it is valid.
func (s FrameSource) next(ctx context.Context) (Frame, error) {
	if err := ctx.Err(); err != nil {
		return Frame{}, err
	}
	if s == nil {
		return Frame{}, errors.New("fmc: no source of frames, nil: want one")
	}
	frame, err := s(ctx)
	if err != nil {
		return Frame{}, err
	}
	switch {
	case frame.Capture == nil:
		return Frame{}, fmt.Errorf("fmc: frame %d without a capture", frame.Index)
	case !number.Finite(frame.Time):
		return Frame{}, fmt.Errorf("fmc: time %v s of frame %d: want a finite value", frame.Time,
			frame.Index)
	case !number.Finite(frame.Position):
		return Frame{}, fmt.Errorf("fmc: position %v m of frame %d: want a finite value",
			frame.Position, frame.Index)
	case !number.Finite(frame.Across):
		return Frame{}, fmt.Errorf("fmc: position across %v m of frame %d: want a finite value",
			frame.Across, frame.Index)
	}
	return frame, nil
}
