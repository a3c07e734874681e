// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	npyio "codeberg.org/sbinet/npyio/npy"
	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// allow lets the readers read values that are invented and implausible.
var allow = &ReadOptions{AllowImplausible: true}

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

// invented returns a record of 3 elements, with 2 samples in each trace. Its values are invented.
func invented(t testing.TB, pairs []fmc.Pair) *Record {
	t.Helper()
	array := check.Must(fmc.LinearArray(3, 1e-3, fmc.Array{Width: 0.8e-3, CentreFrequency: 5e6, Bandwidth: 0.7}))
	c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: pairs, Samples: 2, SampleRate: 40e6, FirstSample: 1.0 / 3}))
	for i := range c.Data {
		c.Data[i] = float32(i*i - 7)
	}
	return &Record{
		Title:   "invented <&> \"quoted\" \\ [ 1,  2 ] 45° فارسی\u200cزبان",
		Notes:   map[string]any{"date": "2026-03-14", "gain_db": 32.5, "Prüfer <&> [ 1,  2 ]": "", "least": 5e-324, "zero": math.Copysign(0, -1)},
		Capture: c,
		Setup: Setup{
			Coupling: &Medium{Name: "water, 20 °C", Density: 998, Longitudinal: 1482},
			Part:     Part{Medium: Medium{Name: "steel", Density: 7850, Longitudinal: 5920, Transverse: 3240}, Thickness: 0.02},
			Truth: Truth{
				Holes: []Hole{{X: 1e-3, Z: 0.1, Diameter: 5e-324}},
				Slits: []Slit{{X1: -1, Z1: math.MaxFloat64}},
			},
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
		{Delays: []float64{math.MaxFloat64, math.Copysign(0, -1), 2e-7}, Weights: []float64{math.Copysign(0, -1), 0, 1e-300}},
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
	listed := invented(t, []fmc.Pair{{Tx: 2, Rx: 0}, {Tx: 1, Rx: 1}, {Tx: 0, Rx: 1}, {Tx: 1, Rx: 0}})
	half.Setup.Surface = Surface{Radius: 0.0201}
	half.Setup.Coupling = nil
	listed.Setup.Surface = Surface{Points: []r3.Vec{{X: -1}, {X: math.Nextafter(-1, 0), Z: -0.1}, {X: 1e300, Z: 1e-300}}}
	listed.Setup.Truth = Truth{}
	listed.Notes = nil
	listed.Capture.Array.Elements[1].Y = 1e-9
	single := invented(t, []fmc.Pair{{Tx: 0, Rx: 0}})
	single.Capture.Array.Elements = single.Capture.Array.Elements[:1]
	return map[string]*Record{
		"full": full, "half": half, "listed": listed, "single": single,
		"events":        withEvents(t, fmc.EventPairs(2, 3)),
		"listed events": withEvents(t, []fmc.Pair{{Tx: 1, Rx: 2}, {Tx: 0, Rx: 1}, {Tx: 1, Rx: 0}}),
	}
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

func TestRoundTrip(t *testing.T) {
	for name, r := range variants(t) {
		for st := Int16; st <= Float64; st++ {
			setup, array := encode(t, r, st)
			got, err := Read(iotest.OneByteReader(bytes.NewReader(setup)), iotest.HalfReader(bytes.NewReader(array)), allow)
			if err != nil {
				t.Errorf("%s as %v: %v\n%s", name, st, err, setup)
				continue
			}
			if diff := cmp.Diff(r, got); diff != "" {
				t.Errorf("%s as %v (-want +got):\n%s", name, st, diff)
			}
		}
		file := filepath.Join(t.TempDir(), "a.json")
		if err := WriteFile(file, r, Int16); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(r, check.Must(ReadFile(file, allow))); diff != "" {
			t.Errorf("%s by file (-want +got):\n%s", name, diff)
		}
	}
}

// TestFloatsAreExact: float32 samples of every size keep their bits.
func TestFloatsAreExact(t *testing.T) {
	r := invented(t, fmc.FullPairs(3))
	copy(r.Capture.Data, []float32{math.MaxFloat32, -math.MaxFloat32, math.SmallestNonzeroFloat32, float32(math.Copysign(0, -1)), 1.0 / 3, math.Pi})
	for _, st := range []SampleType{Float32, Float64} {
		setup, array := encode(t, r, st)
		got := check.Must(Read(bytes.NewReader(setup), bytes.NewReader(array), allow))
		for i, want := range r.Capture.Data {
			if math.Float32bits(got.Capture.Data[i]) != math.Float32bits(want) {
				t.Errorf("%v: sample %d is %v, want %v", st, i, got.Capture.Data[i], want)
			}
		}
	}
}

// TestManyChunks: a capture of more samples than are converted at once.
func TestManyChunks(t *testing.T) {
	r := invented(t, fmc.HalfPairs(3))
	r.Capture.Samples = chunk + 1
	r.Capture.Data = make([]float32, 6*(chunk+1))
	for i := range r.Capture.Data {
		r.Capture.Data[i] = float32(i%1999 - 1000)
	}
	for st := Int16; st <= Float64; st++ {
		setup, array := encode(t, r, st)
		got := check.Must(Read(bytes.NewReader(setup), bytes.NewReader(array), allow))
		if diff := cmp.Diff(r, got); diff != "" {
			t.Errorf("%v (-want +got):\n%s", st, diff)
		}
	}
}

// TestReadByNpyio reads the written arrays with a general-purpose library for NumPy files, npyio
// v0.14.0.
func TestReadByNpyio(t *testing.T) {
	for name, r := range variants(t) {
		for st := Int16; st <= Float64; st++ {
			_, array := encode(t, r, st)
			if start := len(array) - len(r.Capture.Data)*sampleTypes[st].size; start%64 != 0 {
				t.Errorf("%s as %v: samples start at byte %d, want a multiple of 64", name, st, start)
			}
			reader := check.Must(npyio.NewReader(bytes.NewReader(array)))
			wantShape := []int{len(r.Capture.Pairs), 2}
			if n := len(r.Capture.Array.Elements); r.Capture.Layout() == fmc.Full {
				wantShape = []int{r.Capture.Transmissions(), n, 2}
			}
			if diff := cmp.Diff(wantShape, reader.Header.Descr.Shape); diff != "" {
				t.Errorf("%s as %v: shape (-want +got):\n%s", name, st, diff)
			}
			got := check.Must(readNpyio(reader, st))
			if diff := cmp.Diff(r.Capture.Data, got); diff != "" {
				t.Errorf("%s as %v: samples (-want +got):\n%s", name, st, diff)
			}
		}
	}
}

func readNpyio(r *npyio.Reader, st SampleType) ([]float32, error) {
	switch st {
	case Int16:
		return readNumbers[int16](r)
	case Float32:
		return readNumbers[float32](r)
	}
	return readNumbers[float64](r)
}

func readNumbers[T int16 | float32 | float64](r *npyio.Reader) ([]float32, error) {
	var numbers []T
	err := r.Read(&numbers)
	samples := make([]float32, len(numbers))
	for i, v := range numbers {
		samples[i] = float32(v)
	}
	return samples, err
}

func TestWriteRefuses(t *testing.T) {
	tests := []struct {
		name   string
		change func(*Record)
		kind   error
		want   string
	}{
		{"no capture", func(r *Record) { r.Capture = nil }, ErrSetup, "capture nil"},
		{"capture at fault", func(r *Record) { r.Capture.SampleRate = 0 }, nil, "fmc: sample rate 0 Hz"},
		{"event at fault", func(r *Record) {
			e := fmc.Event{Delays: make([]float64, 3), Weights: []float64{1, math.NaN(), 1}}
			r.Capture.Events = []fmc.Event{e, e, e}
		}, nil, "fmc: weight NaN of element 1: want a finite value (event 0)"},
		{"title not UTF-8", func(r *Record) { r.Title = "\xff" }, ErrSetup, `title "\xff": want UTF-8`},
		{"name not UTF-8", func(r *Record) { r.Setup.Part.Name = "\xff" }, ErrSetup, `part.name "\xff": want UTF-8`},
		{"sample above int16", func(r *Record) { r.Capture.Data[3] = 32768 }, ErrNotInt16, "sample 1 of pair 1 (0→1) is 32768: want an integer from -32768 to 32767"},
		{"sample below int16", func(r *Record) { r.Capture.Data[0] = -32769 }, ErrNotInt16, "sample 0 of pair 0 (0→0) is -32769"},
		{"half a unit", func(r *Record) { r.Capture.Data[17] = 0.5 }, ErrNotInt16, "sample 1 of pair 8 (2→2) is 0.5"},
		{"speed NaN", func(r *Record) { r.Setup.Part.Longitudinal = math.NaN() }, ErrSetup, "part.longitudinal_m_s NaN"},
		{"density Inf", func(r *Record) { r.Setup.Coupling.Density = math.Inf(1) }, ErrSetup, "coupling.density_kg_m3 +Inf"},
		{"transverse NaN", func(r *Record) { r.Setup.Coupling.Transverse = math.NaN() }, ErrSetup, "coupling.transverse_m_s NaN"},
		{"radius negative", func(r *Record) { r.Setup.Surface.Radius = -1 }, ErrSetup, "surface.radius_m -1: want a finite value above 0"},
		{"radius NaN", func(r *Record) { r.Setup.Surface.Radius = math.NaN() }, ErrSetup, "surface.radius_m NaN"},
		{"profile with a radius", func(r *Record) {
			r.Setup.Surface = Surface{Radius: 1, Points: make([]r3.Vec, 2)}
		}, ErrSetup, "surface.radius_m 1: want none for a profile"},
		{"profile without points", func(r *Record) { r.Setup.Surface.Points = []r3.Vec{} }, ErrSetup, "surface.points_m of 0 points: want at least 2"},
		{"profile out of plane", func(r *Record) {
			r.Setup.Surface = Surface{Points: []r3.Vec{{}, {X: 1, Y: 1}}}
		}, ErrSetup, "surface.points_m[1] {1 1 0}: want finite x and z, and y = 0"},
		{"profile NaN", func(r *Record) {
			r.Setup.Surface = Surface{Points: []r3.Vec{{Z: math.NaN()}, {X: 1}}}
		}, ErrSetup, "surface.points_m[0]"},
		{"hole NaN", func(r *Record) { r.Setup.Truth.Holes[0].X = math.NaN() }, ErrSetup, "truth.holes[0]"},
		{"slit Inf", func(r *Record) { r.Setup.Truth.Slits[0].Z0 = math.Inf(1) }, ErrSetup, "truth.slits[0]"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			r := invented(t, fmc.FullPairs(3))
			test.change(r)
			var setup, array bytes.Buffer
			wantFault(t, Write(&setup, &array, "a.npy", r, Int16), test.kind, test.want)
			if setup.Len()+array.Len() > 0 {
				t.Error("something was written before the fault was found")
			}
			name := filepath.Join(t.TempDir(), "a.json")
			wantFault(t, WriteFile(name, r, Int16), test.kind, test.want)
			wantFiles(t, filepath.Dir(name))
		})
	}
	t.Run("sample type", func(t *testing.T) {
		wantFault(t, Write(io.Discard, io.Discard, "a.npy", invented(t, fmc.FullPairs(3)), 3), nil, "sample type SampleType(3): want int16, float32 or float64")
	})
	for _, file := range []string{"", ".", "..", "../a.npy", "b/a.npy", `b\a.npy`, "/a.npy"} {
		t.Run("file "+file, func(t *testing.T) {
			wantFault(t, Write(io.Discard, io.Discard, file, invented(t, fmc.FullPairs(3)), Int16), ErrSetup, "capture.file")
		})
	}
}

// TestValidate: Validate reports an impossible value first, and else the implausible values.
func TestValidate(t *testing.T) {
	r := reference(t, "block16")
	if err := r.Validate(); err != nil {
		t.Error(err)
	}
	r.Setup.Part.Thickness *= 1000
	wantFault(t, r.Validate(), ErrImplausible, "part.thickness_m")
	r.Setup.Part.Density = 0
	wantFault(t, r.Validate(), ErrSetup, "part.density_kg_m3 0: want a finite value above 0")
	wantFault(t, (*Record)(nil).Validate(), ErrSetup, "record nil: want a record")
}

func TestWriteFileNames(t *testing.T) {
	r := invented(t, fmc.FullPairs(3))
	dir := t.TempDir()
	for _, name := range []string{"", "a", "a.npy", ".json", filepath.Join(dir, ".json")} {
		wantFault(t, WriteFile(name, r, Int16), nil, "want one that ends in .json")
	}
	err := WriteFile(filepath.Join(dir, "no", "a.json"), r, Int16)
	wantFault(t, err, os.ErrNotExist, "")
	wantFiles(t, dir)
}

// TestWriteFileReplaces: a failure leaves the old files, and a success the new files. Neither
// leaves other files.
func TestWriteFileReplaces(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a.json")
	old := invented(t, fmc.HalfPairs(3))
	if err := WriteFile(name, old, Int16); err != nil {
		t.Fatal(err)
	}
	fresh := invented(t, fmc.FullPairs(3))
	fresh.Capture.Data[0] = 0.25
	wantFault(t, WriteFile(name, fresh, Int16), ErrNotInt16, "a.json")
	for _, want := range []*Record{old, fresh} {
		got := check.Must(ReadFile(name, allow))
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("record (-want +got):\n%s", diff)
		}
		wantPair(t, name)
		if err := WriteFile(name, fresh, Float32); err != nil {
			t.Fatal(err)
		}
	}
}

