// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/examples/internal/picturetest"
)

// TestRun checks that the faults are less than 20 dB below the echo of the back wall before, and
// more than 35 dB below it after conditioning. Only the pulses of the elements themselves are
// clipped.
func TestRun(t *testing.T) {
	folder := t.TempDir()
	var out strings.Builder
	if err := run(context.Background(), &out, "../../testdata/block16.json", folder); err != nil {
		t.Fatal(err)
	}
	want := "16 of 256 traces saturated, 0 of them after the dead zone"
	if !strings.Contains(out.String(), want) {
		t.Errorf("no %q in\n%s", want, &out)
	}
	line := regexp.MustCompile(`faults are ([\d.]+) dB below the .* raw, ([\d.]+) dB conditioned`)
	levels := line.FindStringSubmatch(out.String())
	if levels == nil {
		t.Fatalf("no levels in\n%s", &out)
	}
	raw, _ := strconv.ParseFloat(levels[1], 64)
	conditioned, _ := strconv.ParseFloat(levels[2], 64)
	if !(raw < 20) || !(conditioned > 35) {
		t.Errorf("faults %v dB below the echo raw, %v dB conditioned", raw, conditioned)
	}
	for _, name := range []string{tracesName, spectraName} {
		picturetest.Readable(t, filepath.Join(folder, name))
	}
}
