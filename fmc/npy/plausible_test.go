// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// slipFields are the numbers of a set-up that a slip changes, by the path of their field. A list of
// places is one field, and each axis of the places is another field.
type slipFields map[string][]*float64

// collect adds the numbers of v to the fields. It returns v with a pointer in place of each number.
func (s slipFields) collect(path string, v any) any {
	switch v := v.(type) {
	case float64:
		p := &v
		s[path] = append(s[path], p)
		return p
	case []any:
		for i, e := range v {
			inner := fmt.Sprintf("%s[%d]", path, i)
			if list, ok := e.([]any); ok && strings.HasSuffix(path, "_m") {
				v[i] = s.collectPlace(path, list)
				continue
			}
			v[i] = s.collect(inner, e)
		}
	case map[string]any:
		for _, name := range slices.Sorted(maps.Keys(v)) {
			v[name] = s.collect(joined(path, name), v[name])
		}
	}
	return v
}

// collectPlace adds a place to the field of all places and to the field of each axis.
func (s slipFields) collectPlace(path string, place []any) any {
	for axis, e := range place {
		name := "xyz"[axis : axis+1]
		if axis == len(place)-1 {
			name = "z"
		}
		number := e.(float64)
		s[path] = append(s[path], &number)
		s[path+"."+name] = append(s[path+"."+name], &number)
		place[axis] = &number
	}
	return place
}

// groups adds the groups of fields that one slip changes together.
func (s slipFields) groups() {
	for _, group := range []struct{ name, unit string }{
		{"all lengths", "_m"}, {"all speeds", "_m_s"}, {"all frequencies", "_hz"},
		{"all times", "_s"}, {"all densities", "_kg_m3"},
	} {
		for path, numbers := range s {
			if unitOf(path) == group.unit && !strings.HasPrefix(path, "all ") &&
				path == strings.TrimSuffix(path, ".x") && path == strings.TrimSuffix(path, ".z") {
				s[group.name] = append(s[group.name], numbers...)
			}
		}
	}
}

// unitOf returns the end of the name of a field, which states its unit.
func unitOf(path string) string {
	path = strings.TrimSuffix(strings.TrimSuffix(path, ".x"), ".z")
	for _, unit := range []string{"_kg_m3", "_m_s", "_hz", "_m", "_s"} {
		if strings.HasSuffix(path, unit) {
			return unit
		}
	}
	return ""
}

// judged returns the findings of a set-up in JSON, or its error.
func judged(t *testing.T, tree any, samples int) (found []finding, fault error) {
	t.Helper()
	text := check.Must(json.Marshal(tree))
	d, err := readDescription(bytes.NewReader(text))
	if err != nil {
		return nil, err
	}
	c := d.frame
	c.Samples = samples
	d.record.Capture = &c
	return d.record.findings(), nil
}

// uncaught are the slips by 1/1000 that no range can find, by the end of the path of the field.
var uncaught = []struct{ field, reason string }{
	{"capture.first_sample_s", "a record may begin at time 0"},
	{"all times", "the only time of these set-ups is the first sample's"},
	{"surface.points_m.z", "a profile may be flat"},
	{"truth.holes[2].z_m",
		"under a crest of the profile of wavy32 a hole near z = 0 is still in the part"},
	{".x_m", "a reflector may lie under the middle of the array"},
	{".x0_m", "a reflector may lie under the middle of the array"},
	{".x1_m", "a reflector may lie under the middle of the array"},
	{".z0_m", "a slit may begin at the surface"},
	{".z1_m", "a slit may end at the surface"},
	{".width_m", "a crack may be closed"},
}

