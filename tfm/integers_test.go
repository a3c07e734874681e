// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/internal/vector"
	"github.com/isochron-imaging/isochron/wedge"
)

// integerFilter reports whether p filters in integers, as it must where they are fast.
func integerFilter(t *testing.T, p *Plan) bool {
	t.Helper()
	if p.direct == nil {
		return false
	}
	fast := vector.NewHermitianInt16([]complex64{1}).Fast()
	if got := p.direct.integers != nil; got != fast {
		t.Fatalf("a filter in integers: %t, want %t", got, fast)
	}
	return fast
}

// TestIntegers compares images from samples of 16 bits with a sum in float64. It holds them to the
// errors that [Fixed16] promises and to the change that [Scratch.ReconstructInt16] promises. The
// echoes have 10 samples a period.
func TestIntegers(t *testing.T) {
	g := check.Must(NewSection(-4e-3, 4e-3, 5e-3, 14e-3, 0.4e-3))
	half, full := fmc.HalfPairs(16), fmc.FullPairs(16)
	for i, test := range []struct {
		signal    string
		elements  int
		pairs     []fmc.Pair
		peak      float64
		weights   []float32
		tolerance float64
	}{
		{"echoes", 16, half, 8190, nil, 2e-4},
		{"echoes", 16, full, 7, nil, 2e-4},
		{"echoes", 16, full, 16380, nil, 2e-4}, // a bit of a sample is lost
		{"echoes", 16, half, 32767, nil, 2e-4},
		{"echoes", 16, full[:200], 2047, []float32{1, -2, 0, 3}, 2e-4},
		{"echoes", 16, half, 2047, []float32{0.3, 1}, 2e-4},
		{"echoes", 2, fmc.FullPairs(2), 8190, nil, 4e-4},
		{"echoes below hum", 16, half, 8190, nil, 2e-4},
		{"echoes below hum", 16, full, 16380, nil, 2e-4},
		{"echoes below hum", 2, fmc.HalfPairs(2), 8190, nil, 4e-4},
		{"echoes below hum", 2, fmc.FullPairs(2), 8190, nil, 4e-4},
		{"echoes below hum", 4, fmc.FullPairs(4), 16380, nil, 3e-4},
		{"echoes beside hum", 2, fmc.HalfPairs(2), 8190, nil, 4e-4},
		{"echoes beside hum", 2, fmc.FullPairs(2), 8190, nil, 4e-4},
		{"echoes beside hum", 16, full, 16380, nil, 2e-4},
		{"echoes behind an interface", 16, half, 8190, nil, 2e-4},
		{"noise", 16, half, 24, nil, 3e-4},
		{"noise", 16, full, 8190, nil, 3e-4},
		{"noise", 16, full, 16380, nil, 3e-4},
		{"noise", 2, fmc.HalfPairs(2), 8190, nil, 4e-4},
		{"steps that all channels share", 16, half, 8190, nil, 2e-4},
		{"steps that all channels share", 16, full, 16380, nil, 2e-4},
		{"directions of opposite sign", 16, full, 32767, nil, 3e-4},
		{"directions of opposite sign", 4, fmc.FullPairs(4), 8190, nil, 4e-4},
	} {
		t.Run(fmt.Sprintf("%s, %d pairs of %d, up to %v", test.signal, len(test.pairs), test.elements, test.peak), func(t *testing.T) {
			c := randomCapture(3, test.elements, 800, test.pairs)
			var weights []float32
			for k := 0; k < len(c.Pairs) && test.weights != nil; k++ {
				weights = append(weights, test.weights[k%len(test.weights)])
			}
			tx, rx := tables(plate(), "L-L", c, g)
			samples := fillInts(rand.New(rand.NewPCG(3, uint64(i))), c, tx, test.signal, test.peak)
			p := check.Must(NewPlan(c, g, tx, rx, &Options{Precision: Fixed16, Weights: weights}))
			integerFilter(t, p)
			image := NewImage(g)
			if err := p.NewScratch().ReconstructInt16(background, image, samples); err != nil {
				t.Fatal(err)
			}
			wantImage(t, image.Data, doubleLoop(t, c, g, tx, rx, Options{Weights: weights}), test.tolerance)
			single := check.Must(p.Image(background, c)) // whose filter is in single precision
			wantImage(t, image.Data, complex128s(single.Data), 1.5e-4)
		})
	}
}

