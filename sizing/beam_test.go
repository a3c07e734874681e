// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
)

// beams are the beams of width 1 by their names.
func beams() map[string]sizing.Beam {
	return map[string]sizing.Beam{
		"gauss": check.Must(sizing.GaussianBeam(1)),
		"sinc²": check.Must(sizing.SincBeam(1)),
		"measured": check.Must(sizing.NewBeam(
			sample(4001, -2, 1e-3, lateral["gauss"]), 1e-3)),
	}
}

// The offsets were computed independently of this package: for the Gaussian in closed form, for
// sinc² by quadrature with 30 digits.
func TestEdgeOffsets(t *testing.T) {
	for _, test := range []struct {
		drop        float64
		gauss, sinc string
	}{
		{3, "-0.232457", "-0.247259"},
		{10, "0.203104", "0.215853"},
		{12, "0.284843", "0.303621"},
		{14, "0.358123", "0.383561"},
		{20, "0.544225", "0.603740"},
	} {
		for name, b := range beams() {
			want, tolerance := test.gauss, 0.6e-6
			switch name {
			case "sinc²":
				want = test.sinc
			case "measured": // linear between samples
				tolerance = 3e-6
			}
			from, to := b.Edge(test.drop)
			what := fmt.Sprintf("%s, %v dB", name, test.drop)
			check.Within(t, what+", first end", from, number(t, want), tolerance)
			check.Within(t, what+", second end", to, number(t, want), tolerance)
		}
	}
}

// Each even profile gives exactly half of the plateau at the end of a long strip: why the drop is
// 6 dB.
func TestEdgeAtHalf(t *testing.T) {
	for name, b := range beams() {
		from, to := b.Edge(sizing.SixDB)
		check.Within(t, name+", first end", from, 0, 1e-12)
		check.Within(t, name+", second end", to, 0, 1e-12)
	}
}

// The lengths were computed independently: the convolution of strip and profile with 30 digits.
func TestMeasuredLengths(t *testing.T) {
	for _, test := range []struct {
		length      float64
		gauss, sinc string
	}{
		{0, "1", "1"},
		{0.25, "1.0145279", "1.0107706"},
		{0.5, "1.0591154", "1.0446588"},
		{0.75, "1.1364040", "1.1066855"},
		{1, "1.2493707", "1.2058777"},
		{2, "2.0197258", "2.0527753"},
		{3, "3.0004386", "3.0550635"},
		{5, "5.0000000", "5.0289216"},
		{10, "10.0000000", "10.0135530"},
	} {
		all := beams()
		what := fmt.Sprintf("length %v", test.length)
		check.Within(t, what+", Gaussian", all["gauss"].Measured(test.length, sizing.SixDB), number(t, test.gauss), 6e-8)
		// The table is of half of the middle of the strip. The peak of a long strip of sinc² lies
		// beside the middle, by the ripple of its side lobes.
		drop := sizing.SixDB + overMiddle(test.length)
		check.Within(t, what+", sinc²", all["sinc²"].Measured(test.length, drop), number(t, test.sinc), 5e-7)
		check.Within(t, what+", measured", all["measured"].Measured(test.length, sizing.SixDB), number(t, test.gauss), 1e-5)
	}
}

// overMiddle returns the level in dB of the peak of a strip of sinc² over its middle.
func overMiddle(length float64) float64 {
	if length == 0 {
		return 0
	}
	f := strip(lateral["sinc²"], length)
	peak := 0.0
	for x := 0.0; x < length/2; x += 1e-3 {
		peak = max(peak, f(x))
	}
	return sizing.LevelDB(peak, f(0))
}

