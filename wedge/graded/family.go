// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"reflect"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/wedge"
)

// Parameter is a number on which a part depends, and which is not exactly known: a parameter of the
// grain law, an elastic constant, a speed, a dimension of the weld.
type Parameter struct {
	Name  string  // as in messages and budgets; not empty
	Value float64 // in any unit
	// Low and High are the limits of what Value may be, in the unit of Value: Low <= Value <= High,
	// Low < High. Derivatives take steps of 1e-4 of the range. A fit looks for no value beyond it.
	Low, High float64
}

// Family is a part that depends on parameters. It is immutable and safe for concurrent use.
type Family struct {
	parameters []Parameter
	build      func(values []float64) (*Part, error)
	part       *Part
	base       arrangement
	changes    []change
}

// change is what a step of a parameter changes.
type change struct {
	step      float64 // between the two parts, in the unit of the parameter
	low, high arrangement
	media     []bool // which media change
}

// arrangement holds the media and the surfaces of a part. Parts of a family have the same numbers of
// both.
type arrangement struct {
	media    []Medium        // of the zones, then of the coupling if there is one
	surfaces []wedge.Surface // the faces, the entry surface and the back wall, which may be nil
	medium   []int           // of each zone: index in media
	face     []int           // of each face: index in surfaces, or -1 if the medium is the same on both sides
}

// relativeStep is the step of a parameter to each side, as a share of its range.
const relativeStep = 1e-4

// NewFamily returns the part that build makes of the values of the parameters, which are in the
// order of the parameters. At least one parameter is needed, with different names.
//
// The parts of all values must have the same number of media and of surfaces, in the same order. Faces
// and surfaces may move with a parameter. build must be safe for concurrent use.
func NewFamily(parameters []Parameter, build func(values []float64) (*Part, error)) (*Family, error) {
	if len(parameters) == 0 || build == nil {
		return nil, fmt.Errorf("graded: family of %d parameters: want at least one, and a function that makes the part",
			len(parameters))
	}
	for i, p := range parameters {
		switch {
		case p.Name == "" || slices.ContainsFunc(parameters[:i], func(o Parameter) bool { return o.Name == p.Name }):
			return nil, fmt.Errorf("graded: parameter %d has the name %q: want a name of its own", i, p.Name)
		case !(p.Low < p.High) || !number.Finite(p.Low) || !number.Finite(p.High):
			return nil, fmt.Errorf("graded: limits of the parameter %s from %v to %v: want finite limits in ascending order",
				p.Name, p.Low, p.High)
		}
		if err := checkRange("parameter "+p.Name, p.Value, p.Low, p.High, ""); err != nil {
			return nil, err
		}
	}
	f := &Family{parameters: slices.Clone(parameters), build: build}
	var err error
	if f.part, err = f.make(f.Values()); err != nil {
		return nil, err
	}
	return f, f.vary()
}

// vary sets what the parameters change.
func (f *Family) vary() error {
	values := f.Values()
	parts := make([][2]*Part, len(values))
	merge := false
	for k, p := range f.parameters {
		reach := relativeStep * (p.High - p.Low)
		ends := [2]float64{max(p.Low, p.Value-reach), min(p.High, p.Value+reach)}
		f.changes = append(f.changes, change{step: ends[1] - ends[0]})
		for side, value := range ends {
			values[k] = value
			var err error
			if parts[k][side], err = f.make(values); err != nil {
				return fmt.Errorf("%w, for the parameter %s of %v", err, p.Name, value)
			}
			merge = merge || len(parts[k][side].Media) != len(f.part.Media)
		}
		values[k] = p.Value
	}
	f.base = newArrangement(f.part, merge)
	for k := range f.changes {
		c := &f.changes[k]
		c.low, c.high = newArrangement(parts[k][0], merge), newArrangement(parts[k][1], merge)
		if !f.base.like(&c.low) || !f.base.like(&c.high) {
			return fmt.Errorf("graded: the parameter %s of %v changes the number of media or surfaces of the part: want the same number",
				f.parameters[k].Name, f.parameters[k].Value)
		}
		for g := range f.base.media {
			c.media = append(c.media, !same(c.low.media[g], c.high.media[g]))
		}
	}
	return nil
}

