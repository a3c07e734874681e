// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"
	"slices"
)

// Class is the kind of an engineering material.
type Class uint8

// The classes. A [Liquid] carries longitudinal waves only; all others are
// solids.
const (
	Metal Class = iota
	Plastic
	Ceramic
	Glass
	Composite
	Liquid // water and other couplants
	classCount
)

var classNames = [classCount]string{"metal", "plastic", "ceramic", "glass", "composite", "liquid"}

// String returns the name of c in lower case, as a table has it.
func (c Class) String() string {
	if c >= classCount {
		return fmt.Sprintf("Class(%d)", uint8(c))
	}
	return classNames[c]
}

// A Quantity is a published value with its published spread. The zero Quantity
// is a value that the source does not state.
type Quantity struct {
	Value  float64
	Spread float64 // half the width of the range, in the unit of Value; 0 where the source states none
}

// Known reports whether the source states q.
func (q Quantity) Known() bool { return q.Value != 0 }

// An Entry is what one source states on one material. Where sources differ a
// [Table] has an entry for each.
type Entry struct {
	Name      string   // in lower case but for proper names
	Aliases   []string // other names and standard designations
	Class     Class
	Condition string  // grade, treatment or form; "" where the source states none
	Celsius   float64 // temperature in °C; NaN where the source states none

	Density      Quantity // kg/m³
	Longitudinal Quantity // speed of longitudinal waves, m/s; every entry states it
	Transverse   Quantity // speed of transverse waves, m/s; never stated for a liquid
	Bar          Quantity // speed of extensional waves in a thin bar, m/s

	LongitudinalSlope float64 // change of the longitudinal speed with temperature, m/s per K; NaN where not stated
	TransverseSlope   float64 // change of the transverse speed with temperature, m/s per K; NaN where not stated

	LongitudinalAttenuation Attenuation // nil where not stated
	TransverseAttenuation   Attenuation // nil where not stated

	Source string // publication of every value; "from memory of" in front marks one that was not at hand
	Note   string // what to know before use, such as other sources that disagree
}

// Isotropic returns the medium that e describes, without its spread. The error
// names the value that the source does not state: a density, or the transverse
// speed of a solid.
func (e Entry) Isotropic() (Isotropic, error) {
	if !e.Density.Known() {
		return Isotropic{}, fmt.Errorf("material: %s: density not stated by %s", e.Name, e.Source)
	}
	if e.Class != Liquid && !e.Transverse.Known() {
		return Isotropic{}, fmt.Errorf("material: %s: transverse speed not stated by %s", e.Name, e.Source)
	}
	m := Isotropic{
		Density:      e.Density.Value,
		Longitudinal: e.Longitudinal.Value,
		Transverse:   e.Transverse.Value,
	}
	return m, m.Validate()
}

// IsotropicAt returns the medium at another temperature, its speeds changed in
// proportion by the slopes of e; the density stays. It holds near e.Celsius
// only, far from the softening of a plastic. The error is that of
// [Entry.Isotropic], of a temperature or a slope that the source does not state,
// or of a temperature (°C) that is not finite or makes the medium impossible.
func (e Entry) IsotropicAt(celsius float64) (Isotropic, error) {
	m, err := e.Isotropic()
	if err != nil {
		return Isotropic{}, err
	}
	if math.IsNaN(celsius) || math.IsInf(celsius, 0) {
		return Isotropic{}, fmt.Errorf("material: temperature %v °C: want a finite value", celsius)
	}
	if math.IsNaN(e.Celsius) {
		return Isotropic{}, fmt.Errorf("material: %s: temperature not stated by %s", e.Name, e.Source)
	}
	if math.IsNaN(e.LongitudinalSlope) || !m.Fluid() && math.IsNaN(e.TransverseSlope) {
		return Isotropic{}, fmt.Errorf("material: %s: change of speed with temperature not stated by %s", e.Name, e.Source)
	}
	m.Longitudinal += e.LongitudinalSlope * (celsius - e.Celsius)
	if !m.Fluid() {
		m.Transverse += e.TransverseSlope * (celsius - e.Celsius)
		if !(m.Transverse > 0) {
			return Isotropic{}, fmt.Errorf("material: %s at %v °C: transverse speed %v m/s: want a value above 0", e.Name, celsius, m.Transverse)
		}
	}
	if err := m.Validate(); err != nil {
		return Isotropic{}, fmt.Errorf("%w (%s at %v °C)", err, e.Name, celsius)
	}
	return m, nil
}

// BarDeviation returns by what fraction the bar speed that follows from the
// other two speeds lies above the stated one. In an isotropic solid only two of
// the three are independent, so that it tests the source: beyond a per cent one
// of the speeds is misprinted, of another sample, or of a solid with texture. It
// is NaN unless all three speeds are stated.
func (e Entry) BarDeviation() float64 {
	if !e.Transverse.Known() || !e.Bar.Known() {
		return math.NaN()
	}
	m := Isotropic{Longitudinal: e.Longitudinal.Value, Transverse: e.Transverse.Value}
	return m.BarSpeed()/e.Bar.Value - 1
}

// clone returns e with slices of its own.
func (e Entry) clone() Entry {
	e.Aliases = slices.Clone(e.Aliases)
	e.LongitudinalAttenuation = slices.Clone(e.LongitudinalAttenuation)
	e.TransverseAttenuation = slices.Clone(e.TransverseAttenuation)
	return e
}
