// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// SlownessCurves holds the slowness curves of an anisotropic solid in one of its planes of
// symmetry. The plane is the section x–z. The curves are immutable and safe for concurrent use.
type SlownessCurves struct {
	solid  material.Anisotropic
	curves [polarisations]curve
}

// NewSlownessCurves returns the curves of m in the plane of its axes x and z. The grain axis is the
// axis z of m, as in [material.TransverselyIsotropic]. The plane must be a plane of symmetry: C14,
// C16, C34, C36, C45 and C56 are zero, to 1e-9 of the largest element. In the plane the qL wave
// must be faster than the qSV wave.
func NewSlownessCurves(m material.Anisotropic) (*SlownessCurves, error) {
	if err := m.Validate(); err != nil {
		return nil, fmt.Errorf("graded: %w", err)
	}
	c := m.Stiffness
	var largest float64
	for i := range c {
		largest = max(largest, c[i][i])
	}
	for _, at := range [][2]int{{0, 3}, {0, 5}, {2, 3}, {2, 5}, {3, 4}, {4, 5}} {
		if v := c[at[0]][at[1]]; math.Abs(v) > 1e-9*largest {
			return nil, fmt.Errorf("graded: stiffness C%d%d %v Pa: "+
				"want 0, so that the section x-z is a plane of symmetry", at[0]+1, at[1]+1, v)
		}
	}
	// On the axes 1 = z and 2 = -x of m, Christoffel's matrix is
	//
	//	Γ11 = a11 c² + 2 a16 cs + a66 s²
	//	Γ22 = a66 c² + 2 a26 cs + a22 s²
	//	Γ12 = a16 c² + (a12 + a66) cs + a26 s²
	//
	// for the phase direction (c, s). The SH wave does not couple to it.
	d := 1 / m.Density
	a11, a22, a12, a66 := d*c[2][2], d*c[0][0], d*c[0][2], d*c[4][4]
	a16, a26 := -d*c[2][4], -d*c[0][4]
	mean := newWave2((a11+a66)/2, a16+a26, (a66+a22)/2)
	half := newWave2((a11-a66)/2, a16-a26, (a66-a22)/2)
	mixed := newWave2(a16, a12+a66, a26)
	across := newWave2(d*c[3][3], -2*d*c[3][5], d*c[5][5])
	out := &SlownessCurves{solid: m, curves: [polarisations]curve{
		QuasiLongitudinal:  {mean: mean, half: half, mixed: mixed, sign: 1},
		QuasiShearVertical: {mean: mean, half: half, mixed: mixed, sign: -1},
		ShearHorizontal:    {mean: across},
	}}
	for i := range cells {
		angle := math.Pi * float64(i) / cells
		fast, slow := out.phase(QuasiLongitudinal, angle), out.phase(QuasiShearVertical, angle)
		if !(fast > slow*(1+1e-6)) {
			return nil, fmt.Errorf("graded: qL %v m/s and qSV %v m/s at %v rad from the grain axis"+
				": want qL faster", fast, slow, angle)
		}
	}
	for i := range out.curves {
		out.curves[i].prepare()
	}
	return out, nil
}

// phase returns the phase speed in m/s of the wave whose normal makes the angle (rad) with the
// grain axis, counted from +x towards +z.
func (c *SlownessCurves) phase(pol Polarisation, angle float64) float64 {
	speed, _, _ := c.curves[pol].at(angle)
	return speed
}

// group returns the group speed in m/s of the same wave, and the direction of its energy (rad from
// the grain axis, within π/2 of angle).
func (c *SlownessCurves) group(pol Polarisation, angle float64) (speed, direction float64) {
	v, dv, _ := c.curves[pol].at(angle)
	return math.Hypot(v, dv), angle + math.Atan2(dv, v)
}

// wave2 is the function q + a cos 2χ + b sin 2χ.
type wave2 struct{ q, a, b float64 }

// newWave2 returns the function cc·cos² χ + cs·cos χ sin χ + ss·sin² χ.
func newWave2(cc, cs, ss float64) wave2 { return wave2{(cc + ss) / 2, (cc - ss) / 2, cs / 2} }

// at returns the value and its first two derivatives for the cosine and the sine of 2χ.
func (w *wave2) at(cos, sin float64) (value, d, dd float64) {
	turning := w.a*cos + w.b*sin
	return w.q + turning, 2 * (w.b*cos - w.a*sin), -4 * turning
}

// curve is the phase speed v of one wave as a function of the angle χ from the grain axis:
//
//	v² = mean + sign·√(half² + mixed²)
//
// The energy of the wave χ travels in the direction χ + atan(v'/v) at the speed √(v² + v'²). The
// slowness curve is convex where v + v″ > 0.
type curve struct {
	mean, half, mixed wave2
	sign              float64
	start             [cells]start
}

