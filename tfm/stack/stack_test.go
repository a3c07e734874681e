// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
)

// invented returns a layout of two views, with invented states.
func invented(values Values) *Layout {
	l := &Layout{
		Grid:   check.Must(tfm.NewSection(1e-3, 7e-3, 2e-3, 6e-3, 1e-3)),
		Views:  []View{{Name: "T-T", Reference: 1000}, {Name: "TT-T", Reference: 250}},
		Frames: 6, Pitch: 1e-3, Values: values, Origin: "invented",
	}
	l.Views[1].States = make([]tfm.State, l.Grid.Len())
	l.Views[1].States[3] = tfm.NoRay
	l.Views[1].States[5] = tfm.NoRay | tfm.Blank
	return l
}

// images returns the invented images of a frame.
func images(l *Layout, frame int) (images []*tfm.Envelope) {
	rng := rand.New(rand.NewPCG(uint64(frame), 1))
	for _, v := range l.Views {
		e := tfm.NewImage(l.Grid).Envelope(nil)
		e.States = v.States
		for i := range e.Data {
			if e.State(i)&tfm.Blank == 0 {
				e.Data[i] = float32(1000 * math.Exp(3*rng.NormFloat64()))
			}
		}
		images = append(images, e)
	}
	return images
}

// frame returns what is put for a frame.
func frame(index int) Frame {
	return Frame{Index: index, State: Imaged, Position: float64(index) * 1e-3, Time: float64(index) / 10, Samples: uint32(index + 7)}
}

// TestRoundTrip writes images and reads them.
func TestRoundTrip(t *testing.T) {
	for _, values := range []Values{Float32, Int16} {
		l := invented(values)
		name := filepath.Join(t.TempDir(), "a.json")
		w := check.Must(Create(name, l, 0, l.Frames))
		for _, i := range []int{4, 0, 1, 2} {
			if err := w.Put(frame(i), images(l, i)); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Put(Frame{Index: 3, State: Refused, Reason: "bad sample"}, nil); err != nil {
			t.Fatal(err)
		}
		if err := w.Finish(); err != nil {
			t.Fatal(err)
		}
		s := check.Must(Open(name))
		defer s.Close()
		for _, i := range []int{0, 1, 2, 4} {
			for v, want := range images(l, i) {
				got := check.Must(s.Envelope(nil, i, v))
				for p := range want.Data {
					limit := 0.0
					if values == Int16 {
						limit = 6e-4 * float64(want.Data[p])
					}
					check.Within(t, "amplitude", float64(got.Data[p]), float64(want.Data[p]), limit)
					if got.State(p) != want.State(p) {
						t.Errorf("state %v, want %v", got.State(p), want.State(p))
					}
				}
			}
		}
		_, err := s.Envelope(nil, 3, 0)
		check.Error(t, err, "frame 3 is refused")
		_, err = s.Envelope(nil, 5, 0)
		check.Error(t, err, "frame 5 is missing")
	}
}
