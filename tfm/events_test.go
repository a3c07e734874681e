// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// eventCapture returns a capture of events of an array, all zeros.
func eventCapture(array fmc.Array, events []fmc.Event) *fmc.Capture {
	return check.Must(fmc.New(fmc.Capture{
		Array: array, Events: events, Pairs: fmc.EventPairs(len(events), len(array.Elements)), Samples: 4, SampleRate: 50e6,
	}))
}

// contact returns the times in a medium without end.
func contact(array fmc.Array, points []r3.Vec, speed float64) *wedge.Times {
	var seconds []float32
	for _, e := range array.Elements {
		for _, p := range points {
			seconds = append(seconds, float32(r3.Norm(r3.Sub(p, e))/speed))
		}
	}
	return check.Must(wedge.NewTimes(nil, array.Elements, points, seconds))
}

// spread returns the range of the times at which an event arrives from its elements.
func spread(e fmc.Event, times *wedge.Times, p int) float64 {
	first, last := math.Inf(1), math.Inf(-1)
	for i, d := range e.Delays {
		if e.Weights[i] != 0 {
			t := d + float64(times.Seconds[i*times.Points+p])
			first, last = min(first, t), max(last, t)
		}
	}
	return last - first
}

// TestEventTimes compares with closed forms of waves in a medium without end, at
// points that the ray from the virtual source reaches through the aperture, and at
// others, which have no time.
func TestEventTimes(t *testing.T) {
	const speed = 5900.0
	probe := fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
	line := check.Must(fmc.LinearArray(40, 0.6e-3, probe))
	matrix := check.Must(fmc.MatrixArray(24, 18, 0.6e-3, 0.7e-3, probe))
	section := check.Must(NewSection(-36e-3, 36e-3, 3e-3, 30e-3, 0.9e-3))
	volume := check.Must(NewVolume(r3.Vec{X: -20e-3, Y: -16e-3, Z: 5e-3}, r3.Vec{X: 20e-3, Y: 16e-3, Z: 12e-3}, r3.Vec{X: 2.3e-3, Y: 2.1e-3, Z: 2.3e-3}))
	skew := r3.Unit(r3.Vec{X: 0.3, Y: -0.25, Z: 1})
	for _, test := range []struct {
		name  string
		array fmc.Array
		grid  Grid
		make  func(fmc.Array, float64, []r3.Vec) ([]fmc.Event, error)
		at    r3.Vec
		bent  float64 // m³: the cube of the spacing, twice for a matrix
	}{
		{"plane wave", line, section, transmit.PlaneWaves, r3.Vec{Z: 1}, 0.6e-3 * 0.6e-3 * 0.6e-3},
		{"plane wave, steered", line, section, transmit.PlaneWaves, r3.Vec{X: 0.5, Z: math.Sqrt(0.75)}, 0.6e-3 * 0.6e-3 * 0.6e-3},
		{"diverging", line, section, transmit.Diverging, r3.Vec{X: 2e-3, Z: -10e-3}, 0.6e-3 * 0.6e-3 * 0.6e-3},
		{"focused", line, section, transmit.Focused, r3.Vec{X: -3e-3, Z: 14e-3}, 0.6e-3 * 0.6e-3 * 0.6e-3},
		{"matrix, plane wave out of the section", matrix, volume, transmit.PlaneWaves, skew, 2 * 0.7e-3 * 0.7e-3 * 0.7e-3},
		{"matrix, diverging", matrix, volume, transmit.Diverging, r3.Vec{X: 1e-3, Y: -1e-3, Z: -9e-3}, 2 * 0.7e-3 * 0.7e-3 * 0.7e-3},
	} {
		t.Run(test.name, func(t *testing.T) {
			events := check.Must(test.make(test.array, speed, []r3.Vec{test.at}))
			points := test.grid.Points()
			table := contact(test.array, points, speed)
			got := check.Must(EventTimes(background, eventCapture(test.array, events), table, nil))
			// The wave passes the middle of the array as its law says.
			middle := len(test.array.Elements) / 2
			corner := r3.Scale(-1, test.array.Elements[0]) // half the aperture, between centres
			reached, dark := 0, 0
			for p, at := range points {
				if test.name == "focused" && math.Abs(at.Z-test.at.Z) < 1e-3 {
					continue // almost a focus: no ray from the source says where it is lit
				}
				entry := entryOf(test.at, at)
				wave := func(q r3.Vec) float64 { return waveOf(test.at, q) / speed }
				seconds := float64(got.Seconds[p])
				if spread(events[0], table, p) <= 0.5/probe.CentreFrequency {
					if math.IsNaN(seconds) {
						t.Fatalf("no time at %v, where all arrives together", at)
					}
					continue
				}
				beyond := max(math.Abs(entry.X)-corner.X, math.Abs(entry.Y)-corner.Y)
				switch want := wave(at) - wave(test.array.Elements[middle]) + events[0].Delays[middle]; {
				case beyond <= 0:
					reached++
					limit := 0.2*test.bent/speed*(1/r3.Norm2(r3.Sub(at, entry))+bend(test.at, entry)) + 3e-12
					if !(math.Abs(seconds-want) <= limit) {
						t.Fatalf("%.4f µs at %v, want %.4f within %.2g", seconds*1e6, at, want*1e6, limit)
					}
				case beyond > 0.8e-3:
					dark++
					if !math.IsNaN(seconds) {
						t.Fatalf("%.4f µs at %v, %.2f mm beyond the aperture, want none", seconds*1e6, at, beyond*1e3)
					}
				}
			}
			if reached < 50 || dark < 50 {
				t.Errorf("%d points reached and %d not: too few for a test", reached, dark)
			}
		})
	}
}

