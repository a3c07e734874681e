// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
)

// boxes returns flaws with extents x0, x1, z0, z1 in mm.
func boxes(extents ...[4]float64) (out []Flaw) {
	for i, e := range extents {
		out = append(out, Flaw{ID: i + 1, ExtentX: [2]float64{e[0], e[1]}, ExtentZ: [2]float64{e[2], e[3]}})
	}
	return out
}

func TestInteract(t *testing.T) {
	for _, c := range []struct {
		name  string
		flaws []Flaw
		rule  Rule
		want  [][]int
	}{
		{"none", nil, Rule{}, nil},
		{"overlap", boxes([4]float64{0, 2, 0, 2}, [4]float64{1, 3, 1, 3}), Rule{}, [][]int{{1, 2}}},
		{"touch", boxes([4]float64{0, 2, 0, 2}, [4]float64{2, 3, 0, 2}), Rule{}, [][]int{{1, 2}}},
		{"one axis is not enough", boxes([4]float64{0, 2, 0, 2}, [4]float64{3, 5, 4, 5}), Rule{X: Gap{Distance: 1}}, [][]int{{1}, {2}}},
		{"gap along x", boxes([4]float64{0, 2, 0, 2}, [4]float64{3, 5, 0, 2}), Rule{X: Gap{Distance: 1}}, [][]int{{1, 2}}},
		{"gap along z", boxes([4]float64{0, 2, 0, 2}, [4]float64{0, 2, 3, 5}), Rule{Z: Gap{Distance: 1}}, [][]int{{1, 2}}},
		{"the other direction", boxes([4]float64{3, 5, 3, 5}, [4]float64{0, 2, 0, 2}), Rule{X: Gap{Distance: 1}, Z: Gap{Distance: 1}}, [][]int{{1, 2}}},
		{"a gap too large", boxes([4]float64{0, 2, 0, 2}, [4]float64{3.1, 5, 0, 2}), Rule{X: Gap{Distance: 1}}, [][]int{{1}, {2}}},
		{"once the shorter one", boxes([4]float64{0, 2, 0, 2}, [4]float64{3, 4, 0, 2}), Rule{X: Gap{Shorter: 1}}, [][]int{{1, 2}}},
		{"not once the shorter one", boxes([4]float64{0, 2, 0, 2}, [4]float64{3.5, 4.5, 0, 2}), Rule{X: Gap{Shorter: 1}}, [][]int{{1}, {2}}},
		{"once the longer one", boxes([4]float64{0, 2, 0, 2}, [4]float64{3.5, 4.5, 0, 2}), Rule{X: Gap{Longer: 1}}, [][]int{{1, 2}}},
		{"a chain", boxes([4]float64{0, 1, 0, 1}, [4]float64{9, 10, 0, 1}, [4]float64{4, 5, 0, 1}, [4]float64{2, 3, 0, 1}, [4]float64{6, 7, 0, 1}),
			Rule{X: Gap{Distance: 1}}, [][]int{{1, 3, 4, 5}, {2}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			groups := check.Must(Interact(c.flaws, c.rule))
			var got [][]int
			for _, g := range groups {
				got = append(got, g.IDs)
				for _, id := range g.IDs {
					f := c.flaws[id-1]
					if f.ExtentX[0] < g.ExtentX[0] || f.ExtentX[1] > g.ExtentX[1] || f.ExtentZ[0] < g.ExtentZ[0] || f.ExtentZ[1] > g.ExtentZ[1] {
						t.Errorf("group %+v does not hold entry %d", g, id)
					}
				}
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Errorf("groups (-want +got):\n%s", diff)
			}
			// The groups do not depend on the order of the entries.
			reversed := slices.Clone(c.flaws)
			slices.Reverse(reversed)
			if again := check.Must(Interact(reversed, c.rule)); len(again) != len(groups) {
				t.Errorf("%d groups in the reverse order, want %d", len(again), len(groups))
			}
		})
	}
}

// TestInteractAlong checks the rule along the scan.
func TestInteractAlong(t *testing.T) {
	box := [4]float64{0, 2, 0, 2}
	flaws := boxes(box, box, box, box)
	for i, s := range [][2]float64{{0, 10}, {13, 20}, {24, 25}} {
		flaws[i].Along = &Along{From: s[0], To: s[1]}
	}
	for _, c := range []struct {
		name  string
		flaws []Flaw
		gap   Gap
		want  [][]int
	}{
		{"apart", flaws[:3], Gap{}, [][]int{{1}, {2}, {3}}},
		{"3 m", flaws[:3], Gap{Distance: 3}, [][]int{{1, 2}, {3}}},
		{"the shorter one", flaws[:3], Gap{Shorter: 1}, [][]int{{1, 2}, {3}}},
		{"the longer one", flaws[:3], Gap{Longer: 1}, [][]int{{1, 2, 3}}},
		{"an entry anywhere along the scan", flaws, Gap{}, [][]int{{1, 2, 3, 4}}},
	} {
		var got [][]int
		for _, g := range check.Must(Interact(c.flaws, Rule{S: c.gap})) {
			got = append(got, g.IDs)
			if last := c.flaws[g.IDs[len(g.IDs)-1]-1].Along; g.ExtentS == nil || last != nil && g.ExtentS[1] != last.To {
				t.Errorf("%s: group %v along the scan %v", c.name, g.IDs, g.ExtentS)
			}
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s: groups (-want +got):\n%s", c.name, diff)
		}
	}
	flaws[1].Along = &Along{From: math.NaN()}
	if _, err := Interact(flaws, Rule{}); err == nil || !strings.Contains(err.Error(), "entry 2 from NaN") {
		t.Errorf("error %v, want one that names the entry", err)
	}
}

func TestInteractErrors(t *testing.T) {
	for _, c := range []struct {
		name string
		rule Rule
		want string
	}{
		{"negative distance", Rule{X: Gap{Distance: -1}}, "gap along x {Distance:-1"},
		{"along the scan", Rule{S: Gap{Longer: -1}}, "gap along s"},
		{"infinite", Rule{Z: Gap{Longer: math.Inf(1)}}, "gap along z"},
		{"not a number", Rule{Z: Gap{Shorter: math.NaN()}}, "gap along z"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Interact(nil, c.rule)
			check.Error(t, err, c.want)
		})
	}
}

// TestInteractExtents checks that an entry without finite extents is refused. Such an entry would
// interact with no other one.
func TestInteractExtents(t *testing.T) {
	for _, bad := range []Flaw{{ID: 2, ExtentX: [2]float64{math.NaN(), 1e-3}}, {ID: 2, ExtentZ: [2]float64{0, math.Inf(1)}}} {
		_, err := Interact([]Flaw{{ID: 1}, bad}, Rule{})
		if err == nil || !strings.Contains(err.Error(), "extents of entry 2") {
			t.Errorf("entry %+v: error %v, want one that names entry 2", bad, err)
		}
	}
}
