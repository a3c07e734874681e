// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// tone returns a capture template of n elements on a block of steel, with a bandwidth so small that
// all waves have the centre frequency.
func tone(n int, width float64) *bench {
	b := &bench{dimension: wedge.Section}
	like := fmc.Array{Width: width, CentreFrequency: 5e6, Bandwidth: 1e-3}
	b.array = check.Must(fmc.LinearArray(n, 0.6e-3, like))
	b.setup = check.Must(wedge.NewPlate(nil, steel, 200e-3))
	return b
}

// at returns the amplitude of a map at one point.
func (b *bench) at(t *testing.T, view string, x, z float64, of Reflector, o *Options) float64 {
	t.Helper()
	g := tfm.Grid{Origin: r3.Vec{X: x, Z: z}, Step: r3.Vec{X: 1e-4, Y: 1e-4, Z: 1e-4}, Cols: 1, Rows: 1, Slices: 1}
	return float64(b.newMap(t, b.template(), view, g, of, o).Data[0])
}

// template returns a capture of b without samples.
func (b *bench) template() *fmc.Capture {
	return &fmc.Capture{
		Array: b.array, Pairs: fmc.FullPairs(len(b.array.Elements)), Samples: 100, SampleRate: 50e6,
	}
}

// TestClosedForm compares 64 elements with the sum (Σ D/√r)² over the elements, relative to the
// point 30 mm below the middle of the array. D is the directivity of an element and r its distance.
// The values were computed independently from the formula (double precision). With directivity they
// hold for line sources of longitudinal waves, 0.5 mm wide, at a wavelength of 1.184 mm.
func TestClosedForm(t *testing.T) {
	for _, test := range []struct {
		x, z            float64 // mm
		alone, directed float64 // dB without and with directivity; NaN if not known
	}{
		{0, 5, 10.2434, 0.9552},
		{0, 10, 7.2423, 2.2703},
		{0, 20, 2.9974, 1.6174},
		{0, 60, -5.6384, -4.4810},
		{0, 100, -9.9847, -8.5289},
		{10, 30, math.NaN(), -1.0602},
		{20, 30, -1.1976, -4.1347},
		{30, 30, -2.4351, -8.5626},
	} {
		b := tone(64, 0.5e-3)
		for _, row := range []struct {
			name string
			want float64
			o    Options
		}{{"alone", test.alone, Options{omnidirectional: true}}, {"directed", test.directed, Options{}}} {
			if math.IsNaN(row.want) {
				continue
			}
			row.o.Dimension = wedge.Section
			one := b.at(t, "L-L", test.x*1e-3, test.z*1e-3, Point{}, &row.o)
			got := decibels(one / b.at(t, "L-L", 0, 30e-3, Point{}, &row.o))
			if !(math.Abs(got-row.want) <= 1e-4) {
				t.Errorf("%s, (%v, %v) mm: %.5f dB, want %.4f dB", row.name, test.x, test.z, got, row.want)
			}
		}
	}
}

// TestUnit checks the absolute unit with one element 40 mm above a reflector. In a section the
// amplitude of the element is 1/√z at the depth z.
func TestUnit(t *testing.T) {
	const z, wave = 40e-3, 5920 / 5e6
	for _, test := range []struct {
		name string
		of   Reflector
		want float64
	}{
		{"point of 1 √m", Point{}, 1 / z},
		// The exact far field of a cylindrical cavity of radius a at kL·a = 3.980058 is
		// 0.749908·√a (independent solution by partial waves that satisfies the optical theorem).
		{"hole", Hole{Diameter: 1.5e-3}, 0.749908 * math.Sqrt(0.75e-3) / z},
		// A strip of length L that reflects all sends out L/√λ in two dimensions (the principle of
		// Huygens; J. W. Goodman, Introduction to Fourier Optics, cited from memory).
		{"horizontal flaw", Planar{Length: 0.2e-3, Tilt: math.Pi / 2}, 0.2e-3 / math.Sqrt(wave) / z},
	} {
		b := tone(1, 1e-6)
		b.array.Bandwidth = 0.05 // a tone has no peak
		got := b.at(t, "L-L", 0, z-test.of.depth(), test.of, &Options{Dimension: wedge.Section})
		if !(math.Abs(got/test.want-1) <= 3e-3) {
			t.Errorf("%s: amplitude %.6g, want %.6g", test.name, got, test.want)
		}
	}
}

