// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestViews compares the images of several views in one pass with the images of their own plans,
// for each kernel: the same states and coherences, and the same amplitudes to rounding.
func TestViews(t *testing.T) {
	full := randomCapture(60, 6, 900, fmc.FullPairs(6))
	half := randomCapture(61, 6, 900, fmc.HalfPairs(6))
	list := randomCapture(62, 6, 900, fmc.FullPairs(6)[4:31])
	waves := check.Must(transmit.PlaneWaves(full.Array, 5920, []r3.Vec{{X: -0.2, Z: math.Sqrt(0.96)}, {Z: 1}}))
	events := check.Must(transmit.Encode(background, full, waves, nil))
	g := check.Must(NewSection(-3e-3, 3e-3, 1e-3, 12e-3, 0.45e-3))
	full.Data[100], full.Data[17*900+444] = 40, -40 // clipped
	for _, test := range []struct {
		name    string
		capture *fmc.Capture
		views   []string
		options Options
	}{
		{"full", full, []string{"L-L", "L-T", "T-T"}, Options{FullScale: 40}},
		{"half", half, []string{"T-T", "TT-T"}, Options{}},
		{"half, many", half, []string{"L-L", "L-T", "T-T", "T-LL", "L-LL", "TT-T"}, Options{FullScale: 3}},
		{"list, weighted", list, []string{"TT-T", "T-T"}, Options{Weights: slices.Repeat([]float32{1, 0, -2}, 9)}},
		{"events", events, []string{"L-L", "L-T"}, Options{}},
		{"coherence", full, []string{"L-L", "L-T"}, Options{Coherence: AuxiliaryPhaseCoherence}},
		{"one view", full, []string{"L-L"}, Options{}},
	} {
		t.Run(test.name, func(t *testing.T) {
			eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
				if !long && o.kernel == "window" && (testing.Short() || test.name != "full") {
					return // slow, and the same code outside the kernel
				}
				o.FullScale, o.Weights, o.Coherence = test.options.FullScale, test.options.Weights, test.options.Coherence
				o.Workers = 2
				views := check.Must(PlanViews(background, test.capture, plate(), test.views, g, &o))
				got := check.Must(views.Images(background, test.capture))
				for i, name := range test.views {
					want := check.Must(check.Must(PlanView(background, test.capture, plate(), name, g, &o)).Image(background, test.capture))
					wide := make([]complex128, len(want.Data))
					for p, v := range want.Data {
						wide[p] = complex128(v)
					}
					wantImage(t, got[i].Data, wide, tolerance)
					if test.capture == half && o.Precision == Single && !slices.Equal(got[i].Data, want.Data) {
						t.Errorf("%s: other bits than in its plan", name) // sums of two directions are exact
					}
					if !slices.Equal(got[i].States, want.States) || !slices.Equal(got[i].Coherence, want.Coherence) {
						t.Errorf("%s: states or coherences are not the same as in its plan", name)
					}
				}
				scratch, again := views.NewScratch(), make([]*Image, len(got))
				for i := range again {
					again[i] = NewImage(g)
				}
				frame := func() {
					if err := scratch.Reconstruct(background, again, test.capture.Data); err != nil {
						t.Fatal(err)
					}
				}
				frame()
				if n := testing.AllocsPerRun(3, frame); n != 0 {
					t.Errorf("%v allocations a frame, want none", n)
				}
				o.Workers = 3
				alone := check.Must(check.Must(PlanViews(background, test.capture, plate(), test.views, g, &o)).Images(background, test.capture))
				if diff := cmp.Diff(got, again); diff != "" || !cmp.Equal(got, alone) {
					t.Errorf("a second frame, or another number of workers, gives other images: %s", diff)
				}
			})
		})
	}
}

// TestSharedTraces checks which views share packed traces: the views of two equal paths, and the
// views of two paths.
func TestSharedTraces(t *testing.T) {
	c := randomCapture(66, 4, 300, fmc.HalfPairs(4))
	list := randomCapture(67, 4, 300, fmc.FullPairs(4)[1:4]) // no pair has both directions
	g := check.Must(NewSection(-1e-3, 1e-3, 2e-3, 4e-3, 0.2e-3))
	for _, test := range []struct {
		name    string
		capture *fmc.Capture
		options Options
		borrows []bool
	}{
		{"single", c, Options{}, []bool{false, false, true, true}},
		{"portable", c, Options{kernel: "portable"}, []bool{false, false, true, true}},
		{"other samples read", list, Options{}, []bool{false, false, true, true}},
		{"16 bits, before the first frame", c, Options{kernel: "window", Precision: Fixed16}, []bool{false, false, true, true}},
		{"portable in 16 bits", c, Options{kernel: "portable", Precision: Fixed16}, make([]bool, 4)},
		{"coherence", c, Options{Coherence: SignCoherence}, make([]bool, 4)},
	} {
		views := check.Must(PlanViews(background, test.capture, plate(), []string{"L-L", "L-T", "T-T", "L-TT"}, g, &test.options))
		for i, v := range views.NewScratch().scratch.views {
			if v.borrows != test.borrows[i] {
				t.Errorf("%s: view %d borrows %v, want %v", test.name, i, v.borrows, test.borrows[i])
			}
		}
	}
}

