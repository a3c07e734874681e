// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/stream"
	"github.com/isochron-imaging/isochron/wedge"
)

var background = context.Background()

// scene is a scan of noise by a small array, in two views.
type scene struct {
	capture *fmc.Capture
	plans   []*tfm.Plan
	layout  *Layout
}

// newScene returns a scene with so many frames.
func newScene(tb testing.TB, frames int, values Values, options *tfm.Options) *scene {
	tb.Helper()
	array := check.Must(fmc.LinearArray(4, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	s := &scene{capture: check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.HalfPairs(4), Samples: 300, SampleRate: 50e6}))}
	plate := check.Must(wedge.NewPlate(nil, material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3240}, 10e-3))
	grid := check.Must(tfm.NewSection(-2e-3, 2e-3, 3e-3, 9e-3, 0.5e-3))
	for _, view := range []string{"L-L", "LL-L"} {
		s.plans = append(s.plans, check.Must(tfm.PlanView(background, s.capture, plate, view, grid, options)))
	}
	s.layout = &Layout{
		Views:  []View{{Name: "L-L", Reference: 3000}, {Name: "LL-L", Reference: 2000}},
		Frames: frames, Pitch: 1e-3, Values: values,
	}
	return s
}

// samples returns the samples of a frame.
func (s *scene) samples(frame int) []int16 {
	rng := rand.New(rand.NewPCG(uint64(frame), 2))
	samples := make([]int16, len(s.capture.Data))
	for i := range samples {
		samples[i] = int16(rng.IntN(2000) - 1000)
	}
	return samples
}

// source yields frames in a given order. edit may change a frame.
func (s *scene) source(order []int, edit func(*stream.Frame)) stream.Source {
	return func(ctx context.Context, f *stream.Frame) error {
		if len(order) == 0 {
			return io.EOF
		}
		f.Index, order = order[0], order[1:]
		f.Position, f.Time = float64(f.Index)*1e-3, float64(f.Index)*0.05
		f.Int16 = append(f.Int16, s.samples(f.Index)...)
		if edit != nil {
			edit(f)
		}
		return ctx.Err()
	}
}

// upTo returns 0 to n-1.
func upTo(n int) []int {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	return order
}

// files returns the files of the folder of a stack, but for the folder.
func files(t *testing.T, name string) map[string]string {
	t.Helper()
	found := map[string]string{}
	for _, e := range check.Must(os.ReadDir(filepath.Dir(name))) {
		found[e.Name()] = string(check.Must(os.ReadFile(filepath.Join(filepath.Dir(name), e.Name()))))
	}
	return found
}

// wantFiles compares the files of a stack with files.
func wantFiles(t *testing.T, name string, want map[string]string) {
	t.Helper()
	if got := files(t, name); !cmp.Equal(got, want) {
		for file := range got {
			if got[file] != want[file] {
				t.Errorf("%s of %d bytes differs from %d bytes", file, len(got[file]), len(want[file]))
			}
		}
		for file := range want {
			if _, ok := got[file]; !ok {
				t.Errorf("%s is missing", file)
			}
		}
	}
}

// whole images a whole scan, and returns the files.
func (s *scene) whole(t *testing.T, order []int, edit func(*stream.Frame)) (name string, all map[string]string) {
	t.Helper()
	name = filepath.Join(t.TempDir(), "a.json")
	check.Must(Image(background, name, s.plans, s.layout, s.source(order, edit), nil))
	return name, files(t, name)
}

