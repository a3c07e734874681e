// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// Map holds for each pixel of a view the amplitude with which a reference reflector would show
// there. It is a [tfm.Envelope], so Peak, Decibels and Z work as for an image.
//
// The unit is the unit of an image of package fmc/synth: the displacement of the longitudinal wave
// straight ahead of an element, at a distance of 1 m, is 1. It is the same for all views of one
// capture, so the maps of views are comparable. An image of a real capture has another unit: one
// constant factor, the same in all views and at all pixels.
//
// Pixels without any ray are [tfm.Blank] and hold 0. Pixels that some pairs do not reach are
// [tfm.NoRay].
type Map struct {
	tfm.Envelope
	View      string    // such as "TT-T"
	Reflector Reflector // the reference
}

// New returns the map of a view for captures like c, whose Data may be nil. The arguments before the
// reflector are the arguments of [tfm.PlanView]. The grid must be a section of one slice, in the
// plane of constant y of all elements. Captures of events are an error: decode them first.
//
// Amplitudes are computed at nodes and interpolated. The map has the same bits for any number of
// workers. When ctx ends early, its error is returned.
func New(ctx context.Context, c *fmc.Capture, setup *wedge.Setup, view string, g tfm.Grid, reference Reflector, options *Options) (*Map, error) {
	if options == nil {
		options = new(Options)
	}
	if err := checkArguments(c, setup, g, reference); err != nil {
		return nil, err
	}
	if err := options.validate(c); err != nil {
		return nil, err
	}
	m, err := newModel(c, setup, view, reference, options)
	if err != nil {
		return nil, err
	}
	n := newNodes(g, m.depth, options.Spacing)
	if err := n.predict(ctx, m, options.Workers); err != nil {
		return nil, err
	}
	out := &Map{View: view, Reflector: reference}
	out.Grid, out.Data = g, make([]float32, g.Len())
	n.fill(out, setup)
	return out, nil
}

// checkArguments reports the first argument that does not fit.
func checkArguments(c *fmc.Capture, setup *wedge.Setup, g tfm.Grid, reference Reflector) error {
	if c == nil || setup == nil || reference == nil {
		return errors.New("sensitivity: no capture, no set-up or no reflector: want one of each")
	}
	if err := c.ValidateTemplate(); err != nil {
		return fmt.Errorf("sensitivity: %w", err)
	}
	if err := g.Validate(); err != nil {
		return fmt.Errorf("sensitivity: %w", err)
	}
	if err := reference.validate(); err != nil {
		return err
	}
	if c.Events != nil {
		return errors.New("sensitivity: capture of events: want the full matrix, decoded")
	}
	if g.Slices != 1 {
		return fmt.Errorf("sensitivity: grid of %d slices: want 1", g.Slices)
	}
	for i, e := range c.Array.Elements {
		if e.Y != g.Origin.Y {
			return fmt.Errorf("sensitivity: element %d at y = %v m: want the y of the grid, %v m", i, e.Y, g.Origin.Y)
		}
	}
	return nil
}

// nodes is a coarse lattice of predictions.
type nodes struct {
	origin        r3.Vec
	stepX, stepZ  float64 // m
	columns, rows int
	all           []node
	logs          []float64 // natural logarithms of the amplitudes, at the indices of all
}

// defaultNodes is the number of nodes of a map by default.
const defaultNodes = 900

// newNodes returns nodes that cover a grid and a margin (m) around it.
func newNodes(g tfm.Grid, margin, spacing float64) *nodes {
	width := float64(g.Cols-1)*g.Step.X + 2*margin
	height := float64(g.Rows-1)*g.Step.Z + 2*margin
	if spacing == 0 {
		spacing = max(math.Sqrt(width*height/defaultNodes), max(width, height)/(defaultNodes/2))
	}
	cells := func(length, pixel float64) (count int, step float64) {
		if length == 0 {
			return 1, 1
		}
		count = max(1, int(math.Ceil(length/max(spacing, pixel))))
		return count + 1, length / float64(count)
	}
	n := &nodes{origin: r3.Vec{X: g.Origin.X - margin, Y: g.Origin.Y, Z: g.Origin.Z - margin}}
	n.columns, n.stepX = cells(width, g.Step.X)
	n.rows, n.stepZ = cells(height, g.Step.Z)
	n.all = make([]node, n.columns*n.rows)
	return n
}

