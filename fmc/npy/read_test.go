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

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

func TestReadPlain(t *testing.T) {
	r := check.Must(read(plain, plainFile()))
	if diff := cmp.Diff([]float32{1, 2, 3, 4, 5, -1}, r.Capture.Data); diff != "" {
		t.Errorf("samples (-want +got):\n%s", diff)
	}
	if got := r.Capture.Layout(); got != fmc.Half {
		t.Errorf("layout %v, want half", got)
	}
}

// TestSetupFaults changes one detail of a sound set-up at a time.
func TestSetupFaults(t *testing.T) {
	tests := []struct{ name, old, new, want string }{
		{"empty", plain, "", "unexpected end of JSON input at byte 0"},
		{"not JSON", plain, "title: t", "invalid character"},
		{"not an object", plain, "[]", "a list: want an object"},
		{"number only", plain, "1", "the number 1: want an object"},
		{"null", plain, "null", ": null"},
		{"cut off", `"slits": [`, `"slits": [` + strings.Repeat(" ", 3) + "\x00",
			"invalid character"},
		{"cut off in a list", plain, plain[:300], "unexpected end of JSON input at byte 300"},
		{"cut off after a name", plain, plain[:10], "unexpected end of JSON input at byte 10"},
		{"text after", plain, plain + "{}", "after top-level value"},
		{"not UTF-8", `"t"`, "\"\xff\"", "text is not UTF-8"},
		{"unknown field", `"title"`, `"note": "", "title"`, `unknown field "note"`},
		{"unknown field inside", `"shape"`, `"tilt": 0, "shape"`, `unknown field "tilt"`},
		{"unknown field of the coupling", `"coupling": {`, `"coupling": {"loss": 0, `,
			`coupling: unknown field "loss"`},
		{"name in capitals", `"title"`, `"Title"`, `unknown field "Title"`},
		{"name that folds to ours", `"slits"`, `"\u017flits"`, "truth: unknown field"},
		{"name twice", `"title"`, `"title": "", "title"`, `field "title" is repeated`},
		{"name twice inside", `"x_m": 0`, `"x_m": 0, "x_m": 1`,
			`truth.holes[0]: field "x_m" is repeated`},
		{"null title", `"t"`, `null`, "title: null"},
		{"null coordinate", `[-0.0005, 0]`, `[null, 0]`, "array.element_centres_m[0][0]: null"},
		{"nested deep", `"t"`, strings.Repeat("[", 9000) + strings.Repeat("]", 9000),
			"title: a list: want a text"},
		{"nested deeper", `"t"`, strings.Repeat("[", 20000) + strings.Repeat("]", 20000),
			"exceeded max depth"},
		{"name twice, once by an escape", `"title"`, `"\u0074itle": "", "title"`,
			`field "title" is repeated`},
		{"name in escapes only, unknown", `"title"`, `"\u0054itle"`, `unknown field "Title"`},
		{"string for a number", `50e6`, `"50e6"`, "capture.sample_rate_hz: a text: want a number"},
		{"number beyond float64", `50e6`, `1e999`,
			"capture.sample_rate_hz: the number 1e999: want a number that fits a float64"},
		{"fraction for an element", `"first_sample_s"`, `"pairs": [[0, 0.5]], "first_sample_s"`,
			"capture.pairs[0][1]: the number 0.5: want a whole number"},

		{"no title", `"title": "t",`, ``, "title: missing"},
		{"no capture", `"capture"`, `"part"`, `part: unknown field "file"`},
		{"no file", `"file": "a.npy",`, ``, "capture.file: missing"},
		{"no order", `"order": "pair, sample",`, ``, "capture.order: missing"},
		{"no rate", `"sample_rate_hz": 50e6,`, ``, "capture.sample_rate_hz: missing"},
		{"no first sample", `, "first_sample_s": 0`, ``, "capture.first_sample_s: missing"},
		{"no centres", `, "element_centres_m": [[-0.0005, 0], [0.0005, 0]]`, ``,
			"array.element_centres_m: missing"},
		{"no coupling",
			`"coupling": {"name": "water", "density_kg_m3": 998, "longitudinal_m_s": 1482, "transverse_m_s": 0},`, ``, "coupling: missing"},
		{"no density of the coupling", `"density_kg_m3": 998, `, ``,
			"coupling.density_kg_m3: missing"},
		{"no speed of the part", `"longitudinal_m_s": 5920, `, ``,
			"part.longitudinal_m_s: missing"},
		{"no thickness", `, "thickness_m": 0.02`, ``, "part.thickness_m: missing"},
		{"no slits",
			`, "slits": [{"x0_m": 0, "z0_m": 0.01, "x1_m": 0, "z1_m": 0.02, "width_m": 0}]`, ``,
			"truth.slits: missing"},
		{"no diameter", `, "diameter_m": 0.002`, ``, "truth.holes[0].diameter_m: missing"},

		{"file in a folder", `"a.npy"`, `"b/a.npy"`,
			`capture.file "b/a.npy": want the plain name of a file`},
		{"file above", `"a.npy"`, `"../a.npy"`, "capture.file"},
		{"file absolute", `"a.npy"`, `"/a.npy"`, "capture.file"},
		{"file of another system", `"a.npy"`, `"b\\a.npy"`, "capture.file"},
		{"file without a name", `"a.npy"`, `""`, `capture.file ""`},
		{"file that is the folder", `"a.npy"`, `"."`, `capture.file "."`},
		{"unknown order", `"pair, sample"`, `"sample, pair"`,
			`capture.order "sample, pair": want "transmitter, receiver, sample" or "pair, sample"`},
		{"rate 0", `50e6`, `0`, "capture: fmc: sample rate 0 Hz"},
		{"rate negative", `50e6`, `-1`, "capture: fmc: sample rate -1 Hz"},
		{"list of pairs in the matrix order", `"pair, sample"`,
			`"transmitter, receiver, sample", "pairs": [[0, 0]]`,
			"capture.pairs: want none in the order"},
		{"empty list of pairs", `"first_sample_s"`, `"pairs": [], "first_sample_s"`,
			"capture.pairs of length 0: want at least 1"},
		{"pair of three", `"first_sample_s"`,
			`"pairs": [[0, 0], [0, 1, 1], [1, 1]], "first_sample_s"`,
			"capture.pairs[1]: list of 3 numbers: want [transmitter, receiver]"},
		{"pair of one", `"first_sample_s"`, `"pairs": [[0]], "first_sample_s"`,
			"capture.pairs[0]: list of 1 numbers"},
		{"pair beyond the array", `"first_sample_s"`,
			`"pairs": [[0, 0], [0, 2], [1, 1]], "first_sample_s"`,
			"pair 1 is 0→2: want elements 0 to 1"},
		{"pair twice", `"first_sample_s"`, `"pairs": [[0, 0], [1, 1], [0, 0]], "first_sample_s"`,
			"pairs 0 and 2 are both 0→0"},
		{"frequency 0", `5e6,`, `0,`, "array: fmc: centre frequency 0 Hz"},
		{"bandwidth 2", `0.6`, `2`, "array: fmc: bandwidth 2"},
		{"width 0", `0.0008`, `0`, "array: fmc: element width 0 m"},
		{"no elements", `[[-0.0005, 0], [0.0005, 0]]`, `[]`, "array: fmc: array of 0 elements"},
		{"coincident elements", `[0.0005, 0]`, `[-0.0005, 0]`, "elements 0 and 1 both lie at"},
		{"centre of one number", `[0.0005, 0]`, `[0.0005]`,
			"array.element_centres_m[1]: list of 1 numbers: want [x, z]"},
		{"centres of two and three numbers", `[0.0005, 0]`, `[0.0005, 0, 0]`,
			"or [x, y, z] for all"},
		{"density 0", `998`, `0`, "coupling.density_kg_m3 0: want a finite value above 0"},
		{"speed negative", `1482`, `-1482`, "coupling.longitudinal_m_s -1482"},
		{"transverse negative", `"transverse_m_s": 0`, `"transverse_m_s": -1`,
			"coupling.transverse_m_s -1: want 0 (a fluid) up to"},
		{"transverse too fast", `3240`, `5200`,
			"part.transverse_m_s 5200: want 0 (a fluid) up to, not including, 5126.87"},
		{"thickness 0", `"thickness_m": 0.02`, `"thickness_m": 0`, "part.thickness_m 0"},
		{"unknown shape", `"plane"`, `"sphere"`,
			`surface.shape: "sphere": want plane, cylinder or profile`},
		{"shape in capitals", `"plane"`, `"Plane"`, `surface.shape: "Plane"`},
		{"cylinder without radius", `"plane"`, `"cylinder"`,
			"surface.radius_m: want it for a cylinder"},
		{"plane with radius", `"plane"`, `"plane", "radius_m": 1`,
			"surface.radius_m: want it for a cylinder and for no other shape"},
		{"radius 0", `"plane"`, `"cylinder", "radius_m": 0`,
			"surface.radius_m: 0: want a finite value above 0"},
		{"wall as thick as the radius", `"plane"`, `"cylinder", "radius_m": 0.02`,
			"part.thickness_m 0.02: want a wall thinner than the cylinder's radius, 0.02"},
		{"profile without points", `"plane"`, `"profile"`,
			"surface.points_m: want them for a profile"},
		{"profile of one point", `"plane"`, `"profile", "points_m": [[0, 0]]`,
			"surface.points_m of 1 points: want at least 2"},
		{"profile back in x", `"plane"`, `"profile", "points_m": [[0, 0], [0, 1]]`,
			"surface.points_m[1] {0 0 1}: want x above 0, the x of the point before"},
		{"profile with y", `"plane"`, `"profile", "points_m": [[0, 0, 0], [1, 0, 0]]`,
			"surface.points_m[0]: list of 3 numbers: want [x, z]"},
		{"hole without size", `"diameter_m": 0.002`, `"diameter_m": 0`,
			"truth.holes[0] {X:0 Z:0.01 Diameter:0}"},
		{"slit of one point", `"z1_m": 0.02`, `"z1_m": 0.01`, "truth.slits[0]"},
		{"slit of negative width", `"width_m": 0`, `"width_m": -1`, "truth.slits[0]"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			setup := strings.Replace(plain, test.old, test.new, 1)
			if setup == plain {
				t.Fatalf("%q is not in the set-up", test.old)
			}
			_, err := read(setup, plainFile())
			wantFault(t, err, ErrSetup, test.want)
		})
	}
}

