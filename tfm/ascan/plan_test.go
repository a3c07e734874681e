// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestFocusIsPixel checks the identity between beams and total focusing: a law that is focused at a
// point in both directions, sampled at the time of the point, is the pixel of tfm at the point.
// With dynamic laws in both directions this holds for the whole A-scan.
func TestFocusIsPixel(t *testing.T) {
	for _, test := range []struct {
		name string
		beam Beam
		path []float64 // m
		legs int       // of the last sound path
	}{
		{"block16", Beam{Mode: material.L, Angle: 12 * degree}, []float64{5 * mm, 24 * mm, 37 * mm}, 1},
		{"block16", Beam{Mode: material.L, Elements: elements(4, 8)}, []float64{8 * mm, 23 * mm, 45 * mm}, 2},
		{"weld32", Beam{Mode: material.T, Angle: 55 * degree}, []float64{24 * mm, 40 * mm}, 2},
		{"pipe32", Beam{Mode: material.L, Angle: -15 * degree, Elements: elements(8, 20)}, []float64{6 * mm, 20 * mm}, 2},
	} {
		t.Run(fmt.Sprintf("%s %.0f°", test.name, test.beam.Angle/degree), func(t *testing.T) {
			if testing.Short() && test.name == "weld32" {
				t.Skip("long: a capture of 2100 samples, imaged twice")
			}
			record, setup := captured(t, test.name)
			c := record.Capture
			moving := test.beam
			moving.Transmit, moving.Receive = Focus{Dynamic: true}, Focus{Dynamic: true}
			line := traces(t, c, setup, moving)[0]
			peak := slices.Max(line.Envelope(nil))
			// The weights leave the other elements out of the pixel.
			options := &tfm.Options{Weights: make([]float32, len(c.Pairs)), Workers: 1}
			for i, p := range c.Pairs {
				if test.beam.Elements == nil || slices.Contains(test.beam.Elements, p.Tx) && slices.Contains(test.beam.Elements, p.Rx) {
					options.Weights[i] = 1
				}
			}
			last := 0
			for _, path := range test.path {
				k := int(line.sample(line.Line.Time(path)))
				s := line.SoundPath(c.Time(k))
				p, leg := line.Line.At(s)
				last = leg
				view := []string{"L-L", "LL-LL"}[leg-1]
				if test.beam.Mode == material.T {
					view = []string{"T-T", "TT-TT"}[leg-1]
				}
				grid := tfm.Grid{Origin: p, Step: r3.Vec{X: mm, Y: mm, Z: mm}, Cols: 1, Rows: 1, Slices: 1}
				plan := check.Must(tfm.PlanView(ctx, c, setup, view, grid, options))
				pixel := complex128(check.Must(plan.Image(ctx, c)).Data[0])

				still := test.beam
				still.Transmit, still.Receive = Focus{SoundPath: s}, Focus{SoundPath: s}
				fixed := traces(t, c, setup, still)[0]
				for what, got := range map[string]complex64{"focused": fixed.Analytic[k], "dynamic": line.Analytic[k]} {
					if !(cmplx.Abs(complex128(got)-pixel) <= 2e-5*peak) {
						t.Errorf("%s A-scan at %.1f mm on leg %d is %v, the pixel is %v", what, s/mm, leg, got, pixel)
					}
				}
			}
			if last != test.legs {
				t.Errorf("the last point is on leg %d, want %d", last, test.legs)
			}
		})
	}
}

