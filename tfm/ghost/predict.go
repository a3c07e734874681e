// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// PredictOptions modifies [Echoes.Predict]. Nil stands for the zero value.
type PredictOptions struct {
	// Names are the names of the echoes to predict, of [Echoes.Names]. Nil stands for all.
	Names []string
	// Drop is how far the ends of a line lie below the best focus of the echo, as a positive
	// number of dB, finite. 0 stands for 6.
	Drop float64
}

// Ghost is where an echo shows in a view.
type Ghost struct {
	Echo string // one of [Echoes.Names]
	// Lines run along the ridges of the predicted image of the echo, within the drop below the
	// best focus. Points are in m. An echo that focuses has one short line, across the beam.
	// Further lines are at least half a wavelength long.
	Lines [][]r3.Vec
	At    r3.Vec // place of the best focus in the grid, m
	// Focus is the amplitude there, relative to the amplitude with all traces in phase. It is 1
	// for a small reflector in its own view. It may reach 2 where an echo and its reverse, such as
	// the T-L echo of a wall, arrive together.
	Focus float64
	// LevelDB is Focus in dB. The level of the indication is the level of the echo,
	// focused along its own path, plus LevelDB.
	LevelDB float64
}

// Predict returns where echoes show in a view, within a grid of one slice. It does not return an
// echo that does not reach the grid. The order is the order of [Echoes.Names].
//
// The step of the grid should be below the length of a pulse: half a wavelength is enough. The
// time is proportional to the number of echoes, pixels and pairs. The result has the same bits for
// any number of cores. The error names what is out of range, or is the error of ctx if ctx ends
// early.
func (e *Echoes) Predict(ctx context.Context, view wedge.View, grid tfm.Grid, options *PredictOptions) ([]Ghost, error) {
	if options == nil {
		options = new(PredictOptions)
	}
	if !(options.Drop >= 0) || math.IsInf(options.Drop, 0) {
		return nil, fmt.Errorf("ghost: drop %v dB: want a finite value above 0, or 0 for 6 dB", options.Drop)
	}
	if err := grid.Validate(); err != nil {
		return nil, fmt.Errorf("ghost: %w", err)
	}
	if grid.Slices != 1 {
		return nil, fmt.Errorf("ghost: grid of %d slices: want one", grid.Slices)
	}
	chosen, err := e.choose(options.Names)
	if err != nil {
		return nil, err
	}
	transmit, receive, err := e.setup.Paths(view)
	if err != nil {
		return nil, fmt.Errorf("ghost: %w", err)
	}
	times := wedge.TimesOptions{Workers: e.workers}
	points := grid.Points()
	p := predictor{echoes: e, grid: grid}
	if p.transmit, err = transmit.Times(ctx, e.array.Elements, points, &times); err != nil {
		return nil, err
	}
	if p.receive, err = receive.Times(ctx, e.array.Elements, points, &times); err != nil {
		return nil, err
	}
	var ghosts []Ghost
	for _, c := range chosen {
		focus, err := p.image(ctx, c)
		if err != nil {
			return nil, err
		}
		if g, ok := e.trace(grid, focus, cmp.Or(options.Drop, 6)); ok {
			g.Echo = c.name
			ghosts = append(ghosts, g)
		}
	}
	return ghosts, nil
}

// choose returns the echoes of the given names, in the order of e.
func (e *Echoes) choose(names []string) (chosen []*echo, err error) {
	wanted := make(map[string]bool, len(names))
	for _, name := range names {
		if _, err := e.find(name); err != nil {
			return nil, err
		}
		wanted[name] = true
	}
	for i := range e.echoes {
		if names == nil || wanted[e.echoes[i].name] {
			chosen = append(chosen, &e.echoes[i])
		}
	}
	return chosen, nil
}

// predictor predicts images of echoes.
type predictor struct {
	echoes            *Echoes
	grid              tfm.Grid
	transmit, receive *wedge.Times
}

// image returns the focus of an echo at each pixel.
func (p *predictor) image(ctx context.Context, e *echo) ([]float64, error) {
	focus := make([]float64, p.grid.Len())
	n := len(p.echoes.array.Elements)
	all := float64(n * n)
	err := parallel.Do(ctx, p.grid.Rows, parallel.Options{Workers: p.echoes.workers}, func() func(int) error {
		back := make([]float64, n) // times from a pixel to the elements
		return func(row int) error {
			for k := row * p.grid.Cols; k < (row+1)*p.grid.Cols; k++ {
				for j := range back {
					back[j] = float64(p.receive.Seconds[j*p.receive.Points+k])
				}
				var sum complex128
				for i := range n {
					there := float64(p.transmit.Seconds[i*p.transmit.Points+k])
					for _, table := range e.tables {
						for j, arrival := range table[i*n : (i+1)*n] {
							sum += complex128(p.echoes.pulse.at(there + back[j] - float64(arrival)))
						}
					}
				}
				focus[k] = cmplx.Abs(sum) / all
			}
			return nil
		}
	})
	return focus, err
}

// faintest is the focus below which an echo does not show: -60 dB.
const faintest = 1e-3

// trace returns the place of the best focus, and the ridges within a drop below it.
func (e *Echoes) trace(g tfm.Grid, focus []float64, drop float64) (Ghost, bool) {
	best := 0
	for k, v := range focus {
		if v > focus[best] {
			best = k
		}
	}
	if !(focus[best] >= faintest) {
		return Ghost{}, false
	}
	r := ridges{grid: g, focus: focus, least: focus[best] * math.Pow(10, -drop/20), shortest: e.wavelength() / 2}
	r.mark()
	at, ok := r.at[best]
	if !ok {
		at = g.Point(best) // at the edge of the grid
	}
	return Ghost{Lines: r.lines(), At: at, Focus: focus[best], LevelDB: 20 * math.Log10(focus[best])}, true
}

// wavelength returns the wavelength of the slowest wave in the part at the centre frequency, in m.
func (e *Echoes) wavelength() float64 {
	slowest := cmp.Or(e.setup.Part.Transverse, e.setup.Part.Longitudinal)
	return slowest / e.array.CentreFrequency
}
