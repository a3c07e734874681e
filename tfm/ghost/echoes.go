// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Reflector is a reflector that is known, or assumed, to be in the part. Examples are a hole, a
// crack, the root or the cap of a weld, and an indication of another view.
type Reflector struct {
	Name string // such as "hole 1"; not empty
	// Outline is one point, the centre of a hole or of a small reflector, or the line of a crack,
	// of a root bead or of a fusion face. X is x and Y is the depth z, in m, finite. Its ends echo
	// as tips.
	Outline wedge.Outline
	Radius  float64 // of a hole in m: finite, at least 0, and 0 for a line
}

// Options modifies [New]. Nil stands for the zero value.
type Options struct {
	// Reflectors are the reflectors whose echoes in other modes and on other paths may be ghosts.
	Reflectors []Reflector
	// Workers is the largest number of goroutines; 0 stands for all cores.
	Workers int
}

// Echoes holds the times of arrival of the echoes of a set-up, for each pair of elements. It is
// immutable and safe for concurrent use.
type Echoes struct {
	setup    *wedge.Setup
	array    fmc.Array
	echoes   []echo
	workers  int
	pulse    pulse
	reflects []Reflector
}

// echo is one echo. An echo whose path differs from its reverse has a table for each direction of
// travel.
type echo struct {
	name   string
	tables [][]float32 // times in s at tx*N + rx for N elements, NaN where there is no ray
	// own holds the names of the views in which the echo is the image of its reflector.
	own []string
}

// New returns the echoes of an array on a set-up. All elements must lie in one section of constant
// y. Do not change the set-up and the array later. The error names the field that is out of range,
// or is the error of ctx if ctx ends early.
func New(ctx context.Context, setup *wedge.Setup, array fmc.Array, options *Options) (*Echoes, error) {
	if options == nil {
		options = new(Options)
	}
	if err := check(setup, array, options); err != nil {
		return nil, err
	}
	e := &Echoes{setup: setup, array: array, workers: options.Workers, pulse: newPulse(array)}
	b := e.builder()
	b.alongArray()
	if err := b.walls(ctx); err != nil {
		return nil, fmt.Errorf("ghost: %w", err)
	}
	e.echoes = b.echoes
	return e.With(ctx, options.Reflectors)
}

// With returns the echoes of e and the echoes of further reflectors. It is faster than [New] with
// all reflectors, because it takes the echoes of the walls from e. The errors are those of New.
func (e *Echoes) With(ctx context.Context, reflectors []Reflector) (*Echoes, error) {
	if err := checkReflectors(reflectors); err != nil {
		return nil, err
	}
	b := e.builder()
	for _, r := range reflectors {
		if err := b.reflector(ctx, r); err != nil {
			return nil, fmt.Errorf("ghost: reflector %q: %w", r.Name, err)
		}
	}
	more := *e
	more.echoes = slices.Concat(e.echoes, b.echoes)
	more.reflects = slices.Concat(e.reflects, reflectors)
	return &more, nil
}

// builder returns a builder of further echoes.
func (e *Echoes) builder() *builder {
	return &builder{
		setup:    e.setup,
		elements: e.array.Elements,
		face:     faceOf(e.array.Elements),
		spacing:  slowest(e.setup) / e.array.CentreFrequency / 6,
		times:    wedge.TimesOptions{Workers: e.workers, Directions: true},
	}
}

// checkGeometry reports a set-up or an array that is missing or out of range.
func checkGeometry(setup *wedge.Setup, array fmc.Array) error {
	if setup == nil {
		return errors.New("ghost: no set-up, nil: want one")
	}
	if err := setup.Validate(); err != nil {
		return fmt.Errorf("ghost: %w", err)
	}
	if err := array.Validate(); err != nil {
		return fmt.Errorf("ghost: %w", err)
	}
	return nil
}

// check reports the first argument of New that is out of range.
func check(setup *wedge.Setup, array fmc.Array, options *Options) error {
	if err := checkGeometry(setup, array); err != nil {
		return err
	}
	for i, e := range array.Elements {
		if e.Y != array.Elements[0].Y {
			return fmt.Errorf("ghost: element %d at y = %v m, element 0 at %v m: want one section of constant y",
				i, e.Y, array.Elements[0].Y)
		}
	}
	if err := checkReflectors(options.Reflectors); err != nil {
		return err
	}
	if err := parallel.Check(options.Workers); err != nil {
		return fmt.Errorf("ghost: %w", err)
	}
	return nil
}