// fillInts fills c with integers up to a peak, and returns them.
func fillInts(r *rand.Rand, c *fmc.Capture, times *wedge.Times, signal string, peak float64) []int16 {
	x, at := make([]float64, len(c.Data)), r.IntN(times.Points)
	arrival := func(pair fmc.Pair) float64 {
		return float64(times.Seconds[pair.Tx*times.Points+at] + times.Seconds[pair.Rx*times.Points+at])
	}
	first := math.Inf(1) // time that the image reads
	for _, seconds := range times.Seconds {
		first = min(first, 2*float64(seconds))
	}
	burst := func(seconds float64) float64 {
		return math.Exp(-math.Pow(2.5e6*seconds, 2)) * math.Cos(2*math.Pi*5e6*seconds)
	}
	for i := range x {
		pair, seconds := c.Pairs[i/c.Samples], c.FirstSample+float64(i%c.Samples)/c.SampleRate
		switch echo := burst(seconds - arrival(pair)); signal {
		case "echoes":
			x[i] = echo
		case "echoes below hum":
			x[i] = echo + 10*math.Sin(2*math.Pi*3e5*seconds)
		case "echoes beside hum": // of 3 times the echoes
			x[i] = echo + 3*math.Sin(2*math.Pi*3e5*seconds)
		case "echoes behind an interface":
			x[i] = echo + 30*burst(seconds-first+0.6e-6)
		case "noise":
			x[i] = 2*r.Float64() - 1
		case "directions of opposite sign":
			x[i] = r.Float64()
			if r.IntN(50) > 0 {
				x[i] = float64(1 - 2*min(1, max(0, pair.Rx-pair.Tx)))
			}
		}
	}
	if signal == "steps that all channels share" {
		level := 0.0
		for k := range c.Samples {
			if r.IntN(50) == 0 {
				level = r.Float64()
			}
			x[k] = level
		}
		for i := c.Samples; i < len(x); i++ {
			x[i] = x[i-c.Samples]
		}
	}
	largest, samples := 0.0, make([]int16, len(x))
	for _, v := range x {
		largest = max(largest, math.Abs(v))
	}
	for i, v := range x {
		samples[i] = int16(math.Round(v / largest * peak))
		c.Data[i] = float32(samples[i])
	}
	return samples
}

// TestIntegersOfViews images an echo of 30 in one view, and an echo that is up to 500 times as strong
// in another view, which reads other samples. The weak echo must keep the error of its own view, also
// beside hum.
func TestIntegersOfViews(t *testing.T) {
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 6e-3, 0.4e-3))
	names := []string{"L-L", "LL-LL"}
	for _, test := range []struct {
		pairs        []fmc.Pair
		hum, largest float64
	}{
		{fmc.HalfPairs(8), 0, 8190},
		{fmc.HalfPairs(8), 0, 16380},
		{fmc.FullPairs(8), 0, 16380},
		{fmc.HalfPairs(8), 3000, 8190},
		{fmc.FullPairs(8), 6000, 16380},
	} {
		t.Run(fmt.Sprintf("%d pairs, hum of %v, up to %v", len(test.pairs), test.hum, test.largest), func(t *testing.T) {
			c := randomCapture(3, 8, 1400, test.pairs)
			var echoes [2]*wedge.Times
			for v, name := range names {
				echoes[v], _ = tables(plate(), name, c, g)
			}
			samples, at := make([]int16, len(c.Data)), g.Len()/2
			for i := range samples {
				pair, seconds := c.Pairs[i/c.Samples], c.FirstSample+float64(i%c.Samples)/c.SampleRate
				x := test.hum * math.Sin(2*math.Pi*3e5*seconds)
				for v, amplitude := range []float64{test.largest - test.hum, 30} {
					s := seconds - float64(echoes[v].Seconds[pair.Tx*g.Len()+at]+echoes[v].Seconds[pair.Rx*g.Len()+at])
					x += amplitude * math.Exp(-math.Pow(2.5e6*s, 2)) * math.Cos(2*math.Pi*5e6*s)
				}
				samples[i] = int16(math.Round(x))
				c.Data[i] = float32(samples[i])
			}
			images := []*Image{NewImage(g), NewImage(g)}
			views := check.Must(PlanViews(background, c, plate(), names, g, &Options{Precision: Fixed16}))
			if err := views.NewScratch().ReconstructInt16(background, images, samples); err != nil {
				t.Fatal(err)
			}
			for v, times := range echoes {
				wantImage(t, images[v].Data, doubleLoop(t, c, g, times, times, Options{}), 2e-4)
			}
		})
	}
}