// TestNullCoupling: the coupling is the only field that may be null.
func TestNullCoupling(t *testing.T) {
	from := strings.Index(plain, `{"name": "water"`)
	to := strings.Index(plain, `,`+"\n"+` "surface"`)
	r := check.Must(read(plain[:from]+"null"+plain[to:], plainFile()))
	if r.Coupling != nil {
		t.Errorf("coupling %v, want none", r.Coupling)
	}
}

// TestArrayFaults reads arrays with one fault each. The set-up fits the shape (3, 2).
func TestArrayFaults(t *testing.T) {
	good := dictionary("'<i2'", "False", "(3, 2)")
	samples := make([]byte, 12)
	array := file(good, samples)
	nan := concat(make([]byte, 8), []byte{0, 0, 0xc0, 0x7f}, make([]byte, 12))
	huge := make([]byte, 48)
	huge[47], huge[46] = 0x7f, 0xe0 // 2^1023
	tests := []struct {
		name  string
		array []byte
		want  string
	}{
		{"empty", nil, "header: unexpected EOF"},
		{"magic only", []byte("\x93NUMPY"), "header: unexpected EOF"},
		{"no length", []byte("\x93NUMPY\x01\x00"), "header: unexpected EOF"},
		{"no dictionary", []byte("\x93NUMPY\x01\x00\x40\x00"), "header: unexpected EOF"},
		{"another format", []byte("PK\x03\x04 and so on and on"), "header"},
		{"version 0", concat("\x93NUMPY\x00\x00\x40\x00", strings.Repeat(" ", 63)+"\n"),
			"version 0.0: want 1.0 or 2.0"},
		{"version 3", concat("\x93NUMPY\x03\x00\x40\x00\x00\x00", strings.Repeat(" ", 63)+"\n"),
			"version 3.0: want 1.0 or 2.0"},
		{"header of 4 GB", []byte("\x93NUMPY\x02\x00\xff\xff\xff\xff"),
			"header of 4294967295 bytes: want 65535 at most"},
		{"header of length 0", []byte("\x93NUMPY\x01\x00\x00\x00"), "malformed header"},
		{"no line break", []byte("\x93NUMPY\x01\x00\x04\x00{'d'"), "malformed header"},
		{"empty dictionary", file("{}", samples), "malformed header"},
		{"keys only", file("'descr': 'fortran_order': 'shape': ", samples), "malformed header"},
		{"keys in another order",
			file("{'shape': (3, 2), 'fortran_order': False, 'descr': '<i2', }", samples),
			"malformed header"},
		{"no closing brace", file(good[:len(good)-3], samples), "malformed header"},
		{"shape is a list", file(dictionary("'<i2'", "False", "[3, 2]"), samples),
			"malformed header"},
		{"shape has an empty place", file(dictionary("'<i2'", "False", "(3,, 2)"), samples),
			"malformed header"},
		{"shape has no closing bracket", file(dictionary("'<i2'", "False", "(3, 2,"), samples),
			"malformed header"},
		{"text after the dictionary", file(good+"{'shape': (6, 1)}", samples), "malformed header"},
		{"text before the dictionary", file("x"+good, samples), "malformed header"},
		{"control characters in the type",
			file(dictionary("'\x1b[2J'", "False", "(3, 2)"), samples), `type "'\x1b[2J'"`},
		{"control characters for the order",
			file(dictionary("'<i2'", "\x1b[2J", "(3, 2)"), samples), `\x1b[2J`},
		{"control characters in the shape",
			file(dictionary("'<i2'", "False", "(\x1b[2J, 2)"), samples), `\x1b[2J`},
		{"long number",
			file(dictionary("'<i2'", "False", "("+strings.Repeat("9", 60000)+", 2)"), samples),
			"out of range"},
		{"version 1.1", concat("\x93NUMPY\x01\x01", array[8:]), "version 1.1: want 1.0 or 2.0"},
		{"empty shape text", file(dictionary("'<i2'", "False", ""), samples), "malformed header"},
		{"shape is no number", file(dictionary("'<i2'", "False", "(three, 2)"), samples),
			"malformed header"},
		{"fortran_order is no truth value", file(dictionary("'<i2'", "0", "(3, 2)"), samples),
			"fortran_order"},
		{"Fortran order", file(dictionary("'<i2'", "True", "(3, 2)"), samples),
			`fortran_order "True": want False`},
		{"unsigned", file(dictionary("'<u2'", "False", "(3, 2)"), samples),
			`type "'<u2'": want int16, float32 or float64`},
		{"complex", file(dictionary("'<c8'", "False", "(3, 2)"), samples), `type "'<c8'"`},
		{"no byte order", file(dictionary("'i2'", "False", "(3, 2)"), samples), `type "'i2'"`},
		{"record type", file(dictionary("[('a', '<i2')]", "False", "(3, 2)"), samples),
			`type "[('a'`},
		{"no dimension", file(dictionary("'<i2'", "False", "()"), samples[:2]),
			"0 dimensions: want 2 to 4"},
		{"one dimension", file(dictionary("'<i2'", "False", "(6,)"), samples),
			"1 dimensions: want 2 to 4"},
		{"five dimensions", file(dictionary("'<i2'", "False", "(3, 1, 1, 1, 2)"), samples),
			"5 dimensions: want 2 to 4"},
		{"no samples", file(dictionary("'<i2'", "False", "(3, 0)"), nil),
			"shape [3 0]: want numbers from 1"},
		{"negative", file(dictionary("'<i2'", "False", "(-3, -2)"), samples), "shape [-3 -2]"},
		{"product overflows to 0",
			file(dictionary("'<i2'", "False", fmt.Sprintf("(4, 4, %d)", math.MaxInt/8+1)), samples),
			"shape [4 4 "},
		{"bytes overflow",
			file(dictionary("'<f8'", "False", fmt.Sprintf("(3, %d)", math.MaxInt/8)), samples),
			"shape [3 "},
		{"number overflows",
			file(dictionary("'<i2'", "False", "(3, 99999999999999999999)"), samples),
			"out of range"},
		{"a byte short", file(good, samples[:11]), "unexpected EOF"},
		{"no sample at all", file(good, nil), "unexpected EOF"},
		{"a byte over", file(good, append(samples, 0)), "more than the 12 bytes of samples"},
		{"NaN", file(dictionary("'<f4'", "False", "(3, 2)"), nan),
			"sample 0 of pair 1 (0→1) is NaN"},
		{"beyond float32", file(dictionary("'<f8'", "False", "(3, 2)"), huge),
			"sample 1 of pair 2 (1→1) is +Inf"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, err := read(plain, test.array)
			wantFault(t, err, ErrArray, test.want)
			if text := fmt.Sprint(err); !visible(text) || len(text) > 1000 {
				t.Errorf("error of %d bytes, %.200q: want a short one that is visible", len(text),
					text)
			}
			if strings.Contains(test.want, "unexpected EOF") &&
				!errors.Is(err, io.ErrUnexpectedEOF) {
				t.Errorf("error %v, want one that wraps io.ErrUnexpectedEOF", err)
			}
			dir := t.TempDir()
			put(t, dir, "a.json", []byte(plain))
			put(t, dir, "a.npy", test.array)
			_, err = ReadFile(filepath.Join(dir, "a.json"), allow)
			wantFault(t, err, ErrArray, "a.npy")
		})
	}
}

