// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"context"
	"io"
	"math"
	"os"
	"runtime"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// TestScanRoundTrip: every reader reads every layout and every type of samples bit for bit.
func TestScanRoundTrip(t *testing.T) {
	for name, r := range variants(t) {
		for st := Int16; st <= Float64; st++ {
			want := invent(r)
			if st != Int16 {
				want[1].Capture.Data[0] = math.SmallestNonzeroFloat32
			}
			setup, array := fileContent(t, writeScan(t, r, want, st))
			if start := len(array) - 3*len(r.Capture.Data)*sampleTypes[st].size; start%64 != 0 {
				t.Errorf("%s as %v: samples start at byte %d, want a multiple of 64", name, st,
					start)
			}
			for _, reader := range readers {
				t.Run(name+" as "+st.String()+" by "+reader.name, func(t *testing.T) {
					s := check.Must(reader.open(t, setup, array))
					if n := len(s.Frames()); n != 3 || s.SampleType() != st {
						t.Errorf("%d frames of %v, want 3 of %v", n, s.SampleType(), st)
					}
					first := *r
					first.Capture = want[0].Capture
					if diff := cmp.Diff(&first, s.Record()); diff != "" {
						t.Errorf("record (-want +got):\n%s", diff)
					}
					checkFrames(t, s, want)
					if reader.random {
						checkAnyOrder(t, s, want)
					} else if _, err := s.Frame(1); err == nil {
						t.Error("frame 1 after frame 2 of a stream without an error")
					}
					if err := s.Close(); err != nil {
						t.Error(err)
					}
				})
			}
		}
	}
}

func checkAnyOrder(t *testing.T, s *ScanReader, want []fmc.Frame) {
	t.Helper()
	for _, i := range []int{2, 0, 1, 1} {
		got := check.Must(s.Frame(i))
		if diff := cmp.Diff(want[i], got); diff != "" {
			t.Errorf("frame %d (-want +got):\n%s", i, diff)
		}
		got.Capture = nil
		if diff := cmp.Diff(got, s.Frames()[i]); diff != "" {
			t.Errorf("element %d of Frames (-want +got):\n%s", i, diff)
		}
	}
}

// TestScanInt16: Int16 returns the samples of a file of any byte order and any length of its
// header.
func TestScanInt16(t *testing.T) {
	r := variants(t)["listed"]
	setup, array := fileContent(t, writeScan(t, r, invent(r), Int16))
	samples := array[len(array)-3*8*2:]
	swapped := bytes.Clone(samples)
	for i := 0; i < len(swapped); i += 2 {
		swapped[i], swapped[i+1] = swapped[i+1], swapped[i]
	}
	files := map[string]struct {
		array []byte
		view  bool // whether the samples can be used where a mapped file has them
	}{
		"as written": {array, littleEndian},
		"big-endian": {file(dictionary("'>i2'", "False", "(3, 4, 2)")+" ", swapped), !littleEndian},
		"even":       {file(dictionary("'<i2'", "False", "(3, 4, 2)")+" ", samples), littleEndian},
		"odd":        {file(dictionary("'<i2'", "False", "(3, 4, 2)"), samples), false},
	}
	for name, test := range files {
		for _, reader := range readers {
			s := check.Must(reader.open(t, setup, test.array))
			if _, mapped := s.store.(viewer); mapped {
				if _, mapped := s.view(0); (mapped != nil) != test.view {
					t.Errorf("%s: samples used in the mapped file: %v, want %v", name, mapped != nil,
						test.view)
				}
			}
			for i := range 3 {
				got := check.Must(s.Int16(i))
				frame := check.Must(s.Frame(i))
				want := make([]int16, 8)
				for k := range want {
					want[k] = int16(100*i - k)
				}
				if diff := cmp.Diff(want, got); diff != "" {
					t.Errorf("%s, %s: frame %d (-want +got):\n%s", name, reader.name, i, diff)
				}
				if frame.Capture.Data[7] != float32(want[7]) {
					t.Errorf("%s, %s: frame %d ends in %v, want %v", name, reader.name, i,
						frame.Capture.Data[7], want[7])
				}
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		}
	}
}

// TestScanAllocations: after the first frame no reader allocates memory, for any type of samples.
func TestScanAllocations(t *testing.T) {
	r := invented(t, fmc.HalfPairs(3))
	frames := make([]fmc.Frame, 130)
	for i := range frames {
		frames[i] = fmc.Frame{Index: i, Capture: r.Capture}
	}
	for st := Int16; st <= Float64; st++ {
		setup, array := fileContent(t, writeScan(t, r, frames, st))
		for _, reader := range readers {
			s := check.Must(reader.open(t, setup, array))
			allocations := testing.AllocsPerRun(100, func() {
				_ = check.Must(s.Next(context.Background()))
			})
			if allocations != 0 {
				t.Errorf("%v, %s: %v allocations a frame, want 0", st, reader.name, allocations)
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		}
	}
}

// TestScanOfOneCapture: a record is a scan of one frame.
func TestScanOfOneCapture(t *testing.T) {
	for name, r := range variants(t) {
		setup, array := encode(t, r, Float32)
		for _, reader := range readers {
			s, err := reader.open(t, setup, array)
			if err != nil {
				t.Fatalf("%s, %s: %v", name, reader.name, err)
			}
			checkFrames(t, s, []fmc.Frame{{Capture: r.Capture}})
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		}
	}
}

// TestScanReplaces: the old files stay until Close, also if Close is never called. A reader that is
// open keeps the old frames. On Windows the old array keeps its name.
func TestScanReplaces(t *testing.T) {
	r := invented(t, fmc.FullPairs(3))
	frames := invent(r)
	name := writeScan(t, r, frames, Int16)
	oldSetup, oldArray := fileContent(t, name)
	old := check.Must(OpenScan(name, allow))
	for _, keep := range []bool{false, true} {
		w := check.Must(CreateScan(name, r, Float32))
		if err := w.Append(frames[1]); err != nil {
			t.Fatal(err)
		}
		setup, array := fileContent(t, name)
		if !bytes.Equal(setup, oldSetup) || !bytes.Equal(array, oldArray) {
			t.Error("files changed before Close")
		}
		if keep {
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
		}
		w.Discard()
		if keep && runtime.GOOS == "windows" {
			wantPair(t, name, "a.npy")
		} else {
			wantPair(t, name)
		}
		wantFault(t, w.Append(frames[2]), os.ErrClosed, "")
		wantFault(t, w.Close(), os.ErrClosed, "")
	}
	checkFrames(t, old, frames)
	if err := old.Close(); err != nil {
		t.Error(err)
	}
	fresh := check.Must(OpenScan(name, allow))
	defer fresh.Close()
	checkFrames(t, fresh, frames[1:2])
}

func TestScanNextEnds(t *testing.T) {
	r := invented(t, fmc.FullPairs(3))
	s := check.Must(OpenScan(writeScan(t, r, invent(r)[:1], Int16), allow))
	defer s.Close()
	ctx, cancel := context.WithCancel(context.Background())
	if _, err := s.Next(ctx); err != nil {
		t.Error(err)
	}
	if _, err := s.Next(ctx); err != io.EOF {
		t.Errorf("error %v after the last frame, want io.EOF", err)
	}
	cancel()
	if _, err := s.Next(ctx); err != context.Canceled {
		t.Errorf("error %v, want context.Canceled", err)
	}
}
