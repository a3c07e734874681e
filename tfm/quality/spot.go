// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package quality

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// Spot is the predicted picture of a small reflector at one point. It is immutable and safe for
// concurrent use.
type Spot struct {
	At r3.Vec // place of the reflector, m
	// Wavelength is the wavelength in m at the centre frequency of the array. If the paths of the
	// view end with different modes, it belongs to the mean of both slownesses.
	Wavelength float64

	pulse *pulse
	terms []term
	peak  float64 // modulus of the sum at the reflector
}

// term is what one pair, or the two directions of a pair, add to the picture.
type term struct {
	tx, rx int    // of the pair
	both   bool   // the reciprocal pair counts too
	slope  r3.Vec // derivative of the time of the pair by the place of the pixel, s/m
	weight complex128
	noise  float64 // variance of the noise of all traces of the term, for traces of variance 1
}

// add adds the waves of a pair to the picture. A pair without one of the waves adds nothing.
func (s *Spot) add(tx, rx int, weight float64, sent, received wave) bool {
	amplitude := complex(weight, 0) * sent.amplitude * received.amplitude
	if amplitude == 0 {
		return false
	}
	s.terms = append(s.terms, term{
		tx: tx, rx: rx,
		slope: r3.Add(sent.slowness, received.slowness), weight: amplitude, noise: weight * weight,
	})
	return true
}

// Value returns the picture at an offset from the reflector in m, relative to the modulus at the
// reflector. Its modulus is the envelope, its real part is the oscillating signal.
func (s *Spot) Value(offset r3.Vec) complex128 {
	var sum complex128
	for i := range s.terms {
		t := &s.terms[i]
		sum += t.weight * s.pulse.at(r3.Dot(t.slope, offset))
	}
	return sum / complex(s.peak, 0)
}

// Amplitude returns the modulus of [Spot.Value].
func (s *Spot) Amplitude(offset r3.Vec) float64 { return cmplx.Abs(s.Value(offset)) }

// form returns the ellipse of the spot for Gaussian pulses, to the second order: the loss in
// nepers at the offset d in the section is xx·dx² + 2·xz·dx·dz + zz·dz².
func (s *Spot) form() (xx, xz, zz float64) {
	var w, x, z, sxx, sxz, szz float64
	for _, t := range s.terms {
		a := cmplx.Abs(t.weight)
		w += a
		x += a * t.slope.X
		z += a * t.slope.Z
		sxx += a * t.slope.X * t.slope.X
		sxz += a * t.slope.X * t.slope.Z
		szz += a * t.slope.Z * t.slope.Z
	}
	x, z, sxx, sxz, szz = x/w, z/w, sxx/w, sxz/w, szz/w
	carrier, width := s.pulse.moments()
	focus := func(square, a, b float64) float64 { return carrier*(square-a*b) + width*square }
	return focus(sxx, x, x), focus(sxz, x, z), focus(szz, z, z)
}

// moments returns ½·ω² and ½·σ² of the spectrum of the pulse, with its mean ω and its standard
// deviation σ in rad/s.
func (p *pulse) moments() (carrier, width float64) {
	var energy, first, second float64
	for i := 1; i < len(p.values); i++ {
		a, b := p.values[i-1], p.values[i]
		energy += real(b)*real(b) + imag(b)*imag(b)
		first += imag(cmplx.Conj(a) * b)
		d := b - a
		second += real(d)*real(d) + imag(d)*imag(d)
	}
	omega := first / energy * p.rate
	return omega * omega / 2, max(0, second/energy*p.rate*p.rate-omega*omega)
}

// pixels is the number of pixels of a picture along each axis.
const pixels = 61

// Picture returns the envelope of the spot on a section around the reflector, which shows all of
// the contour at drop decibels below the peak, 0.01 to 40. A spot that does not fall to the
// contour in any reasonable distance, as along an aperture of one element, is an error.
func (s *Spot) Picture(drop float64) (*tfm.Envelope, error) {
	if !(drop >= 0.01 && drop <= 40) {
		return nil, fmt.Errorf("quality: drop %v dB: want 0.01 to 40", drop)
	}
	xx, xz, zz := s.form()
	determinant := xx*zz - xz*xz
	nepers := drop / 20 * math.Ln10
	halfX, halfZ := math.Sqrt(nepers*zz/determinant), math.Sqrt(nepers*xx/determinant)
	const margin, growth, attempts = 1.6, 1.5, 6
	halfX, halfZ = margin*halfX, margin*halfZ
	const longest = 1 // m
	for range attempts {
		if !(halfX < longest && halfZ < longest) { // also NaN
			break
		}
		env := s.draw(halfX, halfZ)
		found, err := sizing.Find(env, &sizing.Options{Drop: drop, Floor: -1})
		if err != nil {
			return nil, err
		}
		if len(found) > 0 && !found[0].Edge {
			return env, nil
		}
		halfX, halfZ = growth*halfX, growth*halfZ
	}
	return nil, fmt.Errorf("quality: point spread at %v m: no closed contour %v dB below its peak: want a wider aperture", s.At, drop)
}

