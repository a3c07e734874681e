// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/examples/internal/picturetest"
)

// TestRun checks that there are eight rays, and that they are 10 to 50 ns early: along the rays,
// the weld metal is faster than the parent metal.
func TestRun(t *testing.T) {
	name := filepath.Join(t.TempDir(), "austenitic.png")
	var out strings.Builder
	if err := run(&out, name); err != nil {
		t.Fatal(err)
	}
	rows := regexp.MustCompile(`(?m)^ +-\d\d +([\d.]+) +([\d.]+) +(\d+) +([\d.]+)$`).FindAllStringSubmatch(out.String(), -1)
	if len(rows) != 8 {
		t.Fatalf("%d rays in\n%s", len(rows), &out)
	}
	for _, row := range rows {
		early, _ := strconv.ParseFloat(row[3], 64)
		way, _ := strconv.ParseFloat(row[4], 64)
		if !(early >= 10 && early < 50) || !(way > 0.5 && way < 3) {
			t.Errorf("ray %q: want 10 to 50 ns early, 0.5 to 3 mm from straight", row[0])
		}
	}
	picturetest.Readable(t, name)
}
