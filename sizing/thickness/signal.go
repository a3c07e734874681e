// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package thickness

import (
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm/ascan"
)

// signal is an A-scan with its envelope.
type signal struct {
	trace  *ascan.Trace
	height []float64 // the envelope
	noise  float64   // standard deviation of the noise in the A-scan
}

// newSignal computes the envelope in the memory of buffer.
func newSignal(t *ascan.Trace, buffer []float64) *signal {
	s := &signal{trace: t, height: t.Envelope(buffer)}
	for k, v := range s.height {
		if !number.Finite(v) {
			s.height[k] = 0
		}
	}
	return s
}

// echo is an echo of an A-scan.
type echo struct {
	time    float64 // s
	height  float64 // of its envelope
	noise   float64 // standard uncertainty of time by noise, s
	clipped bool    // the receiver clipped above the dip
}

// end returns the time in s at which the record or the beam ends.
func (s *signal) end() float64 {
	return min(s.trace.Time(float64(len(s.height)-1)), s.trace.Line.Time(s.trace.Line.Length()))
}

// sample returns the sample at a time in s, at least 0 and at most the number of samples.
func (s *signal) sample(time float64) int {
	at := math.Ceil((time - s.trace.FirstSample) * s.trace.SampleRate)
	return int(max(0, min(at, float64(len(s.height)))))
}

// highest returns the highest sample between two times in s, or -1.
func (s *signal) highest(from, to float64) int {
	top := -1
	for k := s.sample(from); k < s.sample(to); k++ {
		if top < 0 || s.height[k] > s.height[top] {
			top = k
		}
	}
	return top
}

// dip is the share of the peak of an echo to which the envelope must fall between two echoes, so
// that they are two: 6 dB.
const dip = 0.5

// tops returns the highest samples of all echoes from a time in s to the end that reach a
// threshold. An echo rises by more than the dip before its top and falls by more than it behind.
func (s *signal) tops(from, threshold float64) []int {
	var list []int
	first := s.sample(from)
	if first == len(s.height) {
		return nil
	}
	top, low := -1, s.height[first]
	for k := first + 1; k < len(s.height); k++ {
		v := s.height[k]
		switch {
		case top < 0 && v > 0 && v >= low/dip:
			top = k
		case top < 0:
			low = min(low, v)
		case v > s.height[top]:
			top = k
		case v <= dip*s.height[top]:
			if s.height[top] >= threshold {
				list = append(list, top)
			}
			top, low = -1, v
		}
	}
	return list
}

// quiet returns the standard deviation of the noise in the A-scan from a time in s, by the lower
// quartile of the envelope, which few echoes do not change. The envelope of Gaussian noise has
// Rayleigh's distribution. Its quartile is √(2·ln(4/3)) standard deviations.
func (s *signal) quiet(from float64) float64 {
	heights := slices.Clone(s.height[s.sample(from):])
	if len(heights) == 0 {
		return 0
	}
	slices.Sort(heights)
	return heights[len(heights)/4] / math.Sqrt(2*math.Log(4./3))
}

// pick returns the echo whose highest sample is top.
func (s *signal) pick(top int, f *Flank) echo {
	e := s.peak(top)
	e.clipped = s.clips(top)
	if f != nil {
		e.time, e.noise = s.flank(top, f)
	}
	return e
}

// clips reports whether the receiver clipped where the envelope around its highest sample is above
// the dip.
func (s *signal) clips(top int) bool {
	first, end := top, top+1
	for first > 0 && s.height[first-1] > dip*s.height[top] {
		first--
	}
	for end < len(s.height) && s.height[end] > dip*s.height[top] {
		end++
	}
	return slices.ContainsFunc(s.trace.Clipped, func(r [2]int) bool { return r[0] < end && r[1] > first })
}

// peak returns the peak of the envelope by the parabola through the logarithms of three samples,
// which is exact for a Gaussian envelope. Let the envelope near its peak A be A·exp(-t²/2s²). White
// noise of the standard deviation σ in a band of the width B then moves the peak with the standard
// deviation σ·β·s²/A, β = 2πB/√12.
func (s *signal) peak(top int) echo {
	e := echo{time: s.trace.Time(float64(top)), height: s.height[top]}
	if top < 1 || top+1 >= len(s.height) || !(s.height[top-1] > 0 && s.height[top+1] > 0) {
		return e
	}
	before, here, after := math.Log(s.height[top-1]), math.Log(s.height[top]), math.Log(s.height[top+1])
	bend := before - 2*here + after
	if !(bend < 0 && before <= here && after <= here) {
		return e
	}
	shift, rise := number.Vertex(before, here, after)
	rate := s.trace.SampleRate
	beta := 2 * math.Pi * (s.trace.Band.High - s.trace.Band.Low) / math.Sqrt(12)
	e.time += shift / rate
	e.height = math.Exp(here + rise)
	e.noise = s.noise * beta / (-bend * rate * rate) / e.height
	return e
}

// flank returns the time in s at which an echo crosses the threshold of f, and the standard
// uncertainty by noise. Noise moves the crossing, and moves the peak from which the threshold is
// taken. The correlation of both errors is the correlation of white noise in the band over the lag
// between them.
func (s *signal) flank(top int, f *Flank) (time, noise float64) {
	level := f.Share * s.height[top]
	envelope := func(k int) float64 { return s.height[k] }
	k := top
	for k > 0 && s.height[k-1] >= level {
		k--
	}
	value := envelope
	if f.Sign != 0 {
		// A half-wave is never higher than the envelope.
		value = func(k int) float64 { return float64(f.Sign) * real(complex128(s.trace.Analytic[k])) }
		for k < len(s.height)-1 && value(k) < level {
			k++
		}
	}
	if k == 0 {
		return s.trace.Time(0), math.NaN()
	}
	at, slope := crossing(value, k, len(s.height), level)
	lag := (float64(top) - at) / s.trace.SampleRate
	common := number.Sinc((s.trace.Band.High-s.trace.Band.Low)*lag) * min(1, level/s.height[k])
	spread := math.Sqrt(1 + f.Share*f.Share - 2*f.Share*common)
	return s.trace.Time(at), s.noise * spread / (slope * s.trace.SampleRate)
}

// crossing returns where, between the samples k-1 and k, the cubic through the four nearest samples
// crosses a level, and its slope there per sample. Value k-1 lies below the level, and value k does
// not. Near the ends of the record it uses the straight line.
func crossing(value func(int) float64, k, n int, level float64) (at, slope float64) {
	b, c := value(k-1), value(k)
	if k < 2 || k+1 >= n {
		return float64(k) - (c-level)/(c-b), c - b
	}
	a, d := value(k-2), value(k+1)
	cubic := func(u float64) float64 { // Lagrange's, at k - 1 + u
		return -a*u*(u-1)*(u-2)/6 + b*(u+1)*(u-1)*(u-2)/2 - c*(u+1)*u*(u-2)/2 + d*(u+1)*u*(u-1)/6
	}
	low, high := 0.0, 1.0
	for range 40 {
		if middle := (low + high) / 2; cubic(middle) < level {
			low = middle
		} else {
			high = middle
		}
	}
	const h = 1e-3
	return float64(k-1) + low, math.Abs(cubic(low+h)-cubic(low-h)) / (2 * h)
}