func TestBadSampleIsTyped(t *testing.T) {
	array := file(dictionary("'<f4'", "False", "(3, 2)"),
		concat(make([]byte, 22), []byte{0x80, 0xff}))
	_, err := read(plain, array)
	var got *fmc.SampleError
	if !errors.As(err, &got) {
		t.Fatalf("error %v, want a SampleError", err)
	}
	want := &fmc.SampleError{Index: 2, Pair: fmc.Pair{Tx: 1, Rx: 1}, Sample: 1,
		Value: float32(math.Inf(-1))}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("error (-want +got):\n%s", diff)
	}
}

// TestMismatches reads a sound set-up with a sound array of another shape.
func TestMismatches(t *testing.T) {
	matrix := strings.Replace(plain, `"pair, sample"`, `"transmitter, receiver, sample"`, 1)
	listed := strings.Replace(plain, `"first_sample_s"`,
		`"pairs": [[0, 1], [1, 0]], "first_sample_s"`, 1)
	tests := []struct{ name, setup, shape, want string }{
		{"full matrix for a half", plain, "(2, 2, 2)",
			`shape [2 2 2] in the order "pair, sample": want [3] and the samples for the half matrix of 2 elements`},
		{"pairs of another array", plain, "(6, 2)", "shape [6 2]"},
		{"all pairs without a list", plain, "(4, 2)", "shape [4 2]"},
		{"half matrix for a full", matrix, "(3, 2)",
			`shape [3 2] in the order "transmitter, receiver, sample": want [2 2] and the samples for 2 elements`},
		{"receivers missing", matrix, "(2, 1, 2)", "shape [2 1 2]"},
		{"transmitters over", matrix, "(3, 2, 2)", "shape [3 2 2]"},
		{"another array", matrix, "(3, 3, 2)", "shape [3 3 2]"},
		{"more pairs than listed", listed, "(3, 2)",
			"shape [3 2] in the order \"pair, sample\": want [2] and the samples for the list of pairs"},
		{"matrix for a list", listed, "(2, 1, 2)", "shape [2 1 2]"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, err := read(test.setup, file(dictionary("'<i2'", "False", test.shape), nil))
			wantFault(t, err, ErrArray, test.want)
		})
	}
}

