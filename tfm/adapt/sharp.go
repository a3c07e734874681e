// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/cmplx"

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

// pairSignals holds the analytic signals between two elements: in one direction, or in both.
type pairSignals struct {
	one, two int
	signals  []directed
}

type directed struct {
	transmit, receive int
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
		one, two := min(pair.Tx, pair.Rx), max(pair.Tx, pair.Rx)
		at := &place[one*n+two]
		if *at == 0 {
			f.pairs = append(f.pairs, pairSignals{one: one, two: two})
			*at = len(f.pairs)
		}
		p := &f.pairs[*at-1]
		if f.view.Symmetric() && len(p.signals) > 0 {
			for k, v := range samples {
				p.signals[0].samples[k] += v
			}
			continue
		}
		p.signals = append(p.signals, directed{pair.Tx, pair.Rx, samples})
	}
	return nil
}

// sum is a focused image of a region for one value of the parameter.
type sum struct {
	region            tfm.Grid
	transmit, receive table
	image             []complex64
}

// sums images the regions.
func (f *focuser) sums(ctx context.Context, value float64) ([]sum, error) {
	setup, elements, err := f.trial(value)
	if err != nil {
		return nil, err
	}
	if len(elements) != len(f.capture.Array.Elements) {
		return nil, fmt.Errorf("adapt: trial of %d elements: want the %d of the capture",
			len(elements), len(f.capture.Array.Elements))
	}
	transmit, receive, err := setup.Paths(f.view)
	if err != nil {
		return nil, err
	}
	out := make([]sum, len(f.regions))
	for i, region := range f.regions {
		s := sum{region: region, image: make([]complex64, region.Len())}
		if s.transmit, err = f.table(ctx, transmit, elements, region); err != nil {
			return nil, err
		}
		s.receive = s.transmit
		if transmit != receive {
			if s.receive, err = f.table(ctx, receive, elements, region); err != nil {
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

// table holds the times along a path, from each element to each pixel of a region.
type table struct {
	seconds []float32
	x, z    []float32 // slowness vector of the ray that arrives, s/m; nil for reflectors without size
}

// table makes the table of a path. The slowness vectors are the gradients of the times.
func (f *focuser) table(ctx context.Context, p *wedge.Path, elements []r3.Vec, g tfm.Grid) (table, error) {
	times, err := p.Interpolate(ctx, elements, g, &wedge.InterpolateOptions{Workers: 1})
	if err != nil {
		return table{}, err
	}
	if f.o.Radius == 0 {
		return table{seconds: times.Seconds}, nil
	}
	t := table{seconds: times.Seconds, x: make([]float32, len(times.Seconds)), z: make([]float32, len(times.Seconds))}
	for e := range elements {
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
	for _, d := range p.signals {
		i, j := d.transmit*n, d.receive*n
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
			dst[q] += interpolate(d.samples, k)
		}
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

// sharpness returns the sharpness of an image of a region, in units in which the means over regions
// are taken: decibels of the measure, or the measure itself where it is a logarithm already.
func (f *focuser) sharpness(e *tfm.Envelope, image []complex64) float64 {
	for i, v := range image {
		e.Data[i] = float32(math.Hypot(float64(real(v)), float64(imag(v))))
	}
	v := f.o.Measure.Of(e)
	if f.o.Measure == Peak || f.o.Measure == Entropy {
		return v
	}
	return 10 * math.Log10(v)
}

// reading is the sharpness for one value of the parameter, as the mean over the regions.
type reading struct {
	sharpness float64
	level     float64 // of the peaks, dB
	edge      bool    // a peak lies at the edge of its region

	// The rest is known of a detailed reading only.
	coherence float64   // the least |Σ|²/Σ|·|² over the regions, of the pairs at the peak
	phases    []float64 // of each block of elements, relative to the sum at the peak, rad
	turned    []float64 // sharpness with the phase of each block turned
	regions   []float64 // sharpness of each region
}

var errEmpty = errors.New("the record holds no echo of the regions")

// read returns the sharpness for a value. Detail asks for a detailed reading.
func (f *focuser) read(ctx context.Context, value float64, detail bool) (reading, error) {
	sums, err := f.sums(ctx, value)
	if err != nil {
		return reading{}, err
	}
	r := reading{coherence: math.Inf(1)}
	if n := f.blocks(); detail {
		r.phases, r.turned = make([]float64, n), make([]float64, n)
	}
	share := 1 / float64(len(sums))
	for i := range sums {
		s := &sums[i]
		e := &tfm.Envelope{Grid: s.region, Data: make([]float32, s.region.Len())}
		r.sharpness += share * f.sharpness(e, s.image)
		level, at := peak(e.Data, s.region.Cols, s.region.Rows)
		if math.IsInf(level, -1) {
			return reading{}, fmt.Errorf("adapt: value %v, region %d: %w", value, i, errEmpty)
		}
		r.level += share * level
		col, row := at%s.region.Cols, at/s.region.Cols
		r.edge = r.edge || col == 0 || row == 0 || col == s.region.Cols-1 || row == s.region.Rows-1
		if detail {
			r.coherence = min(r.coherence, f.detail(s, e, at, share, &r))
		}
	}
	return r, nil
}

// blocks is the largest number of blocks of neighbouring elements for the uncertainty.
const blocks = 32

func (f *focuser) blocks() int { return min(blocks, len(f.capture.Array.Elements)) }

// block returns the block of an element.
func (f *focuser) block(element int) int {
	return element * f.blocks() / len(f.capture.Array.Elements)
}

// turn is the small angle by which the signals of a block are turned, rad.
const turn = 0.05

// detail adds the sharpness of a region with each block turned to r, and the phase of each block at
// a pixel. It returns the coherence of the pairs at the pixel.
func (f *focuser) detail(s *sum, e *tfm.Envelope, at int, share float64, r *reading) float64 {
	var power float64
	part := make([]complex64, len(s.image))
	byBlock := make([][]complex64, f.blocks()) // a signal counts for the blocks of both its elements
	for i := range byBlock {
		byBlock[i] = make([]complex64, len(s.image))
	}
	for _, p := range f.pairs {
		clear(part)
		f.add(part, s, p)
		re, im := float64(real(part[at])), float64(imag(part[at]))
		power += re*re + im*im
		one, two := byBlock[f.block(p.one)], byBlock[f.block(p.two)]
		for q, v := range part {
			one[q] += v
			two[q] += v
		}
	}
	centre := complex128(s.image[at])
	for i, block := range byBlock {
		r.phases[i] += share * cmplx.Phase(complex128(block[at])*cmplx.Conj(centre))
		for q, v := range block {
			part[q] = s.image[q] + complex(0, turn)*v
		}
		r.turned[i] += share * f.sharpness(e, part)
	}
	r.regions = append(r.regions, f.sharpness(e, s.image))
	re, im := real(centre), imag(centre)
	return (re*re + im*im) / power
}
