// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// plain is a set-up for two elements. Its values are invented.
const plain = `{
 "title": "t",
 "capture": {"file": "a.npy", "order": "pair, sample", "sample_rate_hz": 50e6, "first_sample_s": 0},
 "array": {"centre_frequency_hz": 5e6, "bandwidth_6db": 0.6, "element_width_m": 0.0008, "element_centres_m": [[-0.0005, 0], [0.0005, 0]]},
 "coupling": {"name": "water", "density_kg_m3": 998, "longitudinal_m_s": 1482, "transverse_m_s": 0},
 "surface": {"shape": "plane"},
 "part": {"name": "steel", "density_kg_m3": 7850, "longitudinal_m_s": 5920, "transverse_m_s": 3240, "thickness_m": 0.02},
 "truth": {"holes": [{"x_m": 0, "z_m": 0.01, "diameter_m": 0.002}], "slits": [{"x0_m": 0, "z0_m": 0.01, "x1_m": 0, "z1_m": 0.02, "width_m": 0}]}
}`

// plainFile returns an array that fits plain: 3 pairs of 2 samples.
func plainFile() []byte {
	return file(dictionary("'<i2'", "False", "(3, 2)"),
		[]byte{1, 0, 2, 0, 3, 0, 4, 0, 5, 0, 0xff, 0xff})
}

// plainScan is a set-up of two frames for the elements of plain.
var plainScan = strings.NewReplacer(`"pair, sample"`, `"frame, pair, sample"`, "0}]}\n}",
	`0}]}, "scan": {"indices": [4, 7], "times_s": [0, 0.5], "positions_m": [0.25, 0]}}`).Replace(plain)

// plainScanFile returns an array that fits plainScan: 2 frames of 3 pairs of 1 sample.
func plainScanFile() []byte {
	return file(dictionary("'<i2'", "False", "(2, 3, 1)"),
		[]byte{1, 0, 2, 0, 3, 0, 4, 0, 5, 0, 0xff, 0xff})
}

// plainEvents is a set-up of three events for the elements of plain. Its array has the shape (3, 2,
// 1) and the samples of plainFile.
var plainEvents = strings.NewReplacer(`"pair, sample"`, `"event, receiver, sample"`,
	`"first_sample_s": 0`,
	`"first_sample_s": 0, "events": [{"delays_s": [0, 1e-7], "weights": [1, 0]}, {"delays_s": [0, 0], "weights": [1, -1]}, {"weights": [1, 1], "delays_s": [2e-7, 0]}]`).Replace(plain)

func plainEventsFile() []byte {
	return file(dictionary("'<i2'", "False", "(3, 2, 1)"),
		[]byte{1, 0, 2, 0, 3, 0, 4, 0, 5, 0, 0xff, 0xff})
}

// withNotes returns the set-up plain with notes in JSON.
func withNotes(notes string) string {
	return strings.Replace(plain, `"title"`, `"notes": `+notes+`, "title"`, 1)
}

// dictionary returns the dictionary of a header.
func dictionary(descr, fortran, shape string) string {
	return fmt.Sprintf("{'descr': %s, 'fortran_order': %s, 'shape': %s, }", descr, fortran, shape)
}

// file returns a .npy file of version 1.0.
func file(dictionary string, samples []byte) []byte {
	length := len(dictionary) + 1
	return concat("\x93NUMPY\x01\x00", []byte{byte(length), byte(length >> 8)}, dictionary+"\n",
		samples)
}

// concat joins strings and byte slices.
func concat(parts ...any) []byte {
	var b []byte
	for _, part := range parts {
		b = fmt.Appendf(b, "%s", part)
	}
	return b
}

// distinct returns the JSON list of n elements. Element i is i in the given form.
func distinct(n int, form string) string {
	b := []byte("[")
	for i := range n {
		b = fmt.Appendf(b, form+",", i)
	}
	return string(b[:len(b)-1]) + "]"
}

// pack compresses data by gzip.
func pack(t testing.TB, data []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if _, err := z.Write(data); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// invented returns a record of 3 elements, with 2 samples in each trace. Its values are invented.
func invented(t testing.TB, pairs []fmc.Pair) *Record {
	t.Helper()
	array := check.Must(fmc.LinearArray(3, 1e-3,
		fmc.Array{Width: 0.8e-3, CentreFrequency: 5e6, Bandwidth: 0.7}))
	c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: pairs, Samples: 2, SampleRate: 40e6,
		FirstSample: 1.0 / 3}))
	for i := range c.Data {
		c.Data[i] = float32(i*i - 7)
	}
	return &Record{
		Title: "invented <&> \"quoted\" \\ [ 1,  2 ] 45° فارسی\u200cزبان",
		Notes: map[string]any{"date": "2026-03-14", "gain_db": 32.5, "Prüfer <&> [ 1,  2 ]": "",
			"least": 5e-324, "zero": math.Copysign(0, -1)},
		Capture:   c,
		Coupling:  &Material{Name: "water, 20 °C", Density: 998, Longitudinal: 1482},
		Part:      Material{Name: "steel", Density: 7850, Longitudinal: 5920, Transverse: 3240},
		Thickness: 0.02,
		Truth: Truth{
			Holes: []Hole{{X: 1e-3, Z: 0.1, Diameter: 5e-324}},
			Slits: []Slit{{X1: -1, Z1: math.MaxFloat64}},
		},
	}
}

