// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"math"

	"github.com/isochron-imaging/isochron/tfm"
)

// Noise is the noise of a picture. [EstimateNoise] makes it.
type Noise struct {
	// Level is the root mean square of the amplitudes of the noise, in the unit of the envelope. It
	// is 1.59 dB above the median of Rayleigh amplitudes.
	Level float64

	// CellArea is the area in m² over which the noise is correlated: the integral of the squared
	// correlation, for a Gaussian correlation.
	CellArea float64

	// Cells is the number of such areas in the picture. It is 0 if the picture has too few of them
	// for an estimate, below 20, or fewer than 400 pixels.
	Cells float64

	pixels float64 // that show something
}

// EstimateNoise estimates the noise of a section from its amplitudes. Pixels that no pair reaches
// ([tfm.Blank]), zeros, and indications down to their foot do not count. The estimate holds for
// noise of the same level throughout the picture, with Rayleigh amplitudes, as in a focused sum of
// white noise. In a picture that shows no noise, the level stands for the residual waves and the
// side lobes of echoes.
//
// The envelope must be one section of finite amplitudes, none of them negative.
func EstimateNoise(env *tfm.Envelope) (Noise, error) {
	highest, err := checkSection(env)
	if err != nil {
		return Noise{}, err
	}
	if err := checkQuantity(env); err != nil {
		return Noise{}, err
	}
	return estimateNoise(env, highest), nil
}

// fewestPixels and fewestCells are the numbers of pixels and of correlation cells below which the
// noise is not estimated. A window that an indication fills has few cells.
const fewestPixels, fewestCells = 400, 20

// resolution is the smallest relative step of a float32: amplitudes have no noise below it.
const resolution = 0x1p-24

// estimateNoise is [EstimateNoise] of a section that is valid.
func estimateNoise(env *tfm.Envelope, highest float64) Noise {
	quiet := make([]bool, len(env.Data)) // pixels of noise
	for i, v := range env.Data {
		quiet[i] = v > 0 && env.State(i)&tfm.Blank == 0
	}
	least := Noise{Level: highest * resolution}
	n := least
	const rounds = 8
	for round := range rounds {
		median, count := medianOf(env.Data, quiet)
		if count < fewestPixels {
			return least
		}
		n.Level = max(median/math.Sqrt(math.Ln2), least.Level)
		if round == 0 {
			n.pixels = float64(count) // noise is also under indications
		}
		if !silence(env, quiet, n.Level) {
			break
		}
	}
	if n.correlate(env, quiet); n.Cells < fewestCells {
		return least
	}
	return n
}

// medianOf returns the median of the amplitudes of quiet pixels and their number. Non-negative
// floats have the same order as their bits. The first pass counts the high halves of the bits, the
// second pass the low halves of the amplitudes whose high half is the high half of the median.
func medianOf(data []float32, quiet []bool) (median float64, count int) {
	var bits uint32
	below := 0
	for _, shift := range [...]uint{16, 0} {
		counts := make([]int, 1<<16)
		for i, v := range data {
			if b := math.Float32bits(v); quiet[i] && (shift == 16 || b>>16 == bits>>16) {
				counts[b>>shift&0xffff]++
			}
		}
		if shift == 16 {
			for _, n := range counts {
				count += n
			}
		}
		for half, n := range counts {
			if below+n > count/2 {
				bits |= uint32(half) << shift
				break
			}
			below += n
		}
	}
	return float64(math.Float32frombits(bits)), count
}

// foot and seed are amplitudes relative to the level of the noise. An indication is seeded by a
// pixel above seed: the probability of noise above it is 6e-6. It reaches down to foot, above
// which 5 % of the noise lies.
var foot, seed = math.Sqrt(3), math.Sqrt(12)

// silence takes the pixels of indications out of quiet, and reports whether there were any.
func silence(env *tfm.Envelope, quiet []bool, level float64) (any bool) {
	var stack []int
	take := func(p int) {
		quiet[p] = false
		stack = append(stack, p)
	}
	for i, v := range env.Data {
		if quiet[i] && float64(v) > seed*level {
			any = true
			take(i)
		}
	}
	for len(stack) > 0 {
		p := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		for q := range neighbours(env.Grid, p) {
			if quiet[q] && float64(env.Data[q]) > foot*level {
				take(q)
			}
		}
	}
	return any
}

