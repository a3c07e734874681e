// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// find returns the indications of env.
func find(t *testing.T, env *tfm.Envelope, opt *sizing.Options) []sizing.Indication {
	t.Helper()
	found, err := sizing.Find(env, opt)
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// one returns the only indication of env.
func one(t *testing.T, env *tfm.Envelope) sizing.Indication {
	t.Helper()
	found := find(t, env, nil)
	if len(found) != 1 {
		t.Fatalf("%d indications, want 1", len(found))
	}
	return found[0]
}

// within wants got to lie within tol of want.
func within(t *testing.T, name string, got, want, tol float64) {
	t.Helper()
	if err := math.Abs(got - want); !(err <= tol) {
		t.Errorf("%s %v, want %v within %v", name, got, want, tol)
	}
}

// The logarithm of a Gaussian hill is a quadratic, so its peak is exact except for the float32 of
// the amplitudes. The other bounds are the bounds of doc.go for the number of pixels across the
// width.
func TestFindGaussianBetweenPixels(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	for _, bounds := range []struct{ pixels, under, over, tilt, area float64 }{
		{3, 0.09, 0.03, 0.04, 0.13},
		{5, 0.03, 0.01, 0.012, 0.035},
		{10, 0.01, 0.003, 0.003, 0.01},
	} {
		for _, aspect := range []float64{1, 3, 6} {
			for range 25 {
				const step = 1e-4
				b := blob{
					x: (40 + rng.Float64()) * step, z: (45 + rng.Float64()) * step, tilt: (rng.Float64() - 0.5) * math.Pi,
					length: aspect * bounds.pixels * step, width: bounds.pixels * step, height: 3,
				}
				in := one(t, draw(t, 81, 91, step, b))
				within(t, "x", in.X, b.x, 1e-3*step)
				within(t, "z", in.Z, b.z, 1e-3*step)
				within(t, "amplitude", in.Amplitude, b.height, 1e-5)
				within(t, "level", in.LevelDB, 0, 0)
				for name, ratio := range map[string]float64{
					"length": in.Length / b.length, "width": in.Width / b.width,
					"extent x": (in.ExtentX[1] - in.ExtentX[0]) / b.across(0), "extent z": (in.ExtentZ[1] - in.ExtentZ[0]) / b.across(math.Pi/2),
				} {
					if !(ratio >= 1-bounds.under && ratio <= 1+bounds.over) {
						t.Errorf("%s %v of the true one, want within -%v and +%v", name, ratio, bounds.under, bounds.over)
					}
				}
				within(t, "area", in.Area/(math.Pi/4*b.length*b.width), 1, bounds.area)
				if aspect > 1 {
					within(t, "tilt", math.Remainder(in.Tilt-b.tilt, math.Pi), 0, bounds.tilt)
				}
				if in.Round != (aspect == 1) {
					t.Errorf("round %v at aspect %v", in.Round, aspect)
				}
				if in.Edge {
					t.Errorf("edge set inside the picture")
				}
				if t.Failed() {
					t.Fatalf("%v pixels across, %+v", bounds.pixels, b)
				}
			}
		}
	}
}

// across returns the extent of b's ellipse at half height along the direction at angle
// from the x axis to the z axis.
func (b blob) across(angle float64) float64 {
	sin, cos := math.Sincos(angle)
	st, ct := math.Sincos(b.tilt)
	return math.Hypot(b.length*(st*cos-ct*sin), b.width*(ct*cos+st*sin))
}

func TestFindSincBetweenPixels(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 2))
	for _, bounds := range []struct{ pixels, peak, level, under, over float64 }{
		{3, 0.01, 0.05, 0.09, 0.03}, {5, 0.003, 0.01, 0.03, 0.01}, {10, 0.001, 0.001, 0.01, 0.003},
	} {
		for range 100 {
			env := draw(t, 41, 41, 1)
			x, z := 20+rng.Float64(), 20+rng.Float64()
			for i := range env.Data {
				p := env.Point(i)
				env.Data[i] = float32(lateral["sinc²"]((p.X-x)/bounds.pixels) * lateral["gauss"]((p.Z-z)/bounds.pixels))
			}
			in := find(t, env, nil)[0]
			within(t, "x", in.X, x, bounds.peak)
			within(t, "z", in.Z, z, bounds.peak)
			within(t, "level", sizing.LevelDB(in.Amplitude, 1), 0, bounds.level)
			ratio := (in.ExtentX[1] - in.ExtentX[0]) / bounds.pixels
			if !(ratio >= 1-bounds.under && ratio <= 1+bounds.over) {
				t.Errorf("%v pixels: extent x %v of the true one, want within -%v and +%v", bounds.pixels, ratio, bounds.under, bounds.over)
			}
		}
	}
}

