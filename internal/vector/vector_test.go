// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package vector

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"
	"unsafe"

	"golang.org/x/sys/cpu"

	"github.com/isochron-imaging/isochron/internal/guard"
)

// eachForm runs a test with each form that this processor can run, plain Go included.
func eachForm(t *testing.T, test func(t *testing.T)) {
	t.Helper()
	selected := best
	defer func() { best = selected }()
	for _, best = range append(available(), assembly{name: "plain"}) {
		t.Run(best.name, test)
	}
}

// buffers are the arguments of the operations. Each operation takes some of them.
type buffers struct {
	dst, im, src []float32
	x            []float32 // of a convolution
	ints, other  []int16
	low, high    []uint8 // of integers
	taps         []float32
	complexTaps  []complex64
}

// operations run each function, and say what element k of its result must be.
var operations = []struct {
	name      string // of the function in assembly
	run       func(b *buffers)
	result    func(b *buffers) []float64
	want      func(b *buffers, k int) float64
	tolerance float64
}{
	{"shift", func(b *buffers) { Shift(b.dst, 0.75) }, dst,
		func(b *buffers, k int) float64 { return float64(b.dst[k]) + 0.75 }, 1e-6},
	{"setInt16", func(b *buffers) { SetInt16(b.dst, b.ints, 1e-4, 0.75) }, dst,
		func(b *buffers, k int) float64 { return 1e-4*float64(b.ints[k]) + 0.75 }, 1e-6},
	{"multiply", func(b *buffers) { Multiply(b.dst, b.src) }, dst,
		func(b *buffers, k int) float64 { return float64(b.dst[k]) * float64(b.src[k]) }, 1e-5},
	{"addInt16", func(b *buffers) { AddInt16(b.dst, b.ints, 1e-4) }, dst,
		func(b *buffers, k int) float64 { return float64(b.dst[k]) + 1e-4*float64(b.ints[k]) }, 1e-5},
	{"addFloat32", func(b *buffers) { AddFloat32(b.dst, b.src, -1.7) }, dst,
		func(b *buffers, k int) float64 { return float64(b.dst[k]) - 1.7*float64(b.src[k]) }, 1e-5},
	{"pack", func(b *buffers) { Pack(b.ints, b.src, 6000) }, ints,
		func(b *buffers, k int) float64 { return math.RoundToEven(float64(b.src[k] * 6000)) }, 0},
	{"scale", func(b *buffers) { Scale(b.ints, 0.375) }, ints,
		func(b *buffers, k int) float64 { return math.RoundToEven(float64(b.ints[k]) * 0.375) }, 0},
	{"packBytes", func(b *buffers) { PackBytes(b.low, b.high, b.src, 6000) }, bytes,
		func(b *buffers, k int) float64 { return math.RoundToEven(float64(b.src[k] * 6000)) }, 0},
	{"scaleBytes", func(b *buffers) { ScaleBytes(b.low, b.high, 0.375) }, bytes,
		func(b *buffers, k int) float64 { return math.RoundToEven(bytes(b)[k] * 0.375) }, 0},
	{"extend", func(b *buffers) { Extend(b.dst, b.im, b.src) }, dst,
		func(b *buffers, k int) float64 { return float64(min(b.dst[k], b.src[k])) }, 0},
	{"extend", func(b *buffers) { Extend(b.im, b.dst, b.src) }, dst,
		func(b *buffers, k int) float64 { return float64(max(b.dst[k], b.src[k])) }, 0},
	{"convolve", func(b *buffers) { Convolve(b.dst, b.x, b.taps) }, dst,
		func(b *buffers, k int) float64 {
			return convolution(b, k, func(j int) float32 { return b.taps[j] })
		}, 1e-5},
	{"convolveComplex", func(b *buffers) { ConvolveComplex(b.dst, b.im, b.x, b.complexTaps) }, dst,
		func(b *buffers, k int) float64 {
			return convolution(b, k, func(j int) float32 { return real(b.complexTaps[j]) })
		}, 1e-5},
	{"convolveComplex", func(b *buffers) { ConvolveComplex(b.im, b.dst, b.x, b.complexTaps) }, dst,
		func(b *buffers, k int) float64 {
			return convolution(b, k, func(j int) float32 { return imag(b.complexTaps[j]) })
		}, 1e-5},
	{"sum", func(b *buffers) { number = Sum(b.src) }, one,
		func(b *buffers, _ int) (sum float64) {
			for _, v := range b.src {
				sum += float64(v)
			}
			return sum
		}, 1e-10},
	{"load", func(b *buffers) { Load(b.dst, b.src, -1.7) }, dst,
		func(b *buffers, k int) float64 { return -1.7 * float64(b.src[k]) }, 1e-6},
	{"load", func(b *buffers) {
		sum, peak := Load(b.dst, b.src, 0.5)
		number = sum - Sum(b.dst) + float64(peak-Peak(b.dst))
	}, one, func(*buffers, int) float64 { return 0 }, 1e-10},
	{"load", func(b *buffers) { number, _ = Load(b.dst, b.dst, 1) }, one,
		func(b *buffers, _ int) (sum float64) {
			for _, v := range b.dst {
				sum += float64(v)
			}
			return sum
		}, 1e-10},
	{"sumInt16", func(b *buffers) { number = float64(SumInt16(b.ints)) }, one,
		func(b *buffers, _ int) (sum float64) {
			for _, v := range b.ints {
				sum += float64(v)
			}
			return sum
		}, 0},
	{"rangeInt16", func(b *buffers) { least, most := RangeInt16(b.ints); pair = [2]int16{least, most} }, both,
		func(b *buffers, k int) float64 {
			if len(b.ints) == 0 {
				return 0
			}
			return float64([]int16{slices.Min(b.ints), slices.Max(b.ints)}[k])
		}, 0},
	{"combine", func(b *buffers) { Combine(b.ints, b.ints, b.other, 3, -700, 1234, false) }, ints,
		func(b *buffers, k int) float64 { return float64(3*b.ints[k] - 700*b.other[k] + 1234) }, 0},
	{"combine", func(b *buffers) { Combine(b.ints, b.other, b.ints, -1, 1, -5, true) }, ints,
		func(b *buffers, k int) float64 { return math.Floor(float64(b.ints[k]-b.other[k]-5) / 2) }, 0},
	{"peak", func(b *buffers) { number = float64(Peak(b.src)) }, one,
		func(b *buffers, _ int) (peak float64) {
			for _, v := range b.src {
				peak = max(peak, math.Abs(float64(v)))
			}
			return peak
		}, 0},
}

