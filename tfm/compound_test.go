// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

const degree = math.Pi / 180

// fan returns the plane waves of an array at angles (degrees) in the part, at the speeds of the
// part and of the coupling.
func fan(array fmc.Array, from, to float64, count int, part, coupling float64) []fmc.Event {
	f := transmit.Fan{From: from * degree, To: to * degree, Count: count}
	return check.Must(transmit.PlaneWaves(array, coupling, check.Must(f.Directions(part, coupling))))
}

// compounded returns the weights and shares of events at points.
func compounded(array fmc.Array, events []fmc.Event, elements *wedge.Times, o CompoundOptions) (*compound, *wedge.Times) {
	k, times, err := newCompound(background, eventCapture(array, events), elements, &Options{Compound: &o})
	if err != nil {
		panic(err)
	}
	return k, times
}

// TestCompoundIsExact: with as many waves as elements, whose sines are wavelength/(n·pitch) apart,
// the weights undo the superposition of the elements exactly, at the centre frequency, for pulses
// of a very small bandwidth. At each pixel the waves, each with its weight, read from element i
// what the full matrix reads,
//
//	Σ W_q·exp(2πif·(τ_q − d_qi)) = exp(2πif·t_i),
//
// at any distance, also where waves do not reach the pixel. The shares are 1.
func TestCompoundIsExact(t *testing.T) {
	const n, pitch, speed, f = 24, 0.7e-3, 5920.0, 5e6
	array := check.Must(fmc.LinearArray(n, pitch, fmc.Array{Width: 0.5e-3, CentreFrequency: f, Bandwidth: 1e-4}))
	angle := math.Asin((n - 1) / 2.0 * speed / f / (n * pitch))
	fan := transmit.Fan{From: -angle, To: angle, Count: n}
	events := check.Must(transmit.PlaneWaves(array, speed, check.Must(fan.Directions(speed, speed))))
	points := []r3.Vec{{Z: 3e-3}, {X: 6e-3, Z: 9e-3}, {X: -12e-3, Z: 20e-3}, {X: 3e-3, Z: 200e-3}}
	table := contact(array, points, speed)
	k, times := compounded(array, events, table, CompoundOptions{})
	for p := range points {
		for i := range n {
			sum := 0i
			for q, event := range events {
				tau := float64(times.Seconds[q*len(points)+p])
				sum += complex128(k.weights[q*len(points)+p]) * cmplx.Rect(1, 2*math.Pi*f*(tau-event.Delays[i]))
			}
			want := cmplx.Rect(1, 2*math.Pi*f*float64(table.Seconds[i*len(points)+p]))
			if !(cmplx.Abs(sum-want) <= 1e-5) {
				t.Errorf("point %v, element %d: %v, want %v", points[p], i, sum, want)
			}
		}
		check.Within(t, "share", float64(k.shares[p]), 1, 1e-5)
	}
}

