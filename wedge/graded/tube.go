// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"
)

// tube is a ray with its derivative by the launch angle: two neighbouring rays, dα apart at the
// element, are deviation·dα apart at the same time. The deviation satisfies the derivative of
// Hamilton's equations (dynamic ray tracing). At a wave front the deviation of the place is J along
// the front, where
//
//	J = deviation · n⊥
//
// and n⊥ is the normal n turned on by a right angle. Without losses the energy flux ρ·v·J·A² of the
// tube is the same along the ray, with the density ρ, the phase speed v and the amplitude A.
type tube struct {
	*fan
	acoustics *Acoustics
	medium    Medium
	wave      Polarisation // in this medium
	leg       Polarisation // of this leg; before the coupling, of the first leg
	now       state
	deviation state
	time      float64 // s
	sign      float64 // of J at the last step
	caustics  int
	loss      float64 // Np
	gain      float64 // product of the phase speeds at the start of zones, divided by those at their ends
	out       Amplitude
}

// begin returns the tube of a ray at the element.
func (f *fan) begin(s *solution, acoustics *Acoustics) *tube {
	t := &tube{
		fan: f, acoustics: acoustics, wave: f.pol, leg: f.pol, sign: 1,
		now: state{f.element.X, f.element.Z, s.launch}, deviation: state{angle: 1},
	}
	if f.part.Coupling != nil {
		t.medium, t.wave = f.part.lead(), QuasiLongitudinal
	} else {
		t.medium = f.part.rooms[s.chain[0].room]
	}
	t.gain = t.speed()
	t.out.Departure = t.wave.direction(s.launch)
	return t
}

// difference is the relative step of the differences that give derivatives.
const difference = 1e-5

// apart returns the factor by which a deviation is multiplied for differences.
func (t *tube) apart(d state) float64 {
	return difference / max(math.Hypot(d.x, d.z)/t.spread, math.Abs(d.angle))
}

// vary returns the rate of a deviation.
func (t *tube) vary(s, d state) state {
	h := t.apart(d)
	after := t.rate(t.medium, state{s.x + h*d.x, s.z + h*d.z, s.angle + h*d.angle})
	before := t.rate(t.medium, state{s.x - h*d.x, s.z - h*d.z, s.angle - h*d.angle})
	return state{(after.x - before.x) / (2 * h), (after.z - before.z) / (2 * h), (after.angle - before.angle) / (2 * h)}
}

// advance moves the tube on by a time, in one step of the method of Dormand and Prince.
func (t *tube) advance(h float64) {
	var rates, changes [7]state
	var losses [7]float64
	s, d := t.now, t.deviation
	stages := dormandPrince[:]
	law := t.acoustics.Attenuation
	if t.medium.Uniform() && law == nil {
		stages = [][]float64{{1}} // all rates are constant
	}
	for i, weights := range stages {
		rates[i], changes[i] = t.rate(t.medium, s), t.vary(s, d)
		if law != nil {
			losses[i] = math.Hypot(rates[i].x, rates[i].z) * law.Nepers(t.leg, s.at(t.y), t.acoustics.Frequency)
		}
		s, d = t.now.plus(h, weights, &rates), t.deviation.plus(h, weights, &changes)
	}
	for i, w := range stages[len(stages)-1] {
		t.loss += h * w * losses[i]
	}
	t.now, t.deviation, t.time = s, d, t.time+h
	t.count()
}

// front returns the separation J along the wave front.
func (t *tube) front() float64 {
	sin, cos := math.Sincos(t.now.angle)
	return t.deviation.z*cos - t.deviation.x*sin
}

// count counts a caustic where J changes its sign. Where the slowness curve is convex, the phase of
// the wave then changes by −π/2; where it is concave, by +π/2.
func (t *tube) count() {
	sign := math.Copysign(1, t.front())
	if sign == t.sign {
		return
	}
	t.sign = sign
	if t.convex() {
		t.caustics++
	} else {
		t.caustics--
	}
}

// convex reports whether the slowness curve is convex at the wave.
func (t *tube) convex() bool {
	const h = 1e-4
	at := t.now.at(t.y)
	w := t.medium.Phase(t.pol, at, t.now.angle)
	after, before := t.medium.Phase(t.pol, at, t.now.angle+h), t.medium.Phase(t.pol, at, t.now.angle-h)
	return w.Speed+(after.ByAngle-before.ByAngle)/(2*h) > 0
}

// across returns the component of the group velocity across a face, divided by the phase speed.
func (t *tube) across(face float64) float64 {
	return t.leaving(t.medium, t.now.at(t.y), face, t.now.angle) / t.speed()
}

// speed returns the phase speed.
func (t *tube) speed() float64 { return t.medium.Phase(t.pol, t.now.at(t.y), t.now.angle).Speed }

// refract takes the tube through a face into the next medium. angle returns the angle of the normal
// behind the face for a wave on the face, if such a wave exists.
func (t *tube) refract(face float64, next Medium, angle func(state) (float64, bool)) error {
	// A neighbour meets the face later by this time, to first order.
	n, rate := heading(face+math.Pi/2), t.rate(t.medium, t.now)
	d := t.deviation
	late := -(d.x*n.X + d.z*n.Z) / (rate.x*n.X + rate.z*n.Z)
	d = state{d.x + rate.x*late, d.z + rate.z*late, d.angle + rate.angle*late}
	on, ok := angle(t.now)
	turn, found := t.turned(d, angle)
	if !ok || !found {
		return errNoAmplitude
	}
	t.now.angle, t.medium = on, next
	rate = t.rate(next, t.now)
	t.deviation = state{d.x - rate.x*late, d.z - rate.z*late, turn - rate.angle*late}
	return nil
}

// turned returns the derivative of the angle behind a face by the launch angle. Close to a critical
// angle it takes smaller differences.
func (t *tube) turned(d state, angle func(state) (float64, bool)) (float64, bool) {
	for h := t.apart(d); h > 1e-6*t.apart(d); h /= 8 {
		before, ok := angle(state{t.now.x - h*d.x, t.now.z - h*d.z, t.now.angle - h*d.angle})
		after, fine := angle(state{t.now.x + h*d.x, t.now.z + h*d.z, t.now.angle + h*d.angle})
		if ok && fine {
			return (after - before) / (2 * h), true
		}
	}
	return 0, false
}
