// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Reflector is the reference reflector of a [Map]: a [Hole], a [Point] or a [Planar] flaw.
type Reflector interface {
	fmt.Stringer
	// validate reports the first field that is out of range for every part.
	validate() error
	// scattering returns the amplitudes that the reflector scatters.
	scattering(around surroundings) (scattering, error)
	// depth returns the distance in m from the face that echoes to the centre.
	depth() float64
	// compact reports whether the image of the reflector is one spot, whose peak shows its place.
	compact() bool
	// ringing returns the time in s after the first echo for which the reflector echoes, at a
	// frequency in Hz.
	ringing(part material.Isotropic, frequency float64) float64
}

// Hole is a side-drilled hole. The map states the amplitude at the pixel where the image of the
// hole has its peak, near the face that the beam meets first.
type Hole struct {
	Diameter float64 // in m, 0.001 to 100 wavelengths of transverse waves at the highest frequency
}

// String returns the kind and the diameter of the hole.
func (h Hole) String() string { return fmt.Sprintf("side-drilled hole of %.3g mm", h.Diameter*1e3) }

func (h Hole) validate() error {
	if !number.Positive(h.Diameter) {
		return fmt.Errorf("sensitivity: diameter of the hole %v m: want a finite value above 0", h.Diameter)
	}
	return nil
}

func (h Hole) depth() float64 { return h.Diameter / 2 }

func (Hole) compact() bool { return true }

// ringing is the time of a wave that creeps round the hole at the speed of transverse waves. Later
// turns are weak, and so are the waves that creep round a hole of many wavelengths.
func (h Hole) ringing(part material.Isotropic, frequency float64) float64 {
	const many = 8
	diameter := min(h.Diameter, many*part.Transverse/frequency)
	return diameter * (1 + math.Pi/2) / part.Transverse
}

func (h Hole) scattering(around surroundings) (scattering, error) {
	wave := around.part.Transverse / around.frequencies[len(around.frequencies)-1]
	if !(h.Diameter >= 1e-3*wave && h.Diameter <= 100*wave) {
		return nil, fmt.Errorf("sensitivity: diameter of the hole %v m: want %.3g to %.3g m",
			h.Diameter, 1e-3*wave, 100*wave)
	}
	// The amplitude oscillates over the angle with a period of at least π·wave/diameter.
	return newRound(synth.Hole{Diameter: h.Diameter}, around, max(360, int(100*h.Diameter/wave)), around.lineToSpace)
}

// Point is a reflector without size that scatters with the amplitude 1 m in space, and with 1 √m
// in a section, at all frequencies. A converted wave has the directivity of [synth.Point].
type Point struct{}

// String returns the kind of the reflector.
func (Point) String() string { return "point scatterer" }

func (Point) validate() error { return nil }

func (Point) depth() float64 { return 0 }

func (Point) compact() bool { return true }

func (Point) ringing(material.Isotropic, float64) float64 { return 0 }

func (Point) scattering(around surroundings) (scattering, error) {
	return newRound(synth.Point{Strength: 1}, around, 360, func(_, _ *beam) float64 { return 1 })
}

// Planar is a smooth planar flaw. The map states at its centre the highest amplitude near it. The
// flaw reflects by Kirchhoff's approximation. The echoes of its tips are left out.
type Planar struct {
	Length float64 // in the section in m, finite and above 0
	// Tilt is the angle from the vertical in rad, finite, above 0 if the top leans to +x.
	Tilt float64
}

// String returns the kind, the length and the tilt of the flaw.
func (p Planar) String() string {
	return fmt.Sprintf("planar flaw of %.3g mm, tilt %.3g°", p.Length*1e3, p.Tilt*180/math.Pi)
}

func (p Planar) validate() error {
	if !number.Positive(p.Length) {
		return fmt.Errorf("sensitivity: length of the planar flaw %v m: want a finite value above 0", p.Length)
	}
	if !number.Finite(p.Tilt) {
		return fmt.Errorf("sensitivity: tilt of the planar flaw %v rad: want a finite value", p.Tilt)
	}
	return nil
}

func (Planar) depth() float64 { return 0 }

func (Planar) compact() bool { return false }

func (Planar) ringing(material.Isotropic, float64) float64 { return 0 }

func (p Planar) scattering(around surroundings) (scattering, error) { return newFlat(p, around) }

// surroundings describes the part and the waves at a reflector.
type surroundings struct {
	part        material.Isotropic
	dimension   wedge.Dimension
	frequencies []float64     // Hz, ascending
	in, out     material.Mode // of the waves that arrive and leave
}

// lineToSpace returns the factor from amplitudes in a section to amplitudes in space, for a
// reflector that is endless along y. By stationary phase it is √(ρρ'/(ρ + ρ')) for waves of one
// speed, with the radii ρ and ρ' of both wave fronts. It is 1 in a section.
func (s surroundings) lineToSpace(in, out *beam) float64 {
	if s.dimension == wedge.Section {
		return 1
	}
	from, to := s.part.Speed(s.in), s.part.Speed(s.out)
	a, b := from*in.radius, to*out.radius
	return math.Sqrt(a * b / (a + b) / to)
}

// scattering writes the amplitude that a reflector scatters from the beam in into the direction
// against the beam out to dst, one value a frequency.
type scattering interface {
	at(dst []complex128, in, out *beam)
}

