// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stream

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"runtime"
	"slices"
	"sync/atomic"
	"time"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/tfm"
)

// Options are the options of [New]. Nil stands for all defaults.
type Options struct {
	// Frames is the number of frames that are imaged at a time, 1 to 1024. Each of them works on an
	// equal share of the cores, and on one core at least. One frame at a time has the shortest
	// latency while the source is slower than the imaging. The default, for 0, is the number of
	// cores if frames are small, because the cores then do not wait for each other. It is 1 if the
	// scratch of a plan is larger than 2 MiB ([tfm.Plan.Bytes]), because the caches then hold only
	// one frame at a time (BENCHMARKS.md in the folder of this package).
	Frames int

	// Queue is the number of frames that may wait for imaging while others are imaged, 1 to 1024.
	// A longer queue bridges a longer pause of the source or of the consumer. It also makes the
	// latency longer when the source is faster than the imaging. The default, for 0, is 1.
	Queue int

	// Workers is the most goroutines that image at a time; 0 stands for all cores. The limits of
	// the plans have no effect here.
	Workers int
}

// Frame is one frame of samples that a [Source] delivers.
type Frame struct {
	Index    int     // number of the frame in its scan; a gap is a frame that was lost
	Time     float64 // since the start of the scan in s
	Position float64 // of the encoder along the scan in m
	Across   float64 // of the encoder across the scan in m: the line of a raster; else 0

	// Int16 or Float32 holds the samples, in the order of [fmc.Capture.Data]. The other has the
	// length 0.
	Int16   []int16
	Float32 []float32
}

// Source writes the next frame to f, and waits for it if necessary. After the last frame it returns
// io.EOF itself. Any other error ends the stream, also an error that wraps io.EOF. If ctx ends
// while the source waits, the source returns the error of ctx at once.
//
// At the call all fields of f are zero, but the two slices keep the memory of an earlier frame. The
// source fills this memory, without an allocation after the first frames:
//
//	f.Int16 = append(f.Int16[:0], samples...)
//
// It may also set a slice of its own, and so save the copy. This slice belongs to the stream until
// a later call brings it back in f. The stream does not write to it.
type Source func(ctx context.Context, f *Frame) error

// Result is the images of one frame.
type Result struct {
	Index            int     // of the frame, as are Time, Position and Across
	Time             float64 // s
	Position, Across float64 // m

	// Images are the images of all plans, in the order of the plans. They are valid until the next
	// step of the loop, and are then overwritten. They are nil if the frame has an error.
	Images []*tfm.Image

	Latency time.Duration // from the return of the source to the delivery of the images
	Imaging time.Duration // the part of the latency in which the frame was imaged
}

// FrameError is the error of one frame. The stream goes on after it.
type FrameError struct {
	Index int   // of the frame
	Err   error // such as a [*fmc.SampleError]
}

// Error names the frame.
func (e *FrameError) Error() string { return fmt.Sprintf("stream: frame %d: %v", e.Index, e.Err) }

// Unwrap returns the cause.
func (e *FrameError) Unwrap() error { return e.Err }

// Stream images frames in the views of several plans. It holds the memory of all frames that are
// under way, and uses it again for later frames and later loops.
//
// Only one loop over a stream may run at a time. Latency may be called at any time.
type Stream struct {
	plans     []*tfm.Plan
	slots     []*slot
	scratches [][]*tfm.ViewsScratch // of each frame at a time, and pass
	busy      atomic.Bool
	latencies latencies
}

// New returns a stream of images of the given plans, at least one. All plans must take the same
// frames: the same elements, events, pairs and times. Plans that [tfm.NewViews] joins, with the
// same grid and options, are imaged in one pass, and other plans one after the other. New allocates
// the scratches and the images ([Options.Frames] scratches of each plan, and Frames + Queue + 1
// images of each plan).
func New(plans []*tfm.Plan, options *Options) (*Stream, error) {
	if len(plans) == 0 {
		return nil, errors.New("stream: no plans: want at least one")
	}
	for i, p := range plans {
		if p == nil {
			return nil, fmt.Errorf("stream: plan %d is nil", i)
		}
		if err := p.Check(plans[0].Template()); err != nil {
			return nil, fmt.Errorf("stream: plan %d takes other frames than plan 0: %w", i, err)
		}
	}
	o, err := options.complete(plans)
	if err != nil {
		return nil, err
	}
	s := &Stream{plans: slices.Clone(plans)}
	for range o.Frames + o.Queue + 1 {
		s.slots = append(s.slots, newSlot(plans))
	}
	passes, err := passesOf(plans)
	if err != nil {
		return nil, err
	}
	for f := range o.Frames {
		var scratches []*tfm.ViewsScratch
		for _, views := range passes {
			scratches = append(scratches, views.NewScratchOf(share(o.Workers, o.Frames, f)))
		}
		s.scratches = append(s.scratches, scratches)
	}
	return s, nil
}