// TestWriteFileCleansUp: a folder that has the name of the set-up makes the last rename fail.
func TestWriteFileCleansUp(t *testing.T) {
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "a.json", "full"), 0o755); err != nil {
		t.Fatal(err)
	}
	err := WriteFile(filepath.Join(dir, "a.json"), invented(t, fmc.FullPairs(3)), Int16)
	var link *os.LinkError
	if !errors.As(err, &link) {
		t.Errorf("error %v, want that of the rename", err)
	}
	wantFiles(t, dir, "a.json")
}

// TestWriteFileBeside: a folder that has the plain name of the array stays.
func TestWriteFileBeside(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a.json")
	if err := os.Mkdir(filepath.Join(dir, "a.npy"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := WriteFile(name, invented(t, fmc.FullPairs(3)), Int16); err != nil {
		t.Fatal(err)
	}
	if _, err := ReadFile(name, allow); err != nil {
		t.Error(err)
	}
	wantPair(t, name, "a.npy")
}

// TestWriteFails: Write returns the error of either writer.
func TestWriteFails(t *testing.T) {
	r := invented(t, fmc.FullPairs(3))
	for _, test := range []struct {
		name         string
		setup, array io.Writer
	}{
		{"set-up", failing(0), io.Discard},
		{"header", io.Discard, failing(0)},
		{"samples", io.Discard, failing(1)},
	} {
		err := Write(test.setup, test.array, "a.npy", r, Int16)
		wantFault(t, err, io.ErrClosedPipe, "npy: ")
	}
}

// failing returns a writer that fails after n writes.
func failing(n int) io.Writer { return &failingWriter{n} }

type failingWriter struct{ left int }

func (w *failingWriter) Write(p []byte) (int, error) {
	if w.left == 0 {
		return 0, io.ErrClosedPipe
	}
	w.left--
	return len(p), nil
}

// wantFault fails the test unless err begins with "npy: ", holds text and, if kind is not nil,
// wraps kind.
func wantFault(t testing.TB, err, kind error, text string) {
	t.Helper()
	if err == nil || !strings.HasPrefix(err.Error(), "npy: ") || !strings.Contains(err.Error(), text) {
		t.Errorf("error %v, want one that begins with \"npy: \" and holds %q", err, text)
	}
	if kind != nil && !errors.Is(err, kind) {
		t.Errorf("error %v, want one that wraps %q", err, kind)
	}
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
