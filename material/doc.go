// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package material answers what ultrasonic waves do in engineering materials and
// at the boundaries between them: how fast they go, how much of them is left,
// into which waves they split, and which source says so.
//
// # Symbols and units
//
// SI units in float64; angles in radians from the normal of a surface.
//
//	ρ        density, kg/m³                                   Isotropic.Density
//	cL, cT   speed of longitudinal and transverse waves, m/s  Isotropic.Longitudinal, .Transverse
//	cR       speed of Rayleigh (surface) waves, m/s           Isotropic.Rayleigh
//	ν        Poisson's ratio                                  Isotropic.PoissonRatio
//	E, G, K  Young's, shear and bulk modulus, Pa              Isotropic.YoungModulus and so on
//	λ, μ     Lamé's parameters, Pa; μ is G                    Isotropic.LameLambda, .ShearModulus
//	Z        specific acoustic impedance ρ·c, Pa·s/m          Isotropic.Impedance; 10⁶ of them are 1 MRayl
//	α        attenuation of amplitude, Np/m                   Attenuation.Nepers, .Decibels (dB/m)
//	C        elastic stiffness in Voigt form, Pa              Stiffness
//
// A wave mode is [L] or [T]; a fluid carries L only, and has a transverse speed
// of 0. Temperatures are in °C, as the published equations have them, and their
// parameters are named celsius. Complex amplitudes have the time factor
// exp(−iωt). Decibels occur only where the name says so: 20·log10 of amplitudes,
// 10·log10 of energies.
//
// # Which question, which function
//
//	What is the speed in ...?                       Handbook, then Table.Find or Table.Lookup
//	... by our own measurements?                    ReadTable, Table.Merge
//	... in water at this temperature?               Water, or a WaterEquation that a procedure names
//	Which speeds belong to E and ν?                 FromYoungPoisson, FromYoungShear, FromBulkShear, FromLame
//	Which moduli belong to these speeds?            the methods of Isotropic
//	Where does the beam go behind the wedge?        Refract
//	Which wedge angle gives a 60° beam?             Refract with the speeds exchanged
//	From which angle on is there no L, no T?        CriticalAngles
//	How strong is the wave behind a boundary?       NewBoundary, Boundary.Scatter
//	What does the wedge cost the echo?              Boundary.RoundTrip
//	What does a corner send back?                   CornerEcho
//	How much is left after this path?               Attenuation.Amplitude
//	How much do the grains scatter?                 Grains
//	How fast, and which way, in a crystal or weld?  NewChristoffel for a wave front, NewGroupSolver for a ray
//	What does a polycrystal of it average to?       Anisotropic.Hill, .Voigt, .Reuss
//
// The formulas that plan a probe (near field, beam spread, grating lobes,
// directivity of an element) are in package beam below this one.
//
// # The handbook
//
// An [Entry] is what one source says about one material: value, spread,
// temperature and grade as far as it states them, and its citation. Where sources
// disagree (the transverse speed of acrylic by 30 %, nickel by 7 %) there is an
// entry for each, the preferred one first, and a note says so. "From memory of"
// in front of a source marks a value written down without it at hand; nothing
// is in the table whose source is unknown. Density and speeds of an entry are of
// one source; where they are not (water), the source says which is whose.
//
// In an isotropic solid, speed in the bulk, transverse speed and speed in a bar
// are three numbers of which two are independent. Where a source states all
// three, [Entry.BarDeviation] tests it.
//
// Handbook values are for planning and for sanity checks. Speeds differ between
// heats, grades and rolling directions: a per cent of cT turns a 70° beam by 1.5°
// (Krautkrämer and Krautkrämer, Ultrasonic Testing of Materials, 1990). Before an
// examination, measure them on the reference block, the part and the wedge in
// use. Codes, the written procedure and the qualified people who answer for it
// come before anything that this package says.
//
// # Boundaries
//
// A [Boundary] is a plane between two media, or a free surface. A contact wedge
// with couplant is a [LiquidFilm], not [Welded]: the two differ by far more than
// the values of any handbook. Coefficients come in three conventions, as three
// types, because mixing them is the commonest mistake: displacement, pressure,
// and energy. Energies add up to 1; displacements and pressures do not. Beyond
// critical angles amplitudes are complex and the energies still add up.
//
// # Anisotropy
//
// In a crystal or in weld metal the speed depends on direction, there are three
// waves instead of two, and a ray (the way of the energy) is not at right angles
// to its wave front: in austenitic weld metal by up to tens of degrees.
// [Stiffness] holds the constants, [Cubic], [TransverselyIsotropic] and
// [Orthotropic] write them out, and [Crystals] lists published ones. [Christoffel]
// answers for a given front; [GroupSolver] for a given ray, of which there can
// be several arrivals where the wave surface folds.
//
// # Errors and the lack of an answer
//
// What is built from data (media, tables, boundaries, stiffnesses, water at a
// temperature) returns an error that names the field, the value and the allowed
// range. Plain formulas ([Refract], [CriticalAngle], [RayleighRatio], the methods
// of [Attenuation]) return NaN where there is no physical answer and for arguments
// out of range. A wave that does not exist in a medium has the speed and the
// amplitude 0. Nothing panics on data. Values are immutable or plain, and may be
// shared between goroutines that only read them.
//
// # What it leaves out
//
// Lamb and other guided waves (but for the long-wave limits
// [Isotropic.PlateSpeed] and [Isotropic.BarSpeed]); sea water; stress
// (acoustoelasticity); dispersion that goes with attenuation; layers that are
// neither thin nor half-spaces; rough surfaces; attenuation in anisotropic media;
// beams, which are package beam's, and rays through parts, which are package
// wedge's.
package material
