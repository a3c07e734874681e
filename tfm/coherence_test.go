// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge"
)

// channels returns the channels of each pixel, in double precision: the weighted analytic signals
// of all pairs that count, interpolated at the times of the pixel. A half matrix is read as the
// full one that it stands for.
func channels(t testing.TB, c *fmc.Capture, g Grid, tx, rx *wedge.Times, o Options) [][]complex128 {
	t.Helper()
	a := check.Must(NewAnalytic(c.Samples, c.SampleRate, o.band(c)))
	all := make([][]complex128, g.Len())
	for i, pair := range c.Pairs {
		weight := 1.0
		if o.Weights != nil {
			weight = float64(o.Weights[i])
		}
		if weight == 0 {
			continue
		}
		x := make([]float64, c.Samples)
		for k, v := range c.Trace(i) {
			x[k] = float64(v)
		}
		signal := analyticOf(t, a, x)
		directions := []fmc.Pair{pair}
		if c.Layout() == fmc.Half && pair.Tx != pair.Rx {
			directions = append(directions, pair.Reciprocal())
		}
		for _, d := range directions {
			for p := range all {
				seconds := float64(tx.Seconds[d.Tx*tx.Points+p]) + float64(rx.Seconds[d.Rx*rx.Points+p])
				at := (seconds - c.FirstSample) * c.SampleRate
				if at >= 0 && at < float64(c.Samples-1) {
					k := int(at)
					f := complex(at-float64(k), 0)
					all[p] = append(all[p], complex(weight, 0)*((1-f)*signal[k]+f*signal[k+1]))
				}
			}
		}
	}
	return all
}

var measures = []Coherence{CoherenceFactor, SignCoherence, PhaseCoherence, AuxiliaryPhaseCoherence, VectorCoherence, CircularCoherence}

// TestCoherenceDefinitions compares with values that were computed independently, in double
// precision, from the definitions: R. Mallart and M. Fink, JASA 96 (1994) 3721 for the coherence
// factor; J. Camacho, M. Parrilla and C. Fritsch, IEEE TUFFC 56 (2009) 958 for signs and phases.
func TestCoherenceDefinitions(t *testing.T) {
	real := []complex128{3, -1, 2, 4, 0.5, -2, 1, 3}
	vectors := []complex128{1 + 0.2i, 0.8 - 0.3i, 0.9 + 0.5i, 1.1, -0.2 + 0.4i, 0.7 - 0.6i, 1.2 + 0.1i, 0.6 + 0.9i}
	for _, test := range []struct {
		name     string
		measure  Coherence
		channels []complex128
		gamma    float64
		want     float64
	}{
		{"real", CoherenceFactor, real, 1, 0.3114406779661},
		{"real", SignCoherence, real, 1, 0.1339745962156},
		{"complex", CoherenceFactor, vectors, 1, 0.6266212710765},
		{"complex", PhaseCoherence, vectors, 1, 0.5597121080686},
		{"complex, gamma 2", PhaseCoherence, vectors, 2, 0.1194242161373},
		{"the auxiliary phase has the higher deviation", AuxiliaryPhaseCoherence, vectors, 1, 0.5597121080686},
		{"complex", VectorCoherence, vectors, 1, 0.7309022410917},
		{"complex", CircularCoherence, vectors, 1, 0.3175178288284},
		// By hand.
		{"half of the channels 12 dB weaker: 2.5²/(4·2.125)", CoherenceFactor, []complex128{1, 1, 0.25, 0.25}, 1, 0.735294117647},
		{"half of the channels 12 dB weaker", VectorCoherence, []complex128{1, 1, 0.25, 0.25}, 1, 1},
		{"half of the channels 12 dB weaker", AuxiliaryPhaseCoherence, []complex128{1i, 1i, 0.25i, 0.25i}, 1, 1},
		{"opposite signs", SignCoherence, []complex128{2, -1}, 1, 0},
		{"one channel", CoherenceFactor, []complex128{3i}, 1, 1},
		{"phases of ±3, which wrap: σ is 3", PhaseCoherence, []complex128{cmplx.Rect(1, 3), cmplx.Rect(2, -3)}, 1, 0},
		{"the same: σ of the auxiliary phase is π - 3", AuxiliaryPhaseCoherence, []complex128{cmplx.Rect(1, 3), cmplx.Rect(2, -3)}, 1, 1 - (math.Pi-3)*math.Sqrt(3)/math.Pi},
		{"nothing", PhaseCoherence, make([]complex128, 9), 1, 0},
		{"nothing", AuxiliaryPhaseCoherence, make([]complex128, 9), 1, 0},
		{"nothing", CoherenceFactor, make([]complex128, 9), 1, 0},
		{"nothing", SignCoherence, make([]complex128, 9), 1, 0},
		{"no channels", VectorCoherence, nil, 1, 0},
	} {
		tolerance := 1e-12
		if test.want == 1 && test.measure == AuxiliaryPhaseCoherence {
			tolerance = 1e-7 // a deviation of 0 is the root of a difference that rounds to 1e-16
		}
		check.Within(t, test.measure.String()+", "+test.name, test.measure.Of(test.channels, test.gamma), test.want, tolerance)
	}
	// The standard deviations of both phases of the complex vector: by the definition with γ that
	// keeps the coherence above 0.
	const gamma = 0.1
	deviation := func(c []complex128) float64 {
		return (1 - PhaseCoherence.Of(c, gamma)) / gamma * sigma0
	}
	check.Within(t, "deviation of the phase", deviation(vectors), 0.7985938984652, 1e-12)
	turned := slices.Clone(vectors) // s·exp(-iπ·sign φ) has the auxiliary phase, but for rounding at ±π
	for i, v := range turned {
		turned[i] = cmplx.Rect(1, cmplx.Phase(v)-math.Pi*sign(cmplx.Phase(v)))
	}
	check.Within(t, "deviation of the auxiliary phase", deviation(turned), 2.2057480261530, 1e-12)
}

