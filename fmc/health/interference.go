// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
)

// Tone is steady interference of one frequency, in phase with the pulses or not.
type Tone struct {
	Frequency float64 // Hz
	Level     Number  // median of the amplitudes in the traces that hold it, share of Report.EchoPeak
	Share     float64 // of the traces in which it stands out of the noise, 0 to 1
}

const (
	mostTones = 8
	// A line counts where the power of the traces exceeds the median of the frequencies around it
	// by lineContrast. The factor is larger if there are few traces.
	lineContrast = 8
	// The record has segments parts. In at least steadySegments of them a tone must be as strong
	// as in the whole record. Repeated echoes make lines as well, but their strength changes from
	// the beginning to the end.
	segments, steadySegments = 8, 6
	leastSteady, mostSteady  = 0.6, 1.6
)

// tones searches for steady tones in a capture and removes them.
type tones struct {
	capture *fmc.Capture // without the tones found so far
	window  window       // after the initial pulse
	weights [][]float32  // of the samples of each trace in the window: less where echoes are
	found   []Tone       // Level in the unit of the samples
}

// withoutTones returns the capture without its steady tones, and these. Without tones it is
// the capture itself.
func withoutTones(c *fmc.Capture, w window) (*fmc.Capture, []Tone) {
	t := &tones{capture: c, window: w}
	least := 2 / c.Array.CentreFrequency * segments // s
	if float64(w.length()) < least*c.SampleRate || c.Array.CentreFrequency*4 > c.SampleRate {
		return c, nil // too short or too coarse to tell a tone from an echo
	}
	for range mostTones {
		t.weigh()
		frequency, ok := t.line()
		if !ok {
			break
		}
		t.remove(frequency)
	}
	return t.capture, t.found
}

// weigh gives each sample the weight m/(m+v). v is the mean square around the sample, and m is the
// median of v. The weight is about 1/2 where the trace is quiet, and small in an echo.
func (t *tones) weigh() {
	c, n := t.capture, t.window.length()
	width := max(1, int(2*c.SampleRate/c.Array.CentreFrequency))
	t.weights = make([][]float32, len(c.Pairs))
	square := make([]float64, n)
	for p := range t.weights {
		x := c.Trace(p)[t.window.first:t.window.end]
		offset := mean(x)
		for k, v := range x {
			square[k] = (float64(v) - offset) * (float64(v) - offset)
		}
		local := smoothed(square, width)
		middle := number.Median(local)
		t.weights[p] = make([]float32, n)
		if !(middle > 0) {
			continue
		}
		for k, v := range local {
			t.weights[p][k] = float32(middle / (middle + v))
		}
	}
}

// weighted returns the samples of a trace in the window, less their weighted mean, times
// their weights, and the sum of the weighted squares.
func (t *tones) weighted(p int) (x []float64, power float64) {
	x = make([]float64, t.window.length())
	sum, all := 0.0, 0.0
	trace := t.capture.Trace(p)[t.window.first:t.window.end]
	for k, w := range t.weights[p] {
		sum += float64(w) * float64(trace[k])
		all += float64(w)
	}
	for k, w := range t.weights[p] {
		v := float64(trace[k]) - sum/max(all, math.SmallestNonzeroFloat64)
		x[k] = float64(w) * v
		power += float64(w) * v * v
	}
	return x, power
}

// mostTraces bounds the traces that lines are looked for in.
const mostTraces = 512

// traces lists the traces that lines are looked for in.
func (t *tones) traces() []int {
	var list []int
	for p := 0; p < len(t.capture.Pairs); p += 1 + (len(t.capture.Pairs)-1)/mostTraces {
		list = append(list, p)
	}
	return list
}

// line returns the frequency in Hz of the most distinct steady line between 0.2 and 2.5 of the
// centre frequency.
func (t *tones) line() (frequency float64, ok bool) {
	c, n := t.capture, t.window.length()
	size := 2
	for size < 2*n {
		size *= 2
	}
	fft := fourier.NewFFT(size)
	padded := make([]float64, size)
	coefficients := make([]complex128, size/2+1)
	power := make([]float64, size/2+1)
	list := t.traces()
	for _, p := range list {
		x, all := t.weighted(p)
		if !(all > 0) {
			continue
		}
		clear(padded)
		for k, v := range x {
			padded[k] = v * (1 - math.Cos(2*math.Pi*(float64(k)+0.5)/float64(n)))
		}
		for i, v := range fft.Coefficients(coefficients, padded) {
			power[i] += (real(v)*real(v) + imag(v)*imag(v)) / all
		}
	}
	step := c.SampleRate / float64(size)
	from := max(1, int(0.2*c.Array.CentreFrequency/step))
	to := min(len(power)-1, int(2.5*c.Array.CentreFrequency/step))
	threshold := lineContrast + 30/math.Sqrt(float64(len(list)))
	contrast := make([]float64, len(power))
	for i := from; i < to; i++ {
		if power[i] > power[i-1] && power[i] >= power[i+1] {
			contrast[i] = power[i] / background(power, i)
		}
	}
	for range mostTones {
		top := 0
		for i, v := range contrast {
			if v > contrast[top] {
				top = i
			}
		}
		if !(contrast[top] > threshold) {
			return 0, false
		}
		contrast[top] = 0
		if f := t.refine(float64(top)*step, step, list); t.steady(f, list) {
			return f, true
		}
	}
	return 0, false
}

