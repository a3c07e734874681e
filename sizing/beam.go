// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"errors"
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Beam is the profile of a beam or of a focus across its axis. It is the amplitude of the echo of a
// point reflector while the beam moves past it. The beam passes twice, so its profile is two-way. A
// Beam states the bias of a drop method, and corrects lengths for the beam.
//
// The model is a strip: a reflector of one length that returns the same amplitude, in phase, from
// each point along the line of the profile. Its echo is the profile summed over the strip. The
// model holds for a face that mirrors the beam into the probe. It does not hold for a tilted smooth
// face, for tips, or for a hole. See "What the 6 dB drop measures" in the package documentation.
//
// The points of a rough face echo with random phases, so their powers add. The mean power is the
// sum of the square of the profile. So a Beam with the squared profile and twice the drop describes
// a rough face in the mean: GaussianBeam(width/√2), with 2·SixDB for the 6 dB drop. It places each
// end 0.20 widths outside of the face. A single picture of a rough face scatters around this mean.
//
// [GaussianBeam], [SincBeam] and [NewBeam] make a Beam, which is immutable and safe for concurrent
// use. Each method returns NaN for the zero Beam and for arguments outside their ranges.
type Beam struct {
	echo func(x float64) float64 // amplitude at x from the axis, 1 on the axis
	sum  func(x float64) float64 // integral of echo up to x, m
	// total is the integral over all x, and width the width at half amplitude, both in m. deepest
	// is the largest drop in dB at which the profile has an edge.
	total, width, deepest float64
}

// GaussianBeam returns the Gaussian profile with the given width at half amplitude, in m, finite
// and above 0. Its drops are 0.01 to 60 dB.
func GaussianBeam(width float64) (Beam, error) {
	if err := checkWidth(width); err != nil {
		return Beam{}, err
	}
	scale := 2 * math.Sqrt(math.Ln2) / width
	total := math.Sqrt(math.Pi) / scale
	return Beam{
		echo:    func(x float64) float64 { return math.Exp(-scale * scale * x * x) },
		sum:     func(x float64) float64 { return total / 2 * math.Erfc(-scale*x) },
		total:   total,
		width:   width,
		deepest: 60,
	}, nil
}

// sincHalf is the argument u at which (sin(πu)/(πu))² is 1/2.
const sincHalf = 0.442946470689452

// SincBeam returns the profile (sin(πu)/(πu))² with the given width at half amplitude, in m, finite
// and above 0. It is the focus of a full matrix of a line aperture at one frequency: for the
// aperture D and the distance z the width is 0.886·λz/D (package material/beam, Strip.FocalWidth).
// Its drops are 0.01 to 24 dB, so that side lobes at 26.5 dB are no edges.
func SincBeam(width float64) (Beam, error) {
	if err := checkWidth(width); err != nil {
		return Beam{}, err
	}
	unit := width / (2 * sincHalf) // x at which u is 1
	return Beam{
		echo:    func(x float64) float64 { return sinc2(x / unit) },
		sum:     func(x float64) float64 { return unit * (0.5 + sinc2Integral(x/unit)) },
		total:   unit,
		width:   width,
		deepest: 24,
	}, nil
}

// checkWidth returns an error unless width is the width of a beam.
func checkWidth(width float64) error {
	if !number.Positive(width) {
		return fmt.Errorf("sizing: width of the beam %v m: want a finite value above 0", width)
	}
	return nil
}