// statistics returns the mean and the standard deviation of a measure over trials of m channels.
func statistics(measure Coherence, trials, m int, fill func(*rand.Rand, []complex128)) (mean, deviation float64) {
	rng := rand.New(rand.NewPCG(uint64(m), uint64(measure)))
	sum, square := 0.0, 0.0
	channels := make([]complex128, m)
	for range trials {
		fill(rng, channels)
		v := measure.Of(channels, 1)
		sum += v
		square += v * v
	}
	n := float64(trials)
	mean = sum / n
	return mean, math.Sqrt(square/n - mean*mean)
}

// independent fills channels with independent values.
func independent(channel func(*rand.Rand) complex128) func(*rand.Rand, []complex128) {
	return func(rng *rand.Rand, channels []complex128) {
		for i := range channels {
			channels[i] = channel(rng)
		}
	}
}

func complexNoise(rng *rand.Rand) complex128 { return complex(rng.NormFloat64(), rng.NormFloat64()) }
func realNoise(rng *rand.Rand) complex128    { return complex(rng.NormFloat64(), 0) }

// signalIn returns a unit signal in complex noise of the given power ratio.
func signalIn(snr float64) func(*rand.Rand) complex128 {
	deviation := complex(math.Sqrt(1/(2*snr)), 0)
	return func(rng *rand.Rand) complex128 { return 1 + deviation*complexNoise(rng) }
}

// realSignal returns a signal in real noise of the standard deviation 1.
func realSignal(amplitude float64) func(*rand.Rand) complex128 {
	return func(rng *rand.Rand) complex128 { return complex(amplitude, 0) + realNoise(rng) }
}

// phaseError returns a unit signal with a Gaussian phase of a standard deviation in rad.
func phaseError(deviation float64) func(*rand.Rand) complex128 {
	return func(rng *rand.Rand) complex128 { return cmplx.Rect(1, deviation*rng.NormFloat64()) }
}

