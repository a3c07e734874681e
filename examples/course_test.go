// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package examples

import (
	"bytes"
	"flag"
	"fmt"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var renew = flag.Bool("renew", false, "write the output of the course to its output.txt")

// longest is the largest number of lines of a program of the course, with its comments.
const longest = 119

// course returns the programs of the course in the order of the numbered table of a README file,
// of which a row starts with "| 1 | [pair](examples/pair) |". Paths are relative to the file.
func course(t *testing.T, file string) (names []string) {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	row := regexp.MustCompile(`(?m)^\| *(\d+) *\| *\[(\w+)\]\(([\w/]+)\) *\|`)
	for i, found := range row.FindAllStringSubmatch(string(text), -1) {
		if found[1] != strconv.Itoa(i+1) {
			t.Errorf("%s: row %d has the number %s", file, i+1, found[1])
		}
		if folder := filepath.Join(filepath.Dir(file), found[3]); folder != filepath.Join(folder, "..", found[2]) ||
			!holds(folder, "main.go") {
			t.Errorf("%s: the link of %s leads to %s", file, found[2], found[3])
		}
		names = append(names, found[2])
	}
	return names
}

// holds reports whether a folder holds a file.
func holds(folder, file string) bool {
	_, err := os.Stat(filepath.Join(folder, file))
	return err == nil
}

// TestTables checks that both tables of the course are the same, and that README.md of this folder
// names each program.
func TestTables(t *testing.T) {
	names := course(t, "README.md")
	if len(names) == 0 {
		t.Fatal("README.md has no table of the course")
	}
	if diff := cmp.Diff(names, course(t, "../README.md")); diff != "" {
		t.Errorf("the README of the project lists another course: %s", diff)
	}
	text, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	programs, err := filepath.Glob("*/main.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, program := range programs {
		name := filepath.Dir(program)
		if !bytes.Contains(text, fmt.Appendf(nil, "| [%s](%s) |", name, name)) {
			t.Errorf("README.md has no row for %s", name)
		}
		if kept := holds(name, "output.txt"); kept != slices.Contains(names, name) {
			t.Errorf("%s: its output is kept: %v, and it belongs to the course: %v", name, kept, !kept)
		}
	}
}

// TestLength checks that each program of the course is one short file.
func TestLength(t *testing.T) {
	for _, name := range course(t, "README.md") {
		files, err := filepath.Glob(filepath.Join(name, "*.go"))
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			if strings.HasSuffix(file, "_test.go") {
				continue
			}
			if filepath.Base(file) != "main.go" {
				t.Errorf("%s: want main.go alone", file)
			}
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if lines := bytes.Count(text, []byte("\n")); lines > longest {
				t.Errorf("%s has %d lines, want at most %d", file, lines, longest)
			}
		}
	}
}

// TestCourse runs each program of the course. It compares the printed text with the kept text, and
// decodes the picture.
func TestCourse(t *testing.T) {
	if testing.Short() {
		t.Skip("builds and runs all programs")
	}
	names := course(t, "README.md")
	folder := t.TempDir()
	args := []string{"build", "-ldflags=-s -w", "-o", folder + string(filepath.Separator)}
	for _, name := range names {
		args = append(args, "./"+name)
	}
	if out, err := exec.Command("go", args...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			runs(t, name, filepath.Join(folder, name))
		})
	}
}

// runs runs a program of the course.
func runs(t *testing.T, name, program string) {
	picture := filepath.Join(t.TempDir(), name+".png")
	command := exec.Command(program, "-out", picture)
	command.Dir = ".."
	var complaints strings.Builder
	command.Stderr = &complaints
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, &complaints)
	}
	got := strings.ReplaceAll(string(out), picture, name+".png")
	kept := filepath.Join(name, "output.txt")
	if *renew {
		if err := os.WriteFile(kept, []byte(got), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(kept)
	if err != nil {
		t.Fatal(err)
	}
	if err := alike(got, string(want)); err != nil {
		t.Errorf("%v, in\n%s", err, got)
	}
	file, err := os.Open(picture)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	if _, err := png.Decode(file); err != nil {
		t.Errorf("picture: %v", err)
	}
}

// word matches a number without letters before it, or a piece of text.
var word = regexp.MustCompile(`\pL[\pL\pN]*|[-+]?\d+(?:\.\d+)?|[^\s\pL\d]`)

// alike compares two texts: words must be equal, and numbers may differ by two units of the last
// digit of want. Spaces do not count, because the width of a column depends on its numbers.
func alike(got, want string) error {
	g, w := word.FindAllString(got, -1), word.FindAllString(want, -1)
	for i := range min(len(g), len(w)) {
		if g[i] == w[i] {
			continue
		}
		a, errA := strconv.ParseFloat(g[i], 64)
		b, errB := strconv.ParseFloat(w[i], 64)
		_, fraction, _ := strings.Cut(w[i], ".")
		if errA != nil || errB != nil || !(math.Abs(a-b) <= 2.01*math.Pow10(-len(fraction))) {
			return fmt.Errorf("after %q: got %s, want %s", w[max(0, i-6):i], g[i], w[i])
		}
	}
	if len(g) != len(w) {
		return fmt.Errorf("got %d words, want %d", len(g), len(w))
	}
	return nil
}

// TestAlike checks the comparison of texts.
func TestAlike(t *testing.T) {
	for _, test := range []struct {
		name, got, want string
		equal           bool
	}{
		{"the same", "hole at 3.42 mm", "hole at 3.42 mm", true},
		{"two units", "hole at 3.44 mm", "hole at 3.42 mm", true},
		{"three units", "hole at 3.45 mm", "hole at 3.42 mm", false},
		{"two units of a whole number", "8 dB", "10 dB", true},
		{"three units of a whole number", "7 dB", "10 dB", false},
		{"a carry", "9.99", "10.01", true},
		{"a sign", "-0.1 mm", "0.1 mm", true},
		{"another sign", "-2.0 mm", "2.0 mm", false},
		{"wider columns", "x   9.9\nz  10.0", "x 10.0\nz 10.0", true},
		{"another word", "pore at 3 mm", "hole at 3 mm", false},
		{"a number in a word", "weld32", "weld33", false},
		{"a word for a number", "at none mm", "at 3 mm", false},
		{"not a number", "at NaN mm", "at 3 mm", false},
		{"a word more", "hole at 3 mm deep", "hole at 3 mm", false},
		{"a word less", "hole at 3", "hole at 3 mm", false},
		{"another unit", "3 µs", "3 µm", false},
		{"another view", "view T-T", "view TT-T", false},
	} {
		if err := alike(test.got, test.want); (err == nil) != test.equal {
			t.Errorf("%s: %v", test.name, err)
		}
	}
}
