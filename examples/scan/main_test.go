// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/examples/internal/picturetest"
	"github.com/isochron-imaging/isochron/examples/internal/scanfile"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/report"
	"github.com/isochron-imaging/isochron/sizing/volume"
)

const stored = "../../testdata/scan/weld16.json"

// TestInvented images the invented weld. The lines with the lost frames and the poor coupling must say
// what was planted. The two planar flaws must lie where they are, with their true lengths within
// the limits that the list states.
func TestInvented(t *testing.T) {
	if testing.Short() {
		t.Skip("computes the frames of a scan for some seconds")
	}
	o := options{out: t.TempDir(), views: "TT-TT,TT-T", frames: 90, elements: 8}
	var out strings.Builder
	if err := run(t.Context(), &out, io.Discard, o); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"87 frames of 8 elements, 1 mm apart",
		"lost frames: frames 27 to 29, 26 to 30 mm: 3, limit 0",
		"coupling loss of back wall: frames 55 to 58, 55 to 58 mm: 9",
		"a side-drilled hole of 1.5 mm shows within 12 dB of its best place in 9", // 3 of 90 frames are lost, 4 are 9 dB too low
	} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, &out)
		}
	}
	for _, name := range []string{"plan.png", "side.png", "end.png", "coverage.png"} {
		picturetest.Readable(t, filepath.Join(o.out, name))
	}
	var flaws []flaw.Flaw
	if err := json.Unmarshal(check.Must(os.ReadFile(filepath.Join(o.out, "flaws.json"))), &flaws); err != nil {
		t.Fatal(err)
	}
	if len(flaws) < 3 {
		t.Fatalf("%d flaws: want the two planar ones and pores:\n%s", len(flaws), &out)
	}
	checkNear(t, "notch", flaws[0], 33, 16, 37.374, 49.111)
	checkNear(t, "lack of fusion", flaws[1], 27.3, 5, 7.841, 22.041)
	if from, to := flaws[2].Along.From, flaws[2].Along.To; !(from > 65*mm && to < 81*mm) {
		t.Errorf("pores from s = %v to %v m: want within 65 to 81 mm", from, to)
	}
	record := check.Must(report.Read(check.Must(os.Open(filepath.Join(o.out, "record.json")))))
	if record.Scan == nil || len(record.Files) != 4 {
		t.Errorf("record with scan %v and %d files: want both", record.Scan, len(record.Files))
	}
	if n := len(record.ScanFlaws); n != len(flaws) {
		t.Errorf("%d flaws of the whole scan in the record: want all %d of the list", n, len(flaws))
	}
	if record.Flaws[0].Along == nil {
		t.Error("the strongest flaw of the record has no extent along the scan")
	}
}

// TestSound images a weld without flaws. Nothing may be listed, and the pictures must be there.
func TestSound(t *testing.T) {
	const step = 1 * mm
	folder := t.TempDir()
	part, recording, err := synth.ButtWeld(8, 30*step, 1)
	if err != nil {
		t.Fatal(err)
	}
	part.Flaws = nil
	pass := synth.Pass{Positions: synth.Steps(0, step, 5), Noise: 0.002, Bits: 14, Seed: 1}
	sound := check.Must(synth.NewScan(t.Context(), part, pass, recording))
	o := options{scan: filepath.Join(folder, "sound.json"), out: filepath.Join(folder, "out"), views: "TT-T"}
	file := check.Must(scanfile.Record(part, sound, "weld without flaws"))
	if err := scanfile.Write(t.Context(), o.scan, file, sound.Source(0, sound.Len())); err != nil {
		t.Fatal(err)
	}
	if err := scanfile.NewTruth("no flaws", part, nil).Write(o.scan); err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	if err := run(t.Context(), &out, io.Discard, o); err != nil {
		t.Fatal(err)
	}
	if list := string(check.Must(os.ReadFile(filepath.Join(o.out, "flaws.json")))); strings.TrimSpace(list) != "[]" {
		t.Errorf("flaws of a weld without flaws:\n%s\n%s", list, &out)
	}
	check.Must(os.Stat(filepath.Join(o.out, "plan.png")))
	if !strings.Contains(out.String(), "no page") {
		t.Errorf("no word on the page in\n%s", &out)
	}
}

// TestAnotherScan: the invented weld does not replace a scan whose stack would then refuse it.
func TestAnotherScan(t *testing.T) {
	folder := t.TempDir()
	part, recording, err := synth.ButtWeld(8, 30*mm, 1)
	if err != nil {
		t.Fatal(err)
	}
	scan := check.Must(synth.NewScan(t.Context(), part, synth.Pass{Positions: synth.Steps(0, 1*mm, 2), Bits: 14}, recording))
	name := filepath.Join(folder, "weld.json")
	if err := scanfile.Write(t.Context(), name, check.Must(scanfile.Record(part, scan, "two frames")), scan.Source(0, 2)); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, "stack.json"), nil, 0o666); err != nil {
		t.Fatal(err)
	}
	before := check.Must(os.ReadFile(name))
	ctx, cancel := context.WithCancel(t.Context())
	cancel() // nothing may be computed
	err = run(ctx, io.Discard, io.Discard, options{out: folder, views: "TT-T", frames: 90, elements: 10})
	check.Error(t, err, "2 frames of 8 elements", "another folder")
	if !bytes.Equal(before, check.Must(os.ReadFile(name))) {
		t.Error("the scan was replaced")
	}
}