// TestCoherenceStatistics compares the measures of random channels with the theory of their means.
// The values are exact sums or integrals unless the row says Monte Carlo. Within five standard
// errors.
func TestCoherenceStatistics(t *testing.T) {
	trials := 4000
	if testing.Short() {
		trials = 1000
	}
	for _, test := range []struct {
		name    string
		measure Coherence
		m       int
		channel func(*rand.Rand) complex128
		mean    float64
		spread  float64 // standard deviation; 0 if unknown
	}{
		{"complex noise: beta distribution (1, M-1)", CoherenceFactor, 16, complexNoise, 1. / 16, 0.0587085273},
		{"complex noise: beta distribution (1, M-1)", CoherenceFactor, 64, complexNoise, 1. / 64, 0.0153827373},
		{"real noise: beta distribution (1/2, (M-1)/2)", CoherenceFactor, 16, realNoise, 1. / 16, 0.0806871522},
		{"real noise: beta distribution (1/2, (M-1)/2)", CoherenceFactor, 64, realNoise, 1. / 64, 0.0215890400},
		{"noise: binomial sum, half of 1/M", SignCoherence, 8, complexNoise, 0.0721720251953, 0},
		{"noise: binomial sum, half of 1/M", SignCoherence, 16, complexNoise, 0.0329386975608, 0.0478794040},
		{"noise: binomial sum, half of 1/M", SignCoherence, 64, complexNoise, 0.00790681882722, 0.0112303103},
		{"noise: binomial sum, half of 1/M", SignCoherence, 128, complexNoise, 0.00392947462284, 0},
		{"noise: half of 1/M, Monte Carlo", CircularCoherence, 16, complexNoise, 0.5156 / 16, 0},
		{"noise: half of 1/M", CircularCoherence, 64, complexNoise, 0.5036 / 64, 0},
		{"noise: √(π/4M)", VectorCoherence, 64, complexNoise, 0.110778, 0},
		{"noise: √(π/4M)", VectorCoherence, 4096, complexNoise, 0.0138473, 0},
		{"noise: Monte Carlo, 0.22/√M", PhaseCoherence, 64, complexNoise, 0.02758, 0},
		{"noise: Monte Carlo", PhaseCoherence, 16, complexNoise, 0.06896, 0},
		{"noise: Monte Carlo", PhaseCoherence, 32, complexNoise, 0.04269, 0},
		{"noise: Monte Carlo", PhaseCoherence, 128, complexNoise, 0.01836, 0},
		{"noise: Monte Carlo, 0.43/√M", AuxiliaryPhaseCoherence, 64, complexNoise, 0.05316, 0},
		{"noise: Monte Carlo", AuxiliaryPhaseCoherence, 16, complexNoise, 0.12680, 0},
		{"noise: Monte Carlo", AuxiliaryPhaseCoherence, 32, complexNoise, 0.08095, 0},
		{"noise: Monte Carlo", AuxiliaryPhaseCoherence, 128, complexNoise, 0.03564, 0},
		{"signals 0 dB above noise: Poisson sum", CoherenceFactor, 16, signalIn(1), 0.523813511420, 0},
		{"signals -10 dB above noise", CoherenceFactor, 16, signalIn(0.1), 0.143503545662, 0},
		{"signals 10 dB above noise", CoherenceFactor, 16, signalIn(10), 0.914328121046, 0},
		{"signals -10 dB above noise", CoherenceFactor, 64, signalIn(0.1), 0.103969935853, 0},
		{"signals 0 dB above noise", CoherenceFactor, 64, signalIn(1), 0.505882413240, 0},
		{"signals 10 dB above noise", CoherenceFactor, 64, signalIn(10), 0.910395520430, 0},
		{"phase error of 0.1 rad: exp(-σ²) + (1 - exp(-σ²))/M", CoherenceFactor, 64, phaseError(0.1), 0.990205305, 0},
		{"phase error of 0.5 rad", CoherenceFactor, 64, phaseError(0.5), 0.782257021, 0},
		{"phase error of 1 rad", CoherenceFactor, 64, phaseError(1), 0.377756325, 0},
		{"phase error of λ/14, Strehl ratio", CoherenceFactor, 4096, phaseError(2 * math.Pi / 14), 0.817568573, 0},
		{"phase error of λ/20, Strehl ratio", CoherenceFactor, 4096, phaseError(2 * math.Pi / 20), 0.906018056, 0},
		{"signals 0 dB above noise: E[cos φ], Bessel functions; R exceeds it by the noise", VectorCoherence, 4096, signalIn(1), 0.71027195, 0},
		{"signals -10 dB above noise", VectorCoherence, 4096, signalIn(0.1), 0.27341489, 0},
		{"signals 10 dB above noise", VectorCoherence, 4096, signalIn(10), 0.97390388, 0},
		{"signs of a signal of 0.5 in noise of 1: 1 - √(1 - erf(1/√8)²)", SignCoherence, 4096, realSignal(0.5), 0.0762205, 0},
		{"signs of a signal of 1 in noise of 1: 1 - √(1 - erf(1/√2)²)", SignCoherence, 4096, realSignal(1), 0.2692914, 0},
		{"signs of a signal of 2 in noise of 1", SignCoherence, 4096, realSignal(2), 0.7017882, 0},
		{"signs of a signal of 3 in noise of 1", SignCoherence, 4096, realSignal(3), 0.9265677, 0},
	} {
		n := trials
		if test.m > 1000 {
			n = 60
		}
		mean, spread := statistics(test.measure, n, test.m, independent(test.channel))
		limit := 5 * spread / math.Sqrt(float64(n))
		check.Within(t, test.measure.String()+", "+test.name, mean, test.mean, limit+0.0001)
		if test.spread != 0 {
			check.Within(t, "deviation, "+test.name, spread, test.spread, 0.08*test.spread)
		}
	}
}