// NewBeam returns a measured or predicted profile: amplitudes of the echo of a small reflector. It
// may be a [Profile] across the image of a hole much smaller than the beam, or the predicted point
// spread along a line (package tfm/quality, Spot.Amplitude). The amplitudes are spacing metres
// apart, finite, and not negative. Between them the profile is linear, beyond them it is 0. The
// axis is the highest peak. The profile must fall by 6 dB on both sides. Its drops are at most the
// drop to the higher one of its ends.
func NewBeam(profile []float64, spacing float64) (Beam, error) {
	peak, err := Drop(profile, spacing, SixDB)
	if err != nil {
		return Beam{}, err
	}
	if peak.OpenFrom || peak.OpenTo {
		return Beam{}, errors.New("sizing: profile of the beam ends before it falls by 6 dB: want both sides")
	}
	values := make([]float64, len(profile))
	sums := make([]float64, len(profile)) // up to each amplitude
	for i, v := range profile {
		values[i] = v / peak.Amplitude
		if i > 0 {
			sums[i] = sums[i-1] + spacing*(values[i-1]+values[i])/2
		}
	}
	last := len(values) - 1
	end := max(values[0], values[last])
	// find returns the amplitude before x, and the share of the way to the next one.
	find := func(x float64) (int, float64) {
		at := min(max((x+peak.Peak)/spacing, 0), float64(last))
		i := min(int(at), last-1)
		return i, at - float64(i)
	}
	return Beam{
		echo: func(x float64) float64 {
			if at := (x + peak.Peak) / spacing; !(at >= 0 && at <= float64(last)) {
				return 0
			}
			i, t := find(x)
			return values[i] + t*(values[i+1]-values[i])
		},
		sum: func(x float64) float64 {
			i, t := find(x)
			return sums[i] + spacing*t*(values[i]+t*(values[i+1]-values[i])/2)
		},
		total:   sums[last],
		width:   peak.Length(),
		deepest: min(-LevelDB(end, 1), maxDrop),
	}, nil
}

// allows reports whether the profile has an edge at a drop.
func (b Beam) allows(drop float64) bool { return drop >= minDrop && drop <= b.deepest }

// Point returns how far before and behind a point reflector its echo has fallen by a drop in dB
// below its peak, in m. The sum of both is the width of the beam at this drop.
func (b Beam) Point(drop float64) (from, to float64) {
	if !b.allows(drop) {
		return math.NaN(), math.NaN()
	}
	level := Ratio(-drop)
	return b.fall(b.echo, 0, -1, level), b.fall(b.echo, 0, 1, level)
}

// Edge returns a distance outside of the end of a long strip, in m. There the echo has fallen by a
// drop in dB below the echo of the middle. These are the biases of both ends: positive if the drop
// method places the end outside of the strip. At 6 dB they are 0 for each even profile.
//
// A strip counts as long from two widths of the beam on. The bias of its length is then within 0.04
// widths of the sum of both ends for a Gaussian, and within 0.12 widths for sinc² (3 to 20 dB).
func (b Beam) Edge(drop float64) (from, to float64) {
	if !b.allows(drop) {
		return math.NaN(), math.NaN()
	}
	share := Ratio(-drop) * b.total
	return -b.where(share), b.where(b.total - share)
}

// where returns the x up to which the integral of the profile is sum.
func (b Beam) where(sum float64) float64 {
	reach := b.width
	for (b.sum(-reach) > sum || b.sum(reach) < sum) && reach < 1e6*b.width {
		reach *= 2
	}
	return zero(-reach, reach, func(x float64) float64 { return sum - b.sum(x) })
}

// Measured returns the length in m that a drop in dB below the peak measures on a strip of the
// given length in m, from 0 to 1000 widths of the beam. The bias of the drop method is this
// length less the true length.
func (b Beam) Measured(length, drop float64) float64 {
	from, to := b.ends(length, drop)
	return to - from
}

// ends returns where the echo of a strip from 0 to length crosses a drop below its peak.
func (b Beam) ends(length, drop float64) (from, to float64) {
	if !b.allows(drop) || !(length >= 0 && length <= 1000*b.width) {
		return math.NaN(), math.NaN()
	}
	if length < 1e-6*b.width { // the difference of two sums has no digits left
		from, to = b.Point(drop)
		return -from, to + length
	}
	echo := func(x float64) float64 { return b.sum(x) - b.sum(x-length) }
	peak := b.summit(echo, length)
	level := Ratio(-drop) * echo(peak)
	return peak - b.fall(echo, peak, -1, level), peak + b.fall(echo, peak, 1, level)
}