// TestTypes reads the same samples in each type, byte order and version.
func TestTypes(t *testing.T) {
	want := []float32{1, 2, 3, 4, 5, -1}
	encoded := map[string][][]byte{
		"'<i2'": {{1, 0}, {2, 0}, {3, 0}, {4, 0}, {5, 0}, {0xff, 0xff}},
		"'>i2'": {{0, 1}, {0, 2}, {0, 3}, {0, 4}, {0, 5}, {0xff, 0xff}},
		"'<f4'": {{0, 0, 0x80, 0x3f}, {0, 0, 0, 0x40}, {0, 0, 0x40, 0x40}, {0, 0, 0x80, 0x40}, {0, 0, 0xa0, 0x40}, {0, 0, 0x80, 0xbf}},
		"'>f4'": {{0x3f, 0x80, 0, 0}, {0x40, 0, 0, 0}, {0x40, 0x40, 0, 0}, {0x40, 0x80, 0, 0}, {0x40, 0xa0, 0, 0}, {0xbf, 0x80, 0, 0}},
		"'<f8'": {{6: 0xf0, 7: 0x3f}, {7: 0x40}, {6: 8, 7: 0x40}, {6: 0x10, 7: 0x40}, {6: 0x14, 7: 0x40}, {6: 0xf0, 7: 0xbf}},
		"'>f8'": {{0x3f, 0xf0, 7: 0}, {0x40, 7: 0}, {0x40, 8, 7: 0}, {0x40, 0x10, 7: 0}, {0x40, 0x14, 7: 0}, {0xbf, 0xf0, 7: 0}},
	}
	for descr, samples := range encoded {
		text := dictionary(descr, "False", "(3, 2)") + "\n"
		for version, start := range []string{
			"\x93NUMPY\x01\x00" + string([]byte{byte(len(text)), 0}),
			"\x93NUMPY\x02\x00" + string([]byte{byte(len(text)), 0, 0, 0}),
		} {
			array := concat(start, text, bytes.Join(samples, nil))
			r, err := read(plain, array)
			if err != nil {
				t.Errorf("%s, version %d: %v", descr, version+1, err)
				continue
			}
			if diff := cmp.Diff(want, r.Capture.Data); diff != "" {
				t.Errorf("%s, version %d (-want +got):\n%s", descr, version+1, diff)
			}
		}
	}
}

