// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"flag"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/report"
)

// folders holds the folder of each run of inspected, by its arguments.
var folders = map[string]string{}

func TestMain(m *testing.M) {
	code := m.Run()
	for _, folder := range folders {
		os.RemoveAll(folder)
	}
	os.Exit(code)
}

// inspected runs the program in the top folder, and returns its files and its report. Tests with
// the same arguments share one run.
func inspected(t *testing.T, args ...string) (folder string, r summary) {
	t.Helper()
	if testing.Short() && !slices.Contains(args, "testdata/block16.json") {
		t.Skip("short runs image the block alone")
	}
	t.Chdir("../..")
	key := strings.Join(args, " ")
	if folders[key] == "" {
		folders[key] = check.Must(os.MkdirTemp("", "inspect"))
		do(t, done, append(args, "-out", folders[key], "-report", filepath.Join(folders[key], "page.html"))...)
	}
	text := check.Must(os.ReadFile(filepath.Join(folders[key], "indications.json")))
	if err := json.Unmarshal(text, &r); err != nil {
		t.Fatal(err)
	}
	return folders[key], r
}

// do runs the program, and fails the test unless it ends with an exit code. It returns the text of
// the error. A run with an error prints one line, and nothing else. A run without an error prints
// no error.
func do(t *testing.T, code int, args ...string) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	got := run(t.Context(), args, &stdout, &stderr)
	text := stderr.String()
	if got != code {
		t.Fatalf("exit code %d, want %d: %s", got, code, text)
	}
	if code == done && text != "" {
		t.Errorf("error %q without an error code", text)
	}
	if code == fail {
		if strings.Count(text, "\n") != 1 || !strings.HasSuffix(text, "\n") {
			t.Errorf("error %q, want one line", text)
		}
		if stdout.Len() > 0 {
			t.Errorf("prints %q besides the error", stdout.String())
		}
	}
	return text
}

// near returns the strongest indication of a view whose peak lies within
// distance of (x, z), all in mm.
func near(t *testing.T, r summary, view string, x, z, distance float64) indicationReport {
	t.Helper()
	for _, v := range r.Views {
		for _, i := range v.Indications {
			if v.View == view && math.Hypot(i.X*1e3-x, i.Z*1e3-z) <= distance {
				return i
			}
		}
	}
	t.Fatalf("no indication of %s within %v mm of (%v, %v) mm in %+v",
		view, distance, x, z, r.Views)
	return indicationReport{}
}

// TestWeld checks the default run against the truth of the simulated weld: a face from (18.85, 11)
// to (21.15, 7) mm, and a notch at x = 16 mm from 13.5 to 16 mm.
func TestWeld(t *testing.T) {
	_, r := inspected(t)
	face := near(t, r, "T-T", 20, 9, 1.5)
	// The distance of the peak from the line of the face.
	dx, dz := 21.15-18.85, 7.0-11.0
	offset := ((face.X*1e3-18.85)*dz - (face.Z*1e3-11)*dx) / math.Hypot(dx, dz)
	check.Within(t, "peak's distance from the face in mm", offset, 0, 0.4)
	check.Within(t, "tilt of the face in degrees", degrees(face.Tilt), degrees(math.Atan2(dx, -dz)), 3)

	notch := near(t, r, "TT-T", 16, 15.5, 1)
	check.Within(t, "x of the notch in mm", notch.X*1e3, 16, 0.3)
	check.Within(t, "height of the notch in mm", (notch.ExtentZ[1]-notch.ExtentZ[0])*1e3, 2.5, 0.6)
	if top := r.Views[0].Indications[0]; top.ID != 1 || top.LevelDB != 0 {
		t.Errorf("the strongest indication is %+v, want number 1 at 0 dB", top)
	}
}

