// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report_test

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"image"
	"image/png"
	"regexp"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/report"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ascan"
)

// page returns the page of a record with a picture and two A-scans, and the picture.
func page(t *testing.T) (text string, picture []byte) {
	t.Helper()
	r := copied(t)
	r.Calibration = append(r.Calibration, report.Calibration{
		Quantity: "speed <L> & more", Unit: "m/s", Value: 6320, Uncertainty: 12, Method: "invented",
	})
	r.Scan = scanned(t)
	most := 31e-3
	r.Flaws[0].Along = &flaw.Along{From: 0.1, To: 0.125, LengthIs: tips.Measured, Least: 22e-3, Most: &most}
	r.Flaws[1].Along = &flaw.Along{From: 0.2, To: 0.204, LengthIs: tips.LowerBound, Least: 3e-3}
	r.ScanFlaws = []report.ScanFlaw{
		{ID: 1, Frame: 51, Views: []string{"T-T"}, Along: *r.Flaws[0].Along},
		{ID: 2, Frame: 77, Views: []string{"TT-T"}, Along: flaw.Along{From: 0.3, To: 0.31, LengthIs: tips.LowerBound, Least: 7e-3}, Explained: "TT-TT echo"},
	}
	input := capture("block16")
	setup := check.Must(input.Geometry())
	beam := ascan.Beam{Angle: 0, Receive: ascan.Focus{Dynamic: true}, Transmit: ascan.Focus{SoundPath: 23e-3}}
	plan := check.Must(ascan.NewPlan(background, input.Capture, setup, []ascan.Beam{beam}, nil))
	traces := check.Must(plan.Traces(background, input.Capture))
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 8, 8))); err != nil {
		t.Fatal(err)
	}
	contents := map[string][]byte{
		"L-L.png":   b.Bytes(),
		"beam.json": check.Must(json.Marshal(traces[0])),
		"pair.json": check.Must(json.Marshal(check.Must(ascan.NewPair(input.Capture, fmc.Pair{Tx: 3, Rx: 9}, tfm.Band{})))),
	}
	for _, name := range []string{"L-L.png", "beam.json", "pair.json"} {
		r.Files = append(r.Files, report.NewFile(name, "caption of "+name, "alternative to "+name, contents[name]))
	}
	var out bytes.Buffer
	if err := r.WritePage(&out, contents); err != nil {
		t.Fatal(err)
	}
	return out.String(), b.Bytes()
}

// TestPage checks that the page holds what it promises, and that it needs nothing else.
func TestPage(t *testing.T) {
	text, picture := page(t)
	r := holes().Record
	for _, want := range []string{
		"Along the scan</th>", "s 100.0 to 125.0, length 25.0: 22.0 to 31.0", "s 200.0 to 204.0, length at least 3.0",
		"Flaws of the whole scan", "s 300.0 to 310.0, length at least 7.0", `<td class="n">77</td>`, "TT-TT echo",
		"2 frames. 2 of 3 places of the plan have a frame.", "missing steps: 1 mm: 1, limit 0",
		`<html lang="en">`, "<h1>", "This page is evidence, not a verdict.", "trained and authorised personnel",
		`src="data:image/png;base64,` + base64.StdEncoding.EncodeToString(picture), `alt="alternative to L-L.png"`,
		`aria-label="alternative to beam.json"`, "caption of pair.json", "sound path / mm", "time / µs",
		r.Capture.Samples, r.Capture.Setup, r.Environment.Go, "speed &lt;L&gt; &amp; more", "@page { size: A4",
		"Signature", "aluminium, longitudinal 6320 m/s", "echo of the back wall",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not hold %q", want)
		}
	}
	for _, no := range []string{"<script", "javascript:", "http://", "https://", "<link", "@import", "url(", "NaN", "%!", "ZgotmplZ"} {
		if strings.Contains(text, no) {
			t.Errorf("the page holds %q", no)
		}
	}
	for _, f := range r.Flaws {
		if f.Kind == flaw.Point && !strings.Contains(text, string(f.Kind)+", x ") {
			t.Errorf("the page has no heading of flaw %d", f.ID)
		}
	}
	if n := strings.Count(text, "<th>"); n > 0 {
		t.Errorf("%d headers of tables have no scope", n)
	}
}

// TestTags checks that each element of the page is closed in the right order.
func TestTags(t *testing.T) {
	text, _ := page(t)
	text = regexp.MustCompile(`(?s)<style>.*?</style>`).ReplaceAllString(text, "")
	var open []string
	for _, m := range regexp.MustCompile(`<(/?)([a-z0-9]+)[^>]*?(/?)>`).FindAllStringSubmatch(text, -1) {
		name := m[2]
		switch {
		case name == "meta" || name == "img" || m[3] == "/": // elements without an end
		case m[1] == "":
			open = append(open, name)
		case len(open) == 0 || open[len(open)-1] != name:
			t.Fatalf("</%s> closes %v", name, open)
		default:
			open = open[:len(open)-1]
		}
	}
	if len(open) > 0 {
		t.Errorf("not closed: %v", open)
	}
}

// TestPageRefuses checks that files that are missing or changed are refused, and nothing is
// written.
func TestPageRefuses(t *testing.T) {
	for _, test := range []struct {
		name     string
		file     report.File
		contents map[string][]byte
		word     string
	}{
		{"missing", report.NewFile("a.png", "", "", nil), nil, "a.png"},
		{"changed", report.NewFile("a.png", "", "", []byte("before")), map[string][]byte{"a.png": []byte("after")}, "SHA-256"},
		{"no A-scan", report.NewFile("a.json", "", "", []byte("{}")), map[string][]byte{"a.json": []byte("{}")}, "a.json"},
	} {
		t.Run(test.name, func(t *testing.T) {
			r := copied(t)
			r.Files = []report.File{test.file}
			var b bytes.Buffer
			check.Error(t, r.WritePage(&b, test.contents), test.word)
			if b.Len() > 0 {
				t.Errorf("%d bytes were written", b.Len())
			}
		})
	}
}

// TestEmptyPage checks the page of a record without flaws.
func TestEmptyPage(t *testing.T) {
	r := copied(t)
	r.Flaws = []flaw.Flaw{}
	var b bytes.Buffer
	if err := r.WritePage(&b, nil); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "This does not prove that the part has none") {
		t.Error("the page of an empty list has no caution")
	}
}
