// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// statesByPair returns the states of all pixels but CoarseGrid, from the definition: by
// each pair that counts.
func statesByPair(c *fmc.Capture, g Grid, tx, rx *wedge.Times, weights []float32) []State {
	unsent := NoRay
	if c.Events != nil {
		unsent = PartlyInsonified
	}
	states := slices.Repeat([]State{Blank}, g.Len())
	sent, received := make([]bool, g.Len()), make([]bool, g.Len()) // whether any pair has a ray
	mark := func(pair fmc.Pair) {
		for p := range states {
			there, back := float64(tx.Seconds[pair.Tx*tx.Points+p]), float64(rx.Seconds[pair.Rx*rx.Points+p])
			if math.IsNaN(there) {
				states[p] |= unsent
			} else {
				sent[p] = true
			}
			if math.IsNaN(back) {
				states[p] |= NoRay
			} else {
				received[p] = true
			}
			switch at := (there + back - c.FirstSample) * c.SampleRate; {
			case math.IsNaN(at):
			case at < 0:
				states[p] |= BeforeRecord
			case at >= float64(c.Samples-1):
				states[p] |= AfterRecord
			default:
				states[p] &^= Blank
			}
		}
	}
	counts := false
	for i, pair := range c.Pairs {
		if weights != nil && weights[i] == 0 {
			continue
		}
		counts = true
		mark(pair)
		if c.Layout() == fmc.Half {
			mark(pair.Reciprocal())
		}
	}
	for p := range states {
		if counts && (!sent[p] || !received[p]) {
			states[p] = NoRay | Blank
		}
	}
	return states
}

// TestStates compares with the definition, on captures, grids and tables of all sorts, and
// wants the sum to be 0 exactly where a pixel is blank.
func TestStates(t *testing.T) {
	count := 60
	if long {
		count = 200
	}
	seen := map[State]int{}
	for seed := range count {
		rng := rand.New(rand.NewPCG(uint64(seed), 29))
		c, _ := anyCapture(rng)
		for i := range c.Data {
			c.Data[i] = float32(rng.NormFloat64())
		}
		g := anyGrid(rng)
		tx := anyTimes(rng, c, g, c.Events != nil)
		rx := tx
		if c.Events != nil || rng.IntN(2) == 0 {
			rx = anyTimes(rng, c, g, false)
		}
		weights := anyWeights(rng, len(c.Pairs))
		image := check.Must(check.Must(NewPlan(c, g, tx, rx, &Options{Weights: weights})).Image(background, c))
		ends := atEnds(c, tx, rx)
		for p, want := range statesByPair(c, g, tx, rx, weights) {
			got := image.Envelope(nil).State(p)
			if got&^CoarseGrid != want {
				t.Fatalf("seed %d: pixel %d is %q, want %q", seed, p, got, want)
			}
			if want&Blank != 0 && got&CoarseGrid != 0 {
				t.Errorf("seed %d: blank pixel %d is %q", seed, p, got)
			}
			if want&Blank != 0 && image.Data[p] != 0 && !slices.Contains(ends, p) {
				t.Errorf("seed %d: blank pixel %d holds %v", seed, p, image.Data[p])
			}
			seen[want]++
		}
	}
	for _, s := range []State{0, NoRay, BeforeRecord, AfterRecord, BeforeRecord | AfterRecord, NoRay | Blank, AfterRecord | Blank, BeforeRecord | Blank, NoRay | AfterRecord} {
		if seen[s] == 0 {
			t.Errorf("no pixel is %q: want at least one", s)
		}
	}
}

