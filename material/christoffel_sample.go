// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// maxSamples is the most directions that a sample of the slowness surface may
// have, some 6 GB of waves.
const maxSamples = 1 << 24

// Section samples the slowness surface along its cut with the plane through
// from and towards: the waves of k phase directions, equally spaced over a full
// turn, that start at from and turn towards the other vector. Direction i makes
// the angle 2πi/k with from. The vectors may have any length above 0 and any
// angle between them other than 0 and π; k is from 1 to 2²⁴.
//
// The slowness vectors lie in the plane; the group velocities do so only if it
// is a plane of symmetry.
func (c *Christoffel) Section(from, towards r3.Vec, k int) ([][3]PlaneWave, error) {
	u, err := unitDirection("start of section", from)
	if err != nil {
		return nil, err
	}
	w, err := unitDirection("turn of section", towards)
	if err != nil {
		return nil, err
	}
	across := r3.Sub(w, r3.Scale(r3.Dot(u, w), u))
	if !(r3.Norm(across) > 1e-9) {
		return nil, fmt.Errorf("material: turn of section %v: want a direction apart from the start %v and its opposite", towards, from)
	}
	if k < 1 || k > maxSamples {
		return nil, fmt.Errorf("material: %d directions of a section: want at least 1 and at most %d", k, maxSamples)
	}
	across = r3.Unit(across)
	out := make([][3]PlaneWave, k)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(k))
		out[i] = c.phase(r3.Add(r3.Scale(cos, u), r3.Scale(sin, across)))
	}
	return out, nil
}

// Surface samples the whole slowness surface on a grid of phase directions, for
// a picture or a table: rows of equal polar angle from +z at row 0 to −z at the
// last, columns of equal azimuth from +x towards +y. The waves of row r and
// column q are element r·columns + q; the direction has the polar angle
// πr/(rows−1) and the azimuth 2πq/columns. There are at least 2 rows and 1
// column, and at most 2²⁴ directions in all.
func (c *Christoffel) Surface(rows, columns int) ([][3]PlaneWave, error) {
	if rows < 2 || rows > maxSamples {
		return nil, fmt.Errorf("material: %d rows of a slowness surface: want at least 2 and at most %d", rows, maxSamples)
	}
	if columns < 1 || columns > maxSamples/rows {
		return nil, fmt.Errorf("material: %d columns of a slowness surface: want at least 1 and at most %d with %d rows", columns, maxSamples/rows, rows)
	}
	out := make([][3]PlaneWave, 0, rows*columns)
	for r := range rows {
		sinPolar, cosPolar := math.Sincos(math.Pi * float64(r) / float64(rows-1))
		for q := range columns {
			sin, cos := math.Sincos(2 * math.Pi * float64(q) / float64(columns))
			out = append(out, c.phase(r3.Vec{X: sinPolar * cos, Y: sinPolar * sin, Z: cosPolar}))
		}
	}
	return out, nil
}
