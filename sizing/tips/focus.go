// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"math"
	"math/cmplx"
	"slices"

	"github.com/isochron-imaging/isochron/material/diffraction"
)

// focus is what the channels of a view record near one point: times, amplitudes and directions.
type focus struct {
	view     *model
	x, z     float64 // m
	transmit []arrival
	receive  []arrival
	pairs    []pairRay
	loudest  float64 // signals are limited to this modulus
}

// pairRay is a channel at a focus.
type pairRay struct {
	channel
	signal []complex64 // of the trace
	sample float64     // of the echo of the point, with fractions
	sx, sz float64     // the change of its time with the position of the point, s/m
	amount complex128
	block  int // the block of the array to which the pair belongs
}

// at returns the focus of a view at a point.
func (v *model) at(x, z float64) *focus {
	f := &focus{view: v, x: x, z: z}
	f.transmit = v.transmit.arrivals(v.elements, vec(x, z))
	f.receive = f.transmit
	if !v.symmetric {
		f.receive = v.receive.arrivals(v.elements, vec(x, z))
	}
	for _, c := range v.channels {
		a, b := &f.transmit[c.tx], &f.receive[c.rx]
		if !a.exists || !b.exists {
			continue
		}
		f.pairs = append(f.pairs, pairRay{
			c, v.signals.trace(c.trace), v.signals.sample(a.time + b.time),
			a.x/v.transmit.speed + b.x/v.receive.speed, a.z/v.transmit.speed + b.z/v.receive.speed,
			a.amplitude * b.amplitude,
			v.block(c.tx, c.rx),
		})
	}
	var moduli []float64
	for _, p := range f.pairs {
		modulus := 0.0
		if k := int(math.Round(p.sample)); k >= 0 && k < len(p.signal) {
			modulus = cmplx.Abs(complex128(p.signal[k]))
		}
		for range int(p.weight) {
			moduli = append(moduli, modulus)
		}
	}
	if len(moduli) > 0 {
		slices.Sort(moduli)
		f.loudest = 3 * moduli[len(moduli)/2]
	}
	return f
}

// block returns the block of a pair. In a symmetric view both directions are one block, so that a
// half matrix and a full matrix have the same sums.
func (v *model) block(tx, rx int) int {
	a, b := tx*blocks/len(v.elements), rx*blocks/len(v.elements)
	if v.symmetric && a > b {
		a, b = b, a
	}
	return a*blocks + b
}

// echo is a predicted echo of a reflector at a focus: for each pair its amplitude, and the time by
// which it comes earlier than the echo of the point.
type echo struct {
	amplitude []complex128
	early     []float64                   // nil for none
	sums      [blocks * blocks]complex128 // of each block
}

// sum sets the sums of the blocks.
func (e *echo) sum(f *focus) {
	for i, p := range f.pairs {
		e.sums[p.block] += e.amplitude[i] * complex(p.weight, 0)
	}
}

// blocks is the number of groups of neighbouring elements. The signals of all pairs between two
// groups are summed before they are compared with a prediction. The sum suppresses other echoes.
const blocks = 8

// tipEcho returns the echo of a tip whose crack runs in the direction (ex, ez), a unit vector, for
// at most most times the wavelength.
func (f *focus) tipEcho(tip *diffraction.Tip, ex, ez, most, opening float64) *echo {
	v := f.view
	direction := func(x, z float64) float64 { return math.Atan2(z*ex-x*ez, x*ex+z*ez) }
	from, to := make([]float64, len(f.transmit)), make([]float64, len(f.receive))
	for i := range from {
		from[i] = direction(-f.transmit[i].x, -f.transmit[i].z)
		to[i] = direction(-f.receive[i].x, -f.receive[i].z)
	}
	e := &echo{amplitude: make([]complex128, len(f.pairs))}
	for i, p := range f.pairs {
		d := cmplx.Conj(tip.Slit(v.transmit.mode, v.receive.mode, from[p.tx], to[p.rx], opening))
		e.amplitude[i] = p.amount * limited(d, most)
	}
	e.sum(f)
	return e
}

// limited returns a coefficient whose modulus approaches most where the tip has a pole.
func limited(d complex128, most float64) complex128 {
	size := cmplx.Abs(d)
	if !(size < 1e6) {
		return 0 // the pole itself, whose phase is not known
	}
	return d / complex(1+size/most, 0)
}

// holeEcho returns the echo of the near face of a hole of the given radius (m), at the focus.
// Conversions of the mode have the echo of a small hole.
func (f *focus) holeEcho(radius float64) *echo {
	v := f.view
	e := &echo{amplitude: make([]complex128, len(f.pairs)), early: make([]float64, len(f.pairs))}
	mx, mz := f.away()
	for i, p := range f.pairs {
		a, b := &f.transmit[p.tx], &f.receive[p.rx]
		e.amplitude[i] = p.amount
		if v.transmit.mode != v.receive.mode {
			e.amplitude[i] *= complex(a.x*b.z-a.z*b.x, 0)
			continue
		}
		// The path over the near face is shorter than the path over the axis by |a + b| radii. The
		// axis lies a radius behind the focus.
		slow := math.Hypot(p.sx, p.sz)
		e.early[i] = radius * (slow - (p.sx*mx + p.sz*mz))
	}
	e.sum(f)
	return e
}