// checkNear compares a flaw with the true place of its strongest tip or corner and its true ends along
// the scan, in mm.
func checkNear(t *testing.T, name string, f flaw.Flaw, x, z, from, to float64) {
	t.Helper()
	check.Within(t, name+": x in mm", f.X/mm, x, 0.5)
	check.Within(t, name+": z in mm", f.Z/mm, z, 0.5)
	check.Within(t, name+": start in mm", f.Along.From/mm, from, 0.5)
	check.Within(t, name+": end in mm", f.Along.To/mm, to, 0.5)
	if length := (to - from) * mm; !(length >= f.Along.Least) || f.Along.Most != nil && !(length <= *f.Along.Most) {
		t.Errorf("%s: true length %v m: want it within the limits %v and %v", name, length, f.Along.Least, f.Along.Most)
	}
}

// TestParts images a stored scan in three parts, one of them twice, as after a worker whose end nobody saw.
// The merged stack must have the bytes of one run.
func TestParts(t *testing.T) {
	folder := t.TempDir()
	o := options{scan: stored, out: folder, views: "TT-T"}
	do := func(part, merge, name string) error {
		o := o
		o.part, o.merge, o.stack = part, merge, name
		return run(t.Context(), io.Discard, io.Discard, o)
	}
	whole, merged := filepath.Join(folder, "whole", "stack.json"), filepath.Join(folder, "merged", "stack.json")
	if err := do("1/1", "", whole); err != nil {
		t.Fatal(err)
	}
	for _, k := range []string{"1", "2", "3", "2"} {
		if err := do(k+"/3", "", filepath.Join(folder, "parts", k+".json")); err != nil {
			t.Fatal(err)
		}
	}
	pattern := filepath.Join(folder, "parts", "*.json")
	if err := do("", pattern, merged); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"stack.json", "stack.npy"} {
		a := check.Must(os.ReadFile(filepath.Join(filepath.Dir(whole), name)))
		if b := check.Must(os.ReadFile(filepath.Join(filepath.Dir(merged), name))); !bytes.Equal(a, b) {
			t.Errorf("%s differs from the file of one run", name)
		}
	}
	if err := os.Remove(filepath.Join(folder, "parts", "2.json")); err != nil {
		t.Fatal(err)
	}
	check.Error(t, do("", pattern, filepath.Join(folder, "holes.json")), "13 frames are in no part", "frame 13")
	check.Error(t, do("", filepath.Join(folder, "none", "*"), merged), "no such file")
	check.Error(t, do("4/3", "", merged), "-part 4/3")
	check.Error(t, do("1/100", "", merged), "no more parts than frames")
	check.Error(t, do("1/2/3", "", merged), "-part 1/2/3")
	check.Error(t, run(t.Context(), io.Discard, io.Discard, options{out: folder, views: "TT-TT", frames: 89, elements: 8}), "-frames 89: want at least 90")
}

// TestExplain asks whether places of a stored scan are ghosts of its lack of fusion, whose lower tip
// lies at x = 28.8 mm, z = 7.7 mm in frame 6. A place where the flaw itself shows is no ghost.
func TestExplain(t *testing.T) {
	s, err := open(t.Context(), options{scan: stored, views: "TT-TT,TT-T"})
	if err != nil {
		t.Fatal(err)
	}
	defer s.file.Close()
	tip := entry{Indication: volume.Indication{X: 28.7 * mm, Z: 7.3 * mm, Drop: volume.Extent{From: 8 * mm, To: 22 * mm}}}
	for _, row := range []struct {
		name, view string
		x, z       float64 // mm
		ghost      bool
	}{
		{"the tip in the other view", "TT-T", 32.3, 6.2, true},
		{"the upper tip", "TT-TT", 27.4, 5.3, false},
	} {
		f := entry{Indication: volume.Indication{X: row.x * mm, Z: row.z * mm, S: 13.5 * mm}, views: []string{row.view}, frame: 6}
		if err := s.explain(t.Context(), &f, []entry{tip}); err != nil {
			t.Fatal(err)
		}
		if (f.ghost != "") != row.ghost || row.ghost && !strings.Contains(f.ghost, "TT-TT echo") {
			t.Errorf("%s: explained by %q, want a ghost: %v", row.name, f.ghost, row.ghost)
		}
	}
}