// TestCSV checks that the table holds the indications of all views under the names of its columns.
func TestCSV(t *testing.T) {
	dir, r := inspected(t)
	text := check.Must(os.ReadFile(filepath.Join(dir, "indications.csv")))
	rows := check.Must(csv.NewReader(bytes.NewReader(text)).ReadAll())
	want := "view,id,x_m,z_m,level_db,extent_x_from_m,extent_x_to_m,extent_z_from_m,extent_z_to_m," +
		"length_m,width_m,tilt_rad,round,edge,states,merged,snr_db"
	if got := strings.Join(rows[0], ","); got != want {
		t.Errorf("columns %v, want %s", got, want)
	}
	first := r.Views[0].Indications[0]
	for i, want := range map[int]float64{2: first.X, 7: first.ExtentZ[0], 11: first.Tilt, 16: first.SNRDB} {
		if got, err := strconv.ParseFloat(rows[1][i], 64); err != nil || got != want {
			t.Errorf("column %s is %s, want %v", rows[0][i], rows[1][i], want)
		}
	}
	if want := 1 + len(r.Views[0].Indications) + len(r.Views[1].Indications) + len(r.Views[2].Indications); len(rows) != want {
		t.Errorf("%d rows in the table, want %d", len(rows), want)
	}
}

// TestPictures checks that each view has a picture of a readable size.
func TestPictures(t *testing.T) {
	dir, _ := inspected(t)
	for _, view := range []string{"T-T", "TT-T", "TT-TT"} {
		text := check.Must(os.ReadFile(filepath.Join(dir, view+".png")))
		c := check.Must(png.DecodeConfig(bytes.NewReader(text)))
		if c.Width < 400 || c.Height < 300 {
			t.Errorf("picture of %s is %d × %d pixels", view, c.Width, c.Height)
		}
	}
}

// TestJSON checks the names of the fields. It does not use the types of the program, because other
// programs read the fields by their names.
func TestJSON(t *testing.T) {
	dir, _ := inspected(t)
	text := check.Must(os.ReadFile(filepath.Join(dir, "indications.json")))
	var j struct {
		Capture string
		Views   []map[string]any
	}
	if err := json.Unmarshal(text, &j); err != nil {
		t.Fatal(err)
	}
	if j.Capture != "weld32" || len(j.Views) != 3 ||
		j.Views[0]["view"] != "T-T" || j.Views[1]["view"] != "TT-T" {
		t.Fatalf("%s", text)
	}
	list := j.Views[0]["indications"].([]any)
	first := list[0].(map[string]any)
	for _, name := range []string{"id", "x_m", "z_m", "level_db", "length_m", "width_m", "tilt_rad", "snr_db"} {
		if _, ok := first[name].(float64); !ok {
			t.Errorf("%s is %v, want a number", name, first[name])
		}
	}
	for _, name := range []string{"extent_x_m", "extent_z_m"} {
		if ends, ok := first[name].([]any); !ok || len(ends) != 2 || ends[0].(float64) >= ends[1].(float64) {
			t.Errorf("%s is %v, want two ends", name, first[name])
		}
	}
	for _, name := range []string{"round", "edge", "merged"} {
		if _, ok := first[name].(bool); !ok {
			t.Errorf("%s is %v, want true or false", name, first[name])
		}
	}
	if states, ok := first["states"].([]any); !ok || len(states) != 0 {
		t.Errorf("states are %v, want an empty list: each pixel of the face shows all",
			first["states"])
	}
	if len(first) != 14 {
		t.Errorf("%d fields in %v, want 14", len(first), first)
	}
	for _, i := range list {
		if level := i.(map[string]any)["level_db"].(float64); level < -30 {
			t.Errorf("an indication at %v dB, below the floor", level)
		}
	}
}

// opened returns an inspection that has read its capture.
func opened(t *testing.T, args ...string) *inspection {
	t.Helper()
	var f flags
	set := flag.NewFlagSet("", flag.ContinueOnError)
	f.declare(set)
	if err := set.Parse(args); err != nil {
		t.Fatal(err)
	}
	in := &inspection{options: check.Must(f.parse()), stages: &stages{out: io.Discard}}
	if err := in.open(); err != nil {
		t.Fatal(err)
	}
	return in
}