// TestStatesOfNoWeights: with all weights 0 no pair counts, so nothing is missing, and
// nothing is shown.
func TestStatesOfNoWeights(t *testing.T) {
	c := randomCapture(50, 3, 300, fmc.FullPairs(3))
	g := check.Must(NewSection(-1e-3, 1e-3, -1e-3, 3e-3, 0.2e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	image := check.Must(check.Must(NewPlan(c, g, tx, rx, &Options{Weights: make([]float32, 9)})).Image(background, c))
	for p, s := range image.States {
		if s != Blank {
			t.Fatalf("pixel %d is %q, want blank", p, s)
		}
	}
}

// TestStatesAreCarried follows the states from the image to what is made of it, and wants
// none of them to share memory with the plan or with each other.
func TestStatesAreCarried(t *testing.T) {
	c := randomCapture(51, 4, 400, fmc.FullPairs(4))
	g := check.Must(NewVolume(r3.Vec{X: -2e-3, Y: -1e-3, Z: -1e-3}, r3.Vec{X: 2e-3, Y: 1e-3, Z: 9e-3}, r3.Vec{X: 0.2e-3, Y: 0.5e-3, Z: 0.2e-3}))
	tx, rx := tables(plate(), "L-L", c, g)
	p := check.Must(NewPlan(c, g, tx, rx, nil))
	want := slices.Clone(p.states)
	image := check.Must(p.Image(background, c))
	envelope := image.Envelope(nil)
	levels := check.Must(envelope.Decibels(nil, 1, -40))
	for i, states := range [][]State{image.States, envelope.States, levels.States} {
		if !slices.Equal(states, want) {
			t.Errorf("states of result %d are not the states of the plan", i)
		}
		clear(states)
	}
	if !slices.Equal(p.states, want) {
		t.Error("the plan shares its states with what is made by it")
	}
	image = check.Must(p.Image(background, c))
	section := image.Envelope(nil).Section(2)
	if n := g.Rows * g.Cols; !slices.Equal(section.States, want[2*n:3*n]) {
		t.Error("states of a section are not the states of its slice")
	}
	whole := check.Must(NewSection(-2e-3, 2e-3, 5e-3, 6e-3, 0.2e-3))
	tx, rx = tables(plate(), "L-L", c, whole)
	envelope = check.Must(check.Must(NewPlan(c, whole, tx, rx, nil)).Image(background, c)).Envelope(envelope)
	if envelope.States != nil || envelope.State(7) != 0 {
		t.Errorf("states %v of an image that shows everything, want none", envelope.States)
	}
}

func TestStateNames(t *testing.T) {
	for _, test := range []struct {
		state State
		want  string
	}{
		{0, "complete"},
		{Blank, "blank"},
		{NoRay | AfterRecord | CoarseGrid, "no ray, after record, coarse grid"},
		{Clipped | GainLimited, "clipped, gain limited"},
	} {
		if got := test.state.String(); got != test.want {
			t.Errorf("State(%d) is %q, want %q", uint8(test.state), got, test.want)
		}
	}
}

// echoes returns a capture, of an array of n elements 0.6 mm apart with the given
// bandwidth, of the echo of a point: a Gaussian pulse at 5 MHz in each trace.
func echoes(path *wedge.Path, n int, bandwidth float64, point r3.Vec) *fmc.Capture {
	c := randomCapture(1, n, 2, fmc.HalfPairs(n))
	c.Array.Bandwidth = bandwidth
	c.Samples, c.SampleRate, c.FirstSample = 3000, 100e6, 0
	c.Data = make([]float32, len(c.Pairs)*c.Samples)
	// The spectrum of the pulse has half its height bandwidth/2·f from f.
	width := math.Pi * bandwidth * 5e6
	for i, pair := range c.Pairs {
		at := path.Solve(c.Array.Elements[pair.Tx], point).Time + path.Solve(c.Array.Elements[pair.Rx], point).Time
		for k := range c.Samples {
			u := c.Time(k) - at
			c.Data[i*c.Samples+k] = float32(math.Exp(-width*width*u*u/(4*math.Ln2)) * math.Cos(2*math.Pi*5e6*u))
		}
	}
	return c
}

// TestCoarseGrid images a point midway between the pixels of grids that become coarser. As
// long as the plan does not call the grid coarse, the highest pixel must be within 2 dB of
// the echo. A single element has no focus: by hand, the envelope has lost 2 dB at a time
// sqrt(2/7.73)/(2·b·f) from its peak, which is half a step there and back.
func TestCoarseGrid(t *testing.T) {
	steel := check.Must(wedge.NewPath([]wedge.Leg{{Speed: 5900}}, nil))
	slow := check.Must(wedge.NewPath([]wedge.Leg{{Speed: 3240}}, nil))
	skip := check.Must(plate().Path([]material.Mode{material.T, material.T}))
	for _, test := range []struct {
		name      string
		path      *wedge.Path
		elements  int
		bandwidth float64
		point     r3.Vec
		byHand    float64 // the step at which the grid becomes coarse, m; 0 where no hand can tell
	}{
		{"one element, L", steel, 1, 0.4, r3.Vec{Z: 30e-3}, 0.75e-3},
		{"one element, wide band", steel, 1, 1, r3.Vec{Z: 30e-3}, 0.30e-3},
		{"L", steel, 16, 0.6, r3.Vec{Z: 15e-3}, 0},
		{"T", slow, 16, 0.6, r3.Vec{X: 1e-3, Z: 15e-3}, 0},
		{"T, far off", slow, 16, 0.6, r3.Vec{X: 12e-3, Z: 28e-3}, 0},
		{"T after a skip", skip, 16, 0.6, r3.Vec{X: 3e-3, Z: 12e-3}, 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := echoes(test.path, test.elements, test.bandwidth, test.point)
			options := &Options{Band: Band{0.3e6, 30e6}} // which does not change the pulse
			image := func(g Grid) *Envelope {
				times := check.Must(test.path.Times(background, c.Array.Elements, g.Points(), nil))
				return check.Must(check.Must(NewPlan(c, g, times, times, options)).Image(background, c)).Envelope(nil)
			}
			top := image(Grid{Origin: test.point, Step: r3.Vec{X: 1, Y: 1, Z: 1}, Cols: 1, Rows: 1, Slices: 1}).Data[0]
			step := 0.15e-3
			for ; step < 1e-3; step += 0.015e-3 {
				const n = 8 // pixels along either axis, with the point amid the middle ones
				first := r3.Sub(test.point, r3.Scale(n/2-0.5, r3.Vec{X: step, Z: step}))
				e := image(Grid{Origin: first, Step: r3.Vec{X: step, Y: step, Z: step}, Cols: n, Rows: n, Slices: 1})
				if e.State((n/2)*n+n/2)&CoarseGrid != 0 {
					break
				}
				peak, _ := e.Peak()
				if lost := 20 * math.Log10(float64(top/peak)); !(lost <= coarseLoss) {
					t.Errorf("step %.2f mm: %.2f dB lost, and the grid is not coarse", step*1e3, lost)
				}
			}
			if test.byHand > 0 && !(math.Abs(step-test.byHand) <= 0.06*test.byHand) {
				t.Errorf("coarse from %.3f mm on, want %.2f", step*1e3, test.byHand*1e3)
			}
			if !(step < 1e-3) {
				t.Error("a grid of 1 mm is not coarse")
			}
		})
	}
}

// TestCoarseLossOfSum compares the loss that a plan expects with the sum of Gaussian pulses over all
// pairs, in a volume so fine that terms beyond the second order are small. The direction of the
// largest loss changes from pixel to pixel.
func TestCoarseLossOfSum(t *testing.T) {
	sends := check.Must(wedge.NewPath([]wedge.Leg{{Speed: 5900}}, nil))
	c := randomCapture(33, 5, 2000, fmc.FullPairs(5))
	c.Array.Elements[1].Y, c.Array.Elements[4].Y = 2e-3, -3e-3
	b, f := c.Array.Bandwidth*c.Array.CentreFrequency, c.Array.CentreFrequency
	const step = 0.03e-3
	for _, at := range []r3.Vec{{Z: 9e-3}, {X: 5e-3, Z: 9e-3}, {X: -5e-3, Z: 9e-3}, {Y: 5e-3, Z: 9e-3}, {Y: -5e-3, Z: 9e-3},
		{X: 4e-3, Y: 5e-3, Z: 9e-3}, {X: -4e-3, Y: 5e-3, Z: 9e-3}, {X: 4e-3, Y: -5e-3, Z: 9e-3}, {X: -4e-3, Y: -5e-3, Z: 9e-3}} {
		for _, test := range []struct {
			count int
			speed float64 // along the receiving path, m/s
		}{{1, 5900}, {2, 5900}, {2, 3240}} {
			count := test.count
			g := Grid{Origin: at, Step: r3.Vec{X: step, Y: step, Z: step}, Cols: 2, Rows: 2, Slices: count}
			points := g.Points()
			tx := check.Must(sends.Times(background, c.Array.Elements, points, nil))
			rx := tx
			if test.speed != 5900 {
				rx = check.Must(check.Must(wedge.NewPath([]wedge.Leg{{Speed: test.speed}}, nil)).Times(background, c.Array.Elements, points, nil))
			}
			p := check.Must(NewPlan(c, g, tx, rx, nil))
			want := 0.0
			for _, dx := range []float64{-step / 2, step / 2} {
				for _, dy := range []float64{-step / 2, step / 2} {
					peak := r3.Add(at, r3.Vec{X: dx, Y: dy * float64(count-1), Z: step / 2})
					var sum complex128
					for _, pair := range c.Pairs {
						longer := func(e int) float64 { // m
							element := c.Array.Elements[e]
							return r3.Norm(r3.Sub(peak, element)) - r3.Norm(r3.Sub(at, element))
						}
						u := longer(pair.Tx)/5900 + longer(pair.Rx)/test.speed
						sum += cmplx.Rect(math.Exp(-math.Pow(math.Pi*b*u, 2)/(4*math.Ln2)), -2*math.Pi*f*u)
					}
					want = max(want, -20*math.Log10(cmplx.Abs(sum)/float64(len(c.Pairs))))
				}
			}
			got := newSampling(newCoverage(p, c, tx, rx), g, c.Array).loss(0)
			if !(math.Abs(got-want) <= 0.02*want) {
				t.Errorf("%v, %d slices: %.5f dB expected, %.5f dB lost", at, count, got, want)
			}
		}
	}
}

// TestCoarsePixels wants the state of each pixel from the loss at this pixel, in a grid that is
// coarse in a part of it and that ends within blocks. Pixels near the limit may take another state
// from their block.
func TestCoarsePixels(t *testing.T) {
	path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: 5900}}, nil))
	c := randomCapture(34, 1, 4000, fmc.FullPairs(1))
	const step = 0.43e-3
	g := Grid{Origin: r3.Vec{X: -32e-3, Z: 30e-3}, Step: r3.Vec{X: step, Y: step / 100, Z: step}, Cols: 93, Rows: 22, Slices: 2}
	times := check.Must(path.Times(background, c.Array.Elements, g.Points(), nil))
	p := check.Must(NewPlan(c, g, times, times, nil))
	s := newSampling(newCoverage(p, c, times, times), g, c.Array)
	count := map[bool]int{}
	for i := range g.Len() {
		loss := s.loss(i)
		want := loss > coarseLoss
		if math.Abs(loss-coarseLoss) < 0.3 {
			continue
		}
		count[want]++
		if got := p.states[i]&CoarseGrid != 0; got != want {
			t.Fatalf("pixel %d: coarse %v with a loss of %v dB", i, got, loss)
		}
	}
	if count[true] < 500 || count[false] < 500 {
		t.Errorf("%v pixels are coarse, or not: too few to tell", count)
	}
}