func TestReadFails(t *testing.T) {
	broken := errors.New("broken")
	_, err := Read(iotest.ErrReader(broken), bytes.NewReader(plainFile()), allow)
	wantFault(t, err, broken, "set-up")
	for n := range plainFile() {
		array := io.MultiReader(bytes.NewReader(plainFile()[:n]), iotest.ErrReader(broken))
		_, err := Read(strings.NewReader(plain), array, allow)
		wantFault(t, err, broken, "array")
	}
	_, err = Read(strings.NewReader(plain),
		io.MultiReader(bytes.NewReader(plainFile()), iotest.ErrReader(broken)), allow)
	wantFault(t, err, broken, "end of the samples")
}

func TestReadFileFaults(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a.json")
	_, err := ReadFile(name, allow)
	wantFault(t, err, os.ErrNotExist, "a.json")

	put(t, dir, "a.json", []byte(plain))
	_, err = ReadFile(name, allow)
	wantFault(t, err, os.ErrNotExist, "a.npy")

	if err := os.Mkdir(filepath.Join(dir, "a.npy"), 0o755); err != nil {
		t.Fatal(err)
	}
	_, err = ReadFile(name, allow)
	wantFault(t, err, nil, "a.npy: want a regular file")
	_, err = ReadFile(dir, allow)
	wantFault(t, err, nil, "want a regular file")

	put(t, dir, "b.json", []byte(strings.Replace(plain, "a.npy", "b.json", 1)))
	_, err = ReadFile(filepath.Join(dir, "b.json"), allow)
	wantFault(t, err, ErrArray, "b.json")
}

// TestReadWithoutTruth: a set-up may lack the known reflectors.
func TestReadWithoutTruth(t *testing.T) {
	r := invented(t, fmc.HalfPairs(2))
	setup, array := encode(t, r, Float32)
	before, _, found := bytes.Cut(setup, []byte(`"truth"`))
	if !found {
		t.Fatalf("no truth in %s", setup)
	}
	before = append(bytes.TrimRight(before, ", \n"), '}')
	got := check.Must(read(string(before), array))
	if len(got.Truth.Holes)+len(got.Truth.Slits) != 0 {
		t.Errorf("truth %+v, want none", got.Truth)
	}
}