// TestSpace checks that in space the amplitude of a point falls with the square of the distance.
func TestSpace(t *testing.T) {
	b := tone(1, 1e-6)
	b.dimension = wedge.Space
	if got := b.at(t, "L-L", 0, 40e-3, Point{}, nil); !(math.Abs(got*1600e-6-1) <= 1e-6) {
		t.Errorf("amplitude %v: want 1/(40 mm)²", got)
	}
	b.array.Bandwidth = 0.05
	// A hole in space: at the distance z, √(z/2) of its amplitude in a section.
	section := b.at(t, "L-L", 0, 40e-3, Hole{1.5e-3}, &Options{Dimension: wedge.Section})
	got := b.at(t, "L-L", 0, 40e-3, Hole{1.5e-3}, nil)
	centre := 40e-3 + 0.75e-3
	if want := section / centre * math.Sqrt(centre/2); !(math.Abs(got/want-1) <= 3e-3) {
		t.Errorf("hole in space %v: want %v", got, want)
	}
}

// TestPlanar compares the map of a planar flaw with the image of a crack that faces the array. The
// model of the crack contains its tips, which the map leaves out.
func TestPlanar(t *testing.T) {
	b := newBench(true)
	g := check.Must(tfm.NewSection(6e-3, 22e-3, 5e-3, 20e-3, 0.15e-3))
	const tilt = 40 * math.Pi / 180 // faces the beam of 44° through the wedge
	facing := Planar{Length: 3e-3, Tilt: tilt}
	m := b.newMap(t, b.template(), "T-T", g, facing, b.options())
	places := 3
	if testing.Short() {
		places = 1
	}
	along := r3.Vec{X: -math.Sin(tilt), Z: math.Cos(tilt)}
	for _, p := range []r3.Vec{{X: 14e-3, Z: 12e-3}, {X: 11e-3, Z: 8e-3}, {X: 17e-3, Z: 15e-3}}[:places] {
		crack := synth.Crack{From: r3.Add(p, r3.Scale(-1.5e-3, along)), To: r3.Add(p, r3.Scale(1.5e-3, along))}
		near := window(g, p, 2.5e-3)
		envelope := b.image(t, b.capture(t, "T-T", crack), "T-T", near)
		peak := peakNear(envelope, p, 2e-3)
		// 0.5 dB is the loss of the interpolation between samples and of the band-pass.
		off := decibels(float64(envelope.Data[peak]/m.Data[pixelAt(g, p)])) + 0.5
		if !(math.Abs(off) <= 1) {
			t.Errorf("crack at (%v, %v): image %.2f dB from the map, want 1 dB at most", p.X, p.Z, off)
		}
	}
	away := b.newMap(t, b.template(), "T-T", g, Planar{Length: 3e-3, Tilt: -tilt}, b.options())
	at := pixelAt(g, r3.Vec{X: 14e-3, Z: 12e-3})
	if drop := decibels(float64(m.Data[at] / away.Data[at])); !(drop >= 20) {
		t.Errorf("a flaw tilted by %v rad is %.1f dB weaker than one that faces the beam: want 20 dB at least", -tilt, drop)
	}
}

// TestInterpolation compares the default spacing with nodes at each pixel.
func TestInterpolation(t *testing.T) {
	b := newBench(true)
	g := check.Must(tfm.NewSection(4e-3, 30e-3, 3e-3, 24e-3, 0.2e-3))
	columns, rows := 3, 2
	if testing.Short() {
		columns, rows = 2, 2
	}
	coarse := b.newMap(t, b.template(), "T-T", g, Hole{1.5e-3}, b.options())
	best, _ := coarse.Peak()
	worst := 0.0
	for _, p := range lattice(8e-3, 26e-3, 4e-3, 22e-3, columns, rows) {
		i := pixelAt(g, p)
		if coarse.Data[i] < best/10 {
			continue
		}
		o := b.options()
		o.Spacing = g.Step.X
		exact := b.newMap(t, b.template(), "T-T", window(g, p, 0.4e-3), Hole{1.5e-3}, o)
		off := math.Abs(decibels(float64(coarse.Data[i] / exact.Data[len(exact.Data)/2])))
		worst = max(worst, off)
	}
	if !(worst <= 0.8) {
		t.Errorf("interpolation misses by %.2f dB: want 0.8 dB at most", worst)
	}
	t.Logf("worst error of interpolation %.2f dB", worst)
}

