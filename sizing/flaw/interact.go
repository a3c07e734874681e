// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Rule says when two entries interact, so that they count as one. The gap between their extents
// must be small enough along x, along z and along the scan. The written procedure sets the rule.
// The zero value joins entries whose extents overlap or touch.
type Rule struct {
	X, Z Gap
	// S is the gap along the scan ([Flaw].Along). It counts between entries that both have a place
	// along the scan. Another entry may lie anywhere along it.
	S Gap
}

// Gap is the largest gap along one axis at which two entries interact, in either direction. The
// largest of the three values counts. All values are finite and at least 0.
type Gap struct {
	Distance float64 // m
	Shorter  float64 // times the smaller extent of the two entries along the axis
	Longer   float64 // times the larger extent
}

// Group is a number of entries that count as one.
type Group struct {
	IDs     []int      `json:"ids"`        // of the entries, in the order of the list
	ExtentX [2]float64 `json:"extent_x_m"` // of all entries together, lower end first, m
	ExtentZ [2]float64 `json:"extent_z_m"` // of all entries together, lower end first, m
	// ExtentS is the extent along the scan in m, of the entries that have one. Nil means that none
	// has.
	ExtentS *[2]float64 `json:"extent_s_m,omitempty"`
}

// Interact returns the groups of entries that interact, in the order of their first entries. Each
// entry is in one group. Entries that interact with a third entry are in one group too. The extents
// of the single entries count, not the extents of the group. Leave out the entries that do not
// count, such as geometry. The error names the gap or the entry that is out of range.
func Interact(flaws []Flaw, rule Rule) ([]Group, error) {
	for _, g := range [...]struct {
		axis string
		gap  Gap
	}{{"x", rule.X}, {"z", rule.Z}, {"s", rule.S}} {
		for _, value := range [...]float64{g.gap.Distance, g.gap.Shorter, g.gap.Longer} {
			if !(value >= 0) || math.IsInf(value, 0) {
				return nil, fmt.Errorf("flaw: gap along %s %+v: want finite values, at least 0", g.axis, g.gap)
			}
		}
	}
	for _, f := range flaws {
		for _, end := range [...]float64{f.ExtentX[0], f.ExtentX[1], f.ExtentZ[0], f.ExtentZ[1]} {
			if !number.Finite(end) {
				return nil, fmt.Errorf("flaw: extents of entry %d, x %v m and z %v m: want finite values", f.ID, f.ExtentX, f.ExtentZ)
			}
		}
		if a := f.Along; a != nil && !(number.Finite(a.From) && number.Finite(a.To)) {
			return nil, fmt.Errorf("flaw: entry %d from %v to %v m along the scan: want finite values", f.ID, a.From, a.To)
		}
	}
	in := make([]int, len(flaws)) // the first entry of the group of each entry
	for i := range flaws {
		in[i] = i
		for j := range i {
			if rule.joins(&flaws[i], &flaws[j]) {
				unite(in[:i+1], in[i], in[j])
			}
		}
	}
	var groups []Group
	at := map[int]int{} // from the first entry to its group
	for i, f := range flaws {
		k, ok := at[in[i]]
		if !ok {
			k = len(groups)
			at[in[i]] = k
			groups = append(groups, Group{ExtentX: f.ExtentX, ExtentZ: f.ExtentZ})
		}
		g := &groups[k]
		g.IDs = append(g.IDs, f.ID)
		if a := f.Along; a != nil {
			extent := [2]float64{a.From, a.To}
			if g.ExtentS != nil {
				extent = hull(*g.ExtentS, extent)
			}
			g.ExtentS = &extent
		}
		g.ExtentX, g.ExtentZ = hull(g.ExtentX, f.ExtentX), hull(g.ExtentZ, f.ExtentZ)
	}
	return groups, nil
}

// unite gives two groups the smaller of their numbers.
func unite(in []int, a, b int) {
	for k := range in {
		if in[k] == a || in[k] == b {
			in[k] = min(a, b)
		}
	}
}

// joins reports whether two entries interact.
func (r Rule) joins(a, b *Flaw) bool {
	if !r.X.bridges(a.ExtentX, b.ExtentX) || !r.Z.bridges(a.ExtentZ, b.ExtentZ) {
		return false
	}
	if a.Along == nil || b.Along == nil {
		return true
	}
	return r.S.bridges([2]float64{a.Along.From, a.Along.To}, [2]float64{b.Along.From, b.Along.To})
}

// bridges reports whether the gap between two extents is small enough.
func (g Gap) bridges(a, b [2]float64) bool {
	gap := max(a[0], b[0]) - min(a[1], b[1])
	one, two := a[1]-a[0], b[1]-b[0]
	return gap <= max(g.Distance, g.Shorter*min(one, two), g.Longer*max(one, two), 0)
}

// hull returns the extent that holds two extents.
func hull(a, b [2]float64) [2]float64 { return [2]float64{min(a[0], b[0]), max(a[1], b[1])} }
