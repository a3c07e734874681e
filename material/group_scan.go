// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// The constants of the scan were set by counting what a wider search adds in
// random solids (see GroupSolver); TestArrivalCount guards them.
const (
	// scanCells is the number of cells along the edge of a cube face, 2° each.
	scanCells = 45

	// scanSpread is the angle of group directions above which a cell is split
	// in four, and scanSplits the number of times that is done at most. In
	// metals only cells next to points where the sheets meet spread so far.
	scanSpread = 8 * math.Pi / 180
	scanSplits = 6

	// scanFan is the number of polarisations tried where sheets meet.
	scanFan = 8

	// scanMost is the most squares that splitting may make at a time, so that a
	// solid beyond all metals, with cells that spread everywhere, cannot fill
	// the memory.
	scanMost = 10000

	// scanMargin widens the range of group directions of a cell beyond those
	// seen at its corners, since their variation inside is not linear.
	scanMargin = 1.5
)

// groupCell is a patch of phase directions with the group directions of one
// quasi-transverse wave.
type groupCell struct {
	normal       r3.Vec  // phase direction of the centre
	polarisation r3.Vec  // polarisation of the centre
	group        r3.Vec  // unit vector along the group velocity of the centre
	cosine       float64 // of the angle about group that holds the group directions of the patch
}

// scanSquare is a square on a face of the cube, of which a cell is the image:
// its centre in the coordinates of at, and half its width.
type scanSquare struct {
	face       int
	x, y, half float64
}

// scanSheets returns cells of both quasi-transverse waves over half of all phase
// directions; n and −n carry the same waves. The cells are those of a square
// grid on three faces of a cube, projected on the sphere, split where needed.
func scanSheets(c *Christoffel) []groupCell {
	const half = 1.0 / scanCells
	var squares []scanSquare
	for face := range 3 {
		for i := range scanCells {
			for j := range scanCells {
				squares = append(squares, scanSquare{face, half*float64(2*i+1) - 1, half*float64(2*j+1) - 1, half})
			}
		}
	}
	var cells []groupCell
	for level := 0; len(squares) > 0; level++ {
		var wide []scanSquare
		var wideCells []groupCell
		for _, s := range squares {
			found := s.cells(c)
			if min(found[0].cosine, found[1].cosine) < math.Cos(scanSpread) {
				wide = append(wide, s)
				wideCells = append(wideCells, found...)
				continue
			}
			cells = append(cells, found...)
		}
		if level == scanSplits || 4*len(wide) > scanMost {
			cells = append(cells, wideCells...)
			break
		}
		squares = squares[:0]
		for _, s := range wide {
			squares = append(squares, s.quarters()...)
		}
	}
	for i := range cells {
		radius := scanMargin * math.Acos(max(cells[i].cosine, -1))
		cells[i].cosine = math.Cos(min(radius, math.Pi/2))
	}
	return cells
}

// quarters returns the four squares that s is made of.
func (s scanSquare) quarters() []scanSquare {
	h := s.half / 2
	return []scanSquare{
		{s.face, s.x - h, s.y - h, h}, {s.face, s.x - h, s.y + h, h},
		{s.face, s.x + h, s.y - h, h}, {s.face, s.x + h, s.y + h, h},
	}
}

// cells returns the cells of the two quasi-transverse waves over s, and more of
// them if the sheets meet or nearly meet in s. There, while the waves exchange
// their polarisations, their group velocities run through all that belong to the
// polarisations between, and in a strip that may be much narrower than s.
func (s scanSquare) cells(c *Christoffel) []groupCell {
	centre := s.at(c, 0, 0)
	cells := []groupCell{newGroupCell(centre[QT1]), newGroupCell(centre[QT2])}
	exchanged := false
	for _, dx := range [2]float64{-s.half, s.half} {
		for _, dy := range [2]float64{-s.half, s.half} {
			corner := s.at(c, dx, dy)
			for i := range cells {
				if w := cells[i].follow(corner); w.Sheet != centre[1+i].Sheet {
					exchanged = true
				}
			}
		}
	}
	if exchanged {
		cells = append(cells, fan(c, centre, min(cells[0].cosine, cells[1].cosine))...)
	}
	return cells
}

// fan returns cells for the polarisations between those of the two
// quasi-transverse waves of the centre. Their group directions spread at least as
// far as the given cosine says.
func fan(c *Christoffel, centre [3]PlaneWave, cosine float64) []groupCell {
	n := centre[QL].Normal
	var cells [scanFan]groupCell
	for k := range cells {
		sin, cos := math.Sincos(math.Pi * (float64(k) + 0.5) / scanFan)
		p := r3.Add(r3.Scale(cos, centre[QT1].Polarisation), r3.Scale(sin, centre[QT2].Polarisation))
		own := c.between(p, p)
		cells[k] = groupCell{n, p, r3.Unit(own.mulVec(n)), cosine}
	}
	for k := range cells {
		next := &cells[(k+1)%scanFan]
		apart := r3.Dot(cells[k].group, next.group)
		cells[k].cosine, next.cosine = min(cells[k].cosine, apart), min(next.cosine, apart)
	}
	return cells[:]
}

// at returns the waves at dx, dy from the centre of s. The coordinates run from
// −1 to 1 on a face; they are angles along its middle lines, in units of 45°, so
// that the squares are about equal in size on the sphere.
func (s scanSquare) at(c *Christoffel, dx, dy float64) [3]PlaneWave {
	axes := [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}
	x, y := math.Tan(math.Pi/4*(s.x+dx)), math.Tan(math.Pi/4*(s.y+dy))
	return c.phase(r3.Unit(onPlane(axes[s.face], axes[(s.face+1)%3], axes[(s.face+2)%3], x, y)))
}

// newGroupCell returns the cell of w alone.
func newGroupCell(w PlaneWave) groupCell {
	return groupCell{w.Normal, w.Polarisation, r3.Unit(w.Group), 1}
}

// follow makes the cell hold the group direction of the wave at a corner that is
// polarised like its own, whatever the order of speeds there, and returns it.
func (g *groupCell) follow(corner [3]PlaneWave) PlaneWave {
	w := corner[QT1]
	if math.Abs(r3.Dot(g.polarisation, corner[QT2].Polarisation)) > math.Abs(r3.Dot(g.polarisation, w.Polarisation)) {
		w = corner[QT2]
	}
	g.cosine = min(g.cosine, r3.Dot(g.group, w.Group)/w.GroupSpeed())
	return w
}
