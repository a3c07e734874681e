// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package material gives the acoustic properties of engineering materials and of the boundaries
// between them: wave speeds with their sources, elastic constants, attenuation, reflection,
// transmission and anisotropy.
//
//	steel, err := material.Handbook().Find("steel")          // one entry with its source
//	part, err := steel.Isotropic()                           // density and wave speeds
//	acrylic, err := material.Handbook().Find("acrylic")
//	wedge, err := acrylic.Isotropic()
//
//	beam := 60 * math.Pi / 180                                             // T in the part
//	angle := material.Refract(beam, part.Transverse, wedge.Longitudinal)   // of the wedge
//	first := material.CriticalAngle(wedge.Longitudinal, part.Longitudinal) // beyond it no L
//	fmt.Println(first < angle)                                             // true
//	face, err := material.NewBoundary(wedge, part, material.LiquidFilm)
//	echo, err := face.RoundTrip(material.L, material.T, angle)             // in and out
//	fmt.Println(20*math.Log10(cmplx.Abs(echo)), "dB")
//
// # Which question, which function
//
//	What is the speed in ...?                       Handbook, then Table.Find or Table.Lookup
//	... by our own measurements?                    ReadTable, Table.Merge
//	... in water at this temperature?               Water
//	Which speeds belong to E and ν?                 FromYoungPoisson
//	Which moduli belong to these speeds?            the methods of Isotropic
//	What is the beam angle behind the wedge?        Refract
//	Which wedge angle gives a 60° beam?             Refract with the speeds exchanged
//	Beyond which angle is there no L or T wave?     CriticalAngle
//	How strong is the wave behind a boundary?       NewBoundary, Boundary.Scatter
//	... of a crystal or of weld metal?              NewAnisotropicBoundary
//	How much does the wedge weaken the echo?        Boundary.RoundTrip
//	How strong is the echo of a corner?             CornerEcho
//	Which amplitude remains after this path?        Attenuation.Amplitude
//	How much do the grains scatter?                 Grains
//	Speed of a wave front in a crystal or weld?     NewChristoffel
//	Speed of a ray in a crystal or weld?            NewGroupSolver
//	What are the speeds of a polycrystal?           Anisotropic.Hill
//
// Package beam in the folder below has the formulas that plan a probe: near field, beam spread,
// grating lobes, directivity of an element.
//
// # Symbols and units
//
// All numbers are float64 in SI units. Angles are in radians from the normal of a surface.
//
//	ρ        density, kg/m³                                   Isotropic.Density
//	cL, cT   speed of longitudinal and transverse waves, m/s  Isotropic.Longitudinal, .Transverse
//	cR       speed of Rayleigh (surface) waves, m/s           Isotropic.Rayleigh
//	ν        Poisson's ratio                                  Isotropic.PoissonRatio
//	E, G, K  Young's, shear and bulk modulus, Pa              the methods of Isotropic
//	Z        specific acoustic impedance ρ·c, Pa·s/m          Isotropic.Impedance; 1 MRayl is 10⁶
//	α        attenuation of amplitude, Np/m                   Attenuation.Nepers, .Decibels (dB/m)
//	C        elastic stiffness in Voigt form, Pa              Stiffness
//
// A wave mode is [L] or [T]. A fluid carries L only, and its transverse speed is 0. Temperatures
// are in °C, as in the published equations, in parameters with the name celsius. Complex amplitudes
// have the time factor exp(−iωt). Decibels occur only where the name says so: 20·log10 of
// amplitudes, 10·log10 of energies.
//
// # The handbook
//
// An [Entry] is the statement of one source on one material: values, spreads, temperature and grade
// where the source states them, and the citation. Where sources disagree, each source has an entry,
// the preferred source first, and a note says so. They differ by 30 % for the transverse speed of
// acrylic, and by 7 % for nickel. "From memory of" before a source marks a value that was written
// down from memory. Every value has a source. The density and the speeds of an entry have one
// source; in the entry of water the citation says which source states which value.
//
// Handbook values serve for planning and for plausibility checks. Speeds differ between heats,
// grades and rolling directions. A change of cT by 1 % turns a 70° beam by 1.5° (Krautkrämer and
// Krautkrämer, Ultrasonic Testing of Materials, 1990). Before an examination, measure the speeds on
// the reference block, the part and the wedge in use. Codes, the written procedure and qualified
// personnel decide; this package does not.
//
// # Boundaries
//
// A [Boundary] is a plane between two media, or a free surface. A contact wedge with couplant is a
// [LiquidFilm], not [Welded]: the coefficients of the two differ far more than handbook values do.
// [Scattering] has the coefficients in three conventions: displacement, pressure and energy. Mixing
// the conventions is the most frequent mistake. Energies add up to 1; displacements and pressures
// do not. Beyond critical angles the amplitudes are complex and the energies still add up to 1.
//
// # Anisotropy
//
// In a crystal or in weld metal the speed depends on the direction, and there are three waves
// instead of two. A ray is the path of the energy. It is not perpendicular to its wave front. In
// austenitic weld metal the angle between the ray and the normal of the front reaches tens of
// degrees. [Stiffness] holds the elastic constants; [Cubic], [TransverselyIsotropic] and
// [Orthotropic] write them out; [FindCrystal] has published constants. [Christoffel] calculates the
// waves of a given front. [GroupSolver] calculates the waves of a given ray, which are several
// where the wave surface folds. [AnisotropicBoundary] calculates the waves that leave a boundary of
// such media. Their choice follows the energy: the front of a wave that leaves may travel towards
// the boundary.
//
// # Errors and NaN
//
// A function that takes data (media, tables, boundaries, stiffnesses, the temperature of water)
// returns an error that names the field, the value and the allowed range. A plain formula
// ([Refract], [CriticalAngle], the methods of [Attenuation]) returns NaN where no physical answer
// exists and for arguments outside their ranges. A wave that does not exist in a medium has the
// speed 0 and the amplitude 0. Nothing panics on data. Goroutines may share all values that none of
// them changes.
//
// # What it leaves out
//
// Lamb and other guided waves, except the long-wave limits [Isotropic.PlateSpeed] and
// [Isotropic.BarSpeed]; sea water; stress (acoustoelasticity); the dispersion that belongs to
// attenuation; layers that are neither thin nor half-spaces; rough surfaces; attenuation in
// anisotropic media. Package beam has beams, and package wedge has rays through parts.
//
// # For contributors
//
// A new material is a row in handbook.csv with its source. A value without a known source is not
// added. Lines of one name stand in the order of preference. TestHandbookRows checks every row; a
// test of the source compares the values with the publication. A new crystal is a row of
// crystals.go.
//
// The files boundary_slip.go and boundary_welded.go explain how the coefficients are calculated.
// For anisotropic media, anisotropic_waves.go finds the waves, and anisotropic_scatter.go matches
// them. The energies are not made to have the sum 1: the tests measure their sum.
// The files christoffel.go, group_joint.go, group_newton.go and group_scan.go explain the
// calculation of waves and arrivals.
package material
