// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestExplained checks which indications of the view T-L of block16 are explained. The
// longitudinal echoes of the holes arrive first, so the view shows them above the holes.
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

// TestRealNotExplained checks that no indication of the face and the notch of weld32 is explained
// by another echo.
func TestRealNotExplained(t *testing.T) {
	_, r := inspected(t)
	for _, at := range []struct {
		view string
		x, z float64 // mm
	}{
		{"T-T", 19.44, 9.85}, {"T-T", 15.98, 15.94}, {"T-T", 16.02, 13.46},
		{"TT-T", 15.93, 15.85}, {"TT-TT", 15.93, 16},
	} {
		if in := near(t, r, at.view, at.x, at.z, 0.5); in.ExplainedBy != "" {
			t.Errorf("the indication of a reflector at (%v, %v) mm in %s is explained by the %s", at.x, at.z, at.view, in.ExplainedBy)
		}
	}
}
