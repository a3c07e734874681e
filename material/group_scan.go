// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// The scan holds both quasi-transverse sheets as cells of phase directions about 2° wide, with the
// range of group directions of each cell. Newton's method starts in every cell that may hold the
// wanted direction. Where the sheets meet or nearly meet, it also starts from the polarisations
// between the two waves.
//
// The constants were chosen by counting the additional arrivals of a wider search. It was tried in
// 24000 random directions of 400 random solids, more anisotropic than most metals. Every count had
// the parity that the topology of the sheets requires, and a search twice as wide found no more.
// TestArrivalCount guards them.
const (
	// scanCells is the number of cells along the edge of a cube face, 2° each.
	scanCells = 45

	// scanSpread is the range of group directions in radians above which a cell is split in four.
	// scanSplits is the largest number of successive splits. In metals only cells next to points
	// where the sheets meet have such a range.
	scanSpread = 8 * math.Pi / 180
	scanSplits = 6

	// scanFan is the number of polarisations tried where sheets meet.
	scanFan = 8

	// scanMost is the largest number of squares after one round of splits. It limits the memory for
	// a solid more anisotropic than all metals, in which every cell would be split.
	scanMost = 10000

	// scanMargin widens the range of group directions of a cell. The range is measured at the
	// corners, and the variation inside the cell is not linear.
	scanMargin = 1.5
)

// groupCell is a patch of phase directions with the group directions of one quasi-transverse wave.
type groupCell struct {
	normal       r3.Vec  // phase direction of the centre
	polarisation r3.Vec  // polarisation of the centre
	group        r3.Vec  // unit vector along the group velocity of the centre
	cosine       float64 // of the largest angle between group and the group directions of the patch
}

// scanSquare is a square on a face of the cube whose image is a cell: the centre in the coordinates
// of at, and half the width.
type scanSquare struct {
	face       int
	x, y, half float64
}

// scanSheets returns cells of both quasi-transverse waves over half of all phase directions,
// because n and −n carry the same waves. The cells are a square grid on three faces of a cube,
// projected on the sphere and split where needed.
func scanSheets(c *Christoffel) []groupCell {
	const half = 1.0 / scanCells
	var squares []scanSquare
	for face := range 3 {
		for i := range scanCells {
			for j := range scanCells {
				x, y := half*float64(2*i+1)-1, half*float64(2*j+1)-1
				squares = append(squares, scanSquare{face, x, y, half})
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

// quarters returns the four squares that divide s.
func (s scanSquare) quarters() []scanSquare {
	h := s.half / 2
	return []scanSquare{
		{s.face, s.x - h, s.y - h, h}, {s.face, s.x - h, s.y + h, h},
		{s.face, s.x + h, s.y - h, h}, {s.face, s.x + h, s.y + h, h},
	}
}

// cells returns the cells of the two quasi-transverse waves over s, and additional cells if the
// sheets meet or nearly meet in s. There the waves exchange their polarisations, perhaps in a strip
// much narrower than s, and their group velocities take the values of all polarisations between the
// two.
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

// fan returns cells for polarisations between the polarisations of the two quasi-transverse waves
// of the centre. The given cosine is the smallest range of group directions of each cell.
func fan(c *Christoffel, centre [3]PlaneWave, cosine float64) []groupCell {
	n := centre[QL].Normal
	var cells [scanFan]groupCell
	for k := range cells {
		sin, cos := math.Sincos(math.Pi * (float64(k) + 0.5) / scanFan)
		p1, p2 := centre[QT1].Polarisation, centre[QT2].Polarisation
		p := r3.Add(r3.Scale(cos, p1), r3.Scale(sin, p2))
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

// at returns the waves at dx, dy from the centre of s. The coordinates run from −1 to 1 on a face.
// They are angles along the middle lines of the face, in units of 45°, which makes the squares
// nearly equal on the sphere.
func (s scanSquare) at(c *Christoffel, dx, dy float64) [3]PlaneWave {
	axes := [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}
	x, y := math.Tan(math.Pi/4*(s.x+dx)), math.Tan(math.Pi/4*(s.y+dy))
	return c.phase(r3.Unit(onPlane(axes[s.face], axes[(s.face+1)%3], axes[(s.face+2)%3], x, y)))
}

// newGroupCell returns the cell that holds the group direction of w only.
func newGroupCell(w PlaneWave) groupCell {
	return groupCell{w.Normal, w.Polarisation, r3.Unit(w.Group), 1}
}

// follow extends the cell to the group direction of a wave at a corner and returns that wave. It is
// the wave whose polarisation is nearest to the polarisation of the cell, in either order of
// speeds.
func (g *groupCell) follow(corner [3]PlaneWave) PlaneWave {
	w, other := corner[QT1], corner[QT2]
	own := math.Abs(r3.Dot(g.polarisation, w.Polarisation))
	if math.Abs(r3.Dot(g.polarisation, other.Polarisation)) > own {
		w = other
	}
	g.cosine = min(g.cosine, r3.Dot(g.group, w.Group)/w.GroupSpeed())
	return w
}
