// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm"
)

// fitRange is the least amplitude, as a share of the highest pixel, of neighbours through which a
// parabola is fitted: 12 dB below it. Lower neighbours mean that the peak is too narrow for the
// grid. A parabola through their logarithms would give a peak that is far too high. Within
// fitRange the parabola adds at most 1.5 dB an axis.
const fitRange = 0.25

// fitReach is how far from the highest pixel, in pixels along each axis, the peak of a quadratic
// of both axes may lie. On a narrow ridge that is oblique to the grid, the highest pixel is the
// pixel nearest to the line of the ridge, not the pixel nearest to its top.
const fitReach = 2

// peakAmplitude returns the amplitude of a peak that lies gain, a logarithm,
// above the highest pixel of amplitude top. It is limited to half the drop, so that
// the pixel stays inside the contour.
func peakAmplitude(top, gain, ratio float64) float64 {
	return min(top*math.Exp(gain), top/math.Sqrt(ratio))
}

// patch holds the logarithms of the amplitudes round a pixel, relative to it: the first index is
// the row from above to below, the second the column. A value outside the section or outside the
// range of the fit is NaN.
type patch [3][3]float64

func newPatch(env *tfm.Envelope, p int) patch {
	r, c := p/env.Cols, p%env.Cols
	centre := float64(env.Data[p])
	var logs patch
	for i := range 3 {
		for j := range 3 {
			logs[i][j] = math.NaN()
			row, col := r+i-1, c+j-1
			if row < 0 || row >= env.Rows || col < 0 || col >= env.Cols {
				continue
			}
			if v := float64(env.Data[row*env.Cols+col]); v >= fitRange*centre {
				logs[i][j] = math.Log(v / centre)
			}
		}
	}
	return logs
}

// vertex returns where the amplitude is highest, in pixels from the middle pixel, and the logarithm
// of the amplitude there. It uses the quadratic of both axes if all of the patch is known and the
// vertex lies within fitReach. Otherwise it fits each axis whose two neighbours are known.
func (w patch) vertex() (dx, dz, gain float64) {
	if dx, dz, gain, ok := w.quadratic(); ok {
		return dx, dz, gain
	}
	dx, gx := number.Vertex(w[1][0], 0, w[1][2])
	dz, gz := number.Vertex(w[0][1], 0, w[2][1])
	return dx, dz, gx + gz
}

// quadratic returns the vertex of the quadratic whose coefficients are the central differences of
// the patch. If a value is NaN, ok is false.
func (w patch) quadratic() (dx, dz, gain float64, ok bool) {
	gx, gz := (w[1][2]-w[1][0])/2, (w[2][1]-w[0][1])/2
	xx, zz := w[1][2]+w[1][0], w[2][1]+w[0][1]
	xz := (w[2][2] - w[2][0] - w[0][2] + w[0][0]) / 4
	det := xx*zz - xz*xz
	if !(xx < 0 && det > 0) {
		return 0, 0, 0, false
	}
	dx = (xz*gz - zz*gx) / det
	dz = (xz*gx - xx*gz) / det
	return dx, dz, (gx*dx + gz*dz) / 2, math.Abs(dx) <= fitReach && math.Abs(dz) <= fitReach
}
