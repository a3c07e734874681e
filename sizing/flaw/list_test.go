// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/uncertainty"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// TestOrderOfViews lists one capture with the views in both orders, and with one worker.
func TestOrderOfViews(t *testing.T) {
	if testing.Short() {
		t.Skip("two lists")
	}
	s := openScene(t, "tips_plate2", box{-9, 6, 7.5, 18, 0.2}, "L-L", "TL-L")
	want := s.list(t, s.views, 0)
	swapped := s.list(t, []View{s.views[1], s.views[0]}, 1)
	for i := range swapped { // only the order of views differs
		f := &swapped[i]
		slices.SortStableFunc(f.Indications, func(a, b Reference) int { return len(a.View) - len(b.View) })
		slices.SortFunc(f.Views, func(a, b string) int { return len(a) - len(b) })
	}
	if diff := cmp.Diff(want, swapped); diff != "" {
		t.Errorf("swapped views and 1 worker (-two views +swapped):\n%s", diff)
	}
	// Each indication is in exactly one entry.
	seen := map[[2]any]int{}
	for _, f := range want {
		for _, in := range f.Indications {
			seen[[2]any{in.View, in.ID}]++
		}
	}
	for _, v := range s.views {
		found := check.Must(sizing.Find(v.Image.Envelope(nil), &sizing.Options{Floor: -30}))
		for _, in := range found {
			if n := seen[[2]any{v.Name, in.ID}]; n != 1 {
				t.Errorf("indication %d of view %s is in %d entries, want 1", in.ID, v.Name, n)
			}
		}
	}
}

