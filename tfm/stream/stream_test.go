// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stream

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

var background = context.Background()

// inspection is a capture of 8 elements on a plate, without samples, and its plans for the views
// L-L and LL-L.
func inspection(progress func(float64)) (*fmc.Capture, []*tfm.Plan) {
	like := fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
	array := check.Must(fmc.LinearArray(8, 0.6e-3, like))
	c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(8), Samples: 400, SampleRate: 40e6}))
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	setup := check.Must(wedge.NewPlate(nil, steel, 12e-3))
	grid := check.Must(tfm.NewSection(-3e-3, 3e-3, 2e-3, 12e-3, 0.15e-3)) // of two tiles
	var plans []*tfm.Plan
	for _, view := range []string{"L-L", "LL-L"} {
		plan := check.Must(tfm.PlanView(background, c, setup, view, grid, nil))
		if progress != nil {
			plan = check.Must(tfm.PlanView(background, c, setup, view, grid, &tfm.Options{Progress: progress}))
		}
		plans = append(plans, plan)
	}
	return c, plans
}

// recording is the samples of n frames, noise of a fixed seed.
func recording(c *fmc.Capture, n int) [][]int16 {
	rng := rand.New(rand.NewPCG(1, 2))
	frames := make([][]int16, n)
	for i := range frames {
		for range c.Data {
			frames[i] = append(frames[i], int16(rng.IntN(2000)-1000))
		}
	}
	return frames
}

// play returns a source of frames, and the number of its calls.
func play(frames [][]int16) (source Source, calls *int) {
	calls = new(int)
	return func(ctx context.Context, f *Frame) error {
		if *calls == len(frames) {
			return io.EOF
		}
		f.Index, f.Time, f.Position, f.Across = *calls, float64(*calls)*0.1, float64(*calls)*1e-3, float64(*calls)*-2
		f.Int16 = append(f.Int16, frames[*calls]...)
		*calls++
		return ctx.Err()
	}, calls
}

// endless returns a source of one frame again and again.
func endless(frame []int16) Source {
	n := 0
	return func(ctx context.Context, f *Frame) error {
		f.Index = n
		n++
		f.Int16 = append(f.Int16, frame...)
		return ctx.Err()
	}
}

// TestImages compares with the images of one scratch of both views, bit for bit, for any number of
// frames and cores, and for both types of samples.
func TestImages(t *testing.T) {
	c, plans := inspection(nil)
	frames := recording(c, 7)
	views := check.Must(tfm.NewViews(plans...)).NewScratch()
	var want [][]*tfm.Image
	for _, frame := range frames {
		var images []*tfm.Image
		for _, p := range plans {
			images = append(images, tfm.NewImage(p.Grid()))
		}
		if err := views.ReconstructInt16(background, images, frame); err != nil {
			t.Fatal(err)
		}
		want = append(want, images)
	}
	for _, o := range []*Options{nil, {Workers: 1}, {Frames: 3, Workers: 1}, {Frames: 2, Queue: 4, Workers: 7}, {Frames: 9}, {Workers: 3}} {
		s := check.Must(New(plans, o))
		for _, floats := range []bool{false, true} {
			source, _ := play(frames)
			if floats {
				integers := source
				source = func(ctx context.Context, f *Frame) error {
					err := integers(ctx, f)
					for _, v := range f.Int16 {
						f.Float32 = append(f.Float32, float32(v))
					}
					f.Int16 = f.Int16[:0]
					return err
				}
			}
			n := 0
			for r, err := range s.Images(background, source) {
				if err != nil {
					t.Fatalf("%+v: %v", o, err)
				}
				if r.Index != n || r.Time != float64(n)*0.1 || r.Position != float64(n)*1e-3 || r.Across != float64(n)*-2 {
					t.Errorf("%+v: frame %d at %v s, %v m: want frame %d", o, r.Index, r.Time, r.Position, n)
				}
				if r.Imaging <= 0 || r.Latency < r.Imaging {
					t.Errorf("%+v: latency %v with an imaging time of %v", o, r.Latency, r.Imaging)
				}
				if diff := cmp.Diff(want[n], r.Images); diff != "" {
					t.Errorf("%+v, frame %d: images differ from one scratch:\n%s", o, n, diff)
				}
				n++
			}
			if n != len(frames) || s.Latency().Frames != n {
				t.Errorf("%+v: %d frames, %d with a latency, want %d", o, n, s.Latency().Frames, len(frames))
			}
		}
	}
}