// TestUnitSlips makes every slip by a factor of a thousand in the reference captures: in each field
// with a unit, and in all fields with the same unit at once.
func TestUnitSlips(t *testing.T) {
	total, found, outside, foundOutside := 0, 0, 0, 0
	used := map[string]bool{}
	for _, ref := range references {
		tree, fields := slipTree(t, ref.name)
		if findings, fault := judged(t, tree, ref.samples); fault != nil || findings != nil {
			t.Errorf("%s as it is: %v, %v", ref.name, fault, findings)
		}
		for _, path := range slices.Sorted(maps.Keys(fields)) {
			for _, factor := range []float64{1e3, 1e-3} {
				undo, changed := scale(fields[path], factor)
				if !changed {
					continue // only zeros, which no unit changes
				}
				total++
				reflector := strings.HasPrefix(path, "truth.")
				if !reflector {
					outside++
				}
				known := slices.IndexFunc(uncaught, func(u struct{ field, reason string }) bool {
					return factor < 1 && strings.HasSuffix(path, u.field)
				})
				findings, fault := judged(t, tree, ref.samples)
				undo()
				switch {
				case fault != nil || findings != nil:
					found++
					if !reflector {
						foundOutside++
					}
				case known < 0:
					t.Errorf("%s: %s × %v is not found", ref.name, path, factor)
				default:
					used[uncaught[known].field] = true
				}
				for _, f := range findings {
					if !strings.Contains(f.String(), f.path) ||
						!strings.Contains(f.String(), "want ") {
						t.Errorf("finding %q names no field or no range", f)
					}
				}
			}
		}
	}
	for _, u := range uncaught {
		if !used[u.field] {
			t.Errorf("every slip of %s is found: it is no longer an exception", u.field)
		}
	}
	t.Logf("%d of %d slips are found, and %d of %d outside the known reflectors", found, total,
		foundOutside, outside)
}

// slipTree returns the set-up of a reference and its fields.
func slipTree(t *testing.T, name string) (any, slipFields) {
	t.Helper()
	text := check.Must(os.ReadFile(filepath.Join(testdata, name+".json")))
	var tree any
	if err := json.Unmarshal(text, &tree); err != nil {
		t.Fatal(err)
	}
	fields := slipFields{}
	tree = fields.collect("", tree)
	delete(fields, "array.bandwidth_6db")
	fields.groups()
	return tree, fields
}

// scale multiplies the numbers of a field. changed reports whether that changed a number.
func scale(numbers []*float64, factor float64) (undo func(), changed bool) {
	before := make([]float64, len(numbers))
	for i, p := range numbers {
		before[i] = *p
		*p *= factor
		changed = changed || *p != before[i]
	}
	return func() {
		for i, p := range numbers {
			*p = before[i]
		}
	}, changed
}

// TestOtherSlips makes slips by other factors, and uses consistent systems of units in which every
// ratio stays right.
func TestOtherSlips(t *testing.T) {
	for _, test := range []struct {
		name, capture string
		factors       map[string]float64
		want          string
	}{
		{"speed in km/s", "weld32",
			map[string]float64{"part.longitudinal_m_s": 1e-3, "part.transverse_m_s": 1e-3},
			"part.longitudinal_m_s 5.92 m/s: want 300 to 13000 m/s (solids and liquids); km/s or mm/µs given for m/s?"},
		{"frequency in MHz", "notch32", map[string]float64{"array.centre_frequency_hz": 1e-6},
			"array.centre_frequency_hz 5 Hz: want 100000 to 5e+07 Hz (industrial array ultrasonics); MHz given for Hz?"},
		{"places in mm", "pipe32", map[string]float64{"array.element_centres_m.x": 1e3},
			"array.element_centres_m, spacing 0.6 m: want 1.85e-05 to 0.0037 m (0.05 to 10 wavelengths); mm given for m?"},
		{"elements wider than the spacing", "block16",
			map[string]float64{"array.element_width_m": 1.5},
			"array.element_width_m 0.0012 m: want 1e-05 to 0.001 m (0.01 to 1 times the spacing, as elements side by side do not overlap)"},
		{"thickness in mm", "weld32", map[string]float64{"part.thickness_m": 1e3},
			"part.thickness_m 16 m: want 0.0001 to 5 m (0.1 mm to 5 m); mm given for m?"},
		{"sample rate in MHz", "weld32", map[string]float64{"capture.sample_rate_hz": 1e-6},
			"capture.sample_rate_hz 50 Hz: want 8e+06 to 2e+09 Hz (2 to 500 times the centre frequency); MHz given for Hz?"},
		{"sample interval in ns for the rate", "weld32",
			map[string]float64{"capture.sample_rate_hz": 20 / 50e6},
			"capture.sample_rate_hz 20 Hz: want"},
		{"first sample in µs", "pipe32", map[string]float64{"capture.first_sample_s": 1e6},
			"capture.first_sample_s 8.01537 s: want"},
		{"density in g/cm³", "sdh32", map[string]float64{"part.density_kg_m3": 1e-3},
			"part.density_kg_m3 7.85 kg/m³: want 100 to 23000 kg/m³ (solids and liquids); g/cm³ given for kg/m³?"},
		{"speed in ft/s", "sdh32", map[string]float64{"part.longitudinal_m_s": 1 / 0.3048},
			"part.longitudinal_m_s 19422.6 m/s: want 300 to 13000 m/s (solids and liquids); ft/s given for m/s?"},
		{"transverse speed for the longitudinal one", "weld32",
			map[string]float64{"part.longitudinal_m_s": 3240. / 5920, "part.transverse_m_s": 0.5},
			"part.longitudinal_m_s 3240 m/s: want"},
		{"pitch in inches", "notch32", map[string]float64{"array.element_centres_m.x": 1 / 25.4e-3},
			"array.element_centres_m, spacing 0.023622 m: want 5.92e-05 to 0.0118 m (0.05 to 10 wavelengths); inches given for m?"},
		{"mm, µs, MHz, mm/µs", "wavy32",
			map[string]float64{"all lengths": 1e3, "all times": 1e6, "all frequencies": 1e-6,
				"all speeds": 1e-3}, "array.centre_frequency_hz 4 Hz: want"},
		{"mm and mm/s", "wavy32", map[string]float64{"all lengths": 1e3, "all speeds": 1e3},
			"part.longitudinal_m_s 5.92e+06 m/s: want"},
		{"mm, kHz, ms", "pipe32",
			map[string]float64{"all lengths": 1e3, "all times": 1e3, "all frequencies": 1e-3},
			"array.centre_frequency_hz 4000 Hz: want"},
	} {
		t.Run(test.name, func(t *testing.T) {
			tree, fields := slipTree(t, test.capture)
			for path, factor := range test.factors {
				if len(fields[path]) == 0 {
					t.Fatalf("no field %s", path)
				}
				scale(fields[path], factor)
			}
			findings, _ := judged(t, tree, 2000)
			if !slices.ContainsFunc(findings,
				func(f finding) bool { return strings.HasPrefix(f.String(), test.want) }) {
				t.Errorf("findings %v, want one that begins with %q", findings, test.want)
			}
		})
	}
}