// TestOptions lists one plate with different options: entries keep their numbers.
func TestOptions(t *testing.T) {
	s := openScene(t, "tips_plate2", box{-9, 6, 7.5, 18, 0.2}, "L-L")
	list := func(o Options) []Flaw {
		o.Dimension = wedge.Section
		return check.Must(List(context.Background(), s.record.Capture, s.setup, s.views, &o))
	}
	want := list(Options{Floor: -24})

	t.Run("lower floor", func(t *testing.T) {
		got := list(Options{Floor: -30})
		if len(got) < len(want) {
			t.Fatalf("%d entries, want at least %d", len(got), len(want))
		}
		cut := 0
		for _, f := range got {
			complete := !slices.ContainsFunc(f.Indications, func(in Reference) bool { return !in.Complete })
			if f.Complete != complete {
				t.Errorf("entry %d: complete %v, indications %+v", f.ID, f.Complete, f.Indications)
			}
			if !complete {
				cut++
			}
		}
		if cut == 0 {
			t.Error("no entry at the edge of the picture, want at least 1")
		}
		for i, f := range want {
			if got[i].ID != f.ID || got[i].Kind != f.Kind || got[i].X != f.X || got[i].Z != f.Z {
				t.Errorf("entry %d is %s at (%v, %v), want %s at (%v, %v)", f.ID, got[i].Kind, got[i].X, got[i].Z, f.Kind, f.X, f.Z)
			}
		}
	})
	t.Run("known hole", func(t *testing.T) {
		h := s.record.Truth.Holes[0]
		known := ghost.Reflector{Name: "the drilled hole", Outline: wedge.Outline{{X: h.X, Y: h.Z}}, Radius: h.Diameter / 2}
		got := list(Options{Floor: -24, Known: []ghost.Reflector{known}})
		if got[0].Kind != Geometry || got[0].Explained != known.Name {
			t.Errorf("entry 1 is %s, explained by %q, want geometry by %q", got[0].Kind, got[0].Explained, known.Name)
		}
	})
	t.Run("weld and table", func(t *testing.T) {
		edge := joint.Edge{Upper: joint.Bevel{Angle: 15 * math.Pi / 180}}
		weld := check.Must(joint.Butt{Thickness: 25e-3, Gap: 2e-3, Left: edge, Right: edge}.Joint())
		table := &Table{Rows: []Row{{Name: "in the weld", Zones: []string{"weld metal"}}, {Name: "beside the weld"}}}
		got := list(Options{Floor: -24, Weld: weld, HeatAffected: 2e-3, Acceptance: table, LevelU: 1.5})
		for i, row := range []string{"beside the weld", "in the weld"} { // the hole at x = -7 mm, the slit in the middle
			if got[i].Outcome == nil || got[i].Outcome.Row != row {
				t.Errorf("entry %d: %+v, want row %q", i+1, got[i].Outcome, row)
			}
			if got[i].LevelU != 1.5 {
				t.Errorf("entry %d: uncertainty of the level %v dB, want 1.5", i+1, got[i].LevelU)
			}
		}
	})
	t.Run("inputs", func(t *testing.T) {
		inputs := exact()
		sure := list(Options{Floor: -24, Inputs: inputs})
		// 2 % of the speed move all depths by about 2 %, and lengths too.
		inputs.Parameters[uncertainty.LongitudinalSpeed] = uncertainty.Quantity{Uncertainty: 0.02 * s.setup.Part.Longitudinal}
		wrong := list(Options{Floor: -24, Inputs: inputs})
		slit, again := sure[1], wrong[1]
		check.Within(t, "length uncertainty with exact inputs, mm", slit.LengthU*1e3, want[1].LengthU*1e3, 0.15*want[1].LengthU*1e3)
		added := math.Sqrt(again.LengthU*again.LengthU - slit.LengthU*slit.LengthU)
		check.Within(t, "length uncertainty of the speed, mm", added*1e3, 1.96*0.02*slit.Length*1e3, 0.15)
		if len(again.Budgets) != 4 || len(wrong[0].Budgets) != 2 || want[0].Budgets != nil {
			t.Errorf("%d and %d budgets, want 4 and 2", len(again.Budgets), len(wrong[0].Budgets))
		}
		check.Within(t, "place uncertainty of the hole, mm", wrong[0].PlaceU*1e3, 1.96*0.02*wrong[0].Z*1e3, 0.15)
	})
	t.Run("given indications", func(t *testing.T) {
		found := check.Must(sizing.Find(s.views[0].Image.Envelope(nil), &sizing.Options{Floor: -24}))
		found = slices.Delete(found, 0, 1) // the caller leaves the hole out
		views := []View{{Name: "L-L", Image: s.views[0].Image, Indications: found}}
		got := check.Must(List(context.Background(), s.record.Capture, s.setup, views, &Options{Dimension: wedge.Section}))
		if len(got) != 1 || got[0].Kind != Planar || got[0].Indications[0].ID != 2 {
			t.Errorf("entries %+v, want the slit from indications 2 and 3", got)
		}
	})
	t.Run("no indications", func(t *testing.T) {
		views := []View{{Name: "L-L", Image: s.views[0].Image, Indications: []sizing.Indication{}}}
		got := check.Must(List(context.Background(), s.record.Capture, s.setup, views, &Options{Dimension: wedge.Section}))
		if len(got) != 0 {
			t.Errorf("%d entries, want none", len(got))
		}
	})
}

// exact returns inputs without any uncertainty.
func exact() *uncertainty.Inputs {
	none := map[uncertainty.Parameter]uncertainty.Quantity{}
	for _, q := range []uncertainty.Parameter{uncertainty.LongitudinalSpeed, uncertainty.TransverseSpeed, uncertainty.Thickness,
		uncertainty.ProbePosition, uncertainty.ElementSpacing, uncertainty.ElementPositions, uncertainty.TimeZero,
		uncertainty.CouplingSpeed, uncertainty.WedgeAngle, uncertainty.WedgeHeight} {
		none[q] = uncertainty.Quantity{}
	}
	return &uncertainty.Inputs{Parameters: none}
}