// TestMeasuredIsDrop compares the model with Drop on the integral of the profile by quadrature.
func TestMeasuredIsDrop(t *testing.T) {
	skewed := func(x float64) float64 { // steep on one side
		if x < 0 {
			return math.Exp2(-9 * x * x)
		}
		return math.Exp2(-3 * x * x)
	}
	profiles := map[string]struct {
		f func(float64) float64
		b sizing.Beam
	}{
		"gauss":  {lateral["gauss"], beams()["gauss"]},
		"sinc²":  {lateral["sinc²"], beams()["sinc²"]},
		"skewed": {skewed, check.Must(sizing.NewBeam(sample(3001, -3, 2e-3, skewed), 2e-3))},
	}
	for name, p := range profiles {
		for _, length := range []float64{0, 0.3, 0.9, 2.5, 9} {
			for _, drop := range []float64{3, sizing.SixDB, 14, 20} {
				const spacing = 8e-3
				half := length/2 + 3
				echo := sample(2*int(half/spacing)+1, -half, spacing, strip(p.f, length))
				e, err := sizing.Drop(echo, spacing, drop)
				if err != nil {
					t.Fatal(err)
				}
				check.Within(t, fmt.Sprintf("%s, strip of %v at %v dB", name, length, drop),
					p.b.Measured(length, drop), e.Length(), 3e-4)
			}
		}
	}
}

// With the profile's own edges a skewed beam places each end of a long strip where it is.
func TestEdgeOfSkewedBeam(t *testing.T) {
	f := func(x float64) float64 { return math.Exp2(-4 * x * x / (1 + 0.5*math.Tanh(x))) }
	b := check.Must(sizing.NewBeam(sample(5001, -2.5, 1e-3, f), 1e-3))
	const from, to, spacing = -3, 4, 8e-3
	sums := sample(2001, -8, spacing, func(x float64) float64 { return 0 })
	for i := range sums {
		x := -8 + float64(i)*spacing
		for u := float64(from); u < to; u += 8e-3 {
			sums[i] += f(x - u - 4e-3)
		}
	}
	for _, drop := range []float64{4, sizing.SixDB, 12, 20} {
		e := check.Must(sizing.Drop(sums, spacing, drop))
		before, behind := b.Edge(drop)
		check.Within(t, fmt.Sprintf("first end at %v dB", drop), e.From-8+before, from, 1e-3)
		check.Within(t, fmt.Sprintf("second end at %v dB", drop), e.To-8-behind, to, 1e-3)
	}
}

// From two widths on a strip is nearly a long one: the bounds of the documentation of Edge.
func TestLongStrip(t *testing.T) {
	all := beams()
	for name, most := range map[string]float64{"gauss": 0.04, "sinc²": 0.12} {
		for _, length := range []float64{2, 2.3, 2.6, 3, 4, 7, 30} {
			for _, drop := range []float64{3, sizing.SixDB, 12, 20} {
				from, to := all[name].Edge(drop)
				check.Within(t, fmt.Sprintf("%s of %v at %v dB", name, length, drop),
					all[name].Measured(length, drop)-length-from-to, 0, most)
			}
		}
	}
}

func TestPointWidth(t *testing.T) {
	for name, b := range beams() {
		from, to := b.Point(sizing.SixDB)
		check.Within(t, name, from+to, 1, 3e-6)
	}
	// The edges of a sinc² at 20 dB lie where sin(πu)/(πu) is at -10 dB: u 0.738026434624 (computed
	// with 30 digits).
	from, to := beams()["sinc²"].Point(20)
	check.Within(t, "sinc² at 20 dB", (from+to)*0.442946470689, 0.738026434624, 1e-11)
}

// The standard deviations of one end of a long strip: the noise divided by the slope at the end of
// the strip, which is 0.939437/w for a Gaussian and D/(λz) = 0.885893/w for sinc² of the width w
// (derived). Positions rounded to a step have the standard deviation step/√12.
func TestEdgeSD(t *testing.T) {
	all, inf := beams(), math.Inf(1)
	for _, test := range []struct {
		name            string
		beam            string
		snr, step, want float64
	}{
		{"Gaussian", "gauss", 10, 0, 1 / (0.939437 * 10)},
		{"sinc²", "sinc²", 10, 0, 1 / (0.885892941 * 10)},
		{"step alone", "sinc²", inf, 0.2, 0.288675 * 0.2},
		{"both", "gauss", 20, 0.1, math.Hypot(1/(0.939437*20), 0.0288675)},
	} {
		from, to := all[test.beam].EdgeSD(inf, sizing.SixDB, test.snr, test.step)
		check.Within(t, test.name+", first end", from, test.want, 1e-6*test.want)
		check.Within(t, test.name+", second end", to, test.want, 1e-6*test.want)
		from, to = all[test.beam].EdgeSD(12, sizing.SixDB, test.snr, test.step)
		check.Within(t, test.name+", 12 widths", math.Hypot(from, to), math.Sqrt2*test.want, 3e-2*test.want) // 2 % by the ripple of sinc²
	}
}