// TestViewTables checks that a path of two views has one table, and the progress of the tables.
func TestViewTables(t *testing.T) {
	var paths pathList
	transmit, receive, err := plate().Paths(check.Must(wedge.ParseView("TT-T")))
	if err != nil {
		t.Fatal(err)
	}
	same, _, err := plate().Paths(check.Must(wedge.ParseView("T-T")))
	if err != nil {
		t.Fatal(err)
	}
	if got := []int{paths.add(transmit), paths.add(receive), paths.add(same)}; !slices.Equal(got, []int{0, 1, 1}) {
		t.Errorf("tables %v of TT, T and T, want 0, 1, 1", got)
	}
	c := randomCapture(63, 4, 300, fmc.FullPairs(4))
	g := check.Must(NewSection(-1e-3, 1e-3, 2e-3, 4e-3, 0.2e-3))
	var shares []float64
	check.Must(PlanViews(background, c, plate(), []string{"T-T", "TT-T"}, g, &Options{Progress: func(s float64) { shares = append(shares, s) }}))
	if !slices.IsSorted(shares) || len(shares) == 0 || shares[len(shares)-1] != 1 {
		t.Errorf("progress %v, want shares that rise to 1", shares)
	}
}

// TestViewsInt16 checks that samples of 16 bits give the images of the same samples as float32.
// Two of the views share the sums of traces whose pairs the third view needs, and all views look
// for clipped samples.
func TestViewsInt16(t *testing.T) {
	c := randomCapture(64, 5, 500, fmc.FullPairs(5))
	samples := make([]int16, len(c.Data))
	for i, v := range c.Data {
		samples[i] = int16(1000 * v)
		c.Data[i] = float32(samples[i])
	}
	g := check.Must(NewSection(-2e-3, 2e-3, 3e-3, 7e-3, 0.2e-3))
	for _, precision := range []Precision{Single, Fixed16} {
		o := &Options{FullScale: 3000, Precision: precision}
		views := check.Must(PlanViews(background, c, plate(), []string{"L-L", "L-T", "T-T"}, g, o))
		want := check.Must(views.Images(background, c))
		got := []*Image{NewImage(g), NewImage(g), NewImage(g)}
		if err := views.NewScratch().ReconstructInt16(background, got, samples); err != nil {
			t.Fatal(err)
		}
		for i := range want {
			if !slices.Equal(got[i].States, want[i].States) {
				t.Errorf("%v: the states of view %d differ", precision, i)
			}
			// In 16 bits integers are filtered in integers.
			tolerance := map[Precision]float64{Single: 0, Fixed16: 1e-4}[precision]
			wantImage(t, got[i].Data, complex128s(want[i].Data), tolerance)
		}
	}
}

func TestBadViews(t *testing.T) {
	c := randomCapture(65, 4, 300, fmc.FullPairs(4))
	g := check.Must(NewSection(-1e-3, 1e-3, 2e-3, 4e-3, 0.2e-3))
	other := check.Must(NewSection(-1e-3, 1e-3, 2e-3, 4e-3, 0.1e-3))
	plan := func(c *fmc.Capture, g Grid, o *Options) *Plan {
		return check.Must(PlanView(background, c, plate(), "L-L", g, o))
	}
	first := plan(c, g, nil)
	for _, test := range []struct {
		name  string
		plans []*Plan
		words []string
	}{
		{"none", nil, []string{"0 views"}},
		{"nil", []*Plan{first, nil}, []string{"without a plan"}},
		{"grid", []*Plan{first, plan(c, other, nil)}, []string{"view 1", "another grid"}},
		{"capture", []*Plan{first, plan(randomCapture(65, 4, 301, fmc.FullPairs(4)), g, nil)}, []string{"301 samples", "want 300"}},
		{"band", []*Plan{first, plan(c, g, &Options{Band: Band{1e6, 2e6}})}, []string{"another band"}},
		{"precision", []*Plan{first, plan(c, g, &Options{Precision: Fixed16})}, []string{"precision"}},
		{"weights", []*Plan{first, plan(c, g, &Options{Weights: slices.Repeat([]float32{1}, 16)})}, []string{"weights"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := NewViews(test.plans...)
			check.Error(t, err, test.words...)
		})
	}
	for _, test := range []struct {
		name  string
		views []string
		words []string
	}{
		{"none", nil, []string{"0 views"}},
		{"unknown", []string{"L-L", "X"}, []string{"X"}},
	} {
		_, err := PlanViews(background, c, plate(), test.views, g, nil)
		check.Error(t, err, test.words...)
	}
	_, err := PlanViews(background, c, nil, []string{"L-L"}, g, nil)
	check.Error(t, err, "without a set-up")
	_, err = PlanViews(background, nil, plate(), []string{"L-L"}, g, nil)
	check.Error(t, err, "no capture")
	views := check.Must(NewViews(first, plan(c, g, nil)))
	im := NewImage(g)
	scratch := views.NewScratch()
	check.Error(t, scratch.Reconstruct(background, []*Image{im}, c.Data), "1 images", "want 2")
	check.Error(t, scratch.Reconstruct(background, []*Image{im, im}, c.Data), "image 1", "another view")
	check.Error(t, scratch.Reconstruct(background, []*Image{im, NewImage(other)}, c.Data), "plan's grid")
	check.Error(t, scratch.ReconstructInt16(background, []*Image{im, NewImage(g)}, nil), "0 samples")
	_, err = views.Images(background, nil)
	check.Error(t, err, "no capture")
}

