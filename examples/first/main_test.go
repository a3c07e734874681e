// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestRun checks the first indication against the root notch of the simulated weld: x = 16 mm,
// from 13.5 mm to the back wall at 16 mm.
func TestRun(t *testing.T) {
	var out bytes.Buffer
	if err := run(context.Background(), "../../testdata/weld32.json", &out); err != nil {
		t.Fatal(err)
	}
	var id int
	var x, z, level, top, bottom float64
	const line = "%d: x = %f mm, z = %f mm, %f dB, from %f to %f mm deep"
	if _, err := fmt.Sscanf(out.String(), line, &id, &x, &z, &level, &top, &bottom); err != nil {
		t.Fatalf("%q: %v", out.String(), err)
	}
	check.Within(t, "number", float64(id), 1, 0)
	check.Within(t, "x in mm", x, 16, 0.3)
	check.Within(t, "z in mm", z, 15.75, 0.3)
	check.Within(t, "level in dB", level, 0, 0)
	check.Within(t, "height in mm", bottom-top, 2.5, 0.6)
	if err := run(context.Background(), "nowhere.json", &out); err == nil {
		t.Error("no error without a capture")
	}
}

// TestREADME checks that the program has every statement that the README shows.
func TestREADME(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	program, err := os.ReadFile("main.go")
	if err != nil {
		t.Fatal(err)
	}
	block := regexp.MustCompile("(?s)```go\n(.*?)```").FindSubmatch(readme)
	if block == nil {
		t.Fatal("the README shows no Go")
	}
	statements := 0
	for line := range strings.Lines(string(block[1])) {
		statement, _, _ := strings.Cut(line, " //")
		statement = strings.TrimSpace(strings.ReplaceAll(statement, `"testdata/weld32.json"`, "name"))
		if statement == "" {
			continue
		}
		statements++
		if !bytes.Contains(program, []byte(statement+"\n")) {
			t.Errorf("the README's %q is not in the program", statement)
		}
	}
	if statements < 6 {
		t.Errorf("%d statements in the README, want at least 6", statements)
	}
}