// TestMoved images a weld that is moved along the surface, and a mirrored weld.
func TestMoved(t *testing.T) {
	if !long {
		t.Skip("the tests of package npy are enough without the build tag long")
	}
	t.Chdir("../..")
	for _, test := range []struct {
		name         string
		scale, shift float64
	}{{"moved by 100 mm", 1, 0.1}, {"mirrored", -1, 0}} {
		t.Run(test.name, func(t *testing.T) {
			r := check.Must(npy.ReadFile("testdata/weld32.json", nil))
			for i := range r.Capture.Array.Elements {
				e := &r.Capture.Array.Elements[i]
				e.X = test.scale*e.X + test.shift
			}
			r.Truth = npy.Truth{} // known reflectors that do not move with the array
			name := filepath.Join(t.TempDir(), "weld.json")
			if err := npy.WriteFile(name, r, npy.Int16); err != nil {
				t.Fatal(err)
			}
			dir := t.TempDir()
			do(t, done, "-capture", name, "-view", "T-T", "-step", "0.2", "-out", dir)
			text := check.Must(os.ReadFile(filepath.Join(dir, "indications.json")))
			var got summary
			if err := json.Unmarshal(text, &got); err != nil {
				t.Fatal(err)
			}
			face := near(t, got, "T-T", 20*test.scale+test.shift*1e3, 9, 1.5)
			check.Within(t, "tilt of the face in degrees", degrees(face.Tilt), test.scale*29.9, 3)
		})
	}
}

// blankView are the arguments of a run with a view that shows nothing.
var blankView = []string{"-capture", "testdata/block16.json", "-step", "0.4", "-view", "L-L,TTTT-TTTT", "-floor", "-20", "-range", "-25"}

// TestOneBlankView checks that a view that shows nothing does not prevent the results of other
// views.
func TestOneBlankView(t *testing.T) {
	_, r := inspected(t, blankView...)
	if len(r.Views) != 2 || len(r.Views[0].Indications) == 0 ||
		r.Views[1].Indications == nil || len(r.Views[1].Indications) != 0 {
		t.Errorf("views %+v, want indications in the first and an empty list in the second",
			r.Views)
	}
}

// TestDefaults checks the default runs of reference captures: the views, the echoes of walls, the
// positions of the indications at the reflectors, and the flaws (x, z in mm). A hole shows by its
// near face, a slit by its tips. The positions of the indications come from an independent image,
// listed in the README of testdata. The centres of the slits come from the set-ups. TestWeld
// checks weld32.
func TestDefaults(t *testing.T) {
	for _, test := range []struct {
		name  string
		views []string
		walls int // in the first view
		at    [][2]float64
		flaws []place
	}{
		{"block16", []string{"L-L"}, 1, [][2]float64{{-8.65, 9.40}, {-2.95, 16.30}, {2.75, 23.35}, {8.45, 30.40}},
			[]place{{-8.65, 9.40, flaw.Point}, {-2.95, 16.30, flaw.Point}, {2.75, 23.35, flaw.Point}, {8.45, 30.40, flaw.Point}}},
		{"pipe32", []string{"L-L"}, 1, [][2]float64{{-6.80, 6.00}, {0.55, 8.40}, {7.30, 7.05}},
			[]place{{-6.80, 6.00, flaw.Point}, {0.55, 8.40, flaw.Point}, {7.30, 7.05, flaw.Point}}},
		{"wavy32", []string{"L-L"}, 1, [][2]float64{{-6.25, 7.40}, {0.95, 11.45}, {6.80, 14.45}},
			[]place{{-6.25, 7.40, flaw.Point}, {0.95, 11.45, flaw.Point}, {6.80, 14.45, flaw.Point}}},
		// The notch stands on the wall and divides its echo. View L-L shows its tip and not its
		// foot.
		{"notch32", []string{"L-L"}, 2, [][2]float64{{-6.05, 8.95}, {-5.90, 14.05}, {5.00, 19.45}},
			[]place{{-6, 11.5, flaw.Planar}, {5, 19.45, flaw.Planar}}},
	} {
		t.Run(test.name, func(t *testing.T) {
			if !long && (test.name == "wavy32" || test.name == "pipe32") {
				t.Skip("examples/pipe images both curved surfaces")
			}
			_, r := inspected(t, "-capture", "testdata/"+test.name+".json")
			if r.Capture != test.name || !slices.Equal(r.Origin.Views, test.views) {
				t.Fatalf("capture %q in the views %v, want %s in %v", r.Capture, r.Origin.Views, test.name, test.views)
			}
			first := r.Views[0]
			if len(first.Walls) != test.walls {
				t.Errorf("%d echoes of walls in view %s, want %d", len(first.Walls), first.View, test.walls)
			}
			for _, w := range first.Walls {
				if w.Wall != "back wall" {
					t.Errorf("echo of the %s", w.Wall)
				}
			}
			if top := first.Indications[0]; top.ID != 1 || top.LevelDB != 0 {
				t.Errorf("the strongest indication of %s is %+v, want number 1 at 0 dB", first.View, top)
			}
			for _, at := range test.at {
				near(t, r, test.views[0], at[0], at[1], 0.25)
			}
			checkFlaws(t, r, test.flaws)
			checkReferences(t, r)
		})
	}
}

