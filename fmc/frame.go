// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
)

// Frame is one capture of a scan, and where and when it was taken.
type Frame struct {
	Index    int      // number of the frame in its scan, from 0; a gap is a frame that was lost
	Time     float64  // since the start of the scan in s, finite
	Position float64  // of the encoder along the scan in m, finite
	Capture  *Capture // never nil
}

// FrameSource delivers the frames of a scan one by one: an instrument, a file, a
// simulation.
type FrameSource interface {
	// Next returns the next frame, waiting for it if need be, or after the last one
	// io.EOF itself: an error that wraps it, as of a connection that was lost, is a
	// failure. When ctx ends while it waits, it returns the error of ctx.
	//
	// The frame belongs to the source. Its capture is valid until the next call and
	// may then be overwritten in place, so that no sample need be copied: a source
	// can lend the very memory that the hardware writes to. Who wants to keep a
	// frame copies it. All captures of a source have the same array, events, pairs
	// and times, so that one plan serves them all.
	//
	// Next must not be called by two goroutines at once, nor again after an error.
	Next(ctx context.Context) (Frame, error)
}

// FrameFunc is a [FrameSource] made of a function.
type FrameFunc func(ctx context.Context) (Frame, error)

// Next calls f.
func (f FrameFunc) Next(ctx context.Context) (Frame, error) { return f(ctx) }

// Frames yields the frames of source to its end. A frame that it yields is valid
// until the next step of the loop. An error other than io.EOF itself is yielded
// with a zero frame, and is the last; so is the error of ctx when it ends between
// two frames, and that of a frame without a capture or with a time or position that
// is not finite. Samples are not checked: [Capture.CheckSamples] does that.
func Frames(ctx context.Context, source FrameSource) iter.Seq2[Frame, error] {
	return func(yield func(Frame, error) bool) {
		for {
			frame, err := next(ctx, source)
			if err == io.EOF { // an error that wraps it is a scan cut short
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

// next returns the next frame of source if it is sound.
func next(ctx context.Context, source FrameSource) (Frame, error) {
	if err := ctx.Err(); err != nil {
		return Frame{}, err
	}
	if source == nil {
		return Frame{}, errors.New("fmc: no source of frames, nil: want one")
	}
	frame, err := source.Next(ctx)
	if err != nil {
		return Frame{}, err
	}
	switch {
	case frame.Capture == nil:
		return Frame{}, fmt.Errorf("fmc: frame %d without a capture", frame.Index)
	case !finite(frame.Time):
		return Frame{}, fmt.Errorf("fmc: time %v s of frame %d: want a finite value", frame.Time, frame.Index)
	case !finite(frame.Position):
		return Frame{}, fmt.Errorf("fmc: position %v m of frame %d: want a finite value", frame.Position, frame.Index)
	}
	return frame, nil
}

// SliceSource returns the source of the given frames. It copies nothing.
func SliceSource(frames []Frame) FrameSource {
	return FrameFunc(func(ctx context.Context) (Frame, error) {
		if err := ctx.Err(); err != nil {
			return Frame{}, err
		}
		if len(frames) == 0 {
			return Frame{}, io.EOF
		}
		first := frames[0]
		frames = frames[1:]
		return first, nil
	})
}

// Int16Source returns the source of frames that a digitiser delivers as int16
// samples. For each frame it calls next, which returns the samples in the order of
// Data, and the frame's index, time and position; the samples are then written to
// into, by [Capture.SetInt16], which is the Capture of every frame. The slice that
// next returns may be used again for the next frame.
//
// The samples pass through memory once, and nothing is allocated. To image samples
// from the hardware's buffer itself, give them to the reconstruction of package
// tfm as they are.
func Int16Source(into *Capture, next func(ctx context.Context) (samples []int16, at Frame, err error)) FrameSource {
	return FrameFunc(func(ctx context.Context) (Frame, error) {
		if into == nil || next == nil {
			return Frame{}, errors.New("fmc: source of int16 frames without a capture or a function: want both")
		}
		samples, frame, err := next(ctx)
		if err != nil {
			return Frame{}, err
		}
		if err := into.SetInt16(samples); err != nil {
			return Frame{}, fmt.Errorf("%w, in frame %d", err, frame.Index)
		}
		frame.Capture = into
		return frame, nil
	})
}