// layout describes a set-up in short.
type layout struct {
	elements                int
	pitch, width, frequency float64
	coupling                *Material
	height, tilt            float64 // of the middle of the array
	part                    Material
	thickness, radius       float64
	samples                 int
	rate, first             float64
}

// record returns the set-up without samples.
func (l layout) record(t *testing.T) *Record {
	t.Helper()
	a := check.Must(fmc.LinearArray(l.elements, l.pitch,
		fmc.Array{Width: l.width, CentreFrequency: l.frequency, Bandwidth: 0.6}))
	a = check.Must(a.Place(r3.NewRotation(l.tilt, r3.Vec{Y: 1}),
		r3.Vec{X: -l.height * math.Tan(l.tilt), Z: -l.height}))
	r := &Record{
		Capture: &fmc.Capture{Array: a, Samples: l.samples, SampleRate: l.rate,
			FirstSample: l.first},
		Coupling: l.coupling, Part: l.part, Thickness: l.thickness,
	}
	if l.radius > 0 {
		r.Surface = EntrySurface{Radius: l.radius}
	}
	if err := errors.Join(r.validateSetup(), a.Validate()); err != nil {
		t.Fatal(err)
	}
	return r
}

// The media of the set-ups below. The speeds are rounded from the handbook of package material, or
// invented if the handbook has no entry.
var (
	steel    = Material{"steel", 7850, 5920, 3240}
	water    = Material{"water", 998, 1480, 0}
	acrylic  = Material{"acrylic", 1180, 2730, 1430}
	titanium = Material{"titanium", 4500, 6070, 3110}
	plastic  = Material{"high-density pipe plastic", 950, 2300, 950}
	laminate = Material{"carbon fibre laminate", 1580, 3000, 1600}
	concrete = Material{"concrete", 2400, 4200, 2500}
	copper   = Material{"copper", 8900, 4700, 2260}
)

