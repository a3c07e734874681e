// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/internal/number"
)

// A Quantity is a published value with its published spread. The zero Quantity is a value that the
// source does not state.
type Quantity struct {
	Value  float64
	Spread float64 // half the width of the range, in the unit of Value; 0 where not stated
}

// Known reports whether the source states q.
func (q Quantity) Known() bool { return q.Value != 0 }

// An Entry is the statement of one source on one material. Where sources differ, a [Table] has an
// entry for each source.
type Entry struct {
	Name      string   // in lower case, except proper names
	Aliases   []string // other names and standard designations
	Class     string   // "metal", "plastic", "ceramic", "glass", "composite" or "liquid"
	Condition string   // grade, treatment or form; "" where the source states none
	Celsius   float64  // temperature in °C; NaN where the source states none

	Density      Quantity // kg/m³
	Longitudinal Quantity // speed of longitudinal waves, m/s; every entry states it
	Transverse   Quantity // speed of transverse waves, m/s; never stated for a liquid
	Bar          Quantity // speed of extensional waves in a thin bar, m/s

	// The changes of the speeds with temperature, m/s per K; NaN where not stated.
	LongitudinalSlope, TransverseSlope float64

	LongitudinalAttenuation Attenuation // nil where not stated
	TransverseAttenuation   Attenuation // nil where not stated

	Source string // publication of every value; "from memory of" in it: see the package
	Note   string // facts to know before use, for example other sources that disagree
}

// entryClasses are the values of [Entry.Class]. A liquid carries longitudinal waves only; all other
// classes are solids.
var entryClasses = []string{"metal", "plastic", "ceramic", "glass", "composite", classLiquid}

const classLiquid = "liquid"

// Isotropic returns the medium of e, without the spreads. The error names the value that the source
// does not state: the density, or the transverse speed of a solid. Another entry of [Table.Lookup]
// may state it. Rays need no density, so an [Isotropic] with the speeds of e and a density of your
// own serves too; only amplitudes depend on the density.
func (e Entry) Isotropic() (Isotropic, error) {
	if !e.Density.Known() {
		return Isotropic{}, e.notStated("density")
	}
	if e.Class != classLiquid && !e.Transverse.Known() {
		return Isotropic{}, e.notStated("transverse speed")
	}
	m := Isotropic{
		Density:      e.Density.Value,
		Longitudinal: e.Longitudinal.Value,
		Transverse:   e.Transverse.Value,
	}
	return m, m.Validate()
}

// IsotropicAt returns the medium of e at another temperature (°C). The slopes of e change the
// speeds in proportion to the temperature; the density stays the same. The result holds near
// e.Celsius only, and far below the temperature at which a plastic softens. The errors are the
// errors of [Entry.Isotropic]. A temperature or a slope that the source does not state is an error
// too. So is a temperature that is not finite or makes the medium impossible.
func (e Entry) IsotropicAt(celsius float64) (Isotropic, error) {
	m, err := e.Isotropic()
	if err != nil {
		return Isotropic{}, err
	}
	if !number.Finite(celsius) {
		return Isotropic{}, fmt.Errorf("material: temperature %v °C: want a finite value", celsius)
	}
	if math.IsNaN(e.Celsius) {
		return Isotropic{}, e.notStated("temperature")
	}
	if math.IsNaN(e.LongitudinalSlope) || !m.Fluid() && math.IsNaN(e.TransverseSlope) {
		return Isotropic{}, e.notStated("change of speed with temperature")
	}
	m.Longitudinal += e.LongitudinalSlope * (celsius - e.Celsius)
	if !m.Fluid() {
		m.Transverse += e.TransverseSlope * (celsius - e.Celsius)
		if !(m.Transverse > 0) {
			return Isotropic{}, fmt.Errorf(
				"material: %s at %v °C: transverse speed %v m/s: want a value above 0",
				e.Name, celsius, m.Transverse)
		}
	}
	if err := m.Validate(); err != nil {
		return Isotropic{}, fmt.Errorf("%w (%s at %v °C)", err, e.Name, celsius)
	}
	return m, nil
}

// notStated returns the error for a value that the source of e does not state.
func (e Entry) notStated(value string) error {
	return fmt.Errorf("material: %s: %s not stated by its source (%s): want an entry that states it "+
		"(Table.Lookup returns all entries of a name), or a value of your own", e.Name, value, e.Source)
}

// clone returns a copy of e that shares no slice with e.
func (e Entry) clone() Entry {
	e.Aliases = slices.Clone(e.Aliases)
	e.LongitudinalAttenuation = slices.Clone(e.LongitudinalAttenuation)
	e.TransverseAttenuation = slices.Clone(e.TransverseAttenuation)
	return e
}
