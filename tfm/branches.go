// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"errors"
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/wedge"
)

// BranchPlan images captures of parts in which several rays lead from an element to a point, such
// as transverse waves in an austenitic weld. The image at the point r is the sum over all rays,
//
//	I(r) = N Σ w_ij Σ a_ik(r) b_jl(r) s_ij(t_ik(r) + u_jl(r))
//
// over the pairs of elements ij, the rays k of element i and the rays l of element j. The analytic
// signal s_ij has the weight w_ij; t and u are the times of the rays, a and b their amplitudes. The
// amplitudes bring all echoes of a reflector at r into phase, also past caustics and critical
// angles. Strong rays count more than weak rays. So the sum is the matched filter of a point at r.
// The factor
//
//	N = √(Σ w_ij² / Σ w_ij² |a_ik b_jl|²)
//
// makes uncorrelated noise equally strong at all pixels. With one ray of amplitude 1 for each
// element and point, the image is the plain sum.
//
// A BranchPlan is immutable and safe for concurrent use. It sums in double precision, without
// assembly, with cubic interpolation between samples. For a full matrix of 32 elements with two
// rays each, 20,000 pixels take about a second of one core.
type BranchPlan struct {
	base              *Plan // of the first rays, for all that does not depend on the other rays
	sources           []source
	terms             []branchTerm
	weight            float64 // Σ w²
	shared            bool    // whether both paths are the same
	transmit, receive *branchRays
}

// branchTerm is a pair of elements in the sum over the image.
type branchTerm struct {
	tx, rx, source int
	copies         float64 // directions that the term stands for
	square         float64 // of the weight
}

// branchRays holds the rays of all elements to all pixels.
type branchRays struct {
	elements int
	first    []int32 // index of the first ray from element e to pixel p, at p·elements + e
	rays     []branchRay
}

type branchRay struct {
	time      float32
	amplitude complex64
}

// NewBranchPlan prepares the images over g of captures like c, from all rays along the transmitting
// and along the receiving path. The receive argument may be the transmit argument: the sum then
// takes half of the time. The tables are tables of elements, so a capture of events is an error. Of
// the options, Compound, Coherence, FullScale and Precision are errors here. The other errors are
// the errors of [NewPlan].
func NewBranchPlan(c *fmc.Capture, g Grid, transmit, receive *wedge.Branches, options *Options) (*BranchPlan, error) {
	options, analytic, err := options.prepare(c, g)
	if err != nil {
		return nil, err
	}
	if options.Compound != nil || options.Coherence != NoCoherence || options.FullScale != 0 || options.Precision != Single {
		return nil, errors.New("tfm: plan of branches with Compound, Coherence, FullScale or Precision: want none of them")
	}
	if c.Events != nil {
		return nil, errors.New("tfm: plan of branches for a capture of events: want a capture of elements")
	}
	points := g.Places()
	for _, b := range [...]struct {
		name     string
		branches *wedge.Branches
	}{{sends, transmit}, {receives, receive}} {
		if err := checkBranches(c, b.name, b.branches, points); err != nil {
			return nil, err
		}
	}
	base, err := newPlan(context.Background(), c, g, points, analytic, transmit.Times[0], receive.Times[0], options)
	if err != nil {
		return nil, err
	}
	p := &BranchPlan{base: base, shared: transmit == receive, transmit: newBranchRays(transmit)}
	p.sources = sourcesOf(base.pairs, p.shared)
	p.receive = p.transmit
	if !p.shared {
		p.receive = newBranchRays(receive)
	}
	p.arrange(c.Layout())
	return p, nil
}

// checkBranches returns an error for branches whose tables do not fit.
func checkBranches(c *fmc.Capture, name string, b *wedge.Branches, points wedge.Places) error {
	if b == nil || len(b.Times) == 0 || len(b.Amplitudes) != len(b.Times) {
		return fmt.Errorf("tfm: %s branches without tables: want tables of times and as many of amplitudes", name)
	}
	for k, t := range b.Times {
		if t == nil {
			return fmt.Errorf("tfm: %s table %d of the branches is missing", name, k)
		}
		if err := checkTables(c, points, t, t); err != nil {
			return fmt.Errorf("%w, in table %d of the %s branches", err, k, name)
		}
		if got := len(b.Amplitudes[k]); got != len(t.Seconds) {
			return fmt.Errorf("tfm: %d amplitudes of the %s branches %d: want %d", got, name, k, len(t.Seconds))
		}
	}
	return nil
}

// newBranchRays returns the rays of b that have a time and an amplitude.
func newBranchRays(b *wedge.Branches) *branchRays {
	elements, points := b.Times[0].Elements, b.Times[0].Points
	out := &branchRays{elements: elements, first: make([]int32, 0, elements*points+1)}
	for p := range points {
		for e := range elements {
			out.first = append(out.first, int32(len(out.rays)))
			for k, t := range b.Times {
				at := e*points + p
				time, amplitude := t.Seconds[at], b.Amplitudes[k][at]
				if time == time && amplitude*0 == 0 && amplitude != 0 {
					out.rays = append(out.rays, branchRay{time, amplitude})
				}
			}
		}
	}
	out.first = append(out.first, int32(len(out.rays)))
	return out
}

