// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestExplained checks which indications of the view T-L of block16 are explained. The longitudinal
// echoes of the holes arrive first, so the view shows them above the holes.
func TestExplained(t *testing.T) {
	folder, r := inspected(t, "-capture", "testdata/block16.json", "-view", "T-L")
	for _, test := range []struct {
		x, z float64 // mm
		want string
	}{
		{-6.8, 6.4, "L-L echo of the hole at x -9.0 mm, z 10.0 mm"},
		{-2.1, 10.8, "L-L echo of the hole at x -3.0 mm, z 17.0 mm"},
		{2.3, 15.4, "L-L echo of the hole at x 3.0 mm, z 24.0 mm"},
		{5.6, 20.3, "L-L echo of the hole at x 9.0 mm, z 31.0 mm"},
	} {
		if got := near(t, r, "T-L", test.x, test.z, 0.5).ExplainedBy; got != test.want {
			t.Errorf("indication at (%v, %v) mm is explained by %q, want %q", test.x, test.z, got, test.want)
		}
	}
	text := string(check.Must(os.ReadFile(filepath.Join(folder, "indications.json"))))
	if n := strings.Count(text, `"explained_by": "`); n < 4 {
		t.Errorf("the file has %d fields explained_by, want at least 4", n)
	}
}

// TestRealNotExplained checks that nothing is explained in the default run of weld32: both of its
// reflectors are real.
func TestRealNotExplained(t *testing.T) {
	_, r := inspected(t)
	if text := string(check.Must(json.Marshal(r))); strings.Contains(text, "explained_by") {
		t.Errorf("an indication of a real reflector is explained: %s", text)
	}
}