// TestBackPressure: while the loop works on its first frame, the stream reads Frames + Queue more
// frames, and no others. All images are in the memory of Frames + Queue + 1 frames.
func TestBackPressure(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c, plans := inspection(nil)
		for _, o := range []Options{{Frames: 1, Queue: 1}, {Frames: 3, Queue: 5}} {
			s := check.Must(New(plans, &o))
			source, calls := play(recording(c, 20))
			memory := make(map[*tfm.Image]bool)
			delivered := 0
			for r, err := range s.Images(background, source) {
				if err != nil {
					t.Fatal(err)
				}
				delivered++
				synctest.Wait() // until all goroutines wait for this loop
				if want := min(delivered+o.Frames+o.Queue, 20); *calls != want {
					t.Errorf("%+v: %d frames read while the loop is at frame %d, want %d", o, *calls, delivered, want)
				}
				memory[r.Images[0]] = true
			}
			if len(memory) != o.Frames+o.Queue+1 {
				t.Errorf("%+v: images in %d places, want %d", o, len(memory), o.Frames+o.Queue+1)
			}
		}
	})
}

// TestLatency has times that were worked by hand, on the clock of synctest, on which imaging takes
// no time. A frame comes every 10 ms, and the loop takes 25 ms. Three frames are held (Frames 1,
// Queue 1). So the fourth frame is read when the loop returns the first.
func TestLatency(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c, plans := inspection(nil)
		s := check.Must(New(plans, &Options{Frames: 1, Queue: 1}))
		play, _ := play(recording(c, 5))
		source := func(ctx context.Context, f *Frame) error {
			time.Sleep(10 * time.Millisecond)
			return play(ctx, f)
		}
		var got []time.Duration
		for r, err := range s.Images(background, source) {
			if err != nil {
				t.Fatal(err)
			}
			got = append(got, r.Latency/time.Millisecond)
			time.Sleep(25 * time.Millisecond)
		}
		// Arrivals at 10, 20, 30, 45, 70 ms; deliveries at 10, 35, 60, 85, 110 ms.
		if diff := cmp.Diff([]time.Duration{0, 15, 30, 40, 40}, got); diff != "" {
			t.Errorf("latencies in ms (-want +got):\n%s", diff)
		}
		want := Latency{Frames: 5, Median: 30 * time.Millisecond, Worst: 40 * time.Millisecond}
		if got := s.Latency(); got != want {
			t.Errorf("latencies %+v, want %+v", got, want)
		}
	})
}

// TestLatencies: the median covers the last 1024 frames, the worst covers all.
func TestLatencies(t *testing.T) {
	var l latencies
	if got := l.summary(); got != (Latency{}) {
		t.Errorf("%+v of no frame", got)
	}
	for range 500 {
		l.add(9)
	}
	for i := range 1024 {
		l.add(time.Duration(1 + i%4)) // 1, 2, 3, 4
	}
	if got, want := l.summary(), (Latency{Frames: 1524, Median: 2, Worst: 9}); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// moments cancels a context, or does something else, at the call of a number that counts all calls
// of hit.
type moments struct {
	left int
	act  func()
}

func (m *moments) hit() {
	if m.left--; m.left == 0 {
		m.act()
	}
}

// TestCancel ends ctx at every moment of a loop in turn: while a frame is read, at each report of
// progress of an image, and while the loop works. Every image that was finished must be delivered,
// in order and without a gap, then the error of ctx, and no goroutine may be left. (A goroutine
// that is left makes synctest fail.)
func TestCancel(t *testing.T) {
	for frames := 1; frames <= 3; frames++ {
		t.Run(fmt.Sprint(frames, " frames at a time"), func(t *testing.T) {
			cancelled := 0
			for moment := 1; ; moment++ {
				if !cancelAt(t, moment, frames) {
					break
				}
				cancelled++
			}
			if want := 9 + 4*8 + 8; cancelled != want { // calls of the source, tiles of both views, steps
				t.Errorf("cancelled at %d moments, want %d", cancelled, want)
			}
		})
	}
}

// cancelAt runs a loop over 8 frames, ends ctx at a moment, and reports whether the loop had so
// many moments.
func cancelAt(t *testing.T, moment, frames int) (cancelled bool) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(background)
		defer cancel()
		hits := make(chan *moments, 1) // guards the moments
		finished, before := 0, 0       // before ctx ended
		end := func() { cancelled, before = true, finished; cancel() }
		hits <- new(moments)
		hit := func(share float64) {
			m := <-hits
			defer func() { hits <- m }()
			m.hit()
			if share == 1 {
				finished++
			}
		}
		c, plans := inspection(hit)
		<-hits // the tables have reported too
		hits <- &moments{moment, end}
		finished = 0
		s := check.Must(New(plans, &Options{Frames: frames, Queue: 2, Workers: 2}))
		played, _ := play(recording(c, 8))
		source := func(ctx context.Context, f *Frame) error {
			hit(0)
			return played(ctx, f)
		}
		delivered, failure := 0, error(nil)
		for r, err := range s.Images(ctx, source) {
			if failure != nil {
				t.Fatalf("moment %d: something after the error %v", moment, failure)
			}
			if failure = err; err != nil {
				continue
			}
			if r.Index != delivered {
				t.Fatalf("moment %d: frame %d after %d frames", moment, r.Index, delivered)
			}
			delivered++
			hit(0)
		}
		if delivered != finished {
			t.Errorf("moment %d: %d frames finished and %d delivered", moment, finished, delivered)
		}
		if cancelled && finished > before+frames {
			t.Errorf("moment %d: %d frames finished after ctx had ended, want at most %d", moment, finished-before, frames)
		}
		if cancelled && failure != context.Canceled && delivered != 8 {
			t.Errorf("moment %d: error %v after %d frames, want the error of ctx", moment, failure, delivered)
		}
		if !cancelled && (failure != nil || delivered != 8) {
			t.Errorf("%d frames and error %v, want 8 frames", delivered, failure)
		}
	})
	return cancelled
}