// TestHeightBudget reads a crack of 4.7 mm on the back wall. An error of the thickness moves the
// wall, and not the tip.
func TestHeightBudget(t *testing.T) {
	if testing.Short() {
		t.Skip("two views of a wedge")
	}
	crack := synth.Crack{From: r3.Vec{X: 19.66 * mm, Z: 11.3 * mm}, To: r3.Vec{X: 19.57 * mm, Z: 16 * mm}, Rooted: true}
	m := made{onWedge: true, reflectors: []reflector{{from: crack.From, to: crack.To, echo: crack}}}
	s := m.open(1)
	height := func(in *uncertainty.Inputs) Flaw {
		for _, f := range s.list(in) {
			if f.Method == FromTipAndWall {
				return f
			}
		}
		t.Fatal("no crack on the wall")
		return Flaw{}
	}
	sure, unsure := exact(), exact()
	unsure.Parameters[uncertainty.Thickness] = uncertainty.Quantity{Uncertainty: 0.1 * mm}
	a, b := height(sure), height(unsure)
	check.Within(t, "length, mm", a.Length/mm, 4.7, 0.3)
	added := math.Sqrt(b.LengthU*b.LengthU - a.LengthU*a.LengthU)
	check.Within(t, "uncertainty of the length by the thickness, mm", added/mm, 0.196, 0.005)
	if len(b.Budgets) != 3 {
		t.Errorf("%d budgets, want x, z and the height", len(b.Budgets))
	}
}

// given returns a view with one indication that the caller gives.
func given(v View, in sizing.Indication) View {
	v.Indications = []sizing.Indication{in}
	return v
}

func TestErrors(t *testing.T) {
	s := openScene(t, "block16", box{-1, 1, 15, 18, 0.5}, "L-L")
	ended, cancel := context.WithCancel(context.Background())
	cancel()
	noWall := *s.setup
	noWall.Back = nil
	edge := joint.Edge{Upper: joint.Bevel{Angle: 30 * math.Pi / 180}}
	weld := check.Must(joint.Butt{Thickness: 40e-3, Gap: 2e-3, Left: edge, Right: edge}.Joint())
	for _, c := range []struct {
		name    string
		ctx     context.Context
		setup   *wedge.Setup
		views   []View
		options Options
		want    string
	}{
		{"no set-up", nil, nil, s.views, Options{}, "no set-up"},
		{"no views", nil, s.setup, nil, Options{}, "no views"},
		{"view twice", nil, s.setup, []View{s.views[0], s.views[0]}, Options{}, "view L-L is given twice"},
		{"view without an image", nil, s.setup, []View{{Name: "L-L"}}, Options{}, "view L-L without an image"},
		{"indication without an ID", nil, s.setup, []View{given(s.views[0], sizing.Indication{Z: 16 * mm})}, Options{}, "indication 0 has the ID 0"},
		{"indication outside the image", nil, s.setup, []View{given(s.views[0], sizing.Indication{ID: 3})}, Options{}, "indication 3 at x = 0 m, z = 0 m"},
		{"indication without a place", nil, s.setup, []View{given(s.views[0], sizing.Indication{ID: 1, X: math.NaN(), Z: 16 * mm})}, Options{}, "x = NaN m"},
		{"name of a view", nil, s.setup, []View{{Name: "LL"}}, Options{}, "LL"},
		{"floor", nil, s.setup, s.views, Options{Floor: 1}, "floor 1 dB"},
		{"largest length", nil, s.setup, s.views, Options{MaxLength: math.Inf(1)}, "largest length +Inf m"},
		{"heat-affected zone", nil, s.setup, s.views, Options{HeatAffected: -1}, "heat-affected zone -1 m"},
		{"levels", nil, s.setup, s.views, Options{LevelU: math.NaN()}, "levels NaN dB"},
		{"workers", nil, s.setup, s.views, Options{Workers: -1}, "-1"},
		{"table", nil, s.setup, s.views, Options{Acceptance: &Table{Rows: []Row{{}}}}, "row 0"},
		{"known without a name", nil, s.setup, s.views, Options{Known: []ghost.Reflector{{}}}, "reflector"},
		{"weld without a wall", nil, &noWall, s.views, Options{Weld: weld}, "far surface"},
		{"missing inputs", nil, s.setup, s.views, Options{Inputs: &uncertainty.Inputs{}}, "speed"},
		{"ended", ended, s.setup, s.views, Options{}, "canceled"},
	} {
		t.Run(c.name, func(t *testing.T) {
			ctx := c.ctx
			if ctx == nil {
				ctx = context.Background()
			}
			flaws, err := List(ctx, s.record.Capture, c.setup, c.views, &c.options)
			check.Error(t, err, c.want)
			if flaws != nil {
				t.Errorf("%d entries with an error", len(flaws))
			}
		})
	}
	_, err := List(context.Background(), nil, s.setup, s.views, nil)
	check.Error(t, err, "no capture")
}

