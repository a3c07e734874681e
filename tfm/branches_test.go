// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge"
)

// manyRays returns invented branches: the rays of a table, and later rays with other amplitudes. A
// third of the later rays is missing.
func manyRays(rng *rand.Rand, t *wedge.Times, count int) *wedge.Branches {
	out := new(wedge.Branches)
	for k := range count {
		table := *t
		table.MadeFor.Path = k
		table.Seconds = slices.Clone(t.Seconds)
		amplitudes := make([]complex64, len(t.Seconds))
		for i := range table.Seconds {
			if table.Seconds[i] += float32(k) * 0.3e-6; k > 0 && rng.IntN(3) == 0 {
				table.Seconds[i] = float32(math.NaN())
				continue
			}
			amplitudes[i] = complex(float32(rng.NormFloat64()), float32(rng.NormFloat64()))
		}
		out.Times, out.Amplitudes = append(out.Times, &table), append(out.Amplitudes, amplitudes)
	}
	return out
}

// branchCase returns a small capture with random samples, its grid and two lists of branches.
func branchCase(pairs []fmc.Pair) (*fmc.Capture, Grid, *wedge.Branches, *wedge.Branches) {
	rng := rand.New(rand.NewPCG(7, 14))
	c := randomCapture(5, 5, 400, pairs)
	g := check.Must(NewSection(-4e-3, 4e-3, 4e-3, 9e-3, 1e-3))
	tx, rx := tables(plate(), "L-T", c, g)
	return c, g, manyRays(rng, tx, 2), manyRays(rng, rx, 3)
}

// branchLoop is the formula of BranchPlan, written out, with the samples between two samples by a
// cubic through four of them.
func branchLoop(c *fmc.Capture, g Grid, tx, rx *wedge.Branches, o Options) []complex128 {
	a := check.Must(NewAnalytic(c.Samples, c.SampleRate, o.band(c)))
	out := make([]complex128, g.Len())
	for pixel := range out {
		var energy, squares float64
		add := func(i, j int, signal []complex64, weight float64) {
			squares += weight * weight
			for k, t := range tx.Times {
				for l, u := range rx.Times {
					m, n := i*g.Len()+pixel, j*g.Len()+pixel
					time := float64(t.Seconds[m]) + float64(u.Seconds[n])
					if math.IsNaN(time) {
						continue
					}
					w := complex128(tx.Amplitudes[k][m]) * complex128(rx.Amplitudes[l][n]) * complex(weight, 0)
					energy += real(w)*real(w) + imag(w)*imag(w)
					at := (time - c.FirstSample) * c.SampleRate
					if at < 1 || at >= float64(c.Samples-2) {
						continue
					}
					var v complex128
					for x := int(at) - 1; x <= int(at)+2; x++ { // Lagrange's formula
						f := 1.0
						for y := int(at) - 1; y <= int(at)+2; y++ {
							if y != x {
								f *= (at - float64(y)) / float64(x-y)
							}
						}
						v += complex128(signal[x]) * complex(f, 0)
					}
					out[pixel] += w * v
				}
			}
		}
		for p, pair := range c.Pairs {
			signal := make([]complex64, c.Samples)
			if err := a.Transform(signal, c.Trace(p)); err != nil {
				panic(err)
			}
			weight := 1.0
			if o.Weights != nil {
				weight = float64(o.Weights[p])
			}
			add(pair.Tx, pair.Rx, signal, weight)
			if c.Layout() == fmc.Half && pair.Tx != pair.Rx {
				add(pair.Rx, pair.Tx, signal, weight)
			}
		}
		if energy > 0 {
			out[pixel] *= complex(math.Sqrt(squares/energy), 0)
		}
	}
	return out
}

func TestBranchPlanAgainstLoop(t *testing.T) {
	ctx := context.Background()
	for _, tc := range []struct {
		name   string
		pairs  []fmc.Pair
		shared bool
	}{
		{"full matrix, two paths", fmc.FullPairs(5), false},
		{"full matrix, one path", fmc.FullPairs(5), true},
		{"half matrix, two paths", fmc.HalfPairs(5), false},
		{"half matrix, one path", fmc.HalfPairs(5), true},
		{"list of pairs", []fmc.Pair{{Tx: 1, Rx: 0}, {Tx: 2, Rx: 4}, {Tx: 4, Rx: 2}}, false},
	} {
		c, g, tx, rx := branchCase(tc.pairs)
		if tc.shared {
			rx = tx
		}
		o := Options{Weights: make([]float32, len(tc.pairs)), Workers: 1}
		for i := range o.Weights {
			o.Weights[i] = float32(i%3) / 2
		}
		want := branchLoop(c, g, tx, rx, o)
		plan := check.Must(NewBranchPlan(c, g, tx, rx, &o))
		got := check.Must(plan.Image(ctx, c))
		wantImage(t, got.Data, want, 1e-5)
		o.Workers = 3
		again := check.Must(check.Must(NewBranchPlan(c, g, tx, rx, &o)).Image(ctx, c))
		if !slices.Equal(got.Data, again.Data) {
			t.Errorf("%s: other bits for three workers", tc.name)
		}
		if t.Failed() {
			t.Fatal(tc.name)
		}
	}
}