// make returns the part of the values.
func (f *Family) make(values []float64) (*Part, error) {
	p, err := f.build(slices.Clone(values))
	if err == nil && p == nil {
		err = fmt.Errorf("graded: no part")
	}
	if err == nil {
		err = p.validate()
	}
	return p, err
}

// newArrangement returns the arrangement of a part. If merge is set, neighbouring zones of the same
// medium count as one: the grain law has a face at the centre line for all η but 1.
func newArrangement(p *Part, merge bool) arrangement {
	var a arrangement
	for zone, m := range p.Media {
		if !merge || zone == 0 || !same(m, p.Media[zone-1]) {
			a.media = append(a.media, m)
		}
		a.medium = append(a.medium, len(a.media)-1)
	}
	for k, face := range p.Faces {
		if a.medium[k] == a.medium[k+1] {
			a.face = append(a.face, -1)
			continue
		}
		a.face = append(a.face, len(a.surfaces))
		a.surfaces = append(a.surfaces, face)
	}
	if p.Coupling != nil {
		a.media = append(a.media, p.lead())
	}
	a.surfaces = append(a.surfaces, p.Entry, p.Back)
	return a
}

// like reports whether two arrangements have the same media and surfaces by number.
func (a *arrangement) like(b *arrangement) bool {
	last := len(a.surfaces) - 1
	return len(a.media) == len(b.media) && len(a.surfaces) == len(b.surfaces) &&
		(a.surfaces[last] == nil) == (b.surfaces[last] == nil)
}

// entry returns the index of the entry surface; the index of the back wall follows.
func (a *arrangement) entry() int { return len(a.surfaces) - 2 }

// of returns the index of the medium of a zone; the zone -1 is the coupling.
func (a *arrangement) of(zone int) int {
	if zone < 0 {
		return len(a.media) - 1
	}
	return a.medium[zone]
}

// same reports whether two media are known to be the same. Media of a type that Go cannot compare
// count as different.
func same(a, b Medium) bool {
	return reflect.ValueOf(a).Comparable() && reflect.ValueOf(b).Comparable() && a == b
}

// Part returns the part of the values of the parameters. It must not be changed.
func (f *Family) Part() *Part { return f.part }

// Parameters returns the parameters.
func (f *Family) Parameters() []Parameter { return slices.Clone(f.parameters) }

// Values returns the values of the parameters.
func (f *Family) Values() []float64 {
	values := make([]float64, len(f.parameters))
	for k, p := range f.parameters {
		values[k] = p.Value
	}
	return values
}

// At returns the family with other values of the parameters, in their order and within their
// limits.
func (f *Family) At(values []float64) (*Family, error) {
	if len(values) != len(f.parameters) {
		return nil, fmt.Errorf("graded: %d values of parameters: want %d", len(values), len(f.parameters))
	}
	parameters := f.Parameters()
	for k, v := range values {
		parameters[k].Value = v
	}
	return NewFamily(parameters, f.build)
}

// adjusted is a texture whose grains are turned and whose speeds are scaled.
type adjusted struct {
	Texture
	turn, factor float64
}

// NewAdjusted returns a texture with its grain axes turned by an angle (rad from +x towards +z,
// finite) and all speeds multiplied by factor, from 0.5 to 2. Both are parameters for a [Family].
func NewAdjusted(t Texture, turn, factor float64) (Texture, error) {
	if t == nil {
		return nil, fmt.Errorf("graded: texture is missing")
	}
	if !number.Finite(turn) {
		return nil, fmt.Errorf("graded: turn of the grains %v rad: want a finite angle", turn)
	}
	return adjusted{t, turn, factor}, checkRange("factor of the speeds", factor, 0.5, 2, "")
}

// At implements [Texture].
func (t adjusted) At(p r3.Vec) Grain {
	g := t.Texture.At(p)
	g.Angle += t.turn
	g.Factor *= t.factor
	g.FactorGradient = r3.Scale(t.factor, g.FactorGradient)
	return g
}