// sound are set-ups that are common in industrial ultrasonics (common practice, no source). The
// scenarios are invented.
var sound = map[string]layout{
	"thin pipe under a wedge":      {16, 0.5e-3, 0.4e-3, 7.5e6, &acrylic, 5e-3, 0.6, steel, 2.8e-3, 19e-3, 1500, 62.5e6, 0},
	"girth weld":                   {64, 0.6e-3, 0.5e-3, 5e6, &acrylic, 18e-3, 0.63, steel, 25e-3, 0, 4000, 100e6, 5e-6},
	"heavy forging in contact":     {128, 1.5e-3, 1.3e-3, 2e6, nil, 0, 0, steel, 1.2, 0, 25000, 50e6, -1e-6},
	"a zone of it":                 {64, 1e-3, 0.9e-3, 2.25e6, nil, 0, 0, steel, 0.6, 0, 3000, 50e6, 0},
	"laminate in water":            {64, 0.6e-3, 0.5e-3, 5e6, &water, 30e-3, 0, laminate, 4e-3, 0, 2000, 50e6, 35e-6},
	"skin of 1 mm, high frequency": {64, 0.1e-3, 0.08e-3, 25e6, &water, 8e-3, 0, laminate, 1e-3, 0, 2000, 250e6, 8e-6},
	"titanium billet in water":     {128, 0.5e-3, 0.45e-3, 10e6, &water, 75e-3, 0.05, titanium, 0.12, 0.3, 8000, 100e6, 90e-6},
	"plastic pipe":                 {32, 1e-3, 0.9e-3, 2.25e6, &water, 15e-3, 0.2, plastic, 38e-3, 0.2, 4000, 25e6, 0},
	"electro-fusion, low rate":     {32, 1e-3, 0.9e-3, 4e6, nil, 0, 0, plastic, 20e-3, 0, 1000, 12.5e6, 0},
	"concrete wall":                {16, 30e-3, 20e-3, 0.1e6, nil, 0, 0, concrete, 0.4, 0, 2000, 2e6, 0},
	"copper canister":              {64, 1e-3, 0.9e-3, 3e6, nil, 0, 0, copper, 50e-3, 0, 2000, 50e6, -2e-6},
	"large vessel":                 {64, 1e-3, 0.8e-3, 4e6, &acrylic, 20e-3, 0.4, steel, 60e-3, 2.2, 6000, 50e6, 0},
	"one element":                  {1, 10e-3, 10e-3, 5e6, &water, 50e-3, 0, steel, 20e-3, 0, 2000, 50e6, 60e-6},
	"wide sparse array":            {24, 4e-3, 0.6e-3, 5e6, nil, 0, 0, steel, 30e-3, 0, 2500, 50e6, 0},
	"bolt from its end":            {16, 0.4e-3, 0.35e-3, 5e6, nil, 0, 0, steel, 0.3, 0, 8000, 50e6, 0},
	"spot weld":                    {8, 0.5e-3, 0.4e-3, 20e6, &water, 12e-3, 0, steel, 0.8e-3, 0, 2500, 125e6, 14e-6},
}

// TestSlipFactors: a slip is named exactly if its factor leads to the right value, within 0.1 %.
// The units are SI units. NIST Special Publication 811, appendix B, defines the inch of 25.4
// mm and the foot of 0.3048 m.
func TestSlipFactors(t *testing.T) {
	for _, test := range []struct {
		unit         string
		right, value float64
		want         string
	}{
		{"m", 0.0254, 25.4, "mm given for m"},
		{"m", 0.0254, 1, "inches given for m"},
		{"m", 0.0254, 25400, "µm given for m"},
		{"m", 0.0254, 25.4e-6, "divided by 1000 twice"},
		{"m", 0.0254, 25.4e-9, "divided by 1000 twice"},
		{"m", 0.0254, 1 / 12., ""}, // feet
		{"m/s", 6096, 6.096, "km/s or mm/µs given for m/s"},
		{"m/s", 6096, 20000, "ft/s given for m/s"},
		{"m/s", 6096, 6.096e6, "mm/s given for m/s"},
		{"m/s", 6096, 6.096e5, "cm/s given for m/s"},
		{"Hz", 5e6, 5, "MHz given for Hz"},
		{"Hz", 5e6, 5000, "kHz given for Hz"},
		{"Hz", 5e6, 5e9, "multiplied by 1000 twice"},
		{"s", 3e-6, 3, "µs given for s"},
		{"s", 3e-6, 3e-3, "ms given for s"},
		{"s", 3e-6, 3000, "ns given for s"},
		{"kg/m³", 7850, 7.85, "g/cm³ given for kg/m³"},
		{"kg/m³", 7850, 7.85e6, "g/m³ given for kg/m³"},
	} {
		r := plausibleRange{0.999 * test.right, 1.001 * test.right, test.unit, ""}
		if got := r.slip(test.value); got != test.want {
			t.Errorf("%v for %v %s: slip %q, want %q", test.value, test.right, test.unit, got,
				test.want)
		}
	}
}

