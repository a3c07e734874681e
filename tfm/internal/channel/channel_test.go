// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package channel

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"golang.org/x/sys/cpu"

	"github.com/isochron-imaging/isochron/internal/guard"
)

// buffers are the arguments of the functions.
type buffers struct {
	re, im, phase []float32
	dst           [4][]float32
}

// random returns n samples of noise on a carrier, at about 10 samples a period, some of them 0.
func random(rng *rand.Rand, n int) buffers {
	b := buffers{re: make([]float32, n), im: make([]float32, n), phase: make([]float32, n)}
	for k := range n {
		v := cmplx.Rect(1+0.3*rng.NormFloat64(), 0.6*float64(k)+0.3*rng.NormFloat64())
		if rng.IntN(20) == 0 {
			v = 0
		}
		b.re[k], b.im[k] = float32(real(v)), float32(imag(v))
	}
	for i := range b.dst {
		b.dst[i] = make([]float32, n)
		for k := range n {
			b.dst[i][k] = float32(rng.NormFloat64())
		}
	}
	return b
}

func (b buffers) guarded(m *guard.Memory) buffers {
	c := buffers{re: guard.Copy(m, "re", b.re), im: guard.Copy(m, "im", b.im), phase: guard.Copy(m, "phase", b.phase)}
	for i := range b.dst {
		c.dst[i] = guard.Copy(m, "dst", b.dst[i])
	}
	return c
}

// functions are the exported functions, with the function in assembly of each.
var functions = []struct {
	name, assembly string
	run            func(b buffers)
}{
	{"AddPower", "addPower", func(b buffers) { AddPower(b.dst[0], b.re, b.im, 2) }},
	{"AddSign", "addSign", func(b buffers) { AddSign(b.dst[0], b.re, 2) }},
	{"AddUnit", "addUnit", func(b buffers) { AddUnit(b.dst[0], b.dst[1], b.re, b.im, 2) }},
	{"Phases", "phases", func(b buffers) { Phases(b.dst[0], b.re, b.im) }},
	{"AddMoments", "addMoments", func(b buffers) {
		AddMoments(Moments{Phase: b.dst[0], Square: b.dst[1]}, b.phase, b.re, b.im, 2)
	}},
	{"AddMoments of the auxiliary phase", "addMoments", func(b buffers) {
		AddMoments(Moments{b.dst[0], b.dst[1], b.dst[2], b.dst[3]}, b.phase, b.re, b.im, 2)
	}},
}

// TestForms compares assembly with plain Go, for every short length, between unreadable pages.
func TestForms(t *testing.T) {
	if !available {
		t.Skip("no assembly; TestDispatch tells if that is wrong")
	}
	defer func() { fast = available }()
	for _, side := range guard.Sides {
		m := guard.New(t, side)
		rng := rand.New(rand.NewPCG(3, 3))
		for n := range 100 {
			in := random(rng, n)
			Phases(in.phase, in.re, in.im)
			for _, f := range functions {
				fast = false
				m.Reset()
				want := in.guarded(m)
				f.run(want)
				fast = true
				got := in.guarded(m)
				if err := m.Run(func() { f.run(got) }); err != nil {
					t.Fatalf("%s of %d samples, guard %s: %v", f.name, n, side, err)
				}
				for i := range got.dst {
					for k, v := range got.dst[i] {
						if w := want.dst[i][k]; !(math.Abs(float64(v-w)) <= 1e-5) {
							t.Fatalf("%s of %d samples: sum %d of sample %d is %v, in plain Go %v", f.name, n, i, k, v, w)
						}
					}
				}
			}
		}
	}
}

