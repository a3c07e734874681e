// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// focuser sums images pair by pair, so that the part of each pair in the sharpness is known.
type focuser struct {
	o       FocusOptions
	capture *fmc.Capture
	view    wedge.View
	regions []tfm.Grid
	trial   Trial
	pairs   []pairSignals
}

// pairSignals is the sum of the analytic signals between two elements in one direction, or in both.
type pairSignals struct {
	transmit, receive int
	count             float64 // number of signals in the sum
	samples           []complex64
}

// prepare makes the analytic signals. In a symmetric view both directions of a pair have the same
// times, so their signals are added.
func (f *focuser) prepare() error {
	c := f.capture
	if c.Layout() == fmc.Half {
		full, err := c.Full()
		if err != nil {
			return err
		}
		c = full
	}
	transform, err := tfm.NewAnalytic(c.Samples, c.SampleRate, f.o.Band)
	if err != nil {
		return err
	}
	n := len(c.Array.Elements)
	place := make([]int, n*n) // in pairs, plus 1
	for pair, trace := range c.Traces() {
		samples := make([]complex64, c.Samples)
		if err := transform.Transform(samples, trace); err != nil {
			return fmt.Errorf("adapt: trace of %v: %w", pair, err)
		}
		one, two := pair.Tx, pair.Rx
		if f.view.Symmetric() {
			one, two = min(one, two), max(one, two)
		}
		at := &place[one*n+two]
		if *at > 0 {
			p := &f.pairs[*at-1]
			p.count++
			for k, v := range samples {
				p.samples[k] += v
			}
			continue
		}
		f.pairs = append(f.pairs, pairSignals{one, two, 1, samples})
		*at = len(f.pairs)
	}
	return nil
}

// sum is a focused image of a region for one value of the parameter.
type sum struct {
	region            tfm.Grid
	transmit, receive table
	image             []complex64
}

// geometry returns the geometry of the trial for a value.
func (f *focuser) geometry(value float64) (*wedge.Setup, []r3.Vec, error) {
	setup, elements, err := f.trial(value)
	if err != nil {
		return nil, nil, err
	}
	if setup == nil {
		return nil, nil, fmt.Errorf("adapt: trial of %v without a set-up: want one", value)
	}
	if n := len(f.capture.Array.Elements); len(elements) != n {
		return nil, nil, fmt.Errorf("adapt: trial of %d elements: want the %d of the capture", len(elements), n)
	}
	return setup, elements, nil
}

// sums images the regions.
func (f *focuser) sums(ctx context.Context, value float64) ([]sum, error) {
	setup, elements, err := f.geometry(value)
	if err != nil {
		return nil, err
	}
	transmit, receive, err := setup.Paths(f.view)
	if err != nil {
		return nil, err
	}
	transmitPhases, err := newPhases(setup, transmit, elements)
	if err != nil {
		return nil, err
	}
	receivePhases := transmitPhases
	if transmit != receive {
		if receivePhases, err = newPhases(setup, receive, elements); err != nil {
			return nil, err
		}
	}
	out := make([]sum, len(f.regions))
	for i, region := range f.regions {
		s := sum{region: region, image: make([]complex64, region.Len())}
		if s.transmit, err = f.table(ctx, transmitPhases, region); err != nil {
			return nil, err
		}
		s.receive = s.transmit
		if transmit != receive {
			if s.receive, err = f.table(ctx, receivePhases, region); err != nil {
				return nil, err
			}
		}
		for _, p := range f.pairs {
			f.add(s.image, &s, p)
		}
		out[i] = s
	}
	return out, nil
}

// table holds the times along a path from each element to each pixel of a region, and the phases.
type table struct {
	seconds []float32
	x, z    []float32 // slowness vector of the ray that arrives, s/m; nil for reflectors without size
	phases  *phases
	turns   []complex128 // factors of the elements by phases.at
}

// timeError is the largest error of interpolated times, s. At 5 MHz it is a phase of 0.003 rad.
const timeError = 1e-10

