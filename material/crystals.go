// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import "slices"

// A Crystal is an anisotropic solid whose constants have been published: a
// single crystal, or a weld metal whose columnar grains act as one.
type Crystal struct {
	Name   string // unique; see [Crystals]
	Medium Anisotropic

	// Source tells where the stiffness comes from; where it says "from memory",
	// compare with the source named before relying on the constants. Densities
	// are nominal handbook values unless it says otherwise.
	Source string
}

// crystalForm is one of the symmetries that write out a stiffness.
type crystalForm interface{ Stiffness() Stiffness }

// crystalTable is the data: kg/m³ and Pa. Axes are those of the crystal, for a
// weld metal with z along the columns.
var crystalTable = []struct {
	name    string
	density float64
	form    crystalForm
	source  string
}{
	{"aluminium", 2700, Cubic{C11: 108.2e9, C12: 61.3e9, C44: 28.5e9}, "Princeton University, course notes MAE 324, lecture 6, table of cubic stiffnesses"},
	{"iron", 7870, Cubic{C11: 237e9, C12: 141e9, C44: 116e9}, "Princeton University, course notes MAE 324, lecture 6, table of cubic stiffnesses"},
	{"nickel", 8908, Cubic{C11: 246.5e9, C12: 147.3e9, C44: 124.7e9}, "Princeton University, course notes MAE 324, lecture 6, table of cubic stiffnesses"},
	{"copper", 8960, Cubic{C11: 168.4e9, C12: 121.4e9, C44: 75.4e9}, "from memory of Overton and Gaffney, Phys. Rev. 98 (1955) 969"},
	{"gallium arsenide", 5307, Cubic{C11: 118.8e9, C12: 53.8e9, C44: 59.4e9}, "Jaeken and Cottenier, Comput. Phys. Commun. 207 (2016) 445, companion data with the density"},
	{"austenitic steel Fe-18Cr-8Ni", 7860, Cubic{C11: 204.6e9, C12: 137.7e9, C44: 126.2e9}, "from memory of Ledbetter"},

	{"magnesium", 1738, TransverselyIsotropic{C11: 59.40e9, C12: 25.61e9, C13: 21.44e9, C33: 61.60e9, C44: 16.40e9}, "Slutsky and Garland, Phys. Rev. 107 (1957) 972"},
	{"zinc", 7134, TransverselyIsotropic{C11: 161e9, C12: 34.2e9, C13: 50.1e9, C33: 61.0e9, C44: 38.3e9}, "from memory, handbook values repeated widely"},
	{"weld metal X6CrNi18-11", 7820, TransverselyIsotropic{C11: 241.1e9, C12: 96.91e9, C13: 138.03e9, C33: 240.12e9, C44: 112.29e9}, "from memory of Spies, columnar grains; density of the same source"},

	{"stishovite", 4290, Orthotropic{C11: 453e9, C22: 453e9, C33: 776e9, C12: 211e9, C13: 203e9, C23: 203e9, C44: 252e9, C55: 252e9, C66: 302e9}, "Weidner et al., J. Geophys. Res. 87 (1982) 4740, with the density; tetragonal"},
	{"olivine", 3355, Orthotropic{C11: 320.5e9, C22: 196.5e9, C33: 233.5e9, C12: 68.1e9, C13: 71.6e9, C23: 76.8e9, C44: 64e9, C55: 77e9, C66: 78.7e9}, "Abramson et al., J. Geophys. Res. 102 (1997) 12253, with the density; orthorhombic"},
}

// Crystals returns all published solids, in the order of their symmetry. The
// slice is the caller's own. Their names are
//
//	cubic                   aluminium, iron, nickel, copper, gallium arsenide,
//	                        austenitic steel Fe-18Cr-8Ni
//	transversely isotropic  magnesium, zinc, weld metal X6CrNi18-11
//	tetragonal              stishovite
//	orthorhombic            olivine
//
// The last two are minerals: no probe fires into them, but their published wave
// speeds are those that a program can be checked against.
//
// The stiffness of real metals varies with alloy, temperature and texture. That
// of a weld varies from pass to pass; confirm it on a specimen of the procedure
// before any decision hangs on it.
func Crystals() []Crystal {
	out := make([]Crystal, len(crystalTable))
	for i, row := range crystalTable {
		out[i] = Crystal{row.name, Anisotropic{row.density, row.form.Stiffness()}, row.source}
	}
	return out
}

// FindCrystal returns the solid of the given name, written as [Crystals] lists
// it, and whether there is one.
func FindCrystal(name string) (Crystal, bool) {
	all := Crystals()
	i := slices.IndexFunc(all, func(c Crystal) bool { return c.Name == name })
	if i < 0 {
		return Crystal{}, false
	}
	return all[i], true
}