// TestCoherenceQuantiles checks the shares of noise above the median and above the 99.9 % point of
// the beta distributions of the coherence factor, for 64 channels.
func TestCoherenceQuantiles(t *testing.T) {
	const m, trials = 64, 20000
	for _, test := range []struct {
		name         string
		channel      func(*rand.Rand) complex128
		median, rare float64
	}{
		{"complex noise", complexNoise, 0.0109420319, 0.103849498},
		{"real noise", realNoise, 0.0072522889, 0.159043652},
	} {
		rng := rand.New(rand.NewPCG(1, 64))
		channels := make([]complex128, m)
		above, far := 0.0, 0.0
		for range trials {
			var sum complex128
			power := 0.0
			for i := range channels {
				channels[i] = test.channel(rng)
				sum += channels[i]
				power += real(channels[i])*real(channels[i]) + imag(channels[i])*imag(channels[i])
			}
			v := CoherenceFactor.value(sum, sums{power: power / m}, m, 1)
			if v > test.median {
				above += 1. / trials
			}
			if v > test.rare {
				far += 1. / trials
			}
		}
		check.Within(t, test.name+": share above the median", above, 0.5, 0.018) // five standard deviations
		check.Within(t, test.name+": share above the 99.9 % point", far, 0.001, 0.0011)
	}
}

// TestWeakSignals checks what phases and signs make of signals far below the noise. The vector
// coherence exceeds its floor by √(M·s), the ratio of the plain sum, where s is the ratio of
// powers: 6.4 for 4,096 channels at -20 dB, less 0.25 % for the next term of E[cos φ]. Its floor
// limits the contrast to √(4M/π), 19.111 dB for 64 channels. Signs lose the factor 2/π in power,
// 1.961 dB, and 0.06 dB more at this amplitude.
func TestWeakSignals(t *testing.T) {
	const m, trials = 4096, 200
	floor, _ := statistics(VectorCoherence, 4000, 64, independent(complexNoise))
	check.Within(t, "contrast in dB", -20*math.Log10(floor), 19.111, 0.3)
	signal, _ := statistics(VectorCoherence, trials, m, independent(signalIn(0.01)))
	// The noise adds to the square of the mean resultant.
	check.Within(t, "signal over floor", math.Sqrt(signal*signal-1./m)/math.Sqrt(math.Pi/4/m), 6.384, 0.15)
	mean, _ := statistics(SignCoherence, trials, m, independent(realSignal(0.2)))
	square := 1 - (1-mean)*(1-mean) // m² of 1 - √(1 - m²), but for the spread
	loss := 10 * math.Log10((square-1./m)/0.04)
	check.Within(t, "loss of signs in dB", loss, -1.961-0.06, 0.25)
}

// TestCoherenceOfGrain checks channels of many small scatterers around the focus. Behind one
// transmitted beam neighbouring channels m apart have the correlation 1 - m/M (R. Mallart and M.
// Fink, JASA 90 (1991) 2718). In a full matrix of single scattering the channel ij depends on i + j
// alone. The ratios of means are closed forms; the means of the factor are from Monte Carlo,
// ±0.0004.
func TestCoherenceOfGrain(t *testing.T) {
	trials := 6000
	if testing.Short() {
		trials = 1500
	}
	const n = 16
	beam := func(rng *rand.Rand, channels []complex128) { // sums of as many neighbours as channels
		noise := make([]complex128, 2*len(channels))
		for i := range noise {
			noise[i] = complexNoise(rng)
		}
		for i := range channels {
			channels[i] = 0
			for _, v := range noise[i:][:len(channels)] {
				channels[i] += v
			}
		}
	}
	matrix := func(rng *rand.Rand, channels []complex128) {
		var scattered [2*n - 1]complex128
		for i := range scattered {
			scattered[i] = complexNoise(rng)
		}
		for i := range channels {
			channels[i] = scattered[i/n+i%n]
		}
	}
	for _, test := range []struct {
		name        string
		m           int
		fill        func(*rand.Rand, []complex128)
		ratio, mean float64
		spread      float64
	}{
		{"a beam, (2M² + 1)/(3M²)", n, beam, 0.667968750, 0.5700, 0.252},
		{"a matrix, (2N² + 1)/(3N³)", n * n, matrix, 0.041748047, 0.04138, 0.036},
	} {
		mean, _ := statistics(CoherenceFactor, trials, test.m, test.fill)
		check.Within(t, test.name+": mean of the factor", mean, test.mean, 0.0006+4*test.spread/math.Sqrt(float64(trials)))
		rng := rand.New(rand.NewPCG(16, 2))
		channels := make([]complex128, test.m)
		coherent, power := 0.0, 0.0
		for range trials {
			test.fill(rng, channels)
			var sum complex128
			for _, v := range channels {
				sum += v
				power += real(v)*real(v) + imag(v)*imag(v)
			}
			coherent += (real(sum)*real(sum) + imag(sum)*imag(sum)) / float64(test.m)
		}
		check.Within(t, test.name+": ratio of means", coherent/power/test.ratio, 1, 4*1.2/math.Sqrt(float64(trials)))
	}
}