// TestBranchPlanPlain checks that one ray of amplitude 1 gives the image of a plan.
func TestBranchPlanPlain(t *testing.T) {
	c, g, tx, _ := branchCase(fmc.FullPairs(5))
	// A tone of 40 samples a period, so that interpolation costs nothing.
	for i := range c.Data {
		c.Data[i] = float32(math.Sin(2 * math.Pi * float64(i%c.Samples) / 40))
	}
	one := &wedge.Branches{Times: tx.Times[:1], Amplitudes: [][]complex64{slices.Repeat([]complex64{1}, len(tx.Times[0].Seconds))}}
	o := &Options{Band: Band{Low: c.SampleRate / 100, High: c.SampleRate / 10}}
	want := check.Must(check.Must(NewPlan(c, g, tx.Times[0], tx.Times[0], o)).Image(context.Background(), c))
	got := check.Must(check.Must(NewBranchPlan(c, g, one, one, o)).Image(context.Background(), c))
	for i := range got.Data {
		if a, b := complex128(got.Data[i]), complex128(want.Data[i]); !(cmplx.Abs(a-b) <= 0.01*float64(len(c.Pairs))) {
			t.Errorf("pixel %d: %v, plan %v", i, a, b)
		}
	}
	if !slices.Equal(got.States, want.States) {
		t.Errorf("states %v, plan %v", got.States, want.States)
	}
}

// TestBranchPlanMatched checks that rays with phases add up: the capture holds the echoes of a point
// by all pairs of rays. The image at the point is the sum of all energies. With the conjugate
// amplitudes, which are wrong, it is far below.
func TestBranchPlanMatched(t *testing.T) {
	c, g, tx, _ := branchCase(fmc.FullPairs(5))
	const pixel = 13
	clear(c.Data)
	omega := 2 * math.Pi * c.Array.CentreFrequency
	width := 0.25e-6
	for p, pair := range c.Pairs {
		for k, t := range tx.Times {
			for l, u := range tx.Times {
				m, n := pair.Tx*g.Len()+pixel, pair.Rx*g.Len()+pixel
				delay := float64(t.Seconds[m]) + float64(u.Seconds[n])
				if math.IsNaN(delay) {
					continue
				}
				// The real part of A·exp(−iωt) at each moment.
				a := complex128(tx.Amplitudes[k][m]) * complex128(tx.Amplitudes[l][n])
				for i := range c.Samples {
					at := c.Time(i) - delay
					c.Data[p*c.Samples+i] += float32(math.Exp(-at*at/(2*width*width)) * real(a*cmplx.Exp(complex(0, -omega*at))))
				}
			}
		}
	}
	at := func(b *wedge.Branches) float64 {
		im := check.Must(check.Must(NewBranchPlan(c, g, b, b, nil)).Image(context.Background(), c))
		return cmplx.Abs(complex128(im.Data[pixel]))
	}
	wrong := &wedge.Branches{Times: tx.Times}
	for _, list := range tx.Amplitudes {
		conj := slices.Clone(list)
		for i, v := range conj {
			conj[i] = complex(real(v), -imag(v))
		}
		wrong.Amplitudes = append(wrong.Amplitudes, conj)
	}
	if right, other := at(tx), at(wrong); !(right > 1.5*other) {
		t.Errorf("level %v with the amplitudes, %v with their conjugates", right, other)
	}
}

// TestBranchPlanNoise checks that noise is equally strong at all pixels, whatever the amplitudes
// are: its mean power is the same in both halves of the image, whose amplitudes differ by 1000.
func TestBranchPlanNoise(t *testing.T) {
	c, g, tx, _ := branchCase(fmc.FullPairs(5))
	for _, list := range tx.Amplitudes {
		for i := range list {
			if i%g.Len() < g.Len()/2 {
				list[i] *= 1000
			}
		}
	}
	plan := check.Must(NewBranchPlan(c, g, tx, tx, nil))
	var power [2]float64
	for seed := range uint64(20) {
		noise := randomCapture(seed+100, 5, 400, c.Pairs)
		for i, v := range check.Must(plan.Image(context.Background(), noise)).Data[:g.Len()/2*2] {
			power[i*2/(g.Len()/2*2)] += real(complex128(v) * cmplx.Conj(complex128(v)))
		}
	}
	if ratio := power[0] / power[1]; !(ratio > 0.7 && ratio < 1.4) {
		t.Errorf("noise power of the halves has the ratio %v, want 1", ratio)
	}
}

func TestBranchPlanErrors(t *testing.T) {
	c, g, tx, rx := branchCase(fmc.FullPairs(5))
	short := &wedge.Branches{Times: tx.Times, Amplitudes: [][]complex64{tx.Amplitudes[0], tx.Amplitudes[1][1:]}}
	other := *tx.Times[0]
	other.Points--
	for _, tc := range []struct {
		name   string
		tx, rx *wedge.Branches
		o      *Options
		words  string
	}{
		{"no branches", nil, rx, nil, "transmitting branches without tables"},
		{"no tables", tx, new(wedge.Branches), nil, "receiving branches without tables"},
		{"missing table", &wedge.Branches{Times: []*wedge.Times{nil}, Amplitudes: [][]complex64{nil}}, rx, nil, "table 0"},
		{"amplitudes of another size", short, rx, nil, "amplitudes"},
		{"table of another size", tx, &wedge.Branches{Times: []*wedge.Times{rx.Times[0], &other}, Amplitudes: rx.Amplitudes[:2]}, nil, "table 1 of the receiving"},
		{"a measure of coherence", tx, rx, &Options{Coherence: PhaseCoherence}, "Coherence"},
		{"search for clipping", tx, rx, &Options{FullScale: 1}, "FullScale"},
	} {
		_, err := NewBranchPlan(c, g, tc.tx, tc.rx, tc.o)
		t.Run(tc.name, func(t *testing.T) { check.Error(t, err, "tfm: ", tc.words) })
	}
	plan := check.Must(NewBranchPlan(c, g, tx, rx, nil))
	if _, err := plan.Image(context.Background(), randomCapture(1, 5, 399, c.Pairs)); err == nil {
		t.Error("no error for a frame of another length")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := plan.Image(ctx, c); err != context.Canceled {
		t.Errorf("error %v of a context that has ended", err)
	}
}
