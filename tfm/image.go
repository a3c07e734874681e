// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

// Image holds the complex sum of delay-and-sum: its magnitude is the envelope
// of the focused echo, its argument the phase of the carrier.
type Image struct {
	Grid
	Data []complex64 // one value a pixel, at the grid's index
}

// NewImage returns an image of zeros over g; without pixels, if g is a grid that
// [Grid.Validate] refuses.
func NewImage(g Grid) *Image {
	if g.Validate() != nil {
		return &Image{Grid: g}
	}
	return &Image{Grid: g, Data: make([]complex64, g.Len())}
}

// Envelope writes the magnitude of every pixel of im to dst and returns dst.
// A nil dst is allocated; otherwise dst takes im's grid and its Data is used
// again where it is long enough.
func (im *Image) Envelope(dst *Envelope) *Envelope {
	if dst == nil {
		dst = new(Envelope)
	}
	dst.Grid = im.Grid
	dst.Data = resized(dst.Data, len(im.Data))
	pixels.Magnitude(dst.Data, im.Data)
	return dst
}

// Envelope is an image of amplitudes, linear and in the unit of the samples.
type Envelope struct {
	Grid
	Data []float32 // one amplitude a pixel, finite and not negative, at the grid's index
}

// Section returns slice s of e, sharing its data. It panics unless s is a
// slice of the grid.
func (e *Envelope) Section(s int) *Envelope {
	n := e.Rows * e.Cols
	return &Envelope{Grid: e.Grid.section(s), Data: e.Data[s*n : (s+1)*n : (s+1)*n]}
}

// Z returns the amplitude at column c and row r of the first slice: with Dims,
// X and Y, gonum plot's GridXYZ interface.
func (e *Envelope) Z(c, r int) float64 { return float64(e.Data[r*e.Cols+c]) }

// Peak returns the highest amplitude of e and the index of the first pixel
// that has it.
func (e *Envelope) Peak() (amplitude float32, index int) {
	return pixels.Peak(e.Data)
}

// resized returns a slice of length n, of s where that is long enough.
func resized(s []float32, n int) []float32 {
	if cap(s) < n {
		return make([]float32, n)
	}
	return s[:n]
}