// cells is the number of cells into which the half turn of energy directions is divided. Each cell
// holds the start of the search for a phase direction. With 720 cells, one or two Newton steps do.
const cells = 720

// start holds the phase directions at both ends of a cell, from which Newton's method starts. They
// differ much only next to the direction of a double tangent of a dented curve. There the maximum
// jumps from one part of the curve to another.
type start struct{ before, after float64 }

// at returns v and its first two derivatives.
func (k *curve) at(chi float64) (v, dv, ddv float64) {
	sin, cos := math.Sincos(2 * chi)
	square, d, dd := k.mean.at(cos, sin)
	if k.sign != 0 {
		h, dh, ddh := k.half.at(cos, sin)
		m, dm, ddm := k.mixed.at(cos, sin)
		root := math.Sqrt(h*h + m*m)
		dRoot := (h*dh + m*dm) / root
		square += k.sign * root
		d += k.sign * dRoot
		dd += k.sign * (dh*dh + h*ddh + dm*dm + m*ddm - dRoot*dRoot) / root
	}
	v = math.Sqrt(square)
	dv = d / (2 * v)
	return v, dv, (dd/2 - dv*dv) / v
}

// prepare computes the starts: the χ at which cos(χ−φ)/v(χ) is greatest, first by sampling.
func (k *curve) prepare() {
	var slowness [2 * cells]float64
	for i := range slowness {
		v, _, _ := k.at(math.Pi * float64(i) / cells)
		slowness[i] = 1 / v
	}
	var cosines [cells + 1]float64 // from -π/2 to π/2
	for j := range cosines {
		cosines[j] = math.Cos(math.Pi * float64(j-cells/2) / cells)
	}
	best := func(i int) float64 {
		phi := math.Pi * float64(i) / cells
		at, most := 0, 0.0
		for j := -cells / 2; j <= cells/2; j++ {
			value := cosines[j+cells/2] * slowness[(i+j+2*cells)%(2*cells)]
			if value > most {
				at, most = j, value
			}
		}
		return phi + math.Pi*float64(at)/cells
	}
	refined := func(i int) float64 {
		chi, _ := k.newton(best(i), math.Pi*float64(i)/cells)
		return chi
	}
	last := refined(0)
	for i := range k.start {
		next := refined(i + 1)
		k.start[i] = start{last, next}
		last = next
	}
}

// foldStep is the difference of two neighbouring starts, in radians, above which both are tried.
const foldStep = 0.1

// direct returns the phase direction χ at which cos(χ−φ)/v(χ) is greatest, and that maximum. The
// energy of this wave travels along φ, and the maximum is the time over one metre along φ.
func (k *curve) direct(phi float64) (chi, slowness float64) {
	turns := math.Floor(phi / math.Pi)
	within := phi - turns*math.Pi
	cell := within * cells / math.Pi
	at := min(int(cell), cells-1)
	s := &k.start[at]
	if s.after-s.before < foldStep {
		chi, slowness = k.newton(s.before+(cell-float64(at))*(s.after-s.before), within)
	} else {
		chi, slowness = k.newton(s.before, within)
		if other, more := k.newton(s.after, within); more > slowness {
			chi, slowness = other, more
		}
	}
	return chi + turns*math.Pi, slowness
}

// newtonStep is the size of Newton's last step, in radians. The remaining error of the angle is
// about the square of the step. The time is stationary: its error is the square of the error of the
// angle.
const newtonStep = 1e-5

// newton returns the phase direction near chi whose energy travels along phi, and the time over one
// metre.
func (k *curve) newton(chi, phi float64) (float64, float64) {
	var v float64
	for range 20 {
		var dv, ddv float64
		v, dv, ddv = k.at(chi)
		step := (chi + math.Atan2(dv, v) - phi) * (v*v + dv*dv) / (v * (v + ddv))
		step = max(-foldStep, min(foldStep, step))
		chi -= step
		if math.Abs(step) < newtonStep {
			v -= step*dv - step*step*ddv/2
			break
		}
	}
	return chi, math.Cos(chi-phi) / v
}

// travel returns the time over the step, its derivative by the step (the slowness), and its
// derivative by the angle of the grain axis.
func (c *SlownessCurves) travel(
	pol Polarisation, axis float64, step r3.Vec,
) (time float64, slowness r3.Vec, byAxis float64) {
	length := math.Hypot(step.X, step.Z)
	phi := math.Atan2(step.Z, step.X) - axis
	chi, perMetre := c.curves[pol].direct(phi)
	time = length * perMetre
	slowness = r3.Scale(perMetre/math.Cos(chi-phi), heading(chi+axis))
	return time, slowness, slowness.X*step.Z - slowness.Z*step.X
}
