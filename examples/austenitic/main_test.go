// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/examples/internal/picturetest"
	"github.com/isochron-imaging/isochron/internal/check"
)

// TestRun compares the output with the kept output, to a pixel and to 0.2 dB, and with the truth: the
// bent rays put each hole within 0.2 mm of its face, and from above the straight rays put it more
// than 1 mm away.
func TestRun(t *testing.T) {
	t.Chdir("../..")
	name := filepath.Join(t.TempDir(), "austenitic.png")
	var out strings.Builder
	if err := run(t.Context(), &out, name, skip); err != nil {
		t.Fatal(err)
	}
	picturetest.Readable(t, name)
	kept := strings.Fields(string(check.Must(os.ReadFile("examples/austenitic/table.txt"))))
	got := strings.Fields(out.String())
	if len(got) > len(kept) || len(got) < len(kept)/2 {
		t.Fatalf("output with %d words, want %d or the first half:\n%s", len(got), len(kept), &out)
	}
	for i, word := range got {
		want, err := strconv.ParseFloat(kept[i], 64)
		if err != nil {
			if kept[i] != word {
				t.Errorf("word %q, want %q", word, kept[i])
			}
			continue
		}
		value, err := strconv.ParseFloat(word, 64)
		if err != nil || !(math.Abs(value-want) <= 0.2) {
			t.Errorf("value %s, want %s", word, kept[i])
		}
	}
	rows := 0
	for line := range strings.Lines(out.String()) {
		words := strings.Fields(line)
		if len(words) != 8 {
			continue
		}
		rows++
		off := check.Must(strconv.ParseFloat(words[7], 64))
		shadow := words[0] == "LL-LL" && words[2] == "-3.0"
		if words[1] == "bent" && !shadow && !(math.Abs(off) <= 0.2) || words[0] == "L-L" && words[1] == "straight" && !(off > 1) {
			t.Errorf("%s, %s rays put a hole %v mm from its face", words[0], words[1], off)
		}
	}
	if want := map[bool]int{false: 6, true: 12}[skip]; rows != want {
		t.Errorf("%d rows, want %d", rows, want)
	}
}