// TestReciprocal checks that reciprocal views have the same map, in units and in places.
func TestReciprocal(t *testing.T) {
	b := newBench(true)
	g := check.Must(tfm.NewSection(4e-3, 24e-3, 5e-3, 20e-3, 4e-3))
	for _, views := range [][2]string{{"L-T", "T-L"}, {"TT-L", "L-TT"}} {
		for _, of := range []Reflector{Hole{1.5e-3}, Point{}, Planar{2e-3, 0.5}} {
			one := b.newMap(t, b.template(), views[0], g, of, b.options())
			other := b.newMap(t, b.template(), views[1], g, of, b.options())
			for i, v := range one.Data {
				if !(math.Abs(float64(v-other.Data[i])) <= 2e-5*float64(v)) {
					t.Fatalf("%v, pixel %d: %v in view %s, %v in view %s", of, i, v, views[0], other.Data[i], views[1])
				}
			}
		}
	}
}

// TestInvariance checks that a map moves with the array along the surface, and that it keeps its
// form if all lengths and wavelengths are multiplied by k. In a section, amplitudes fall by √k: the
// spreading of both paths gives 1/k, and the echo of a reflector is √k times as strong.
func TestInvariance(t *testing.T) {
	grid := func(k, shift float64) tfm.Grid {
		return check.Must(tfm.NewSection(4e-3*k+shift, 24.1e-3*k+shift, 5e-3*k, 20.1e-3*k, 4e-3*k))
	}
	for _, view := range []string{"T-T", "TT-L"} {
		for _, of := range []func(k float64) Reflector{
			func(k float64) Reflector { return Hole{1.5e-3 * k} },
			func(k float64) Reflector { return Planar{2e-3 * k, 0.5} },
		} {
			b, o := newBench(true), newBench(true).options()
			o.Spacing = 4e-3
			want := b.newMap(t, b.template(), view, grid(1, 0), of(1), o)
			for _, k := range []float64{1, 2, 0.5} {
				moved, shift := newBench(true), 0.0
				if k == 1 {
					shift = 0.0625
				}
				for i, e := range moved.array.Elements {
					moved.array.Elements[i] = r3.Add(r3.Scale(k, e), r3.Vec{X: shift})
				}
				moved.array.Width *= k
				moved.array.CentreFrequency /= k
				moved.setup = check.Must(wedge.NewPlate(&polystyrene, steel, 25e-3*k))
				o.Spacing = 4e-3 * k
				got := moved.newMap(t, moved.template(), view, grid(k, shift), of(k), o)
				for i, v := range want.Data {
					if !(math.Abs(float64(got.Data[i])*math.Sqrt(k)-float64(v)) <= 1e-3*float64(v)) {
						t.Fatalf("%s, %v, factor %v, pixel %d: %v, want %v/√k", view, of(1), k, i, got.Data[i], v)
					}
				}
			}
		}
	}
}

// TestSame checks that a half matrix has the map of the full matrix, and that the number of workers
// changes no bit.
func TestSame(t *testing.T) {
	b := newBench(true)
	g := check.Must(tfm.NewSection(4e-3, 24e-3, 5e-3, 20e-3, 2e-3))
	half := b.template()
	half.Pairs, half.Data = fmc.HalfPairs(len(b.array.Elements)), nil
	half = check.Must(fmc.New(*half))
	for _, view := range []string{"T-T", "TT-T"} {
		o := b.options()
		o.Workers = 1
		full := b.newMap(t, b.template(), view, g, Hole{1.5e-3}, o)
		o.Workers = 3
		if diff := cmp.Diff(full, b.newMap(t, b.template(), view, g, Hole{1.5e-3}, o)); diff != "" {
			t.Errorf("%s: three workers make another map than one (-one +three):\n%s", view, diff)
		}
		for i, v := range b.newMap(t, half, view, g, Hole{1.5e-3}, o).Data {
			if !(math.Abs(float64(v-full.Data[i])) <= 1e-6*float64(v)) {
				t.Fatalf("%s, pixel %d: %v from a half matrix, %v from the full one", view, i, v, full.Data[i])
			}
		}
	}
}