// TestImage compares the stack with images of single frames: in another order, with a frame that is
// missing, frames that cannot be imaged, a frame that comes twice, and a repeated position.
func TestImage(t *testing.T) {
	s := newScene(t, 9, Float32, nil)
	name := filepath.Join(t.TempDir(), "a.json")
	source := s.source([]int{3, 0, 8, 1, 7, 3, 5, 2, 6}, func(f *stream.Frame) {
		switch f.Index {
		case 5:
			f.Position = math.NaN()
		case 6:
			f.Int16 = f.Int16[1:]
		case 8:
			f.Position = 2.4e-3
		}
	})
	calls := 0
	progress := func(done, frames int) {
		if calls++; done != calls || frames != 9 {
			t.Errorf("progress %d of %d in call %d", done, frames, calls)
		}
	}
	report := check.Must(Image(background, name, s.plans, s.layout, source, &Options{Progress: progress}))
	if diff := cmp.Diff(&Report{Imaged: 6, Refused: 2, Missing: 1, Again: 1}, report); diff != "" {
		t.Errorf("report (-want +got):\n%s", diff)
	}
	stack := check.Must(Open(name))
	defer stack.Close()
	for i, want := range []struct {
		state   FrameState
		repeats int
		reason  string
	}{
		{Imaged, -1, ""}, {Imaged, -1, ""}, {Imaged, -1, ""}, {Imaged, -1, ""}, {Missing, -1, ""},
		{Refused, -1, "position NaN m"}, {Refused, -1, "frame of 2999 samples"}, {Imaged, -1, ""}, {Imaged, 2, ""},
	} {
		f := stack.Frame(i)
		if f.Index != i || f.State != want.state || f.Repeats != want.repeats || !strings.Contains(f.Reason, want.reason) || (want.reason == "") != (f.Reason == "") {
			t.Errorf("frame %+v, want %+v", f, want)
		}
		if f.State != Imaged {
			continue
		}
		c := *s.capture
		c.Data = make([]float32, len(c.Data))
		if err := c.SetInt16(s.samples(i)); err != nil {
			t.Fatal(err)
		}
		views := check.Must(check.Must(tfm.NewViews(s.plans...)).Images(background, &c))
		for v, image := range views {
			got := check.Must(stack.Envelope(nil, i, v))
			if diff := cmp.Diff(image.Envelope(nil), got); diff != "" {
				t.Errorf("frame %d, view %d (-want +got):\n%s", i, v, diff)
			}
		}
	}
	if f := stack.Frame(9); f.State != NotImaged || !math.IsNaN(f.Position) {
		t.Errorf("frame beyond the scan: %+v", f)
	}
}

// TestResume ends a run at every frame, in three ways, and goes on with it. The files have the bytes
// of a run without an end.
func TestResume(t *testing.T) {
	const frames = 5
	s := newScene(t, frames, Int16, &tfm.Options{FullScale: 999}) // with states of each frame
	short := func(f *stream.Frame) {
		if f.Index == 2 {
			f.Int16 = nil
		}
	}
	order := []int{4, 0, 2, 1}
	_, want := s.whole(t, order, short)
	failure := errors.New("cable")
	for _, left := range []struct {
		name   string
		source func(done int) stream.Source
		want   error
	}{
		{"source fails", func(done int) stream.Source {
			inner, n := s.source(order, short), 0
			return func(ctx context.Context, f *stream.Frame) error {
				if n++; n > done {
					return failure
				}
				return inner(ctx, f)
			}
		}, failure},
		{"ctx ends", func(done int) stream.Source {
			inner, n := s.source(order, short), 0
			return func(ctx context.Context, f *stream.Frame) error {
				if n++; n > done {
					return context.Canceled
				}
				return inner(ctx, f)
			}
		}, context.Canceled},
	} {
		for done := range order {
			name := filepath.Join(t.TempDir(), "a.json")
			if _, err := Image(background, name, s.plans, s.layout, left.source(done), nil); !errors.Is(err, left.want) {
				t.Fatalf("%s: error %v, want %v", left.name, err, left.want)
			}
			halfway := check.Must(Open(name))
			for i := range frames {
				want := NotImaged
				if slices.Contains(order[:done], i) {
					want = []FrameState{Imaged, Imaged, Refused, Imaged, Imaged}[i]
				}
				if got := halfway.Frame(i).State; got != want {
					t.Errorf("%s after %d frames: frame %d is %v, want %v", left.name, done, i, got, want)
				}
			}
			halfway.Close()
			report := check.Must(Image(background, name, s.plans, s.layout, s.source(order, short), nil))
			if report.Held != done || report.Missing != 1 {
				t.Errorf("%s: report %+v, want %d held", left.name, report, done)
			}
			wantFiles(t, name, want)
		}
	}
}