// TestCancelRandom ends ctx at random times of real clocks, while sources and loops take random
// times. Frames must come without a gap, and no goroutine may be left.
func TestCancelRandom(t *testing.T) {
	c, plans := inspection(nil)
	frame := recording(c, 1)[0]
	before := runtime.NumGoroutine()
	rng := rand.New(rand.NewPCG(3, 4))
	trials := 100
	if testing.Short() {
		trials = 30
	}
	for trial := range trials {
		s := check.Must(New(plans, &Options{Frames: 1 + trial%3, Queue: 1 + trial%2}))
		ctx, cancel := context.WithTimeout(background, time.Duration(rng.IntN(3000))*time.Microsecond)
		delivered := 0
		var failure error
		for r, err := range s.Images(ctx, endless(frame)) {
			if failure = err; err != nil {
				continue
			}
			if r.Index != delivered {
				t.Fatalf("trial %d: frame %d after %d frames", trial, r.Index, delivered)
			}
			delivered++
		}
		cancel()
		if failure != context.DeadlineExceeded {
			t.Errorf("trial %d: error %v, want the error of ctx", trial, failure)
		}
	}
	leaks(t, before)
}

// leaks fails the test if more goroutines run than before. A goroutine that has just ended may
// still be counted, so leaks waits for a while.
func leaks(t *testing.T, before int) {
	t.Helper()
	for range 100 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Errorf("%d goroutines, %d before", runtime.NumGoroutine(), before)
}

// TestBreak leaves the loop after each number of frames, by break and by panic. No goroutine may be
// left, the source must have seen its ctx end, and the next loop must work.
func TestBreak(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c, plans := inspection(nil)
		frames := recording(c, 6)
		s := check.Must(New(plans, &Options{Frames: 2, Queue: 2}))
		for left := 1; left <= 6; left++ {
			for _, panics := range []bool{false, true} {
				n, waits := 0, false
				played, calls := play(frames)
				source := func(ctx context.Context, f *Frame) error {
					if *calls == len(frames) { // a source that waits for a frame that never comes
						waits = true
						<-ctx.Done()
						waits = false
						return ctx.Err()
					}
					return played(ctx, f)
				}
				func() {
					defer func() {
						if caught := recover(); (caught != nil) != panics {
							t.Errorf("panic %v", caught)
						}
					}()
					for _, err := range s.Images(background, source) {
						if err != nil {
							t.Fatal(err)
						}
						if n++; n == left && panics {
							panic("in the loop")
						} else if n == left {
							break
						}
					}
				}()
				if waits {
					t.Error("the source still waits after the loop has ended")
				}
				n = 0
				again, _ := play(frames)
				for r, err := range s.Images(background, again) {
					if err != nil || r.Index != n {
						t.Fatalf("after a break at %d: frame %d and error %v, want frame %d", left, r.Index, err, n)
					}
					n++
				}
				if n != 6 {
					t.Errorf("after a break at %d: %d frames", left, n)
				}
			}
		}
	})
}