// TestCompoundWeights compares with the closed form of plane waves through a level surface. With
// the step Δ of the sines in the coupling, the frequency f, the height h of the element above the
// surface from which the wave comes, and the angles θ₁ in the coupling and θ₂ in the part, the
// weight is
//
//	Δ·f/c₁ · √((c₁·h/cos³θ₁ + c₂·z/cos³θ₂)/f).
//
// The closed form is the method of stationary phase. The edges of the aperture make the weights
// swing about it (Fresnel's integral). In contact the closed form is Δ·√(f·z/c)/cos^(3/2) θ, the
// weight of a plane wave in the expansion of a cylindrical wave (H. Weyl, in two dimensions) where
// the distance is many wavelengths.
func TestCompoundWeights(t *testing.T) {
	water := material.Isotropic{Density: 998, Longitudinal: 1483}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	array := check.Must(fmc.LinearArray(64, 0.5e-3, fmc.Array{Width: 0.4e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	for _, test := range []struct {
		name   string
		path   *wedge.Path
		h, c1  float64
		c2     float64
		angles [2]float64 // degrees
	}{
		{"contact", check.Must(wedge.NewPath([]wedge.Leg{{Speed: 5920}}, nil)), 0, 5920, 5920, [2]float64{-50, 50}},
		{"water, transverse", check.Must(check.Must(wedge.NewPlate(&water, steel, 40e-3)).Path([]material.Mode{material.T})), 8e-3, 1483, 3240, [2]float64{20, 60}},
	} {
		t.Run(test.name, func(t *testing.T) {
			placed := check.Must(array.Place(r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{Z: -test.h}))
			events := fan(placed, test.angles[0], test.angles[1], 21, test.c2, test.c1)
			points := []r3.Vec{{X: 0, Z: 6e-3}, {X: 4e-3, Z: 10e-3}, {X: -3e-3, Z: 14e-3}, {X: 10e-3, Z: 12e-3}}
			k, _ := compounded(placed, events, check.Must(test.path.Times(background, placed.Elements, points, nil)), CompoundOptions{})
			first, last := math.Sin(test.angles[0]*degree), math.Sin(test.angles[1]*degree)
			step := (last - first) / 20
			compared, mean := 0, 0.0
			for e := range events {
				s2 := first + float64(e)*step
				s1 := s2 * test.c1 / test.c2
				cos1, cos2 := math.Sqrt(1-s1*s1), math.Sqrt(1-s2*s2)
				for p, at := range points {
					const f = 5e6
					want := step * test.c1 / test.c2 * f / test.c1 * math.Sqrt((test.c1*test.h/(cos1*cos1*cos1)+test.c2*at.Z/(cos2*cos2*cos2))/f)
					entry := at.X - at.Z*s2/cos2 - test.h*s1/cos1
					weight := cmplx.Abs(complex128(k.weights[e*len(points)+p]))
					if math.Abs(entry) > 16e-3+2e-3 && !(weight < 0.4*want) {
						t.Errorf("weight %v of event %d at %v, 2 mm beyond its beam; %v inside", weight, e, at, want)
					}
					if math.Abs(entry) > 13e-3 {
						continue // near the edge
					}
					compared++
					mean += weight / want
					check.Within(t, "weight", weight, want, 0.25*want)
				}
			}
			if compared < 40 {
				t.Errorf("%d weights compared", compared)
			}
			check.Within(t, "mean ratio to the closed form", mean/float64(compared), 1, 0.03)
		})
	}
}

// TestShares: plane waves at up to ±α replace the elements that see the point at up to ±α. For a
// virtual source that moves along the array, the rays from the sources through the elements do.
func TestShares(t *testing.T) {
	const speed = 5920.0
	array := check.Must(fmc.LinearArray(64, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	points := []r3.Vec{{Z: 10e-3}, {X: 8e-3, Z: 20e-3}, {X: -12e-3, Z: 30e-3}, {X: 17e-3, Z: 15e-3}}
	table := contact(array, points, speed)
	for _, alpha := range []float64{15, 30, 60} {
		k, _ := compounded(array, fan(array, -alpha, alpha, 201, speed, speed), table, CompoundOptions{})
		for p, at := range points {
			seen := 0.0
			for _, e := range array.Elements {
				if math.Abs(at.X-e.X) <= at.Z*math.Tan(alpha*degree) {
					seen += 1. / 64
				}
			}
			check.Within(t, "share", float64(k.shares[p]), seen, 0.04)
		}
	}
	var sources []r3.Vec
	for i := range 64 {
		sources = append(sources, r3.Vec{X: (float64(i) - 31.5) * 0.6e-3, Z: -8e-3})
	}
	k, _ := compounded(array, check.Must(transmit.Diverging(array, speed, sources)), table, CompoundOptions{})
	for p, at := range points {
		seen := 0.0
		for _, e := range array.Elements {
			if x := at.X + (e.X-at.X)*(at.Z+8e-3)/at.Z; math.Abs(x) <= 32*0.6e-3 { // the source behind e
				seen += 1. / 64
			}
		}
		check.Within(t, "share of virtual sources", float64(k.shares[p]), seen, 0.04)
	}
}

// TestSingleElements: events of one element each have weight 1 at all pixels, and a share of 1, so
// that their image is the image of the full matrix.
func TestSingleElements(t *testing.T) {
	full := randomCapture(71, 5, 300, fmc.FullPairs(5))
	waves := *full
	for i := range 5 {
		e := fmc.Event{Delays: make([]float64, 5), Weights: make([]float64, 5)}
		e.Weights[i] = 1
		waves.Events = append(waves.Events, e)
	}
	g := check.Must(NewSection(-4e-3, 4e-3, 4e-3, 12e-3, 0.3e-3))
	want := check.Must(check.Must(PlanView(background, full, plate(), "L-L", g, nil)).Image(background, full))
	plan := check.Must(PlanView(background, &waves, plate(), "L-L", g, &Options{Compound: &CompoundOptions{}}))
	got := check.Must(plan.Image(background, &waves))
	exact := make([]complex128, len(want.Data))
	for i, v := range want.Data {
		exact[i] = complex128(v)
	}
	wantImage(t, got.Data, exact, 1e-5)
	for _, share := range plan.Shares() {
		check.Within(t, "share", float64(share), 1, 1e-6)
	}
}

// TestCompoundKernels compares every kernel with double loops over one event at a time, summed with
// the weights, and with other numbers of workers.
func TestCompoundKernels(t *testing.T) {
	c := randomCapture(72, 12, 500, fmc.FullPairs(12))
	c.Events = fan(c.Array, -40, 40, 7, 5920, 5920)
	c.Pairs = fmc.EventPairs(7, 12)
	c.Data = c.Data[:len(c.Pairs)*c.Samples]
	g := check.Must(NewSection(-7e-3, 7e-3, 5e-3, 14e-3, 0.1e-3))
	elements, rx := tables(plate(), "L-L", c, g)
	k, tx := compounded(c.Array, c.Events, elements, CompoundOptions{Taper: 0.5})
	want := make([]complex128, g.Len())
	for e := range c.Events {
		weights := make([]float32, len(c.Pairs))
		for p := range weights {
			if c.Pairs[p].Tx == e {
				weights[p] = 1
			}
		}
		for p, v := range doubleLoop(t, c, g, tx, rx, Options{Weights: weights}) {
			want[p] += complex128(k.weights[e*k.points+p]) * v
		}
	}
	eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
		o.Compound, o.Workers = &CompoundOptions{Taper: 0.5}, 1
		got := check.Must(check.Must(NewPlan(c, g, elements, rx, &o)).Image(background, c))
		wantImage(t, got.Data, want, tolerance)
		o.Workers = 3
		again := check.Must(check.Must(NewPlan(c, g, elements, rx, &o)).Image(background, c))
		if !slices.Equal(got.Data, again.Data) {
			t.Error("other bits with other workers")
		}
	})
}

// pointEchoes returns the full matrix of points that scatter equally in all directions, in contact,
// for a Gaussian pulse. There is no loss with distance.
func pointEchoes(array fmc.Array, speed float64, samples int, points ...r3.Vec) *fmc.Capture {
	n := len(array.Elements)
	c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(n), Samples: samples, SampleRate: 50e6}))
	sigma := math.Sqrt(2*math.Ln2) / (math.Pi * array.Bandwidth * array.CentreFrequency) // of a -6 dB bandwidth
	for p, pair := range c.Pairs {
		for _, at := range points {
			arrival := (r3.Norm(r3.Sub(at, array.Elements[pair.Tx])) + r3.Norm(r3.Sub(at, array.Elements[pair.Rx]))) / speed
			for k := max(0, int((arrival-6*sigma)*50e6)); k < min(samples, int((arrival+6*sigma)*50e6)); k++ {
				t := c.Time(k) - arrival
				c.Data[p*samples+k] += float32(math.Exp(-t*t/(2*sigma*sigma)) * math.Cos(2*math.Pi*array.CentreFrequency*t))
			}
		}
	}
	return c
}

