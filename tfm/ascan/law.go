// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/wedge"
)

// law holds the delays of the elements of a beam, in samples, in one direction. The delay of a law
// is the time along the axis of the beam minus the time of the element. It is NaN where the element
// has no ray.
type law struct {
	delays [][]float64 // for each element: one delay, or one delay a sample for a dynamic law
	mask   int         // 0 for one delay, -1 for one delay a sample
}

// at returns the delay of element i for sample k.
func (l *law) at(i, k int) float64 { return l.delays[i][k&l.mask] }

// maker makes the laws of one beam.
type maker struct {
	*tracer
	line   *Line
	beam   Beam     // complete
	places []r3.Vec // of the elements
	// first, rate and samples are the time axis: sample k lies at first + k/rate.
	first, rate float64
	samples     int
}

// law returns the law with a focus.
func (m *maker) law(ctx context.Context, f Focus) (*law, error) {
	if f.Dynamic {
		return m.dynamic(ctx)
	}
	l := &law{delays: make([][]float64, len(m.places))}
	if f.SoundPath == 0 && f.Depth == 0 {
		m.plane(l)
		return l, nil
	}
	s, err := m.focus(f)
	if err != nil {
		return nil, err
	}
	p, leg := m.line.At(s)
	table, err := m.times(ctx, []r3.Vec{p}, leg)
	if err != nil {
		return nil, err
	}
	if table.Missing == len(m.places) {
		return nil, fmt.Errorf("no element has a ray to the focus at x = %.4g m, z = %.4g m", p.X, p.Z)
	}
	for i := range l.delays {
		l.delays[i] = []float64{m.delay(s, float64(table.Seconds[i]))}
	}
	return l, nil
}

// plane sets the delays of an unfocused law: the wave is plane where the elements lie.
func (m *maker) plane(l *law) {
	from, to, speed := m.line.Legs[0].From, m.line.Legs[0].To, m.speed
	if m.line.Delay > 0 {
		from, to, speed = m.line.Centre, m.line.Exit, m.setup.Coupling.Longitudinal
	}
	direction := r3.Unit(r3.Sub(to, from))
	for i, p := range m.places {
		l.delays[i] = []float64{m.round(r3.Dot(r3.Sub(p, m.line.Centre), direction) / speed)}
	}
}

// focus returns the sound path of a focus.
func (m *maker) focus(f Focus) (float64, error) {
	if f.Depth == 0 {
		if length := m.line.Length(); f.SoundPath > length {
			return 0, fmt.Errorf("sound path of the focus %.4g m: the beam leaves the part at %.4g m", f.SoundPath, length)
		}
		return f.SoundPath, nil
	}
	n := max(f.Leg, 1)
	if n <= len(m.line.Legs) {
		if s, ok := m.line.Legs[n-1].depth(f.Depth); ok {
			return s, nil
		}
	}
	return 0, fmt.Errorf("depth of the focus %.4g m: leg %d of the beam does not come to this depth", f.Depth, n)
}

// dynamic returns the law whose focus follows the time.
func (m *maker) dynamic(ctx context.Context) (*law, error) {
	l := &law{delays: make([][]float64, len(m.places)), mask: -1}
	for i := range l.delays {
		l.delays[i] = make([]float64, m.samples)
	}
	// The samples of a leg share a table.
	for k := 0; k < m.samples; {
		first := k
		_, leg := m.line.At(m.soundPath(k))
		var points []r3.Vec
		for ; k < m.samples; k++ {
			p, n := m.line.At(m.soundPath(k))
			if n != leg {
				break
			}
			points = append(points, p)
		}
		if leg == 0 {
			for i := range l.delays {
				for j := first; j < k; j++ {
					l.delays[i][j] = math.NaN()
				}
			}
			continue
		}
		table, err := m.times(ctx, points, leg)
		if err != nil {
			return nil, err
		}
		for i := range l.delays {
			for j := range points {
				l.delays[i][first+j] = m.delay(m.soundPath(first+j), float64(table.Seconds[i*table.Points+j]))
			}
		}
	}
	return l, nil
}

// soundPath returns the sound path to which the law of a sample belongs. Before the exit point it
// is the law of the exit point.
func (m *maker) soundPath(k int) float64 { return max(m.line.SoundPath(m.first+float64(k)/m.rate), 0) }

// times returns the times from the elements to points on a leg.
func (m *maker) times(ctx context.Context, points []r3.Vec, leg int) (*wedge.Times, error) {
	path, err := m.path(leg)
	if err != nil {
		return nil, err
	}
	return path.Times(ctx, m.places, points, &wedge.TimesOptions{Workers: 1})
}

// delay returns the delay of an element whose time to the place at the sound path s is given.
func (m *maker) delay(s, time float64) float64 {
	return m.round(m.line.Delay + s/m.line.Speed - time)
}

// round rounds a delay in s to the step of the beam, and returns it in samples.
func (m *maker) round(delay float64) float64 {
	if step := m.beam.DelayStep; step > 0 {
		delay = step * math.Round(delay/step)
	}
	return delay * m.rate
}

// term is a trace that counts for a transmitter and a receiver of a beam.
type term struct {
	trace  int // index of the pair
	tx, rx int // indices into the elements of the beam
	weight float64
}

// terms returns the terms of a complete beam. In a half matrix a trace of two different elements
// counts for both directions. If both laws are equal, the trace has the same delay in both
// directions, so that it counts twice in one term.
func terms(c *fmc.Capture, b Beam) []term {
	index := make([]int, len(c.Array.Elements))
	for i := range index {
		index[i] = -1
	}
	for i, e := range b.Elements {
		index[e] = i
	}
	half := c.Layout() == fmc.Half
	var list []term
	for p, pair := range c.Pairs {
		tx, rx := index[pair.Tx], index[pair.Rx]
		if tx < 0 || rx < 0 || b.Weights[tx]*b.Weights[rx] == 0 {
			continue
		}
		weight := b.Weights[tx] * b.Weights[rx]
		switch {
		case half && tx != rx && b.Transmit == b.Receive:
			list = append(list, term{p, tx, rx, 2 * weight})
		case half && tx != rx:
			list = append(list, term{p, tx, rx, weight}, term{p, rx, tx, weight})
		default:
			list = append(list, term{p, tx, rx, weight})
		}
	}
	return list
}
