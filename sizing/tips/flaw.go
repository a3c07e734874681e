// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Method says from which echoes a flaw was read.
type Method string

// The methods, the best first.
const (
	// TwoTips is a flaw between the echoes of its two tips.
	TwoTips Method = "tips"
	// TipAndWall is a flaw from the echo of its tip to the back wall.
	TipAndWall Method = "tip and wall"
	// FaceAndWall is a flaw on the back wall whose face shows in a half-skip view. Its height is
	// the 6 dB extent of the face.
	FaceAndWall Method = "face and wall"
	// OneTip is the echo of a tip whose other end does not show. Both ends of the flaw are this
	// tip, and its length is 0, a lower bound: the flaw may end anywhere.
	OneTip Method = "tip"
	// Face is a face that mirrors the beam into the array and drowns its tips. Its length is the 6
	// dB length of the picture, a lower bound.
	Face Method = "face"
)

// Reading says what the length of a flaw means.
type Reading string

// The readings.
const (
	Measured   Reading = "measured"    // within its uncertainty
	LowerBound Reading = "lower bound" // the flaw may be longer, up to any length
	Unresolved Reading = "unresolved"  // shorter than the picture resolves: the true length may be 0 to about Length
)

// Flaw is a planar flaw of a section. Lengths are in metres, angles in radians.
type Flaw struct {
	Method   Method  `json:"method"`
	LengthIs Reading `json:"length_is"`
	Ends     [2]End  `json:"ends"` // the upper end, of smaller z, first
	Centre   r3.Vec  `json:"centre_m"`

	Length            float64 `json:"length_m"` // distance of the ends
	LengthUncertainty float64 `json:"length_uncertainty_m"`

	// Tilt is the angle of the flaw from the vertical, in (-π/2, π/2]. It is positive where the top
	// leans to +x. Of [OneTip] it is 0 with a TiltUncertainty of π/2: the direction is not known.
	Tilt            float64 `json:"tilt_rad"`
	TiltUncertainty float64 `json:"tilt_uncertainty_rad"`

	// Height is the distance from the back wall to the upper end, and 0 without a back wall.
	Height float64 `json:"height_m"`

	Evidence []Evidence `json:"evidence"` // one for each view that shows the flaw, the best first
}

// End is an end of a flaw.
type End struct {
	At r3.Vec `json:"at_m"`
	// Uncertainty is the standard uncertainty of the position along the line of the flaw, and of
	// [OneTip] in the worst direction. It is caused by the picture: the width of the spot, noise
	// and the grid. Errors of speeds, wedge and probe position are not part of it.
	Uncertainty float64 `json:"uncertainty_m"`
	// OnWall says that the end is the foot on the back wall.
	OnWall bool `json:"on_wall"`
}

// Evidence says what one view shows of a flaw. Phase and RatioDB compare two tips, so they and
// their errors are 0 for other methods. If no tip of the view was used, but a corner or a face,
// Fit, HoleFit and Opening are 0 too.
type Evidence struct {
	View string `json:"view"`
	// Indications are the IDs of the spots at the upper and at the lower end, and 0 for none. They
	// are the numbers that [sizing.Find] gives with the floor of the options. A tip that shows as
	// two lobes has the ID of the stronger lobe.
	Indications [2]int `json:"indications"`
	// Fit is the share of the energy at the spots that the tips explain, 0 to 1: both tips with one
	// common gain, over all pairs of the array.
	Fit float64 `json:"fit"`
	// HoleFit is the same share for two separate holes of any size and any strength.
	HoleFit float64 `json:"hole_fit"`
	// Phase is the predicted phase of the echo of the upper tip less the phase of the lower tip.
	// PhaseError is the measured difference less the predicted difference. Both lie in [-π, π].
	Phase      float64 `json:"phase_rad"`
	PhaseError float64 `json:"phase_error_rad"`
	// RatioDB is the predicted level of the upper tip above the lower tip in the picture, and
	// RatioErrorDB is the measured level difference less the predicted difference.
	RatioDB      float64 `json:"ratio_db"`
	RatioErrorDB float64 `json:"ratio_error_db"`
	// Opening is the width of the slit, in m, that fits best: 0 for a sharp crack. It is a rough
	// estimate up to a quarter of the wavelength of transverse waves.
	Opening float64 `json:"opening_m"`
}

// place is a position with the inverse of its covariance.
type place struct {
	x, z       float64
	xx, xz, zz float64 // information, 1/m²
}

