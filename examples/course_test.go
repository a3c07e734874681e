// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package examples

import (
	"bytes"
	"encoding/json"
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

	"github.com/isochron-imaging/isochron/internal/check"
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

// dear are the programs of the course that take longest to run. The build tag long and -renew run
// them.
var dear = []string{"austenitic", "butt", "conversion", "corrosion", "flaws", "levels", "pipe", "plastic", "views"}

// TestCourse runs each program of the course. It compares the printed text with the kept text, and
// decodes the picture.
func TestCourse(t *testing.T) {
	if testing.Short() {
		t.Skip("builds and runs all programs")
	}
	names := course(t, "README.md")
	if !*renew {
		names = slices.DeleteFunc(names, func(name string) bool { return slices.Contains(dear, name) })
	}
	runCourse(t, names)
}

// runCourse runs programs of the course.
func runCourse(t *testing.T, names []string) {
	program := build(t, names)
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			runs(t, program, name)
		})
	}
}

// build returns a program that runs the program of the course that its first argument names. To link
// each of them takes as long as to run them. So the go command sees them, by an overlay, as packages
// with the function Main, in a folder that does not exist.
func build(t *testing.T, names []string) string {
	t.Helper()
	const parent = "github.com/isochron-imaging/isochron/examples/course/"
	folder := t.TempDir()
	replace := map[string]string{}
	add := func(path, text string) {
		file := filepath.Join(folder, strconv.Itoa(len(replace))+".go")
		check.Must(0, os.WriteFile(file, []byte(text), 0o666))
		replace[filepath.Join(check.Must(filepath.Abs("course")), path)] = file
	}
	var imports, functions strings.Builder
	for _, name := range names {
		text := string(check.Must(os.ReadFile(filepath.Join(name, "main.go"))))
		text = strings.Replace(text, "\npackage main\n", "\npackage "+name+"\n", 1)
		add(filepath.Join(name, "main.go"), strings.Replace(text, "\nfunc main() {", "\nfunc Main() {", 1))
		fmt.Fprintf(&imports, "import %q\n", parent+name)
		fmt.Fprintf(&functions, "%q: %s.Main,\n", name, name)
	}
	add("main.go", "package main\nimport \"os\"\n"+imports.String()+
		"func main() {\nos.Args = os.Args[1:]\nmap[string]func(){\n"+functions.String()+"}[os.Args[0]]()\n}\n")
	overlay := filepath.Join(folder, "overlay.json")
	check.Must(0, os.WriteFile(overlay, check.Must(json.Marshal(map[string]any{"Replace": replace})), 0o666))
	command := exec.Command("go", "build", "-overlay", overlay, "-ldflags=-s -w", "-o", folder+string(filepath.Separator), "./course")
	if out, err := command.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return filepath.Join(folder, "course")
}

// runs runs a program of the course.
func runs(t *testing.T, program, name string) {
	picture := filepath.Join(t.TempDir(), name+".png")
	command := exec.Command(program, name, "-out", picture)
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