// The length of a strip in a picture is the length in the convolution model.
func TestFindStrips(t *testing.T) {
	const width, step = 10.0, 1.0 // pixels
	for _, tilt := range []float64{0, math.Pi / 6, -0.8, math.Pi / 2} {
		for _, row := range convolution {
			profile := gaussStrip(row.true)
			env := draw(t, 141, 141, step)
			sin, cos := math.Sincos(tilt)
			for i := range env.Data {
				p := env.Point(i)
				dx, dz := p.X-70.3, p.Z-69.6
				env.Data[i] = float32(profile((dx*sin-dz*cos)/width) * lateral["gauss"]((dx*cos+dz*sin)/width))
			}
			in := one(t, env)
			within(t, "length", in.Length/width, row.gauss, 0.01*row.gauss)
			within(t, "width", in.Width/width, 1, 0.01)
			if row.true >= 2 {
				within(t, "tilt", math.Remainder(in.Tilt-tilt, math.Pi), 0, 0.003)
				within(t, "x of the middle", (in.ExtentX[0]+in.ExtentX[1])/2, 70.3, 0.1)
				within(t, "z of the middle", (in.ExtentZ[0]+in.ExtentZ[1])/2, 69.6, 0.1)
			}
			if t.Failed() {
				t.Fatalf("strip of %v at tilt %v", row.true, tilt)
			}
		}
	}
}

// gaussStrip is strip of a Gaussian in closed form.
func gaussStrip(length float64) func(x float64) float64 {
	if length == 0 {
		return lateral["gauss"]
	}
	a := 2 * math.Sqrt(math.Ln2)
	return func(x float64) float64 { return math.Erf(a*(x+length/2)) - math.Erf(a*(x-length/2)) }
}

// picture returns a section of pixels 1 mm apart whose rows are given from above.
func picture(t *testing.T, rows ...[]float32) *tfm.Envelope {
	env := draw(t, len(rows[0]), len(rows), 1e-3)
	for r, row := range rows {
		copy(env.Data[r*env.Cols:], row)
	}
	return env
}

func TestFindCounts(t *testing.T) {
	for _, test := range []struct {
		name, reason string
		env          *tfm.Envelope
		opt          *sizing.Options
		want         []int // pixels of the peaks, strongest first
	}{
		{"zeros", "nothing is above anything", picture(t, []float32{0, 0}, []float32{0, 0}), nil, nil},
		{"one pixel", "it is the highest of all", picture(t, []float32{5}), nil, []int{0}},
		{"saddle half of the weaker", "a saddle at the drop itself joins", picture(t, []float32{0, 8, 3, 6, 0}), nil, []int{1}},
		{"saddle below that", "the drop area ends at the saddle", picture(t, []float32{0, 8, 2.99, 6, 0}), nil, []int{1, 3}},
		{"below the stronger's drop only", "the saddle, 3.5 of 8, is outside the stronger's area, but within 6 dB of the weaker's peak", picture(t, []float32{0, 8, 3.5, 6, 0}), nil, []int{1}},
		{"a smaller drop", "3 dB parts what 6 dB joins", picture(t, []float32{0, 8, 3.5, 6, 0}), &sizing.Options{Drop: 3}, []int{1, 3}},
		{"joined by a corner", "corners connect", picture(t, []float32{8, 0}, []float32{0, 6}), nil, []int{0}},
		{"the way round", "the ridge round the gap counts, not the straight line", picture(t, []float32{8, 0, 6}, []float32{5, 5, 5}), nil, []int{0}},
		{"a chain", "a third that is joined to the second only is the first's with it", picture(t, []float32{8, 5, 7, 4, 6}), nil, []int{0}},
		{"equal peaks", "the first by index is first", picture(t, []float32{0, 4, 0, 0, 4}), nil, []int{1, 4}},
		{"equal peaks, joined", "the first by index stands for both", picture(t, []float32{0, 4, 3, 4, 0}), nil, []int{1}},
		{"floor", "6 % is 24.4 dB down", picture(t, []float32{0, 100, 0, 6, 0}), nil, []int{1}},
		{"lower floor", "-25 dB lists it", picture(t, []float32{0, 100, 0, 6, 0}), &sizing.Options{Floor: -25}, []int{1, 3}},
		{"floor above the reference", "evaluation levels may be above it: 10 is 20 dB over 1", picture(t, []float32{0, 100, 0, 6, 0}), &sizing.Options{Floor: 20, Reference: 1}, []int{1}},
		{"reference above all", "an image of noise has no indication", picture(t, []float32{0, 1, 0}), &sizing.Options{Reference: 11}, nil},
	} {
		t.Run(test.name, func(t *testing.T) {
			var got []int
			for _, in := range find(t, test.env, test.opt) {
				got = append(got, in.Pixel)
			}
			if diff := cmp.Diff(test.want, got); diff != "" {
				t.Errorf("%s\n%s", test.reason, diff)
			}
		})
	}
}