// number and pair are the results of operations that return one number or two.
var (
	number float64
	pair   [2]int16
)

func one(*buffers) []float64    { return []float64{number} }
func both(*buffers) []float64   { return float64s(pair[:]) }
func dst(b *buffers) []float64  { return float64s(b.dst) }
func ints(b *buffers) []float64 { return float64s(b.ints) }

func bytes(b *buffers) (out []float64) {
	for k, v := range b.low {
		out = append(out, float64(int16(b.high[k])<<8|int16(v)))
	}
	return out
}

func float64s[T int16 | float32](s []T) (out []float64) {
	for _, v := range s {
		out = append(out, float64(v))
	}
	return out
}

// convolution returns Σ_j x[k+j]·tap(j) in float64.
func convolution(b *buffers, k int, tap func(j int) float32) (sum float64) {
	for j := range len(b.taps) {
		sum += float64(tap(j)) * float64(b.x[k+j])
	}
	return sum
}

func random(r *rand.Rand, n int) []float32 {
	s := make([]float32, n)
	for i := range s {
		s[i] = float32(r.NormFloat64())
	}
	return s
}

// anyBuffers returns random buffers for n elements and the given number of taps.
func anyBuffers(r *rand.Rand, n, taps int) *buffers {
	b := &buffers{
		dst: random(r, n), im: random(r, n), src: random(r, n),
		x: random(r, n+taps-1), taps: random(r, taps),
	}
	for range n {
		b.ints, b.other = append(b.ints, int16(r.Uint32())), append(b.other, int16(r.Uint32()))
		b.low, b.high = append(b.low, uint8(r.Uint32())), append(b.high, uint8(r.Uint32()))
	}
	for range taps {
		tap := complex(float32(r.NormFloat64()), float32(r.NormFloat64()))
		b.complexTaps = append(b.complexTaps, tap)
	}
	return b
}

// guarded returns a copy of b between unreadable pages.
func (b *buffers) guarded(m *guard.Memory) *buffers {
	return &buffers{
		dst:         guard.Copy(m, "dst", b.dst),
		im:          guard.Copy(m, "im", b.im),
		src:         guard.Copy(m, "src", b.src),
		x:           guard.Copy(m, "x", b.x),
		ints:        guard.Copy(m, "ints", b.ints),
		other:       guard.Copy(m, "other", b.other),
		low:         guard.Copy(m, "low", b.low),
		high:        guard.Copy(m, "high", b.high),
		taps:        guard.Copy(m, "taps", b.taps),
		complexTaps: guard.Copy(m, "complex taps", b.complexTaps),
	}
}

// TestForms compares each operation in each form with a loop in float64. It takes every short
// length, and gives each buffer between unreadable pages.
func TestForms(t *testing.T) {
	eachForm(t, func(t *testing.T) {
		for _, side := range guard.Sides {
			m := guard.New(t, side)
			r := rand.New(rand.NewPCG(1, 2))
			for n := range 300 {
				if testing.Short() && n > 70 && n%7 > 0 {
					continue
				}
				in := anyBuffers(r, n, 1+n%37)
				for _, op := range operations {
					m.Reset()
					b := in.guarded(m)
					if err := m.Run(func() { op.run(b) }); err != nil {
						t.Fatalf("%s of %d elements, guard %s: %v", op.name, n, side, err)
					}
					for k, got := range op.result(b) {
						if want := op.want(in, k); !(math.Abs(got-want) <= op.tolerance) {
							t.Fatalf("%s of %d elements: element %d: got %v, want %v",
								op.name, n, k, got, want)
						}
					}
				}
			}
		}
	})
}