// TestCoarseLoss compares the loss that a plan expects with the loss of an echo at one pixel
// half a step off along both axes, in the worse of the two directions.
func TestCoarseLoss(t *testing.T) {
	path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: 3240}}, nil))
	for _, at := range []r3.Vec{{Z: 8e-3}, {Z: 15e-3}, {X: 6e-3, Z: 15e-3}, {X: -14e-3, Z: 25e-3}} {
		for _, bandwidth := range []float64{0.3, 0.6, 1} {
			c := echoes(path, 16, bandwidth, at)
			for _, step := range []float64{0.1e-3, 0.15e-3, 0.2e-3} {
				t.Run(fmt.Sprintf("x=%v/z=%v/bandwidth=%v/step=%v", at.X, at.Z, bandwidth, step), func(t *testing.T) {
					value := func(p r3.Vec) float64 {
						g := Grid{Origin: p, Step: r3.Vec{X: step, Y: step, Z: step}, Cols: 1, Rows: 1, Slices: 1}
						times := check.Must(path.Times(background, c.Array.Elements, g.Points(), nil))
						e := check.Must(check.Must(NewPlan(c, g, times, times, &Options{Band: Band{0.3e6, 30e6}})).Image(background, c)).Envelope(nil)
						return float64(e.Data[0])
					}
					top, lowest := value(at), math.Inf(1)
					for _, side := range []float64{-1, 1} {
						lowest = min(lowest, value(r3.Add(at, r3.Vec{X: side * step / 2, Z: step / 2})))
					}
					lost := 20 * math.Log10(top/lowest)
					g := Grid{Origin: at, Step: r3.Vec{X: step, Y: step, Z: step}, Cols: 2, Rows: 2, Slices: 1}
					times := check.Must(path.Times(background, c.Array.Elements, g.Points(), nil))
					p := check.Must(NewPlan(c, g, times, times, nil))
					want := newSampling(newCoverage(p, c, times, times), g, c.Array).loss(0)
					if !(math.Abs(lost-want) <= 0.04+0.08*want) {
						t.Errorf("%.3f dB lost, expected %.3f", lost, want)
					}
				})
			}
		}
	}
}
