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

// channels returns the channels of each pixel, in double precision: the weighted analytic signals of
// all pairs that count, interpolated at the times of the pixel. A half matrix is read as the full
// one that it stands for.
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
		check.Within(t, test.measure.String()+", "+test.name, test.measure.Of(test.channels, test.gamma), test.want, 1e-12)
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
func statistics(measure Coherence, trials, m int, channel func(*rand.Rand) complex128) (mean, deviation float64) {
	rng := rand.New(rand.NewPCG(uint64(m), uint64(measure)))
	sum, square := 0.0, 0.0
	channels := make([]complex128, m)
	for range trials {
		for i := range channels {
			channels[i] = channel(rng)
		}
		v := measure.Of(channels, 1)
		sum += v
		square += v * v
	}
	n := float64(trials)
	mean = sum / n
	return mean, math.Sqrt(square/n - mean*mean)
}

func complexNoise(rng *rand.Rand) complex128 { return complex(rng.NormFloat64(), rng.NormFloat64()) }
func realNoise(rng *rand.Rand) complex128    { return complex(rng.NormFloat64(), 0) }

// signalIn returns a unit signal in complex noise of the given power ratio.
func signalIn(snr float64) func(*rand.Rand) complex128 {
	deviation := complex(math.Sqrt(1/(2*snr)), 0)
	return func(rng *rand.Rand) complex128 { return 1 + deviation*complexNoise(rng) }
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
		{"noise: half of 1/M", CircularCoherence, 64, complexNoise, 0.5036 / 64, 0},
		{"noise: √(π/4M)", VectorCoherence, 64, complexNoise, 0.110778, 0},
		{"noise: Monte Carlo, 0.22/√M", PhaseCoherence, 64, complexNoise, 0.02758, 0},
		{"noise: Monte Carlo", PhaseCoherence, 16, complexNoise, 0.06896, 0},
		{"noise: Monte Carlo, 0.43/√M", AuxiliaryPhaseCoherence, 64, complexNoise, 0.05316, 0},
		{"noise: Monte Carlo", AuxiliaryPhaseCoherence, 16, complexNoise, 0.12680, 0},
		{"signals 0 dB above noise: Poisson sum", CoherenceFactor, 16, signalIn(1), 0.523813511420, 0},
		{"signals -10 dB above noise", CoherenceFactor, 16, signalIn(0.1), 0.143503545662, 0},
		{"signals 10 dB above noise", CoherenceFactor, 64, signalIn(10), 0.910395520430, 0},
		{"unit signals with a phase error of 0.5 rad: exp(-σ²) + (1 - exp(-σ²))/M", CoherenceFactor, 64, func(rng *rand.Rand) complex128 {
			return cmplx.Rect(1, 0.5*rng.NormFloat64())
		}, 0.782257021, 0},
		{"signals 0 dB above noise: E[cos φ], Bessel functions; R exceeds it by the noise", VectorCoherence, 4096, signalIn(1), 0.71027195, 0},
		{"signs of a signal of 1 in noise of 1: 1 - √(1 - erf(1/√2)²)", SignCoherence, 4096, func(rng *rand.Rand) complex128 {
			return 1 + realNoise(rng)
		}, 0.2692914, 0},
	} {
		n := trials
		if test.m > 1000 {
			n = 60
		}
		mean, spread := statistics(test.measure, n, test.m, test.channel)
		limit := 5 * spread / math.Sqrt(float64(n))
		check.Within(t, test.measure.String()+", "+test.name, mean, test.mean, limit+0.0001)
		if test.spread != 0 {
			check.Within(t, "deviation, "+test.name, spread, test.spread, 0.08*test.spread)
		}
	}
}

// aperture64 returns the channels of a point that lies u beam widths λz/D off the pixel, of the full
// matrix of 64 elements or of one transmitter, in the narrowband paraxial model.
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