// TestSpacing: the spacing is the median of all elements, and the spacing in a row is the least.
// The first element stands apart from the others.
func TestSpacing(t *testing.T) {
	var m measures
	m.layOut([]r3.Vec{{X: 0}, {X: 3e-3}, {X: 4e-3}, {X: 5e-3}, {X: 5.5e-3}})
	if !(math.Abs(m.spacing-1e-3) <= 1e-12 && math.Abs(m.rowSpacing-0.5e-3) <= 1e-12) {
		t.Errorf("spacing %v m, in a row %v m; want 0.001 and 0.0005", m.spacing, m.rowSpacing)
	}
}

// TestHandbookSpread: the range goes from the least value less its spread to the greatest value
// plus its spread, with 25 % more at each end. The entries are invented.
func TestHandbookSpread(t *testing.T) {
	entries := []material.Entry{
		{Density: material.Quantity{Value: 2000, Spread: 200}},
		{Density: material.Quantity{Value: 1000, Spread: 100}},
		{},
	}
	for value, want := range map[float64]bool{674: false, 676: true, 2749: true, 2751: false} {
		var j judge
		v := value
		j.handbook("part.density_kg_m3", &v, "kg/m³", entries,
			func(e material.Entry) material.Quantity { return e.Density })
		if got := j.findings == nil; got != want {
			t.Errorf("density %v: plausible %v, want %v", value, got, want)
		}
	}
}

// TestSound: nothing is found in the sound set-ups.
func TestSound(t *testing.T) {
	for name, l := range sound {
		for _, f := range l.record(t).findings() {
			t.Errorf("%s: %v", name, f)
		}
	}
}

// TestSoundSlips: in the sound set-ups every slip is found in a field of the array, the part or the
// sample rate.
func TestSoundSlips(t *testing.T) {
	for name, l := range sound {
		for _, factor := range []float64{1e3, 1e-3} {
			for field, slip := range map[string]func(r *Record){
				"centre frequency": func(r *Record) { r.Capture.Array.CentreFrequency *= factor },
				"width":            func(r *Record) { r.Capture.Array.Width *= factor },
				"sample rate":      func(r *Record) { r.Capture.SampleRate *= factor },
				"thickness":        func(r *Record) { r.Thickness *= factor },
				"part's speeds": func(r *Record) {
					r.Part.Longitudinal *= factor
					r.Part.Transverse *= factor
				},
				"density": func(r *Record) { r.Part.Density *= factor },
				"centres": func(r *Record) {
					for i := range r.Capture.Array.Elements {
						r.Capture.Array.Elements[i] = r3.Scale(factor, r.Capture.Array.Elements[i])
					}
				},
			} {
				r := l.record(t)
				if field == "centres" && l.elements == 1 && l.height == 0 {
					continue // at 0
				}
				slip(r)
				if r.validateSetup() == nil && r.findings() == nil {
					t.Errorf("%s: %s × %v is not found", name, field, factor)
				}
			}
		}
	}
}

// TestWedgeAngle: degrees given for radians turn the array far from the part.
func TestWedgeAngle(t *testing.T) {
	l := sound["girth weld"]
	l.tilt = 36 // degrees; 36 rad is 5 turns and 262.6°
	if found := l.record(t).findings(); len(found) == 0 {
		t.Error("a wedge angle of 36 rad is not found")
	}
}

// TestReadImplausible: a file with a slip is read only if the options allow it.
func TestReadImplausible(t *testing.T) {
	r := reference(t, "block16")
	r.Part.Longitudinal, r.Part.Transverse = 6.32, 3.13
	name := filepath.Join(t.TempDir(), "a.json")
	if err := WriteFile(name, r, Int16); err != nil {
		t.Fatal(err)
	}
	setup, array := fileContent(t, name)
	for reader, read := range map[string]func(o *ReadOptions) error{
		"ReadFile": func(o *ReadOptions) error { _, err := ReadFile(name, o); return err },
		"Read": func(o *ReadOptions) error {
			_, err := Read(bytes.NewReader(setup), bytes.NewReader(array), o)
			return err
		},
		"OpenScan": func(o *ReadOptions) error { return closed(OpenScan(name, o)) },
	} {
		wantFault(t, read(nil), ErrImplausible,
			"part.longitudinal_m_s 6.32 m/s: want 300 to 13000 m/s (solids and liquids); km/s or mm/µs given for m/s?")
		if err := read(allow); err != nil {
			t.Errorf("%s: %v", reader, err)
		}
	}
}