// background returns the median power of the frequencies about one, outside its line.
func background(power []float64, i int) float64 {
	const line, reach = 6, 40 // padded steps
	low := power[max(0, i-reach):max(0, i-line)]
	high := power[min(len(power), i+line+1):min(len(power), i+reach+1)]
	return number.Median(slices.Concat(low, high))
}

// refine returns the frequency near f, known to half a step, at which the traces hold most
// power.
func (t *tones) refine(f, step float64, list []int) float64 {
	const most = 64 // traces are enough
	list = list[:min(most, len(list))]
	traces := make([][]float64, len(list))
	for i, p := range list {
		traces[i], _ = t.weighted(p)
	}
	power := func(f float64) float64 {
		sum := 0.0
		for _, x := range traces {
			z := rotated(x, 2*math.Pi*f/t.capture.SampleRate)
			sum += real(z)*real(z) + imag(z)*imag(z)
		}
		return sum
	}
	for h := step / 2; h > step/100; h /= 3 {
		v := []float64{power(f - h), power(f), power(f + h)}
		switch {
		case v[0] > v[1] && v[0] > v[2]:
			f -= h
		case v[2] > v[1]:
			f += h
		default:
			f += h * vertex(v, 1)
		}
	}
	return f
}

// rotated returns the sum of x[k]·exp(-i·w·k).
func rotated(x []float64, w float64) complex128 {
	turn, phase := cmplx.Rect(1, -w), complex(1, 0)
	var sum complex128
	for _, v := range x {
		sum += complex(v, 0) * phase
		phase *= turn
	}
	return sum
}

// steady reports whether the tone of frequency f is equally strong in at least steadySegments
// parts of the record.
func (t *tones) steady(f float64, list []int) bool {
	n := t.window.length()
	w := 2 * math.Pi * f / t.capture.SampleRate
	var with, without [segments]float64
	for _, p := range list {
		x, _ := t.weighted(p)
		var z [segments]complex128
		var size [segments]float64
		var sum complex128
		all := 0.0
		for m := range segments {
			from, to := m*n/segments, (m+1)*n/segments
			z[m] = rotated(x[from:to], w) * cmplx.Rect(1, -w*float64(from))
			for _, v := range t.weights[p][from:to] {
				size[m] += float64(v)
			}
			sum += z[m]
			all += size[m]
		}
		for m := range segments {
			rest := sum - z[m]
			if size[m] > 0 && all > size[m] {
				rest /= complex(all-size[m], 0)
				// The weight of a pair is the strength of the tone in the rest of the record.
				with[m] += real(z[m] * cmplx.Conj(rest))
				without[m] += size[m] * (real(rest)*real(rest) + imag(rest)*imag(rest))
			}
		}
	}
	count := 0
	for m := range segments {
		if ratio := with[m] / without[m]; ratio >= leastSteady && ratio <= mostSteady {
			count++
		}
	}
	return count >= steadySegments
}

// remove fits the tone to each trace by weighted least squares. It subtracts the tone where the
// tone exceeds the noise.
func (t *tones) remove(f float64) {
	const significant = 3 // standard errors of the amplitude
	out := *t.capture
	out.Data = slices.Clone(t.capture.Data)
	w := 2 * math.Pi * f / t.capture.SampleRate
	var amplitudes []float64
	for p := range out.Pairs {
		x, power := t.weighted(p)
		var cc, cs, ss, xc, xs, all float64
		for k, weight := range t.weights[p] {
			sin, cos := math.Sincos(w * float64(t.window.first+k))
			cc += float64(weight) * cos * cos
			cs += float64(weight) * cos * sin
			ss += float64(weight) * sin * sin
			xc += x[k] * cos
			xs += x[k] * sin
			all += float64(weight)
		}
		determinant := cc*ss - cs*cs
		if !(determinant > 0) {
			continue
		}
		a, b := (xc*ss-xs*cs)/determinant, (xs*cc-xc*cs)/determinant
		amplitude := math.Hypot(a, b)
		rest := max(0, power-a*xc-b*xs) / all // mean square without the tone
		if amplitude*amplitude < significant*significant*2*rest/all {
			continue
		}
		amplitudes = append(amplitudes, amplitude)
		for k, trace := 0, out.Trace(p); k < len(trace); k++ {
			sin, cos := math.Sincos(w * float64(k))
			trace[k] -= float32(a*cos + b*sin)
		}
	}
	t.capture = &out
	if len(amplitudes) > 0 {
		t.found = append(t.found, Tone{f, Number(number.Median(amplitudes)), float64(len(amplitudes)) / float64(len(out.Pairs))})
	}
}
