// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"
	"testing/iotest"

	npyio "codeberg.org/sbinet/npyio/npy"
	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

func TestRoundTrip(t *testing.T) {
	for name, r := range variants(t) {
		for st := Int16; st <= Float64; st++ {
			setup, array := encode(t, r, st)
			got, err := Read(iotest.OneByteReader(bytes.NewReader(setup)),
				iotest.HalfReader(bytes.NewReader(array)), allow)
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
	copy(r.Capture.Data,
		[]float32{math.MaxFloat32, -math.MaxFloat32, math.SmallestNonzeroFloat32,
			float32(math.Copysign(0, -1)), 1.0 / 3, math.Pi})
	for _, st := range []SampleType{Float32, Float64} {
		setup, array := encode(t, r, st)
		got := check.Must(read(string(setup), array))
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
		got := check.Must(read(string(setup), array))
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
				t.Errorf("%s as %v: samples start at byte %d, want a multiple of 64", name, st,
					start)
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
		{"capture at fault", func(r *Record) { r.Capture.SampleRate = 0 }, nil,
			"fmc: sample rate 0 Hz"},
		{"event at fault", func(r *Record) {
			e := fmc.Event{Delays: make([]float64, 3), Weights: []float64{1, math.NaN(), 1}}
			r.Capture.Events = []fmc.Event{e, e, e}
		}, nil, "fmc: weight NaN of element 1: want a finite value (event 0)"},
		{"title not UTF-8", func(r *Record) { r.Title = "\xff" }, ErrSetup,
			`title "\xff": want UTF-8`},
		{"name not UTF-8", func(r *Record) { r.Part.Name = "\xff" }, ErrSetup,
			`part.name "\xff": want UTF-8`},
		{"sample above int16", func(r *Record) { r.Capture.Data[3] = 32768 }, ErrNotInt16,
			"sample 1 of pair 1 (0→1) is 32768: want an integer from -32768 to 32767, or type Float32"},
		{"sample below int16", func(r *Record) { r.Capture.Data[0] = -32769 }, ErrNotInt16,
			"sample 0 of pair 0 (0→0) is -32769"},
		{"half a unit", func(r *Record) { r.Capture.Data[17] = 0.5 }, ErrNotInt16,
			"sample 1 of pair 8 (2→2) is 0.5"},
		{"speed NaN", func(r *Record) { r.Part.Longitudinal = math.NaN() }, ErrSetup,
			"part.longitudinal_m_s NaN"},
		{"density Inf", func(r *Record) { r.Coupling.Density = math.Inf(1) }, ErrSetup,
			"coupling.density_kg_m3 +Inf"},
		{"transverse NaN", func(r *Record) { r.Coupling.Transverse = math.NaN() }, ErrSetup,
			"coupling.transverse_m_s NaN"},
		{"radius negative", func(r *Record) { r.Surface.Radius = -1 }, ErrSetup,
			"surface.radius_m -1: want a finite value above 0"},
		{"radius NaN", func(r *Record) { r.Surface.Radius = math.NaN() }, ErrSetup,
			"surface.radius_m NaN"},
		{"profile with a radius", func(r *Record) {
			r.Surface = EntrySurface{Radius: 1, Points: make([]r3.Vec, 2)}
		}, ErrSetup, "surface.radius_m 1: want none for a profile"},
		{"profile without points", func(r *Record) { r.Surface.Points = []r3.Vec{} },
			ErrSetup, "surface.points_m of 0 points: want at least 2"},
		{"profile out of plane", func(r *Record) {
			r.Surface = EntrySurface{Points: []r3.Vec{{}, {X: 1, Y: 1}}}
		}, ErrSetup, "surface.points_m[1] {1 1 0}: want finite x and z, and y = 0"},
		{"profile NaN", func(r *Record) {
			r.Surface = EntrySurface{Points: []r3.Vec{{Z: math.NaN()}, {X: 1}}}
		}, ErrSetup, "surface.points_m[0]"},
		{"hole NaN", func(r *Record) { r.Truth.Holes[0].X = math.NaN() }, ErrSetup,
			"truth.holes[0]"},
		{"slit Inf", func(r *Record) { r.Truth.Slits[0].Z0 = math.Inf(1) }, ErrSetup,
			"truth.slits[0]"},
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
		wantFault(t, Write(io.Discard, io.Discard, "a.npy", invented(t, fmc.FullPairs(3)), 3), nil,
			"sample type SampleType(3): want int16, float32 or float64")
	})
	for _, file := range []string{"", ".", "..", "../a.npy", "b/a.npy", `b\a.npy`, "/a.npy"} {
		t.Run("file "+file, func(t *testing.T) {
			wantFault(t, Write(io.Discard, io.Discard, file, invented(t, fmc.FullPairs(3)), Int16),
				ErrSetup, "capture.file")
		})
	}
}

// TestValidate: Validate reports an impossible value first, and else the implausible values.
func TestValidate(t *testing.T) {
	r := reference(t, "block16")
	if err := r.Validate(); err != nil {
		t.Error(err)
	}
	r.Thickness *= 1000
	wantFault(t, r.Validate(), ErrImplausible, "part.thickness_m")
	r.Part.Density = 0
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