// to returns the rays of an element to a pixel.
func (r *branchRays) to(pixel, element int) []branchRay {
	at := pixel*r.elements + element
	return r.rays[r.first[at]:r.first[at+1]]
}

// arrange makes the terms of the sum.
func (p *BranchPlan) arrange(layout fmc.Layout) {
	for i, s := range p.sources {
		pair := p.base.pairs[s.pairs[0]]
		t := branchTerm{tx: pair.Tx, rx: pair.Rx, source: i, copies: 1}
		for _, k := range s.pairs[:s.count] {
			t.square += p.base.weight(k) * p.base.weight(k)
		}
		both := layout == fmc.Half && pair.Tx != pair.Rx
		if both && p.shared {
			t.copies = 2
		}
		p.terms = append(p.terms, t)
		if both && !p.shared {
			t.tx, t.rx = t.rx, t.tx
			p.terms = append(p.terms, t)
		}
	}
	for _, t := range p.terms {
		p.weight += t.copies * t.square
	}
}

// Image reconstructs one image of c. A capture of other elements, pairs or times than the capture
// that p was made for is an error. So is a sample that is not finite. The States of the image are
// the states by the first rays. The image has the same bits for any number of workers.
func (p *BranchPlan) Image(ctx context.Context, c *fmc.Capture) (*Image, error) {
	if err := p.base.Check(c); err != nil {
		return nil, err
	}
	if err := p.base.checkSamples(len(c.Data)); err != nil {
		return nil, err
	}
	signals, err := p.signals(ctx, c)
	if err != nil {
		return nil, err
	}
	image := NewImage(p.base.grid)
	for pixel, s := range p.base.states {
		image.mark(pixel, s)
	}
	const block = 64 // pixels of a task
	spread := parallel.Options{Workers: p.base.workers, Progress: p.base.progress}
	err = parallel.Do(ctx, (len(image.Data)+block-1)/block, spread, func() func(int) error {
		return func(task int) error {
			for pixel := task * block; pixel < min((task+1)*block, len(image.Data)); pixel++ {
				image.Data[pixel] = complex64(p.sum(pixel, signals))
			}
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	return image, nil
}

// signals returns the weighted analytic signals of the sources.
func (p *BranchPlan) signals(ctx context.Context, c *fmc.Capture) ([][]complex64, error) {
	out := make([][]complex64, len(p.sources))
	err := parallel.Do(ctx, len(out), parallel.Options{Workers: p.base.workers}, func() func(int) error {
		trace := make([]float32, c.Samples)
		return func(i int) error {
			clear(trace)
			for _, k := range p.sources[i].pairs[:p.sources[i].count] {
				w := float32(p.base.weight(k))
				for n, v := range c.Trace(k) {
					trace[n] += w * v
				}
			}
			out[i] = make([]complex64, c.Samples)
			return p.base.analytic.Transform(out[i], trace)
		}
	})
	return out, err
}

// sum returns the value of a pixel.
func (p *BranchPlan) sum(pixel int, signals [][]complex64) complex128 {
	var value complex128
	var energy float64
	c := p.base.template
	for _, t := range p.terms {
		for _, a := range p.transmit.to(pixel, t.tx) {
			for _, b := range p.receive.to(pixel, t.rx) {
				w := complex128(a.amplitude) * complex128(b.amplitude)
				energy += t.copies * t.square * (real(w)*real(w) + imag(w)*imag(w))
				at := (float64(a.time) + float64(b.time) - c.FirstSample) * c.SampleRate
				value += complex(t.copies, 0) * w * cubic(signals[t.source], at)
			}
		}
	}
	if energy == 0 {
		return 0
	}
	return value * complex(math.Sqrt(p.weight/energy), 0)
}

// cubic returns the value of a signal between samples, by the cubic through four samples. It is 0
// before the first sample and after the last.
func cubic(signal []complex64, at float64) complex128 {
	k := int(math.Floor(at))
	if !(at >= 0 && k+1 < len(signal)) {
		return 0
	}
	k = max(1, min(k, len(signal)-3))
	if len(signal) < 4 {
		return complex128(signal[int(at)])
	}
	u := at - float64(k)
	w := [4]float64{-u * (u - 1) * (u - 2) / 6, (u*u - 1) * (u - 2) / 2, -u * (u + 1) * (u - 2) / 2, u * (u*u - 1) / 6}
	var re, im float64
	for i, v := range signal[k-1 : k+3] {
		re += w[i] * float64(real(v))
		im += w[i] * float64(imag(v))
	}
	return complex(re, im)
}