// draw returns the envelope within the given distances of the reflector.
func (s *Spot) draw(halfX, halfZ float64) *tfm.Envelope {
	const steps = pixels - 1
	g := tfm.Grid{
		Origin: r3.Vec{X: s.At.X - halfX, Y: s.At.Y, Z: s.At.Z - halfZ},
		Step:   r3.Vec{X: 2 * halfX / steps, Y: 1, Z: 2 * halfZ / steps},
		Cols:   pixels, Rows: pixels, Slices: 1,
	}
	env := &tfm.Envelope{Grid: g, Data: make([]float32, g.Len())}
	for i := range env.Data {
		env.Data[i] = float32(s.Amplitude(r3.Sub(g.Point(i), s.At)))
	}
	return env
}

// Measure returns the spot as [sizing.Find] measures it in a picture, at drop decibels below its
// peak: position, length, width, tilt, area. So prediction and measurement have the same
// definitions.
func (s *Spot) Measure(drop float64) (sizing.Indication, error) {
	env, err := s.Picture(drop)
	if err != nil {
		return sizing.Indication{}, err
	}
	found, err := sizing.Find(env, &sizing.Options{Drop: drop, Floor: -1})
	if err != nil || len(found) == 0 {
		return sizing.Indication{}, fmt.Errorf("quality: point spread at %v m without a peak: %w", s.At, err)
	}
	return found[0], nil
}

// Width returns the width of the spot in m along a direction in space, between the points at drop
// decibels below the amplitude there, through the reflector. The direction has any length above 0.
// The width is infinite if the spot does not fall to the level within 1 m. It is NaN for a drop
// that is not finite and above 0, and for a direction that is not finite or 0.
func (s *Spot) Width(direction r3.Vec, drop float64) float64 {
	if !number.Positive(drop) || !number.Positive(r3.Norm(direction)) {
		return math.NaN()
	}
	level := sizing.Ratio(-drop)
	return s.reach(r3.Unit(direction), level) + s.reach(r3.Unit(r3.Scale(-1, direction)), level)
}

// reach returns the distance along a unit vector at which the spot first falls to a level.
func (s *Spot) reach(along r3.Vec, level float64) float64 {
	inside, outside := 0.0, s.Wavelength/50
	for s.Amplitude(r3.Scale(outside, along)) > level {
		inside, outside = outside, outside+max(s.Wavelength/50, 0.02*outside)
		if outside > 1 {
			return math.Inf(1)
		}
	}
	return bisect(inside, outside, func(d float64) bool {
		return s.Amplitude(r3.Scale(d, along)) > level
	})
}

// bisect returns where the answer of a question changes from true at a to false at b.
func bisect(a, b float64, question func(float64) bool) float64 {
	const halvings = 40
	for range halvings {
		if middle := (a + b) / 2; question(middle) {
			a = middle
		} else {
			b = middle
		}
	}
	return (a + b) / 2
}

// Indicator returns the array performance indicator at the spot: the area inside the contour 6 dB
// below the peak, divided by the square of the wavelength (C. Holmes, B. W. Drinkwater and P. D.
// Wilcox, NDT & E International 38 (2005) 701). A small value stands for a sharp picture.
func (s *Spot) Indicator() (float64, error) {
	in, err := s.Measure(sizing.SixDB)
	return in.Area / (s.Wavelength * s.Wavelength), err
}

// GridLoss returns the loss in dB of a reflector midway between pixels stepX and stepZ apart (m):
// how far the highest pixel lies below the peak. It is NaN for a step that is not finite or below
// 0.
func (s *Spot) GridLoss(stepX, stepZ float64) float64 {
	if !(min(stepX, stepZ) >= 0 && number.Finite(stepX+stepZ)) {
		return math.NaN()
	}
	worst := 0.0
	for _, sign := range [...]float64{1, -1} {
		a := s.Amplitude(r3.Vec{X: stepX / 2, Z: sign * stepZ / 2})
		b := s.Amplitude(r3.Vec{X: -stepX / 2, Z: -sign * stepZ / 2})
		worst = max(worst, -sizing.LevelDB(max(a, b), 1))
	}
	return worst
}

// CoarsestStep returns the largest step in m of a grid of square pixels for a given loss. A
// reflector midway between pixels then loses at most loss dB ([Spot.GridLoss]). The loss is above 0
// and at most 6. It is NaN for another loss. The amplitude fidelity of 2 dB of the codes for total
// focusing is a bound of this kind (from memory).
func (s *Spot) CoarsestStep(loss float64) float64 {
	if !(loss > 0 && loss <= 6) {
		return math.NaN()
	}
	keeps := func(step float64) bool { return s.GridLoss(step, step) <= loss }
	a, b := 0.0, s.Wavelength/50
	for keeps(b) && b < 1 {
		a, b = b, b+s.Wavelength/50
	}
	return bisect(a, b, keeps)
}