// spot returns a sighting with a spot of the given size.
func spot(v *view, x, z, length, width, tilt float64) *sighting {
	return &sighting{Indication: sizing.Indication{X: x, Z: z, Length: length, Width: width, Tilt: tilt}, view: v}
}

// TestGroup groups spots of three views by hand.
func TestGroup(t *testing.T) {
	a, b, c := &view{step: 1e-4, length: 1e-3}, &view{step: 1e-4, length: 1e-3}, &view{step: 1e-4, length: 1e-3}
	one := spot(a, 0, 10*mm, 2*mm, 1*mm, math.Pi/2) // long along x
	near := spot(b, 0.9*mm, 10*mm, 1*mm, 1*mm, 0)
	closer := spot(b, 0.1*mm, 10*mm, 1*mm, 1*mm, 0)
	third := spot(c, 0, 10.9*mm, 1*mm, 1*mm, 0)
	far := spot(c, 0, 12*mm, 1*mm, 1*mm, 0)
	for _, row := range []struct {
		name   string
		spots  []*sighting
		groups []int // sizes, in any order
	}{
		{"ellipses meet along the long axis", []*sighting{one, near}, []int{2}},
		{"and along the short axis", []*sighting{one, third}, []int{2}},
		{"but not beyond", []*sighting{one, far}, []int{1, 1}},
		{"one spot of each view, the closest one", []*sighting{one, near, closer}, []int{1, 2}},
		{"three views", []*sighting{one, closer, third}, []int{3}},
		{"one view", []*sighting{near, closer}, []int{1, 1}},
	} {
		t.Run(row.name, func(t *testing.T) {
			for range 2 {
				var got []int
				for _, g := range group(row.spots) {
					got = append(got, len(g))
					if len(g) == 2 && slices.Contains(row.spots, closer) && slices.Contains(row.spots, near) && !slices.Contains(g, closer) {
						t.Error("the closest spot is not in the group")
					}
				}
				slices.Sort(got)
				if diff := cmp.Diff(row.groups, got); diff != "" {
					t.Errorf("sizes of groups (-want +got):\n%s", diff)
				}
				slices.Reverse(row.spots)
			}
		})
	}
}

// TestPlace joins a spot that knows x with a spot that knows z.
func TestPlace(t *testing.T) {
	v := &view{step: 1e-9, length: 1e-3}
	upright := spot(v, 1e-3, 10e-3, 20e-3, 0.1e-3, 0)
	lying := spot(v, 3e-3, 12e-3, 20e-3, 0.1e-3, math.Pi/2)
	p := upright.place().join(lying.place())
	check.Within(t, "x, mm", p.x*1e3, 1, 1e-3)
	check.Within(t, "z, mm", p.z*1e3, 12, 1e-3)
	check.Within(t, "largest uncertainty of one, mm", upright.place().worst()*1e3, 2, 1e-6)
	check.Within(t, "largest uncertainty of both, mm", p.worst()*1e3, 0.01, 1e-4)
	check.Within(t, "half along x, mm", upright.half(1, 0)*1e3, 0.05, 1e-9)
	check.Within(t, "half along z, mm", upright.half(0, 1)*1e3, 10, 1e-9)
}
