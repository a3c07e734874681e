// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build unix || windows

package stack

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm/stream"
)

// victim is an environment variable. In a test binary that is to be killed it names the .json file
// of the stack to make.
const victim = "ISOCHRON_STACK_VICTIM"

// TestKilled kills processes that go on with one stack, until it is complete. The files have the
// bytes of a run that was not killed.
func TestKilled(t *testing.T) {
	const frames = 30
	s := newScene(t, frames, Int16, nil)
	if name := os.Getenv(victim); name != "" {
		inner := s.source(upTo(frames), nil)
		_, err := Image(background, name, s.plans, s.layout, func(ctx context.Context, f *stream.Frame) error {
			if err := inner(ctx, f); err != nil {
				select {} // until it is killed
			}
			if f.Index == 0 {
				fmt.Println("reading")
			}
			time.Sleep(500 * time.Microsecond)
			return nil
		}, nil)
		t.Fatal(err)
	}
	_, want := s.whole(t, upTo(frames), nil)
	random := rand.New(rand.NewPCG(5, 6))
	name := filepath.Join(t.TempDir(), "a.json")
	for range 4 {
		check.Killed(t, victim, name, time.Duration(random.IntN(5000))*time.Microsecond)
	}
	report := check.Must(Image(background, name, s.plans, s.layout, s.source(upTo(frames), nil), nil))
	if report.Held == 0 || report.Imaged+report.Held != frames {
		t.Errorf("report %+v: want some of %d frames held", report, frames)
	}
	wantFiles(t, name, want)
}