// withEvents returns a record of two events. Its values are invented.
func withEvents(t testing.TB, pairs []fmc.Pair) *Record {
	t.Helper()
	r := invented(t, fmc.FullPairs(3))
	c := *r.Capture
	c.Events = []fmc.Event{
		{Delays: []float64{0, 1e-7 / 3, -5e-324}, Weights: []float64{1, 0, -0.1}},
		{Delays: []float64{math.MaxFloat64, math.Copysign(0, -1), 2e-7},
			Weights: []float64{math.Copysign(0, -1), 0, 1e-300}},
	}
	c.Pairs, c.Data = pairs, nil
	r.Capture = check.Must(fmc.New(c))
	for i := range r.Capture.Data {
		r.Capture.Data[i] = float32(7 - i*i)
	}
	return r
}

// variants returns records of every layout and every shape of the surface.
func variants(t testing.TB) map[string]*Record {
	full, half := invented(t, fmc.FullPairs(3)), invented(t, fmc.HalfPairs(3))
	listed := invented(t,
		[]fmc.Pair{{Tx: 2, Rx: 0}, {Tx: 1, Rx: 1}, {Tx: 0, Rx: 1}, {Tx: 1, Rx: 0}})
	half.Surface = EntrySurface{Radius: 0.0201}
	half.Coupling = nil
	listed.Surface = EntrySurface{Points: []r3.Vec{{X: -1}, {X: math.Nextafter(-1, 0), Z: -0.1},
		{X: 1e300, Z: 1e-300}}}
	listed.Truth = Truth{}
	listed.Notes = nil
	listed.Capture.Array.Elements[1].Y = 1e-9
	single := invented(t, []fmc.Pair{{Tx: 0, Rx: 0}})
	single.Capture.Array.Elements = single.Capture.Array.Elements[:1]
	welded := invented(t, fmc.HalfPairs(3))
	welded.Surface, welded.Thickness = EntrySurface{}, 1.0/30
	welded.Weld = &Weld{
		Density: 8e3 / 3, Stiffness: Stiffness{262.75e9, 145e9, 216e9, 129e9, 82.25e9}, HalfRoot: 1e-2 / 3,
		Bevel: 1.0 / 3, Root: 1.0 / 30, Centre: -1.0 / 3, Law: GrainLaw{T: 2.0 / 3, Eta: 1.0 / 3},
	}
	return map[string]*Record{
		"welded": welded,
		"full":   full, "half": half, "listed": listed, "single": single,
		"events":        withEvents(t, fmc.EventPairs(2, 3)),
		"listed events": withEvents(t, []fmc.Pair{{Tx: 1, Rx: 2}, {Tx: 0, Rx: 1}, {Tx: 1, Rx: 0}}),
	}
}

// invent returns three frames like the capture of r. Their values are invented. Frame 2 was lost.
func invent(r *Record) []fmc.Frame {
	frames := []fmc.Frame{
		{Index: 0, Time: 0, Position: -1.0 / 3},
		{Index: 1, Time: 1e-3 / 3, Position: 5e-324, Across: -2.0 / 3, Count: math.MinInt64},
		{Index: 3, Time: 1e300, Position: 0.7},
	}
	for i := range frames {
		c := *r.Capture
		c.Data = make([]float32, len(r.Capture.Data))
		for k := range c.Data {
			c.Data[k] = float32(100*i - k)
		}
		frames[i].Capture = &c
	}
	return frames
}

// allow lets the readers read values that are invented and implausible.
var allow = &ReadOptions{AllowImplausible: true}

// read reads a record from the content of its two files.
func read(setup string, array []byte) (*Record, error) {
	return Read(strings.NewReader(setup), bytes.NewReader(array), allow)
}

// encode returns the content of the two files of r.
func encode(t testing.TB, r *Record, st SampleType) (setup, array []byte) {
	t.Helper()
	var s, a bytes.Buffer
	if err := Write(&s, &a, "a.npy", r, st); err != nil {
		t.Fatal(err)
	}
	return s.Bytes(), a.Bytes()
}

// writeScan writes frames as a scan called a.json in a new folder.
func writeScan(t testing.TB, r *Record, frames []fmc.Frame, st SampleType) (name string) {
	t.Helper()
	name = filepath.Join(t.TempDir(), "a.json")
	w := check.Must(CreateScan(name, r, st))
	for _, f := range frames {
		if err := w.Append(f); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	wantFiles(t, filepath.Dir(name), "a.json", "a.npy")
	return name
}

func put(t testing.TB, dir, name string, content []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, name), content, 0o644); err != nil {
		t.Fatal(err)
	}
}