// away returns the mean direction of the waves at the focus, away from the array.
func (f *focus) away() (x, z float64) {
	for _, p := range f.pairs {
		w := p.weight * cmplx.Abs(p.amount)
		x, z = x+w*p.sx, z+w*p.sz
	}
	length := math.Hypot(x, z)
	return x / length, z / length
}

// match is how well an echo fits the recorded signals.
type match struct {
	x, z      float64    // where it fits best, m
	sum       complex128 // of the signals times the conjugate of the prediction
	power     float64    // of the prediction
	total     float64    // energy of the signals
	predicted complex128 // value of the picture for a gain of 1
}

// gain returns the factor from the prediction to the signals.
func (m match) gain() complex128 { return m.sum / complex(m.power, 0) }

// quality returns the share of the energy of the signals that the prediction explains, 0 to 1.
func (m match) quality() float64 {
	if !(m.total*m.power > 0) {
		return 0
	}
	return (real(m.sum)*real(m.sum) + imag(m.sum)*imag(m.sum)) / (m.total * m.power)
}

// matched returns the match of an echo at a shift of the focus. It takes most of the time of Find.
func (f *focus) matched(e *echo, dx, dz float64) match {
	m := match{x: f.x + dx, z: f.z + dz}
	var re, im [blocks * blocks]float64
	limit := f.loudest * f.loudest
	rate := f.view.signals.capture.SampleRate
	for i := range f.pairs {
		p := &f.pairs[i]
		late := p.sx*dx + p.sz*dz
		if e.early != nil {
			late -= e.early[i]
		}
		k := p.sample + late*rate
		if !(k >= 0 && k < float64(len(p.signal)-1)) {
			continue
		}
		n := int(k)
		share := k - float64(n)
		a, b := p.signal[n], p.signal[n+1]
		x := float64(real(a))*(1-share) + float64(real(b))*share
		y := float64(imag(a))*(1-share) + float64(imag(b))*share
		w := p.weight
		if size := x*x + y*y; size > limit {
			w *= f.loudest / math.Sqrt(size)
		}
		re[p.block] += x * w
		im[p.block] += y * w
	}
	for i, a := range e.sums {
		s := complex(re[i], im[i])
		m.sum += s * cmplx.Conj(a)
		m.power += real(a)*real(a) + imag(a)*imag(a)
		m.total += re[i]*re[i] + im[i]*im[i]
		m.predicted += a
	}
	return m
}

// best returns the best match of an echo near a spot: a tip may lie off the peak of its spot, most
// of all across the beam.
func (s *spot) best(e *echo) match {
	const far, near, finer = 8, 5, 4
	sin, cos := math.Sincos(s.Tilt)
	// The long axis runs along (sin, -cos), the short axis along (cos, sin).
	long, wide := reachLong*s.reach(s.Length)/far, reachWide*s.reach(s.Width)/near
	search := func(u0, w0, long, wide float64, m, n int) (top match, u, w float64) {
		for i := -m; i <= m; i++ {
			for j := -n; j <= n; j++ {
				du, dw := u0+float64(i)*long, w0+float64(j)*wide
				one := s.matched(e, du*sin+dw*cos, -du*cos+dw*sin)
				if cmplx.Abs(one.sum) > cmplx.Abs(top.sum) {
					top, u, w = one, du, dw
				}
			}
		}
		return top, u, w
	}
	_, u, w := search(0, 0, long, wide, far, near)
	top, _, _ := search(u, w, long/finer, wide/finer, finer-1, finer-1)
	return top
}

// reachLong and reachWide are the largest distances of a tip from the peak of its spot along both
// axes of the spot, as a share of the 6 dB extent.
const (
	reachLong = 0.8
	reachWide = 0.4
)

// reach returns an extent of the spot, but at most two wavelengths.
func (s *spot) reach(extent float64) float64 { return min(extent, 2*s.view.wavelength()) }

// spread returns the 6 dB extent (m) of the picture of a point at the focus, along the unit vector
// (ux, uz).
func (f *focus) spread(ux, uz float64) float64 {
	array := f.view.signals.capture.Array
	deviation := array.SpectralDeviation()
	size := func(u float64) float64 {
		var sum complex128
		for _, p := range f.pairs {
			late := (p.sx*ux + p.sz*uz) * u
			a := 2 * math.Pi * deviation * late
			sum += cmplx.Rect(p.weight*cmplx.Abs(p.amount)*math.Exp(-a*a/2), 2*math.Pi*array.CentreFrequency*late)
		}
		return cmplx.Abs(sum)
	}
	half := size(0) / 2
	step := f.view.wavelength() / 16
	total := 0.0
	for _, side := range [...]float64{-step, step} {
		n, last, now := 1.0, size(0), size(side)
		for now > half && n < 200 {
			n++
			last, now = now, size(n*side)
		}
		total += step * (n - 1 + (last-half)/max(last-now, half*1e-9))
	}
	return total
}