// TestEdgeSDOfNoise compares with the scatter of crossings under seeded noise. The noise is
// smooth over the spacing of samples, as noise after a filter is.
func TestEdgeSDOfNoise(t *testing.T) {
	const snr, spacing, trials = 60, 0.02, 250
	for name, b := range map[string]sizing.Beam{"gauss": beams()["gauss"], "sinc²": beams()["sinc²"]} {
		for _, length := range []float64{0, 1, 3} {
			rng := rand.New(rand.NewPCG(8, uint64(100*length)))
			var sum, square float64
			for range trials {
				values, peak := noisyStrip(rng, name, length, spacing, snr)
				e := check.Must(sizing.Drop(values, spacing, sizing.SixDB))
				// The level of the model is exact, so take the crossing at half of the true peak.
				e = check.Must(sizing.Drop(values, spacing, sizing.LevelDB(e.Amplitude, peak)+sizing.SixDB))
				sum += e.Length()
				square += e.Length() * e.Length()
			}
			mean := sum / trials
			from, to := b.EdgeSD(length, sizing.SixDB, snr, 0)
			got := math.Sqrt(square/trials - mean*mean)
			check.Within(t, fmt.Sprintf("%s of %v: ratio of standard deviations", name, length), got/math.Hypot(from, to), 1, 0.15)
			check.Within(t, fmt.Sprintf("%s of %v: mean length", name, length), mean, b.Measured(length, sizing.SixDB), 0.01)
		}
	}
}

// A rough face of many points with random phases: the root of its mean power falls by 6 dB where
// the squared profile says with twice the drop. For a Gaussian this is 0.6745·w/(2·√(2·ln 2))/√2 =
// 0.2025·w outside, as a quarter of a normal distribution lies beyond 0.6745 standard deviations.
func TestRoughFace(t *testing.T) {
	squared := check.Must(sizing.GaussianBeam(1 / math.Sqrt2))
	from, to := squared.Edge(2 * sizing.SixDB)
	check.Within(t, "first end", from, 0.6744898/(4*math.Sqrt(math.Ln2)), 1e-7)
	check.Within(t, "second end", to, from, 1e-12)

	const spacing, points, trials, length = 0.05, 80, 300, 4.0
	power := make([]float64, int((length+4)/spacing))
	rng := rand.New(rand.NewPCG(77, 1))
	echo := lateral["gauss"]
	for range trials {
		phases := make([]complex128, points)
		for k := range phases {
			phases[k] = cmplx.Rect(1, 2*math.Pi*rng.Float64())
		}
		for i := range power {
			var sum complex128
			for k, phase := range phases {
				x := -2 + float64(i)*spacing - (float64(k)+0.5)/points*length
				if math.Abs(x) < 1.6 {
					sum += phase * complex(echo(x), 0)
				}
			}
			power[i] += real(sum)*real(sum) + imag(sum)*imag(sum)
		}
	}
	profile := make([]float64, len(power))
	for i, p := range power {
		profile[i] = math.Sqrt(p)
	}
	e := check.Must(sizing.Drop(profile, spacing, sizing.SixDB))
	check.Within(t, "mean length of a rough face", e.Length(), squared.Measured(length, 2*sizing.SixDB), 0.08)
}

// noisyStrip returns the echo of a strip with noise, and its peak without noise.
func noisyStrip(rng *rand.Rand, name string, length, spacing, snr float64) (values []float64, peak float64) {
	f := lateral[name]
	n := int((length + 4) / spacing)
	values = sample(n, -2, spacing, func(x float64) float64 {
		const points = 30
		sum := 0.0
		for k := range points {
			sum += f(x - (float64(k)+0.5)/points*length)
		}
		return sum / points
	})
	for _, v := range values {
		peak = max(peak, v)
	}
	const smooth = 16
	white := make([]float64, n+smooth)
	for i := range white {
		white[i] = rng.NormFloat64()
	}
	for i := range values {
		sum := 0.0
		for _, v := range white[i : i+smooth] {
			sum += v
		}
		values[i] = math.Abs(values[i] + sum/math.Sqrt(smooth)*peak/snr)
	}
	return values, peak
}

