// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/flaw"
)

const testdata = "../../testdata"

// kept returns the kept readings.
func kept(t *testing.T) []reading {
	t.Helper()
	f := check.Must(os.Open(testdata + "/campaign/flaws.csv"))
	defer f.Close()
	return check.Must(read(f))
}

// keptTable returns the kept output.
func keptTable() string { return string(check.Must(os.ReadFile(testdata + "/campaign/table.txt"))) }

// TestKept compares the kept tables with the kept readings.
func TestKept(t *testing.T) {
	readings := kept(t)
	if len(readings) != 500 {
		t.Fatalf("%d readings, want 500", len(readings))
	}
	var out strings.Builder
	summarise(&out, readings)
	table := keptTable()
	if !strings.HasPrefix(table, out.String()) {
		t.Errorf("the tables of the readings are not in table.txt:\n%s", &out)
	}
	if !strings.HasSuffix(table, note) {
		t.Error("table.txt does not end with the note")
	}
	var again bytes.Buffer
	if err := write(&again, readings); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(check.Must(os.ReadFile(testdata+"/campaign/flaws.csv"))), again.String()); diff != "" {
		t.Errorf("write does not write what read read:\n%s", diff)
	}
}

// TestAgain measures the first flaws again, with two workers. Processors have different kernels,
// so the last digits may differ. One reading in a hundred may differ by more: a decision may tip
// over.
func TestAgain(t *testing.T) {
	n, different, readings := again(), 0, kept(t)
	for i, got := range check.Must(campaign(t.Context(), io.Discard, 1, n, 2)) {
		want := readings[i]
		if !close(got, want) {
			different++
			t.Logf("flaw %d: %+v, want %+v", i, got, want)
		}
	}
	if different > n/100 {
		t.Errorf("%d of %d readings differ from the kept ones", different, n)
	}
}

// close reports whether two readings agree within 0.011 mm, and within 0.11 degrees.
func close(a, b reading) bool {
	for k, field := range a.fields() {
		switch v := field.(type) {
		case *int:
			if *v != *b.fields()[k].(*int) {
				return false
			}
		case *string:
			if *v != *b.fields()[k].(*string) {
				return false
			}
		case *float64:
			tolerance := 0.011
			if strings.HasSuffix(columns[k], "deg") {
				tolerance = 0.11
			}
			if !(math.Abs(*v-*b.fields()[k].(*float64)) <= tolerance) {
				return false
			}
		}
	}
	return true
}

// TestCaptures compares rows of the table of full-wave captures with the kept ones. Numbers may be
// rounded to a neighbour.
func TestCaptures(t *testing.T) {
	for _, c := range captures {
		if !imaged(c.name) {
			continue
		}
		var out bytes.Buffer
		if err := c.print(t.Context(), &out, testdata); err != nil {
			t.Fatal(err)
		}
		var want []string
		for line := range strings.Lines(keptTable()) {
			if strings.HasPrefix(line, c.name+" ") {
				want = append(want, line)
			}
		}
		got := strings.SplitAfter(strings.TrimSuffix(out.String(), "\n"), "\n")
		if len(got) != len(want) {
			t.Errorf("%s: %d rows, want %d", c.name, len(got), len(want))
			continue
		}
		for i := range got {
			if !alike(got[i], want[i]) {
				t.Errorf("row\n%swant\n%s", got[i], want[i])
			}
		}
	}
}

// alike reports whether two rows have the same words and nearly the same numbers.
func alike(a, b string) bool {
	got, want := strings.Fields(a), strings.Fields(b)
	if len(got) != len(want) {
		return false
	}
	for i := range got {
		x, errX := strconv.ParseFloat(got[i], 64)
		y, errY := strconv.ParseFloat(want[i], 64)
		tolerance := 0.011
		if !strings.Contains(want[i], ".") {
			tolerance = 1 // whole degrees
		}
		if errX != nil || errY != nil {
			if got[i] != want[i] {
				return false
			}
		} else if !(math.Abs(x-y) <= tolerance) {
			return false
		}
	}
	return true
}

// TestGuarantees checks the kept lengths between two tips: the intervals of 95 % hold the true
// length in 93 % of the flaws or more.
func TestGuarantees(t *testing.T) {
	var all measures
	for _, r := range kept(t) {
		if r.method == string(flaw.FromTips) && r.want() == flaw.Planar {
			all.add(r)
		}
	}
	if n := len(all.length.off); n < 100 {
		t.Fatalf("%d lengths between tips, want 100 or more", n)
	}
	if share := float64(all.length.held) / float64(len(all.length.off)); !(share >= 0.93) {
		t.Errorf("%v of the intervals hold the length, want 0.93", share)
	}
}

// TestSummarise compares the tables of three invented readings with values worked by hand.
func TestSummarise(t *testing.T) {
	var m measures
	crack := reading{flaw: "crack", method: "tips", is: "measured", length: 3, readLength: 3.1, lengthU: 0.2, tilt: 89, readTilt: -89, tiltU: 1}
	m.add(crack)
	crack.readLength = 2.5 // the interval does not hold 3 mm
	m.add(crack)
	m.add(reading{flaw: "hole", method: "none", is: "unresolved", length: 2, readLength: 1.5, offX: 0.3, placeU: 0.1})
	// Lengths: 0.1 and -0.5. Tilts: 2 degrees over the horizontal. x: 0, 0 and 0.3; one in six is
	// not held.
	want := "    3 |        2  -0.20   0.36   0.50    50% |     0     0 |     1     0 |     2    2.0    2.0     0% |   0.17   0.00    83%"
	if diff := cmp.Diff(want, m.String()); diff != "" {
		t.Errorf("row (-want +got):\n%s", diff)
	}
}
