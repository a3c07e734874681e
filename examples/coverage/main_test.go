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

// TestRun checks which flaws the views cover. The beam of about 60° meets the right bevel at a
// right angle. A vertical flaw shows near the root, where the beam comes back from the corner.
func TestRun(t *testing.T) {
	name := filepath.Join(t.TempDir(), "coverage.png")
	var out strings.Builder
	if err := run(context.Background(), &out, "../../testdata/weld32.json", name); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`T-T +shows a planar flaw of 3 mm, tilt 30° in +[67]\d % of the weld`,
		`TT-T +shows a planar flaw of 3 mm, tilt 0° in +[12]\d % of the weld`,
		`TT-TT +shows a planar flaw of 3 mm, tilt -30° in +[0-5] % of the weld`,
	} {
		if !regexp.MustCompile(want).MatchString(out.String()) {
			t.Errorf("no line like %s in\n%s", want, &out)
		}
	}
	picturetest.Readable(t, name)
}