// TestCompoundLimit images points by a full matrix, and by waves that were superposed from the full
// matrix: a dense fan and virtual sources. Peaks, widths and amplitudes must agree, at all depths
// and on both sides. Without the weights the amplitudes would differ by a factor of two from point
// to point. The width is about 3 % larger, because the weights are right at the centre frequency
// only: below it the waves weigh more, above it less.
func TestCompoundLimit(t *testing.T) {
	const speed, pitch = 5920.0, 0.6e-3
	array := check.Must(fmc.LinearArray(24, pitch, fmc.Array{Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.5}))
	points := []r3.Vec{{X: 1e-3, Z: 8e-3}, {X: -3e-3, Z: 15e-3}, {X: 4e-3, Z: 24e-3}}
	c := pointEchoes(array, speed, 520, points...)
	var sources []r3.Vec
	for i := range 33 {
		sources = append(sources, r3.Vec{X: (float64(i) - 16) * 1.2e-3, Z: -6e-3})
	}
	for _, test := range []struct {
		name   string
		events []fmc.Event
	}{
		{"plane waves", fan(array, -62, 62, 41, speed, speed)},
		{"virtual sources", check.Must(transmit.Diverging(array, speed, sources))},
	} {
		t.Run(test.name, func(t *testing.T) {
			waves := check.Must(transmit.Encode(background, c, test.events, nil))
			for _, at := range points {
				g := check.Must(NewSection(at.X-3e-3, at.X+3e-3, at.Z-1e-3, at.Z+1e-3, 0.1e-3))
				table := contact(array, g.Points(), speed)
				full := check.Must(check.Must(NewPlan(c, g, table, table, nil)).Image(background, c)).Envelope(nil)
				plan := check.Must(NewPlan(waves, g, table, table, &Options{Compound: &CompoundOptions{}}))
				e := check.Must(plan.Image(background, waves)).Envelope(nil)
				want, index := full.Peak()
				got, other := e.Peak()
				if d := r3.Norm(r3.Sub(g.Point(index), g.Point(other))); !(d <= 0.11e-3) {
					t.Errorf("point %v: peak at %v, of the full matrix at %v", at, g.Point(other), g.Point(index))
				}
				check.Within(t, "amplitude relative to the full matrix", float64(got/want), 0.985, 0.02)
				if r := correlation(e, full); !(r >= 0.9993) {
					t.Errorf("point %v: correlation %v with the full matrix, want 0.9993", at, r)
				}
				check.Within(t, "width relative to the full matrix", lateral(e)/lateral(full), 1.028, 0.015)
			}
		})
	}
}