// place is where a flaw is expected, in mm, and its kind.
type place struct {
	x, z float64
	kind flaw.Kind
}

// checkFlaws fails the test unless a list names all planar flaws and points, and something
// explains each geometry entry.
func checkFlaws(t *testing.T, r summary, want []place) {
	t.Helper()
	count := 0
	for _, f := range r.Flaws {
		if f.Kind == flaw.Planar || f.Kind == flaw.Point {
			count++
		}
		if f.Kind == flaw.Geometry && f.ExplainedBy == "" {
			t.Errorf("flaw %d is geometry and nothing explains it", f.ID)
		}
	}
	if count != len(want) {
		t.Errorf("%d planar flaws and points, want %d: %+v", count, len(want), r.Flaws)
	}
	for _, p := range want {
		if !slices.ContainsFunc(r.Flaws, func(f flawReport) bool {
			return f.Kind == p.kind && math.Hypot(f.X*1e3-p.x, f.Z*1e3-p.z) < 0.5
		}) {
			t.Errorf("no %s flaw at x %v, z %v mm", p.kind, p.x, p.z)
		}
	}
}

// checkReferences fails the test unless each indication and each wall belongs to one flaw, and
// walls belong to geometry.
func checkReferences(t *testing.T, r summary) {
	t.Helper()
	kinds := map[flawReference]flaw.Kind{}
	for i, f := range r.Flaws {
		if f.ID != i+1 {
			t.Errorf("flaw %d has the number %d", i+1, f.ID)
		}
		for _, in := range f.Indications {
			if kinds[in] != "" {
				t.Errorf("%+v belongs to two flaws", in)
			}
			kinds[in] = f.Kind
		}
	}
	for _, v := range r.Views {
		for _, in := range v.Indications {
			if kinds[flawReference{v.View, in.ID}] == "" {
				t.Errorf("indication %d of %s belongs to no flaw", in.ID, v.View)
			}
		}
		for _, w := range v.Walls {
			if kinds[flawReference{v.View, w.ID}] != flaw.Geometry {
				t.Errorf("wall %d of %s belongs to a flaw of the kind %q", w.ID, v.View, kinds[flawReference{v.View, w.ID}])
			}
		}
	}
}

// TestFlaws checks the flaws of the default run against the truth of the simulated weld. A face of
// 4.61 mm from (18.85, 11) to (21.15, 7) mm is seen square on. A notch of 2.5 mm is at x = 16 mm.
// The test reads the fields by their names, because other programs do.
func TestFlaws(t *testing.T) {
	folder, r := inspected(t)
	checkFlaws(t, r, []place{{19.6, 9.7, flaw.Planar}, {16, 14.75, flaw.Planar}})
	checkReferences(t, r)
	var j struct{ Flaws []map[string]any }
	if err := json.Unmarshal(check.Must(os.ReadFile(filepath.Join(folder, "indications.json"))), &j); err != nil {
		t.Fatal(err)
	}
	face, notch := j.Flaws[0], j.Flaws[1]
	if face["kind"] != "planar" || face["length_is"] != "lower bound" || !(face["length_m"].(float64) < 4.7e-3) {
		t.Errorf("face %v, want a lower bound below the true length", face)
	}
	check.Within(t, "tilt of the face in degrees", degrees(face["tilt_rad"].(float64)), degrees(math.Atan2(2.3, 4)), 3)
	if notch["method"] != "tip and wall" || notch["length_is"] != "measured" {
		t.Errorf("notch %v, want one measured from tip and wall", notch)
	}
	if u := notch["length_u_m"].(float64); !(math.Abs(notch["length_m"].(float64)-2.5e-3) <= u) || !(u < 0.5e-3) {
		t.Errorf("notch of %v ± %v m, want 2.5e-3 within the uncertainty", notch["length_m"], u)
	}
	ends := notch["ends_m"].([]any)
	check.Within(t, "z of the notch's tip in mm", ends[0].([]any)[1].(float64)*1e3, 13.5, 0.2)
	for _, name := range []string{
		"id", "kind", "method", "x_m", "z_m", "ends_m", "length_m", "length_u_m", "length_is", "tilt_rad", "tilt_u_rad",
		"views", "indications",
	} {
		if _, ok := notch[name]; !ok {
			t.Errorf("a flaw has no field %s", name)
		}
	}
}

