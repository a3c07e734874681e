// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"errors"
	"fmt"
	"math"
)

// ErrUnresolved is wrapped by the error of a size that the beam is too wide to tell.
var ErrUnresolved = errors.New("not resolved by the beam")

// Within returns the ends of a flaw by the drop method that subtracts the extent of the beam,
// usually at 20 dB. An end of the flaw lies where the edge of the beam, at the drop in dB, touches
// the flaw from outside. The extent is from [Drop] at the same drop. The results are in m on the
// axis of the extent.
//
// The method is exact for a point. For a strip it is too short, because a long strip echoes more
// than a point at its end: by 0.37 widths of a Gaussian beam at each end at 20 dB. The bias is
// Measured(length, drop) - from - to - length with from and to of [Beam.Point].
//
// An open end of the extent is an error. If the extent is narrower than the beam, the
// error wraps [ErrUnresolved]: the flaw has no length that this method can tell.
func (b Beam) Within(e Extent, drop float64) (from, to float64, err error) {
	if err := b.checkDrop(drop); err != nil {
		return 0, 0, err
	}
	if e.OpenFrom || e.OpenTo {
		return 0, 0, fmt.Errorf("sizing: extent from %v to %v m is cut by the end of its profile: want a longer profile", e.From, e.To)
	}
	before, behind := b.Point(drop)
	from, to = e.From+before, e.To-behind
	if !(from <= to) {
		return 0, 0, fmt.Errorf("sizing: extent of %v m, beam of %v m at %v dB: %w", e.Length(), before+behind, drop, ErrUnresolved)
	}
	return from, to, nil
}

// checkDrop returns an error unless the beam has an edge at a drop.
func (b Beam) checkDrop(drop float64) error {
	if b.echo == nil {
		return errors.New("sizing: beam without a profile: want GaussianBeam, SincBeam or NewBeam")
	}
	if !b.allows(drop) {
		return fmt.Errorf("sizing: drop %v dB: want %v to %.4g for this beam", drop, minDrop, b.deepest)
	}
	return nil
}

// Strip is a length that was corrected for the beam, in m.
type Strip struct {
	// Length is the length of the strip that measures as the flaw does. It is NaN if the flaw is
	// not resolved.
	Length float64

	// Low and High are the ends of the interval of 95 % confidence. They account for the standard
	// deviation that the caller states, and not for a flaw that is no strip.
	Low, High float64

	// Resolved says that Low is above 0: a point reflector would not measure as long. The
	// measured length of a flaw that is not resolved only says that a strip is shorter than High.
	Resolved bool
}

// coverage is the number of standard deviations of an interval of 95 % of a normal distribution.
const coverage = 1.959963984540054

// Strip returns the length of the strip on which a drop in dB measures a length in m: it inverts
// [Beam.Measured]. The standard deviation sd of the measured length is in m, from 0 on; see
// [Beam.EdgeSD]. It must also hold the uncertainty of the width of the beam. For short strips the
// width matters most: an error of 1 % makes a point look up to 0.2 widths long.
//
// The measured length must be finite, at most 900 widths. A length more than three standard
// deviations below the length of a point is an error, because the beam is then narrower than
// stated.
func (b Beam) Strip(measured, drop, sd float64) (Strip, error) {
	if err := b.checkDrop(drop); err != nil {
		return Strip{}, err
	}
	if !(sd >= 0) || math.IsInf(sd, 0) {
		return Strip{}, fmt.Errorf("sizing: standard deviation %v m: want a finite value, 0 or above", sd)
	}
	point := b.Measured(0, drop)
	if !(measured > 0 && measured <= 900*b.width) {
		return Strip{}, fmt.Errorf("sizing: measured length %v m: want above 0 to %v m, 900 widths of the beam", measured, 900*b.width)
	}
	if measured+3*sd < point*(1-1e-9) {
		return Strip{}, fmt.Errorf("sizing: measured length %v m with standard deviation %v m: want at least %v m, the length of a point", measured, sd, point)
	}
	s := Strip{
		Length: b.length(measured, drop),
		Low:    b.length(measured-coverage*sd, drop),
		High:   b.length(measured+coverage*sd, drop),
	}
	if s.Resolved = s.Low > 0; !s.Resolved {
		s.Length = math.NaN()
	}
	return s, nil
}

// length returns the length of the strip that measures as given, 0 if a point measures as long.
func (b Beam) length(measured, drop float64) float64 {
	if !(measured > b.Measured(0, drop)*(1+1e-9)) {
		return 0
	}
	// Below 6 dB an end lies inside the strip, by less than a width.
	return zero(0, min(measured+2*b.width, 1000*b.width), func(length float64) float64 {
		return measured - b.Measured(length, drop)
	})
}

// spreadDeviation is the standard deviation of the contour of a point reflector, as a share of the
// predicted contour. Holes and tips in captures have contours of 1.00 to 1.18 of the prediction.
const spreadDeviation = 0.1

// Strip returns the length of an indication along the axis of its Resolution, corrected for the
// point spread: see [Beam.Strip]. The beam is Gaussian and as wide as the point spread. The drop is
// the drop of [Find] in dB. The standard deviation sd of Resolution.Extent is in m, from 0 on. The
// uncertainty of the predicted point spread, 10 % of its extent, is added. An indication that its
// Resolution calls unresolved has no length here either, only an upper limit.
//
// The result is the length of a face that mirrors the beam along all of its length. A rough face is
// shorter, by 0.4 widths of the point spread in the mean ([Beam]). A smooth face is usually longer:
// the lack of fusion of 4.6 mm in testdata/weld32 has a length of 2.9 mm, because its ends mirror
// the beam past the array. A hole has no length, but its spot can be resolved in the shadow of
// another hole (testdata/sdh32).
//
// It is an error if the correction means nothing. This is so for an indication without a predicted
// point spread, with several peaks, or with a contour that is not all in the picture and valid.
func (in Indication) Strip(drop, sd float64) (Strip, error) {
	switch {
	case in.Resolution == nil:
		return Strip{}, errors.New("sizing: indication without a Resolution: want Options.Spread in Find")
	case in.Merged:
		return Strip{}, errors.New("sizing: indication with several peaks: want one reflector")
	case in.Edge:
		return Strip{}, errors.New("sizing: indication that the image cuts: want a larger image")
	case in.States != 0:
		return Strip{}, fmt.Errorf("sizing: indication with the states %v: want a complete one", in.States)
	}
	if err := checkDrop(drop); err != nil {
		return Strip{}, err
	}
	if !(sd >= 0) {
		return Strip{}, fmt.Errorf("sizing: standard deviation %v m: want a finite value, 0 or above", sd)
	}
	r := in.Resolution
	// The width of a Gaussian grows with the root of the drop.
	spread := r.Extent / r.Ratio
	b, err := GaussianBeam(spread * math.Sqrt(SixDB/drop))
	if err != nil {
		return Strip{}, err
	}
	s, err := b.Strip(r.Extent, drop, math.Hypot(sd, spreadDeviation*spread))
	if err == nil && !r.Resolved {
		s.Resolved, s.Length, s.Low = false, math.NaN(), 0
	}
	return s, err
}
