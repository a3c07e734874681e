// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Acoustics are the properties of a part, besides the speeds, on which amplitudes depend. The zero
// value stands for a welded coupling without losses.
type Acoustics struct {
	// Contact is the contact of a solid coupling with the part: material.LiquidFilm for a wedge
	// with couplant, material.Welded for a wedge that is bonded to the part. All faces in the part
	// are welded.
	Contact material.Contact
	// Attenuation gives the losses by place. Nil stands for no losses.
	Attenuation Attenuation
	// Source is the element, as in package wedge. The coupling, or in contact the medium at the
	// element, must be isotropic. Nil stands for an element without directivity. In contact a table
	// of qSV needs the source: its waves to both sides have opposite signs.
	Source *wedge.Source
	// Frequency is the frequency of the wave in Hz, finite and above 0. Only Attenuation and Source
	// need it.
	Frequency float64
}

// Attenuation gives the losses of waves in the coupling and in the part. Implementations must be
// safe for concurrent use, and smooth inside each zone.
type Attenuation interface {
	// Nepers returns the attenuation coefficient of the amplitude at a place (m), in Np/m, at a
	// frequency in Hz. All waves cross the coupling as longitudinal waves, whatever pol is.
	Nepers(pol Polarisation, at r3.Vec, frequency float64) float64
}

// validate returns an error that names the first field out of range.
func (a *Acoustics) validate() error {
	if a.Contact > material.LiquidFilm {
		return fmt.Errorf("graded: contact %d of the coupling: want material.Welded or material.LiquidFilm",
			a.Contact)
	}
	if (a.Attenuation != nil || a.Source != nil) && !number.Positive(a.Frequency) {
		return fmt.Errorf("graded: frequency of the acoustics %v Hz: want a finite value above 0",
			a.Frequency)
	}
	return nil
}

// Amplitude is the amplitude of a wave along a ray, factor by factor. [Amplitude.Value] returns the
// product: the displacement at the end of the ray in the direction of Arrival.
//
// The conventions are the conventions of [wedge.Amplitude] in a section. Without a source, the wave
// has the displacement 1 in the direction of Departure at a distance of 1 m from a line source, in
// the medium of the element. If this medium is anisotropic, the line source sends the same energy
// into each angle of wave normals. The time factor is exp(−iωt), and the phase of travel is not part
// of the amplitude.
type Amplitude struct {
	Time        float64    // of the ray, s
	Directivity complex128 // of the source; 1 without a source
	// Spreading is √(V/J) in 1/√m: rays with wave normals dα apart at the element arrive J·dα
	// apart along the wave front. V is the product of the ratios of the phase speed at the start to
	// the phase speed at the end, over all zones. It is 1 where no zone is graded. Spreading is
	// +Inf on a caustic.
	Spreading float64
	// Caustics is the caustic index: each caustic on the way adds 1 and changes the phase by −π/2.
	// A caustic where the slowness curve is concave adds −1. So does an element on a medium in
	// which the wave leaves with a concave curve.
	Caustics int
	// Coefficients holds for each face and each wall, and first for the entry surface behind a
	// coupling, the displacement of the wave behind it, or reflected by it, divided by the displacement
	// of the wave before it.
	Coefficients []complex128
	// Tubes holds for each of them √(cos out/cos in), with the angles of the rays from its normal. In
	// anisotropic media each cosine is divided by the cosine between the ray and its wave normal.
	Tubes       []float64
	Attenuation float64 // remaining share after the losses, 0 to 1
	// Departure and Arrival are the unit vectors along which displacements count as positive, at
	// both ends. They lie along the wave normal for qL, along y for SH. For qSV they lie a quarter
	// turn before the normal: towards +x if the wave goes down. The displacement of qL and qSV in an
	// anisotropic medium has other components too.
	Departure, Arrival r3.Vec
}

// Value returns the product of all factors, without the phase of travel.
func (a *Amplitude) Value() complex128 {
	v := a.Directivity * complex(a.Spreading*a.Attenuation, 0)
	for k, c := range a.Coefficients {
		v *= c * complex(a.Tubes[k], 0)
	}
	quarters := [...]complex128{1, -1i, -1, 1i}
	return v * quarters[a.Caustics&3]
}

