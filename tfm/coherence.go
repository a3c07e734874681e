// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/tfm/internal/channel"
)

// Coherence is a measure of how well the channels of a pixel agree, from 0 to 1. The channels s
// are the M weighted samples that delay-and-sum adds at the pixel, one for each pair of
// transmitter and receiver that counts, φ are their phases. COHERENCE.md says how to use the
// measures, how high they are in noise, and what they do to amplitudes.
type Coherence uint8

const (
	// NoCoherence measures nothing.
	NoCoherence Coherence = iota
	// CoherenceFactor is |Σ s|²/(M·Σ |s|²): the share of the energy that adds in phase. In noise
	// its mean is 1/M.
	CoherenceFactor
	// SignCoherence is 1 - √(1 - m²), where m is the mean of the signs of the real parts. In noise
	// its mean is about 1/(2·M).
	SignCoherence
	// PhaseCoherence is max(0, 1 - γ·σ/σ0). Here σ is the standard deviation of φ in (-π, π] with
	// the divisor M, σ0 = π/√3 is the standard deviation of random phases, and γ is
	// [Options.PhaseGamma]. An echo of phase near ±π has a high σ, because φ wraps there. In noise
	// the mean is about 0.22/√M.
	PhaseCoherence
	// AuxiliaryPhaseCoherence is PhaseCoherence with the lower of two standard deviations: of φ,
	// and of the auxiliary phase φ - π·sign φ, which wraps at 0. So it is right for echoes of any
	// phase. In noise the mean is about 0.43/√M.
	AuxiliaryPhaseCoherence
	// VectorCoherence is R = |mean of exp(iφ)|. In noise its mean is about √(π/(4·M)).
	VectorCoherence
	// CircularCoherence is 1 - √(1 - R²), where 1 - R² is the sum of the variances of cos φ and
	// sin φ. In noise its mean is about 1/(2·M).
	CircularCoherence
)

var coherenceNames = [...]string{
	"none", "coherence factor", "sign coherence", "phase coherence", "auxiliary phase coherence", "vector coherence", "circular coherence",
}

// String returns the name of c, such as "phase coherence".
func (c Coherence) String() string {
	if int(c) < len(coherenceNames) {
		return coherenceNames[c]
	}
	return fmt.Sprintf("Coherence(%d)", uint8(c))
}

// Of returns the measure of the given channels by its definition. gamma is γ of [PhaseCoherence].
// A channel of exactly 0 has no phase and no sign. It adds 0 to sums of signs and of exp(iφ), and
// its phase counts as spread evenly over the circle. Of is 0 without channels, and for
// [NoCoherence].
func (c Coherence) Of(channels []complex128, gamma float64) float64 {
	var s sums
	var sum complex128
	for _, v := range channels {
		sum += v
		s.add(v)
	}
	if len(channels) == 0 {
		return 0
	}
	return c.value(sum, s.scaled(1/float64(len(channels))), float64(len(channels)), gamma)
}

// sigma0 is the standard deviation of phases that are spread evenly over the circle.
var sigma0 = math.Pi / math.Sqrt(3)

// sums holds sums of functions of the channels, or their means.
type sums struct {
	power                         float64    // |s|²
	sign                          float64    // of the real part
	unit                          complex128 // exp(iφ)
	phase, square, side, distance float64    // φ, φ², sign φ, |φ|
}

// add adds one channel.
func (s *sums) add(v complex128) {
	if v == 0 {
		s.square += sigma0 * sigma0
		s.distance += math.Pi / 2
		return
	}
	phase := cmplx.Phase(v)
	s.power += real(v)*real(v) + imag(v)*imag(v)
	s.sign += sign(real(v))
	s.unit += cmplx.Rect(1, phase)
	s.phase += phase
	s.square += phase * phase
	s.side += sign(phase)
	s.distance += math.Abs(phase)
}

// sign returns -1, 0 or 1.
func sign(v float64) float64 {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}

// scaled returns s times a factor.
func (s sums) scaled(by float64) sums {
	return sums{by * s.power, by * s.sign, complex(by, 0) * s.unit, by * s.phase, by * s.square, by * s.side, by * s.distance}
}

// value returns the measure, from the sum of m channels and the means of their functions.
func (c Coherence) value(sum complex128, mean sums, m, gamma float64) float64 {
	switch c {
	case CoherenceFactor:
		if !(mean.power > 0) {
			return 0
		}
		return min(1, (real(sum)*real(sum)+imag(sum)*imag(sum))/(m*m*mean.power))
	case SignCoherence:
		return lengthened(mean.sign * mean.sign)
	case VectorCoherence:
		return min(1, cmplx.Abs(mean.unit))
	case CircularCoherence:
		return lengthened(real(mean.unit)*real(mean.unit) + imag(mean.unit)*imag(mean.unit))
	case PhaseCoherence, AuxiliaryPhaseCoherence:
		variance := mean.square - mean.phase*mean.phase
		if c == AuxiliaryPhaseCoherence {
			variance = min(variance, channel.AuxiliaryVariance(mean.phase, mean.square, mean.side, mean.distance))
		}
		return max(0, 1-gamma*math.Sqrt(max(0, variance))/sigma0)
	}
	return 0
}

