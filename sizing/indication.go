// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/tfm"
)

// Options says which indications [Find] lists. Nil stands for the zero value.
type Options struct {
	// Drop is how far the contour of an indication lies below the peak of the indication, as a
	// positive number of dB: 0.01 to 120. Zero means [SixDB], half the amplitude.
	Drop float64
	// Floor is the level in dB relative to the reference below which a peak is not listed:
	// finite. It is below 0 for a floor below the reference. For a floor at the reference itself
	// give a value near zero, such as -1e-9.
	//
	// Zero means a floor that follows the noise of the picture: in a picture of noise alone, 0.02
	// peaks are expected above it ([EstimateNoise]). But it is -40 at the lowest, because side
	// lobes of strong echoes lie there. It is -20 for a picture that is too small for an estimate,
	// and if Amplitudes are given.
	Floor float64
	// Reference is the amplitude of 0 dB, in the unit of the envelope: finite and
	// above 0, for instance the echo of a calibration reflector. Zero means the
	// highest peak of the envelope.
	Reference float64
	// Amplitudes is the unweighted envelope of the same image ([tfm.Image.Envelope]), on the same
	// grid. It is needed if Find searches an envelope that holds no amplitudes, such as one that is
	// weighted by a coherence. Find then takes from each peak the nearest higher amplitudes up to a
	// peak of Amplitudes, and measures there. Nil means that Find measures what it searches.
	Amplitudes *tfm.Envelope
	// Spread predicts the point spread. It returns a picture of a point reflector around a place in
	// m. The picture shows all of the contour at drop dB below the peak. [Indication.Resolution]
	// compares each indication with it. The method Picture of a Spread of package tfm/quality is
	// such a function. An error that wraps [wedge.ErrNoRay] leaves the indication without a
	// Resolution. Any other error is the error of [Find]. Nil means that no point spread is known.
	Spread func(at r3.Vec, drop float64) (*tfm.Envelope, error)
}

// minDrop and maxDrop bound every drop, in dB: float32 amplitudes, with 7 digits,
// resolve neither a smaller nor a deeper one.
const (
	minDrop = 0.01
	maxDrop = 120
)

// withDefaults returns the options with their zero fields replaced, or the first field that is
// out of range.
func (options *Options) withDefaults() (Options, error) {
	var o Options
	if options != nil {
		o = *options
	}
	if o.Drop == 0 {
		o.Drop = SixDB
	}
	if err := checkDrop(o.Drop); err != nil {
		return o, err
	}
	if math.IsNaN(o.Floor) || math.IsInf(o.Floor, 0) {
		return o, fmt.Errorf("sizing: floor %v dB: want a finite value", o.Floor)
	}
	if !(o.Reference >= 0) || math.IsInf(o.Reference, 0) {
		return o, fmt.Errorf("sizing: reference amplitude %v: want a finite value above 0, or 0 for the highest peak", o.Reference)
	}
	return o, nil
}

func checkDrop(drop float64) error {
	if !(drop >= minDrop && drop <= maxDrop) {
		return fmt.Errorf("sizing: drop %v dB: want %v to %v", drop, minDrop, maxDrop)
	}
	return nil
}

// Indication is one indication of a section: a peak and the connected area round
// it that lies less than the drop below it. Lengths are in metres, angles in
// radians. Its JSON form has the names in the tags.
type Indication struct {
	ID int `json:"id"` // from 1, strongest first

	// X and Z are the position of the peak, between pixels.
	X float64 `json:"x_m"`
	Z float64 `json:"z_m"`

	// LevelDB is the level of the peak in dB relative to the reference.
	LevelDB float64 `json:"level_db"`

	// ExtentX and ExtentZ are the ends of the contour along x and along z, lower
	// end first.
	ExtentX [2]float64 `json:"extent_x_m"`
	ExtentZ [2]float64 `json:"extent_z_m"`

	// Length and Width are the extents of the contour along its long axis and at right angles to
	// it; Length ≥ Width. A Length near the beam width says nothing
	// about the size of a smooth planar flaw, of which only a tip or a bright spot may show.
	Length float64 `json:"length_m"`
	Width  float64 `json:"width_m"`

	// Tilt is the angle of the long axis from the vertical, the z axis, in (-π/2, π/2]. It is
	// positive where the top, the end of smaller z, leans to +x. It is 0 if Round is set. Unless
	// the flaw is resolved, it is the direction of the point spread, not the direction of a flaw.
	// The spot of a hole through a wedge has a tilt of about 30° ([Indication.Size]).
	Tilt float64 `json:"tilt_rad"`

	// Round says that Length is at most 1.1 of Width: the long axis of such a round contour
	// depends on the noise and has no meaning.
	Round bool `json:"round"`

	// Edge says that the area touches the edge of the image: the indication may
	// be larger, and stronger, than the image shows.
	Edge bool `json:"edge"`

	// States are the states of all pixels of the area, and of the pixels that touch it.
	States tfm.State `json:"-"`

	// Merged says that the area holds more than one peak. Another peak lies less than the drop
	// below the highest. The saddle between them lies less than the drop below the other peak, but
	// at least 1.5 dB and three times the level of the noise. Then the sizes may be sizes of
	// several reflectors together, or a face may be rough. Reflectors without a saddle between them
	// are not recognised.
	Merged bool `json:"merged"`

	// SNRDB is the signal-to-noise ratio: the amplitude of the peak in dB above the level of the
	// noise of the picture ([EstimateNoise]). It is 0 if the picture is too small for an estimate.
	SNRDB float64 `json:"snr_db"`

	// Resolution tells whether the sizes are larger than the point spread. It is nil without
	// [Options.Spread], and where no ray leads.
	Resolution *Resolution `json:"resolution,omitempty"`

	// Area is the area inside the contour in m².
	Area float64 `json:"area_m2"`

	// Amplitude is the amplitude of the peak, between pixels, in the unit of the
	// envelope.
	Amplitude float64 `json:"amplitude"`

	// Pixel is the index of the highest pixel in the grid of the envelope.
	Pixel int `json:"-"`

	// Contour holds the points where the contour crosses the lines between neighbouring pixels,
	// and the pixels of the area at the edge of the image, in any order.
	Contour []r3.Vec `json:"-"`
}

// Complete reports whether the image shows the whole indication: the area touches neither the edge
// of the image nor a pixel that has a state. Otherwise the indication may be larger and stronger
// than the image shows, or a part of another indication.
func (in Indication) Complete() bool { return !in.Edge && in.States == 0 }