func complex128s(data []complex64) []complex128 {
	out := make([]complex128, len(data))
	for i, v := range data {
		out[i] = complex128(v)
	}
	return out
}

// TestRound checks which traces are filtered in integers, and at which scale.
func TestRound(t *testing.T) {
	c := randomCapture(3, 2, 400, fmc.FullPairs(2))
	g := check.Must(NewSection(-1e-3, 1e-3, 4e-3, 5e-3, 0.1e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	p := check.Must(NewPlan(c, g, tx, rx, &Options{Precision: Fixed16}))
	if !integerFilter(t, p) {
		t.Skip("no filter in integers")
	}
	for _, test := range []struct {
		name    string
		peak    int16
		weights []float64
		scale   float64 // 0 for a filter in single precision
	}{
		{"13 bits", 4094, []float64{1}, 2},
		{"14 bits", 8190, []float64{1}, 1},
		{"above 14 bits", 8192, []float64{1}, 0.5},
		{"a weight of 2", 8190, []float64{2}, 0.5},
		{"15 bits lose a bit", 16380, []float64{1}, 0.5},
		{"the sum of 14 bits loses a bit", 8190, []float64{1, 1}, 0.5},
		{"16 bits lose two bits", 32000, []float64{1}, 0},
		{"the sum of 15 bits loses two bits", 16380, []float64{1, 1}, 0},
		{"the range of a difference", 8190, []float64{1, -1}, 0.5},
		{"an odd and an even weight", 2000, []float64{3, 4}, 0.5},
		{"one weight loses two bits", 8190, []float64{1, 2}, 0},
		{"a weight that is not whole", 100, []float64{0.3}, 0},
		{"no samples", 0, []float64{1}, 1},
	} {
		for _, sign := range []int16{1, -1} {
			samples, sum := make([]int16, 2*p.samples), traceSum{count: len(test.weights)}
			for i := range samples {
				samples[i] = 700 + int16(i%2)*min(1, test.peak)
			}
			for k, weight := range test.weights {
				sum.terms[k] = term{pair: k, weight: weight}
				trace := samples[k*p.samples:]
				trace[7], trace[8], trace[9] = trace[7]+sign*test.peak, trace[8]-sign*test.peak/2, trace[9]-sign*test.peak/2
			}
			s, reads := p.direct.newScratch(), [2]int{0, p.samples}
			r, ok := p.direct.round(s, samples, sum, reads)
			if !ok {
				r.scale = 0
			}
			if r.scale != test.scale {
				t.Errorf("%s: scale %v, want %v", test.name, r.scale, test.scale)
			}
			if err := p.direct.loadInt16(s, samples, sum, reads); err != nil {
				t.Fatal(err)
			}
			for k, v := range s.trace {
				// The mean is rounded, then a sample that is halved.
				if got, want := float64(s.ints[k]), r.scale*float64(v); ok && !(math.Abs(got-want) <= 0.75) {
					t.Errorf("%s: sample %d is %v, want %v", test.name, k, got, want)
				}
				if ok && !(math.Abs(float64(v)) <= r.most*(1+1e-6)) {
					t.Errorf("%s: sample %d is %v, above the largest, %v", test.name, k, v, r.most)
				}
			}
		}
	}
}

// TestResponseError changes two taps so that the response changes by 0.02·(cos(4πf) - 1) at f cycles
// a sample. It is computed at multiples of 1/12 for three taps.
func TestResponseError(t *testing.T) {
	taps := []complex64{0.5, 0.25 + 0.125i, 0.0625}
	h := vector.NewHermitianInt16(taps)
	if worst, noise := responseError(h, taps, 0.5); !(worst < 1e-4 && noise <= worst) {
		t.Errorf("rounded taps change the response by %v, and by %v in the mean", worst, noise)
	}
	for j := range taps {
		taps[j] = complex64(h.Tap(j))
	}
	taps[0], taps[2] = taps[0]+0.02, taps[2]-0.01
	for _, test := range []struct{ high, worst float64 }{{0.01, 0}, {0.1, 0.01}, {0.5, 0.04}} {
		worst, noise := responseError(h, taps, test.high)
		if want := 0.02 * math.Sqrt(1.5); !(math.Abs(worst-test.worst) < 1e-6 && math.Abs(noise-want) < 1e-6) {
			t.Errorf("up to %v cycles a sample: %v and %v in the mean, want %v and %v", test.high, worst, noise, test.worst, want)
		}
	}
}