// falseCalls is the expected number of peaks above the default floor in a picture of noise alone.
const falseCalls = 0.02

// leastFloor is the lowest default floor in dB relative to the reference. Below it, side lobes and
// grating lobes of the strongest echo are stronger than the noise of most pictures.
const leastFloor = -40

// smallFloor is the default floor in dB of a picture that is too small for an estimate of its
// noise.
const smallFloor = -20

// defaultFloor returns the default floor in dB relative to a reference.
func (n Noise) defaultFloor(reference float64) float64 {
	if n.Cells == 0 {
		return smallFloor
	}
	return max(leastFloor, LevelDB(n.Floor(falseCalls), reference))
}

// ratioDB returns the signal-to-noise ratio of an amplitude in dB, 0 if the noise is unknown.
func (n Noise) ratioDB(amplitude float64) float64 {
	if n.Cells == 0 {
		return 0
	}
	return LevelDB(amplitude, n.Level)
}

// correlate sets the area and the number of cells. The powers a and b of two pixels with the
// squared correlation c have the means E(a-b)² = 2·P²·(1-c) and E(a·b) = P²·(1+c), for Rayleigh
// amplitudes of the mean power P. The squared correlation is taken as Gaussian, exp(-d·Λ·d) at the
// distance d. Its integral is π/√det Λ.
func (n *Noise) correlate(env *tfm.Envelope, quiet []bool) {
	x, z := n.exponent(env, quiet, 1, 0), n.exponent(env, quiet, 0, 1)
	rising, falling := n.exponent(env, quiet, 1, -1), n.exponent(env, quiet, 1, 1)
	mixed := (falling - rising) / 4
	determinant := x*z - mixed*mixed
	cell := 1.0 // pixels
	if determinant > 0 {
		cell = max(cell, math.Pi/math.Sqrt(determinant))
	}
	cell = min(cell, n.pixels)
	n.CellArea = cell * env.Step.X * env.Step.Z
	n.Cells = n.pixels / cell
}

// exponent returns minus the logarithm of the squared correlation of pixels that are the given
// numbers of columns and rows apart.
func (n *Noise) exponent(env *tfm.Envelope, quiet []bool, cols, rows int) float64 {
	var differences, products float64
	for r := max(0, -rows); r < env.Rows-max(0, rows); r++ {
		for c := range env.Cols - cols {
			p := r*env.Cols + c
			q := p + rows*env.Cols + cols
			if !quiet[p] || !quiet[q] {
				continue
			}
			u, v := float64(env.Data[p])/n.Level, float64(env.Data[q])/n.Level
			a, b := u*u, v*v
			differences += (a - b) * (a - b)
			products += a * b
		}
	}
	if !(products > 0) {
		return math.Inf(1)
	}
	ratio := differences / products
	const least = 1e-3 // of the squared correlation of pixels that are independent
	return -math.Log(max(least, (2-ratio)/(2+ratio)))
}

// Floor returns the amplitude above which a picture of noise alone has the expected number of
// peaks, above 0 and at most 1. It is NaN for another number, and 0 if Cells is 0.
//
// A peak of power u, relative to the mean power of the noise, is expected n·(u - ½)·exp(-u) times
// in a picture of n correlation cells: the number of peaks of a χ² field of two degrees of freedom
// (K. J. Worsley, Adv. Appl. Probab. 26 (1994) 13, from memory). It is u - ½ times the number of
// independent cells above u.
func (n Noise) Floor(expected float64) float64 {
	if !(expected > 0 && expected <= 1) {
		return math.NaN()
	}
	if n.Cells == 0 {
		return 0
	}
	low, high := 1.5, 800.0 // powers; the number falls between them
	const halvings = 60
	for range halvings {
		u := (low + high) / 2
		if (1+min(n.pixels, n.Cells*(u-0.5)))*math.Exp(-u) > expected {
			low = u
		} else {
			high = u
		}
	}
	return n.Level * math.Sqrt(low)
}