// Two equal hills of width 1 are one while the saddle is within 6 dB: at half the
// distance d between them the amplitude is 2^(-d²), half of the peak at d = 1.
func TestFindMergesNeighbours(t *testing.T) {
	for _, test := range []struct {
		distance float64
		want     int
	}{{0.5, 1}, {0.95, 1}, {1.1, 2}, {2, 2}} {
		d := 20 * test.distance
		env := draw(t, 101, 61, 1,
			blob{x: 30, z: 30, length: 20, width: 20, height: 1},
			blob{x: 30 + d, z: 30, length: 20, width: 20, height: 1})
		found := find(t, env, nil)
		if len(found) != test.want {
			t.Errorf("hills %v widths apart: %d indications, want %d", test.distance, len(found), test.want)
		}
		if test.want == 1 {
			within(t, "extent of both", found[0].ExtentX[1]-found[0].ExtentX[0], 20+d, 0.2)
		}
	}
}

func TestFindAtTheEdge(t *testing.T) {
	round := blob{length: 20, width: 20, height: 1}
	at := func(x, z float64) blob { b := round; b.x, b.z = x, z; return b }
	for _, test := range []struct {
		name, reason string
		b            blob
		x, z         float64
		ex, ez       [2]float64
		edge         bool
	}{
		{"left side", "half of it is seen", at(0, 30), 0, 30, [2]float64{0, 10}, [2]float64{20, 40}, true},
		{"beyond the right side", "the last column stands for the peak; 0.54 dB below it, its own contour is wider", at(63, 30), 60, 30, [2]float64{63 - 10.44, 60}, [2]float64{20, 40}, true},
		{"corner", "a quarter is seen", at(60, 60), 60, 60, [2]float64{50, 60}, [2]float64{50, 60}, true},
		{"touching", "its contour ends beyond the last row", at(30, 50.5), 30, 50.5, [2]float64{20, 40}, [2]float64{40.5, 60}, true},
		{"clear of the edge", "its contour ends before the last row", at(30, 49), 30, 49, [2]float64{20, 40}, [2]float64{39, 59}, false},
	} {
		t.Run(test.name, func(t *testing.T) {
			in := one(t, draw(t, 61, 61, 1, test.b))
			within(t, "x", in.X, test.x, 1e-4)
			within(t, "z", in.Z, test.z, 1e-4)
			for i := range 2 {
				within(t, "extent x", in.ExtentX[i], test.ex[i], 0.1)
				within(t, "extent z", in.ExtentZ[i], test.ez[i], 0.1)
			}
			if in.Edge != test.edge {
				t.Errorf("edge %v, want %v: %s", in.Edge, test.edge, test.reason)
			}
		})
	}
}