// Amplitudes returns the amplitudes along all rays from an element to a point, in the order of
// arrival, as [Part.Rays] finds them. Nil acoustics and nil options stand for the defaults. All
// media must implement [Elastic].
//
// Amplitudes follow ray theory: all lengths must be long relative to the wavelength (the distance
// from a caustic and from an edge, the length over which grains turn). Close to a caustic ray theory
// overstates the amplitude. Close to the critical angle of a face there may be no amplitude:
// Spreading is NaN.
func (p *Part) Amplitudes(
	pol Polarisation, element, point r3.Vec, acoustics *Acoustics, options *Options,
) ([]Amplitude, error) {
	points := []r3.Vec{point}
	o, err := p.check(pol, []r3.Vec{element}, points, options, true)
	if err != nil {
		return nil, err
	}
	law, err := p.acoustics(acoustics)
	if err != nil {
		return nil, err
	}
	a := newAim(element, newPointIndex(points, &o), &o)
	var out []Amplitude
	for _, s := range a.fan.rays(a.candidates[0], point) {
		v, err := a.fan.amplitude(&s, law)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, a.fan.limit()
}

// acoustics returns acoustics that fit the part, or an error.
func (p *Part) acoustics(a *Acoustics) (*Acoustics, error) {
	if a == nil {
		a = new(Acoustics)
	}
	for i, m := range p.Media {
		if m == (void{}) {
			continue
		}
		if _, ok := m.(Elastic); !ok {
			return nil, fmt.Errorf("graded: medium %d of type %T: want one that implements Elastic, for amplitudes", i, m)
		}
	}
	return a, a.validate()
}

// errNoAmplitude reports a ray without an amplitude. It is so close to a critical angle, or to
// grazing a face, that no ray goes on beside it.
var errNoAmplitude = errors.New("graded: ray at a critical angle")

// amplitude returns the amplitude along a ray of the fan.
func (f *fan) amplitude(s *solution, acoustics *Acoustics) (Amplitude, error) {
	t := f.begin(s, acoustics)
	err := t.launch(s.launch)
	if err == nil {
		err = t.follow(s)
	}
	if errors.Is(err, errNoAmplitude) {
		nan := math.NaN()
		return Amplitude{
			Time: s.time, Directivity: t.out.Directivity, Spreading: nan, Attenuation: nan,
			Departure: t.out.Departure,
		}, nil
	} else if err != nil {
		return Amplitude{}, err
	}
	t.out.Time, t.out.Caustics = s.time, t.caustics
	t.out.Spreading = math.Sqrt(t.gain / t.speed() / math.Abs(t.front()))
	t.out.Attenuation = math.Exp(-t.loss)
	t.out.Arrival = t.wave.direction(t.now.angle)
	return t.out, nil
}

// launch computes the directivity of the source, as package wedge does for a ray of one leg.
func (t *tube) launch(angle float64) error {
	t.out.Directivity = 1
	if t.acoustics.Source == nil {
		return nil
	}
	medium := t.medium
	if one, ok := medium.(oneWave); ok {
		medium = one.Medium
	}
	m, ok := medium.(isotropic)
	if !ok {
		return fmt.Errorf("graded: source on a medium of type %T: want an isotropic medium", medium)
	}
	mode := material.L
	switch t.wave {
	case QuasiShearVertical:
		mode = material.T
	case ShearHorizontal:
		return errors.New("graded: source of SH: want none, because its force is normal to the surface")
	}
	path, err := wedge.NewPath([]wedge.Leg{{Speed: m.solid.Speed(mode), Mode: mode}}, nil)
	if err != nil {
		return fmt.Errorf("graded: source: %w", err)
	}
	a, err := wedge.NewAmplitudes(path, wedge.Acoustics{
		Dimension: wedge.Section, Media: []material.Isotropic{m.solid}, Source: t.acoustics.Source,
		Frequency: t.acoustics.Frequency,
	})
	if err != nil {
		return fmt.Errorf("graded: source: %w", err)
	}
	r := path.Solve(t.element, r3.Add(t.element, heading(angle)))
	along, err := a.Along(&r)
	if err != nil {
		return fmt.Errorf("graded: source: %w", err)
	}
	t.out.Directivity = along.Directivity
	if r3.Dot(along.Departure, t.out.Departure) < 0 {
		t.out.Directivity = -along.Directivity
	}
	return nil
}

// follow takes the tube along the ray, from the element to the point.
func (t *tube) follow(s *solution) error {
	if t.part.Coupling != nil {
		at, time, _ := t.entry(s.launch)
		t.advance(time)
		t.now.x, t.now.z = at.X, at.Z
		face, _ := t.refraction(s.launch, at)
		p := passage{face: face, to: t.part.rooms[s.chain[0].room], contact: t.acoustics.Contact}
		err := t.pass(&p, s.chain[0], func(v state) (face, along float64) {
			return t.refraction(v.angle, v.at(t.y))
		})
		if err != nil {
			return err
		}
	}
	for i, p := range s.chain[:len(s.chain)-1] {
		c, err := t.reachFace(p)
		if err != nil {
			return err
		}
		passage := t.passage(&c, p.room)
		err = t.pass(&passage, s.chain[i+1], func(v state) (face, along float64) {
			return t.along(c, p.room, v)
		})
		if err != nil {
			return err
		}
	}
	for t.time+t.fan.step < s.time {
		t.advance(t.fan.step)
	}
	t.advance(s.time - t.time)
	return nil
}

// reachFace takes the tube through the zone of a piece to the face by which the piece leaves it.
func (t *tube) reachFace(p *piece) (crossing, error) {
	for t.time <= t.latest {
		next := t.fan.advance(t.medium, t.now, t.fan.step)
		c, left := t.leaves(p.room, t.now, next, t.fan.step)
		if !left {
			t.advance(t.fan.step)
			continue
		}
		t.advance(c.share * t.fan.step)
		if c.exit < 0 {
			break
		}
		return c, nil
	}
	return crossing{}, errNoAmplitude
}

// passage returns the passage through the wall of a room. Behind the back wall is a vacuum. Behind the
// entry surface is the coupling, or a vacuum if there is none.
func (t *tube) passage(c *crossing, room int) passage {
	face, _ := t.along(*c, room, t.now)
	if !c.wall.mirrors {
		return passage{face: face, to: t.part.rooms[c.room]}
	}
	p := passage{face: face + math.Pi, reflects: true} // the far side is outside the part
	if c.wall.surface == t.part.Entry && t.part.Coupling != nil {
		p.to, p.contact = t.part.lead(), t.acoustics.Contact
	}
	return p
}

// pass takes the tube through a face, or off a wall, into a piece. law returns the angle of the face,
// with the piece on its far side, and the slowness along it, for a wave on the face.
func (t *tube) pass(p *passage, behind *piece, law func(state) (face, along float64)) error {
	next := t.part.rooms[behind.room]
	p.at, p.from, p.in = t.now.at(t.y), t.medium, t.now.angle
	face, along := law(t.now)
	p.slowness = along * math.Cos(face-p.face) // the faces are equal or opposite
	in := t.across(p.face)
	t.gain /= t.speed()
	err := t.refract(face, next, func(v state) (float64, bool) {
		face, along := law(v)
		angles := t.transmitted(next, v.at(t.y), face, along, behind.start.angle)
		if len(angles) == 0 {
			return 0, false
		}
		return angles[0], true
	})
	if err != nil {
		return err
	}
	t.gain *= t.speed()
	p.out = t.now.angle
	wave := t.part.wave(behind.room)
	c, err := p.coefficient(t.wave, wave)
	if err != nil {
		return err
	}
	t.wave, t.leg = wave, wave
	if p.reflects {
		t.sign = -t.sign // a reflection turns J over; this is no caustic
	}
	t.out.Coefficients = append(t.out.Coefficients, c)
	t.out.Tubes = append(t.out.Tubes, math.Sqrt(t.across(face)/in))
	return nil
}
