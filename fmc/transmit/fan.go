// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Fan is a set of plane waves at angles whose sines are equally spaced. The angles are angles in
// the part, in the section, from the axis z towards the axis x. By Snell's law the sines in a wedge
// or in water are equally spaced too.
type Fan struct {
	From, To float64 // angles of the first and of the last wave in rad, from -π/2 to π/2, ascending
	Count    int     // number of waves: 1 if From and To are equal, at least 2 otherwise
}

// NewFan returns the fan with the fewest waves for an image of a width in m. The waves add up in
// phase at a point, and again at replicas of the point beside it ([Fan.Replica]). In this fan the
// replicas are at least the width of the image away. Wavelength is the wavelength in the part in m.
//
// For a small range ±α of angles the number of waves is about 2·width·sin α/wavelength (G. Montaldo
// et al., IEEE Trans. Ultrason. Ferroelectr. Freq. Control 56 (2009) 489).
func NewFan(from, to, wavelength, width float64) (Fan, error) {
	if !number.Positive(wavelength) || !number.Positive(width) {
		return Fan{}, fmt.Errorf("transmit: fan for an image of %v m at a wavelength of %v m: want finite values above 0", width, wavelength)
	}
	f := Fan{From: from, To: to, Count: 2}
	if from == to {
		f.Count = 1
	}
	if err := f.validate(); err != nil || f.Count == 1 {
		return f, err
	}
	const rounding = 1e-9 // of the number of steps
	steps := math.Ceil((math.Sin(to) - math.Sin(from)) * width / wavelength * (1 - rounding))
	if steps >= most {
		return Fan{}, fmt.Errorf("transmit: fan of %v waves: want at most %d; want a narrower image", steps+1, most)
	}
	f.Count = max(2, int(steps)+1)
	return f, nil
}

// most is the largest number of waves of a fan.
const most = 1 << 16

func (f Fan) validate() error {
	if !(f.From >= -math.Pi/2 && f.From <= f.To && f.To <= math.Pi/2) {
		return fmt.Errorf("transmit: fan from %v to %v rad: want ascending angles from -π/2 to π/2", f.From, f.To)
	}
	if f.Count < 1 || f.Count > most || (f.Count == 1) != (f.From == f.To) {
		return fmt.Errorf("transmit: fan of %d waves from %v to %v rad: "+
			"want one wave if the angles are equal, and otherwise 2 to %d", f.Count, f.From, f.To, most)
	}
	return nil
}

// Directions returns the directions of the waves in the coupling, for [PlaneWaves]. Part and
// coupling are the speeds in m/s of the waves in the part and in the coupling. They are equal for
// an array in contact. The entry surface is level (z is its normal). The elements may be tilted, as
// on a wedge.
//
// A wave that does not exist in the coupling, because the sine of its angle there would be above 1,
// is an error.
func (f Fan) Directions(part, coupling float64) ([]r3.Vec, error) {
	if err := f.validate(); err != nil {
		return nil, err
	}
	if !number.Positive(part) || !number.Positive(coupling) {
		return nil, fmt.Errorf("transmit: fan at %v m/s in the part and %v m/s in the coupling: want finite speeds above 0", part, coupling)
	}
	directions := make([]r3.Vec, f.Count)
	for i := range directions {
		sin := (math.Sin(f.From) + float64(i)*f.Step()) * coupling / part
		if !(math.Abs(sin) <= 1) {
			return nil, fmt.Errorf("transmit: wave %d with the sine %v of its angle in the coupling: want -1 to 1", i, sin)
		}
		directions[i] = r3.Vec{X: sin, Z: math.Sqrt(1 - sin*sin)}
	}
	return directions, nil
}

// Step returns the difference of the sines of neighbouring angles; 0 for a single wave.
func (f Fan) Step() float64 {
	if f.Count < 2 {
		return 0
	}
	return (math.Sin(f.To) - math.Sin(f.From)) / float64(f.Count-1)
}

// Replica returns the distance in m, along x, at which all waves are in phase again. It is the
// wavelength in the part, in m, over the step of the sines. It is +Inf for a single wave.
func (f Fan) Replica(wavelength float64) float64 { return wavelength / f.Step() }

// Width returns the -6 dB width in m along x of the focus of the waves, before the receivers focus.
// All waves must reach the point, and have equal weights. Width holds for a single frequency, of
// the given wavelength in the part in m, and for many waves:
//
//	1.2067·wavelength/(sin To − sin From),
//
// where 1.2067 is the width of sin(πx)/(πx) at half its height. It is +Inf for a single wave.
func (f Fan) Width(wavelength float64) float64 {
	return 1.206709 * wavelength / (math.Sin(f.To) - math.Sin(f.From))
}