// TestWeights checks that pairs of weight 0 do not count, and that weights scale the map.
func TestWeights(t *testing.T) {
	b := tone(4, 0.5e-3)
	o := &Options{Dimension: wedge.Section, Weights: make([]float32, 16)}
	o.Weights[5] = 2 // element 1 to itself
	got := b.at(t, "L-L", b.array.Elements[1].X, 30e-3, Point{}, o)
	if want := 2 / 30e-3; !(math.Abs(got/want-1) <= 1e-6) {
		t.Errorf("one pair of weight 2 and the rest 0: %v, want %v", got, want)
	}
}

// TestLimitAngle images a hole with and without a limit of the angle, and checks that the map with
// the limit predicts the change of the level.
func TestLimitAngle(t *testing.T) {
	ctx := context.Background()
	b := newBench(false)
	p, angle := r3.Vec{X: 6e-3, Z: 9e-3}, 0.6
	c := b.capture(t, "L-L", synth.Hole{X: p.X, Z: p.Z, Diameter: 1.5e-3})
	g := check.Must(tfm.NewSection(p.X-2e-3, p.X+2e-3, p.Z-2e-3, p.Z+2e-3, 0.1e-3))
	timer := check.Must(tfm.NewTimer(c, b.setup, "L-L", &wedge.TimesOptions{Directions: true}))
	all, _, err := timer(ctx, g.Points())
	if err != nil {
		t.Fatal(err)
	}
	some := check.Must(LimitAngle(all, r3.Vec{Z: 2}, angle))
	at := pixelAt(g, p)
	for e, element := range b.array.Elements {
		steep := math.Atan2(math.Abs(p.X-element.X), p.Z) > angle
		if missing := math.IsNaN(float64(some.Seconds[e*some.Points+at])); missing != steep {
			t.Errorf("element %d at x = %v m: missing %v", e, element.X, missing)
		}
	}
	peaks := func(table *wedge.Times, limit float64) (image, amplitude float64) {
		plan := check.Must(tfm.NewPlan(c, g, table, table, nil))
		envelope := check.Must(plan.Image(ctx, c)).Envelope(nil)
		peak, i := envelope.Peak()
		o := b.options()
		o.Angle = limit
		m := b.newMap(t, c, "L-L", g, Hole{1.5e-3}, o)
		if partial := m.State(i)&tfm.NoRay != 0; partial != (limit != 0) {
			t.Errorf("limit %v: state %v", limit, m.State(i))
		}
		return float64(peak), float64(m.Data[i])
	}
	image, amplitude := peaks(all, 0)
	limitedImage, limitedAmplitude := peaks(some, angle)
	fall, want := decibels(limitedImage/image), decibels(limitedAmplitude/amplitude)
	if !(want <= -3) {
		t.Errorf("the limit lowers the map by %.2f dB: want 3 dB at least, or the test shows nothing", -want)
	}
	// One of 8 elements more or less changes the level by 1 dB on each path.
	if !(math.Abs(fall-want) <= 1.5) {
		t.Errorf("the limit lowers the image by %.2f dB, the map by %.2f dB", -fall, -want)
	}
	if all.MadeFor.Equal(some.MadeFor) {
		t.Error("the table with a limit passes for the table without")
	}
}