// TestPhaseCoherences compares assembly with plain Go, for every short length, between unreadable
// pages, and the bits where the definition is exact.
func TestPhaseCoherences(t *testing.T) {
	defer func() { fast = available }()
	sums := func(rng *rand.Rand, n int) []complex64 {
		s := make([]complex64, n)
		for i := range s {
			s[i] = complex(float32(8*rng.NormFloat64()), float32(40*rng.Float64()))
		}
		return s
	}
	for _, side := range guard.Sides {
		m := guard.New(t, side)
		rng := rand.New(rand.NewPCG(4, 4))
		for n := 1; n < 40; n++ {
			moments, auxiliary := sums(rng, n), sums(rng, n)
			for _, auxiliary := range [][]complex64{nil, auxiliary} {
				want, got := make([]float32, n), make([]float32, n)
				fast = false
				PhaseCoherences(want, moments, auxiliary, 1./16, 0.4)
				fast = available
				m.Reset()
				dst, first, second := guard.Copy(m, "dst", got), guard.Copy(m, "moments", moments), auxiliary
				if auxiliary != nil {
					second = guard.Copy(m, "auxiliary", auxiliary)
				}
				if err := m.Run(func() { PhaseCoherences(dst, first, second, 1./16, 0.4) }); err != nil {
					t.Fatalf("%d pixels, guard %s: %v", n, side, err)
				}
				for p, w := range want {
					if !(math.Abs(float64(dst[p]-w)) <= 1e-6) {
						t.Fatalf("%d pixels: %v at pixel %d, in plain Go %v", n, dst[p], p, w)
					}
				}
			}
		}
	}
	// Eight channels of the phase π, of which each half has one sign: φ has the standard deviation π,
	// the auxiliary phase has 0.
	moments, auxiliary := slices.Repeat([]complex64{complex(0, 8*math.Pi*math.Pi)}, 9), slices.Repeat([]complex64{complex(0, 8*math.Pi)}, 9)
	for _, test := range []struct {
		name      string
		auxiliary []complex64
		want      float32
	}{{"phase", nil, 0}, {"auxiliary phase", auxiliary, 1}} {
		got := make([]float32, 9)
		PhaseCoherences(got, moments, test.auxiliary, 1./8, math.Sqrt(3)/math.Pi)
		for _, v := range got {
			if !(math.Abs(float64(v-test.want)) <= 1e-3) {
				t.Errorf("%s: coherence %v, want %v", test.name, v, test.want)
			}
		}
	}
}

// TestDispatch fails where the processor could run a function in assembly and plain Go runs.
func TestDispatch(t *testing.T) {
	if !guard.Pages {
		t.Skip("this system has no unreadable pages")
	}
	avx512 := guard.Assembly && runtime.GOARCH == "amd64" && cpu.X86.HasAVX512F && cpu.X86.HasAVX512DQ
	if avx512 != available {
		t.Fatalf("assembly: %v, want %v", available, avx512)
	}
	if !avx512 {
		return
	}
	const n = 1000
	for _, f := range functions {
		b := random(rand.New(rand.NewPCG(3, 4)), n)
		for i := range b.dst {
			b.dst[i] = guard.Unreadable[float32](t, n)
		}
		if got, want := guard.Toucher(func() { f.run(b) }), "channel."+f.assembly; got != want {
			t.Errorf("%s: %q touched the samples, want %q", f.name, got, want)
		}
	}
	dst := guard.Unreadable[float32](t, n)
	if got, want := guard.Toucher(func() { PhaseCoherences(dst, make([]complex64, n), nil, 1, 1) }), "channel.phaseCoherences"; got != want {
		t.Errorf("phase coherences: %q touched the pixels, want %q", got, want)
	}
}

