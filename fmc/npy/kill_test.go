// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build unix || windows

package npy

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// victim is an environment variable. In a test binary that is to be killed it names the .json file
// to write.
const victim = "ISOCHRON_NPY_VICTIM"

// TestScanKilled kills a process in the middle of a scan. The old pair stays, with two files whose
// names end in .tmp.
func TestScanKilled(t *testing.T) {
	r := invented(t, fmc.FullPairs(3))
	if name := os.Getenv(victim); name != "" {
		writeForEver(t, name, r)
	}
	frames := invent(r)
	name := writeScan(t, r, frames, Int16)
	check.Killed(t, victim, name, 0)
	s := check.Must(OpenScan(name, allow))
	defer s.Close()
	checkFrames(t, s, frames)
	unfinished, err := filepath.Glob(filepath.Join(filepath.Dir(name), "*.tmp"))
	if err != nil || len(unfinished) != 2 {
		t.Errorf("unfinished files %q, %v, want two", unfinished, err)
	}
	for i := range unfinished {
		unfinished[i] = filepath.Base(unfinished[i])
	}
	wantPair(t, name, unfinished...)
}

// writeForEver appends frames to a scan until the process is killed.
func writeForEver(t *testing.T, name string, r *Record) {
	w := check.Must(CreateScan(name, r, Float64))
	for i := 0; ; i++ {
		if err := w.Append(fmc.Frame{Index: i, Capture: r.Capture}); err != nil {
			t.Fatal(err)
		}
		if i == 1000 {
			fmt.Println("writing")
		}
	}
}

// TestReplacingKilled kills processes that keep replacing a record. One of their records stays, and
// never a set-up with other samples.
func TestReplacingKilled(t *testing.T) {
	if name := os.Getenv(victim); name != "" {
		replaceForEver(t, name)
	}
	name := filepath.Join(t.TempDir(), "a.json")
	random := rand.New(rand.NewPCG(1, 2))
	for range 5 {
		check.Killed(t, victim, name, time.Duration(random.IntN(50))*time.Millisecond)
		got := check.Must(ReadFile(name, allow))
		i := 0
		if _, err := fmt.Sscan(got.Title, &i); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(numbered(t, i), got); diff != "" {
			t.Errorf("record (-want +got):\n%s", diff)
		}
	}
}

// replaceForEver replaces a record until the process is killed.
func replaceForEver(t *testing.T, name string) {
	for i := 0; ; i++ {
		if err := WriteFile(name, numbered(t, i), Int16); err != nil {
			t.Fatal(err)
		}
		if i == 1 {
			fmt.Println("writing")
		}
	}
}

// numbered returns a record whose title and samples are a number.
func numbered(t testing.TB, i int) *Record {
	pairs := fmc.HalfPairs(3)
	if i%2 == 1 {
		pairs = fmc.FullPairs(3)
	}
	r := invented(t, pairs)
	r.Title = fmt.Sprint(i)
	for k := range r.Capture.Data {
		r.Capture.Data[k] = float32(i)
	}
	return r
}
