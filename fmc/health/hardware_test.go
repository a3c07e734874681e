// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
)

// guide returns the blocks of HARDWARE.md in a language.
func guide(t *testing.T, language string) (blocks []string) {
	t.Helper()
	text := check.Must(os.ReadFile("../HARDWARE.md"))
	for _, block := range regexp.MustCompile("(?s)```"+language+"\n(.*?)```").FindAllSubmatch(text, -1) {
		blocks = append(blocks, string(block[1]))
	}
	if len(blocks) == 0 {
		t.Fatalf("HARDWARE.md shows no %s", language)
	}
	return blocks
}

// TestHardwareGuide checks that the example has every line of the guide, and prints the text of
// the guide. The file that the guide writes is written below.
func TestHardwareGuide(t *testing.T) {
	example := string(check.Must(os.ReadFile("hardware_example_test.go")))
	blocks := guide(t, "go")
	statements := 0
	for line := range strings.Lines(blocks[len(blocks)-1]) {
		statement, _, _ := strings.Cut(strings.TrimSpace(line), " // ")
		if statement = strings.TrimPrefix(statement, "err = "); statement == "" {
			continue
		}
		statements++
		if !strings.Contains(example, statement) {
			t.Errorf("the guide's %q is not in the example", statement)
		}
	}
	if statements < 25 || statements > 35 {
		t.Errorf("%d lines in the guide, want about thirty", statements)
	}
	printed := "\t// " + strings.ReplaceAll(strings.TrimSpace(guide(t, "text")[0]), "\n", "\n\t// ")
	if !strings.HasSuffix(strings.TrimSpace(strings.Split(example, "// fire stands for")[0]), printed+"\n}") {
		t.Errorf("the example does not print\n%s", printed)
	}
}

// TestHardwareFiles reads the set-up of the guide with samples as the C function and NumPy write
// them, and compares it with the file that the Go lines of the guide write.
func TestHardwareFiles(t *testing.T) {
	buffers := check.Must(fire())
	array := check.Must(fmc.LinearArray(16, 1e-3, fmc.Array{Width: 0.8e-3, CentreFrequency: 3e6, Bandwidth: 0.6}))
	capture := check.Must(fmc.New(fmc.Capture{
		Array: array, Pairs: fmc.FullPairs(16), Samples: 1000, SampleRate: 50e6, FirstSample: -0.832847e-6,
	}))
	var samples []int16
	for _, buffer := range buffers {
		samples = append(samples, buffer...)
	}
	check.Must(0, capture.SetInt16(samples))
	part := npy.Material{Name: "aluminium", Density: 2700, Longitudinal: 6320, Transverse: 3130}

	name := filepath.Join(t.TempDir(), "mine.json")
	record := &npy.Record{Title: "16 elements on a block of aluminium", Capture: capture, Part: part, Thickness: 40e-3}
	err := npy.WriteFile(name, record, npy.Int16)
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(guide(t, "go")[0]) {
		statement, _, _ := strings.Cut(strings.TrimSpace(line), " // ")
		if source := string(check.Must(os.ReadFile("hardware_test.go"))); !strings.Contains(source, strings.Replace(statement, "err = ", "err := ", 1)) {
			t.Errorf("the guide's %q is not in this test", statement)
		}
	}

	var setup map[string]any
	check.Must(0, json.Unmarshal([]byte(guide(t, "json")[0]), &setup))
	var centres [][2]float64
	for _, e := range array.Elements {
		centres = append(centres, [2]float64{e.X, e.Z})
	}
	setup["array"].(map[string]any)["element_centres_m"] = centres
	text := check.Must(json.Marshal(setup))
	npyFile := check.Must(os.ReadFile(filepath.Join("..", "..", "testdata", "block16.npy")))
	got, err := npy.Read(bytes.NewReader(text), bytes.NewReader(npyFile), nil)
	if err != nil {
		t.Fatal(err)
	}
	want := check.Must(npy.ReadFile(name, nil))
	got.Notes = nil
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("the set-up of the guide differs from the file (-file +guide):\n%s", diff)
	}
}

// TestHardwareChecks checks that the table of checks names every kind of finding of a capture.
func TestHardwareChecks(t *testing.T) {
	text := string(check.Must(os.ReadFile("../HARDWARE.md")))
	for _, kind := range []health.Kind{
		health.Dead, health.Weak, health.Uncoupled, health.Reversed, health.Drift, health.Noisy, health.Offset,
		health.Saturated, health.CrossTalk, health.Reciprocity, health.LowSNR, health.WrongFrequency, health.NarrowBand,
		health.Interference, health.LostShots, health.Jitter, health.Spike, health.Coarse, health.Exchanged, health.WrongRate,
	} {
		if !strings.Contains(text, "`"+string(kind)+"`") {
			t.Errorf("HARDWARE.md does not name %q", kind)
		}
	}
}

// TestHardwareDrawing checks that the drawing is well-formed and fetches nothing.
func TestHardwareDrawing(t *testing.T) {
	drawing := check.Must(os.ReadFile("../hardware.svg"))
	decoder := xml.NewDecoder(bytes.NewReader(drawing))
	for {
		if _, err := decoder.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, bad := range []string{"href", "<script", "<image", "url("} {
		if bytes.Contains(drawing, []byte(bad)) {
			t.Errorf("the drawing holds %q", bad)
		}
	}
}
