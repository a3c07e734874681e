// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// TestLenders checks which views in 16 bits share packed traces, from the strongest sample that
// each of them reads.
func TestLenders(t *testing.T) {
	for _, test := range []struct {
		name      string
		strongest []float32
		lenders   []int
	}{
		{"one echo in all views", []float32{3, 3, 3}, []int{0, 0, 0}},
		{"less than 1 dB", []float32{0.9, 1, 0.895}, []int{0, 0, 0}},
		{"more than 1 dB", []float32{1, 0.885, 1}, []int{0, 1, 0}},
		{"a strong echo in one view", []float32{1, 100, 0.95, 1}, []int{0, 1, 0, 0}},
		{"each is close to the next one, but not to the first", []float32{1, 0.92, 0.85, 0.75}, []int{0, 0, 2, 3}},
		{"nothing in two views", []float32{0, 1e-30, 0}, []int{0, 1, 0}},
	} {
		s := new(sharing)
		for _, strongest := range test.strongest {
			own := &reader{peaks: []float32{0, strongest}}
			s.members = append(s.members, &member{view: &viewScratch{frames: make([]frame, 1)}, frame: &frame16{own: own}})
		}
		s.begin()
		s.regroup()
		for i, m := range s.members {
			lender := s.members[test.lenders[i]]
			if m.view.frames[0] != lender.frame || m.view.borrows != (lender != m) {
				t.Errorf("%s: view %d does not read the traces of view %d", test.name, i, test.lenders[i])
			}
			if !slices.Contains(lender.frame.readers, m.frame.own) {
				t.Errorf("%s: view %d is no reader of view %d", test.name, i, test.lenders[i])
			}
		}
		if s.regroup() {
			t.Errorf("%s: other lenders for the same samples", test.name)
		}
	}
}

// TestSharedScale images frames with and without the echo of an interface, 40 dB above the rest,
// which only the first two views read. The second and the last view have equal paths, so that they
// sum other traces than the others. Each image must keep the error of 16 bits relative to its own
// peak, and depend on nothing but its frame.
func TestSharedScale(t *testing.T) {
	names := []string{"L-T", "T-T", "T-LL", "L-TT", "T-TT", "LL-LL"}
	quiet := randomCapture(70, 6, 1100, fmc.HalfPairs(6))
	loud := *quiet
	loud.Data = slices.Clone(quiet.Data)
	for i := range loud.Data {
		// A tone makes the peaks of all views nearly equal.
		seconds := loud.FirstSample + float64(i%loud.Samples)/loud.SampleRate - 6.4e-6
		tone := 10 * math.Cos(2*math.Pi*5e6*seconds)
		quiet.Data[i] += float32(tone)
		loud.Data[i] = quiet.Data[i] + float32(100*tone*math.Exp(-math.Pow(5e6*seconds, 2)))
	}
	g := check.Must(NewSection(-2e-3, 2e-3, 10e-3, 14e-3, 0.3e-3))
	frames := []*fmc.Capture{quiet, &loud, quiet}
	want := make([][][]complex128, len(frames))
	for f, c := range frames[:2] {
		for _, name := range names {
			tx, rx := tables(plate(), name, c, g)
			want[f] = append(want[f], doubleLoop(t, c, g, tx, rx, Options{}))
		}
	}
	want[2] = want[0]
	eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
		if o.Precision != Fixed16 {
			return
		}
		o.Workers = 2
		views := check.Must(PlanViews(background, quiet, plate(), names, g, &o))
		scratch, images := views.NewScratch(), make([]*Image, len(names))
		for i := range images {
			images[i] = NewImage(g)
		}
		reconstruct := func(c *fmc.Capture) {
			if err := scratch.Reconstruct(background, images, c.Data); err != nil {
				t.Fatal(err)
			}
		}
		for f, c := range frames {
			reconstruct(c)
			for i, level := range scratch.RoundingNoise(1) {
				wantImage(t, images[i].Data, want[f][i], tolerance)
				alone := views.plans[i].NewScratch()
				if err := alone.Reconstruct(background, NewImage(g), c.Data); err != nil {
					t.Fatal(err)
				}
				if own := alone.RoundingNoise(1); !(level >= own-0.01 && level <= own+1.02) {
					t.Errorf("frame %d, %s: rounding noise %.2f dB, want %.2f dB to 1 dB more", f, names[i], level, own)
				}
			}
			for workers := range 3 {
				again := make([]*Image, len(names))
				for i := range again {
					again[i] = NewImage(g)
				}
				if err := views.NewScratchOf(1+workers).Reconstruct(background, again, c.Data); err != nil {
					t.Fatal(err)
				}
				if !cmp.Equal(again, images) {
					t.Errorf("frame %d: other images from new memory, by %d workers", f, 1+workers)
				}
			}
			if o.kernel != "portable" {
				for _, pair := range [][2]int{{0, 4}, {1, 5}} {
					first, second := scratch.scratch.views[pair[0]], scratch.scratch.views[pair[1]]
					if shares := first.frames[0] == second.frames[0]; shares == (f == 1) {
						t.Errorf("frame %d: %s and %s share traces: %t", f, names[pair[0]], names[pair[1]], shares)
					}
				}
			}
		}
		if n := testing.AllocsPerRun(2, func() { reconstruct(quiet); reconstruct(&loud) }); n != 0 {
			t.Errorf("%v allocations in two frames that share other traces, want none", n)
		}
	})
}