// TestMeans checks that the mean of each interpolated function over the interval between two samples
// is the mean of the function of the interpolated channel, for a tone. A tone has the
// same c in all intervals, except at kinks.
func TestMeans(t *testing.T) {
	for _, perPeriod := range []float64{5, 8, 10, 16} {
		const n = 400
		b := buffers{re: make([]float32, n), im: make([]float32, n), phase: make([]float32, n)}
		for k := range n {
			v := cmplx.Rect(1.5, 2*math.Pi*float64(k)/perPeriod+0.37)
			b.re[k], b.im[k] = float32(real(v)), float32(imag(v))
		}
		Phases(b.phase, b.re, b.im)
		traces := make([][]float32, 5)
		for i := range traces {
			traces[i] = make([]float32, n)
		}
		AddPower(traces[0], b.re, b.im, 1)
		AddUnit(traces[3], traces[4], b.re, b.im, 1)
		AddMoments(Moments{make([]float32, n), traces[1], make([]float32, n), traces[2]}, b.phase, b.re, b.im, 1)
		functions := []struct {
			name   string
			of     func(v complex128) float64
			within float64
		}{
			{"power", func(v complex128) float64 { return real(v)*real(v) + imag(v)*imag(v) }, 2e-4},
			{"φ²", func(v complex128) float64 { return cmplx.Phase(v) * cmplx.Phase(v) }, 0.02},
			{"|φ|", func(v complex128) float64 { return math.Abs(cmplx.Phase(v)) }, 0.01},
		}
		for i, f := range functions {
			got, want := 0.0, 0.0
			for k := 10; k+1 < n-10; k++ {
				got += float64(traces[i][k]+traces[i][k+1]) / 2
				a, c := complex(float64(b.re[k]), float64(b.im[k])), complex(float64(b.re[k+1]), float64(b.im[k+1]))
				const steps = 50
				for j := range steps {
					share := complex((float64(j)+0.5)/steps, 0)
					want += f.of((1-share)*a+share*c) / steps
				}
			}
			if d := math.Abs(got-want) / want; !(d <= f.within) {
				t.Errorf("%v samples a period: mean of %s off by %.4f, want %v", perPeriod, f.name, d, f.within)
			}
		}
		// The mean modulus of the interpolated exp(iφ), turned to the phase of the channel, is 1.
		sum, count := 0.0, 0.0
		for k := 10; k+1 < n-10; k++ {
			a := complex(float64(traces[3][k]), float64(traces[4][k]))
			c := complex(float64(traces[3][k+1]), float64(traces[4][k+1]))
			for j := range 50 {
				share := complex((float64(j)+0.5)/50, 0)
				s := (1-share)*complex(float64(b.re[k]), float64(b.im[k])) + share*complex(float64(b.re[k+1]), float64(b.im[k+1]))
				sum += real(((1-share)*a + share*c) * cmplx.Conj(s) / complex(cmplx.Abs(s), 0))
				count++
			}
		}
		if got := sum / count; !(math.Abs(got-1) <= 0.006) {
			t.Errorf("%v samples a period: mean of exp(iφ) along the phase of the channel is %.4f, want 1", perPeriod, got)
		}
	}
}

// TestEndsOfRange takes samples with squares beyond the range of a float32, samples of one and of two,
// and phases on the axes.
func TestEndsOfRange(t *testing.T) {
	for _, test := range []struct {
		re, im, phase float32
	}{
		{1, 0, 0}, {0, 1, math.Pi / 2}, {-1, 0, math.Pi}, {0, -1, -math.Pi / 2}, {1, 1, math.Pi / 4}, {-2, -2, -3 * math.Pi / 4},
		{0, 0, 0}, {1e-30, -1e-30, 0}, {3, -4, float32(math.Atan2(-4, 3))}, {1e15, 2e15, float32(math.Atan2(2, 1))},
	} {
		for _, n := range []int{1, 2, 40} {
			re, im, phase := make([]float32, n), make([]float32, n), make([]float32, n)
			for k := range n {
				re[k], im[k] = test.re, test.im
			}
			Phases(phase, re, im)
			x, y := make([]float32, n), make([]float32, n)
			AddUnit(x, y, re, im, 1)
			square := make([]float32, n)
			AddMoments(Moments{Phase: make([]float32, n), Square: square}, phase, re, im, 1)
			for k := range n {
				if !(math.Abs(float64(phase[k]-test.phase)) <= 1e-6) {
					t.Errorf("phase of (%v, %v) is %v, want %v", test.re, test.im, phase[k], test.phase)
				}
				modulus, want := math.Hypot(float64(x[k]), float64(y[k])), 1.0
				wantSquare := float64(test.phase) * float64(test.phase)
				if max(abs(test.re), abs(test.im)) < 1e-19 {
					want, wantSquare = 0, math.Pi*math.Pi/3
				}
				if !(math.Abs(modulus-want) <= 1e-6) || !(math.Abs(float64(square[k])-wantSquare) <= 1e-5) {
					t.Errorf("(%v, %v): modulus %v of exp(iφ), want %v; φ² %v, want %v", test.re, test.im, modulus, want, square[k], wantSquare)
				}
			}
		}
	}
}