// TestSection checks the slit of tips_plate1, of 3 mm with a tilt of 20° about (-4, 12) mm. The
// capture is a two-dimensional simulation. Its tips are recognised as tips if the program knows
// that.
func TestSection(t *testing.T) {
	_, r := inspected(t, "-capture", "testdata/tips_plate1.json", "-section", "-x", "-9:3", "-z", "6:26", "-step", "0.15")
	for _, f := range r.Flaws {
		if f.Kind == flaw.Planar && math.Hypot(f.X*1e3+4, f.Z*1e3-12) < 0.3 {
			check.Within(t, "length, m", f.Length, 3e-3, f.LengthU)
			check.Within(t, "tilt, rad", f.Tilt, 20*math.Pi/180, f.TiltU)
			return
		}
	}
	t.Errorf("no planar flaw at the slit: %+v", r.Flaws)
}

// TestRecord checks that the record of a run is repeated from the files alone, and that the page
// holds the pictures.
func TestRecord(t *testing.T) {
	folder, _ := inspected(t, "-capture", "testdata/notch32.json")
	record := check.Must(report.Read(bytes.NewReader(check.Must(os.ReadFile(filepath.Join(folder, "record.json"))))))
	input := check.Must(npy.ReadFile("testdata/notch32.json", nil))
	if d := check.Must(report.Repeat(t.Context(), record, input, nil)); len(d) > 0 {
		t.Errorf("%d differences, the first: %v", len(d), d[0])
	}
	var names []string
	for _, f := range record.Files {
		names = append(names, f.Name)
		content := check.Must(os.ReadFile(filepath.Join(folder, f.Name)))
		if got := report.NewFile(f.Name, f.Caption, f.Alternative, content); got != f {
			t.Errorf("file %s has another content than in the record", f.Name)
		}
	}
	if len(names) < 3 || names[0] != "L-L.png" || names[1] != "flaw-2.json" {
		t.Errorf("files %v, want a picture and the A-scans of both slits", names)
	}
	text := string(check.Must(os.ReadFile(filepath.Join(folder, "page.html"))))
	for _, want := range []string{"<title>Flaw list of notch32", "data:image/png;base64,", "<svg", "not resolved"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not hold %q", want)
		}
	}
	rows := check.Must(csv.NewReader(bytes.NewReader(check.Must(os.ReadFile(filepath.Join(folder, "flaws.csv"))))).ReadAll())
	if len(rows) != 1+len(record.Flaws) {
		t.Errorf("%d rows in flaws.csv, want %d", len(rows), 1+len(record.Flaws))
	}
}

// TestStates checks that an indication with pixels without rays reports them. In TT-T the notch
// stands on the back wall. No ray with a skip reaches pixels behind the wall.
func TestStates(t *testing.T) {
	_, r := inspected(t)
	notch := near(t, r, "TT-T", 16, 15.5, 1)
	if !slices.Contains(notch.States, "no ray") {
		t.Errorf("states of the notch %q, want no ray among them", notch.States)
	}
	v := r.Views[1]
	// The image contains 1 mm behind the wall, of 16 mm.
	want := 0.06 * float64(v.Grid.Pixels[0]*v.Grid.Pixels[1])
	check.Within(t, "number of pixels without rays", float64(v.States["no ray"]), want, want/4)
}

// TestReference checks that -reference sets 0 dB.
func TestReference(t *testing.T) {
	args := []string{"-capture", "testdata/notch32.json", "-step", "0.2", "-x", "-8:7", "-z", "7:26"}
	for _, test := range []struct {
		name, reference string
		level           float64 // of the slit's upper tip
		tolerance       float64
		long            bool // whether the row is run with the build tag long alone
	}{
		{"the strongest", "", 0, 1e-9, true},
		{"the back wall", "0.6,25", -21, 0.5, false},
		{"the notch's tip", "5,19.5", 1.2, 0.3, true},
		{"a level", "208900", 0, 0.5, true}, // the amplitude of the tip itself
	} {
		t.Run(test.name, func(t *testing.T) {
			if test.long && !long {
				t.Skip("one reference is enough without the build tag long")
			}
			_, r := inspected(t, append(args, "-reference", test.reference, "-floor", "-40")...)
			tip := near(t, r, "L-L", -6.05, 8.95, 0.3)
			check.Within(t, "level of the tip", tip.LevelDB, test.level, test.tolerance)
		})
	}
}

