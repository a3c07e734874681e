// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/tfm"
)

// ridges finds the ridges of an image. A pixel lies on a ridge if it is a maximum along the
// direction, of four, in which the image is curved most.
type ridges struct {
	grid     tfm.Grid
	focus    []float64
	least    float64        // of a pixel on a ridge
	shortest float64        // length of a further line, m
	at       map[int]r3.Vec // place of the ridge at each of its pixels, between pixels
	used     map[int]bool
}

// mark finds the pixels on ridges.
func (r *ridges) mark() {
	r.at = map[int]r3.Vec{}
	for row := range r.grid.Rows {
		for col := range r.grid.Cols {
			if k := row*r.grid.Cols + col; r.focus[k] >= r.least {
				if shift, ok := r.crest(row, col); ok {
					r.at[k] = r3.Add(r.grid.Point(k), shift)
				}
			}
		}
	}
}

// crest returns how far the ridge lies from a pixel, in m, and whether the pixel is on a ridge. At
// the edge of the grid only the directions along the edge count.
func (r *ridges) crest(row, col int) (shift r3.Vec, ok bool) {
	k := row*r.grid.Cols + col
	sharpest := 0.0
	for _, d := range [...][2]int{{0, 1}, {1, 0}, {1, 1}, {1, -1}} {
		if row-d[0] < 0 || row+d[0] >= r.grid.Rows || min(col-d[1], col+d[1]) < 0 || max(col-d[1], col+d[1]) >= r.grid.Cols {
			continue
		}
		step := d[0]*r.grid.Cols + d[1]
		before, after := r.focus[k-step], r.focus[k+step]
		way := r3.Vec{X: float64(d[1]) * r.grid.Step.X, Z: float64(d[0]) * r.grid.Step.Z}
		bend := (2*r.focus[k] - before - after) / r3.Norm2(way)
		if bend <= sharpest {
			continue
		}
		sharpest = bend
		// Of two equal neighbours on both sides of a ridge, one lies on it.
		if ok = r.focus[k] >= before && r.focus[k] > after; ok {
			shift = r3.Scale((after-before)/(2*bend*r3.Norm2(way)), way)
		}
	}
	return shift, ok
}

// lines joins the pixels on ridges to lines, from the strongest pixel of each line. Beside the
// first line, short ones are left out: they are saddles and shoulders of the pulse, not places of
// an echo.
func (r *ridges) lines() (lines [][]r3.Vec) {
	r.used = map[int]bool{}
	starts := slices.SortedFunc(maps.Keys(r.at), func(a, b int) int {
		return cmp.Or(cmp.Compare(r.focus[b], r.focus[a]), cmp.Compare(a, b))
	})
	for _, start := range starts {
		if r.used[start] {
			continue
		}
		r.used[start] = true
		one := r.follow(start)
		other := r.follow(start)
		var line []r3.Vec
		for i := len(other) - 1; i >= 0; i-- {
			line = append(line, r.at[other[i]])
		}
		line = append(line, r.at[start])
		for _, k := range one {
			line = append(line, r.at[k])
		}
		if len(line) > 1 && (len(lines) == 0 || length(line) >= r.shortest) {
			lines = append(lines, line)
		}
	}
	return lines
}

// length returns the length of a line in m.
func length(line []r3.Vec) (sum float64) {
	for i := 1; i < len(line); i++ {
		sum += r3.Norm(r3.Sub(line[i], line[i-1]))
	}
	return sum
}

// follow returns the pixels of a ridge from a pixel in one direction. It goes to the nearest place
// of the ridge at the neighbours that is ahead, and uses up all neighbours that it passes.
func (r *ridges) follow(from int) (way []int) {
	var heading r3.Vec
	for {
		next, least := -1, math.Inf(1)
		var passed []int
		for _, k := range r.neighbours(from) {
			to, on := r.at[k]
			if !on || r.used[k] {
				continue
			}
			d := r3.Sub(to, r.at[from])
			if r3.Dot(d, heading) < 0 {
				continue
			}
			passed = append(passed, k)
			if far := r3.Norm(d); far < least {
				next, least = k, far
			}
		}
		if next < 0 {
			return way
		}
		if heading == (r3.Vec{}) {
			passed = []int{next} // the others may lie in the other direction
		}
		for _, k := range passed {
			r.used[k] = true
		}
		heading = r3.Sub(r.at[next], r.at[from])
		way = append(way, next)
		from = next
	}
}

// neighbours returns the pixels that touch a pixel.
func (r *ridges) neighbours(k int) (all []int) {
	row, col := k/r.grid.Cols, k%r.grid.Cols
	for i := max(row-1, 0); i <= min(row+1, r.grid.Rows-1); i++ {
		for j := max(col-1, 0); j <= min(col+1, r.grid.Cols-1); j++ {
			if i != row || j != col {
				all = append(all, i*r.grid.Cols+j)
			}
		}
	}
	return all
}