// correlation returns the correlation of two envelopes.
func correlation(a, b *Envelope) float64 {
	ab, aa, bb := 0.0, 0.0, 0.0
	for i, v := range a.Data {
		x, y := float64(v), float64(b.Data[i])
		ab, aa, bb = ab+x*y, aa+x*x, bb+y*y
	}
	return ab / math.Sqrt(aa*bb)
}

// lateral returns the -6 dB width in m along the row of the peak.
func lateral(e *Envelope) float64 {
	peak, middle := e.Peak()
	half := float64(peak) / 2
	crossing := func(direction int) float64 {
		for i := middle; ; i += direction {
			a, b := float64(e.Data[i]), float64(e.Data[i+direction])
			if b < half {
				return math.Abs(float64(i-middle)) + (a-half)/(a-b)
			}
		}
	}
	return (crossing(1) + crossing(-1)) * e.Step.X
}

// TestPlaneWaveWidths compares the two-way width of a point at one frequency with the closed form
//
//	sinc(2·sin α·x/λ)·sinc(2·sin(atan(D/2z))·x/λ) = 1/2, sinc u = sin(πu)/(πu),
//
// for waves whose sines are equally spaced up to sin α, all with weight 1, and receivers over the
// aperture D: elements 0.6 mm apart, z = 30 mm, λ = 1.184 mm. The receivers have the weights cos³θ,
// so that they too are equally dense in the sine. The width of the full matrix is 1.45335219 λ for
// 32 elements: waves up to 30°, sent by a longer array, are sharper. It is 0.82171122 λ for 64
// elements.
func TestPlaneWaveWidths(t *testing.T) {
	const speed, lambda = 5920.0, 1.184e-3
	points := check.Must(NewSection(-1.5e-3, 1.5e-3, 30e-3, 30e-3, 0.05e-3))
	at := r3.Vec{Z: 30e-3}
	for _, test := range []struct {
		receivers, waves int // receivers in the middle of 64 elements, which send
		alpha, want      float64
	}{{64, 41, 20, 0.97392958}, {64, 41, 10, 1.07807822}, {32, 121, 30, 1.06059281}} {
		if testing.Short() && test.waves > 100 {
			continue
		}
		array := check.Must(fmc.LinearArray(64, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.1}))
		f := transmit.Fan{From: -test.alpha * degree, To: test.alpha * degree, Count: test.waves}
		directions := check.Must(f.Directions(speed, speed))
		c := check.Must(fmc.New(fmc.Capture{Array: array, Events: check.Must(transmit.PlaneWaves(array, speed, directions)),
			Pairs: fmc.EventPairs(test.waves, 64), Samples: 400, SampleRate: 50e6, FirstSample: 8e-6}))
		for p, pair := range c.Pairs {
			// An ideal plane wave, without the edges of an aperture.
			sent := r3.Dot(at, directions[pair.Tx])/speed + c.Events[pair.Tx].Delays[0] - r3.Dot(array.Elements[0], directions[pair.Tx])/speed
			arrival := sent + r3.Norm(r3.Sub(at, array.Elements[pair.Rx]))/speed
			for k := range c.Samples {
				s := (c.Time(k) - arrival) * 1e6
				c.Data[p*c.Samples+k] = float32(math.Exp(-s*s) * math.Cos(2*math.Pi*5*s))
			}
		}
		table := contact(array, points.Points(), speed)
		tx := check.Must(EventTimes(background, c, table, nil))
		weights := make([]float32, len(c.Pairs))
		for p, pair := range c.Pairs {
			if math.Abs(array.Elements[pair.Rx].X) < 0.3e-3*float64(test.receivers) {
				weights[p] = float32(math.Pow(at.Z/r3.Norm(r3.Sub(at, array.Elements[pair.Rx])), 3))
			}
		}
		e := check.Must(check.Must(NewPlan(c, points, tx, table, &Options{Weights: weights})).Image(background, c)).Envelope(nil)
		check.Within(t, "width in wavelengths", lateral(e)/lambda, test.want, 0.01*test.want)
	}
}