// expected returns the name of the form that this build must select on this processor.
func expected() string {
	switch {
	case !guard.Assembly:
	case runtime.GOARCH == "arm64":
		return "NEON"
	case runtime.GOARCH != "amd64":
	case cpu.X86.HasAVX512F && cpu.X86.HasAVX512BW && cpu.X86.HasAVX512DQ:
		return "AVX512"
	case cpu.X86.HasAVX2 && cpu.X86.HasFMA:
		return "AVX2"
	}
	return ""
}

// TestDispatch checks which function does the last whole vector of long buffers: in those the last
// vector is unreadable.
func TestDispatch(t *testing.T) {
	if best.name != expected() {
		t.Fatalf("form %q, want %q", best.name, expected())
	}
	if !guard.Pages || best.lanes == 0 {
		t.Skip("no unreadable pages, or no assembly")
	}
	m, n := guard.New(t, guard.Behind), 32*best.lanes
	b := anyBuffers(rand.New(rand.NewPCG(1, 4)), n-best.lanes, 1).guarded(m)
	b.dst, b.im, b.src = extended(b.dst, n), extended(b.im, n), extended(b.src, n)
	b.x, b.ints, b.other = extended(b.x, n), extended(b.ints, n), extended(b.other, n)
	b.low, b.high = extended(b.low, n), extended(b.high, n)
	for _, op := range operations {
		want := "vector." + op.name + best.name
		switch op.name + best.name { // without a form in assembly
		case "packBytesNEON":
			want = "vector.PackBytes"
		case "scaleBytesNEON":
			want = "vector.ScaleBytes"
		case "extendNEON":
			want = "vector.Extend"
		case "loadNEON": // sum and addFloat32 have rows
			continue
		case "rangeInt16NEON":
			want = "vector.RangeInt16"
		case "combineNEON":
			want = "vector.Combine"
		}
		if got := guard.Toucher(func() { op.run(b) }); got != want {
			t.Errorf("%q touched the last vector, want %q", got, want)
		}
	}
}

// extended returns n elements from the first of s on.
func extended[T any](s []T, n int) []T { return unsafe.Slice(&s[0], n) }

// TestNotFinite checks that a sum and a peak are finite exactly if all samples are finite.
func TestNotFinite(t *testing.T) {
	finite := func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
	eachForm(t, func(t *testing.T) {
		for _, n := range []int{1, 31, 32, 33, 100, 257} {
			src := slices.Repeat([]float32{math.MaxFloat32}, n)
			if sum, peak := Sum(src), float64(Peak(src)); !finite(sum) || !finite(peak) {
				t.Errorf("sum %v and peak %v of %d largest samples", sum, peak, n)
			}
			for k := range n {
				for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
					src[k] = float32(bad)
					if sum, peak := Sum(src), float64(Peak(src)); finite(sum) || finite(peak) {
						t.Errorf("sum %v and peak %v with %v at %d of %d", sum, peak, bad, k, n)
					}
					if sum, peak := Load(src, src, 1); finite(sum) || finite(float64(peak)) {
						t.Errorf("loaded sum %v and peak %v with %v at %d of %d", sum, peak, bad, k, n)
					}
					src[k] = math.MaxFloat32
				}
			}
		}
	})
}

// TestExtendNaN checks that NaN changes neither bound, and that equal numbers keep their signs.
func TestExtendNaN(t *testing.T) {
	negative := float32(math.Copysign(0, -1))
	eachForm(t, func(t *testing.T) {
		for n := range 70 {
			least, most, src := make([]float32, n), make([]float32, n), make([]float32, n)
			for i := range src {
				src[i] = []float32{float32(math.NaN()), negative}[i%2]
			}
			Extend(least, most, src)
			for i := range src {
				if math.Float32bits(least[i]) != 0 || math.Float32bits(most[i]) != 0 {
					t.Fatalf("element %d of %d: %v and %v, want 0", i, n, least[i], most[i])
				}
			}
		}
	})
}

// BenchmarkForms takes rows of 2,048 samples and 87 taps.
func BenchmarkForms(b *testing.B) {
	in := anyBuffers(rand.New(rand.NewPCG(1, 3)), 2048, 87)
	clear(in.src) // products with src stay normal numbers
	selected := best
	defer func() { best = selected }()
	for i, op := range operations {
		if i > 0 && operations[i-1].name == op.name {
			continue
		}
		for _, best = range append(available(), assembly{name: "plain"}) {
			b.Run("op="+op.name+"/form="+best.name, func(b *testing.B) {
				for b.Loop() {
					op.run(in)
				}
			})
		}
	}
}
