// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package vector

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"golang.org/x/sys/cpu"

	"github.com/isochron-imaging/isochron/internal/guard"
)

// The operations in every form of this build.
var forms = map[string]struct {
	sum      func(src []float32) float64
	shift    func(dst []float32, by float32)
	multiply func(dst, weights []float32)
	convolve func(dst, x, taps []float32)
}{
	"dispatched": {Sum, Shift, Multiply, Convolve},
	"plain":      {plainSum, plainShift, plainMultiply, plainConvolve},
}

func random(r *rand.Rand, n int) []float32 {
	s := make([]float32, n)
	for i := range s {
		s[i] = float32(r.NormFloat64())
	}
	return s
}

// TestForms compares each form with plain loops in float64, over every short length,
// between unreadable pages.
func TestForms(t *testing.T) {
	for _, side := range guard.Sides {
		m := guard.New(t, side)
		for name, form := range forms {
			r := rand.New(rand.NewPCG(1, 2))
			for n := range 300 {
				src, weights := random(r, n), random(r, n)
				taps := random(r, 1+n%37)
				x := random(r, n+len(taps)-1)
				run := func(what string, do func(dst []float32), want func(k int) float64) {
					t.Helper()
					m.Reset()
					dst := guard.Copy(m, "dst", src)
					if err := m.Run(func() { do(dst) }); err != nil {
						t.Fatalf("%s: %s of %d samples, guard %s: %v", name, what, n, side, err)
					}
					for k, v := range dst {
						if !(math.Abs(float64(v)-want(k)) <= 1e-5) {
							t.Fatalf("%s: %s of %d samples: sample %d: got %v, want %v", name, what, n, k, v, want(k))
						}
					}
				}
				run("sum", func(in []float32) {
					total := 0.0
					for _, v := range src {
						total += float64(v)
					}
					if got := form.sum(in); !(math.Abs(got-total) <= 1e-12*float64(n)) {
						t.Fatalf("%s: sum of %d samples: got %v, want %v", name, n, got, total)
					}
				}, func(k int) float64 { return float64(src[k]) })
				run("shift", func(dst []float32) {
					form.shift(dst, 0.75)
				}, func(k int) float64 { return float64(src[k]) + 0.75 })
				run("product", func(dst []float32) {
					form.multiply(dst, guard.Copy(m, "weights", weights))
				}, func(k int) float64 { return float64(src[k]) * float64(weights[k]) })
				run("convolution", func(dst []float32) {
					form.convolve(dst, guard.Copy(m, "x", x), guard.Copy(m, "taps", taps))
				}, func(k int) float64 {
					y := 0.0
					for j, h := range taps {
						y += float64(h) * float64(x[k+j])
					}
					return y
				})
			}
		}
	}
}

// TestLanes holds the sums of the lanes, which the assembly writes, between unreadable
// pages.
func TestLanes(t *testing.T) {
	if !Available {
		t.Skip("no assembly; TestDispatch tells if that is wrong")
	}
	src := slices.Repeat([]float32{1}, 64)
	for _, side := range guard.Sides {
		m := guard.New(t, side)
		lanes := guard.Copy(m, "lanes", make([][8]float64, 1))
		if err := m.Run(func() { sum(&src[0], 2, &lanes[0]) }); err != nil {
			t.Errorf("guard %s: %v", side, err)
		}
		if want := [8]float64{8, 8, 8, 8, 8, 8, 8, 8}; lanes[0] != want {
			t.Errorf("lanes %v, want %v", lanes[0], want)
		}
	}
}

// TestDispatch fails where the processor could do the operations in assembly and plain Go
// does them: it looks which function touches the samples.
func TestDispatch(t *testing.T) {
	if !guard.Pages {
		t.Skip("this system has no unreadable pages")
	}
	const n = 1000
	readable, unreadable := make([]float32, n), guard.Unreadable[float32](t, n)
	fast := guard.Assembly && runtime.GOARCH == "amd64" && cpu.X86.HasAVX512F
	for name, do := range map[string]func(){
		"vector.sum":      func() { Sum(unreadable) },
		"vector.shift":    func() { Shift(unreadable, 1) },
		"vector.multiply": func() { Multiply(unreadable, readable) },
		"vector.convolve": func() { Convolve(unreadable, readable, readable[:1]) },
	} {
		if got := guard.Toucher(do); got == "" || (got == name) != fast {
			t.Errorf("%s touched the samples; assembly in %s wanted: %v", got, name, fast)
		}
	}
}

// A sum is finite exactly if all samples are.
func TestSumShowsWhatIsNotFinite(t *testing.T) {
	for name, form := range forms {
		for _, n := range []int{1, 31, 32, 33, 100, 257} {
			src := slices.Repeat([]float32{math.MaxFloat32}, n)
			if got := form.sum(src); math.IsInf(got, 0) || math.IsNaN(got) {
				t.Errorf("%s: sum of %d largest samples: %v", name, n, got)
			}
			for k := range n {
				for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
					src[k] = float32(bad)
					if got := form.sum(src); !math.IsInf(got, 0) && !math.IsNaN(got) {
						t.Errorf("%s: sum with %v: %v", name, bad, got)
					}
					src[k] = math.MaxFloat32
				}
			}
		}
	}
}

func BenchmarkConvolve(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 3))
	dst, x, taps := random(r, 2048), random(r, 2048+86), random(r, 87)
	for name, form := range forms {
		b.Run("form="+name, func(b *testing.B) {
			for b.Loop() {
				form.convolve(dst, x, taps)
			}
		})
	}
}
