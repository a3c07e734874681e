// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report_test

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/fmc/scan"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/report"
	"github.com/isochron-imaging/isochron/sizing/tips"
)

// TestRoundTrip checks that a record that is read back is written with the same bytes.
func TestRoundTrip(t *testing.T) {
	r := copied(t)
	r.Calibration = append(r.Calibration, report.Calibration{
		Quantity: "L speed of the part", Unit: "m/s", Value: 6320, Uncertainty: 12, Method: "two back-wall echoes (invented)",
	})
	r.Files = append(r.Files, report.NewFile("L-L.png", "view <L-L> & more", "alternative", []byte("content")))
	r.Scan = scanned(t)
	r.ScanFlaws = []report.ScanFlaw{{ID: 1, Frame: 2, Views: []string{"L-L"}, Along: flaw.Along{To: 2e-3, LengthIs: tips.LowerBound, Least: 1e-3}}}
	first := text(t, r)
	again := check.Must(report.Read(bytes.NewReader(first)))
	if diff := cmp.Diff(first, text(t, again)); diff != "" {
		t.Error(diff)
	}
	if diff := check.Must(report.Compare(r, again)); diff != nil {
		t.Errorf("differences %v", diff)
	}
}

// scanned returns the check of an invented scan. It lacks the frame at 1 mm, and has no times.
func scanned(t *testing.T) *scan.Report {
	t.Helper()
	checker := check.Must(scan.NewChecker(&scan.Options{
		Grid:  scan.Grid{Along: scan.Axis{Step: 1e-3, Steps: 3}},
		Gates: []scan.Gate{{Name: "back wall", Gate: health.Gate{From: 10e-6, To: 20e-6}}},
	}))
	for _, i := range []int{0, 2} {
		c := *capture("block16").Capture
		c.Data = slices.Clone(c.Data)
		c.Data[0] += float32(i)
		if err := checker.Add(fmc.Frame{Index: i, Position: 1e-3 * float64(i), Capture: &c}); err != nil {
			t.Fatal(err)
		}
	}
	return checker.Report()
}

// TestReadRefuses checks that a changed text is refused with the field at fault.
func TestReadRefuses(t *testing.T) {
	whole := string(text(t, holes().Record))
	hash := holes().Record.Capture.Samples
	for _, test := range []struct {
		name, old, new string // the first old is replaced
		kind           error
		word           string
	}{
		{"next version", `"version": 1`, `"version": 2`, report.ErrSchema, "version 2"},
		{"another schema", report.Schema, "other schema", report.ErrSchema, `"other schema"`},
		{"no JSON", "{", "[", report.ErrSchema, ""},
		{"unknown field", `"version": 1`, `"version": 1, "operator": "x"`, report.ErrField, "operator"},
		{"unknown field of a flaw", `"kind":`, `"sort": 1, "kind":`, report.ErrField, "sort"},
		{"repeated field", `"version": 1`, `"version": 1, "version": 1`, report.ErrField, "version comes twice"},
		{"name in capitals", `"settings":`, `"Settings":`, report.ErrField, "settings"},
		{"missing field", `"floor_db": -24,`, ``, report.ErrField, "settings.floor_db"},
		{"infinite number", `"floor_db": -24`, `"floor_db": 1e999`, report.ErrField, "floor_db"},
		{"wrong hash", hash, hash[:60] + "xyz0", report.ErrField, "capture.samples_sha256"},
		{"changed set-up", `"longitudinal_m_s": 6320`, `"longitudinal_m_s": 6321`, report.ErrField, "capture.setup_sha256"},
		{"name with a folder", `"name": "block16"`, `"name": "../block16"`, report.ErrField, "without a folder"},
		{"no flaws", `"flaws": [`, `"flaws": null, "files": [`, report.ErrField, ""},
		{"unknown kind", `"kind": "point"`, `"kind": "crack"`, report.ErrField, `"crack"`},
		{"unknown indication", `"view": "L-L",` + "\n          \"id\": 1,", `"view": "L-L",` + "\n          \"id\": 99,", report.ErrField, "L-L 99"},
		{"view that was not set", `"view": "L-L",` + "\n      \"kernel\"", `"view": "T-T",` + "\n      \"kernel\"", report.ErrField, "views[0].view"},
		{"negative uncertainty", `"level_u_db": 0`, `"level_u_db": -1`, report.ErrField, "uncertainty -1 dB"},
		{"text after the end", "\n}\n", "\n} {}\n", report.ErrSchema, ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			changed := strings.Replace(whole, test.old, test.new, 1)
			if changed == whole {
				t.Fatalf("the record has no %q", test.old)
			}
			_, err := report.Read(strings.NewReader(changed))
			if !errors.Is(err, test.kind) || !strings.Contains(err.Error(), test.word) {
				t.Errorf("error %v, want %v with %q", err, test.kind, test.word)
			}
		})
	}
}

// TestOtherSpelling checks that numbers may be written in another way, as other programs write
// them.
func TestOtherSpelling(t *testing.T) {
	changed := strings.Replace(string(text(t, holes().Record)), `"floor_db": -24`, `"floor_db": -2.40e1`, 1)
	r := check.Must(report.Read(strings.NewReader(changed)))
	if r.Settings.Floor != -24 {
		t.Errorf("floor %v", r.Settings.Floor)
	}
}