// checkReflectors reports the first reflector that is out of range.
func checkReflectors(reflectors []Reflector) error {
	for i, r := range reflectors {
		switch {
		case r.Name == "":
			return fmt.Errorf("ghost: reflector %d without a name: want one", i)
		case len(r.Outline) == 0:
			return fmt.Errorf("ghost: reflector %q without an outline: want at least one point", r.Name)
		case !(r.Radius >= 0) || !number.Finite(r.Radius) || r.Radius > 0 && len(r.Outline) > 1:
			return fmt.Errorf("ghost: reflector %q of radius %v m and %d points: want a finite radius of at least 0, and 0 for a line",
				r.Name, r.Radius, len(r.Outline))
		}
		for _, p := range r.Outline {
			if !number.Finite(p.X) || !number.Finite(p.Y) {
				return fmt.Errorf("ghost: reflector %q at (%v, %v) m: want finite coordinates", r.Name, p.X, p.Y)
			}
		}
	}
	return nil
}

// slowest returns the speed of the slowest wave in the part.
func slowest(s *wedge.Setup) float64 {
	if s.Part.Fluid() {
		return s.Part.Longitudinal
	}
	return s.Part.Transverse
}

// Names returns the names of all echoes, each once, such as "L-T echo of the back wall".
func (e *Echoes) Names() []string {
	names := make([]string, len(e.echoes))
	for i := range e.echoes {
		names[i] = e.echoes[i].name
	}
	return names
}

// find returns the echo of a name.
func (e *Echoes) find(name string) (*echo, error) {
	for i := range e.echoes {
		if e.echoes[i].name == name {
			return &e.echoes[i], nil
		}
	}
	return nil, fmt.Errorf("ghost: echo %q: want one of Names", name)
}

// builder collects echoes.
type builder struct {
	setup    *wedge.Setup
	elements []r3.Vec
	face     wedge.Surface // of the array, towards the part; nil for a single element
	spacing  float64       // of the points of an outline, m
	times    wedge.TimesOptions
	echoes   []echo
}

// add appends an echo with a table of times, and with the table of the reverse path if asked.
func (b *builder) add(e echo, seconds []float32, both bool) {
	e.tables = [][]float32{seconds}
	if both {
		n := len(b.elements)
		reverse := make([]float32, len(seconds))
		for i := range n {
			for j := range n {
				reverse[j*n+i] = seconds[i*n+j]
			}
		}
		e.tables = append(e.tables, reverse)
	}
	b.echoes = append(b.echoes, e)
}

// modes returns the modes that the part carries.
func (b *builder) modes() []material.Mode { return modesOf(&b.setup.Part) }

func modesOf(m *material.Isotropic) []material.Mode {
	if m.Fluid() {
		return []material.Mode{material.L}
	}
	return []material.Mode{material.L, material.T}
}

// sequences returns all sequences of modes of a length, without the reverse of another one.
func sequences(length int, modes []material.Mode) (all [][]material.Mode) {
	for _, s := range allSequences(length, modes) {
		back := reversed(s)
		if !slices.ContainsFunc(all, func(other []material.Mode) bool { return slices.Equal(other, back) }) {
			all = append(all, s)
		}
	}
	return all
}

// allSequences returns all sequences of modes of a length.
func allSequences(length int, modes []material.Mode) [][]material.Mode {
	all := [][]material.Mode{nil}
	for range length {
		var longer [][]material.Mode
		for _, s := range all {
			for _, m := range modes {
				longer = append(longer, append(slices.Clone(s), m))
			}
		}
		all = longer
	}
	return all
}

func reversed(modes []material.Mode) []material.Mode {
	back := slices.Clone(modes)
	slices.Reverse(back)
	return back
}

// faceOf returns the plane in which the elements of a linear array lie, or nil for one element. Its
// far side is the side of the part.
func faceOf(elements []r3.Vec) wedge.Surface {
	if len(elements) < 2 {
		return nil
	}
	along := r3.Sub(elements[len(elements)-1], elements[0])
	normal := r3.Cross(along, r3.Vec{Y: 1})
	if normal.Z < 0 {
		normal = r3.Scale(-1, normal)
	}
	face, err := wedge.NewPlane(elements[0], normal)
	if err != nil { // elements on one line along y or at one place, which check excludes
		return nil
	}
	for _, e := range elements {
		if math.Abs(face.Depth(e)) > 1e-6 {
			return nil
		}
	}
	return face
}
