// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// Amplitude is the amplitude of a wave along a ray, factor by factor. [Amplitude.Value] returns the
// product. It is the displacement at the end of the ray, in the direction of Arrival, of a wave
// that the source sends out with a displacement in the direction of Departure.
//
// The unit of the amplitude is the displacement of the longitudinal wave straight ahead of the
// source, in the medium of the first leg, at a distance of 1 m. Without a [Source] it is the
// displacement of the wave of the first leg at this distance.
//
// Phases have the time factor exp(-iωt), as in [material.Boundary]. The analytic signal of a trace
// has the opposite time factor: take the complex conjugate there. The phase of travel 2π·f·Time at
// the frequency f is not part of the amplitude.
type Amplitude struct {
	Directivity complex128 // of the source; 1 without a source
	Spreading   float64    // 1/√m in a Section, 1/m in Space; +Inf on a caustic
	Caustics    int        // number of caustics on the way; each changes the phase by -π/2
	// Coefficients holds for each crossing the displacement of the leaving wave divided by the
	// displacement of the arriving wave, for plane waves at the boundary.
	Coefficients []complex128
	// Tubes holds √(cos out/cos in) for each crossing. It is the change of the cross-section of the
	// ray tube at the crossing, which is not part of Spreading.
	Tubes []float64
	// Alignment is a product of cosines, one for each leg of a transverse wave between two
	// crossings. The cosine is between the polarisation at the start of the leg and the
	// polarisation in which the wave arrives. In a Section it is ±1, because the signs of
	// [material.Boundary] follow the direction along the surface. On skew legs between surfaces
	// that are not parallel it is smaller. The rest of the wave is horizontally polarised at the
	// next crossing, and is neglected.
	Alignment   float64
	Attenuation float64 // remaining share after the losses of the media, 0 to 1
	Time        float64 // of the ray, s
	// Departure and Arrival are the unit polarisations at the start and at the end. A longitudinal
	// wave is polarised along its direction of travel, a transverse wave at right angles to it.
	Departure, Arrival r3.Vec
}

// Value returns the product of all factors, without the phase of travel.
func (a Amplitude) Value() complex128 {
	v := a.Directivity * complex(a.Spreading*a.Alignment*a.Attenuation, 0)
	for k, c := range a.Coefficients {
		v *= c * complex(a.Tubes[k], 0)
	}
	quarters := [...]complex128{1, -1i, -1, 1i}
	return v * quarters[a.Caustics%4]
}

// Amplitudes computes amplitudes along the rays of one path. It is immutable and safe for
// concurrent use.
type Amplitudes struct {
	path       *Path
	acoustics  Acoustics
	boundaries []material.Boundary // at each crossing, the arriving wave above
}

// NewAmplitudes returns the amplitudes along p for the given acoustics. It copies their slices. The
// error names the field at fault.
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
// The amplitude is correct in ray theory. All lengths must be long compared with the wavelength:
// legs, radii of curvature, and the distances from a caustic and from a critical angle. It covers
// one way only. The echo of a small reflector is a product of three factors: the amplitude of the
// transmitting path, the scattering of the reflector, and the amplitude of the receiving path. Both
// paths start at their element, by reciprocity.
//
// The error wraps [ErrNoRay] if r is no ray, or if a leg has no length. It is also an error if r is
// not a ray of the path, or if r leaves the section of constant y for a [Section].
func (a *Amplitudes) Along(r *Ray) (Amplitude, error) {
	tube, err := a.path.spreading(r)
	if err != nil {
		return Amplitude{}, err
	}
	out := Amplitude{Alignment: 1, Attenuation: 1, Time: r.Time}
	switch {
	case math.IsNaN(tube.radius):
		return Amplitude{}, fmt.Errorf("wedge: amplitude of a ray with a leg of no length: want its ends away from the surfaces: %w", ErrNoRay)
	case a.acoustics.Dimension == Space:
		out.Spreading, out.Caustics = 1/tube.radius, tube.caustics
	case math.IsNaN(tube.inPlane):
		return Amplitude{}, fmt.Errorf("wedge: amplitude in a section of a ray from %v to %v m, which is skew: want one y, or Space",
			r.Points[0], r.Points[len(r.Points)-1])
	default:
		out.Spreading, out.Caustics = 1/math.Sqrt(tube.inPlane), tube.causticsInPlane
	}
	if err := a.follow(r, &out); err != nil {
		return Amplitude{}, err
	}
	return out, nil
}

// follow computes the factors of the source, the crossings and the legs.
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

// tangentAt returns the unit vector along the surface at crossing k in the plane of incidence, in
// the direction of travel. At normal incidence every direction along the surface lies in a plane of
// incidence. Then it returns the direction of the polarisation along the surface, if there is one.
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

// polarised returns the unit polarisation of a wave along d that counts as positive, by the signs
// of [material.Boundary]. The polarisation of a transverse wave has a positive component along
// tangent.
func polarised(mode material.Mode, d, tangent r3.Vec) r3.Vec {
	if mode == material.L {
		return d
	}
	return r3.Unit(r3.Sub(tangent, r3.Scale(r3.Dot(tangent, d), d)))
}