// TestFuse fuses pixels by hand.
func TestFuse(t *testing.T) {
	g := check.Must(NewSection(0, 6e-3, 1e-3, 1e-3, 1e-3))
	nan := float32(math.NaN())
	views := []*Envelope{
		{Grid: g, Data: []float32{8, 2, 4, 0, 0, 8, 6}, States: []State{0, Clipped, NoRay, NoRay | Blank, AfterRecord | Blank, 0, 0}},
		{Grid: g, Data: []float32{1, 2, 1, 3, 0, 1, 1}, States: []State{0, 0, 0, 0, NoRay | Blank, CoarseGrid, Clipped}},
	}
	references := []Reference{{Amplitude: 4, Map: []float32{1, 1, 1, 1, 1, 0, nan}}, {Amplitude: 2, Map: []float32{1, 1, 0.5, 1, 1, 1, 0}}}
	want := &Fused{
		Envelope: Envelope{
			Grid: g, Data: []float32{2, 1, 1, 1.5, 0, 0.5, 0}, Quantity: RelativeAmplitude,
			States: []State{0, 0, NoRay, 0, AfterRecord | NoRay | Blank, CoarseGrid, Clipped | Blank},
		},
		View: []int16{0, 1, 0, 1, -1, 1, -1},
	}
	got := check.Must(Fuse(nil, views, references))
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if n := testing.AllocsPerRun(3, func() { check.Must(Fuse(got, views, references)) }); n != 0 || !cmp.Equal(want, got) {
		t.Errorf("%v allocations in the same memory, or another result", n)
	}
	// A common factor of amplitude and reference changes nothing.
	scaled := []*Envelope{views[0], {Grid: g, Data: slices.Clone(views[1].Data), States: views[1].States}}
	for p := range scaled[1].Data {
		scaled[1].Data[p] *= 1024
	}
	if again := check.Must(Fuse(nil, scaled, []Reference{references[0], {Amplitude: 2048, Map: references[1].Map}})); !cmp.Equal(want, again) {
		t.Error("a gain of one view and of its reference changes the fused image")
	}
}

func TestBadFuse(t *testing.T) {
	g := check.Must(NewSection(0, 1e-3, 1e-3, 1e-3, 1e-3))
	whole := &Envelope{Grid: g, Data: []float32{1, 2}}
	other := *whole
	other.Origin.X++
	weighted := *whole
	weighted.Quantity = WeightedAmplitude
	one := Reference{Amplitude: 1}
	for _, test := range []struct {
		name       string
		views      []*Envelope
		references []Reference
		words      []string
	}{
		{"none", nil, nil, []string{"0 views"}},
		{"too few references", []*Envelope{whole, whole}, []Reference{one}, []string{"2 views with 1 references"}},
		{"nil", []*Envelope{whole, nil}, []Reference{one, one}, []string{"view 1", "not whole"}},
		{"too few pixels", []*Envelope{{Grid: g, Data: []float32{1}}}, []Reference{one}, []string{"view 0", "not whole"}},
		{"another grid", []*Envelope{whole, &other}, []Reference{one, one}, []string{"view 1", "grid"}},
		{"another quantity", []*Envelope{whole, &weighted}, []Reference{one, one}, []string{"weighted amplitude", "view 1"}},
		{"amplitude 0", []*Envelope{whole}, []Reference{{}}, []string{"amplitude 0", "above 0"}},
		{"amplitude NaN", []*Envelope{whole}, []Reference{{Amplitude: float32(math.NaN())}}, []string{"NaN", "above 0"}},
		{"short map", []*Envelope{whole}, []Reference{{1, []float32{1}}}, []string{"map of 1", "want 2"}},
		{"negative map", []*Envelope{whole}, []Reference{{1, []float32{1, -1}}}, []string{"-1 at pixel 1"}},
		{"infinite map", []*Envelope{whole}, []Reference{{1, []float32{float32(math.Inf(1)), 1}}}, []string{"+Inf at pixel 0"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := Fuse(nil, test.views, test.references)
			check.Error(t, err, test.words...)
		})
	}
}