// TestBruteForce compares A-scans with a plain sum in double precision, ray by ray, for a law with
// a fixed transmission and a dynamic reception, weights, and a half, full or listed matrix.
func TestBruteForce(t *testing.T) {
	record, setup := captured(t, "weld32")
	half := record.Capture
	full := check.Must(half.Full())
	listed := check.Must(half.Select(fmc.SparsePairs([]int{9, 14}, 32)))
	path := check.Must(setup.Path([]material.Mode{material.T}))
	beam := Beam{
		Mode: material.T, Angle: 50 * degree, Elements: elements(8, 10),
		Weights:  []float64{0.2, 0.5, 0.8, 1, 1, 1, 1, 0.8, 0.5, 0},
		Transmit: Focus{Depth: 12 * mm}, Receive: Focus{Dynamic: true},
	}
	for name, c := range map[string]*fmc.Capture{"half": half, "full": full, "listed": listed} {
		t.Run(name, func(t *testing.T) {
			trace := traces(t, c, setup, beam)[0]
			peak := slices.Max(trace.Envelope(nil))
			signals := make(map[fmc.Pair][]complex64)
			analytic := check.Must(tfm.NewAnalytic(c.Samples, c.SampleRate, trace.Band))
			for p, samples := range c.Traces() {
				signals[p] = make([]complex64, c.Samples)
				if err := analytic.Transform(signals[p], samples); err != nil {
					t.Fatal(err)
				}
			}
			line := trace.Line
			delay := func(e int, s float64) float64 {
				p := r3.Add(line.Exit, r3.Scale(s, r3.Vec{X: math.Sin(beam.Angle), Z: math.Cos(beam.Angle)}))
				ray := path.Solve(c.Array.Elements[e], p)
				return line.Delay + s/line.Speed - ray.Time
			}
			for k := 760; k < 1300; k += 37 {
				s := line.SoundPath(trace.Time(float64(k)))
				if !(s > 0 && s*math.Cos(beam.Angle) < record.Thickness) {
					t.Fatalf("sample %d is not on the first leg", k)
				}
				var want complex128
				for i, tx := range beam.Elements {
					for j, rx := range beam.Elements {
						signal, ok := signals[fmc.Pair{Tx: tx, Rx: rx}]
						if !ok && name == "half" {
							signal, ok = signals[fmc.Pair{Tx: rx, Rx: tx}]
						}
						if !ok {
							continue
						}
						time := trace.Time(float64(k)) - delay(tx, 12*mm/math.Cos(beam.Angle)) - delay(rx, s)
						at := trace.sample(time)
						n := math.Floor(at)
						a, b := complex128(signal[int(n)]), complex128(signal[int(n)+1])
						want += complex(beam.Weights[i]*beam.Weights[j], 0) * (a + complex(at-n, 0)*(b-a))
					}
				}
				if got := complex128(trace.Analytic[k]); !(cmplx.Abs(got-want) <= 2e-5*peak) {
					t.Errorf("sample %d is %v, want %v (peak %v)", k, got, want, peak)
				}
			}
		})
	}
}

// TestMatrixArray checks the identity of beams and pixels for elements beside the section, with
// random samples, and the equality of a half matrix with its full matrix.
func TestMatrixArray(t *testing.T) {
	like := fmc.Array{Width: 0.5 * mm, CentreFrequency: 5e6, Bandwidth: 0.6}
	array := check.Must(fmc.MatrixArray(5, 3, 0.6*mm, 0.7*mm, like))
	setup := check.Must(wedge.NewPlate(nil, steel, 20*mm))
	half := empty(array, fmc.HalfPairs(15))
	random := rand.New(rand.NewPCG(3, 4))
	for i := range half.Data {
		half.Data[i] = float32(random.NormFloat64())
	}
	still := Beam{Angle: 20 * degree, Mode: material.L, Transmit: Focus{SoundPath: 15 * mm}, Receive: Focus{SoundPath: 15 * mm}}
	moving := still
	moving.Receive = Focus{Dynamic: true}
	got := traces(t, half, setup, still, moving)
	full := traces(t, check.Must(half.Full()), setup, still, moving)
	peak := slices.Max(got[0].Envelope(nil))
	for i := range got {
		for k, v := range got[i].Analytic {
			if w := full[i].Analytic[k]; !(cmplx.Abs(complex128(v-w)) <= 1e-6*peak) {
				t.Fatalf("beam %d, sample %d: %v from the half matrix, %v from the full matrix", i, k, v, w)
			}
		}
	}
	// The focus lies between two samples: a record that starts later puts it on a sample.
	line := got[0].Line
	at := got[0].sample(line.Time(15 * mm))
	half.FirstSample = (at - math.Floor(at)) / half.SampleRate
	trace := traces(t, half, setup, still)[0]
	k := int(math.Round(trace.sample(line.Time(15 * mm))))
	p, _ := line.At(15 * mm)
	grid := tfm.Grid{Origin: p, Step: r3.Vec{X: mm, Y: mm, Z: mm}, Cols: 1, Rows: 1, Slices: 1}
	plan := check.Must(tfm.PlanView(ctx, half, setup, "L-L", grid, nil))
	pixel := complex128(check.Must(plan.Image(ctx, half)).Data[0])
	if v := complex128(trace.Analytic[k]); !(cmplx.Abs(v-pixel) <= 2e-5*peak) {
		t.Errorf("focused A-scan is %v, the pixel is %v", v, pixel)
	}
}

