// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/material/beam"
)

// Dimension tells how waves spread.
type Dimension uint8

const (
	// Space: waves spread in all directions, from a source that is small in both directions.
	Space Dimension = iota
	// Section: waves spread in the sections of constant y only, from a line source along y. It
	// holds for a source that is long along y compared with the distance.
	Section
)

// Acoustics holds the properties that amplitudes need besides the path.
type Acoustics struct {
	Media []material.Isotropic // of each leg; the speed of the leg must be the speed of the medium
	// Interfaces holds the interface at each crossing.
	Interfaces []Interface
	// Frequency is the frequency of directivity and attenuation, in Hz, finite and above 0. It may
	// be zero if there is neither a Source nor an Attenuation.
	Frequency float64
	// Attenuation holds the law of each leg, for its mode. Nil stands for no loss.
	Attenuation []material.Attenuation
	Dimension   Dimension
	Source      *Source // nil for a source without directivity
}

// Interface is the boundary at a crossing.
type Interface struct {
	Contact material.Contact // between two solids: material.LiquidFilm for a wedge with couplant
	// Beyond is the medium behind a reflecting surface. Nil stands for a vacuum, which is a good
	// model of air. For a refracting surface Beyond must be nil: the medium of the next leg lies
	// behind it.
	Beyond *material.Isotropic
}

// Source is an element on the medium of the first leg: a rectangle that exerts the same normal
// stress everywhere on the surface. On a fluid it is an element in a soft baffle. See
// [beam.LineForce] and [beam.Strip].
type Source struct {
	Width  float64 // along Axis in m, finite, at least 0; 0 if small compared with the wavelength
	Length float64 // across Axis in m, as Width; without effect in a Section
	Normal r3.Vec  // straight ahead, away from the array; any length above 0
	Axis   r3.Vec  // along the array, at right angles to Normal; any length above 0
}

// Acoustics returns the acoustics of a path of [Setup.Path]: in Space, without frequency, losses
// and source. The array couples to its wedge and to the part through a liquid film. Behind the back
// wall is air. Behind the entry surface, seen from inside, is the coupling, or air for an array in
// contact.
func (s *Setup) Acoustics(p *Path) Acoustics {
	var a Acoustics
	for k := range p.legs {
		medium := s.Part
		if k == 0 && s.Coupling != nil {
			medium = *s.Coupling
		}
		a.Media = append(a.Media, medium)
	}
	for _, c := range p.crossings {
		i := Interface{Contact: material.LiquidFilm}
		if c.Reflects && c.From == Far { // off the entry surface, from inside
			i.Beyond = s.Coupling
		}
		a.Interfaces = append(a.Interfaces, i)
	}
	return a
}

func (a Acoustics) clone() Acoustics {
	a.Media = slices.Clone(a.Media)
	a.Interfaces = slices.Clone(a.Interfaces)
	a.Attenuation = slices.Clone(a.Attenuation)
	for i := range a.Interfaces {
		if b := a.Interfaces[i].Beyond; b != nil {
			beyond := *b
			a.Interfaces[i].Beyond = &beyond
		}
	}
	if a.Source != nil {
		source := *a.Source
		a.Source = &source
	}
	return a
}

// validate reports the first field that does not fit p or is out of range.
func (a *Acoustics) validate(p *Path) error {
	if len(a.Media) != len(p.legs) || len(a.Interfaces) != len(p.crossings) {
		return fmt.Errorf("wedge: acoustics of %d media and %d interfaces: want %d and %d, one for each leg and crossing",
			len(a.Media), len(a.Interfaces), len(p.legs), len(p.crossings))
	}
	if n := len(a.Attenuation); n != 0 && n != len(p.legs) {
		return fmt.Errorf("wedge: %d laws of attenuation: want none or %d, one for each leg",
			n, len(p.legs))
	}
	for k, leg := range p.legs {
		if err := a.Media[k].Validate(); err != nil {
			return fmt.Errorf("wedge: medium of leg %d: %w", k, err)
		}
		if speed := a.Media[k].Speed(leg.Mode); speed != leg.Speed {
			return fmt.Errorf("wedge: medium of leg %d carries %v at %v m/s: want the %v m/s of the leg",
				k, leg.Mode, speed, leg.Speed)
		}
	}
	for k, law := range a.Attenuation {
		if err := law.Validate(); err != nil {
			return fmt.Errorf("wedge: attenuation of leg %d: %w", k, err)
		}
	}
	if a.Dimension > Section {
		return fmt.Errorf("wedge: dimension %d of the acoustics: want Space or Section",
			a.Dimension)
	}
	if a.Source != nil || len(a.Attenuation) > 0 {
		if err := checkPositive("frequency of the acoustics", a.Frequency, "Hz"); err != nil {
			return err
		}
	}
	if a.Source == nil {
		return nil
	}
	return a.Source.validate()
}

