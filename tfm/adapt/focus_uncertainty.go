// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/stat/distuv"

	"github.com/isochron-imaging/isochron/internal/number"
)

// The uncertainty of the sharpest value follows from a linear model of small errors.
//
// Let S(v) be the mean over the regions of ln|Σ|, with the sum Σ of the signals s of all pairs at
// the peak of the region. An error δs of the signals changes S(v) by the mean of Re(δΣ/Σ). The peak
// moves as well, but at a peak this has no effect to first order. The sharpest value is the zero of
// dS/dv. So it moves by -(dδS/dv)/(d²S/dv²). Two kinds of errors count:
//
//   - A delay τ of an element is common to all pairs of the element and to all regions. It gives
//     δΣ = -τ·Σ ds/dt over these pairs. So the influence of the delay is the derivative of
//     Re(Σ ds/dt/Σ) with respect to v. Delays of the variance τ² give τ² times the sum of the
//     squares of the influences.
//   - Noise differs from pair to pair. While v changes, the time of a pair changes at the rate t'
//     and the phase of Σ at the rate κ. The share of a pair in dS/dv is Re(t'·ds/dt/Σ) + κ·Im(s/Σ).
//     The shares would be zero without errors. Their squares add up to the variance of dS/dv. Both
//     directions of a pair count as one, because interfering echoes are the same in both.
//
// The phases of the elements at the peak show the delays, once the share of the noise is taken off.
// The phases are also taken out of the signals before the shares of the pairs are formed.

// disturbance is what the signals at the peak of one region tell about their errors.
type disturbance struct {
	slope   float64   // variance of dS/dv by noise
	phases  []float64 // of each element, rad
	byNoise float64   // mean over the elements of the variance of a phase by noise, rad²
}

// uncertainty returns the standard uncertainty of the sharpest value from three readings, h apart.
func (f *focuser) uncertainty(before, here, after reading, h float64) float64 {
	bend := (before.level + after.level - 2*here.level) / (h * h) * math.Ln10 / 20
	n := len(f.capture.Array.Elements)
	share := 1 / float64(len(here.spots))
	influences, phases := make([]float64, n), make([]float64, n)
	var noise, byNoise float64
	for r := range here.spots {
		d := f.disturbance(before.spots[r], here.spots[r], after.spots[r], h)
		noise += share * share * d.slope
		byNoise += share * share * d.byNoise
		early, late := f.delaySlopes(before.spots[r]), f.delaySlopes(after.spots[r])
		for e := range influences {
			influences[e] += share * (late[e] - early[e]) / (2 * h)
			phases[e] += share * d.phases[e]
		}
	}
	variance := noise + f.delays(phases, byNoise)*squares(influences)*student(n-absorbed)
	variance /= bend * bend
	if r := len(here.spots); r > 2 {
		between := disagreement(before.spots, here.spots, after.spots, h)
		chance := distuv.ChiSquared{K: float64(r - 1)}.Quantile(0.99) / float64(r-1)
		if between > chance*variance {
			variance = between * student(r-1)
		}
	}
	return math.Sqrt(variance)
}

// absorbed is the number of shapes of delays along the array that the phases at the peak do not
// show: the common phase, the tilt and the curvature. The place of the peak and the parameter take
// them up.
const absorbed = 3

// student returns the factor by which a variance from few degrees of freedom grows, so that
// intervals of 1.96 standard uncertainties hold 95 % (Student's distribution).
func student(freedom int) float64 {
	q := distuv.StudentsT{Sigma: 1, Nu: float64(max(1, freedom))}.Quantile(0.975) / 1.96
	return q * q
}

func squares(values []float64) (sum float64) {
	for _, v := range values {
		sum += v * v
	}
	return sum
}

// delays returns the variance of the delays of elements, in s², from their phases at the peaks.
func (f *focuser) delays(phases []float64, byNoise float64) float64 {
	mean := 0.0
	for _, p := range phases {
		mean += p / float64(len(phases))
	}
	scatter := squares(phases) - float64(len(phases))*mean*mean
	omega := math.Pi * (f.o.Band.Low + f.o.Band.High)
	return max(0, scatter/float64(max(1, len(phases)-absorbed))-byNoise) / (omega * omega)
}

// delaySlopes returns Re(Σ ds/dt/Σ) over the pairs of each element.
func (f *focuser) delaySlopes(s spot) []float64 {
	out := make([]float64, len(f.capture.Array.Elements))
	for i, p := range f.pairs {
		slope := real(s.parts[i].slope / s.sum)
		out[p.transmit] += slope
		out[p.receive] += slope
	}
	return out
}

// disturbance compares the peaks of a region for three values, h apart.
func (f *focuser) disturbance(before, here, after spot, h float64) disturbance {
	n := len(f.capture.Array.Elements)
	elements := make([]complex128, n)
	rate := func(i int) float64 { return (after.parts[i].time - before.parts[i].time) / (2 * h) }
	kappa := 0.0
	for i, p := range f.pairs {
		v := here.parts[i].value / here.sum
		elements[p.transmit] += v
		elements[p.receive] += v
		kappa += rate(i) * imag(here.parts[i].slope/here.sum)
	}
	out := disturbance{phases: make([]float64, n)}
	for e, v := range elements {
		out.phases[e] = cmplx.Phase(v)
	}
	slopes, quadratures := make([]float64, n*n), make([]float64, n*n) // of both directions of a pair
	for i, p := range f.pairs {
		turn := cmplx.Rect(1, -out.phases[p.transmit]-out.phases[p.receive]) / here.sum
		value, slope := here.parts[i].value*turn, here.parts[i].slope*turn
		at := min(p.transmit, p.receive)*n + max(p.transmit, p.receive)
		slopes[at] += rate(i)*real(slope) + kappa*imag(value)
		quadratures[at] += imag(value)
	}
	// The phases of n elements were taken out of about n²/2 pairs.
	free := max(1, float64(n*(n+1)/2-n)) / float64(n*(n+1)/2)
	out.slope = squares(slopes) / free
	for at, q := range quadratures {
		one, two := elements[at/n], elements[at%n]
		byNoise := q * q / free / float64(n)
		if at/n == at%n { // the pair counts twice for its element
			out.byNoise += 4 * byNoise / squared(one)
			continue
		}
		out.byNoise += byNoise/squared(one) + byNoise/squared(two)
	}
	return out
}

// disagreement returns the variance of the sharpest value by the scatter of several regions
// (jackknife). Without one region the value is the vertex for the sum of the others.
func disagreement(before, here, after []spot, h float64) float64 {
	r := float64(len(here))
	mean := func(spots []spot, but int) (sum float64) {
		for i, s := range spots {
			if i != but {
				sum += s.level
			}
		}
		return sum
	}
	top, _ := number.Vertex(mean(before, -1), mean(here, -1), mean(after, -1))
	between := 0.0
	for i := range here {
		at, _ := number.Vertex(mean(before, i), mean(here, i), mean(after, i))
		d := (at - top) * h
		between += d * d * (r - 1) / r
	}
	return between
}