// TestUnfocused compares unfocused laws with package transmit, whose plane waves do not know the
// part, and with the closed form x·sin β/c of an array in contact. A flat wedge refracts the plane
// wave to the angle of the beam.
func TestUnfocused(t *testing.T) {
	array := contactArray(16)
	contact := check.Must(wedge.NewPlate(nil, steel, 20*mm))
	beam := Beam{Mode: material.T, Angle: -40 * degree, Elements: elements(2, 9)}
	plan := check.Must(NewPlan(ctx, empty(array, fmc.FullPairs(16)), contact, []Beam{beam}, nil))
	sent, received := plan.Delays(0)
	for i, d := range sent {
		check.Within(t, "contact", d, (float64(i)-4)*0.6*mm*math.Sin(-40*degree)/steel.Transverse, 1e-15)
	}
	if diff := cmp.Diff(sent, received); diff != "" {
		t.Error(diff)
	}

	turned := check.Must(array.Place(r3.NewRotation(36*degree, r3.Vec{Y: 1}), r3.Vec{X: -8 * mm, Z: -10 * mm}))
	plate := check.Must(wedge.NewPlate(&plastic, steel, 20*mm))
	beam = Beam{Mode: material.T, Angle: 62 * degree}
	plan = check.Must(NewPlan(ctx, empty(turned, fmc.FullPairs(16)), plate, []Beam{beam}, nil))
	sent, _ = plan.Delays(0)
	sin := plastic.Longitudinal / steel.Transverse * math.Sin(62*degree)
	waves := check.Must(transmit.PlaneWaves(turned, plastic.Longitudinal, []r3.Vec{{X: sin, Z: math.Sqrt(1 - sin*sin)}}))
	for i, d := range waves[0].Delays {
		check.Within(t, "wedge", sent[i]-sent[0], d-waves[0].Delays[0], 1e-13)
	}
}

// TestDynamicDelays checks that a dynamic law has no fixed delays, and a focused law is the focal
// law of package transmit.
func TestDynamicDelays(t *testing.T) {
	array := contactArray(16)
	contact := check.Must(wedge.NewPlate(nil, steel, 20*mm))
	beam := Beam{Mode: material.L, Transmit: Focus{SoundPath: 15 * mm}, Receive: Focus{Dynamic: true}}
	plan := check.Must(NewPlan(ctx, empty(array, fmc.FullPairs(16)), contact, []Beam{beam}, nil))
	sent, received := plan.Delays(0)
	if received != nil {
		t.Errorf("delays %v of a dynamic law, want none", received)
	}
	focal := check.Must(transmit.Focused(array, steel.Longitudinal, []r3.Vec{{Z: 15 * mm}}))
	for i, d := range focal[0].Delays {
		check.Within(t, "focused", sent[i]-sent[0], d-focal[0].Delays[0], 1e-12)
	}
}

// TestFocusOnWall checks laws that are focused exactly on the walls of a plate, where the leg of
// the focus is not unique. The unfolded axis is straight, so that the time of an element at x is
// hypot(s·sin β − x, s·cos β)/c.
func TestFocusOnWall(t *testing.T) {
	const thickness, angle = 7.3 * mm, 33 * degree
	array := contactArray(16)
	setup := check.Must(wedge.NewPlate(nil, steel, thickness))
	sin, cos := math.Sincos(angle)
	var beams []Beam
	for n := 1; n <= 6; n++ {
		beams = append(beams, Beam{Mode: material.T, Angle: angle, Transmit: Focus{SoundPath: float64(n) * thickness / cos}})
	}
	plan := check.Must(NewPlan(ctx, empty(array, fmc.HalfPairs(16)), setup, beams, nil))
	for i, b := range beams {
		s := b.Transmit.SoundPath
		sent, _ := plan.Delays(i)
		for e, d := range sent {
			x := array.Elements[e].X
			check.Within(t, "delay", d, (s-math.Hypot(s*sin-x, s*cos))/steel.Transverse, 1e-10)
		}
	}
}

// TestDynamicWalls checks that the focus of a dynamic law keeps its rays at flat and curved walls:
// no sample lacks a ray to any element.
func TestDynamicWalls(t *testing.T) {
	array := contactArray(16)
	over := check.Must(array.Place(r3.Rotation{Real: 1}, r3.Vec{Z: -10 * mm}))
	for _, test := range []struct {
		name  string
		setup *wedge.Setup
		array fmc.Array
	}{
		{"plate", check.Must(wedge.NewPlate(nil, steel, 7.3*mm)), array},
		{"pipe", check.Must(wedge.NewPipe(&water, steel, 57*mm, 7*mm)), over},
	} {
		beam := Beam{Mode: material.T, Angle: 24 * degree, Receive: Focus{Dynamic: true}}
		plan := check.Must(NewPlan(ctx, empty(test.array, fmc.HalfPairs(16)), test.setup, []Beam{beam}, nil))
		if legs := len(plan.Lines()[0].Legs); legs < 2 {
			t.Errorf("%s: %d legs, want some skips", test.name, legs)
		}
		for k := range 1000 {
			for i := range 16 {
				if math.IsNaN(plan.beams[0].receive.at(i, k)) {
					t.Fatalf("%s: no ray from element %d to the focus of sample %d", test.name, i, k)
				}
			}
		}
	}
}

