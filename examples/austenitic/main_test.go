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

// TestRun compares the output with the kept output, to a pixel and to 0.2 dB, and with the truth:
// the bent rays put each hole within 0.2 mm of its face, the straight rays more than 1 mm away.
func TestRun(t *testing.T) {
	t.Chdir("../..")
	name := filepath.Join(t.TempDir(), "austenitic.png")
	var out strings.Builder
	if err := run(t.Context(), &out, name); err != nil {
		t.Fatal(err)
	}
	picturetest.Readable(t, name)
	kept := strings.Fields(string(check.Must(os.ReadFile("examples/austenitic/table.txt"))))
	got := strings.Fields(out.String())
	if len(got) != len(kept) {
		t.Fatalf("output with %d words, want %d:\n%s", len(got), len(kept), &out)
	}
	for i, word := range kept {
		want, err := strconv.ParseFloat(word, 64)
		if err != nil {
			if got[i] != word {
				t.Errorf("word %q, want %q", got[i], word)
			}
			continue
		}
		value, err := strconv.ParseFloat(got[i], 64)
		if err != nil || !(math.Abs(value-want) <= 0.2) {
			t.Errorf("value %s, want %s", got[i], word)
		}
	}
	rows := 0
	for line := range strings.Lines(out.String()) {
		words := strings.Fields(line)
		if len(words) != 7 {
			continue
		}
		rows++
		off := check.Must(strconv.ParseFloat(words[6], 64))
		if straight := words[0] == "straight"; straight != !(math.Abs(off) <= 0.2) || straight && !(off > 1) {
			t.Errorf("%s rays put a hole %v mm from its face", words[0], off)
		}
	}
	if rows != 6 {
		t.Errorf("%d rows, want 6", rows)
	}
}