// TestPartlyInsonified: below the middle of the array, all waves up to ±β reach down to D/(2·tan
// β), where D is the aperture. Deeper pixels are partly insonified, though they have rays to all
// elements.
func TestPartlyInsonified(t *testing.T) {
	const speed = 5920.0
	array := check.Must(fmc.LinearArray(64, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	g := check.Must(NewSection(0, 0, 20e-3, 120e-3, 1e-3))
	for _, test := range []struct{ beta, depth float64 }{{10, 108.889}, {20, 52.752}, {30, 33.255}} {
		c := eventCapture(array, fan(array, -test.beta, test.beta, 3, speed, speed))
		c.Samples, c.Data = 4000, make([]float32, 4000*len(c.Pairs))
		plan := check.Must(NewPlan(c, g, contact(array, g.Points(), speed), contact(array, g.Points(), speed), &Options{Compound: &CompoundOptions{}}))
		for i := range g.Len() {
			z := g.Point(i).Z * 1e3
			state := plan.states[i] &^ CoarseGrid
			want := State(0)
			if z > test.depth {
				want = PartlyInsonified
			}
			if math.Abs(z-test.depth) > 1 && state != want {
				t.Errorf("±%v°, %v mm deep: %v, want %v", test.beta, z, state, want)
			}
		}
	}
	beside := check.Must(NewSection(60e-3, 60e-3, 20e-3, 20e-3, 1e-3))
	c := eventCapture(array, fan(array, -10, 10, 3, speed, speed))
	k, times := compounded(array, c.Events, contact(array, beside.Points(), speed), CompoundOptions{LeastShare: 0.1})
	if times.Missing != 0 || !k.dark[0] || !(k.shares[0] < 0.01) {
		t.Errorf("%d waves missing, share %v far beside the waves", times.Missing, k.shares[0])
	}
}

// TestEdge: beyond a beam the wave of the nearest edge counts.
func TestEdge(t *testing.T) {
	nan := math.NaN()
	a := new(aperture)
	for _, test := range []struct {
		reason   string
		arrivals []float64
		want     float64
	}{
		{"a diverging wave: the ray would come from beyond the first element", []float64{1, 2, 4, 7}, 1},
		{"a wave behind its focus, whose arrivals curve downwards", []float64{7, 6, 4, 1}, 7},
		{"elements without a ray are left out", []float64{nan, 2, 4}, 2},
	} {
		check.Within(t, test.reason, a.edge(test.arrivals), test.want, 0)
	}
	if got := a.edge([]float64{nan, nan}); !math.IsNaN(got) {
		t.Errorf("%v without a ray", got)
	}
}

// TestStatesOfEvents: without compounding too, a pixel that some waves do not reach is told apart
// from a pixel to which a receiver has no ray, and from a pixel that no wave reaches.
func TestStatesOfEvents(t *testing.T) {
	c := randomCapture(74, 3, 400, fmc.EventPairs(2, 3))
	c.FirstSample, c.Events = 0, []fmc.Event{planeEvent(0), planeEvent(1e-8)}
	g := check.Must(NewSection(0, 3e-3, 8e-3, 8e-3, 1e-3)) // four pixels
	nan := float32(math.NaN())
	tx := check.Must(NewEventTimes(c, nil, g.Points(), []float32{2e-6, nan, 2e-6, nan, 2e-6, 2e-6, 2e-6, nan}))
	rx := check.Must(wedge.NewTimes(nil, c.Array.Elements, g.Points(), []float32{2e-6, 2e-6, 2e-6, 2e-6, 2e-6, 2e-6, nan, 2e-6, 2e-6, 2e-6, 2e-6, 2e-6}))
	want := []State{0, PartlyInsonified, NoRay, NoRay | Blank}
	for _, weights := range [][]float32{nil, {1, 1, 1, 1, 1, 0}} { // the second has no complete set of pairs
		plan := check.Must(NewPlan(c, g, tx, rx, &Options{Weights: weights}))
		for p, w := range want {
			if got := plan.states[p] &^ CoarseGrid; got != w {
				t.Errorf("weights %v, pixel %d: %v, want %v", weights, p, got, w)
			}
		}
	}
}

// TestCompoundNormalised: weights are divided by the share, and by LeastShare where the share is
// smaller.
func TestCompoundNormalised(t *testing.T) {
	const speed = 5920.0
	array := check.Must(fmc.LinearArray(32, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	table := contact(array, []r3.Vec{{Z: 15e-3}, {X: 9e-3, Z: 3e-3}}, speed)
	events := fan(array, -30, 30, 31, speed, speed)
	plain, _ := compounded(array, events, table, CompoundOptions{})
	normal, _ := compounded(array, events, table, CompoundOptions{LeastShare: 0.5})
	if !(plain.shares[0] > 0.5 && plain.shares[1] < 0.5 && plain.shares[1] > 0) {
		t.Fatalf("shares %v: want one on each side of 0.5", plain.shares)
	}
	for i, w := range normal.weights {
		want := plain.weights[i] / complex([]float32{plain.shares[0], 0.5}[i%2], 0)
		check.Within(t, "error of a weight", cmplx.Abs(complex128(w-want)), 0, 1e-6)
	}
}

// ramp returns the aperture of three elements from first on, whose delays grow by a slope in
// periods.
func ramp(first int, slope float64) *aperture {
	const f = 1e6
	a := &aperture{elements: []int{first, first + 1, first + 2}, cols: 3, rows: 1, together: 0.5 / f}
	for i := range 3 {
		a.delays = append(a.delays, slope*float64(i)/f)
	}
	return a
}

// TestCells compares the ranges of slopes with ranges that were worked by hand.
func TestCells(t *testing.T) {
	all := func(v float64) []float64 { return []float64{v, v, v} }
	for _, test := range []struct {
		name, reason string
		apertures    []*aperture
		taper        float64
		want         [][]float64
		firing       int
	}{
		{"spaced", "half the distance between the neighbours, and the distance at the ends",
			[]*aperture{ramp(0, 0), ramp(0, 0.1), ramp(0, 0.3)}, 0, [][]float64{all(0.1), all(0.15), all(0.2)}, 3},
		{"in another order", "the order of the events has no effect",
			[]*aperture{ramp(0, 0.3), ramp(0, 0), ramp(0, 0.1)}, 0, [][]float64{all(0.2), all(0.1), all(0.15)}, 3},
		{"twice", "equal events share a range",
			[]*aperture{ramp(0, 0), ramp(0, 0), ramp(0, 0.2)}, 0, [][]float64{all(0.1), all(0.1), all(0.2)}, 3},
		{"alone", "as a wave of a complete set of three elements",
			[]*aperture{ramp(0, 0.4)}, 0, [][]float64{all(1. / 3)}, 3},
		{"parts of the array", "at an element only the events count that fire it",
			[]*aperture{ramp(0, 0), ramp(2, 0.1)}, 0, [][]float64{{1. / 3, 1. / 3, 0.1}, {0.1, 1. / 3, 1. / 3}}, 5},
		{"taper", "the window over all of the set is 1/4, 1 and 1/4 at 1/6, 1/2 and 5/6",
			[]*aperture{ramp(0, 0), ramp(0, 0.1), ramp(0, 0.2)}, 1, [][]float64{all(0.025), all(0.1), all(0.025)}, 3},
	} {
		t.Run(test.name, func(t *testing.T) {
			cells, firing, err := cellsOf(test.apertures, 6, test.taper)
			if err != nil || firing != test.firing {
				t.Fatalf("%d elements fire, error %v; want %d", firing, err, test.firing)
			}
			for e, row := range test.want {
				for i, want := range row {
					check.Within(t, test.reason, cells[e][i], want, 1e-9)
				}
			}
		})
	}
}

func TestCompoundRefuses(t *testing.T) {
	c := randomCapture(73, 3, 300, fmc.FullPairs(3))
	g := check.Must(NewSection(-1e-3, 1e-3, 1e-3, 3e-3, 0.5e-3))
	table, _ := tables(plate(), "L-L", c, g)
	_, err := NewPlan(c, g, table, table, &Options{Compound: &CompoundOptions{}})
	check.Error(t, err, "without events")
	c.Events = []fmc.Event{planeEvent(0), planeEvent(1e-8), planeEvent(2e-8)}
	plan := func(o CompoundOptions, tx *wedge.Times) error {
		_, err := NewPlan(c, g, tx, table, &Options{Compound: &o})
		return err
	}
	for _, bad := range []float64{-0.1, 1.1, math.NaN()} {
		check.Error(t, plan(CompoundOptions{Taper: bad}, table), "taper")
		check.Error(t, plan(CompoundOptions{LeastShare: bad}, table), "least share")
	}
	check.Error(t, plan(CompoundOptions{}, nil), "without a transmitting table")
	check.Error(t, plan(CompoundOptions{}, check.Must(EventTimes(background, c, table, nil))), "table of events")
	_, err = NewPlan(c, g, table, table, &Options{Compound: &CompoundOptions{}, Coherence: SignCoherence})
	check.Error(t, err, "the one or the other")
	timer := check.Must(NewTimer(c, plate(), "L-L", nil))
	_, err = NewBands(c, g, timer, 1e9, &Options{Compound: &CompoundOptions{}})
	check.Error(t, err, "bands")
	c.Events[1].Weights[1] = 0
	check.Error(t, plan(CompoundOptions{}, table), "event 1", "neighbouring")
	c.Events[1].Weights[1] = -1
	check.Error(t, plan(CompoundOptions{}, table), "both signs")
	if p := check.Must(NewPlan(randomCapture(73, 3, 300, fmc.FullPairs(3)), g, table, table, nil)); p.Shares() != nil {
		t.Error("shares without compounding")
	}
	matrix := check.Must(fmc.MatrixArray(3, 3, 0.6e-3, 0.6e-3, c.Array))
	waves := check.Must(transmit.PlaneWaves(matrix, 5920, []r3.Vec{{Z: 1}}))
	_, _, err = newCompound(background, eventCapture(matrix, waves), contact(matrix, []r3.Vec{{Z: 9e-3}}, 5920), &Options{Compound: &CompoundOptions{}})
	check.Error(t, err, "matrix array")
}
