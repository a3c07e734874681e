// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"image/png"
	"io"
	"log"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/internal/guard"
	"github.com/isochron-imaging/isochron/tfm"
)

// TestMain also is the program that measures a kernel.
func TestMain(m *testing.M) {
	if slices.Contains(os.Args, "-serve") {
		if err := command(os.Args[1:], os.Stdout); err != nil {
			log.Fatal(err)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// TestRun checks the tables and the picture. It does not check the speed of the machine.
func TestRun(t *testing.T) {
	if testing.Short() {
		t.Skip("measures each kernel")
	}
	var out strings.Builder
	picture := filepath.Join(t.TempDir(), "rates.png")
	args := []string{"-cases", "A", "-turns", "1", "-turn", "1ns", "-markdown", "-out", picture}
	if err := command(args, &out); err != nil {
		t.Fatal(err)
	}
	const number = `[\d.e+]+`
	for _, want := range []string{
		`\| A \| \w+ \| fixed16( \| ` + number + `){4} \|`,
		`\| A \| portable \| single( \| ` + number + `){4} \|`,
		`\| plane wedge \| portable( \| ` + number + `){2} \|`,
		`(?m)^\| single values, in Go( \| ` + number + `){5} \|$`,
		`What bounds it \(case A, \w+, single\): .* bounds? it`,
	} {
		// Without assembly the only kernel is plain Go. No setting hides the kernel of arm64.
		if !regexp.MustCompile(want).MatchString(out.String()) && !strings.Contains(out.String(), "neon") {
			t.Errorf("no line like %s in\n%s", want, &out)
		}
	}
	file := check.Must(os.Open(picture))
	defer file.Close()
	if _, err := png.Decode(file); err != nil {
		t.Error(err)
	}
}

// TestErrors checks the errors of flags out of range.
func TestErrors(t *testing.T) {
	var out strings.Builder
	check.Error(t, command([]string{"-turns", "0"}, &out), "0 turns: want at least 1")
	check.Error(t, serve(t.Context(), &out, strings.NewReader(""), "F"), `case "F": want A or B`)
}

// TestMeasure checks the time of a task that only waits.
func TestMeasure(t *testing.T) {
	wait := task{
		subject: subject{Key: key{All: true}},
		do:      func() error { time.Sleep(2 * time.Millisecond); return nil },
		spent:   func() (filter, sum time.Duration) { return time.Millisecond, 3 * time.Millisecond },
	}
	m, err := wait.measure(10 * time.Millisecond)
	if err != nil {
		t.Fatal(err)
	}
	if !(m.Seconds >= 2e-3 && m.Seconds < 1) || m.Sum != 0.75 {
		t.Errorf("a task of 2 ms took %v s, of which the share %v was the sum: want 0.75", m.Seconds, m.Sum)
	}
	wait.Key.All = false
	busy := task{do: func() error {
		for from := processor(); processor()-from < time.Millisecond; {
		}
		return nil
	}}
	if m, err = busy.measure(0); err != nil || !(m.Seconds >= 1e-3 && m.Seconds < 0.1) {
		t.Errorf("a task of 1 ms took %v s of the processor (%v)", m.Seconds, err)
	}
}

// TestMedians checks the medians of three turns.
func TestMedians(t *testing.T) {
	want := key{Job: "A"}
	k := &kernel{hello: hello{Subjects: []subject{{Key: key{Job: "B"}}, {Key: want, Units: 8}}}}
	for _, seconds := range []float64{4, 2, 100} {
		k.turns = append(k.turns, []measure{{}, {Seconds: seconds, Sum: 0.5}})
	}
	r, ok := k.of(want)
	if !ok || r.seconds != 4 || r.sum != 2 || r.rate() != 2 {
		t.Errorf("result %+v, %v: want 4 s, of which the sum takes 2 s, and 2 units a second", r, ok)
	}
	if _, ok := k.of(key{Job: "C"}); ok {
		t.Error("found a task that is not there")
	}
}

// TestVerdict checks which bound the last line names.
func TestVerdict(t *testing.T) {
	for _, row := range []struct {
		name string
		limits
		want string
	}{
		{"memory is nearly as slow as the sum", limits{0.8, 0.9, 0.9}, "reading memory bounds it"},
		{"multiply-adds take nearly all time", limits{0.1, 0.8, 0.9}, "multiply-adds bound it"},
		{"no faster in the cache", limits{0.1, 0.3, 0.9}, "the instructions that find the samples bound it, not the memory"},
		{"faster in the cache", limits{0.1, 0.3, 0.5}, "the way from the third cache or from memory bounds it"},
	} {
		if got := row.verdict(); got != row.want {
			t.Errorf("%s: %q, want %q", row.name, got, row.want)
		}
	}
}

// TestProcessorName checks the lines that name a processor, in the form of Linux. The values are
// invented.
func TestProcessorName(t *testing.T) {
	const text = "processor\t: 0\ncpu family\t: 25\nmodel\t\t: 17\nmodel name\t: Some Name\n\nprocessor\t: 1\nmodel name\t: Other\n"
	if got, want := processorName(text), ", Some Name, cpu family 25, model 17"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := processorName("processor\t: 0\n"); got != "" {
		t.Errorf("got %q of a processor without a name", got)
	}
}

// TestLoops checks that the loops read all memory of a buffer and no more, and that they end.
func TestLoops(t *testing.T) {
	small := job{name: "small", elements: 2, cols: 8, rows: 8, samples: 64}
	tasks, kernel, err := small.tasks(t.Context(), []string{toImage}, 1)
	if err != nil || len(tasks) != len(precisions) {
		t.Fatalf("%d tasks (%v), want one for each precision", len(tasks), err)
	}
	for _, l := range []loops{plain, fastest(kernel)} {
		l.multiplyAdd(3)
		const lines = 24
		for _, side := range guard.Sides {
			buffer := guard.Copy(guard.New(t, side), "buffer", make([]byte, 64*lines))
			if fault := guard.Toucher(func() { l.read(&buffer[0], lines) }); fault != "" {
				t.Errorf("%s: %s reads beyond the buffer", l.width, fault)
			}
		}
		buffer := guard.Copy(guard.New(t, guard.Behind), "buffer", make([]byte, 64*lines))
		if fault := guard.Toucher(func() { l.read(&buffer[0], lines+8) }); fault == "" {
			t.Errorf("%s: eight lines beyond the buffer are not read", l.width)
		}
	}
}

// TestLarge checks the stages of large jobs with small ones, the volume that is computed from two
// slabs, and the picture.
func TestLarge(t *testing.T) {
	var rows []largeRow
	small := job{name: "small", elements: 4, full: true, cols: 32, rows: 32, samples: 256}
	for _, precision := range []tfm.Precision{tfm.Fixed16, tfm.Single} {
		r := check.Must(section(t.Context(), small, precision))
		if !(r.tables > 0 && r.plan > 0 && r.frame > 0) || r.bytes <= 0 || r.peak <= r.bytes {
			t.Errorf("%+v: want times and memory above 0", r)
		}
		rows = append(rows, r)
	}
	for n := range 2 {
		slices := volume(n + 1)
		slices.elements, slices.cols, slices.rows = 2, 16, 16
		r := check.Must(slab(t.Context(), slices))
		if !(r.frame > 0) || r.terms() != float64(10*16*16*(n+1)) {
			t.Errorf("%+v: want a time above 0, and the samples of 10 pairs", r)
		}
		r.frame = 0.5 + 2*float64(n+1)
		rows = append(rows, r)
	}
	if got, want := volumeLine(rows), "256 × 256 × 256 pixels take 512 s on one core, 2 s each slice (8.8e+12 samples)"; !strings.Contains(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if err := growth(rows).WritePNG(io.Discard); err != nil {
		t.Error(err)
	}
}
