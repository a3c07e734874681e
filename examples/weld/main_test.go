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

// TestRun checks the position of each indication in the weld: the lack of fusion lies on the right
// bevel, and the notch at a root face.
func TestRun(t *testing.T) {
	name := filepath.Join(t.TempDir(), "weld.png")
	var out strings.Builder
	if err := run(context.Background(), &out, "../../testdata/weld32.json", name); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`skips 1: a beam of -60°`,
		`(?m)^ +1 +19\.\d +9\.\d +0\.0 +6\d %.* -?0\.[01] +right bevel +(29|30|31) +30$`,
		`(?m)^ +2 +1[56]\.\d +15\.\d .* root face`,
	} {
		if !regexp.MustCompile(want).MatchString(out.String()) {
			t.Errorf("no line like %s in\n%s", want, &out)
		}
	}
	picturetest.Readable(t, name)
}