// table makes the table of a path, with the phases at the middle of the region. The slowness
// vectors are the gradients of the times.
func (f *focuser) table(ctx context.Context, p *phases, g tfm.Grid) (table, error) {
	times, err := p.path.Interpolate(ctx, p.elements, g, &wedge.InterpolateOptions{Workers: 1, Tolerance: timeError})
	if err != nil {
		return table{}, err
	}
	t := table{seconds: times.Seconds, phases: p}
	t.turns = p.at(g.Point(g.Rows/2*g.Cols + g.Cols/2))
	if f.o.Radius == 0 {
		return t, nil
	}
	t.x, t.z = make([]float32, len(t.seconds)), make([]float32, len(t.seconds))
	for e := range p.elements {
		seconds := t.seconds[e*g.Len():][:g.Len()]
		for q := range seconds {
			c, r := q%g.Cols, q/g.Cols
			left, right := max(c-1, 0), min(c+1, g.Cols-1)
			up, down := max(r-1, 0), min(r+1, g.Rows-1)
			t.x[e*g.Len()+q] = (seconds[r*g.Cols+right] - seconds[r*g.Cols+left]) / float32(float64(right-left)*g.Step.X)
			t.z[e*g.Len()+q] = (seconds[down*g.Cols+c] - seconds[up*g.Cols+c]) / float32(float64(down-up)*g.Step.Z)
		}
	}
	return t, nil
}

// add adds the part of a pair to an image.
//
// The echo of a hole takes the path of stationary time over the face of the hole. To first order in
// the radius, it comes before the echo of a point on the axis by the radius times the length of the
// sum of both slowness vectors.
func (f *focuser) add(dst []complex64, s *sum, p pairSignals) {
	c, n := f.capture, s.region.Len()
	i, j := p.transmit*n, p.receive*n
	turn := complex64(s.transmit.turns[p.transmit] * s.receive.turns[p.receive])
	for q := range dst {
		time := float64(s.transmit.seconds[i+q] + s.receive.seconds[j+q])
		if f.o.Radius > 0 {
			x, z := s.transmit.x[i+q]+s.receive.x[j+q], s.transmit.z[i+q]+s.receive.z[j+q]
			time -= f.o.Radius * math.Sqrt(float64(x*x+z*z))
		}
		k := (time - c.FirstSample) * c.SampleRate
		if !(k >= 1 && k < float64(c.Samples-2)) {
			continue
		}
		dst[q] += turn * interpolate(p.samples, k)
	}
}

// interpolate returns the value of a signal at sample k, at least 1 and below len(samples)-2, from
// the cubic polynomial through four samples. A straight line between two samples loses up to 0.4 dB
// at 10 samples a period, and that loss would shift the sharpest value.
func interpolate(samples []complex64, k float64) complex64 {
	i := int(k)
	t := float32(k - float64(i))
	s := samples[i-1:][:4]
	a, b, c, d := -t*(t-1)*(t-2)/6, (t+1)*(t-1)*(t-2)/2, -(t+1)*t*(t-2)/2, (t+1)*t*(t-1)/6
	return complex(a*real(s[0])+b*real(s[1])+c*real(s[2])+d*real(s[3]),
		a*imag(s[0])+b*imag(s[1])+c*imag(s[2])+d*imag(s[3]))
}

// reading is the image for one value of the parameter.
type reading struct {
	level float64 // of the peaks in dB, as the mean over the regions
	edge  bool    // a peak lies at the edge of its region
	spots []spot  // of each region
}

var errEmpty = errors.New("the record holds no echo of the regions")

// read images the regions for a value, and finds their peaks.
func (f *focuser) read(ctx context.Context, value float64) (reading, error) {
	sums, err := f.sums(ctx, value)
	if err != nil {
		return reading{}, err
	}
	var r reading
	share := 1 / float64(len(sums))
	for i := range sums {
		s := &sums[i]
		top := f.spot(s)
		if math.IsInf(top.level, -1) {
			return reading{}, fmt.Errorf("adapt: value %v, region %d: %w", value, i, errEmpty)
		}
		r.level += share * top.level
		r.edge = r.edge || top.edge
		r.spots = append(r.spots, top)
	}
	return r, nil
}