// TestFrameErrors: a frame with an error is reported with its number, and the frames after it are
// imaged.
func TestFrameErrors(t *testing.T) {
	c, plans := inspection(nil)
	s := check.Must(New(plans, &Options{Frames: 2}))
	n := 0
	source := func(ctx context.Context, f *Frame) error {
		if n == 5 {
			return io.EOF
		}
		f.Index = 10 + n
		f.Float32 = append(f.Float32, c.Data...)
		switch n {
		case 1:
			f.Float32[3*c.Samples+7] = float32(math.NaN())
		case 2:
			f.Float32 = f.Float32[1:]
		case 3:
			f.Int16 = append(f.Int16, 0)
		}
		n++
		return nil
	}
	var got []string
	for r, err := range s.Images(background, source) {
		text := fmt.Sprintf("%d: %d images", r.Index, len(r.Images))
		var frame *FrameError
		if errors.As(err, &frame) {
			text = fmt.Sprintf("%d: %d images: %v", frame.Index, len(r.Images), err)
		}
		if r.Index == 11 {
			if sample := new(fmc.SampleError); !errors.As(err, &sample) || sample.Index != 3 || sample.Sample != 7 {
				t.Errorf("error %v does not hold the sample", err)
			}
		}
		got = append(got, text)
	}
	want := []string{
		"10: 2 images",
		"11: 0 images: stream: frame 11: tfm: fmc: sample 7 of pair 3 (0→3) is NaN: want a finite value",
		"12: 0 images: stream: frame 12: tfm: frame of 25599 samples: want 25600 (64 pairs of 400)",
		"13: 0 images: stream: frame 13: 1 int16 and 25600 float32 samples: want samples of one type",
		"14: 2 images",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("results (-want +got):\n%s", diff)
	}
	if got := s.Latency().Frames; got != 2 {
		t.Errorf("%d frames with a latency, want 2", got)
	}
}

// TestEnds: how a loop ends.
func TestEnds(t *testing.T) {
	c, plans := inspection(nil)
	frames := recording(c, 3)
	ended, cancel := context.WithCancel(background)
	cancel()
	lost := errors.New("connection lost")
	cut := fmt.Errorf("cut short: %w", io.EOF)
	for _, test := range []struct {
		name   string
		ctx    context.Context
		frames int
		err    error // of the source after the frames
		want   error
	}{
		{"end of the scan", background, 3, io.EOF, nil},
		{"an empty scan", background, 0, io.EOF, nil},
		{"a lost connection", background, 3, lost, lost},
		{"a failure that wraps the end", background, 2, cut, cut},
		{"ctx ended before", ended, 0, nil, context.Canceled},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := check.Must(New(plans, nil))
			n := 0
			source := func(ctx context.Context, f *Frame) error {
				if n == test.frames {
					return test.err
				}
				f.Int16 = append(f.Int16, frames[n]...)
				n++
				return nil
			}
			delivered := 0
			var got error
			for _, err := range s.Images(test.ctx, source) {
				if got = err; err == nil {
					delivered++
				}
			}
			if got != test.want || delivered != test.frames {
				t.Errorf("%d frames, then %v; want %d, then %v", delivered, got, test.frames, test.want)
			}
		})
	}
	s := check.Must(New(plans, nil))
	for _, err := range s.Images(background, nil) {
		check.Error(t, err, "no source")
	}
	for range s.Images(background, endless(frames[0])) {
		for _, err := range s.Images(background, endless(frames[0])) {
			check.Error(t, err, "second loop")
		}
		break
	}
}

