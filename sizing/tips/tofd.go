// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Pitch is a transmitter and a receiver on a flat surface, for time-of-flight diffraction: the
// depth of a tip between them follows from the time of its echo. Times are in s, without the delay
// in the wedges. A result without an answer is NaN: a time before the lateral wave, or a field that
// is out of range.
type Pitch struct {
	HalfSpacing float64 // half the distance of both index points in m, above 0
	Speed       float64 // of the wave in the part in m/s, above 0
}

// Errors are standard uncertainties of the quantities of a [Pitch].
type Errors struct {
	Time        float64 // s
	HalfSpacing float64 // m
	Speed       float64 // m/s
}

// speed returns the speed. It is NaN if a field is out of range, and so is what follows from it.
func (p Pitch) speed() float64 {
	if !number.Positive(p.HalfSpacing) || !number.Positive(p.Speed) {
		return math.NaN()
	}
	return p.Speed
}

// Time returns the time of the echo of a tip at a depth (m), at an offset, in m, from the middle
// between both index points.
func (p Pitch) Time(depth, offset float64) float64 {
	return (math.Hypot(p.HalfSpacing+offset, depth) + math.Hypot(p.HalfSpacing-offset, depth)) / p.speed()
}

// Depth returns the depth, in m, of a tip in the middle from the time of its echo:
//
//	d = √((c·t/2)² - S²)
//
//	c   speed
//	S   half spacing
func (p Pitch) Depth(time float64) float64 {
	half := p.speed() * time / 2
	if !(half >= p.HalfSpacing) {
		return math.NaN()
	}
	return math.Sqrt((half - p.HalfSpacing) * (half + p.HalfSpacing))
}

// DepthAfterLateral returns the depth, in m, of a tip in the middle from the time of its echo after
// the lateral wave: d = √((c·t/2)² + c·t·S). Near the surface its uncertainty is far smaller than
// the uncertainty of Depth. A delay of the equipment cancels, and so do most of the errors of the
// speed and the spacing.
func (p Pitch) DepthAfterLateral(after float64) float64 {
	way := p.speed() * after
	if !(way >= 0) {
		return math.NaN()
	}
	return math.Sqrt(way*way/4 + way*p.HalfSpacing)
}

// DepthError returns the standard uncertainty of Depth, in m, for independent errors. The
// derivatives of the depth d are c·r/(2d) by the time, r²/(c·d) by the speed and -S/d by the half
// spacing S, with r² = S² + d².
func (p Pitch) DepthError(time float64, u Errors) float64 {
	d := p.Depth(time)
	r := math.Hypot(p.HalfSpacing, d)
	return quadrature(p.Speed*r/(2*d)*u.Time, r*r/(p.Speed*d)*u.Speed, p.HalfSpacing/d*u.HalfSpacing)
}

// DepthAfterLateralError returns the standard uncertainty of DepthAfterLateral, in m, for
// independent errors. Here Errors.Time is the error of the difference of both times.
func (p Pitch) DepthAfterLateralError(after float64, u Errors) float64 {
	d := p.DepthAfterLateral(after)
	byTime := p.Speed * (p.Speed*after/2 + p.HalfSpacing) / (2 * d)
	bySpeed := (p.Speed*after*after/4 + after*p.HalfSpacing/2) / d
	return quadrature(byTime*u.Time, bySpeed*u.Speed, p.Speed*after/(2*d)*u.HalfSpacing)
}

// Locus returns the depth, in m, of a tip at an offset from the middle. The tip has the same time
// as a tip in the middle at the given depth. The locus is an ellipse with both index points as
// foci. So a tip off the middle lies less deep than Depth returns.
func (p Pitch) Locus(depth, offset float64) float64 {
	if math.IsNaN(p.speed()) {
		return math.NaN()
	}
	r := math.Hypot(p.HalfSpacing, depth)
	return depth * math.Sqrt((1-offset/r)*(1+offset/r))
}

// NearDeadZone returns the depth, in m, above which the echo of a tip overlaps the lateral wave,
// whose pulse has the given duration in s. The formula is the formula of ISO 16828 (from memory).
func (p Pitch) NearDeadZone(pulse float64) float64 { return p.DepthAfterLateral(pulse) }

// BackDeadZone returns the height, in m, of the dead zone above a back wall at the given thickness.
// There the echo of the wall, whose pulse has the given duration, may hide the echo of a tip:
//
//	√((c·(T + t)/2)² - S²) - W,   T = 2√(S² + W²)/c
//
// with the duration t and the thickness W. The formula is the formula of ISO 16828 (from memory).
// The tip whose echo ends when the echo of the wall begins lies a little higher: at W - Depth(T -
// t) above the wall. Off the middle the zone is higher, because there a tip echoes later.
func (p Pitch) BackDeadZone(thickness, pulse float64) float64 {
	return p.Depth(p.Time(thickness, 0)+pulse) - thickness
}

// quadrature returns the root of the sum of squares.
func quadrature(a, b, c float64) float64 { return math.Sqrt(a*a + b*b + c*c) }