// TestParseReference checks the two kinds of references. TestBadUse has the errors.
func TestParseReference(t *testing.T) {
	for text, want := range map[string]report.Reference{
		"": {}, "208900": {Amplitude: 208900}, "0.6,-25": {At: &[2]float64{0.6e-3, -25e-3}},
	} {
		if diff := cmp.Diff(want, check.Must(parseReference(text))); diff != "" {
			t.Errorf("%q (-want +got):\n%s", text, diff)
		}
	}
}

// TestOptions checks that the report contains the options and the grid of a view.
func TestOptions(t *testing.T) {
	_, r := inspected(t, blankView...)
	if o, step := r.Origin, r.Views[0].Grid.Step; o.Floor != -20 || o.Range != -25 || step != 0.4e-3 {
		t.Errorf("options: %+v, step %v m", o, step)
	}
	v := r.Views[0]
	if v.Picture != "L-L.png" || v.Grid.Pixels[0] < 50 || !(v.Reference.Amplitude > 0) || v.Reference.What == "" {
		t.Errorf("view %+v", v)
	}
}

// TestOrigin checks that the origin of the results contains the set-up and the library.
func TestOrigin(t *testing.T) {
	o := opened(t, "-capture", "../../testdata/pipe32.json").origin()
	if o.Part.Longitudinal != 5920 || o.Part.Surface != "cylinder" ||
		o.Coupling == nil || o.Coupling.Longitudinal != 1482 {
		t.Errorf("set-up %+v", o)
	}
	if !(o.Drop > 6 && o.Drop < 6.1) || o.Array.Elements != 32 || !(o.Band[0] < 4e6 && o.Band[1] > 4e6) {
		t.Errorf("options: %+v", o)
	}
	if !strings.HasPrefix(o.Library, "isochron ") || o.Why == "" || len(o.Views) != 1 {
		t.Errorf("library %q, views %q because of %q", o.Library, o.Views, o.Why)
	}
}

// TestInputSpared checks that the program does not write to the folder of the capture, and that a
// run which cannot write one of its files changes none.
func TestInputSpared(t *testing.T) {
	t.Chdir("../..")
	record := check.Must(npy.ReadFile("testdata/notch32.json", nil))
	home := t.TempDir()
	capture := filepath.Join(home, "indications.json") // a name that inspect writes
	if err := npy.WriteFile(capture, record, npy.Int16); err != nil {
		t.Fatal(err)
	}
	before := check.Must(os.ReadFile(capture))
	args := []string{"-capture", capture, "-step", "0.3", "-out", home}
	if text := do(t, fail, args...); !strings.Contains(text, "folder of the input") {
		t.Errorf("error %q", text)
	}
	if after, err := os.ReadFile(capture); err != nil || !bytes.Equal(before, after) {
		t.Errorf("the capture was overwritten, %v", err)
	}

	folder := t.TempDir()
	if err := os.Mkdir(filepath.Join(folder, "indications.csv"), 0o777); err != nil {
		t.Fatal(err)
	}
	args[len(args)-1] = folder
	do(t, fail, args...) // a folder has the name of the table
	if left, err := os.ReadDir(folder); err != nil || len(left) != 1 {
		t.Errorf("left in the folder: %v, %v", left, err)
	}
}