// round is the scattering of a reflector that looks the same from all directions. It depends on
// the angle between both directions only.
type round struct {
	steps   int          // of the angle, in a full turn
	table   []complex128 // by step, then by frequency; the last step repeats the first one
	scaling func(in, out *beam) float64
}

func newRound(of synth.Reflector, around surroundings, steps int, scaling func(in, out *beam) float64) (*round, error) {
	scatterers, err := of.Scatterers(synth.Surroundings{
		Part: around.part, Dimension: wedge.Section, Frequencies: around.frequencies,
	})
	if err != nil {
		return nil, fmt.Errorf("sensitivity: %w", err)
	}
	n := len(around.frequencies)
	r := &round{steps: steps, table: make([]complex128, (steps+1)*n), scaling: scaling}
	in := waveAlong(around.in, 0)
	for k := range steps + 1 {
		out := waveAlong(around.out, 2*math.Pi*float64(k)/float64(steps))
		scatterers[0].Scatter(r.table[k*n:(k+1)*n], in, out)
	}
	return r, nil
}

func (r *round) at(dst []complex128, in, out *beam) {
	at, share := position(out.angle+math.Pi-in.angle, r.steps)
	n := len(dst)
	here, next := r.table[at*n:(at+1)*n], r.table[(at+1)*n:(at+2)*n]
	scale := r.scaling(in, out)
	a, b := complex(scale*(1-share), 0), complex(scale*share, 0)
	for k := range dst {
		dst[k] = a*here[k] + b*next[k]
	}
}

// position returns the step of an angle in rad, and the share of the way to the next step.
func position(angle float64, steps int) (step int, share float64) {
	turns := angle / (2 * math.Pi)
	whole, share := math.Modf((turns - math.Floor(turns)) * float64(steps))
	return min(int(whole), steps-1), share
}

// waveAlong returns a wave of a mode that travels at an angle from x to z, with the polarisation
// that counts as positive here: the direction of travel, or that direction turned by 90°.
func waveAlong(mode material.Mode, angle float64) synth.Wave {
	sin, cos := math.Sincos(angle)
	w := synth.Wave{Mode: mode, Direction: r3.Vec{X: cos, Z: sin}, Polarisation: r3.Vec{X: cos, Z: sin}}
	if mode == material.T {
		w.Polarisation = r3.Vec{X: -sin, Z: cos}
	}
	return w
}

// flat is the scattering of a plane face: the echo of a small piece, times the sum of the phases
// over the length.
type flat struct {
	around surroundings
	length float64
	along  r2.Vec // unit vector along the face
	// table holds the echo of a piece for a length of 1 m and ω = 1, by the angles in and out.
	// Turning both by 180° changes nothing, so the angle in covers half a turn.
	table        []complex128
	rootOfOmegas []float64
}

// flatSteps is the number of steps of an angle over a full turn.
const flatSteps = 180

func newFlat(p Planar, around surroundings) (*flat, error) {
	sin, cos := math.Sincos(p.Tilt)
	f := &flat{around: around, length: p.Length, along: r2.Vec{X: -sin, Y: cos}}
	frequency := around.frequencies[0]
	half := 5e-4 * around.part.Transverse / frequency // short against the wavelength
	end := r3.Scale(half, r3.Vec{X: f.along.X, Z: f.along.Y})
	piece := synth.Crack{From: r3.Scale(-1, end), To: end, FaceOnly: true}
	scatterers, err := piece.Scatterers(synth.Surroundings{
		Part: around.part, Dimension: wedge.Section, Frequencies: []float64{frequency},
	})
	if err != nil {
		return nil, fmt.Errorf("sensitivity: %w", err)
	}
	size := complex(2*half*math.Sqrt(2*math.Pi*frequency), 0)
	var echo [1]complex128
	for i := range flatSteps/2 + 1 {
		in := waveAlong(around.in, 2*math.Pi*float64(i)/flatSteps)
		for j := range flatSteps + 1 {
			scatterers[0].Scatter(echo[:], in, waveAlong(around.out, 2*math.Pi*float64(j)/flatSteps))
			f.table = append(f.table, echo[0]/size)
		}
	}
	for _, frequency := range around.frequencies {
		f.rootOfOmegas = append(f.rootOfOmegas, math.Sqrt(2*math.Pi*frequency))
	}
	return f, nil
}

func (f *flat) at(dst []complex128, in, out *beam) {
	i, u := position(in.angle, flatSteps)
	j, v := position(out.angle+math.Pi, flatSteps)
	if i >= flatSteps/2 {
		i, j = i-flatSteps/2, (j+flatSteps/2)%flatSteps
	}
	here, next := f.table[i*(flatSteps+1)+j:], f.table[(i+1)*(flatSteps+1)+j:]
	echo := complex((1-u)*(1-v), 0)*here[0] + complex((1-u)*v, 0)*here[1] +
		complex(u*(1-v), 0)*next[0] + complex(u*v, 0)*next[1]
	echo *= complex(f.length*f.around.lineToSpace(in, out), 0)
	slope := r2.Dot(r2.Add(in.slowness, out.slowness), f.along)
	for k, frequency := range f.around.frequencies {
		dst[k] = echo * complex(f.rootOfOmegas[k]*number.Sinc(slope*f.length*frequency), 0)
	}
}