func TestFindFlatAndNarrowTops(t *testing.T) {
	for _, test := range []struct {
		name, reason string
		env          *tfm.Envelope
		x, z         float64 // in pixels
		amplitude    float64
		width        float64 // of the extent along x, in pixels
	}{
		{"one pixel among zeros", "no fit; crossings half way", picture(t, []float32{0, 0, 0}, []float32{0, 2, 0}, []float32{0, 0, 0}), 1, 1, 2, 1},
		{"two pixels", "the peak is between them; nothing for a fit on the far sides", picture(t, []float32{0, 0, 0, 0}, []float32{0, 2, 2, 0}, []float32{0, 0, 0, 0}), 1, 1, 2, 2},
		{"clipped top", "the mean of the equal pixels", picture(t, []float32{0, 1, 1, 1, 0}, []float32{1, 4, 4, 4, 1}, []float32{1, 4, 4, 4, 1}, []float32{0, 1, 1, 1, 0}), 2, 1.5, 4, 2 + 2*2.0/3},
		{"flat throughout", "the middle of the picture", picture(t, []float32{1, 1, 1, 1}, []float32{1, 1, 1, 1}, []float32{1, 1, 1, 1}), 1.5, 1, 1, 3},
	} {
		t.Run(test.name, func(t *testing.T) {
			in := one(t, test.env)
			within(t, "x", in.X/1e-3, test.x, 1e-9)
			within(t, "z", in.Z/1e-3, test.z, 1e-9)
			within(t, "amplitude", in.Amplitude, test.amplitude, 1e-9)
			within(t, "extent x", (in.ExtentX[1]-in.ExtentX[0])/1e-3, test.width, 1e-9)
			if t.Failed() {
				t.Log(test.reason)
			}
		})
	}
}

// A coarse peak's fit may rise by more than a small drop: the highest pixel still lies
// inside the contour, and the peak above it by half the drop at most.
func TestFindSmallDropOfCoarsePeak(t *testing.T) {
	env := picture(t, []float32{0.3, 0.3, 0.3, 0.3}, []float32{0.3, 1, 0.99, 0.3}, []float32{0.3, 1, 0.99, 0.3}, []float32{0.3, 0.3, 0.3, 0.3})
	in := find(t, env, &sizing.Options{Drop: 0.5})[0]
	if at := env.Point(in.Pixel); !(in.ExtentX[0] < at.X && at.X < in.ExtentX[1] && in.ExtentZ[0] < at.Z && at.Z < in.ExtentZ[1]) {
		t.Errorf("extents %v and %v, want %v inside", in.ExtentX, in.ExtentZ, at)
	}
	within(t, "level", sizing.LevelDB(in.Amplitude, 1), 0.25, 1e-9)
}

// The long axis is the one along which the contour is longer, even where most of the
// weight lies across it.
func TestFindLongAxisOfACross(t *testing.T) {
	env := picture(t,
		[]float32{0, 0, 0, 0, 9, 0, 0, 0, 0},
		[]float32{0, 0, 0, 0, 9, 0, 0, 0, 0},
		[]float32{0, 6, 6, 6, 10, 6, 6, 6, 0},
		[]float32{0, 0, 0, 0, 9, 0, 0, 0, 0},
		[]float32{0, 0, 0, 0, 9, 0, 0, 0, 0})
	in := one(t, env)
	within(t, "length", in.Length, 6e-3+2e-3/6, 1e-12)
	within(t, "width", in.Width, 4e-3, 1e-12)
	within(t, "tilt", in.Tilt, math.Pi/2, 1e-12)
}

// A long axis whose right end lies lower by less than rounding is horizontal, at
// π/2 and not at -π/2.
func TestFindHorizontal(t *testing.T) {
	const cols = 4001
	env := draw(t, cols, 3, 1)
	for c := range cols {
		env.Data[c] = 1
	}
	env.Data[cols+cols/2+1] = math.Nextafter32(0.5, 1)
	// The indication fills all that is not zero, so the floor cannot follow the noise.
	if in := find(t, env, &sizing.Options{Floor: -20})[0]; in.Tilt != math.Pi/2 {
		t.Errorf("tilt %v, want π/2", in.Tilt)
	}
}

