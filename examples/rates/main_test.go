// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"regexp"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestRun checks the lines of the output. It does not check the speed of the machine.
func TestRun(t *testing.T) {
	var out strings.Builder
	if err := run(t.Context(), &out, "A", 1, 0); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`(?m)^ +16 KB at +\d+ GB/s$`,
		`(?m)^ +A +16 +136 +65536 +single +\w+ +[\d.e+]+ +[\d.]+ +[\d.e+]+ +[\d.]+ ×$`,
		`(?m)^ +A +16 +136 +65536 +fixed16 +\w+ +[\d.e+]+ +[\d.]+ +[\d.e+]+ +[\d.]+ ×$`,
	} {
		if !regexp.MustCompile(want).MatchString(out.String()) {
			t.Errorf("no line like %s in\n%s", want, &out)
		}
	}
}

// TestRunErrors checks the errors of flags out of range.
func TestRunErrors(t *testing.T) {
	var out strings.Builder
	check.Error(t, run(t.Context(), &out, "F", 1, 0), `case "F": want one of A to E`)
	check.Error(t, run(t.Context(), &out, "A", 0, 0), "0 turns: want at least 1")
}
