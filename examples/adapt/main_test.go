// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/examples/internal/picturetest"
)

// TestRun checks that the echoes lie on the faces of the holes through the found surface, and do
// not through the flat one.
func TestRun(t *testing.T) {
	folder := t.TempDir()
	var out strings.Builder
	if err := run(context.Background(), &out, "../../testdata/wavy32.json", folder); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`(?m)^profile, 10\.9\d mm below the array, lit from -10\.\d to 8\.\d mm, depth ± 1\d µm`,
		`(?s)flat surface assumed:\n(hole [^\n]* echo (0\.[5-9]|[12]\.\d) mm from its face[^\n]*\n){3}`,
		`(?s)through the found surface:\n(hole [^\n]* echo 0\.[01] mm from its face, amplitude [456]\d{4}\n){3}`,
	} {
		if !regexp.MustCompile(want).MatchString(out.String()) {
			t.Errorf("no text like %s in\n%s", want, &out)
		}
	}
	picturetest.Readable(t, filepath.Join(folder, "flat.png"))
	picturetest.Readable(t, filepath.Join(folder, "found.png"))
}