// TestDelayStep checks the loss of rounded delays. With the step 1/(μf) the main lobe keeps the
// mean factor sinc(1/μ), and the mean side lobe of 64 elements, one way, is (2π/μ)²/(12·64) in
// power. Both follow from errors that are spread evenly over a step. The tables hold the values in
// dB, from these formulas.
func TestDelayStep(t *testing.T) {
	array := contactArray(64)
	setup := check.Must(wedge.NewPlate(nil, steel, 80*mm))
	c := empty(array, []fmc.Pair{{Tx: 0, Rx: 0}})
	const frequency = 5e6
	var beams []Beam
	// At these angles few delays are stationary along the array, so that the errors are spread
	// evenly.
	for angle := 10 * degree; angle < 60*degree; angle += 0.37 * degree {
		beams = append(beams, Beam{Mode: material.L, Angle: angle, Transmit: Focus{SoundPath: 60 * mm}})
	}
	exact := check.Must(NewPlan(ctx, c, setup, beams, nil))
	for _, test := range []struct{ steps, main, side float64 }{
		{4, -0.91210, -24.93}, {8, -0.22440, -30.95}, {16, -0.05589, -36.97}, {32, -0.01396, -42.99},
	} {
		step := 1 / (test.steps * frequency)
		rounded := slices.Clone(beams)
		for i := range rounded {
			rounded[i].DelayStep = step
		}
		plan := check.Must(NewPlan(ctx, c, setup, rounded, nil))
		var sum complex128
		power, count := 0.0, 0.0
		for i := range beams {
			want, _ := exact.Delays(i)
			got, _ := plan.Delays(i)
			for e := range got {
				if whole := got[e] / step; !(math.Abs(whole-math.Round(whole)) <= 1e-6) {
					t.Fatalf("delay %v s is not a multiple of %v s", got[e], step)
				}
				phase := 2 * math.Pi * frequency * (got[e] - want[e])
				sum += cmplx.Exp(complex(0, phase))
				power += phase * phase
				count++
			}
		}
		check.Within(t, "main lobe in dB", 20*math.Log10(cmplx.Abs(sum)/count), test.main, 0.03*-test.main)
		check.Within(t, "side lobes in dB", 10*math.Log10(power/count/64), test.side, 0.15)
	}
}

// TestManyBits checks that a sum over the 4096 traces of 64 elements keeps every bit of samples of
// 14 bits, 26 bits in all (14 + 2·log2 64).
func TestManyBits(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	fixed, moving := make([]complex128, 8), make([]complex128, 8)
	want := make([]int64, 8)
	for range 64 * 64 {
		signal := make([]complex64, 8)
		for k := range signal {
			v := random.Int64N(1<<14) - 1<<13
			signal[k] = complex(float32(v), 0)
			if k > 0 && k < 7 {
				want[k-1] += v
			}
		}
		addShifted(fixed, signal, -1, 1)
		addDelayed(moving, signal, []float64{-1.5}, slices.Repeat([]float64{0.5}, 8), 0, -1, 1)
	}
	for k, v := range want[:6] {
		if real(fixed[k]) != float64(v) || real(moving[k]) != float64(v) {
			t.Errorf("sums %v and %v, want %v", fixed[k], moving[k], v)
		}
	}
}

// TestShifts compares both loops of the sum with each other, for delays that leave the record at
// either end.
func TestShifts(t *testing.T) {
	signal := make([]complex64, 9)
	for k := range signal {
		signal[k] = complex(float32(k*k), float32(3-k))
	}
	for _, delay := range []float64{0, 0.25, -0.25, 3.5, -3.5, 7, -7, 8, -8, 7.9, -7.9, 1e9, -1e9, math.NaN(), math.Inf(1)} {
		fixed, moving := make([]complex128, 9), make([]complex128, 9)
		addShifted(fixed, signal, delay, 2)
		addDelayed(moving, signal, []float64{delay}, make([]float64, 9), 0, -1, 2)
		for k := range fixed {
			if !(cmplx.Abs(fixed[k]-moving[k]) <= 1e-12) {
				t.Errorf("delay %v, sample %d: %v and %v", delay, k, fixed[k], moving[k])
			}
		}
	}
	sum := make([]complex128, 9)
	addShifted(sum, signal, 2.25, 1) // 0.75·s[k-2] + 0.25·s[k-3]
	if got, want := sum[5], complex(0.75*9+0.25*4, 0.75*0+0.25*1); got != want {
		t.Errorf("sample 5 is %v, want %v", got, want)
	}
}