// TestBadUse checks that bad flags and files give an error of one line and the exit code 2.
func TestBadUse(t *testing.T) {
	broken := filepath.Join(t.TempDir(), "broken.json")
	if err := os.WriteFile(broken, []byte("{"), 0o666); err != nil {
		t.Fatal(err)
	}
	t.Chdir("../..")
	weld := []string{"-step", "0.2", "-view", "T-T"}
	for _, test := range []struct {
		name string
		args []string
		word string
	}{
		{"unknown flag", []string{"-nonsense"}, "nonsense"},
		{"argument", []string{"weld32.json"}, "weld32.json"},
		{"no file named", []string{"-capture", ""}, "-capture"},
		{"no such file", []string{"-capture", "nowhere.json"}, "nowhere.json"},
		{"broken file", []string{"-capture", broken}, "broken.json"},
		{"view without hyphen", []string{"-view", "TT"}, "TT"},
		{"view of unknown wave", []string{"-view", "S-S"}, "S-S"},
		{"view twice", []string{"-view", "T-T,T-T"}, "twice"},
		{"range reversed", []string{"-x", "32:8"}, "-x 32:8"},
		{"range of one number", []string{"-z", "8"}, "-z 8"},
		{"range of words", []string{"-z", "a:b"}, "-z a:b"},
		{"infinite range", []string{"-x", "0:inf"}, "-x 0:inf"},
		{"no step", []string{"-step", "0"}, "-step 0"},
		{"negative step", []string{"-step", "-1"}, "-step -1"},
		{"step of a word", []string{"-step", "fine"}, "fine"},
		{"tiny step", []string{"-step", "1e-9"}, "pixels"},
		{"one pixel", []string{"-step", "100", "-coarse"}, "only 1 × 1 pixels"},
		{"step beyond the wavelength", []string{"-step", "1", "-view", "T-T"}, "may lose more than 2 dB"},
		{"much memory", []string{"-step", "0.005"}, "GB"},
		{"no memory", []string{"-memory", "0"}, "-memory 0"},
		{"lines of ghosts by another word", []string{"-ghosts", "most"}, "-ghosts most"},
		{"negative background", []string{"-background", "-1"}, "-background -1"},
		{"range above zero", []string{"-range", "1"}, "-range 1"},
		{"negative reference", []string{"-reference", "-3"}, "-reference -3"},
		{"reference of words", []string{"-reference", "wall"}, "-reference wall"},
		{"reference of three numbers", []string{"-reference", "1,2,3"}, "-reference 1,2,3"},
		{"reference off any reflector", append(weld, "-reference", "30,5"), "no peak within 1 mm"},
		{"floor above zero", []string{"-floor", "3"}, "-floor 3"},
		{"report in a file that is a folder", []string{"-capture", "testdata/block16.json", "-x", "-6:0", "-z", "14:20", "-report", t.TempDir()}, "-report"},
		{"folder that is a file", append(weld, "-out", broken), "-out"},
		{"image outside the part", append(weld, "-z", "-9:-5"), "without a single ray"},
		{"image beyond the record", append(weld, "-x", "5000:5010"), "empty"},
	} {
		t.Run(test.name, func(t *testing.T) {
			args := test.args
			if !strings.Contains(strings.Join(args, " "), "-out") {
				args = append(args, "-out", t.TempDir())
			}
			if text := do(t, fail, args...); !strings.Contains(text, test.word) {
				t.Errorf("error %q does not say %q", text, test.word)
			}
		})
	}
}

// TestImplausible checks that an implausible value in a set-up gives an error that names the
// value, and that -implausible allows it.
func TestImplausible(t *testing.T) {
	t.Chdir("../..")
	r := check.Must(npy.ReadFile("testdata/block16.json", nil))
	r.Part.Density = 2.7 // g/cm³ given for kg/m³
	name := filepath.Join(t.TempDir(), "light.json")
	if err := npy.WriteFile(name, r, npy.Int16); err != nil {
		t.Fatal(err)
	}
	args := []string{"-capture", name, "-view", "L-L", "-step", "0.5", "-coarse", "-x", "-6:0", "-z", "14:20", "-out", t.TempDir()}
	text := do(t, fail, args...)
	if !strings.Contains(text, "part.density_kg_m3 2.7 kg/m³: want") {
		t.Errorf("error %q, want the range of the density", text)
	}
	do(t, done, append(args, "-implausible")...)
}

// TestHelp checks that -h names each flag.
func TestHelp(t *testing.T) {
	var stdout, stderr bytes.Buffer
	code := run(t.Context(), []string{"-h"}, &stdout, &stderr)
	if code != done || stderr.Len() > 0 {
		t.Fatalf("exit code %d, %q", code, stderr.String())
	}
	for _, word := range []string{
		"-capture", "-view", "-x", "-z", "-step", "-floor", "-reference", "-background", "-memory",
		"-out", "-report", "record.json", "flaws.csv", "-implausible", "indications.json", "Exit codes",
	} {
		if !strings.Contains(stdout.String(), word) {
			t.Errorf("the help does not name %s", word)
		}
	}
}