// fileContent returns the content of the two files of a record.
func fileContent(t testing.TB, name string) (setup, array []byte) {
	t.Helper()
	for file, content := range map[string]*[]byte{name: &setup,
		name[:len(name)-4] + "npy": &array} {
		b := check.Must(os.ReadFile(file))
		*content = b
	}
	return setup, array
}

// openUnmapped opens a scan in a file that is read and not mapped.
func openUnmapped(name string, o *ReadOptions) (*ScanReader, error) {
	d, f, size, err := openRecord(name)
	if err != nil {
		return nil, err
	}
	s, err := d.openPlain(f, size, o, func(*os.File, header, int) frameStore { return nil })
	if err != nil {
		f.Close()
	}
	return s, err
}

// openStream opens a scan that arrives as a stream, like the content of a gzip file.
func openStream(setup, array io.Reader, o *ReadOptions) (*ScanReader, error) {
	d, err := readDescription(setup)
	if err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	s, err := d.streamScan(array, io.NopCloser(array), o)
	if err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	return s, nil
}

// readers are the functions that open the scan in two files.
var readers = []struct {
	name   string
	random bool // frames in any order
	open   func(t *testing.T, setup, array []byte) (*ScanReader, error)
}{
	{"file", true, func(t *testing.T, setup, array []byte) (*ScanReader, error) {
		dir := t.TempDir()
		put(t, dir, "a.json", setup)
		put(t, dir, "a.npy", array)
		return OpenScan(filepath.Join(dir, "a.json"), allow)
	}},
	{"file without mapping", true, func(t *testing.T, setup, array []byte) (*ScanReader, error) {
		dir := t.TempDir()
		put(t, dir, "a.json", setup)
		put(t, dir, "a.npy", array)
		return openUnmapped(filepath.Join(dir, "a.json"), allow)
	}},
	{"file of gzip", false, func(t *testing.T, setup, array []byte) (*ScanReader, error) {
		dir := t.TempDir()
		put(t, dir, "a.json", setup)
		put(t, dir, "a.npy", pack(t, array))
		return OpenScan(filepath.Join(dir, "a.json"), allow)
	}},
	{"stream", false, func(t *testing.T, setup, array []byte) (*ScanReader, error) {
		return openStream(bytes.NewReader(setup), bytes.NewReader(array), allow)
	}},
	{"stream of gzip", false, func(t *testing.T, setup, array []byte) (*ScanReader, error) {
		return openStream(bytes.NewReader(setup), bytes.NewReader(pack(t, array)), allow)
	}},
}

func closed(s *ScanReader, err error) error {
	if err != nil {
		return err
	}
	return s.Close()
}

func checkFrames(t *testing.T, s *ScanReader, want []fmc.Frame) {
	t.Helper()
	i := 0
	for got, err := range fmc.Frames(context.Background(), s.Next) {
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want[i], got); diff != "" {
			t.Errorf("frame %d (-want +got):\n%s", i, diff)
		}
		i++
	}
	if i != len(want) {
		t.Errorf("%d frames, want %d", i, len(want))
	}
}

// arrayOf returns the name of the array that a set-up names.
func arrayOf(t testing.TB, name string) string {
	t.Helper()
	d := check.Must(readSetup(name))
	return d.file
}

// wantPair fails the test unless the folder of a set-up holds the set-up, its array and the other
// files, and nothing else.
func wantPair(t testing.TB, name string, others ...string) {
	t.Helper()
	want := append(others, filepath.Base(name), arrayOf(t, name))
	slices.Sort(want)
	wantFiles(t, filepath.Dir(name), want...)
}

// wantFiles fails the test unless dir holds exactly the files named.
func wantFiles(t testing.TB, dir string, want ...string) {
	t.Helper()
	entries := check.Must(os.ReadDir(dir))
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("files (-want +got):\n%s", diff)
	}
}

// wantFault fails the test unless err begins with "npy: ", holds text and, if kind is not nil,
// wraps kind.
func wantFault(t testing.TB, err, kind error, text string) {
	t.Helper()
	if err == nil || !strings.HasPrefix(err.Error(), "npy: ") ||
		!strings.Contains(err.Error(), text) {
		t.Errorf("error %v, want one that begins with \"npy: \" and holds %q", err, text)
	}
	if kind != nil && !errors.Is(err, kind) {
		t.Errorf("error %v, want one that wraps %q", err, kind)
	}
}

// visible reports whether a terminal shows a text as it is.
func visible(text string) bool {
	return !strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsGraphic(r) })
}

// allocated returns the bytes that f allocates, counting also memory that is free again.
func allocated(f func()) int {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return int(after.TotalAlloc - before.TotalAlloc)
}
