// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/internal/parallel"
)

// rectangle is a region of the section in which rays are searched: X is x, Y is the depth z.
type rectangle r2.Box

// validate returns an error for a region that is empty or not finite.
func (r rectangle) validate() error {
	for _, v := range []struct {
		name     string
		min, max float64
	}{{"x", r.Min.X, r.Max.X}, {"z", r.Min.Y, r.Max.Y}} {
		if !(v.max > v.min) || !number.Finite(v.max-v.min) {
			return fmt.Errorf("graded: region from %s = %v to %v m: "+
				"want finite bounds in ascending order", v.name, v.min, v.max)
		}
	}
	return nil
}

// nodes returns the number of rows and columns of a lattice over the region.
func (r rectangle) nodes(spacing float64) (rows, columns int) {
	size := r2.Box(r).Size()
	return int(math.Ceil(size.Y/spacing)) + 1, int(math.Ceil(size.X/spacing)) + 1
}

// longest returns the longer side.
func (r rectangle) longest() float64 { return max(r2.Box(r).Size().X, r2.Box(r).Size().Y) }

// away returns the distance of a point from the region, 0 inside.
func (r rectangle) away(q r3.Vec) float64 {
	return math.Hypot(max(r.Min.X-q.X, q.X-r.Max.X, 0), max(r.Min.Y-q.Z, q.Z-r.Max.Y, 0))
}

// reach is the size of the stencil in lattice steps. Edges go to all nodes in a square of this half
// side that no nearer node hides. With 5 steps the directions of the edges lie at most 11° apart. A
// path along the edges is at most 0.5 % longer than the straight line, near enough for bending to
// find the ray.
const reach = 5

// linking is the largest distance, in lattice steps, of an end of a path from the node to which it
// is joined.
const linking = 3

// mostNodes is the largest size of a lattice.
const mostNodes = 1 << 22

// offset is a step of the stencil.
type offset struct{ column, row int }

// stencil holds one of each pair of opposite steps.
var stencil = func() []offset {
	var out []offset
	for row := 0; row <= reach; row++ {
		for column := -reach; column <= reach; column++ {
			if (row > 0 || column > 0) && divisor(row, column) == 1 {
				out = append(out, offset{column, row})
			}
		}
	}
	return out
}()

// divisor returns the greatest common divisor.
func divisor(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return max(a, -a)
}

// lattice is the part as a graph: nodes, and the times over the edges between them. It does not
// change after it is made.
type lattice struct {
	part          *Part
	pol           Polarisation
	origin        r3.Vec // node of row 0 and column 0; its Y is the Y of the section
	spacing       float64
	columns, rows int
	inside        []bool
	// costs holds the time of the edge from node n over stencil step s at n*len(stencil) + s; it is
	// infinite where there is no edge.
	costs []float32
	gates []gate // nil in contact
}

// gate is a point of the entry surface through which paths enter.
type gate struct {
	at    r3.Vec
	links []link
}

// link is an edge to a node.
type link struct {
	node int32
	cost float32
}

// newLattice returns the graph of a part over a region.
func newLattice(
	ctx context.Context, p *Part, pol Polarisation, region rectangle,
	spacing, y float64, workers int,
) (*lattice, error) {
	l := &lattice{
		part: p, pol: pol, spacing: spacing,
		origin: r3.Vec{X: region.Min.X, Y: y, Z: region.Min.Y},
	}
	l.rows, l.columns = region.nodes(spacing)
	l.inside = make([]bool, l.columns*l.rows)
	l.costs = make([]float32, len(l.inside)*len(stencil))
	for n := range l.inside {
		l.inside[n] = p.inside(l.node(n), tolerance)
	}
	err := parallel.Do(ctx, l.rows, parallel.Options{Workers: workers}, func() func(int) error {
		return func(row int) error {
			l.fill(row)
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	if p.Coupling != nil {
		l.addGates(region)
	}
	return l, nil
}

// node returns the place of node n.
func (l *lattice) node(n int) r3.Vec {
	return r3.Vec{
		X: l.origin.X + l.spacing*float64(n%l.columns),
		Y: l.origin.Y,
		Z: l.origin.Z + l.spacing*float64(n/l.columns),
	}
}

// fill computes the costs of a row.
func (l *lattice) fill(row int) {
	for column := range l.columns {
		n := row*l.columns + column
		from := l.node(n)
		for s, o := range stencil {
			cost := math.Inf(1)
			if c, r := column+o.column, row+o.row; c >= 0 && c < l.columns && r < l.rows {
				if to := r*l.columns + c; l.inside[n] && l.inside[to] {
					cost = l.cost(from, l.node(to))
				}
			}
			l.costs[n*len(stencil)+s] = float32(cost)
		}
	}
}

// cost returns the time over an edge in the medium at the middle of the edge. This is good enough
// for a path that will be bent. The time is infinite where the edge leaves the part.
func (l *lattice) cost(from, to r3.Vec) float64 {
	step := r3.Sub(to, from)
	if math.Hypot(step.X, step.Z) < tolerance {
		return 0
	}
	at := middle(from, to)
	if !l.part.inside(at, contactTolerance) || l.part.blocked(from, to) {
		return math.Inf(1)
	}
	t := l.part.Media[l.part.zone(at)].Travel(l.pol, at, step).Time
	if !(t >= 0) {
		return math.Inf(1)
	}
	return t
}

// addGates samples the entry surface at half the spacing.
func (l *lattice) addGates(region rectangle) {
	entry := l.part.Entry
	low, _ := entry.Locate(r3.Vec{X: region.Min.X, Z: region.Min.Y})
	high, _ := entry.Locate(r3.Vec{X: region.Max.X, Z: region.Min.Y})
	low, high = min(low, high), max(low, high)
	n := min(int(2*(high-low)/l.spacing)+1, mostNodes)
	for i := range n + 1 {
		at := entry.At(low+(high-low)*float64(i)/float64(n), 0).P
		at.Y = l.origin.Y
		if links := l.links(at); len(links) > 0 {
			l.gates = append(l.gates, gate{at, links})
		}
	}
}

// links returns the edges from a point to the nodes around it.
func (l *lattice) links(at r3.Vec) []link {
	var out []link
	column := int(math.Round((at.X - l.origin.X) / l.spacing))
	row := int(math.Round((at.Z - l.origin.Z) / l.spacing))
	for r := max(row-linking, 0); r <= min(row+linking, l.rows-1); r++ {
		for c := max(column-linking, 0); c <= min(column+linking, l.columns-1); c++ {
			n := r*l.columns + c
			if !l.inside[n] {
				continue
			}
			if t := l.cost(at, l.node(n)); !math.IsInf(t, 1) {
				out = append(out, link{int32(n), float32(t)})
			}
		}
	}
	return out
}