func (s *Source) validate() error {
	for _, side := range []struct {
		name  string
		value float64
	}{{"width", s.Width}, {"length", s.Length}} {
		if !(side.value >= 0) || math.IsInf(side.value, 0) {
			return fmt.Errorf("wedge: %s of the source %v m: want a finite value of 0 or above",
				side.name, side.value)
		}
	}
	for _, v := range []struct {
		name  string
		value r3.Vec
	}{{"normal", s.Normal}, {"axis", s.Axis}} {
		if !finite(v.value) || v.value == (r3.Vec{}) {
			return fmt.Errorf("wedge: %s of the source %v: want a finite vector that is not zero",
				v.name, v.value)
		}
	}
	if cos := r3.Cos(s.Normal, s.Axis); !(math.Abs(cos) <= 1e-6) {
		return fmt.Errorf("wedge: axis of the source %v, its normal %v: want them at right angles",
			s.Axis, s.Normal)
	}
	return nil
}

// boundary returns the boundary at crossing k.
func (a *Acoustics) boundary(k int, reflects bool) (material.Boundary, error) {
	i := a.Interfaces[k]
	switch {
	case !reflects && i.Beyond != nil:
		return material.Boundary{}, fmt.Errorf("a medium beyond a refracting surface: want that of the next leg, and nil here")
	case !reflects:
		return material.NewBoundary(a.Media[k], a.Media[k+1], i.Contact)
	case i.Beyond != nil:
		return material.NewBoundary(a.Media[k], *i.Beyond, i.Contact)
	}
	return material.NewFreeSurface(a.Media[k])
}

// left returns the share of the amplitude that remains after the losses of leg k, whose length is
// in m.
func (a *Acoustics) left(k int, length float64) float64 {
	if a.Attenuation == nil {
		return 1
	}
	return a.Attenuation[k].Amplitude(a.Frequency, length)
}

// launch returns the directivity of the source for a wave of the mode that leaves along d, and the
// polarisation of this wave.
func (a *Acoustics) launch(mode material.Mode, d r3.Vec) (directivity complex128, polarisation r3.Vec) {
	normal := r3.Vec{Z: 1}
	axis := r3.Vec{X: 1}
	if a.Source != nil {
		normal, axis = r3.Unit(a.Source.Normal), r3.Unit(a.Source.Axis)
	}
	// The tangent lies in the plane of the normal and the ray. It determines the sign of a
	// transverse wave.
	tangent := r3.Sub(d, r3.Scale(r3.Dot(d, normal), normal))
	if !(r3.Norm(tangent) > 1e-9) {
		tangent = axis
	}
	polarisation = polarised(mode, d, r3.Unit(tangent))
	if a.Source == nil {
		return 1, polarisation
	}
	return a.directivity(mode, d, normal, axis), polarisation
}

// directivity returns the directivity of the source: of its force on the surface, times the
// directivity of its sides.
func (a *Acoustics) directivity(mode material.Mode, d, normal, axis r3.Vec) complex128 {
	medium := a.Media[0]
	cos := r3.Dot(d, normal)
	if cos <= 0 {
		return 0 // behind the element
	}
	out := beam.LineForce(medium, mode, math.Atan2(r3.Norm(r3.Cross(d, normal)), cos))
	wavelength := medium.Speed(mode) / a.Frequency
	out *= complex(side(a.Source.Width, wavelength, r3.Dot(d, axis)), 0)
	if a.Dimension == Section {
		return out
	}
	out *= complex(side(a.Source.Length, wavelength, r3.Dot(d, r3.Cross(normal, axis))), 0)
	if mode == material.T {
		// The amplitude from a line force is proportional to the square root of the wavelength.
		// The amplitude from a point force is not.
		out *= complex(math.Sqrt(medium.Longitudinal/medium.Transverse), 0)
	}
	return out
}

// side returns the directivity of one side of a source in the direction with the given sine.
func side(width, wavelength, sin float64) float64 {
	if width == 0 {
		return 1
	}
	return beam.Strip{Width: width, Wavelength: wavelength}.Directivity(math.Asin(max(-1, min(1, sin))))
}
