// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"strings"
)

// A Crystal is an anisotropic solid with published constants: a single crystal, or a weld metal
// whose columnar grains all have one orientation.
type Crystal struct {
	Name   string // as in the documentation of [FindCrystal]
	Medium Anisotropic

	// Source is the publication of the stiffness. Where Source says "from memory", compare the
	// constants with the publication before use. Densities are nominal handbook values unless
	// Source says otherwise.
	Source string
}

// princetonCubic is the source of several rows.
const princetonCubic = "Princeton University, course notes MAE 324, lecture 6, " +
	"table of cubic stiffnesses"

// crystals are the published solids. Densities are in kg/m³ and stiffnesses in Pa. The axes are the
// axes of the crystal; in the weld metal, z is along the columns.
var crystals = []Crystal{
	{"aluminium",
		Anisotropic{2700, Cubic{C11: 108.2e9, C12: 61.3e9, C44: 28.5e9}.Stiffness()},
		princetonCubic},
	{"iron",
		Anisotropic{7870, Cubic{C11: 237e9, C12: 141e9, C44: 116e9}.Stiffness()},
		princetonCubic},
	{"nickel",
		Anisotropic{8908, Cubic{C11: 246.5e9, C12: 147.3e9, C44: 124.7e9}.Stiffness()},
		princetonCubic},
	{"copper",
		Anisotropic{8960, Cubic{C11: 168.4e9, C12: 121.4e9, C44: 75.4e9}.Stiffness()},
		"from memory of Overton and Gaffney, Phys. Rev. 98 (1955) 969"},
	{"gallium arsenide",
		Anisotropic{5307, Cubic{C11: 118.8e9, C12: 53.8e9, C44: 59.4e9}.Stiffness()},
		"Jaeken and Cottenier, Comput. Phys. Commun. 207 (2016) 445, " +
			"companion data with the density"},
	{"austenitic steel Fe-18Cr-8Ni",
		Anisotropic{7860, Cubic{C11: 204.6e9, C12: 137.7e9, C44: 126.2e9}.Stiffness()},
		"from memory of Ledbetter"},

	{"magnesium",
		Anisotropic{1738, TransverselyIsotropic{
			C11: 59.40e9, C12: 25.61e9, C13: 21.44e9, C33: 61.60e9, C44: 16.40e9}.Stiffness()},
		"Slutsky and Garland, Phys. Rev. 107 (1957) 972"},
	{"zinc",
		Anisotropic{7134, TransverselyIsotropic{
			C11: 161e9, C12: 34.2e9, C13: 50.1e9, C33: 61.0e9, C44: 38.3e9}.Stiffness()},
		"from memory, handbook values repeated widely"},
	{"weld metal X6CrNi18-11",
		Anisotropic{7820, TransverselyIsotropic{
			C11: 241.1e9, C12: 96.91e9, C13: 138.03e9, C33: 240.12e9, C44: 112.29e9}.Stiffness()},
		"from memory of Spies, columnar grains; density of the same source"},

	{"stishovite",
		Anisotropic{4290, Orthotropic{
			C11: 453e9, C22: 453e9, C33: 776e9, C12: 211e9, C13: 203e9, C23: 203e9,
			C44: 252e9, C55: 252e9, C66: 302e9}.Stiffness()},
		"Weidner et al., J. Geophys. Res. 87 (1982) 4740, with the density; tetragonal"},
	{"olivine",
		Anisotropic{3355, Orthotropic{
			C11: 320.5e9, C22: 196.5e9, C33: 233.5e9, C12: 68.1e9, C13: 71.6e9, C23: 76.8e9,
			C44: 64e9, C55: 77e9, C66: 78.7e9}.Stiffness()},
		"Abramson et al., J. Geophys. Res. 102 (1997) 12253, with the density; orthorhombic"},
}

// FindCrystal returns the published solid of the given name. The names are
//
//	cubic                   aluminium, iron, nickel, copper, gallium arsenide,
//	                        austenitic steel Fe-18Cr-8Ni
//	transversely isotropic  magnesium, zinc, weld metal X6CrNi18-11
//	tetragonal              stishovite
//	orthorhombic            olivine
//
// The error of any other name lists these names. The last two solids are minerals: no probe is used
// on them, but their wave speeds are published, and a program can be compared with those speeds.
//
// The stiffness of a real metal varies with alloy, temperature and texture. The stiffness of a weld
// varies from pass to pass: measure it on a specimen of the procedure before a decision depends on
// it.
func FindCrystal(name string) (Crystal, error) {
	var names []string
	for _, c := range crystals {
		if c.Name == name {
			return c, nil
		}
		names = append(names, c.Name)
	}
	return Crystal{}, fmt.Errorf("material: crystal %q: want one of %s",
		name, strings.Join(names, ", "))
}
