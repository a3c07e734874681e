// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import "strings"

// A work is a source. The source of a check begins with the name of a work, up to the first comma
// or semicolon.
type work struct {
	Name, Citation string
}

// works are all sources, in alphabetical order.
var works = []work{
	{"ASTM E494", "ASTM E494, Standard Practice for Measuring Ultrasonic Velocity in Materials"},
	{"Bilaniuk 1993", "N. Bilaniuk and G. S. K. Wong, J. Acoust. Soc. Am. 93 (1993) 1609, erratum 99 (1996) 3257"},
	{"Bullen 1963", "K. E. Bullen, An Introduction to the Theory of Seismology, 3rd ed. 1963 (from memory)"},
	{"CIJ.jl", "the test suite of CIJ.jl, a general library for elastic tensors: constants of Abramson et al. 1997"},
	{"CRC", "CRC Handbook of Chemistry and Physics, Speed of sound in various media, Table 1, after Gray, AIP Handbook, 3rd ed. 1972"},
	{"Camacho 2009", "J. Camacho, M. Parrilla and C. Fritsch, IEEE Trans. Ultrason. Ferroelectr. Freq. Control 56 (2009) 958"},
	{"Clopper 1934", "C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404 (from memory)"},
	{"Cremer 2005", "L. Cremer, M. Heckl and B. A. T. Petersson, Structure-Borne Sound, 3rd ed. 2005"},
	{"Dalal 1989", "S. R. Dalal, E. B. Fowlkes and B. Hoadley, J. Am. Stat. Assoc. 84 (1989) 945; data and fit in circulation"},
	{"Del Grosso 1972", "V. A. Del Grosso and C. W. Mader, J. Acoust. Soc. Am. 52 (1972) 1442; the value is an output in the manual of the R package sonar"},
	{"Dobson 2002", "A. J. Dobson, An Introduction to Generalized Linear Models, 2nd ed. 2002, on the data of Bliss 1935"},
	{"EN 12668-2", "EN 12668-2, Characterization and verification of ultrasonic examination equipment, Part 2: Probes (from memory)"},
	{"GUM", "JCGM 100:2008, Guide to the expression of uncertainty in measurement; results of the examples H.1 to H.3 as quoted by a published calculation"},
	{"GUM Supplement 1", "JCGM 101:2008, Propagation of distributions using a Monte Carlo method"},
	{"Harris 1978", "F. J. Harris, Proc. IEEE 66 (1978) 51; the stated edges of the filter follow from the window"},
	{"Harwit 1979", "M. Harwit and N. J. A. Sloane, Hadamard Transform Optics, 1979"},
	{"ISO 10863", "ISO 10863, Non-destructive testing of welds, time-of-flight diffraction (from memory)"},
	{"ISO 16811", "ISO 16811, Ultrasonic testing, sensitivity and range setting (from memory)"},
	{"ISO 2553", "ISO 2553, Welding, symbolic representation on drawings (from memory)"},
	{"Kirchhoff", "Kirchhoff's approximation for a face of many wavelengths"},
	{"Krautkrämer 1990", "J. and H. Krautkrämer, Ultrasonic Testing of Materials, 4th ed. 1990"},
	{"Lubbers 1998", "J. Lubbers and R. Graaff, Ultrasound Med. Biol. 24 (1998) 1065; stated error 0.18 m/s"},
	{"MIL-HDBK-1823A", "MIL-HDBK-1823A, Nondestructive evaluation system reliability assessment (from memory)"},
	{"Mainprice 2007", "D. Mainprice, review of the seismic anisotropy of minerals: a graph, read to 0.1 km/s, of constants of Weidner et al. 1982"},
	{"Malischewsky 2005", "P. G. Malischewsky, approximation of the Rayleigh speed: 0.874 + 0.196ν − 0.043ν² − 0.055ν³"},
	{"Marczak 1997", "W. Marczak, J. Acoust. Soc. Am. 102 (1997) 2776; the value is an output in the manual of the R package sonar"},
	{"Miller 1954", "G. F. Miller and H. Pursey, Proc. R. Soc. A 223 (1954) 521 (from memory)"},
	{"Montaldo 2009", "G. Montaldo et al., IEEE Trans. Ultrason. Ferroelectr. Freq. Control 56 (2009) 489"},
	{"Musgrave 1970", "M. J. P. Musgrave, Crystal Acoustics, 1970 (from memory)"},
	{"NDE notes", "notes of the NDE Education Resource Center, Iowa State University"},
	{"NDT formulas", "a collection of formulas of nondestructive testing with worked numbers"},
	{"Norton 2003", "M. P. Norton and D. G. Karczub, Fundamentals of Noise and Vibration Analysis for Engineers, 2nd ed. 2003"},
	{"NumPy", "a calculation with NumPy 1.24 in double precision, without code of this library"},
	{"PCN notes", "training notes for phased arrays, PCN scheme"},
	{"Papadakis 1965", "E. P. Papadakis, J. Acoust. Soc. Am. 37 (1965) 703, after Bhatia and Moore (from memory)"},
	{"Pinkerton 1949", "J. M. M. Pinkerton, Proc. Phys. Soc. B 62 (1949) 129 (from memory); sources differ by 20 %"},
	{"Rayleigh 1885", "Lord Rayleigh, Proc. London Math. Soc. 17 (1885) 4"},
	{"Rodriguez 2020", "A. Rodriguez-Molares et al., IEEE Trans. Ultrason. Ferroelectr. Freq. Control 67 (2020) 745; the closed form follows for Rayleigh amplitudes"},
	{"SciPy", "a calculation with SciPy 1.10.1 in double precision, without code of this library"},
	{"Snell slides", "teaching slides on Snell's law with worked examples"},
	{"Turin 1960", "G. L. Turin, IRE Trans. Inf. Theory 6 (1960) 311"},
	{"Viktorov 1967", "I. A. Viktorov, Rayleigh and Lamb Waves, 1967, as quoted after J. L. Rose"},
	{"algebra", "follows from the equations of the theory; the row names the law"},
	{"bruges", "the test suite of bruges, a general library for seismology"},
	{"doi 10.1121/1.1903238", "abstract of the paper, on the radiation of circular discs"},
	{"full wave", "captures of testdata, by finite differences of the elastic wave equation (testdata/README.md); no rays"},
	{"mpmath", "a calculation with mpmath 1.2.1 with 20 to 25 digits, without code of this library"},
	{"textbooks", "stated alike by several textbooks (from memory)"},
}

// workOf returns the name of the work of a source.
func workOf(source string) string {
	if i := strings.IndexAny(source, ",;"); i >= 0 {
		return source[:i]
	}
	return source
}

// used returns the works of the rows, in alphabetical order. Rows of the user have their own
// sources.
func used(sections []section) []work {
	seen := map[string]bool{}
	for _, s := range sections {
		for _, r := range s.rows {
			seen[workOf(r.source)] = r.basis != stated || seen[workOf(r.source)]
		}
	}
	var all []work
	for _, w := range works {
		if seen[w.Name] {
			all = append(all, w)
		}
	}
	return all
}
