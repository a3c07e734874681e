// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/vector"
	"github.com/isochron-imaging/isochron/tfm/internal/pixel"
)

// Image holds the complex sum of delay-and-sum: its magnitude is the envelope
// of the focused echo, its argument the phase of the carrier.
type Image struct {
	Grid
	Data []complex64 // one value a pixel, at the grid's index
	// States tells which pixels may not show all that lies there, one state a pixel. It
	// is nil if all of them do.
	States []State
	// Coherence holds the measure that [Options.Coherence] asked for, from 0 to 1, one value a
	// pixel. It is nil if nobody asked for one. Data are the same with and without it.
	Coherence []float32
}

// NewImage returns an image of zeros over g; without pixels, if g is a grid that
// [Grid.Validate] refuses.
func NewImage(g Grid) *Image {
	if g.Validate() != nil {
		return &Image{Grid: g}
	}
	return &Image{Grid: g, Data: make([]complex64, g.Len())}
}

// mark adds to the state of a pixel.
func (im *Image) mark(pixel int, s State) {
	if s != 0 && im.States == nil {
		im.States = make([]State, len(im.Data))
	}
	if s != 0 {
		im.States[pixel] |= s
	}
}

// Envelope writes the modulus of every pixel of im to dst and returns dst. A nil dst is
// allocated. Otherwise dst takes the grid of im, and its Data and States are used again if they
// are long enough.
func (im *Image) Envelope(dst *Envelope) *Envelope {
	if dst == nil {
		dst = new(Envelope)
	}
	dst.Grid = im.Grid
	dst.Data = resized(dst.Data, len(im.Data))
	dst.States = copied(dst.States, im.States)
	dst.Quantity = Amplitude
	pixel.Magnitude(dst.Data, im.Data)
	return dst
}

// WeightedEnvelope writes the modulus of every pixel, times the exponent-th power of its
// coherence, to dst and returns dst. dst is as in [Image.Envelope]. The exponent is finite and
// above 0; 1 is the usual weight. An image without coherence is an error.
//
// The result is not an amplitude: COHERENCE.md says what weights do. It is for finding
// indications, not for sizing or for levels.
func (im *Image) WeightedEnvelope(dst *Envelope, exponent float64) (*Envelope, error) {
	if err := im.checkCoherence(); err != nil {
		return nil, err
	}
	if !(exponent > 0) || math.IsInf(exponent, 0) {
		return nil, fmt.Errorf("tfm: exponent %v of a weight: want a finite value above 0", exponent)
	}
	dst = im.Envelope(dst)
	dst.Quantity = WeightedAmplitude
	if exponent == 1 {
		vector.Multiply(dst.Data, im.Coherence)
		return dst, nil
	}
	for i, c := range im.Coherence {
		dst.Data[i] *= float32(math.Pow(float64(c), exponent))
	}
	return dst, nil
}

// CoherenceEnvelope writes the coherence of every pixel, from 0 to 1, to dst and returns dst. dst
// is as in [Image.Envelope]. An image without coherence is an error.
func (im *Image) CoherenceEnvelope(dst *Envelope) (*Envelope, error) {
	if err := im.checkCoherence(); err != nil {
		return nil, err
	}
	if dst == nil {
		dst = new(Envelope)
	}
	dst.Grid, dst.Quantity = im.Grid, CoherenceAlone
	dst.Data = resized(dst.Data, len(im.Coherence))
	copy(dst.Data, im.Coherence)
	dst.States = copied(dst.States, im.States)
	return dst, nil
}

func (im *Image) checkCoherence() error {
	if im.Coherence == nil || len(im.Coherence) != len(im.Data) {
		return fmt.Errorf("tfm: image of %d pixels with %d coherences: want one a pixel, as a plan with Options.Coherence makes it", len(im.Data), len(im.Coherence))
	}
	return nil
}

// Quantity is what the values of an [Envelope] are.
type Quantity uint8

const (
	Amplitude         Quantity = iota // the modulus of the image, in the unit of the samples
	WeightedAmplitude                 // an amplitude times a power of a coherence ([Image.WeightedEnvelope])
	CoherenceAlone                    // a coherence, from 0 to 1 ([Image.CoherenceEnvelope])
	RelativeAmplitude                 // the strongest of several views, each relative to its reference ([Fuse])
)

var quantityNames = [...]string{"amplitude", "weighted amplitude", "coherence", "relative amplitude of several views"}

// String returns the name of q, such as "weighted amplitude".
func (q Quantity) String() string {
	if int(q) < len(quantityNames) {
		return quantityNames[q]
	}
	return fmt.Sprintf("Quantity(%d)", uint8(q))
}

// Envelope is an image of amplitudes, linear and in the unit of the samples, or of another
// [Quantity].
type Envelope struct {
	Grid
	Data     []float32 // one value a pixel, finite and not negative, at the grid's index
	States   []State   // one state a pixel, as in [Image]; nil if all pixels show what lies there
	Quantity Quantity  // what the values are; zero means amplitudes
}

// State returns the state of the pixel of an index.
func (e *Envelope) State(pixel int) State {
	if e.States == nil {
		return 0
	}
	return e.States[pixel]
}

// Section returns slice s of e, sharing its data and states. It panics unless s is a
// slice of the grid.
func (e *Envelope) Section(s int) *Envelope {
	n := e.Rows * e.Cols
	section := &Envelope{Grid: e.Grid, Quantity: e.Quantity, Data: e.Data[s*n : (s+1)*n : (s+1)*n]}
	section.Origin.Y += float64(s) * e.Step.Y
	section.Slices = 1
	if e.States != nil {
		section.States = e.States[s*n : (s+1)*n : (s+1)*n]
	}
	return section
}

// Z returns the amplitude at column c and row r of the first slice: with Dims,
// X and Y, gonum plot's GridXYZ interface.
func (e *Envelope) Z(c, r int) float64 { return float64(e.Data[r*e.Cols+c]) }

// Peak returns the highest amplitude of e and the index of the first pixel
// that has it.
func (e *Envelope) Peak() (amplitude float32, index int) {
	return pixel.Peak(e.Data)
}

// PeakNear returns the largest amplitude of the pixels within a radius in m of a point, and its
// pixel: the echo of a reflector that is known to be there. Without such a pixel, or with a radius
// that is not above 0, it returns 0 and -1.
func (e *Envelope) PeakNear(at r3.Vec, radius float64) (amplitude float32, index int) {
	index = -1
	for i, a := range e.Data {
		if r3.Norm(r3.Sub(e.Point(i), at)) <= radius && (index < 0 || a > amplitude) {
			amplitude, index = a, i
		}
	}
	return amplitude, index
}

// copied returns a copy of src in the memory of dst, where that is long enough; nil if
// src is.
func copied(dst, src []State) []State {
	if src == nil {
		return nil
	}
	return append(dst[:0], src...)
}

// resized returns a slice of length n, of s where that is long enough.
func resized(s []float32, n int) []float32 {
	if cap(s) < n {
		return make([]float32, n)
	}
	return s[:n]
}
