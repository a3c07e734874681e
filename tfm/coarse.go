// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
	"github.com/isochron-imaging/isochron/wedge"
)

// coarseLoss is the loss in dB above which a grid counts as coarse. The loss is how far the
// highest pixel lies below the peak of an echo that is midway between pixels.
const coarseLoss = 2

// Blocks of coarseRows × coarseCols pixels take their state from one pixel among them. The
// slopes of times hardly change over so few pixels.
const coarseRows, coarseCols = window.Rows, window.Cols

// sampling tells how much of an echo is lost between the pixels of a grid.
//
// From a pixel to a point half a step off along each axis, the time of a pair changes by
// u. The image of an echo at that point sums, at the pixel, analytic signals that are
// u early. A Gaussian pulse of centre frequency f and -6 dB bandwidth b (Hz) adds
//
//	exp(-(π·b·u)²/(4·ln 2)) · exp(-2πi·f·u).
//
// Let mean u and var u be the mean and the variance of u over the pairs. To the second order the
// loss of the sum is
//
//	20/ln 10 · (½·(2π·f)²·var u + (π·b)²/(4·ln 2)·(var u + mean² u)) dB.
//
// The first term comes from the focus of the array, the second term from the length of the pulse.
// u is the sum of the changes on both paths, so the mean of u is the sum of two means. The
// variance of u is the sum of two variances if every transmitter is paired with every receiver.
// The code assumes this.
type sampling struct {
	*coverage
	grid         Grid
	focus, pulse float64 // the two factors, dB/s²
}

func newSampling(v *coverage, g Grid, array fmc.Array) *sampling {
	const dB = 20 / math.Ln10
	omega, width := 2*math.Pi*array.CentreFrequency, math.Pi*array.Bandwidth*array.CentreFrequency
	return &sampling{v, g, dB * omega * omega / 2, dB * width * width / (4 * math.Ln2)}
}

// mark adds CoarseGrid to the pixels where the loss is too large, except blank pixels.
func (s *sampling) mark(states []State) {
	g := s.grid
	strips := (g.Rows + coarseRows - 1) / coarseRows // of blocks in a slice
	parallel.Each(s.workers, g.Slices*strips, func() func(int) {
		return func(strip int) {
			for col := 0; col < g.Cols; col += coarseCols {
				s.markBlock(states, strip/strips, strip%strips*coarseRows, col)
			}
		}
	})
}

// markBlock marks the block of pixels that begins at the given pixel.
func (s *sampling) markBlock(states []State, slice, row, col int) {
	g := s.grid
	var shown [coarseRows * coarseCols]int
	pixels := shown[:0]
	for r := row; r < min(row+coarseRows, g.Rows); r++ {
		for c := col; c < min(col+coarseCols, g.Cols); c++ {
			if p := (slice*g.Rows+r)*g.Cols + c; states[p]&Blank == 0 {
				pixels = append(pixels, p)
			}
		}
	}
	if len(pixels) == 0 || s.loss(pixels[len(pixels)/2]) <= coarseLoss {
		return
	}
	for _, p := range pixels {
		states[p] |= CoarseGrid
	}
}

// loss returns the loss of an echo half a step off pixel p along each axis, in dB. It takes the
// direction in which the loss is largest.
func (s *sampling) loss(p int) float64 {
	g := s.grid
	x := neighbour(p%g.Cols, g.Cols, 1)
	z := neighbour(p/g.Cols%g.Rows, g.Rows, g.Cols)
	y := neighbour(p/g.Cols/g.Rows, g.Slices, g.Cols*g.Rows)
	worst := 0.0
	for _, signs := range [...][2]float64{{1, 1}, {-1, 1}, {1, -1}, {-1, -1}} {
		if signs[1] < 0 && y == 0 {
			break
		}
		offsets, halves := [3]int{x, z, y}, [3]float64{0.5, signs[0] / 2, signs[1] / 2}
		sentMean, sentVariance := changes(s.tx, s.senders, p, offsets, halves)
		receivedMean, receivedVariance := sentMean, sentVariance
		if s.rx != s.tx {
			receivedMean, receivedVariance = changes(s.rx, s.receivers, p, offsets, halves)
		}
		mean, variance := sentMean+receivedMean, sentVariance+receivedVariance
		worst = max(worst, s.focus*variance+s.pulse*(variance+mean*mean))
	}
	return worst
}

// neighbour returns the distance in indices to a neighbour of pixel i of n along an axis
// of the given stride; 0 if there is none.
func neighbour(i, n, stride int) int {
	switch {
	case n == 1:
		return 0
	case i == n-1:
		return -stride
	}
	return stride
}

// changes returns the mean and the variance, over the elements, of the change of time from pixel p
// to a point. Along each axis the point lies a share of the way to the neighbour of p at an
// offset. An element without a ray to one of these pixels is left out.
func changes(t *wedge.Times, elements []int, p int, offsets [3]int, shares [3]float64) (mean, variance float64) {
	n, sum, squares := 0.0, 0.0, 0.0
	for _, e := range elements {
		seconds := t.Seconds[e*t.Points:][:t.Points]
		u := 0.0
		for axis, offset := range offsets {
			u += shares[axis] * (float64(seconds[p+offset]) - float64(seconds[p]))
		}
		if !math.IsNaN(u) {
			n++
			sum += u
			squares += u * u
		}
	}
	if n == 0 {
		return 0, 0
	}
	mean = sum / n
	return mean, max(0, squares/n-mean*mean)
}