// TestSameBits checks that the number of workers does not change a bit, that a scratch gives the
// same A-scans again, and that a sum allocates nothing.
func TestSameBits(t *testing.T) {
	record, setup := captured(t, "block16")
	c := record.Capture
	beams := check.Must(Sector(Beam{Mode: material.L, Receive: Focus{Dynamic: true}}, -20*degree, 20*degree, 10*degree))
	one := check.Must(NewPlan(ctx, c, setup, beams, &Options{Workers: 1}))
	three := check.Must(NewPlan(ctx, c, setup, beams, &Options{Workers: 3}))
	scratch := one.NewScratch()
	first := check.Must(three.Traces(ctx, c))
	for range 2 {
		again := check.Must(scratch.Traces(ctx, c.Data))
		for i := range first {
			if !slices.Equal(first[i].Analytic, again[i].Analytic) {
				t.Errorf("beam %d has other bits", i)
			}
		}
	}
	if n := testing.AllocsPerRun(2, func() { scratch.sum(0) }); n != 0 {
		t.Errorf("%v allocations for an A-scan, want none", n)
	}
}

// TestPartial checks which samples count as partial: an unfocused straight beam lacks only the last
// sample, to which no interpolation reaches. Elements that are delayed lack samples at the ends.
func TestPartial(t *testing.T) {
	array := contactArray(16)
	setup := check.Must(wedge.NewPlate(nil, steel, 80*mm))
	c := empty(array, fmc.HalfPairs(16))
	straight := traces(t, c, setup, Beam{})[0]
	if diff := cmp.Diff([][2]int{{999, 1000}}, straight.Partial); diff != "" {
		t.Error(diff)
	}
	// The delays of the outermost elements at 30° are ±4.5 mm·sin 30°/c = ±0.380 µs, 38.0 samples
	// there and back.
	inclined := traces(t, c, setup, Beam{Angle: 30 * degree})[0]
	if diff := cmp.Diff([][2]int{{0, 39}, {961, 1000}}, inclined.Partial); diff != "" {
		t.Error(diff)
	}
	// The axis ends at the end of the plate, after 12·√2 mm = 521.3 samples there and back. A
	// dynamic law has no focus behind it.
	short := check.Must(wedge.NewPlate(nil, steel, 80*mm))
	short.Sides = []wedge.Surface{check.Must(wedge.NewPlane(r3.Vec{X: 12 * mm}, r3.Vec{X: 1}))}
	beam := Beam{Mode: material.T, Angle: 45 * degree, Transmit: Focus{Dynamic: true}, Receive: Focus{Dynamic: true}}
	ended := traces(t, c, short, beam)[0]
	if diff := cmp.Diff([][2]int{{522, 1000}}, ended.Partial); diff != "" {
		t.Error(diff)
	}
}

// TestBadFrames checks the errors of frames.
func TestBadFrames(t *testing.T) {
	array := contactArray(4)
	setup := check.Must(wedge.NewPlate(nil, steel, 20*mm))
	c := empty(array, fmc.FullPairs(4))
	plan := check.Must(NewPlan(ctx, c, setup, []Beam{{}}, nil))
	_, err := plan.Traces(ctx, nil)
	check.Error(t, err, "no capture")
	_, err = plan.Traces(ctx, empty(array, fmc.HalfPairs(4)))
	check.Error(t, err, "other elements, pairs or times")
	_, err = plan.NewScratch().Traces(ctx, c.Data[1:])
	check.Error(t, err, "15999 samples")
	c.Data[4321] = float32(math.NaN())
	_, err = plan.Traces(ctx, c)
	check.Error(t, err, "1→0", "sample 321")
	ended, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := NewPlan(ended, empty(array, fmc.FullPairs(4)), setup, []Beam{{}}, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v after the end of the context", err)
	}
	_, err = NewPlan(ctx, empty(array, fmc.FullPairs(4)), setup, []Beam{{}}, &Options{Workers: -1})
	check.Error(t, err, "ascan: workers -1")
	_, err = NewPlan(ctx, empty(array, []fmc.Pair{{Tx: 0, Rx: 1}}), setup, []Beam{{Elements: []int{2, 3}}}, nil)
	check.Error(t, err, "no trace between")
	early := empty(array, fmc.FullPairs(4))
	early.FirstSample = -1
	_, err = NewPlan(ctx, early, setup, []Beam{{}}, nil)
	check.Error(t, err, "record ends")
}
