// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

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
	p := predictor{echoes: e, grid: grid}
	// An error of the default tolerance, 0.5 ns, turns a pulse of 5 MHz by 0.016 rad. The nearest
	// value of a pulse may be off by as much ([pulseSteps]).
	times := wedge.InterpolateOptions{Workers: e.workers}
	if p.transmit, err = transmit.Interpolate(ctx, e.array.Elements, grid, &times); err != nil {
		return nil, err
	}
	if p.receive = p.transmit; receive != transmit {
		if p.receive, err = receive.Interpolate(ctx, e.array.Elements, grid, &times); err != nil {
			return nil, err
		}
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
	spans := make([][]span, len(e.tables)) // of each table, one transmitter after the other
	for k, table := range e.tables {
		for row := range slices.Chunk(table, n) {
			spans[k] = appendSpans(spans[k], row)
		}
	}
	err := parallel.Do(ctx, p.grid.Rows, parallel.Options{Workers: p.echoes.workers}, func() func(int) error {
		back, backSpans := make([]float32, n), make([]span, 0, n)
		return func(row int) error {
			for k := row * p.grid.Cols; k < (row+1)*p.grid.Cols; k++ {
				for j := range back {
					back[j] = p.receive.Seconds[j*p.receive.Points+k]
				}
				backSpans = appendSpans(backSpans[:0], back)
				var sum complex128
				for i := range n {
					there := float64(p.transmit.Seconds[i*p.transmit.Points+k])
					for m, table := range e.tables {
						sum += p.sum(there, back, backSpans, table[i*n:][:n], spans[m][i*len(backSpans):])
					}
				}
				focus[k] = cmplx.Abs(sum) / float64(n*n)
			}
			return nil
		}
	})
	return focus, err
}

// sum adds what a pixel reads of an echo of one transmitter. Each receiver has a pulse at the time
// of the echo. The pixel reads the trace at the time there to the pixel plus the time back to the
// receiver. Receivers whose spans show that the pulse is 0 there are passed over.
func (p *predictor) sum(there float64, back []float32, backSpans []span, echo []float32, echoSpans []span) (sum complex128) {
	end := p.echoes.pulse.end()
	if !backSpans[0].near(there, echoSpans[0], end) {
		return 0
	}
	for from := 0; from < len(back); from += group {
		if k := 1 + from/group; !backSpans[k].near(there, echoSpans[k], end) {
			continue
		}
		for j := from; j < min(from+group, len(back)); j++ {
			sum += complex128(p.echoes.pulse.at(there + float64(back[j]) - float64(echo[j])))
		}
	}
	return sum
}

// group is the number of neighbouring receivers in a span. Spans of fewer times are shorter, but
// there are more of them.
const group = 8

// span holds the first and the last of some times, in s. If no time is known, first is +Inf and
// last is -Inf, so that the span is far from every other span.
type span struct{ first, last float64 }

// near reports whether a time of s, plus the time there, may be less than end from a time of other.
func (s span) near(there float64, other span, end float64) bool {
	return there+s.first-other.last < end && there+s.last-other.first > -end
}

// appendSpans appends the span of all times to list, and then the spans of the groups.
func appendSpans(list []span, times []float32) []span {
	whole := len(list)
	list = append(list, span{math.Inf(1), math.Inf(-1)})
	for part := range slices.Chunk(times, group) {
		s := span{math.Inf(1), math.Inf(-1)}
		for _, t := range part {
			if t := float64(t); !math.IsNaN(t) {
				s = span{min(s.first, t), max(s.last, t)}
			}
		}
		list = append(list, s)
		list[whole] = span{min(list[whole].first, s.first), max(list[whole].last, s.last)}
	}
	return list
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