// TestLimitAngleErrors checks that errors name what is wrong.
func TestLimitAngleErrors(t *testing.T) {
	b := newBench(false)
	path := check.Must(b.setup.Path([]material.Mode{material.L}))
	points := []r3.Vec{{Z: 5e-3}}
	bare := check.Must(path.Times(context.Background(), b.array.Elements, points, nil))
	table := check.Must(path.Times(context.Background(), b.array.Elements, points, &wedge.TimesOptions{Directions: true}))
	for _, test := range []struct {
		name   string
		table  *wedge.Times
		normal r3.Vec
		angle  float64
		want   string
	}{
		{"no table", nil, r3.Vec{Z: 1}, 1, "no table of times"},
		{"no directions", bare, r3.Vec{Z: 1}, 1, "16 times and 0 directions"},
		{"no normal", table, r3.Vec{}, 1, "normal"},
		{"no angle", table, r3.Vec{Z: 1}, 0, "angle 0 rad"},
		{"behind", table, r3.Vec{Z: 1}, 2, "angle 2 rad"},
	} {
		if _, err := LimitAngle(test.table, test.normal, test.angle); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: error %v, want one with %q", test.name, err, test.want)
		}
	}
}

// TestOrientation checks that the order of the elements has no effect, and that the options state
// the same orientation as the elements.
func TestOrientation(t *testing.T) {
	b := newBench(true)
	g := check.Must(tfm.NewSection(8e-3, 20e-3, 6e-3, 18e-3, 4e-3))
	want := b.newMap(t, b.template(), "T-T", g, Point{}, b.options())
	stated := b.options()
	stated.Axis = r3.Vec{X: math.Cos(30 * math.Pi / 180), Z: -math.Sin(30 * math.Pi / 180)}
	stated.Normal = r3.Vec{X: 3 * math.Sin(30*math.Pi/180), Z: 3 * math.Cos(30*math.Pi/180)}
	turned := b.options()
	turned.Axis, turned.Normal = r3.Vec{X: 1}, r3.Vec{Z: 1}
	backwards := newBench(true)
	slices.Reverse(backwards.array.Elements)
	for _, test := range []struct {
		name string
		m    *Map
		same bool
	}{
		{"stated", b.newMap(t, b.template(), "T-T", g, Point{}, stated), true},
		{"turned", b.newMap(t, b.template(), "T-T", g, Point{}, turned), false},
		{"in reverse order", backwards.newMap(t, backwards.template(), "T-T", g, Point{}, b.options()), true},
	} {
		worst := 0.0
		for i, v := range test.m.Data {
			worst = max(worst, math.Abs(decibels(float64(v/want.Data[i]))))
		}
		if same := worst <= 1e-3; same != test.same {
			t.Errorf("%s: maps differ by up to %.4f dB, want the same map: %v", test.name, worst, test.same)
		}
	}
}

// TestLosses checks that losses lower the map by the losses of both ways.
func TestLosses(t *testing.T) {
	b := tone(1, 1e-6)
	o := &Options{Dimension: wedge.Section}
	without := b.at(t, "L-L", 0, 30e-3, Point{}, o)
	o.Losses.Longitudinal = material.Attenuation{{Alpha: 10, Frequency: 5e6}} // Np/m
	fall := math.Log(without / b.at(t, "L-L", 0, 30e-3, Point{}, o))
	if want := 10 * 60e-3; !(math.Abs(fall-want) <= 1e-6) {
		t.Errorf("losses lower the map by %v Np: want %v", fall, want)
	}
}

// TestNames checks the names of the reflectors.
func TestNames(t *testing.T) {
	for want, of := range map[string]Reflector{
		"side-drilled hole of 1.5 mm":      Hole{Diameter: 1.5e-3},
		"point scatterer":                  Point{},
		"planar flaw of 3 mm, tilt -22.5°": Planar{Length: 3e-3, Tilt: -math.Pi / 8},
	} {
		if got := of.String(); got != want {
			t.Errorf("%#v is a %q: want %q", of, got, want)
		}
	}
}

// TestStates checks that places without rays are marked.
func TestStates(t *testing.T) {
	b := tone(2, 0.5e-3)
	b.setup = check.Must(wedge.NewPlate(nil, steel, 20e-3))
	g := check.Must(tfm.NewSection(-2e-3, 2e-3, 18e-3, 22e-3, 1e-3))
	m := b.newMap(t, b.template(), "L-L", g, Point{}, b.options())
	for i, v := range m.Data {
		inside := g.Point(i).Z < 20e-3
		if blank := m.State(i)&tfm.Blank != 0; blank == inside || (v > 0) != inside {
			t.Errorf("pixel at %v m: amplitude %v, state %v", g.Point(i), v, m.State(i))
		}
	}
}