// TestDamage damages the files of a run that ended early, as a loss of power can. The frames of
// damaged bytes are imaged again.
func TestDamage(t *testing.T) {
	s := newScene(t, 4, Float32, nil)
	_, want := s.whole(t, upTo(4), nil)
	begin := func() names {
		name := filepath.Join(t.TempDir(), "a.json")
		failing := func(ctx context.Context, f *stream.Frame) error { return io.ErrClosedPipe }
		inner, n := s.source(upTo(4), nil), 0
		_, err := Image(background, name, s.plans, s.layout, func(ctx context.Context, f *stream.Frame) error {
			if n++; n == 4 {
				return failing(ctx, f)
			}
			return inner(ctx, f)
		}, nil)
		check.Error(t, err, "closed pipe")
		return check.Must(namesOf(name))
	}
	cut := func(name string, by int64) {
		info := check.Must(os.Stat(name))
		if err := os.Truncate(name, info.Size()-by); err != nil {
			t.Fatal(err)
		}
	}
	for what, damage := range map[string]struct {
		do   func(n names)
		held int
	}{
		"torn line": {func(n names) { cut(n.journal, 5) }, 2},
		"journal of half a head": {func(n names) { // killed before there were arrays
			cut(n.journal, check.Must(os.Stat(n.journal)).Size()-20)
			os.Remove(n.values)
			os.Remove(n.states)
		}, 0},
		"zeros at the end": {func(n names) {
			f := check.Must(os.OpenFile(n.journal, os.O_APPEND|os.O_WRONLY, 0))
			check.Must(f.Write(make([]byte, 100)))
			f.Close()
		}, 3},
		"values cut":     {func(n names) { cut(n.values, check.Must(os.Stat(n.values)).Size()/2) }, 1},
		"values missing": {func(n names) { os.Remove(n.values) }, 0},
		"states missing": {func(n names) { os.Remove(n.states) }, 3},
		"a byte changed": {func(n names) {
			f := check.Must(os.OpenFile(n.values, os.O_RDWR, 0))
			check.Must(f.WriteAt([]byte{1, 2, 3}, 200))
			f.Close()
		}, 2},
	} {
		n := begin()
		damage.do(n)
		report, err := Image(background, n.table, s.plans, s.layout, s.source(upTo(4), nil), nil)
		if err != nil || report.Held != damage.held {
			t.Errorf("%s: report %+v, %v, want %d frames held", what, report, err, damage.held)
			continue
		}
		wantFiles(t, n.table, want)
	}
}

