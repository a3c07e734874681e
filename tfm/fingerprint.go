// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"hash"
	"io"
	"math"
	"math/rand/v2"
	"slices"
)

// Fingerprint returns 64 hexadecimal digits that identify the images that p makes: the grid, the
// capture it was made for, the set-up, the options and the kernel. Plans with the same fingerprint
// make images of the same bits. Options.Progress, Workers and Coherence do not count.
//
// The fingerprint is the SHA-256 of the grid, of the capture without samples, of the states of the
// pixels and of the image of a frame of random numbers. So it takes the time of one image.
func (p *Plan) Fingerprint(ctx context.Context) (string, error) {
	scale := float32(1)
	if p.clipping != nil {
		scale = p.clipping.fullScale / 2
	}
	rng := rand.New(rand.NewPCG(1, 2))
	samples := make([]float32, len(p.pairs)*p.samples)
	for i := range samples {
		samples[i] = scale * float32(int32(rng.Uint32())>>8) / (1 << 23)
	}
	image := NewImage(p.grid)
	if err := p.NewScratch().Reconstruct(ctx, image, samples); err != nil {
		return "", err
	}
	h := sha256.New()
	p.identify(h)
	writeStates(h, p.states)
	var pixel [8]byte
	for _, v := range image.Data {
		binary.LittleEndian.PutUint32(pixel[:], math.Float32bits(real(v)))
		binary.LittleEndian.PutUint32(pixel[4:], math.Float32bits(imag(v)))
		h.Write(pixel[:])
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// identify writes the grid and the capture to a hash, which returns no errors.
func (p *Plan) identify(h hash.Hash) {
	numbers := func(values ...float64) {
		for _, v := range values {
			binary.Write(h, binary.LittleEndian, v)
		}
	}
	g, c := p.grid, p.template
	numbers(g.Origin.X, g.Origin.Y, g.Origin.Z, g.Step.X, g.Step.Y, g.Step.Z)
	numbers(float64(g.Cols), float64(g.Rows), float64(g.Slices), float64(p.FullScale()))
	numbers(c.SampleRate, c.FirstSample, float64(c.Samples), float64(len(c.Array.Elements)))
	for _, e := range c.Array.Elements {
		numbers(e.X, e.Y, e.Z)
	}
	numbers(float64(len(c.Events)))
	for _, e := range c.Events {
		numbers(e.Delays...)
		numbers(e.Weights...)
	}
	numbers(float64(len(c.Pairs)))
	for _, pair := range c.Pairs {
		numbers(float64(pair.Tx), float64(pair.Rx))
	}
	io.WriteString(h, p.Kernel())
}

// writeStates writes the number of states, and the states.
func writeStates(h hash.Hash, states []State) {
	b := make([]byte, 8, 8+len(states))
	binary.LittleEndian.PutUint64(b, uint64(len(states)))
	for _, s := range states {
		b = append(b, byte(s))
	}
	h.Write(b)
}

// FullScale returns the [Options.FullScale] of p: 0 if it does not look for clipped samples.
func (p *Plan) FullScale() float32 {
	if p.clipping == nil {
		return 0
	}
	return p.clipping.fullScale
}

// States returns the states that all images of p have, one a pixel, or nil if no pixel has any. The
// caller owns the slice.
func (p *Plan) States() []State { return slices.Clone(p.states) }
