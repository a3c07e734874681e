// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"context"
	"slices"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// alongArray appends the waves along the array, from element to element. Their speeds are so near
// to each other that they overlap. So they are one echo.
func (b *builder) alongArray() {
	m := &b.setup.Part
	if b.setup.Coupling != nil {
		m = b.setup.Coupling
	}
	speeds := []float64{m.Longitudinal}
	if !m.Fluid() {
		speeds = append(speeds, m.Transverse, m.Rayleigh())
	}
	n := len(b.elements)
	e := echo{name: "wave along the array"}
	for _, speed := range speeds {
		seconds := make([]float32, n*n)
		for i, from := range b.elements {
			for j, to := range b.elements {
				seconds[i*n+j] = float32(r3.Norm(r3.Sub(to, from)) / speed)
			}
		}
		e.tables = append(e.tables, seconds)
	}
	b.echoes = append(b.echoes, e)
}

// walls appends the echoes of the surfaces of the part.
func (b *builder) walls(ctx context.Context) error {
	if b.setup.Coupling != nil {
		if err := b.entry(ctx); err != nil {
			return err
		}
	}
	if b.setup.Back == nil {
		return nil
	}
	all := append(sequences(2, b.modes()), sequences(4, b.modes())...)
	for _, m := range b.modes() {
		all = append(all, []material.Mode{m, m, m, m, m, m})
	}
	for _, modes := range all {
		if err := b.back(ctx, modes, false); err != nil {
			return err
		}
	}
	if b.setup.Coupling == nil || b.face == nil {
		return nil
	}
	for _, modes := range sequences(2, b.modes()) {
		if err := b.back(ctx, modes, true); err != nil {
			return err
		}
	}
	return nil
}

// entry appends the echoes of the entry surface in the coupling, and their repetitions between the
// entry surface and the face of the array.
func (b *builder) entry(ctx context.Context) error {
	coupling := b.setup.Coupling
	for _, modes := range sequences(2, modesOf(coupling)) {
		var c chain
		c.bounce(b.setup.Entry, coupling, modes[0], modes[1])
		if err := b.path(ctx, hyphens(modes)+" echo of the entry surface", c, modes[0] != modes[1]); err != nil {
			return err
		}
	}
	if b.face == nil {
		return nil
	}
	var c chain
	c.bounce(b.setup.Entry, coupling, material.L, material.L)
	for _, name := range []string{"second", "third"} {
		c.cross(b.face, wedge.Far, true)
		c.bounce(b.setup.Entry, coupling, material.L, material.L)
		if err := b.path(ctx, name+" echo of the entry surface", c, false); err != nil {
			return err
		}
	}
	return nil
}

// back appends an echo of the back wall, whose legs in the part have the given modes. A repeated
// echo goes once more between the entry surface and the face of the array.
func (b *builder) back(ctx context.Context, modes []material.Mode, repeated bool) error {
	var c chain
	s := b.setup
	name := hyphens(modes) + " echo of the back wall"
	if repeated {
		name += ", repeated in the coupling"
		c.bounce(s.Entry, s.Coupling, material.L, material.L)
		c.cross(b.face, wedge.Far, true)
	}
	if s.Coupling != nil {
		c.leg(s.Coupling, material.L)
		c.cross(s.Entry, wedge.Near, false)
	}
	for i, m := range modes {
		switch {
		case i%2 == 1:
			c.cross(s.Back, wedge.Near, true)
		case i > 0:
			c.cross(s.Entry, wedge.Far, true)
		}
		c.leg(&s.Part, m)
	}
	if s.Coupling != nil {
		c.cross(s.Entry, wedge.Far, false)
		c.leg(s.Coupling, material.L)
	}
	return b.path(ctx, name, c, repeated || !slices.Equal(modes, reversed(modes)))
}

// path appends the echo on a path from element to element.
func (b *builder) path(ctx context.Context, name string, c chain, both bool) error {
	p, err := wedge.NewPath(c.legs, c.crossings)
	if err != nil {
		return err
	}
	t, err := p.Times(ctx, b.elements, b.elements, &wedge.TimesOptions{Workers: b.times.Workers})
	if err != nil {
		return err
	}
	b.add(echo{name: name}, t.Seconds, both)
	return nil
}

// chain collects the legs and the crossings of a path.
type chain struct {
	legs      []wedge.Leg
	crossings []wedge.Crossing
}

func (c *chain) leg(m *material.Isotropic, mode material.Mode) {
	c.legs = append(c.legs, wedge.Leg{Speed: m.Speed(mode), Mode: mode})
}

func (c *chain) cross(s wedge.Surface, from wedge.Side, reflects bool) {
	c.crossings = append(c.crossings, wedge.Crossing{Surface: s, From: from, Reflects: reflects})
}

// bounce appends a leg to the near side of a surface and the leg back.
func (c *chain) bounce(s wedge.Surface, m *material.Isotropic, there, back material.Mode) {
	c.leg(m, there)
	c.cross(s, wedge.Near, true)
	c.leg(m, back)
}

// hyphens returns the letters of modes, such as L-T.
func hyphens(modes []material.Mode) string {
	letters := make([]string, len(modes))
	for i, m := range modes {
		letters[i] = m.String()
	}
	return strings.Join(letters, "-")
}
