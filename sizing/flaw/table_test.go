// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/tips"
)

// invented is a table with all conditions. Its limits are invented. crisp states it once more.
var invented = Table{Rows: []Row{
	{Name: "geometry", Kinds: []Kind{Geometry}},
	{Name: "near a surface", Kinds: []Kind{Planar}, Ligament: &Range{Most: new(1e-3)}},
	{Name: "high", Kinds: []Kind{Planar}, Height: &Range{Least: new(3e-3)}},
	{Name: "strong", Kinds: []Kind{Point}, LevelDB: &Range{Least: new(-6.0)}, Depth: &Range{Least: new(5e-3), Most: new(20e-3)}},
	{Name: "in the weld", Zones: []string{"weld metal"}, Length: &Range{Least: new(2e-3)}},
	{Name: "short", Length: &Range{Most: new(2e-3)}},
}}

// truth is a flaw without any uncertainty.
type truth struct {
	kind                                    Kind
	zone                                    string
	length, height, depth, ligament, levels float64
}

// crisp returns the row of invented that a truth meets.
func crisp(t truth) string {
	switch {
	case t.kind == Geometry:
		return "geometry"
	case t.kind == Planar && t.ligament <= 1e-3:
		return "near a surface"
	case t.kind == Planar && t.height >= 3e-3:
		return "high"
	case t.kind == Point && t.levels >= -6 && t.depth >= 5e-3 && t.depth <= 20e-3:
		return "strong"
	case t.zone == "weld metal" && t.length >= 2e-3:
		return "in the weld"
	case t.length <= 2e-3:
		return "short"
	}
	return ""
}

// possible returns values of an interval: its ends, and the limits with their neighbours.
func possible(least, most float64, limits ...float64) []float64 {
	out := []float64{max(least, -1e3), min(most, 1e3)}
	for _, l := range limits {
		for _, v := range []float64{math.Nextafter(l, -1e3), l, math.Nextafter(l, 1e3)} {
			if v > least && v < most {
				out = append(out, v)
			}
		}
	}
	return out
}

// rows returns the rows of all truths that the readings of a flaw allow. It states the meaning of
// the readings once more.
func rows(f Flaw) (out []string) {
	kinds := []Kind{f.Kind}
	if f.Kind == Unknown {
		kinds = []Kind{Planar, Point, Geometry}
	}
	zones := []string{"weld metal", "parent metal"}
	if f.Weld != nil {
		zones = []string{f.Weld.Zone}
	}
	longest := 0.0
	if f.LengthIs == tips.LowerBound || f.Kind == Unknown || !f.Complete {
		longest = math.Inf(1)
	}
	shortest := 1.0
	if f.LengthIs == tips.Unresolved {
		shortest = 0
	}
	nearest := f.Ligament - f.PlaceU
	if longest > 0 {
		nearest = -1
	}
	loudest := f.LevelDB + f.LevelU
	if !f.Complete {
		loudest = 200
	}
	for _, kind := range kinds {
		for _, zone := range zones {
			for _, length := range possible(max(0, f.Length-f.LengthU)*shortest, f.Length+f.LengthU+longest, 2e-3) {
				for _, height := range possible(max(0, f.Height-f.LengthU)*shortest, f.Height+f.LengthU+longest, 3e-3) {
					for _, depth := range possible(f.Depth-f.PlaceU, f.Depth+f.PlaceU, 5e-3, 20e-3) {
						for _, ligament := range possible(nearest, f.Ligament+f.PlaceU, 1e-3) {
							for _, levels := range possible(f.LevelDB-f.LevelU, loudest, -6) {
								row := crisp(truth{kind, zone, length, height, depth, ligament, levels})
								if !slices.Contains(out, row) {
									out = append(out, row)
								}
							}
						}
					}
				}
			}
		}
	}
	return out
}

// TestDecisions judges 100 random readings near the limits. All truths within the uncertainties are
// tried: the outcome is a row exactly if all of them meet this row first.
func TestDecisions(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	decided := map[string]int{}
	for i := range 100 {
		pick := func(values ...float64) float64 { return values[r.IntN(len(values))] }
		f := Flaw{
			Kind:     []Kind{Planar, Planar, Point, Point, Geometry, Unknown}[r.IntN(6)],
			LengthIs: []tips.Reading{tips.Measured, tips.Measured, tips.LowerBound, tips.Unresolved}[r.IntN(4)],
			Length:   pick(0.5e-3, 1.7e-3, 2e-3, 2.2e-3, 5e-3), LengthU: pick(0, 0.1e-3, 0.25e-3, 1e-3),
			Height: pick(0.3e-3, 2.8e-3, 3e-3, 3.2e-3, 6e-3), PlaceU: pick(0, 0.1e-3, 0.3e-3),
			Depth: pick(2e-3, 4.9e-3, 5e-3, 10e-3, 20.2e-3), Ligament: pick(0.5e-3, 0.95e-3, 1e-3, 1.2e-3, 4e-3),
			LevelDB: pick(-20, -6.5, -6, -5.5, 0), LevelU: pick(0, 0.2, 1), Complete: r.IntN(4) > 0,
		}
		if zone := r.IntN(3); zone > 0 {
			f.Weld = &sizing.WeldPlace{Zone: []string{"weld metal", "parent metal"}[zone-1]}
		}
		got, want := invented.Judge(f), rows(f)
		decided[got.Row]++
		if len(want) == 1 {
			if got.Undecided || got.Row != want[0] {
				t.Errorf("case %d: %+v, want row %q, for %+v", i, got, want[0], f)
			}
			if got.Row == "" && got.Reason == "" {
				t.Errorf("case %d: no row without a reason", i)
			}
			continue
		}
		if !got.Undecided || got.Row != "" || got.Reason == "" {
			t.Errorf("case %d: %+v, want undecided between %q, for %+v", i, got, want, f)
		}
	}
	if len(decided) < 6 {
		t.Errorf("rows of the cases: %v, want at least 6", decided)
	}
}

