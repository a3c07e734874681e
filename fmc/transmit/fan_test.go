// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit

import (
	"context"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

const degree = math.Pi / 180

// TestFanStep compares with numbers that were worked by hand from the closed forms: the replica of
// an equally spaced set is at λ/Δsin, and the step for an image of a width X is λ/X.
func TestFanStep(t *testing.T) {
	for _, test := range []struct {
		step, wavelength float64 // degrees at normal incidence, mm
		replica          string  // mm
	}{{1, 1.184, "67.842"}, {2, 1.184, "33.926"}} {
		f := Fan{To: test.step * degree, Count: 2}
		check.Printed(t, "distance of the replica", f.Replica(test.wavelength), test.replica)
	}
	for _, test := range []struct {
		width, wavelength float64 // mm
		step              string  // degrees at normal incidence
	}{{60, 1.184, "1.13071"}, {40, 0.592, "0.84801"}} {
		step := math.Asin(test.wavelength/test.width) / degree
		check.Printed(t, "step", step, test.step)
		f := check.Must(NewFan(-20*degree, 20*degree, test.wavelength, test.width))
		if !(f.Replica(test.wavelength) >= test.width) {
			t.Errorf("%d waves: a replica at %v mm, want %v or more", f.Count, f.Replica(test.wavelength), test.width)
		}
		if f.Count--; f.Replica(test.wavelength) >= test.width {
			t.Errorf("%d waves are enough for %v mm", f.Count, test.width)
		}
	}
}

// TestFanCount: a published set, with f-number 1.75 over an array of 38.1 mm at a wavelength of
// 0.296 mm, has L/(F·λ) = 73.55 steps between its waves, and 75 waves were used.
func TestFanCount(t *testing.T) {
	const fNumber, wavelength, width = 1.75, 0.296, 38.1
	alpha := math.Asin(1 / (2 * fNumber))
	f := check.Must(NewFan(-alpha, alpha, wavelength, width))
	if f.Count != 75 {
		t.Errorf("%d waves, want 75", f.Count)
	}
	check.Printed(t, "exact angle of the f-number in degrees", math.Atan(1/(2*fNumber))/degree, "15.9454")
}

// TestFanWidth compares with the closed form 1.206709·λ/(2·sin α), and with the sum of many waves.
func TestFanWidth(t *testing.T) {
	for _, test := range []struct {
		alpha float64
		want  string // wavelengths
	}{{15, "2.331183"}, {30, "1.206709"}, {45, "0.853272"}} {
		f := Fan{From: -test.alpha * degree, To: test.alpha * degree, Count: 20001}
		check.Printed(t, "width in wavelengths", f.Width(1), test.want)
		sum := 0.0
		for _, d := range check.Must(f.Directions(1, 1)) {
			sum += math.Cos(2 * math.Pi * d.X * f.Width(1) / 2)
		}
		check.Within(t, "sum of all waves half a width from the focus", sum/float64(f.Count), 0.5, 1e-4)
	}
}

// TestCompleteFan: as many waves as elements, whose sines are wavelength/(n·pitch) apart, hold the
// information of the full matrix. At the frequency of the wavelength the waves are the discrete
// Fourier transform of the elements. Their matrix times its conjugate transpose is N times the unit
// matrix, so that energies are kept and the condition number is 1.
func TestCompleteFan(t *testing.T) {
	const n, pitch, speed, frequency = 16, 0.6e-3, 5920.0, 5e6
	array := linear(n)
	for i := range array.Elements {
		array.Elements[i] = r3.Vec{X: pitch * float64(i)}
	}
	angle := math.Asin((n - 1) / 2.0 * speed / frequency / (n * pitch))
	f := Fan{From: -angle, To: angle, Count: n}
	check.Within(t, "step", f.Step(), speed/frequency/(n*pitch), 1e-12)
	waves := check.Must(PlaneWaves(array, speed, check.Must(f.Directions(speed, speed))))
	for i := range n {
		for k := range n {
			sum := 0i
			for _, w := range waves {
				sum += cmplx.Rect(1, 2*math.Pi*frequency*(w.Delays[i]-w.Delays[k]))
			}
			want := 0.0
			if i == k {
				want = n
			}
			// Each wave has a constant of its own in its delays, which cancels in this product.
			check.Within(t, "product of the matrix and its transpose", cmplx.Abs(sum), want, 1e-9)
		}
	}
}

// TestFanRefracts: behind the surface the waves have the angles of the fan, by Snell's law.
func TestFanRefracts(t *testing.T) {
	const part, coupling = 3240.0, 2330.0
	f := Fan{From: 40 * degree, To: 70 * degree, Count: 7}
	directions := check.Must(f.Directions(part, coupling))
	for i, d := range directions {
		check.Within(t, "length", r3.Norm(d), 1, 1e-15)
		sin := math.Sin(40*degree) + float64(i)/6*(math.Sin(70*degree)-math.Sin(40*degree))
		check.Within(t, "sine in the part", d.X*part/coupling, sin, 1e-12)
	}
	one := check.Must(Fan{From: 0.1, To: 0.1, Count: 1}.Directions(part, part))
	check.Within(t, "angle of a single wave", math.Atan2(one[0].X, one[0].Z), 0.1, 1e-15)
	if f := check.Must(NewFan(0.1, 0.1, 1e-3, 20e-3)); f.Count != 1 || !math.IsInf(f.Replica(1), 1) || !math.IsInf(f.Width(1), 1) {
		t.Errorf("fan of one angle: %+v", f)
	}
}

func TestFanRefuses(t *testing.T) {
	_, err := Fan{From: -1, To: 1, Count: 3}.Directions(1000, 3000)
	check.Error(t, err, "transmit: wave 0", "-1 to 1")
	for _, f := range []Fan{{}, {To: 1, Count: 1}, {From: 1, To: 1, Count: 2}, {From: 1, To: 0.5, Count: 3},
		{From: -2, Count: 3}, {From: nan, To: 1, Count: 3}, {To: 2, Count: 3}, {To: 1, Count: most + 1}} {
		_, err := f.Directions(1000, 1000)
		check.Error(t, err, "transmit: fan ")
	}
	for _, bad := range []float64{0, -1, nan, inf} {
		_, err := Fan{Count: 1}.Directions(bad, 1000)
		check.Error(t, err, "speeds above 0")
		_, err = Fan{Count: 1}.Directions(1000, bad)
		check.Error(t, err, "speeds above 0")
		_, err = NewFan(0, 1, bad, 1)
		check.Error(t, err, "finite values above 0")
		_, err = NewFan(0, 1, 1, bad)
		check.Error(t, err, "finite values above 0")
	}
	_, err = NewFan(1, 0, 1e-3, 1)
	check.Error(t, err, "ascending")
	_, err = NewFan(-1, 1, 1e-9, 1)
	check.Error(t, err, "want at most 65536")
}

// TestVirtualSource compares with delays that were computed beforehand from the distances, for 8
// elements 0.6 mm apart, at 5920 m/s, and a source 10 mm behind the array. Delays are in µs, less
// the earliest of them.
func TestVirtualSource(t *testing.T) {
	array := check.Must(fmc.LinearArray(8, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	for _, test := range []struct {
		name string
		x    float64
		want []float64
	}{
		{"behind the middle", 0, []float64{.03684479, .01889767, .00682742, .00075996, .00075996, .00682742, .01889767, .03684479}},
		{"3 mm to the side", 3e-3, []float64{.20016880, .15632395, .11709017, .08277260, .05366053, .03001737, .01207025, 0}},
	} {
		got := check.Must(Diverging(array, 5920, []r3.Vec{{X: test.x, Z: -10e-3}}))[0].Delays
		least := test.want[7]
		for _, w := range test.want {
			least = min(least, w)
		}
		for i, w := range test.want {
			check.Within(t, test.name, got[i]*1e6, w-least, 1.1e-8)
		}
	}
	// A source far behind the array makes the plane wave of the angle with tan β = -x/F.
	const far = 1e4
	tan := 0.3
	got := check.Must(Diverging(array, 5920, []r3.Vec{{X: -tan * far, Z: -far}}))[0].Delays
	want := check.Must(PlaneWaves(array, 5920, []r3.Vec{{X: tan, Z: 1}}))[0].Delays
	for i := range want {
		check.Within(t, "delay of a far source", got[i], want[i], 1e-12)
	}
}

// TestCodeGain compares the noise of matrices that are decoded from noise alone with the closed
// forms 10·log10 N for codes of +1 and -1, and 20·log10((N+1)/(2·√N)) for S-sequences of +1 and 0
// (M. Harwit and N. J. A. Sloane, Hadamard Transform Optics (1979), cited from memory).
func TestCodeGain(t *testing.T) {
	full := check.Must(Hadamard(16))
	var sequence []fmc.Event // the rows of a Hadamard matrix without the first row and column, -1 as 1 and 1 as 0
	for _, row := range full[1:] {
		e := silent(15)
		for i := range e.Weights {
			e.Weights[i] = (1 - row.Weights[i+1]*row.Weights[0]*full[0].Weights[0]*full[0].Weights[i+1]) / 2
		}
		sequence = append(sequence, e)
	}
	for _, test := range []struct {
		name   string
		events []fmc.Event
		want   float64 // dB
	}{
		{"Hadamard, 16", full, 12.041},
		{"S-sequence, 15", sequence, 6.30089},
	} {
		n := len(test.events)
		c := check.Must(fmc.New(fmc.Capture{Array: linear(n), Events: test.events, Pairs: fmc.EventPairs(n, n), Samples: 256, SampleRate: 50e6}))
		c.Array.CentreFrequency, c.Array.Bandwidth = 12.5e6, 0.6
		rng := rand.New(rand.NewPCG(7, 8))
		for i := range c.Data {
			c.Data[i] = float32(rng.NormFloat64())
		}
		back, _, err := Decode(context.Background(), c, &DecodeOptions{Low: 1, High: 25e6, Damping: 1e-6})
		if err != nil {
			t.Fatal(err)
		}
		power := 0.0
		for _, v := range back.Data {
			power += float64(v) * float64(v) / float64(len(back.Data))
		}
		check.Within(t, test.name+": gain in dB", -10*math.Log10(power), test.want, 0.1)
	}
}