// lengthened returns 1 - √(1 - square).
func lengthened(square float64) float64 { return 1 - math.Sqrt(max(0, 1-square)) }

// coherence is what a plan needs to measure the coherence of its pixels.
type coherence struct {
	measure Coherence
	gamma   float64
	total   float32   // the number of channels of a pixel that misses none
	copies  float32   // the largest number of channels of a trace
	counts  []float32 // the number of channels of each pixel, nil if no pixel misses one
}

// count counts the channels of the pixels of p. The kernel itself counts where some are missing:
// it sums traces of ones.
func (k *coherence) count(p *Plan) {
	for _, t := range p.traces {
		k.copies = max(k.copies, t.copies())
	}
	for _, l := range p.lookups {
		k.total += p.traces[l.trace].copies()
	}
	missing := State(0)
	for _, s := range p.states {
		missing |= s & (NoRay | PartlyInsonified | BeforeRecord | AfterRecord | Blank)
	}
	if missing == 0 {
		return
	}
	frames := p.kernel.newFrames()[:1]
	f := frames[0]
	ones := newPlanes(p.samples)
	for i, t := range p.traces {
		for n := range p.samples {
			ones.re[n] = t.copies()
		}
		f.pack(i, ones.re[:p.samples], ones.im[:p.samples], 0)
	}
	if f.needsLevel() {
		for i := range p.traces {
			f.level(i)
		}
	}
	sum := make([]complex64, p.grid.Len())
	adder := p.kernel.newAdder(frames, new(tileMemory))
	for i := range p.tiles {
		adder.sum([][]complex64{sum}, i)
	}
	k.counts = make([]float32, len(sum))
	for i, v := range sum {
		k.counts[i] = float32(math.Round(float64(real(v))))
	}
}

// measure sets the coherence of the pixels of tile i.
func (v *viewScratch) measure(i int) {
	k, t := v.plan.coherence, v.plan.tiles[i]
	for r := range t.rows {
		from := t.index(v.plan.grid, r)
		to := from + t.cols
		dst, first := v.dst.Coherence[from:to], v.sums[1][from:to]
		var counts []float32
		if k.counts != nil {
			counts = k.counts[from:to]
		}
		switch k.measure {
		case CoherenceFactor:
			k.factors(dst, v.dst.Data[from:to], first, counts)
		case SignCoherence:
			for p, s := range first {
				m := float64(real(s)) * k.share(counts, p)
				dst[p] = float32(lengthened(m * m))
			}
		case VectorCoherence, CircularCoherence:
			for p, s := range first {
				dst[p] = float32(squared(s))
			}
			k.vectors(dst, counts)
		case PhaseCoherence:
			k.phases(dst, first, nil, counts)
		case AuxiliaryPhaseCoherence:
			k.phases(dst, first, v.sums[2][from:to], counts)
		}
	}
}

// share returns 1 over the number of channels of pixel p of a row, and 0 if it has none.
func (k *coherence) share(counts []float32, p int) float64 {
	m := k.total
	if counts != nil {
		m = counts[p]
	}
	if m == 0 {
		return 0
	}
	return 1 / float64(m)
}

func squared(s complex64) float64 {
	re, im := float64(real(s)), float64(imag(s))
	return re*re + im*im
}

// factors sets a row of coherence factors from the sums of the channels and of their powers.
func (k *coherence) factors(dst []float32, sums, powers []complex64, counts []float32) {
	for p, s := range powers {
		power := float64(real(s)) + float64(imag(s))*lowBits
		dst[p] = 0
		if power > 0 {
			dst[p] = float32(min(1, squared(sums[p])*k.share(counts, p)/power))
		}
	}
}

// vectors turns a row of squared sums of exp(iφ) to vector or circular coherences.
func (k *coherence) vectors(dst []float32, counts []float32) {
	for p, square := range dst {
		share := k.share(counts, p)
		square := min(1, float64(square)*share*share)
		if k.measure == CircularCoherence {
			dst[p] = float32(lengthened(square))
		} else {
			dst[p] = float32(math.Sqrt(square))
		}
	}
}

// phases sets a row of phase coherences, from the sums of φ and φ², and of sign φ and |φ| if they
// are not nil. It takes neighbours with the same number of channels together.
func (k *coherence) phases(dst []float32, moments, auxiliary []complex64, counts []float32) {
	slope := k.gamma / sigma0
	for from, to := 0, 0; from < len(dst); from = to {
		to = len(dst)
		if counts != nil {
			for to = from + 1; to < len(dst) && counts[to] == counts[from]; to++ {
			}
		}
		share, others := k.share(counts, from), auxiliary
		if others != nil {
			others = others[from:to]
		}
		if share == 0 {
			clear(dst[from:to])
			continue
		}
		channel.PhaseCoherences(dst[from:to], moments[from:to], others, share, slope)
	}
}