// direction reports whether a source is the direction of a plane wave, and not a place.
func direction(source r3.Vec) bool { return r3.Norm(source) > 0.9 }

// entryOf returns where the ray from a source to a point crosses the array, z = 0.
func entryOf(source, at r3.Vec) r3.Vec {
	along, share := source, at.Z/source.Z
	if !direction(source) {
		along, share = r3.Sub(at, source), at.Z/(at.Z-source.Z)
	}
	return r3.Sub(at, r3.Scale(share, along))
}

// waveOf returns how far the wave from a source has come at a place, from an origin of
// its own; towards a focus distances are negative.
func waveOf(source, at r3.Vec) float64 {
	if direction(source) {
		return r3.Dot(at, source)
	}
	return math.Copysign(r3.Norm(r3.Sub(at, source)), at.Z-source.Z)
}

// bend returns how bent the law of a source at a place is: the inverse of its squared
// distance, or 0 for a direction.
func bend(source, place r3.Vec) float64 {
	if direction(source) {
		return 0
	}
	return 1 / r3.Norm2(r3.Sub(source, place))
}

// TestOpeningAngle: a wave from a source at the distance F behind the array insonifies the angle
// 2·atan(a/(2F)), where a is the aperture: 124.2333° for F = 10 mm and 63 spacings of 0.6 mm. The
// aperture of a table ends half a spacing beyond the outer elements, so its beam is 0.8° wider.
func TestOpeningAngle(t *testing.T) {
	const speed, depth = 5920.0, 20e-3
	array := check.Must(fmc.LinearArray(64, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	c := eventCapture(array, check.Must(transmit.Diverging(array, speed, []r3.Vec{{Z: -10e-3}})))
	var points []r3.Vec
	for x := 55e-3; x < 60e-3; x += 0.02e-3 {
		points = append(points, r3.Vec{X: x, Z: depth})
	}
	times := check.Must(EventTimes(background, c, contact(array, points, speed), nil))
	edge := slices.IndexFunc(times.Seconds, func(s float32) bool { return s != s })
	if edge < 1 {
		t.Fatalf("the beam ends at point %d of %d", edge, len(points))
	}
	angle := 2 * math.Atan(points[edge].X/(depth+10e-3)) * 180 / math.Pi
	check.Within(t, "opening angle, degrees", angle, 2*math.Atan(64*0.6/20)*180/math.Pi, 0.1)
	check.Within(t, "opening angle of the outer elements, degrees", angle, 124.2333, 0.9)
}

// TestEventTimesAtAFocus checks that at a focus the time is the common arrival time of all waves,
// for any weights. Beside the focus, along the array, it is the mean of the arrival times.
func TestEventTimesAtAFocus(t *testing.T) {
	const speed = 5900.0
	array := check.Must(fmc.LinearArray(32, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	focus := r3.Vec{X: 2e-3, Z: 15e-3}
	events := check.Must(transmit.Focused(array, speed, []r3.Vec{focus}))
	events[0].Weights[3] = 7
	points := []r3.Vec{focus, r3.Add(focus, r3.Vec{X: 0.2e-3}), r3.Add(focus, r3.Vec{X: 5e-3})}
	table := contact(array, points, speed)
	got := check.Must(EventTimes(background, eventCapture(array, events), table, nil))
	want := r3.Norm(r3.Sub(array.Elements[0], focus)) / speed // the farthest, without a delay
	if !(math.Abs(float64(got.Seconds[0])-want) <= 2e-12) {
		t.Errorf("%v s at the focus, want %v", got.Seconds[0], want)
	}
	sum, weight := 0.0, 0.0
	for e, w := range events[0].Weights {
		sum += w * (events[0].Delays[e] + r3.Norm(r3.Sub(array.Elements[e], points[1]))/speed)
		weight += w
	}
	if !(math.Abs(float64(got.Seconds[1])-sum/weight) <= 2e-12) {
		t.Errorf("%v s beside the focus, want %v", got.Seconds[1], sum/weight)
	}
	if !math.IsNaN(float64(got.Seconds[2])) || got.Missing != 1 {
		t.Errorf("%v s far from the focus and %d missing, want NaN and 1", got.Seconds[2], got.Missing)
	}
}

// TestEventTimesThroughASurface: from water into steel a plane wave stays plane, by
// Snell's law, and a wave from a virtual source takes the time of its ray (package
// wedge, solved from the source itself).
func TestEventTimesThroughASurface(t *testing.T) {
	water := material.Isotropic{Density: 998, Longitudinal: 1483}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	s := check.Must(wedge.NewPlate(&water, steel, 40e-3))
	array := check.Must(fmc.LinearArray(48, 0.4e-3, fmc.Array{Width: 0.3e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	const height = 12e-3
	for e := range array.Elements {
		array.Elements[e].Z = -height
	}
	path := check.Must(s.Path([]material.Mode{material.L}))
	grid := check.Must(NewSection(-1e-3, 5e-3, 3e-3, 12e-3, 0.5e-3))
	points := grid.Points()
	table := check.Must(path.Times(background, array.Elements, points, nil))
	sin := 0.1
	waves := check.Must(transmit.PlaneWaves(array, water.Longitudinal, []r3.Vec{{X: sin, Z: math.Sqrt(1 - sin*sin)}}))
	source := r3.Vec{X: 1e-3, Z: -30e-3}
	diverging := check.Must(transmit.Diverging(array, water.Longitudinal, []r3.Vec{source}))
	got := check.Must(EventTimes(background, eventCapture(array, append(waves, diverging...)), table, nil))
	sinSteel := sin * steel.Longitudinal / water.Longitudinal
	for p, at := range points {
		first := array.Elements[0]
		want := waves[0].Delays[0] + ((at.X-first.X)*sin+height*math.Sqrt(1-sin*sin))/water.Longitudinal +
			at.Z*math.Sqrt(1-sinSteel*sinSteel)/steel.Longitudinal
		if seconds := float64(got.Seconds[p]); !(math.Abs(seconds-want) <= 0.3e-9) {
			t.Fatalf("plane wave: %.4f µs at %v, want %.4f", seconds*1e6, at, want*1e6)
		}
		want = path.Solve(source, at).Time - r3.Norm(r3.Sub(first, source))/water.Longitudinal + diverging[0].Delays[0]
		if seconds := float64(got.Seconds[len(points)+p]); !(math.Abs(seconds-want) <= 0.3e-9) {
			t.Fatalf("diverging wave: %.4f µs at %v, want %.4f", seconds*1e6, at, want*1e6)
		}
	}
	if got.Missing != 0 {
		t.Errorf("%d times missing, want none", got.Missing)
	}
}

// TestEventTimesOfElements checks that the time of an element that fires alone is the time of the
// element plus its delay.
func TestEventTimesOfElements(t *testing.T) {
	c := randomCapture(1, 5, 300, fmc.FullPairs(5))
	grid := check.Must(NewSection(-5e-3, 5e-3, -1e-3, 10e-3, 0.8e-3)) // no rays in the upper rows
	table, _ := tables(plate(), "L-L", c, grid)
	events := alone(5, 0, 1, 2, 3, 4)
	events[3].Delays[3] = 1e-6
	got := check.Must(EventTimes(background, eventCapture(c.Array, events), table, nil))
	want := *table
	want.Seconds = append([]float32{}, table.Seconds...)
	for p := range grid.Len() {
		want.Seconds[3*grid.Len()+p] = float32(float64(want.Seconds[3*grid.Len()+p]) + 1e-6)
	}
	if diff := cmp.Diff(want.Seconds, got.Seconds, cmp.Comparer(sameBits)); diff != "" || got.Missing != want.Missing || want.Missing == 0 {
		t.Errorf("%d times missing, want %d; times (-want +got):\n%s", got.Missing, want.Missing, diff)
	}
}

func sameBits(a, b float32) bool { return math.Float32bits(a) == math.Float32bits(b) }

// TestEventsAgainstDoubleLoop images captures of fewer, as many and more events than
// elements, with every kernel.
func TestEventsAgainstDoubleLoop(t *testing.T) {
	const elements, samples = 6, 600
	grid := check.Must(NewSection(-5e-3, 5e-3, -0.5e-3, 12e-3, 0.37e-3))
	for _, test := range []struct {
		name   string
		events int
		pairs  func(events int) []fmc.Pair
	}{
		{"few", 2, func(n int) []fmc.Pair { return fmc.EventPairs(n, elements) }},
		{"as many as elements", elements, func(n int) []fmc.Pair { return fmc.EventPairs(n, elements) }},
		{"many", 21, func(n int) []fmc.Pair { return fmc.EventPairs(n, elements) }},
		{"in the order of a half matrix, which they are not", elements, func(int) []fmc.Pair { return fmc.HalfPairs(elements) }},
		{"a list", 9, func(int) []fmc.Pair {
			return []fmc.Pair{{Tx: 8, Rx: 0}, {Tx: 0, Rx: 5}, {Tx: 5, Rx: 0}, {Tx: 7, Rx: 3}}
		}},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := randomCapture(3, elements, samples, fmc.FullPairs(elements))
			table, _ := tables(plate(), "L-L", c, grid)
			rng := rand.New(rand.NewPCG(4, uint64(test.events)))
			for range test.events {
				sin := rng.Float64() - 0.5
				c.Events = append(c.Events, check.Must(transmit.PlaneWaves(c.Array, 5920, []r3.Vec{{X: sin, Z: math.Sqrt(1 - sin*sin)}}))...)
			}
			c.Pairs, c.Data = test.pairs(test.events), nil
			c = check.Must(fmc.New(*c))
			for i := range c.Data {
				c.Data[i] = float32(rng.NormFloat64())
			}
			tx := check.Must(EventTimes(background, c, table, nil))
			want := doubleLoop(t, c, grid, tx, table, Options{})
			eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
				got := check.Must(check.Must(NewPlan(c, grid, tx, table, &o)).Image(background, c))
				wantImage(t, got.Data, want, tolerance)
			})
		})
	}
}

// TestOneTableForEvents: as many events as elements, and the same times for both paths,
// make no reciprocal pairs.
func TestOneTableForEvents(t *testing.T) {
	c := randomCapture(5, 4, 300, fmc.FullPairs(4))
	grid := check.Must(NewSection(-3e-3, 3e-3, 2e-3, 9e-3, 0.5e-3))
	table, _ := tables(plate(), "L-L", c, grid)
	c.Events = check.Must(transmit.Hadamard(4))
	want := doubleLoop(t, c, grid, table, table, Options{})
	events := check.Must(NewEventTimes(c, table.MadeFor.Path, grid.Points(), table.Seconds))
	got := check.Must(check.Must(NewPlan(c, grid, events, table, nil)).Image(background, c))
	wantImage(t, got.Data, want, 5e-6)
}

func TestEventTimesRefuse(t *testing.T) {
	array := check.Must(fmc.MatrixArray(5, 4, 1e-3, 1e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	points := []r3.Vec{{Z: 5e-3}, {X: 1e-3, Z: 6e-3}}
	table := contact(array, points, 5900)
	single := alone(20, 7)
	codes := check.Must(transmit.Hadamard(20))
	scattered := alone(20, 7)
	for _, e := range []int{0, 3, 11, 18} {
		scattered[0].Weights[e] = 1
	}
	// Two rows of five and two elements of a third: what is left of a lattice of two rows
	// would leave out the last two.
	incomplete := alone(20, 0)
	for e := range 12 {
		incomplete[0].Weights[e] = 1
	}
	part := *table
	part.Elements--
	for _, test := range []struct {
		name  string
		c     *fmc.Capture
		table *wedge.Times
		words []string
	}{
		{"no capture", nil, table, []string{"without a capture"}},
		{"no table", eventCapture(array, single), nil, []string{"without a capture or a table"}},
		{"zero capture", new(fmc.Capture), table, []string{"array of 0 elements"}},
		{"no events", check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(20), Samples: 1, SampleRate: 1})), table, []string{"without events"}},
		{"table of other elements", eventCapture(array, single), &part, []string{"19 elements", "want 20"}},
		{"empty table", eventCapture(array, single), &wedge.Times{Elements: 20}, []string{"0 points"}},
		{"codes", eventCapture(array, codes), table, []string{"both signs", "decoded", "event 1"}},
		{"an incomplete last row", eventCapture(array, incomplete), table, []string{"12 elements", "neither along a line nor on a lattice"}},
		{"scattered elements", eventCapture(array, append(single, scattered...)), table, []string{"neither along a line nor on a lattice", "event 1"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := EventTimes(background, test.c, test.table, nil)
			check.Error(t, err, test.words...)
		})
	}
	ctx, cancel := context.WithCancel(background)
	cancel()
	if _, err := EventTimes(ctx, eventCapture(array, single), table, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want %v", err, context.Canceled)
	}
	_, err := NewPlan(eventCapture(array, single), check.Must(NewSection(0, 1e-3, 5e-3, 5e-3, 1e-3)), table, table, nil)
	check.Error(t, err, "transmitting table of 20 elements", "want 1 elements")
}

// TestLattices: which elements may send together.
func TestLattices(t *testing.T) {
	matrix := check.Must(fmc.MatrixArray(6, 5, 1e-3, 1.2e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	var arc []r3.Vec
	for i := range 9 {
		sin, cos := math.Sincos(0.2 * float64(i))
		arc = append(arc, r3.Vec{X: 10e-3 * sin, Z: -10e-3 * cos})
	}
	bent := matrix
	bent.Elements = arc
	pick := func(accept func(col, row int) bool) (numbers []int) {
		for e := range matrix.Elements {
			if accept(e%6, e/6) {
				numbers = append(numbers, e)
			}
		}
		return numbers
	}
	for _, test := range []struct {
		name       string
		array      fmc.Array
		elements   []int
		cols, rows int
	}{
		{"all", matrix, pick(func(c, r int) bool { return true }), 6, 5},
		{"every second column", matrix, pick(func(c, r int) bool { return c%2 == 0 }), 3, 5},
		{"a corner", matrix, pick(func(c, r int) bool { return c > 2 && r < 2 }), 3, 2},
		{"a row", matrix, pick(func(c, r int) bool { return r == 3 }), 6, 1},
		{"a column", matrix, pick(func(c, r int) bool { return c == 3 }), 5, 1},
		{"two columns", matrix, pick(func(c, r int) bool { return c < 2 }), 2, 5},
		{"one", matrix, []int{17}, 1, 1},
		{"two", matrix, []int{0, 29}, 2, 1},
		{"an arc", bent, []int{0, 1, 2, 3, 4, 5, 6, 7, 8}, 9, 1},
		{"a triangle", matrix, pick(func(c, r int) bool { return c <= r }), 0, 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			event := fmc.Event{Delays: make([]float64, len(test.array.Elements)), Weights: make([]float64, len(test.array.Elements))}
			for _, e := range test.elements {
				event.Weights[e] = 1
			}
			a, err := newAperture(test.array, event)
			if test.cols == 0 {
				check.Error(t, err, "neither along a line nor on a lattice")
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if a.cols != test.cols || a.rows != test.rows {
				t.Errorf("%d × %d, want %d × %d", a.cols, a.rows, test.cols, test.rows)
			}
		})
	}
}

func TestEventTimesCores(t *testing.T) {
	c := randomCapture(6, 16, 4, fmc.FullPairs(16))
	grid := check.Must(NewSection(-5e-3, 5e-3, 1e-3, 12e-3, 0.3e-3))
	table, _ := tables(plate(), "L-L", c, grid)
	events := check.Must(transmit.Diverging(c.Array, 5920, []r3.Vec{{Z: -3e-3}, {X: 4e-3, Z: -5e-3}, {X: -4e-3, Z: -5e-3}}))
	first := check.Must(EventTimes(background, eventCapture(c.Array, events), table, &wedge.TimesOptions{Workers: 1}))
	if second := check.Must(EventTimes(background, eventCapture(c.Array, events), table, &wedge.TimesOptions{Workers: 3})); !cmp.Equal(first, second, cmp.Comparer(sameBits)) {
		t.Error("times depend on the number of cores")
	}
}

// FuzzStationary: the time of arrivals of any kind is none, or of their size, and moves
// with them.
func FuzzStationary(f *testing.F) {
	f.Add(uint64(1), uint8(5), uint8(1), 1e-6)
	f.Add(uint64(2), uint8(4), uint8(3), 1e-7)
	f.Add(uint64(3), uint8(2), uint8(2), 1e-9)
	f.Fuzz(func(t *testing.T, seed uint64, cols, rows uint8, scale float64) {
		if !(math.Abs(scale) <= 1) {
			return
		}
		a := &aperture{cols: 1 + int(cols%9), rows: 1 + int(rows%5), together: 1e-7}
		rng := rand.New(rand.NewPCG(seed, 8))
		u, v, w := rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()
		var arrivals, later []float64
		for i := range a.cols * a.rows {
			x, y := float64(i%a.cols)-3, float64(i/a.cols)-2
			arrival := scale * (u*x + v*y + w*(x*x+y*y+0.5*x*y) + 0.1*rng.NormFloat64())
			if rng.IntN(50) == 0 {
				arrival = math.NaN()
			}
			arrivals, later = append(arrivals, arrival), append(later, arrival+1)
			a.weights = append(a.weights, 1)
		}
		got, moved := a.time(arrivals), a.time(later)
		if math.IsNaN(got) {
			return // moved by 1 s, arrivals are rounded, and one on the edge may come into it
		}
		// What is fitted reaches at most 1.5 elements beyond the last, on each axis.
		if !(math.Abs(got) <= 100*math.Abs(scale)*(math.Abs(u)+math.Abs(v)+math.Abs(w)+1)) {
			t.Errorf("%v of arrivals %v", got, arrivals)
		}
		if math.Abs(scale) > 1e-3 && !(math.Abs(moved-got-1) <= 1e-9) {
			t.Errorf("%v becomes %v a second later", got, moved)
		}
	})
}

// BenchmarkEventTimes is for 256 × 256 pixels.
func BenchmarkEventTimes(b *testing.B) {
	const elements, events = 64, 15
	array := check.Must(fmc.LinearArray(elements, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	grid := check.Must(NewSection(-25.5e-3, 25.5e-3, 2e-3, 53e-3, 0.2e-3))
	table := contact(array, grid.Points(), 5920)
	var sources []r3.Vec
	for i := range events {
		sources = append(sources, r3.Vec{X: 2e-3 * float64(i-events/2), Z: -10e-3})
	}
	c := eventCapture(array, check.Must(transmit.Diverging(array, 5920, sources)))
	for b.Loop() {
		check.Must(EventTimes(background, c, table, nil))
	}
}

// TestEventBeforeZero images an event whose wave is on its way before time 0: what comes
// back in a short record has then been under way for longer than the record.
func TestEventBeforeZero(t *testing.T) {
	c := randomCapture(27, 3, 100, fmc.EventPairs(2, 3))
	const early = 4e-6
	for range 2 {
		c.Events = append(c.Events, fmc.Event{Delays: []float64{-early, -early, -early}, Weights: []float64{1, 1, 1}})
	}
	c.FirstSample = 0
	g := check.Must(NewSection(-3e-3, 3e-3, 12e-3, 16e-3, 0.2e-3))
	rx, _ := tables(plate(), "L-L", c, g)
	tx := check.Must(NewEventTimes(c, nil, g.Points(), slices.Clone(rx.Seconds[:2*g.Len()])))
	for i := range tx.Seconds {
		tx.Seconds[i] -= early
	}
	want := doubleLoop(t, c, g, tx, rx, Options{})
	eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
		wantImage(t, check.Must(check.Must(NewPlan(c, g, tx, rx, &o)).Image(background, c)).Data, want, tolerance)
	})
}

// alone returns an event for each of the listed elements of an array of n. The element fires alone.
func alone(n int, elements ...int) []fmc.Event {
	var events []fmc.Event
	for _, e := range elements {
		event := fmc.Event{Delays: make([]float64, n), Weights: make([]float64, n)}
		event.Weights[e] = 1
		events = append(events, event)
	}
	return events
}
