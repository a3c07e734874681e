// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"regexp"
	"strings"
	"testing"
)

// TestRun checks what is printed, not how fast the machine is.
func TestRun(t *testing.T) {
	var out strings.Builder
	if err := run(context.Background(), &out, "A", 1, 0); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`(?m)^ +16 KB at +\d+ GB/s$`,
		`(?m)^ +A +16 +136 +65536 +float32 +\w+ +[\d.e+]+ +[\d.]+ +[\d.e+]+ +[\d.]+ ×$`,
		`(?m)^ +A +16 +136 +65536 +int16 +\w+ +[\d.e+]+ +[\d.]+ +[\d.e+]+ +[\d.]+ ×$`,
	} {
		if !regexp.MustCompile(want).MatchString(out.String()) {
			t.Errorf("no line like %s in\n%s", want, &out)
		}
	}
}

func TestRunErrors(t *testing.T) {
	var out strings.Builder
	if err := run(context.Background(), &out, "F", 1, 0); err == nil || !strings.Contains(err.Error(), `case "F": want one of A to E`) {
		t.Errorf("error %v of a case that there is not", err)
	}
	if err := run(context.Background(), &out, "A", 0, 0); err == nil || !strings.Contains(err.Error(), "0 turns: want at least 1") {
		t.Errorf("error %v of no turns", err)
	}
}