func TestBeamInput(t *testing.T) {
	for _, width := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := sizing.GaussianBeam(width)
		check.Error(t, err, "width of the beam", fmt.Sprint(width), "above 0")
		_, err = sizing.SincBeam(width)
		check.Error(t, err, "width of the beam", fmt.Sprint(width), "above 0")
	}
	_, err := sizing.NewBeam([]float64{1, 0.9, 0.1}, 1)
	check.Error(t, err, "before it falls by 6 dB")
	_, err = sizing.NewBeam([]float64{0, math.NaN(), 0}, 1)
	check.Error(t, err, "amplitude NaN at sample 1")
	_, err = sizing.NewBeam(nil, 1)
	check.Error(t, err, "none above 0")

	gauss, zero := beams()["gauss"], sizing.Beam{}
	for name, value := range map[string]float64{
		"drop 0":          gauss.Measured(1, 0),
		"drop 61":         gauss.Measured(1, 61),
		"drop NaN":        gauss.Measured(1, math.NaN()),
		"length -1":       gauss.Measured(-1, 6),
		"length NaN":      gauss.Measured(math.NaN(), 6),
		"length 1001":     gauss.Measured(1001, 6),
		"zero beam":       zero.Measured(1, 6),
		"sinc² at 25 dB":  beams()["sinc²"].Measured(1, 25),
		"edge at 0":       first(gauss.Edge(0)),
		"point at -6":     first(gauss.Point(-6)),
		"snr 0":           first(gauss.EdgeSD(1, 6, 0, 0)),
		"step -1":         first(gauss.EdgeSD(1, 6, 10, -1)),
		"length of an SD": first(gauss.EdgeSD(-1, 6, 10, 0)),
	} {
		if !math.IsNaN(value) {
			t.Errorf("%s: %v, want NaN", name, value)
		}
	}
	short := check.Must(sizing.NewBeam([]float64{0.2, 0.6, 1, 0.6, 0.1}, 1))
	if from, to := short.Point(20); !math.IsNaN(from + to) {
		t.Errorf("beam whose ends are at 14 dB has an edge at 20 dB: %v, %v", from, to)
	}
}

func first(from, _ float64) float64 { return from }

func TestWithin(t *testing.T) {
	gauss := beams()["gauss"]
	// A point at 5: both ends of the flaw are there.
	const spacing = 1e-3
	point := sample(10001, -5, spacing, lateral["gauss"])
	e := check.Must(sizing.Drop(point, spacing, 20))
	from, to, err := gauss.Within(sizing.Extent{From: e.From - 1e-6, To: e.To + 1e-6}, 20)
	if err != nil {
		t.Fatal(err)
	}
	check.Within(t, "from", from, 5, 1e-5)
	check.Within(t, "to", to, 5, 1e-5)

	// A long strip: too short by the difference of point and edge, 0.91134 - 0.54423 at each end.
	// The first number is √(20/6.0206)/2, the second is in TestEdgeOffsets.
	long := gauss.Measured(8, 20)
	from, to, err = gauss.Within(sizing.Extent{From: 1, To: 1 + long}, 20)
	if err != nil {
		t.Fatal(err)
	}
	check.Within(t, "bias of a long strip", to-from-8, -2*(math.Sqrt(20/sizing.SixDB)/2-0.544225), 3e-6)

	_, _, err = gauss.Within(sizing.Extent{From: 1, To: 2}, 20)
	if !errors.Is(err, sizing.ErrUnresolved) {
		t.Errorf("extent narrower than the beam: error %v, want ErrUnresolved", err)
	}
	_, _, err = gauss.Within(sizing.Extent{From: 1, To: 4, OpenTo: true}, 20)
	check.Error(t, err, "cut by the end of its profile")
	_, _, err = gauss.Within(sizing.Extent{From: 1, To: 4}, 70)
	check.Error(t, err, "drop 70 dB", "60")
	_, _, err = sizing.Beam{}.Within(sizing.Extent{From: 1, To: 4}, 20)
	check.Error(t, err, "beam without a profile")
}

// number returns a printed number.
func number(t *testing.T, printed string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(printed, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
