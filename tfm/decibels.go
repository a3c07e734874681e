// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"math"

	"github.com/isochron-imaging/isochron/tfm/internal/pixel"
)

// Decibels is an image in decibels relative to a reference amplitude. It is a
// standard image.Image, and the GridXYZ of gonum plot.
type Decibels struct {
	Grid
	Data     []float32 // 20·log10(amplitude/reference) a pixel, Floor at the least, at the grid's index
	States   []State   // one state a pixel, as in [Image]; nil if all pixels show what lies there
	Quantity Quantity  // what the levels are of
	// Reference is the amplitude of 0 dB, finite and above 0, in the unit of the envelope.
	Reference float32
	Floor     float64 // the lowest level shown, in dB relative to the reference: finite and below 0
	// Palette holds the colours of the levels in equal steps, from Floor (the first colour) to 0
	// dB and above (the last colour). Nil stands for 256 greys from black to white.
	Palette color.Palette
}

// Decibels writes e in decibels relative to reference to dst and returns dst.
// Levels below floor are set to floor. The floor is a level in dB relative to the reference,
// finite and below 0. A nil dst is allocated. Otherwise dst takes the grid of e and keeps its
// palette, and its Data and States are used again if they are long enough.
//
// The reference is finite and above 0, such as the echo of a calibration reflector. 0 stands for
// the highest value of e. An image of zeros needs a reference.
func (e *Envelope) Decibels(dst *Decibels, reference float32, floor float64) (*Decibels, error) {
	if reference == 0 {
		if reference, _ = e.Peak(); reference == 0 {
			return nil, errors.New("tfm: reference amplitude 0, and all values are 0: want a finite value above 0")
		}
	}
	levels, err := levelsOf(reference, floor)
	if err != nil {
		return nil, err
	}
	if dst == nil {
		dst = new(Decibels)
	}
	dst.Grid, dst.Quantity = e.Grid, e.Quantity
	dst.Reference, dst.Floor = reference, floor
	dst.Data = resized(dst.Data, len(e.Data))
	dst.States = copied(dst.States, e.States)
	pixel.Decibels(dst.Data, e.Data, levels)
	return dst, nil
}

// levelsOf returns how amplitudes become levels relative to a reference, floor at least.
func levelsOf(reference float32, floor float64) (pixel.Levels, error) {
	if !(reference > 0) || math.IsInf(float64(reference), 0) {
		return pixel.Levels{}, fmt.Errorf("tfm: reference amplitude %v: want a finite value above 0", reference)
	}
	if !(floor < 0) || math.IsInf(floor, 0) {
		return pixel.Levels{}, fmt.Errorf("tfm: floor %v dB: want a finite value below 0", floor)
	}
	return pixel.Levels{
		Scale:     1 / float64(reference),
		Threshold: float32(float64(reference) * math.Pow(10, floor/20)),
		Floor:     float32(floor),
	}, nil
}

// Z returns the level in dB at column c and row r of the first slice.
func (d *Decibels) Z(c, r int) float64 { return float64(d.Data[r*d.Cols+c]) }

// ColorModel returns RGBA.
func (d *Decibels) ColorModel() color.Model { return color.RGBAModel }

// Bounds returns one pixel of the picture for each of the first slice's pixels.
func (d *Decibels) Bounds() image.Rectangle { return image.Rect(0, 0, d.Cols, d.Rows) }

// At returns the colour of column x and row y of the first slice, transparent
// outside it.
func (d *Decibels) At(x, y int) color.Color {
	if !(image.Point{X: x, Y: y}.In(d.Bounds())) {
		return color.RGBA{}
	}
	share := min(1, max(0, 1-d.Z(x, y)/d.Floor))
	if len(d.Palette) == 0 {
		grey := uint8(math.Round(255 * share))
		return color.RGBA{R: grey, G: grey, B: grey, A: 255}
	}
	return d.Palette[int(math.Round(share*float64(len(d.Palette)-1)))]
}
