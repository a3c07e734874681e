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

// TestRun checks that the report names the two planted faults and no other fault. After the repair
// the echoes agree with the sound array within half a decibel.
func TestRun(t *testing.T) {
	folder := t.TempDir()
	var out strings.Builder
	if err := run(context.Background(), &out, "../../testdata/block16.json", folder); err != nil {
		t.Fatal(err)
	}
	if got := strings.Count(out.String(), "limit"); got != 2 {
		t.Errorf("%d findings, want 2", got)
	}
	for _, want := range []string{"dead: element 5:", "reversed: element 10:", "left out: elements [5]; turned: [10]"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, &out)
		}
	}
	holes := regexp.MustCompile(`(?m)^hole \d at .*: +(-?[\d.]+) spoilt, +(-?[\d.]+) repaired$`).FindAllStringSubmatch(out.String(), -1)
	if len(holes) != 4 {
		t.Fatalf("%d holes in\n%s", len(holes), &out)
	}
	for i, h := range holes {
		spoilt, _ := strconv.ParseFloat(h[1], 64)
		repaired, _ := strconv.ParseFloat(h[2], 64)
		if !(spoilt < -2) || !(repaired > -0.5 && repaired < 0.5) {
			t.Errorf("hole %d: %v dB spoilt, %v dB repaired", i+1, spoilt, repaired)
		}
	}
	for _, name := range []string{"sound", "spoilt", "repaired"} {
		picturetest.Readable(t, filepath.Join(folder, "judge-"+name+".png"))
	}
}