// aperture64 returns the channels of a point that lies u beam widths λz/D off the pixel, of the
// full matrix of 64 elements or of one transmitter, in the narrowband paraxial model.
func aperture64(u float64, full bool) (channels []complex128) {
	const n = 64
	phase := func(i int) float64 { return 2 * math.Pi * u * (float64(i) - (n-1)/2.) / n }
	for i := range n {
		for j := range n {
			if full {
				channels = append(channels, cmplx.Rect(1, phase(i)+phase(j)))
			} else if i == 0 {
				channels = append(channels, cmplx.Rect(1, phase(j)))
			}
		}
	}
	return channels
}

// TestCoherenceOfPoint compares the measures of a point beside the pixel with closed forms.
func TestCoherenceOfPoint(t *testing.T) {
	sinc := func(u float64) float64 { return math.Sin(math.Pi*u) / (math.Pi * u) }
	for _, u := range []float64{0.1, 0.25, 0.4} {
		check.Within(t, "factor of the matrix, sinc⁴", CoherenceFactor.Of(aperture64(u, true), 1), math.Pow(sinc(u), 4), 4e-4)
		check.Within(t, "factor of an aperture, sinc²", CoherenceFactor.Of(aperture64(u, false), 1), math.Pow(sinc(u), 2), 4e-4)
		check.Within(t, "phase coherence of an aperture, 1 - |u|", PhaseCoherence.Of(aperture64(u, false), 1), 1-u, 2e-4)
		check.Within(t, "phase coherence of the matrix, 1 - √2·|u|", PhaseCoherence.Of(aperture64(u, true), 1), 1-math.Sqrt2*u, 2e-4)
	}
	check.Within(t, "phase coherence of the matrix, numeric", PhaseCoherence.Of(aperture64(0.25, true), 1), 0.646490, 1e-6)
	plain := func(u float64) float64 { return CoherenceFactor.Of(aperture64(u, false), 1) } // |Σ|/M of the matrix is sinc²
	for _, test := range []struct {
		name string
		of   func(u float64) float64
		want float64 // width at half of the peak
	}{
		{"plain, sinc²", plain, 0.885893},
		{"times factor", func(u float64) float64 { return plain(u) * CoherenceFactor.Of(aperture64(u, true), 1) }, 0.523876340},
		{"times root of factor", func(u float64) float64 { return plain(u) * math.Sqrt(CoherenceFactor.Of(aperture64(u, true), 1)) }, 0.637833397},
		{"times vector coherence, sinc⁴", func(u float64) float64 { return plain(u) * VectorCoherence.Of(aperture64(u, true), 1) }, 0.637833397},
		{"times circular coherence, sinc²·(1 - √(1 - sinc⁴))", func(u float64) float64 { return plain(u) * CircularCoherence.Of(aperture64(u, true), 1) }, 0.361947},
		{"times phase coherence", func(u float64) float64 { return plain(u) * PhaseCoherence.Of(aperture64(u, true), 1) }, 0.523565160},
		{"phase coherence alone", func(u float64) float64 { return PhaseCoherence.Of(aperture64(u, true), 1) }, 0.707107},
	} {
		low, high := 0.1, 0.49
		for high-low > 1e-5 {
			if middle := (low + high) / 2; test.of(middle) > 0.5 {
				low = middle
			} else {
				high = middle
			}
		}
		check.Within(t, "width, "+test.name, 2*low, test.want, 3e-4)
	}
}
