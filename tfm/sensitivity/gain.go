// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"errors"
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm"
)

// Gain holds for each pixel the factor that brings the reference reflector to one amplitude. It is
// immutable and safe for concurrent use.
type Gain struct {
	grid    tfm.Grid
	factors []float32
	limited []bool // whether the limit is below the gain that the pixel needs
}

// Gain returns the factors reference/amplitude for the amplitudes of m, but at most limitDB. The
// reference is an amplitude of a map: finite and above 0. It is the same for all views that are to
// be compared, such as the highest Peak of their maps. The limit is a gain in dB, 0 to 200.
//
// A gain raises the noise with the echoes. Where the limit is reached, echoes are shown too low.
func (m *Map) Gain(reference, limitDB float64) (*Gain, error) {
	if !number.Positive(reference) {
		return nil, fmt.Errorf("sensitivity: reference amplitude %v: want a finite value above 0", reference)
	}
	if !(limitDB >= 0 && limitDB <= 200) { // above 770 dB a factor would be infinite in float32
		return nil, fmt.Errorf("sensitivity: limit of the gain %v dB: want 0 to 200", limitDB)
	}
	most := math.Pow(10, limitDB/20)
	g := &Gain{grid: m.Grid, factors: make([]float32, len(m.Data)), limited: make([]bool, len(m.Data))}
	for i, amplitude := range m.Data {
		factor := reference / float64(amplitude) // +Inf for a blank pixel
		g.limited[i] = factor > most
		g.factors[i] = float32(min(factor, most))
	}
	return g, nil
}

// Correct multiplies each pixel of an image by its factor, and marks pixels at the limit as
// [tfm.GainLimited]. An image of another grid is an error. Call it once for each frame.
func (g *Gain) Correct(im *tfm.Image) error {
	if im == nil || im.Grid != g.grid || len(im.Data) != len(g.factors) {
		return errors.New("sensitivity: image: want an image of the grid of the map")
	}
	if im.States == nil {
		im.States = make([]tfm.State, len(im.Data))
	}
	for i, factor := range g.factors {
		v := im.Data[i]
		im.Data[i] = complex(real(v)*factor, imag(v)*factor)
		if g.limited[i] {
			im.States[i] |= tfm.GainLimited
		}
	}
	return nil
}