// TestScanSlips: slips in the positions and the times of a scan.
func TestScanSlips(t *testing.T) {
	frames := func(position, time float64) []fmc.Frame {
		var f []fmc.Frame
		for i := range 5 {
			f = append(f,
				fmc.Frame{Index: 2 * i, Position: float64(i) * position, Time: float64(i) * time})
		}
		return f
	}
	for _, test := range []struct {
		name           string
		position, time float64 // from one frame to the next
		want           string  // "" for no finding
	}{
		{"1 mm every 20 ms", 1e-3, 20e-3, ""},
		{"backwards", -1e-3, 20e-3, ""},
		{"no encoder", 0, 20e-3, ""},
		{"no clock", 1e-3, 0, ""},
		{"positions in mm", 1, 20e-3,
			"scan.positions_m, step of the frames 0.5 m: want 2e-05 to 0.2 m (0.02 to 200 mm from frame to frame); mm given for m?"},
		{"positions divided twice", 1e-6, 20e-3, "scan.positions_m, step"},
		{"times in ms", 1e-3, 20,
			"scan.times_s, speed of the scan 5e-05 m/s: want 0.0001 to 5 m/s"},
		{"times divided twice", 1e-3, 20e-6, "scan.times_s, speed of the scan 50 m/s"},
	} {
		found := frameFindings(frames(test.position, test.time))
		if test.want == "" && found == nil {
			continue
		}
		if len(found) != 1 || test.want == "" || !strings.HasPrefix(found[0].String(), test.want) {
			t.Errorf("%s: findings %v, want %q", test.name, found, test.want)
		}
	}
}

// TestRasterSlips: slips in the positions across a scan.
func TestRasterSlips(t *testing.T) {
	for across, want := range map[float64]string{
		0: "", 5e-3: "", 5: "scan.across_m, distance of the outermost lines 50 m: want 0 to 20 m",
	} {
		var frames []fmc.Frame
		for i := range 11 {
			frames = append(frames, fmc.Frame{Index: i, Across: float64(i) * across})
		}
		found := frameFindings(frames)
		if want == "" && found == nil {
			continue
		}
		if len(found) != 1 || want == "" || !strings.HasPrefix(found[0].String(), want) {
			t.Errorf("%v m: findings %v, want %q", across, found, want)
		}
	}
}

// TestEventDelays: delays of a plane wave, in s and in µs.
func TestEventDelays(t *testing.T) {
	r := sound["girth weld"].record(t)
	delays := make([]float64, 64)
	for i := range delays {
		delays[i] = float64(i) * 80e-9
	}
	r.Capture.Events = []fmc.Event{{Delays: delays, Weights: make([]float64, 64)}}
	if found := r.findings(); found != nil {
		t.Errorf("a plane wave: %v", found)
	}
	for i := range delays {
		delays[i] *= 1e6
	}
	want := "capture.events[0].delays_s, spread 5.04 s: want 0 to"
	if found := r.findings(); len(found) != 1 || !strings.HasPrefix(found[0].String(), want) {
		t.Errorf("delays in µs: %v, want %q", found, want)
	}
}

// TestRangesHoldTheHandbook: every medium with published values is plausible.
func TestRangesHoldTheHandbook(t *testing.T) {
	for e := range material.Handbook().All() {
		m := Material{Name: e.Name, Density: e.Density.Value, Longitudinal: e.Longitudinal.Value,
			Transverse: e.Transverse.Value}
		if !e.Density.Known() {
			m.Density = 1000
			m.Name = "" // which no entry has
		}
		var j judge
		longitudinal, transverse := m.Longitudinal, m.Transverse
		if !e.Transverse.Known() {
			transverse = 0
		}
		j.medium("part", m, &longitudinal, &transverse)
		for _, f := range j.findings {
			t.Errorf("%s of %s: %v", e.Name, e.Source, f)
		}
	}
}

// joined returns the path of the field called name in the object at path.
func joined(path, name string) string {
	if path == "" {
		return name
	}
	return path + "." + name
}

// TestManyFindings: the error of a set-up with thousands of findings stays short.
func TestManyFindings(t *testing.T) {
	holes := `"holes": [` + strings.Repeat(`{"x_m": 0, "z_m": 9, "diameter_m": 1}, `, 5000)
	_, err := Read(strings.NewReader(strings.Replace(plain, `"holes": [`, holes, 1)),
		bytes.NewReader(plainFile()), nil)
	wantFault(t, err, ErrImplausible, "more")
	if n := len(err.Error()); n > 10000 {
		t.Errorf("error of %d bytes, want at most 10000", n)
	}
}