// summit returns the place of the highest echo of a strip from 0 to length.
func (b Beam) summit(echo func(float64) float64, length float64) float64 {
	// Echoes of long strips have a flat top with the height of the middle.
	reach := min(length/2+b.width, 3*b.width)
	step := b.width / 8
	best := length / 2
	for k := 0; float64(k)*step <= reach; k++ {
		for _, x := range [2]float64{length/2 - float64(k)*step, length/2 + float64(k)*step} {
			if echo(x) > echo(best)*(1+1e-12) {
				best = x
			}
		}
	}
	low, high := best-step, best+step
	for range 30 {
		third := (high - low) / 3
		if echo(low+third) < echo(high-third) {
			low += third
		} else {
			high -= third
		}
	}
	return (low + high) / 2
}

// fall returns the distance from x, in the direction of sign, at which f first falls below level.
func (b Beam) fall(f func(float64) float64, x, sign, level float64) float64 {
	step := b.width / 16
	d := 0.0
	for f(x+sign*(d+step)) >= level {
		d += step
	}
	return zero(d, d+step, func(d float64) float64 { return f(x+sign*d) - level })
}

// zero returns where f, which is above 0 at a and below 0 at b, is 0. It is the method of false
// position in the form called Illinois: an end that stays has its value halved.
func zero(a, b float64, f func(float64) float64) float64 {
	fa, fb := f(a), f(b)
	if !(fa > 0) {
		return a
	}
	for range 100 {
		if math.Abs(b-a) <= 1e-13*(math.Abs(a)+math.Abs(b)) || fb == 0 {
			break
		}
		c := b - fb*(b-a)/(fb-fa)
		fc := f(c)
		if fc*fb < 0 {
			a, fa = b, fb
		} else {
			fa /= 2
		}
		b, fb = c, fc
	}
	return b
}

// EdgeSD returns the standard deviations of both ends, in m, of a strip that a drop in dB measures.
// The strip has the given length in m; math.Inf(1) stands for a long strip. The ratio snr, above
// 0, is the amplitude of the peak divided by the standard deviation of the amplitude, not in dB.
// The step in m, from 0 on, is the pitch to which positions are rounded, as with an encoder; 0
// stands for interpolation between dense samples. Errors of noise at both ends are independent, so
// the standard deviation of the length is the root of the sum of squares.
//
// The method is the error of a crossing: noise divided by the slope of the profile, and step/√12
// for rounding. It holds where the errors are small relative to the width. The level at the drop is
// taken as exact. If it is relative to a peak with the same noise, both ends also move together.
// Each variance of noise then grows by the square of the ratio at the drop, a quarter at 6 dB.
func (b Beam) EdgeSD(length, drop, snr, step float64) (from, to float64) {
	if !(snr > 0) || !(step >= 0) || !b.allows(drop) {
		return math.NaN(), math.NaN()
	}
	var first, second float64 // slopes relative to the peak
	if math.IsInf(length, 1) {
		before, behind := b.Edge(drop)
		first, second = b.echo(-before)/b.total, b.echo(behind)/b.total
	} else {
		start, end := b.ends(length, drop)
		echo := func(x float64) float64 { return b.sum(x) - b.sum(x-length) }
		slope := func(x float64) float64 { return math.Abs(b.echo(x) - b.echo(x-length)) }
		if length < 1e-6*b.width {
			h := 1e-4 * b.width
			echo = b.echo
			slope = func(x float64) float64 { return math.Abs(b.echo(x+h)-b.echo(x-h)) / (2 * h) }
		}
		peak := echo(b.summit(echo, length))
		first, second = slope(start)/peak, slope(end)/peak
	}
	rounding := step / math.Sqrt(12)
	return math.Hypot(1/(snr*first), rounding), math.Hypot(1/(snr*second), rounding)
}
