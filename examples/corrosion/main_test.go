// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/examples/internal/picturetest"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/thickness"
)

// TestRun checks the pits, the error and the files against the plate that was computed. The digits
// that are compared do not depend on the processor.
func TestRun(t *testing.T) {
	if testing.Short() {
		t.Skip("computes the frames of a scan for some seconds")
	}
	folder := t.TempDir()
	var out strings.Builder
	if err := run(context.Background(), &out, folder); err != nil {
		t.Fatal(err)
	}
	pits := regexp.MustCompile(`(?m)^ .* (\d+\.\d+) \| .* (\d+\.\d+)$`).FindAllStringSubmatch(out.String(), -1)
	if len(pits) != 3 {
		t.Fatalf("%d pits seen, want 3:\n%s", len(pits), &out)
	}
	for _, p := range pits {
		truth, _ := strconv.ParseFloat(p[1], 64)
		read, _ := strconv.ParseFloat(p[2], 64)
		check.Within(t, "thickness over a pit", read, truth, 0.03)
	}
	share := regexp.MustCompile(`mean error (-?[\d.]+) mm, ([\d.]+) %`).FindStringSubmatch(out.String())
	bias, _ := strconv.ParseFloat(share[1], 64)
	held, _ := strconv.ParseFloat(share[2], 64)
	check.Within(t, "mean error in mm", bias, 0, 0.02)
	if !(held >= 95) {
		t.Errorf("%v %% within the uncertainty of 95 %%", held)
	}
	for _, want := range []string{"not scanned    18 cells", "no echo        36 cells"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, &out)
		}
	}

	picturetest.Readable(t, filepath.Join(folder, "corrosion.png"))
	lines := check.Must(csv.NewReader(check.Must(os.Open(filepath.Join(folder, "corrosion.csv")))).ReadAll())
	if want := frames*passes*beams + 1; len(lines) != want {
		t.Errorf("%d lines of CSV, want %d", len(lines), want)
	}
	var summary struct {
		Thickness thickness.Statistics
		Pits      []thickness.Pit
	}
	text := check.Must(os.ReadFile(filepath.Join(folder, "corrosion.json")))
	if err := json.Unmarshal(text, &summary); err != nil {
		t.Fatal(err)
	}
	check.Within(t, "minimum in mm", summary.Thickness.Minimum.Thickness/mm, 6.805, 0.03)
}