// TestJudge has one case of each rule.
func TestJudge(t *testing.T) {
	measured := Flaw{Kind: Planar, Length: 5e-3, LengthU: 0.2e-3, LengthIs: tips.Measured, Height: 4e-3, Ligament: 3e-3, Complete: true}
	for _, c := range []struct {
		name   string
		row    Row
		change func(*Flaw)
		want   string // the start of the reason; "row" for a row that is met, "" for one that is not
	}{
		{"no condition", Row{}, nil, "row"},
		{"both limits included", Row{Length: &Range{new(4.8e-3), new(5.2e-3)}}, nil, "row"},
		{"straddles the least", Row{Length: &Range{new(5e-3), nil}}, nil, "the length is 0.0048 to 0.0052 m, and the limit is 0.005 m"},
		{"straddles the most", Row{Length: &Range{nil, new(5e-3)}}, nil, "the length is 0.0048 to 0.0052 m, and the limit is 0.005 m"},
		{"certainly shorter", Row{Length: &Range{new(6e-3), nil}}, nil, ""},
		{"certainly longer", Row{Length: &Range{nil, new(4e-3)}}, nil, ""},
		{"a certain no beats an open condition", Row{Kinds: []Kind{Point}, Length: &Range{nil, new(5e-3)}}, nil, ""},
		{"a lower bound has no greatest value", Row{Length: &Range{nil, new(9.0)}},
			func(f *Flaw) { f.LengthIs = tips.LowerBound }, "the length is 0.0048 to +Inf m"},
		{"a cut picture has no greatest value", Row{Height: &Range{nil, new(9.0)}},
			func(f *Flaw) { f.Complete = false }, "the height is 0.0038 to +Inf m"},
		{"a lower bound may reach the surface", Row{Ligament: &Range{new(1e-3), nil}},
			func(f *Flaw) { f.LengthIs = tips.LowerBound }, "the ligament is -Inf to 0.003 m"},
		{"an unresolved length has no least value", Row{Length: &Range{new(1e-3), nil}},
			func(f *Flaw) { f.Kind, f.LengthIs = Point, tips.Unresolved }, "the length is 0 to 0.0052 m"},
		{"one tip shows, and the flaw may end anywhere", Row{Length: &Range{nil, new(9.0)}},
			func(f *Flaw) { f.Method, f.LengthIs = NoMethod, tips.Unresolved }, "the length is 0 to +Inf m"},
		{"an unknown kind may be planar", Row{Kinds: []Kind{Planar}}, func(f *Flaw) { f.Kind = Unknown }, "the kind is unknown"},
		{"an unknown kind that is asked for", Row{Kinds: []Kind{Unknown}}, func(f *Flaw) { f.Kind = Unknown }, "row"},
		{"an unknown kind is one of all", Row{Kinds: []Kind{Planar, Point, Geometry}}, func(f *Flaw) { f.Kind = Unknown }, "row"},
		{"no weld", Row{Zones: []string{"weld metal"}}, nil, "the zone is unknown"},
		{"a reading that is not a number", Row{LevelDB: &Range{new(-6.0), nil}}, func(f *Flaw) { f.LevelDB = math.NaN() }, "the level is not known"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := measured
			if c.change != nil {
				c.change(&f)
			}
			c.row.Name = "row"
			table := Table{Rows: []Row{c.row}}
			if err := table.Validate(); err != nil {
				t.Fatal(err)
			}
			got := table.Judge(f)
			switch c.want {
			case "row":
				if got != (Outcome{Row: "row"}) {
					t.Errorf("%+v, want the row", got)
				}
			case "":
				if got.Row != "" || got.Undecided {
					t.Errorf("%+v, want no row", got)
				}
			default:
				if want := `row "row": ` + c.want; !got.Undecided || len(got.Reason) < len(want) || got.Reason[:len(want)] != want {
					t.Errorf("%+v, want undecided: %s", got, want)
				}
			}
		})
	}
}

func TestValidate(t *testing.T) {
	if err := invented.Validate(); err != nil {
		t.Error(err)
	}
	for _, c := range []struct {
		name string
		rows []Row
		want string
	}{
		{"no name", []Row{{}}, "row 0 of the acceptance table without a name"},
		{"a name twice", []Row{{Name: "a"}, {Name: "a"}}, `row "a" of the acceptance table is given twice`},
		{"a kind that does not exist", []Row{{Name: "a", Kinds: []Kind{"crack"}}}, `kind "crack" in row "a"`},
		{"limits in the wrong order", []Row{{Name: "a", Depth: &Range{new(2.0), new(1.0)}}}, `depth in row "a": least value 2`},
		{"infinite", []Row{{Name: "a", LevelDB: &Range{new(math.Inf(-1)), nil}}}, "least value -Inf"},
		{"not a number", []Row{{Name: "a", Height: &Range{nil, new(math.NaN())}}}, "greatest value NaN"},
	} {
		t.Run(c.name, func(t *testing.T) {
			check.Error(t, (&Table{Rows: c.rows}).Validate(), c.want)
		})
	}
}

// TestOrder judges a flaw that meets both rows: the first one counts.
func TestOrder(t *testing.T) {
	f := Flaw{Kind: Point, LengthIs: tips.Measured, Complete: true}
	for _, names := range [][2]string{{"a", "b"}, {"b", "a"}} {
		table := Table{Rows: []Row{{Name: names[0]}, {Name: names[1]}}}
		if got := table.Judge(f).Row; got != names[0] {
			t.Errorf("row %q, want %q", got, names[0])
		}
	}
}