// TestOther refuses to go on with another scan, other plans, another layout, and other files.
func TestOther(t *testing.T) {
	s := newScene(t, 3, Float32, nil)
	changed := func(edit func(l *Layout)) *Layout {
		l := s.layout.clone()
		edit(&l)
		return &l
	}
	for _, test := range []struct {
		name   string
		plans  []*tfm.Plan
		layout *Layout
		edit   func(*stream.Frame)
		words  []string
	}{
		{"precision", newScene(t, 3, Float32, &tfm.Options{Precision: tfm.Fixed16}).plans, s.layout, nil, []string{"origin", "made with other plans", "another name"}},
		{"band", newScene(t, 3, Float32, &tfm.Options{Band: tfm.Band{Low: 2e6, High: 7e6}}).plans, s.layout, nil, []string{"origin"}},
		{"order of the views", []*tfm.Plan{s.plans[1], s.plans[0]}, s.layout, nil, []string{"origin"}},
		{"frames", s.plans, changed(func(l *Layout) { l.Frames = 4 }), nil, []string{"want the range of the stack, 0 to 3"}},
		{"values", s.plans, changed(func(l *Layout) { l.Values = Int16 }), nil, []string{"int16 level", "float32"}},
		{"pitch", s.plans, changed(func(l *Layout) { l.Pitch = 2e-3 }), nil, []string{"pitch", "0.002", "0.001", "there already", "another name"}},
		{"name", s.plans, changed(func(l *Layout) { l.Views[1].Name = "x" }), nil, []string{"view 1", `"x"`}},
		{"reference", s.plans, changed(func(l *Layout) { l.Views[1].Reference = 1 }), nil, []string{"view 1", "2000"}},
		{"position", s.plans, s.layout, func(f *stream.Frame) { f.Position += 1e-9 }, []string{"frame 0", "want the same scan"}},
		{"time", s.plans, s.layout, func(f *stream.Frame) { f.Time++ }, []string{"frame 0", "want the same scan"}},
		{"samples", s.plans, s.layout, func(f *stream.Frame) { f.Int16[7]++ }, []string{"frame 0", "want the same scan"}},
		{"index", s.plans, s.layout, func(f *stream.Frame) { f.Index = 3 }, []string{"frame 3", "want an index from 0 to 2"}},
	} {
		for _, complete := range []bool{false, true} {
			name := filepath.Join(t.TempDir(), "a.json")
			order := upTo(3)
			if !complete {
				order = append(order[:2], -1) // which ends the run
			} else {
				order = order[:2] // frame 2 is missing, so the source is read again
			}
			if _, err := Image(background, name, s.plans, s.layout, s.source(order, nil), nil); (err == nil) != complete {
				t.Fatal(err)
			}
			before := files(t, name)
			_, err := Image(background, name, test.plans, test.layout, s.source(upTo(3), test.edit), nil)
			check.Error(t, err, test.words...)
			delete(before, "a.journal")
			after := files(t, name)
			delete(after, "a.journal")
			if !cmp.Equal(before, after) {
				t.Errorf("%s: the files have changed", test.name)
			}
		}
	}
	for _, file := range []string{"a.npy", "a-states.npy", "a.journal", "a.json"} {
		name := filepath.Join(t.TempDir(), "a.json")
		if err := os.WriteFile(filepath.Join(filepath.Dir(name), file), []byte("{}\n"), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := Image(background, name, s.plans, s.layout, s.source(upTo(3), nil), nil); err == nil {
			t.Errorf("%s: no error, want one for a file that is there", file)
		}
		wantFiles(t, name, map[string]string{file: "{}\n"})
	}
}

// TestLocked: two writers of one stack are an error.
func TestLocked(t *testing.T) {
	if runtime.GOOS == "windows" || runtime.GOOS == "plan9" || runtime.GOOS == "wasip1" {
		t.Skip("no locks on this system")
	}
	l := invented(Int16)
	name := filepath.Join(t.TempDir(), "a.json")
	w := check.Must(Create(name, l, 0, l.Frames))
	_, err := Create(name, l, 0, l.Frames)
	check.Error(t, err, "locked by another process")
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	w = check.Must(Create(name, l, 0, l.Frames))
	w.Close()
}

// TestMerge splits a scan into parts in every way, images and merges them in several orders, and
// compares the files with the files of one run.
func TestMerge(t *testing.T) {
	const frames = 4
	s := newScene(t, frames, Int16, nil)
	edit := func(f *stream.Frame) {
		if f.Index == 1 {
			f.Int16 = f.Int16[:5]
		}
	}
	order := []int{3, 1, 0} // frame 2 is missing
	_, want := s.whole(t, order, edit)
	dir := t.TempDir()
	parts := map[[2]int]string{}
	for from := range frames {
		for to := from + 1; to <= frames; to++ {
			name := filepath.Join(dir, fmt.Sprintf("%d-%d.json", from, to))
			check.Must(Image(background, name, s.plans, s.layout, s.source(order, edit), &Options{From: from, To: to}))
			parts[[2]int{from, to}] = name
		}
	}
	rng := rand.New(rand.NewPCG(3, 4))
	for cuts := range 1 << (frames - 1) {
		var split []string
		from := 0
		for to := 1; to <= frames; to++ {
			if to == frames || cuts>>(to-1)&1 == 1 {
				split, from = append(split, parts[[2]int{from, to}]), to
			}
		}
		for range 3 {
			rng.Shuffle(len(split), func(i, j int) { split[i], split[j] = split[j], split[i] })
			name := filepath.Join(t.TempDir(), "a.json")
			if holes, err := Merge(name, split...); err != nil || len(holes) != 0 {
				t.Fatalf("holes %v, %v, want none", holes, err)
			}
			wantFiles(t, name, want)
		}
	}
	// Overlapping parts, a merge of merges, and holes that are filled later.
	ends := filepath.Join(t.TempDir(), "ends.json")
	holes, err := Merge(ends, parts[[2]int{3, 4}], parts[[2]int{0, 1}])
	if err != nil || !slices.Equal(holes, []int{1, 2}) {
		t.Errorf("holes %v, %v, want 1 and 2", holes, err)
	}
	stack := check.Must(Open(ends))
	if got := stack.Frame(2).State; got != NotImaged {
		t.Errorf("frame of a hole is %v", got)
	}
	stack.Close()
	name := filepath.Join(t.TempDir(), "a.json")
	if holes, err := Merge(name, parts[[2]int{0, 3}], ends, parts[[2]int{1, 4}]); err != nil || len(holes) != 0 {
		t.Errorf("holes %v, %v, want none", holes, err)
	}
	wantFiles(t, name, want)
}

// TestMergeErrors refuses parts that do not fit together.
func TestMergeErrors(t *testing.T) {
	s := newScene(t, 3, Float32, nil)
	part := func(from, to int, s *scene, order []int, edit func(*stream.Frame)) string {
		name := filepath.Join(t.TempDir(), "a.json")
		check.Must(Image(background, name, s.plans, s.layout, s.source(order, edit), &Options{From: from, To: to}))
		return name
	}
	a := part(0, 2, s, upTo(3), nil)
	for _, test := range []struct {
		name  string
		part  string
		words []string
	}{
		{"other plans", part(1, 3, newScene(t, 3, Float32, &tfm.Options{Precision: tfm.Fixed16}), upTo(3), nil), []string{"origin"}},
		{"other samples", part(1, 3, s, upTo(3), func(f *stream.Frame) { f.Int16[0]++ }), []string{"frame 1", "want the same"}},
		{"other positions", part(1, 3, s, upTo(3), func(f *stream.Frame) { f.Position++ }), []string{"frame 1", "want the same scan"}},
		{"missing", part(1, 3, s, []int{2}, nil), []string{"frame 1 is missing"}},
		{"refused", part(1, 3, s, upTo(3), func(f *stream.Frame) { f.Int16 = f.Int16[1:] }), []string{"frame 1 is refused"}},
		{"no file", filepath.Join(t.TempDir(), "b.json"), []string{"b.json"}},
	} {
		_, err := Merge(filepath.Join(t.TempDir(), "c.json"), a, test.part)
		check.Error(t, err, test.words...)
	}
	_, err := Merge(a, a)
	check.Error(t, err, "want another name")
	_, err = Merge("x.json")
	check.Error(t, err, "no parts")
}

// TestMemory images thousands of frames. Nothing is allocated for a frame, the heap does not grow,
// and it stays within the limit.
func TestMemory(t *testing.T) {
	frames := 5000
	if testing.Short() {
		frames = 1200
	}
	s := newScene(t, frames, Int16, nil)
	samples := s.samples(1)
	heap := func() uint64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	name := filepath.Join(t.TempDir(), "a.json")
	next := 0
	source := func(ctx context.Context, f *stream.Frame) error {
		if next == frames {
			return io.EOF
		}
		f.Index, f.Position = next, float64(next)*1e-3
		f.Int16 = append(f.Int16, samples...)
		next++
		return nil
	}
	before := heap()
	const limit = 4 << 20
	var early, late uint64
	var first, last runtime.MemStats
	_, err := Image(background, name, s.plans, s.layout, source, &Options{Memory: limit, Workers: 1, Progress: func(done, _ int) {
		switch done {
		case frames / 5:
			early = heap()
			runtime.ReadMemStats(&first)
		case frames - 5:
			runtime.ReadMemStats(&last)
			late = heap()
		}
	}})
	if err != nil {
		t.Fatal(err)
	}
	if perFrame := float64(last.Mallocs-first.Mallocs) / float64(frames*4/5-5); !(perFrame < 0.05) {
		t.Errorf("%.3f allocations a frame, want none", perFrame)
	}
	if grown := int64(late) - int64(early); grown > 64<<10 {
		t.Errorf("the heap grew by %d bytes", grown)
	}
	if used := int64(late) - int64(before); used > limit {
		t.Errorf("%d bytes are used, want %d at most", used, limit)
	}
}

// TestLeastMemory: the error of a limit that is too small names the smallest one. It grows by the
// tables for each frame.
func TestLeastMemory(t *testing.T) {
	s := newScene(t, 1, Int16, nil)
	least := func(frames int) (bytes int) {
		l := s.layout.clone()
		l.Frames = frames
		_, err := Image(background, filepath.Join(t.TempDir(), "a.json"), s.plans, &l, s.source(nil, nil), &Options{Memory: 1 << 10})
		check.Error(t, err, "memory of 1024 bytes")
		if _, err := fmt.Sscanf(err.Error(), "stack: memory of 1024 bytes: want at least %d", &bytes); err != nil {
			t.Fatal(err)
		}
		return bytes
	}
	few, many := least(10), least(20010)
	// Two entries of three numbers, two checksums, a text and a state, and a mark.
	if grown := float64(many-few) / 20000; grown < 80 || grown > 130 {
		t.Errorf("%v bytes a frame", grown)
	}
	for bytes, fits := range map[int]bool{few: true, few - 1: false} {
		l := s.layout.clone()
		l.Frames = 10
		_, err := Image(background, filepath.Join(t.TempDir(), "a.json"), s.plans, &l, s.source(upTo(3), nil), &Options{Memory: int64(bytes)})
		if (err == nil) != fits {
			t.Errorf("%d bytes: error %v", bytes, err)
		}
	}
}
