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

// TestRun checks that conditioning takes the faults from less than 20 dB under the back
// wall's echo to more than 35 dB, that only the elements' own pulses are clipped, and that
// a picture is there.
func TestRun(t *testing.T) {
	folder := t.TempDir()
	var out strings.Builder
	if err := run(context.Background(), &out, "../../testdata/block16.json", folder); err != nil {
		t.Fatal(err)
	}
	if want := "16 of 256 traces saturated, 0 of them behind the dead zone"; !strings.Contains(out.String(), want) {
		t.Errorf("no %q in\n%s", want, &out)
	}
	levels := regexp.MustCompile(`the faults are ([\d.]+) dB below the back wall's echo raw, ([\d.]+) dB conditioned`).FindStringSubmatch(out.String())
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
