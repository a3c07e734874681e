// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/report"
	"github.com/isochron-imaging/isochron/sizing/tips"
)

var background = context.Background()

// TestRepeat measures a capture, reads the record back, and repeats the measurement with another
// number of workers. The build tag long does so behind a wedge.
func TestRepeat(t *testing.T) { repeat(t, "block16", settings(-12, 12, 5, 42, 0.25, "L-L")) }

// repeat is [TestRepeat] of a capture of testdata.
func repeat(t *testing.T, name string, s *report.Settings) {
	input := capture(name)
	made := check.Must(report.Measure(background, name, input, s, &report.Options{Workers: 1}))
	read := check.Must(report.Read(bytes.NewReader(text(t, made.Record))))
	if diff := cmp.Diff(made.Record.Flaws, read.Flaws); diff != "" {
		t.Errorf("flaws after reading back: %s", diff)
	}
	if len(read.Flaws) == 0 {
		t.Fatal("no flaw to repeat")
	}
	differences := check.Must(report.Repeat(background, read, capture(name), &report.Options{Workers: 3}))
	if len(differences) > 0 {
		t.Errorf("%d differences, the first: %v", len(differences), differences[0])
	}
}

// TestRepeatDiffers checks that a changed number of a record is found by its field, and nothing
// else.
func TestRepeatDiffers(t *testing.T) {
	r := copied(t)
	r.Flaws[1].Length *= 1 + 1e-15
	r.Environment.Vector = "other"
	r.Scan = scanned(t) // Repeat does not measure the scan
	r.ScanFlaws = []report.ScanFlaw{{ID: 1, Views: []string{"L-L"}, Along: flaw.Along{LengthIs: tips.Measured}}}
	got := check.Must(report.Repeat(background, r, capture("block16"), nil))
	if len(got) != 2 || got[0].Field != "environment.vector" || got[1].Field != "flaws[1].length_m" {
		t.Errorf("differences %v, want the differences of the instructions and of the length", got)
	}
}

// TestOtherCapture checks that another capture and another set-up are refused.
func TestOtherCapture(t *testing.T) {
	for _, test := range []struct {
		name, word string
		change     func(r *npy.Record)
	}{
		{"one sample differs", "samples", func(r *npy.Record) { r.Capture.Data[1000]++ }},
		{"another speed", "set-up", func(r *npy.Record) { r.Part.Longitudinal++ }},
		{"an element moved", "set-up", func(r *npy.Record) { r.Capture.Array.Elements[3].X += 1e-12 }},
	} {
		t.Run(test.name, func(t *testing.T) {
			input := capture("block16")
			test.change(input)
			_, err := report.Repeat(background, holes().Record, input, nil)
			if !errors.Is(err, report.ErrCapture) || !strings.Contains(err.Error(), test.word) {
				t.Errorf("error %v, want ErrCapture for the %s", err, test.word)
			}
		})
	}
}

// TestHashes computes the hashes as SCHEMA.md describes them, by routines of the standard library.
func TestHashes(t *testing.T) {
	m := holes()
	hash := func(values []float32) string {
		h := sha256.New()
		if err := binary.Write(h, binary.LittleEndian, values); err != nil {
			t.Fatal(err)
		}
		return fmt.Sprintf("%x", h.Sum(nil))
	}
	if got, want := m.Record.Capture.Samples, hash(capture("block16").Capture.Data); got != want {
		t.Errorf("hash of the samples %s, want %s", got, want)
	}
	if got, want := m.Record.Views[0].Image, hash(m.Envelopes[0].Data); got != want {
		t.Errorf("hash of the image %s, want %s", got, want)
	}
	if got, want := m.Record.Capture.Setup, fmt.Sprintf("%x", sha256.Sum256(m.Record.Setup)); got != want {
		t.Errorf("hash of the set-up %s, want %s", got, want)
	}
}