// predict computes all nodes.
func (n *nodes) predict(ctx context.Context, m *model, workers int) error {
	err := parallel.Do(ctx, len(n.all), parallel.Options{Workers: workers}, func() func(int) error {
		p := m.newPredictor()
		return func(i int) error {
			column, row := i%n.columns, i/n.columns
			n.all[i] = p.at(r3.Add(n.origin, r3.Vec{X: float64(column) * n.stepX, Z: float64(row) * n.stepZ}))
			return nil
		}
	})
	if err != nil {
		return err
	}
	n.logs = make([]float64, len(n.all))
	for i, v := range n.all {
		n.logs[i] = math.Log(max(v.amplitude, math.SmallestNonzeroFloat32))
	}
	return nil
}

// interpolated is a node between nodes.
type interpolated struct {
	valid, partial bool
	log            float64 // natural logarithm of the amplitude
	toCentre       r2.Vec
}

// at interpolates between the four nodes around a point, linearly in the logarithm of the
// amplitude. Nodes without a prediction do not count.
func (n *nodes) at(x, z float64) interpolated {
	column, u := cell((x-n.origin.X)/n.stepX, n.columns)
	row, v := cell((z-n.origin.Z)/n.stepZ, n.rows)
	var out interpolated
	total := 0.0
	for _, corner := range [...]struct {
		c, r   int
		weight float64
	}{{0, 0, (1 - u) * (1 - v)}, {1, 0, u * (1 - v)}, {0, 1, (1 - u) * v}, {1, 1, u * v}} {
		i := min(row+corner.r, n.rows-1)*n.columns + min(column+corner.c, n.columns-1)
		if !n.all[i].valid || corner.weight == 0 {
			continue
		}
		total += corner.weight
		out.partial = out.partial || n.all[i].partial
		out.log += corner.weight * n.logs[i]
		out.toCentre = r2.Add(out.toCentre, r2.Scale(corner.weight, n.all[i].toCentre))
	}
	if total == 0 {
		return out
	}
	out.valid = true
	out.log /= total
	out.toCentre = r2.Scale(1/total, out.toCentre)
	return out
}

// peakAt returns the prediction for the reflector whose image has its peak at a point. The nodes
// are at the centres of reflectors. Each step comes closer to the centre that belongs to the peak.
func (n *nodes) peakAt(x, z float64) interpolated {
	at := n.at(x, z)
	const most = 8 // steps that are enough where the image shifts by less than its own step
	for range most {
		last := at.toCentre
		at = n.at(x+last.X, z+last.Y)
		if r2.Norm(r2.Sub(at.toCentre, last)) < 0.05*min(n.stepX, n.stepZ) {
			break
		}
	}
	return at
}

// cell returns the cell of a position among n nodes, and the share of the way across the cell.
func cell(position float64, n int) (cell int, share float64) {
	position = max(0, min(float64(n-1), position))
	cell = min(int(position), max(0, n-2))
	return cell, position - float64(cell)
}

// fill sets the pixels of a map.
func (n *nodes) fill(m *Map, setup *wedge.Setup) {
	var states []tfm.State
	mark := func(i int, s tfm.State) {
		if states == nil {
			states = make([]tfm.State, len(m.Data))
		}
		states[i] |= s
	}
	for i := range m.Data {
		p := m.Point(i)
		at := n.peakAt(p.X, p.Z)
		switch {
		case !at.valid || !setup.Inside(p):
			mark(i, tfm.NoRay|tfm.Blank)
			continue
		case at.partial:
			mark(i, tfm.NoRay)
		}
		m.Data[i] = float32(math.Exp(at.log))
	}
	m.States = states
}