func TestFindRefuses(t *testing.T) {
	with := func(change func(*tfm.Envelope)) *tfm.Envelope {
		env := picture(t, []float32{0, 1, 0}, []float32{0, 2, 0})
		change(env)
		return env
	}
	nan, inf := math.NaN(), math.Inf(1)
	ok := with(func(*tfm.Envelope) {})
	for _, test := range []struct {
		name string
		env  *tfm.Envelope
		opt  *sizing.Options
		want string
	}{
		{"no envelope", nil, nil, "sizing: envelope nil"},
		{"no grid", &tfm.Envelope{}, nil, "sizing: grid of the envelope: wedge: "},
		{"step", with(func(e *tfm.Envelope) { e.Step.Z = nan }), nil, "sizing: grid of the envelope: wedge: step NaN m along z"},
		{"too few amplitudes", with(func(e *tfm.Envelope) { e.Data = e.Data[:5] }), nil, "sizing: envelope of 5 amplitudes: want 6"},
		{"volume", with(func(e *tfm.Envelope) { e.Slices = 2; e.Data = append(e.Data, e.Data...) }), nil, "sizing: envelope of 2 slices: want one section"},
		{"NaN", with(func(e *tfm.Envelope) { e.Data[4] = float32(nan) }), nil, "sizing: amplitude NaN at pixel 4"},
		{"Inf", with(func(e *tfm.Envelope) { e.Data[0] = float32(inf) }), nil, "sizing: amplitude +Inf at pixel 0"},
		{"negative", with(func(e *tfm.Envelope) { e.Data[5] = -1 }), nil, "sizing: amplitude -1 at pixel 5"},
		{"drop", ok, &sizing.Options{Drop: -6}, "sizing: drop -6 dB: want 0.01 to 120"},
		{"NaN drop", ok, &sizing.Options{Drop: nan}, "sizing: drop NaN dB"},
		{"NaN floor", ok, &sizing.Options{Floor: nan}, "sizing: floor NaN dB"},
		{"endless floor", ok, &sizing.Options{Floor: -inf}, "sizing: floor -Inf dB"},
		{"negative reference", ok, &sizing.Options{Reference: -1}, "sizing: reference amplitude -1"},
		{"NaN reference", ok, &sizing.Options{Reference: nan}, "sizing: reference amplitude NaN"},
		{"endless reference", ok, &sizing.Options{Reference: inf}, "sizing: reference amplitude +Inf"},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := sizing.Find(test.env, test.opt)
			checkError(t, err, test.want)
		})
	}
}

func TestFindGridOfUnequalSteps(t *testing.T) {
	b := blob{x: 5e-3, z: 4e-3, length: 3e-3, width: 1e-3, tilt: 0.6, height: 1}
	g := tfm.Grid{Origin: r3.Vec{X: 1e-3, Z: 0.5e-3}, Step: r3.Vec{X: 0.1e-3, Y: 1, Z: 0.05e-3}, Cols: 81, Rows: 141, Slices: 1}
	env := &tfm.Envelope{Grid: g, Data: make([]float32, g.Len())}
	for i := range env.Data {
		p := g.Point(i)
		env.Data[i] = float32(b.at(p.X, p.Z))
	}
	in := one(t, env)
	within(t, "x", in.X, b.x, 1e-7)
	within(t, "z", in.Z, b.z, 1e-7)
	within(t, "length", in.Length, b.length, 0.01*b.length)
	within(t, "width", in.Width, b.width, 0.01*b.width)
	within(t, "tilt", in.Tilt, b.tilt, 0.003)
	within(t, "area", in.Area, math.Pi/4*b.length*b.width, 0.01*in.Area)
}

func TestIndicationJSON(t *testing.T) {
	in := sizing.Indication{ID: 1, X: 0.016, Tilt: 0.5, ExtentX: [2]float64{1, 2}, Contour: []r3.Vec{{X: 1}}}
	got, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	const want = `{"id":1,"x_m":0.016,"z_m":0,"level_db":0,"extent_x_m":[1,2],"extent_z_m":[0,0],"length_m":0,"width_m":0,"tilt_rad":0.5,` +
		`"round":false,"edge":false,"merged":false,"snr_db":0,"area_m2":0,"amplitude":0}`
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Error(diff)
	}
}