// TestWriteRefuses checks that a record out of range is not written, in any form.
func TestWriteRefuses(t *testing.T) {
	for _, test := range []struct {
		name, word string
		change     func(r *report.Record)
	}{
		{"no number", "flaws[0].length_m", func(r *report.Record) { r.Flaws[0].Length = math.NaN() }},
		{"infinite level in a view", "views[0].indications[1].level_db", func(r *report.Record) { r.Views[0].Indications[1].LevelDB = math.Inf(-1) }},
		{"infinite end", "flaws[1].ends_m[0][1]", func(r *report.Record) { r.Flaws[1].Ends = &[2][2]float64{{0, math.Inf(1)}} }},
		{"infinite full scale", "settings.full_scale", func(r *report.Record) { r.Settings.FullScale = float32(math.Inf(1)) }},
		{"another version", "version 7", func(r *report.Record) { r.Version = 7 }},
		{"flaws in disorder", "flaws[0].id", func(r *report.Record) { r.Flaws = r.Flaws[1:] }},
		{"indications in disorder", "views[0].indications[0].id", func(r *report.Record) { r.Views[0].Indications = r.Views[0].Indications[1:] }},
		{"view without a reference", "views[0].reference_amplitude", func(r *report.Record) { r.Views[0].Reference = 0 }},
		{"view without a hash", "views[0].image_sha256", func(r *report.Record) { r.Views[0].Image = "" }},
		{"indications in a blank view", "views[0].indications", func(r *report.Record) { r.Views[0].Blank = true }},
		{"no views", "views", func(r *report.Record) { r.Views = nil }},
		{"no calibration list", "calibration", func(r *report.Record) { r.Calibration = nil }},
		{"no list of files", "files", func(r *report.Record) { r.Files = nil }},
		{"calibration without a method", "calibration[0]", func(r *report.Record) { r.Calibration = []report.Calibration{{Quantity: "speed", Unit: "m/s"}} }},
		{"negative uncertainty", "calibration[0].standard_uncertainty", func(r *report.Record) {
			r.Calibration = []report.Calibration{{Quantity: "speed", Unit: "m/s", Method: "invented", Uncertainty: -1}}
		}},
		{"scan without its limits", "limits of a report", func(r *report.Record) { r.Scan = scanned(t); r.Scan.Limits = scan.Limits{} }},
		{"scan without a list of findings", "scan", func(r *report.Record) { r.Scan = scanned(t); r.Scan.Findings = nil }},
		{"infinite drift in a scan", "scan.gates[0].drift_db", func(r *report.Record) {
			r.Scan = scanned(t)
			r.Scan.Gates[0].Drift = health.Number(math.Inf(1))
		}},
		{"no position in a scan", "scan.findings[0].first_m", func(r *report.Record) { r.Scan = scanned(t); r.Scan.Findings[0].First = math.NaN() }},
		{"number of a flaw of the scan", "scan_flaws[0].id", func(r *report.Record) { r.ScanFlaws = []report.ScanFlaw{{ID: 2}} }},
		{"flaw of the scan without views", "scan_flaws[0].views", func(r *report.Record) { r.ScanFlaws = []report.ScanFlaw{{ID: 1}} }},
		{"flaw of the scan backward", "scan_flaws[0].along", func(r *report.Record) {
			r.ScanFlaws = []report.ScanFlaw{{ID: 1, Views: []string{"T-T"}, Along: flaw.Along{From: 2, To: 1, LengthIs: tips.Measured}}}
		}},
		{"file twice", "files[1].name", func(r *report.Record) {
			f := report.NewFile("a.png", "", "", nil)
			r.Files = []report.File{f, f}
		}},
		{"file of another folder", "a/b.png", func(r *report.Record) { r.Files = []report.File{report.NewFile("a/b.png", "", "", nil)} }},
		{"file without a hash", "files[0].sha256", func(r *report.Record) { r.Files = []report.File{{Name: "a.png"}} }},
		{"negative length", "flaws[0]", func(r *report.Record) { r.Flaws[0].Length = -1e-3 }},
		{"along the scan backward", "flaws[0].along", func(r *report.Record) {
			r.Flaws[0].Along = &flaw.Along{From: 2, To: 1, LengthIs: tips.Measured}
		}},
		{"unknown reading along the scan", "flaws[0].along.length_is", func(r *report.Record) { r.Flaws[0].Along = &flaw.Along{LengthIs: "long"} }},
		{"unknown kind", "flaws[0].kind", func(r *report.Record) { r.Flaws[0].Kind = flaw.Kind("crack") }},
	} {
		t.Run(test.name, func(t *testing.T) {
			r := copied(t)
			test.change(r)
			for form, write := range map[string]func(b *bytes.Buffer) error{
				"JSON":  func(b *bytes.Buffer) error { return r.WriteJSON(b) },
				"table": func(b *bytes.Buffer) error { return r.WriteCSV(b) },
				"page":  func(b *bytes.Buffer) error { return r.WritePage(b, map[string][]byte{"a.png": nil, "a/b.png": nil}) },
			} {
				var b bytes.Buffer
				check.Error(t, write(&b), test.word)
				if b.Len() > 0 {
					t.Errorf("%s: %d bytes were written", form, b.Len())
				}
			}
		})
	}
}

// FuzzRead checks that reading never panics, and that what is read is written and read again with
// the same bytes.
func FuzzRead(f *testing.F) {
	var whole bytes.Buffer
	if err := holes().Record.WriteJSON(&whole); err != nil {
		f.Fatal(err)
	}
	f.Add(whole.Bytes())
	f.Add([]byte(`{"schema": "isochron flaw record", "version": 1}`))
	f.Add([]byte(`{"version": 1e9}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := report.Read(bytes.NewReader(data))
		if err != nil {
			return
		}
		first := text(t, r)
		again, err := report.Read(bytes.NewReader(first))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(first, text(t, again)) {
			t.Error("the record changes when it is read back")
		}
		var page bytes.Buffer
		_ = again.WritePage(&page, nil) // an error is allowed, a panic is not
	})
}