// TestErrors checks that errors name what is wrong.
func TestErrors(t *testing.T) {
	b := newBench(false)
	g := check.Must(tfm.NewSection(4e-3, 6e-3, 5e-3, 7e-3, 1e-3))
	for _, test := range []struct {
		name   string
		change func(*arguments)
		want   string
	}{
		{"no reflector", func(a *arguments) { a.of = nil }, "no reflector"},
		{"no set-up", func(a *arguments) { a.setup = nil }, "no set-up"},
		{"no grid", func(a *arguments) { a.g = tfm.Grid{} }, "step 0 m along x"},
		{"a volume", func(a *arguments) { a.g.Slices = 2 }, "grid of 2 slices"},
		{"another plane", func(a *arguments) { a.g.Origin.Y = 1e-3 }, "element 0 at y = 0 m"},
		{"events", func(a *arguments) {
			a.c.Events = []fmc.Event{{Delays: make([]float64, 16), Weights: slices.Repeat([]float64{1}, 16)}}
			a.c.Pairs = fmc.EventPairs(1, 16)
			a.c.Data = make([]float32, 16*a.c.Samples)
		}, "events"},
		{"a view that is none", func(a *arguments) { a.view = "T" }, `view "T"`},
		{"a hole without size", func(a *arguments) { a.of = Hole{} }, "diameter of the hole 0 m: want a finite value above 0"},
		{"a hole of no number", func(a *arguments) { a.of = Hole{math.NaN()} }, "diameter of the hole NaN m: want a finite value above 0"},
		{"a flaw without size", func(a *arguments) { a.of = Planar{} }, "length of the planar flaw 0 m"},
		{"a flaw without tilt", func(a *arguments) { a.of = Planar{1e-3, math.NaN()} }, "tilt of the planar flaw NaN"},
		{"a weight too few", func(a *arguments) { a.o.Weights = make([]float32, 255) }, "255 weights: want 256"},
		{"a weight that is none", func(a *arguments) {
			a.o.Weights = slices.Repeat([]float32{float32(math.NaN())}, 256)
		}, "weight 0 is NaN"},
		{"spacing below 0", func(a *arguments) { a.o.Spacing = -1 }, "spacing of the nodes -1 m"},
		{"angle beyond the face", func(a *arguments) { a.o.Angle = 1.6 }, "angle 1.6 rad"},
		{"workers below 0", func(a *arguments) { a.o.Workers = -1 }, "-1"},
		{"a law that is none", func(a *arguments) { a.o.Losses.Transverse = material.Attenuation{{Alpha: -1}} }, "losses of transverse waves"},
		{"dimension unknown", func(a *arguments) { a.o.Dimension = 7 }, "dimension 7"},
		{"length below 0", func(a *arguments) { a.o.Length = -1 }, "length of the elements -1 m"},
		{"axis along the normal", func(a *arguments) { a.o.Normal, a.o.Axis = r3.Vec{Z: 1}, r3.Vec{Z: 1} }, "right angles"},
		{"a liquid part", func(a *arguments) {
			a.setup = check.Must(wedge.NewPlate(nil, material.Isotropic{Density: 1000, Longitudinal: 1480}, 20e-3))
		}, "fluid"},
	} {
		a := &arguments{b.template(), b.setup, "L-L", g, Hole{1e-3}, new(Options)}
		test.change(a)
		if _, err := New(context.Background(), a.c, a.setup, a.view, a.g, a.of, a.o); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: error %v, want one with %q", test.name, err, test.want)
		}
	}
	ended, end := context.WithCancel(context.Background())
	end()
	if _, err := New(ended, b.template(), b.setup, "L-L", g, Hole{1e-3}, nil); err != context.Canceled {
		t.Errorf("error %v of a context that has ended", err)
	}
}

// arguments are the arguments of New.
type arguments struct {
	c     *fmc.Capture
	setup *wedge.Setup
	view  string
	g     tfm.Grid
	of    Reflector
	o     *Options
}