// passesOf returns one pass for all plans if they can be joined, otherwise one for each plan.
func passesOf(plans []*tfm.Plan) ([]*tfm.Views, error) {
	if views, err := tfm.NewViews(plans...); err == nil {
		return []*tfm.Views{views}, nil
	}
	var passes []*tfm.Views
	for _, p := range plans {
		views, err := tfm.NewViews(p)
		if err != nil {
			return nil, fmt.Errorf("stream: %w", err)
		}
		passes = append(passes, views)
	}
	return passes, nil
}

// share returns the cores of frame f of frames: all cores are shared out as equally as possible, at
// least one to a frame.
func share(cores, frames, f int) int {
	return max(1, (cores+frames-1-f)/frames)
}

const (
	most  = 1024    // the largest number of frames in imaging, and in the queue
	small = 2 << 20 // bytes of a scratch; up to here frames are imaged beside each other (BENCHMARKS.md)
)

// complete replaces zeros by defaults, and returns an error for the first field out of range.
func (options *Options) complete(plans []*tfm.Plan) (Options, error) {
	var o Options
	if options != nil {
		o = *options
	}
	if o.Workers < 0 {
		return o, fmt.Errorf("stream: workers %d: want 0 for all cores, or a number above 0", o.Workers)
	}
	if o.Workers == 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	if o.Frames == 0 {
		o.Frames = min(o.Workers, most)
		for _, p := range plans {
			if _, scratch := p.Bytes(); scratch > small {
				o.Frames = 1
			}
		}
	}
	if o.Queue == 0 {
		o.Queue = 1
	}
	if o.Frames < 1 || o.Frames > most {
		return o, fmt.Errorf("stream: %d frames at a time: want 1 to %d, or 0 for the default", o.Frames, most)
	}
	if o.Queue < 1 || o.Queue > most {
		return o, fmt.Errorf("stream: %d frames in the queue: want 1 to %d, or 0 for 1", o.Queue, most)
	}
	return o, nil
}

// Images yields the images of the frames of source, in the order of the frames.
//
// An error that is a [*FrameError] concerns one frame, such as a frame with a sample that is not
// finite. The Images of its result are nil. The loop may go on with the next frame, or break. Any
// other error comes with a zero result, and is the last.
//
// When ctx ends, the stream reads no more frames, and begins no more frames. The frames that were
// begun before are finished and delivered, without a gap. Then the error of ctx is yielded. A frame
// that was read and not begun is dropped. When the source fails, all frames before the failure are
// delivered, and then the error of the source. A break abandons the frames that are under way.
//
// In every case all goroutines of the loop have ended before the loop ends. They wait for the
// source: it must return soon after its ctx has ended.
func (s *Stream) Images(ctx context.Context, source Source) iter.Seq2[Result, error] {
	return func(yield func(Result, error) bool) {
		if source == nil {
			yield(Result{}, errors.New("stream: no source, nil: want one"))
			return
		}
		if !s.busy.CompareAndSwap(false, true) {
			yield(Result{}, errors.New("stream: a second loop over one stream: want one loop at a time"))
			return
		}
		defer s.busy.Store(false)
		s.latencies.reset()
		r := s.start(ctx, source)
		defer r.stop()
		dropped := false
		for slot := range r.order {
			<-slot.done
			if dropped = slot.dropped; dropped {
				continue // as are all frames after it
			}
			if !yield(slot.result(&s.latencies)) {
				return
			}
			r.free <- slot
		}
		switch {
		case r.err != nil:
			yield(Result{}, r.err)
		case dropped:
			yield(Result{}, ctx.Err())
		}
	}
}

// Captures is [Stream.Images] for a source of captures, such as the frames of a scan in a file
// ([CaptureSource]).
func (s *Stream) Captures(ctx context.Context, source fmc.FrameSource) iter.Seq2[Result, error] {
	return s.Images(ctx, CaptureSource(s.plans[0], source))
}

// CaptureSource returns a source of the captures of another source. The samples are copied. The
// first capture must be like the capture that the plan was made for. All captures of one source are
// alike ([fmc.FrameSource]).
func CaptureSource(p *tfm.Plan, source fmc.FrameSource) Source {
	if source == nil {
		return nil
	}
	checked := false
	return func(ctx context.Context, f *Frame) error {
		frame, err := source(ctx)
		if err != nil {
			return err
		}
		if frame.Capture == nil {
			return fmt.Errorf("stream: frame %d without a capture", frame.Index)
		}
		if !checked {
			if err := p.Check(frame.Capture); err != nil {
				return err
			}
			checked = true
		}
		f.Index, f.Time, f.Position, f.Across = frame.Index, frame.Time, frame.Position, frame.Across
		f.Float32 = append(f.Float32, frame.Capture.Data...)
		return nil
	}
}

// Latency returns the latencies of the frames that were delivered without an error in the present
// loop, or in the last one.
func (s *Stream) Latency() Latency { return s.latencies.summary() }
