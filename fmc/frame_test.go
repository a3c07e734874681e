// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
)

// sourceOf returns a source of the given frames.
func sourceOf(frames []Frame) FrameSource {
	return func(context.Context) (Frame, error) {
		if len(frames) == 0 {
			return Frame{}, io.EOF
		}
		first := frames[0]
		frames = frames[1:]
		return first, nil
	}
}

// collect returns the frames of source and the error that ends it.
func collect(ctx context.Context, source FrameSource) (frames []Frame, failure error) {
	for frame, err := range Frames(ctx, source) {
		if failure != nil {
			return frames, errors.New("a frame or an error after the first error")
		}
		if err != nil {
			failure = err
			continue
		}
		frames = append(frames, frame)
	}
	return frames, failure
}

func TestFrames(t *testing.T) {
	c := random(t, 2, HalfPairs(2), 3)
	want := []Frame{
		{Index: 0, Time: 0, Position: -1e-3, Capture: c},
		{Index: 1, Time: 0.1, Position: 0, Capture: c},
		{Index: 3, Time: 0.3, Position: 1e-3, Capture: c},
	}
	got, err := collect(t.Context(), sourceOf(want))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("frames (-want +got):\n%s", diff)
	}
	if got[2].Capture != c {
		t.Error("the capture was copied")
	}
	if got, err := collect(t.Context(), sourceOf(nil)); len(got) != 0 || err != nil {
		t.Errorf("%d frames and error %v of no frames", len(got), err)
	}
	source := sourceOf(want)
	for range Frames(t.Context(), source) {
		break // the rest stays in the source
	}
	if rest, err := collect(t.Context(), source); err != nil || len(rest) != 2 {
		t.Errorf("%d frames and error %v after the first, want 2", len(rest), err)
	}
}

func TestFramesEndWithAnError(t *testing.T) {
	c := random(t, 1, FullPairs(1), 2)
	broken := errors.New("cable out")
	tests := []struct {
		name  string
		frame Frame
		err   error
		want  string
	}{
		{"the source fails", Frame{}, broken, "cable out"},
		{"cut short", Frame{}, fmt.Errorf("cable out: %w", io.EOF), "cable out: EOF"},
		{"no capture", Frame{Index: 7}, nil, "fmc: frame 7 without a capture"},
		{"time NaN", Frame{Index: 7, Time: math.NaN(), Capture: c}, nil,
			"fmc: time NaN s of frame 7"},
		{"position Inf", Frame{Index: 7, Position: math.Inf(1), Capture: c}, nil,
			"fmc: position +Inf m of frame 7"},
		{"position across NaN", Frame{Index: 7, Across: math.NaN(), Capture: c}, nil,
			"fmc: position across NaN m of frame 7"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			good := 2
			frames, err := collect(t.Context(), func(context.Context) (Frame, error) {
				if good--; good >= 0 {
					return Frame{Capture: c}, nil
				}
				return test.frame, test.err
			})
			check.Error(t, err, test.want)
			if len(frames) != 2 {
				t.Errorf("%d frames before the error, want 2", len(frames))
			}
			if test.err != nil && !errors.Is(err, test.err) {
				t.Errorf("error %v is not the error of the source", err)
			}
		})
	}
}

func TestFramesEndWithTheContext(t *testing.T) {
	c := random(t, 1, FullPairs(1), 2)
	ctx, cancel := context.WithCancel(t.Context())
	calls := 0
	frames, err := collect(ctx, func(context.Context) (Frame, error) {
		if calls++; calls == 2 {
			cancel()
		}
		return Frame{Capture: c}, nil
	})
	if !errors.Is(err, context.Canceled) || len(frames) != 2 || calls != 2 {
		t.Errorf("%d frames of %d calls and error %v, want 2, 2 and %v", len(frames), calls, err,
			context.Canceled)
	}
}

// TestFramesOfOneBuffer reads frames that overwrite one capture, as a source over the memory of an
// instrument does.
func TestFramesOfOneBuffer(t *testing.T) {
	c := random(t, 2, HalfPairs(2), 2)
	buffer, n := make([]int16, 6), 0
	source := func(context.Context) (Frame, error) {
		if n == 3 {
			return Frame{}, io.EOF
		}
		for i := range buffer {
			buffer[i] = int16(10*n + i)
		}
		n++
		return Frame{Index: n - 1, Position: float64(n), Capture: c}, c.SetInt16(buffer)
	}
	count := 0
	for frame, err := range Frames(t.Context(), source) {
		if err != nil {
			t.Fatal(err)
		}
		first := float32(10 * count)
		count++
		want := []float32{first, first + 1, first + 2, first + 3, first + 4, first + 5}
		if diff := cmp.Diff(want, frame.Capture.Data); diff != "" {
			t.Errorf("samples of frame %d (-want +got):\n%s", frame.Index, diff)
		}
		if frame.Index != count-1 || frame.Position != float64(count) || frame.Capture != c {
			t.Errorf("frame %d at %v m", frame.Index, frame.Position)
		}
	}
	if count != 3 {
		t.Errorf("%d frames, want 3", count)
	}
	_, err := collect(t.Context(), nil)
	check.Error(t, err, "fmc: no source", "nil")
}

// TestFramesAllocateOnce checks that a loop over frames allocates nothing per frame.
func TestFramesAllocateOnce(t *testing.T) {
	c := random(t, 4, HalfPairs(4), 50)
	buffer := make([]int16, len(c.Data))
	source := FrameSource(func(context.Context) (Frame, error) {
		return Frame{Capture: c}, c.SetInt16(buffer)
	})
	ctx := t.Context()
	allocs := testing.AllocsPerRun(10, func() {
		if _, err := source.next(ctx); err != nil {
			t.Error(err)
		}
	})
	if allocs != 0 {
		t.Errorf("%v allocations a frame, want 0", allocs)
	}
}