// TestCaptures images a source of captures, on two grids that cannot be imaged in one pass, and
// refuses captures that the plans were not made for.
func TestCaptures(t *testing.T) {
	c, plans := inspection(nil)
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range c.Data {
		c.Data[i] = float32(rng.NormFloat64())
	}
	coarse := check.Must(tfm.NewSection(-2e-3, 2e-3, 5e-3, 9e-3, 0.4e-3))
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	plate := check.Must(wedge.NewPlate(nil, steel, 12e-3))
	plans[1] = check.Must(tfm.PlanView(background, c, plate, "LL-L", coarse, nil))
	want := check.Must(plans[1].Image(background, c))
	s := check.Must(New(plans, nil))
	n := 0
	source := func(ctx context.Context) (fmc.Frame, error) {
		if n++; n > 2 {
			return fmc.Frame{}, io.EOF
		}
		return fmc.Frame{Index: n, Time: 2, Position: 3, Across: 4, Capture: c}, nil
	}
	delivered := 0
	for r, err := range s.Captures(background, source) {
		if err != nil || r.Index != delivered+1 || r.Time != 2 || r.Position != 3 || r.Across != 4 {
			t.Fatalf("result %+v, error %v", r, err)
		}
		if !slices.Equal(want.Data, r.Images[1].Data) {
			t.Error("another image than of the plan")
		}
		delivered++
	}
	if delivered != 2 {
		t.Errorf("%d frames, want 2", delivered)
	}
	other := *c
	other.FirstSample = 1e-6
	for _, bad := range []struct {
		capture *fmc.Capture
		want    string
	}{{&other, "sample 0 at"}, {nil, "frame 4 without a capture"}} {
		for _, err := range s.Captures(background, func(context.Context) (fmc.Frame, error) {
			return fmc.Frame{Index: 4, Capture: bad.capture}, nil
		}) {
			check.Error(t, err, bad.want)
		}
	}
	for _, err := range s.Captures(background, nil) {
		check.Error(t, err, "no source")
	}
}

// TestNew refuses wrong plans and options.
func TestNew(t *testing.T) {
	c, plans := inspection(nil)
	other := *c
	other.SampleRate = 41e6
	grid := plans[0].Grid()
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	plate := check.Must(wedge.NewPlate(nil, steel, 12e-3))
	apart := check.Must(tfm.PlanView(background, &other, plate, "L-L", grid, nil))
	for _, test := range []struct {
		plans   []*tfm.Plan
		options *Options
		want    string
	}{
		{nil, nil, "no plans"},
		{[]*tfm.Plan{plans[0], nil}, nil, "plan 1 is nil"},
		{[]*tfm.Plan{nil}, nil, "plan 0 is nil"},
		{[]*tfm.Plan{plans[0], apart}, nil, "plan 1 takes other frames"},
		{plans, &Options{Frames: -1}, "-1 frames at a time: want 1 to 1024"},
		{plans, &Options{Queue: 1025}, "1025 frames in the queue: want 1 to 1024"},
		{plans, &Options{Workers: -2}, "workers -2"},
	} {
		_, err := New(test.plans, test.options)
		check.Error(t, err, "stream: ", test.want)
	}
}

// TestDefaults: small frames are imaged on a core each, large frames on all cores.
func TestDefaults(t *testing.T) {
	c, plans := inspection(nil)
	long := *c
	long.Samples, long.Data = 6000, nil
	long = *check.Must(fmc.New(long))
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	plate := check.Must(wedge.NewPlate(nil, steel, 12e-3))
	large := check.Must(tfm.PlanView(background, &long, plate, "LL-L", plans[0].Grid(), nil))
	for _, test := range []struct {
		name  string
		plans []*tfm.Plan
		want  Options
	}{
		{"small", plans, Options{Frames: 5, Queue: 1, Workers: 5}},
		{"large", []*tfm.Plan{large}, Options{Frames: 1, Queue: 1, Workers: 5}},
	} {
		got := check.Must((&Options{Workers: 5}).complete(test.plans))
		if diff := cmp.Diff(test.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, diff)
		}
	}
}

// TestShare: frames share all cores, and each frame has one at least.
func TestShare(t *testing.T) {
	for _, test := range []struct {
		cores, frames int
		want          []int
	}{{1, 1, []int{1}}, {8, 3, []int{3, 3, 2}}, {2, 3, []int{1, 1, 1}}, {4, 4, []int{1, 1, 1, 1}}} {
		var got []int
		for f := range test.frames {
			got = append(got, share(test.cores, test.frames, f))
		}
		if diff := cmp.Diff(test.want, got); diff != "" {
			t.Errorf("%d cores (-want +got):\n%s", test.cores, diff)
		}
	}
}

// TestAllocations: after the first frames a frame allocates nothing.
func TestAllocations(t *testing.T) {
	c, plans := inspection(nil)
	frame := recording(c, 1)[0]
	s := check.Must(New(plans, &Options{Frames: 2}))
	const first, last = 50, 250
	var before, after runtime.MemStats
	n := 0
	for range s.Images(background, endless(frame)) {
		switch n++; n {
		case first:
			runtime.ReadMemStats(&before)
		case last:
			runtime.ReadMemStats(&after)
		}
		if n == last {
			break
		}
	}
	if each := float64(after.Mallocs-before.Mallocs) / (last - first); !(each < 0.5) {
		t.Errorf("%.2f allocations a frame, want none", each)
	}
}
