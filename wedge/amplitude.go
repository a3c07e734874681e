// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// Amplitude is what becomes of a wave along a ray, factor by factor: the
// displacement at the end, in the direction of Arrival, of a wave that its source
// sends out in the direction of Departure. Its unit is the displacement of the
// longitudinal wave straight ahead of the source, in the medium of the first
// leg, at a distance of 1 m; without a [Source], that of the wave of the first leg
// there.
//
// Phases are those of the time factor exp(-iωt), as in [material.Boundary]. For
// the other one, which the analytic signal of a trace has, take the complex
// conjugate.
type Amplitude struct {
	Directivity complex128 // of the source; 1 without one
	Spreading   float64    // 1/√m in a Section, 1/m in Space; +Inf on a caustic
	Caustics    int        // touched on the way; each turns the phase by -π/2
	// Coefficients holds for each crossing the displacement of the leaving wave divided by the
	// displacement of the arriving wave, for plane waves at the boundary.
	Coefficients []complex128
	// Tubes holds √(cos out/cos in) for each crossing: the cross-section of a ray tube changes
	// where it is bent, besides its spreading.
	Tubes []float64
	// Alignment is the product of the cosines between the polarisation in which a
	// transverse wave leaves one crossing (or the source) and that in which it falls
	// on the next. In a Section it is ±1: the signs of [material.Boundary] turn with
	// the direction along the surface. On skew legs between surfaces that are not
	// parallel it is smaller: the rest is horizontally polarised at the next
	// crossing, and is left out.
	Alignment   float64
	Attenuation float64 // what the losses of the media leave, 0 to 1
	Time        float64 // of the ray, s
	// Departure and Arrival are the unit polarisations at the start and the end:
	// along the travel of a longitudinal wave, across that of a transverse one.
	Departure, Arrival r3.Vec
}

// Value returns the product of all factors, without the time of travel: the
// amplitude of the wave, and its phase beyond ω times Time.
func (a Amplitude) Value() complex128 {
	v := a.Directivity * complex(a.Spreading*a.Alignment*a.Attenuation, 0)
	for k, c := range a.Coefficients {
		v *= c * complex(a.Tubes[k], 0)
	}
	quarters := [...]complex128{1, -1i, -1, 1i}
	return v * quarters[a.Caustics%4]
}

// Amplitudes computes amplitudes along the rays of one path. It is immutable and
// safe for concurrent use.
type Amplitudes struct {
	path       *Path
	acoustics  Acoustics
	boundaries []material.Boundary // at each crossing, the arriving wave above
}

// NewAmplitudes returns the amplitudes along p for the given acoustics, whose
// slices it copies. The error names the field at fault.
func NewAmplitudes(p *Path, acoustics Acoustics) (*Amplitudes, error) {
	a := &Amplitudes{path: p, acoustics: acoustics.clone()}
	if err := a.acoustics.validate(p); err != nil {
		return nil, err
	}
	for k, c := range p.crossings {
		b, err := a.acoustics.boundary(k, c.Reflects)
		if err != nil {
			return nil, fmt.Errorf("wedge: crossing %d: %w", k, err)
		}
		a.boundaries = append(a.boundaries, b)
	}
	return a, nil
}

// Along returns the amplitude along a ray of the path.
//
// It is that of ray theory: right while all lengths (legs, radii of curvature,
// the distance from a caustic or from a critical angle) are long against the
// wavelength. The reflector, and the way back, are not in it: the echo of a
// small reflector is the amplitude of the transmitting path times its scattering
// times the amplitude of the receiving path, each from its element, by
// reciprocity.
//
// The error says that r is no ray (it wraps [ErrNoRay]) or not one of the path,
// that it leaves the section of constant y for a [Section], or that a leg has no
// length.
func (a *Amplitudes) Along(r *Ray) (Amplitude, error) {
	tube, err := a.path.spreading(r)
	if err != nil {
		return Amplitude{}, err
	}
	out := Amplitude{Alignment: 1, Attenuation: 1, Time: r.Time}
	switch {
	case math.IsNaN(tube.radius):
		return Amplitude{}, fmt.Errorf("wedge: amplitude of a ray with a leg of no length: want its ends away from the surfaces")
	case a.acoustics.Dimension == Space:
		out.Spreading, out.Caustics = 1/tube.radius, tube.caustics
	case math.IsNaN(tube.inPlane):
		return Amplitude{}, fmt.Errorf("wedge: amplitude in a section of a ray from %v to %v m, which is skew: want one y, or Space", r.Points[0], r.Points[len(r.Points)-1])
	default:
		out.Spreading, out.Caustics = 1/math.Sqrt(tube.inPlane), tube.causticsInPlane
	}
	if err := a.follow(r, &out); err != nil {
		return Amplitude{}, err
	}
	return out, nil
}

// follow computes the factors of source, crossings and legs.
func (a *Amplitudes) follow(r *Ray, out *Amplitude) error {
	legs := a.path.legs
	out.Directivity, out.Departure = a.acoustics.launch(legs[0].Mode, r.Direction(0))
	polarisation := out.Departure
	for k := range legs {
		length := r3.Norm(r3.Sub(r.Points[k+1], r.Points[k]))
		out.Attenuation *= a.acoustics.left(k, length)
		if k == len(a.boundaries) {
			break
		}
		incident, leaving := legs[k], legs[k+1]
		in, outward := r.Angles(k)
		scattered, err := a.boundaries[k].Scatter(incident.Mode, in)
		if err != nil {
			return fmt.Errorf("wedge: crossing %d: %w", k, err)
		}
		coefficients := scattered.Displacement.Transmitted
		if a.path.crossings[k].Reflects {
			coefficients = scattered.Displacement.Reflected
		}
		out.Coefficients = append(out.Coefficients, coefficients[leaving.Mode])
		out.Tubes = append(out.Tubes, math.Sqrt(math.Cos(outward)/math.Cos(in)))
		tangent := tangentAt(r, k, polarisation)
		arriving := polarised(incident.Mode, r.Direction(k), tangent)
		out.Alignment *= r3.Dot(polarisation, arriving)
		polarisation = polarised(leaving.Mode, r.Direction(k+1), tangent)
	}
	out.Arrival = polarisation
	return nil
}

// tangentAt returns the unit vector along the surface at crossing k in the plane
// of incidence, the way the ray travels. On the normal every direction along the
// surface is one: there it is that of the polarisation, if that has one.
func tangentAt(r *Ray, k int, polarisation r3.Vec) r3.Vec {
	d, n := r.Direction(k), r.Normals[k]
	const least = 1e-9
	for _, v := range [...]r3.Vec{d, polarisation, {X: 1}} {
		if along := r3.Sub(v, r3.Scale(r3.Dot(v, n), n)); r3.Norm(along) > least {
			return r3.Unit(along)
		}
	}
	return r3.Vec{Y: 1} // a normal along x
}

// polarised returns the unit polarisation that counts as positive of a wave that
// travels along d, by the signs of [material.Boundary]: of a transverse one, the
// one with a positive part along tangent.
func polarised(mode material.Mode, d, tangent r3.Vec) r3.Vec {
	if mode == material.L {
		return d
	}
	return r3.Unit(r3.Sub(tangent, r3.Scale(r3.Dot(tangent, d), d)))
}
