// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package volume

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// strip is an invented face along the scan: the convolution model of package sizing.
type strip struct {
	from, to  float64                        // m
	amplitude float64                        // of a face without ends
	width     float64                        // of the beam along the scan at half amplitude, m
	at        func(s float64) (x, z float64) // m
	share     func(s float64) float64        // of the amplitude that the face returns at s; nil for 1
}

// fixed returns a place that does not depend on s.
func fixed(x, z float64) func(float64) (float64, float64) {
	return func(float64) (float64, float64) { return x, z }
}

// echo returns the amplitude of the strip at s: the sum of a Gaussian over the strip.
func (f strip) echo(s float64) float64 {
	scale := 2 * math.Sqrt(math.Ln2) / f.width
	if f.to-f.from < 1e-3*f.width { // a point
		return f.amplitude * math.Exp(-scale*scale*(s-f.from)*(s-f.from))
	}
	if f.share == nil {
		return f.amplitude / 2 * (math.Erf(scale*(s-f.from)) - math.Erf(scale*(s-f.to)))
	}
	sum, n := 0.0, 2000
	step := (f.to - f.from) / float64(n)
	for k := range n {
		at := f.from + (float64(k)+0.5)*step
		sum += f.share(at) * math.Exp(-scale*scale*(s-at)*(s-at)) * step
	}
	return f.amplitude * sum * scale / math.Sqrt(math.Pi)
}

// model is sections with strips and noise, computed when they are read.
type model struct {
	grid      tfm.Grid
	positions []float64
	pitch     float64
	strips    []strip
	noise     float64 // root mean square
	seed      uint64
	reads     int
	states    []tfm.State
}

func (m *model) Len() int               { return len(m.positions) }
func (m *model) Position(i int) float64 { return m.positions[i] }
func (m *model) Pitch() float64         { return m.pitch }
func (m *model) Reference() float64     { return 1 }

// spot is the width of the point spread in x and z at half amplitude, m.
const spot = 1.5e-3

func (m *model) Section(dst *tfm.Envelope, i int) (*tfm.Envelope, error) {
	m.reads++
	if dst == nil {
		dst = &tfm.Envelope{Grid: m.grid, Data: make([]float32, m.grid.Len())}
	}
	dst.States = m.states
	s := m.positions[i]
	re := make([]float64, len(dst.Data))
	for _, f := range m.strips {
		echo := f.echo(s)
		if echo < 1e-7*f.amplitude {
			continue
		}
		x, z := f.at(min(max(s, f.from), f.to))
		along, down := bump(m.grid.Cols, m.grid.Origin.X, m.grid.Step.X, x), bump(m.grid.Rows, m.grid.Origin.Z, m.grid.Step.Z, z)
		for r, b := range down {
			for c, a := range along {
				re[r*m.grid.Cols+c] += echo * a * b
			}
		}
	}
	im := make([]float64, len(re))
	if m.noise > 0 {
		rng := rand.New(rand.NewPCG(m.seed, uint64(i)))
		m.addNoise(re, rng)
		m.addNoise(im, rng)
	}
	for p := range re {
		dst.Data[p] = float32(math.Hypot(re[p], im[p]))
	}
	return dst, nil
}

// bump returns the point spread round a place along one axis.
func bump(n int, first, step, at float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		u := (first + float64(i)*step - at) / spot
		out[i] = math.Exp(-4 * math.Ln2 * u * u)
	}
	return out
}

// addNoise adds normal noise, smoothed over 3 by 3 pixels.
func (m *model) addNoise(to []float64, rng *rand.Rand) {
	cols := m.grid.Cols
	white := make([]float64, len(to))
	for p := range white {
		white[p] = rng.NormFloat64()
	}
	for p := range to {
		sum, n := 0.0, 0
		for r := max(p/cols-1, 0); r <= min(p/cols+1, m.grid.Rows-1); r++ {
			for c := max(p%cols-1, 0); c <= min(p%cols+1, cols-1); c++ {
				sum, n = sum+white[r*cols+c], n+1
			}
		}
		to[p] += m.noise / math.Sqrt2 * sum / math.Sqrt(float64(n))
	}
}

// steps returns positions from 0 on.
func steps(pitch float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = pitch * float64(i)
	}
	return out
}

// invented returns sections of 12 by 12 mm with strips.
func invented(pitch float64, n int, strips ...strip) *model {
	return &model{
		grid:      check.Must(tfm.NewSection(-6e-3, 6e-3, 4e-3, 16e-3, 0.4e-3)),
		positions: steps(pitch, n), pitch: pitch, strips: strips,
	}
}

// gaussian returns the beam of the strips as an option.
func gaussian(width float64) func(r3.Vec) (sizing.Beam, error) {
	return func(r3.Vec) (sizing.Beam, error) { return sizing.GaussianBeam(width) }
}