// join returns the mean of two places, weighted with their information.
func (p place) join(q place) place {
	out := place{xx: p.xx + q.xx, xz: p.xz + q.xz, zz: p.zz + q.zz}
	bx := p.xx*p.x + p.xz*p.z + q.xx*q.x + q.xz*q.z
	bz := p.xz*p.x + p.zz*p.z + q.xz*q.x + q.zz*q.z
	det := out.xx*out.zz - out.xz*out.xz
	out.x = (out.zz*bx - out.xz*bz) / det
	out.z = (out.xx*bz - out.xz*bx) / det
	return out
}

// apart returns the distance of two places in standard deviations of their difference.
func (p place) apart(q place) float64 {
	a, b := p.covariance(), q.covariance()
	xx, xz, zz := a[0]+b[0], a[1]+b[1], a[2]+b[2]
	dx, dz := p.x-q.x, p.z-q.z
	return math.Sqrt((zz*dx*dx - 2*xz*dx*dz + xx*dz*dz) / (xx*zz - xz*xz))
}

// covariance returns the covariance xx, xz, zz in m².
func (p place) covariance() [3]float64 {
	det := p.xx*p.zz - p.xz*p.xz
	return [3]float64{p.zz / det, -p.xz / det, p.xx / det}
}

// blurred returns a place with a further standard uncertainty, equal in all directions.
func (p place) blurred(sigma float64) place {
	c := p.covariance()
	inverse := place{xx: c[0] + sigma*sigma, xz: c[1], zz: c[2] + sigma*sigma}.covariance()
	p.xx, p.xz, p.zz = inverse[0], inverse[1], inverse[2]
	return p
}

// along returns the standard uncertainty along the unit vector (ux, uz) in m.
func (p place) along(ux, uz float64) float64 {
	c := p.covariance()
	return math.Sqrt(c[0]*ux*ux + 2*c[1]*ux*uz + c[2]*uz*uz)
}

// place returns the position of a match at the spot.
func (s *spot) place(m match) place {
	snr := s.Amplitude / max(s.view.background, s.Amplitude*1e-6)
	sigma := func(share, extent float64) float64 {
		return math.Hypot(math.Hypot(share*extent, extent/(0.94*snr)), s.view.step/math.Sqrt(12))
	}
	long, wide := sigma(sigmaLong, s.reach(s.Length)), sigma(sigmaWide, s.reach(s.Width))
	sin, cos := math.Sincos(s.Tilt)
	a, b := 1/(long*long), 1/(wide*wide)
	// The long axis runs along (sin, -cos), the short axis along (cos, sin).
	return place{m.x, m.z, a*sin*sin + b*cos*cos, (b - a) * sin * cos, a*cos*cos + b*sin*sin}
}

// sigmaLong and sigmaWide are the standard uncertainties of a tip along both axes of its spot, as a
// share of the 6 dB extent: other echoes interfere with the spot.
const (
	sigmaLong = 0.10
	sigmaWide = 0.08
)

// lay sets the ends and what follows from them.
func (f *Flaw) lay(a, b place, height func(r3.Vec) float64) {
	dx, dz := b.x-a.x, b.z-a.z
	f.Length = math.Hypot(dx, dz)
	ux, uz := dx/f.Length, dz/f.Length
	f.Ends[0].At, f.Ends[1].At = vec(a.x, a.z), vec(b.x, b.z)
	f.Ends[0].Uncertainty, f.Ends[1].Uncertainty = a.along(ux, uz), b.along(ux, uz)
	f.LengthUncertainty = math.Hypot(f.Ends[0].Uncertainty, f.Ends[1].Uncertainty)
	f.Centre = r3.Scale(0.5, r3.Add(f.Ends[0].At, f.Ends[1].At))
	f.Tilt = math.Atan(-dx / dz)
	if dz == 0 {
		f.Tilt = math.Pi / 2
	}
	f.TiltUncertainty = math.Hypot(a.along(-uz, ux), b.along(-uz, ux)) / f.Length
	f.Height = height(f.Ends[0].At)
}

// stop sets both ends to the only one that shows.
func (f *Flaw) stop(tip place, height func(r3.Vec) float64) {
	at := vec(tip.x, tip.z)
	c := tip.covariance()
	worst := math.Sqrt((c[0] + c[2] + math.Hypot(c[0]-c[2], 2*c[1])) / 2)
	f.Ends = [2]End{{At: at, Uncertainty: worst}, {At: at, Uncertainty: worst}}
	f.Centre, f.Height, f.TiltUncertainty = at, height(at), math.Pi/2
}
