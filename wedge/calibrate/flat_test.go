// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestFaceBent bends a face: along the array it leaves the plane by a parabola, or by one and a half
// waves. A bend below the harmless bend is accepted, a bend well above the limit is refused. The
// elements have delays, which must not be taken for a bend.
func TestFaceBent(t *testing.T) {
	elements := elementsOf(32, 0.6e-3)
	parabola := func(u float64) float64 { return math.Sqrt(5) * (3*u*u - 1) / 2 }
	waves := func(u float64) float64 { return math.Sqrt2 * math.Sin(1.5*math.Pi*u) }
	for _, shape := range []struct {
		name string
		at   func(u float64) float64 // of rms 1
		// Trend and mean go to angle and distance.
	}{{"parabola", parabola}, {"waves", waves}} {
		for _, test := range []struct {
			delays, bend float64 // standard deviation of the delays, rms of the bend of the times, s
			least, most  int     // of 40 faces refused
		}{
			{1e-9, 5e-9, 0, 0},
			{1e-9, 30e-9, 40, 40},
			{10e-9, 5e-9, 0, 1},
			{10e-9, 60e-9, 38, 40},
		} {
			rng := rand.New(rand.NewPCG(31, 32))
			refused := 0
			for range 40 {
				arrivals := pulseEchoes(faceArrivals(elements, 12e-3, 20*degree, 0, 2340))
				for i := range arrivals {
					u := elements[i].X / elements[31].X
					arrivals[i].Time += test.delays*rng.NormFloat64() + test.bend*shape.at(u)
				}
				_, err := Face(elements, arrivals, &Options{Speed: Estimate{Value: 2340}})
				if errors.Is(err, ErrNotFlat) {
					refused++
				} else if err != nil {
					t.Fatal(err)
				}
			}
			if refused < test.least || refused > test.most {
				t.Errorf("%s of %v ns, delays of %v ns: %d of 40 refused, want %d to %d",
					shape.name, test.bend*1e9, test.delays*1e9, refused, test.least, test.most)
			}
		}
	}
}

// TestFaceFalseAlarm counts the flat faces that the test for bends refuses: at most one in a
// thousand, if the delays of the elements are independent.
func TestFaceFalseAlarm(t *testing.T) {
	trials := 1000
	if testing.Short() {
		trials = 200
	}
	rng := rand.New(rand.NewPCG(33, 34))
	elements := elementsOf(16, 0.6e-3)
	refused := 0
	for range trials {
		arrivals := pulseEchoes(faceArrivals(elements, 12e-3, 20*degree, 0, 2340))
		for i := range arrivals {
			arrivals[i].Time += 25e-9 * rng.NormFloat64() // well above the harmless bend
		}
		if _, err := Face(elements, arrivals, &Options{Speed: Estimate{Value: 2340}}); err != nil {
			refused++
		}
	}
	// Of a thousand, more than 5 are refused once in 1,700 times.
	if refused > 5 {
		t.Errorf("%d of %d flat faces refused, want at most 5", refused, trials)
	}
}

// TestFaceQuiet checks that times without noise leave uncertainties: finite ones above 0.
func TestFaceQuiet(t *testing.T) {
	line, matrix := elementsOf(32, 0.6e-3), matrixElements(8, 6, 1e-3)
	for _, test := range []struct {
		name     string
		elements []r3.Vec
		angle    float64
		options  Options
		only     func([]Arrival) []Arrival
	}{
		{"wedge", line, 36 * degree, Options{Speed: Estimate{Value: 2340}}, nil},
		{"wedge, speed found", line, 36 * degree, Options{}, nil},
		{"wedge, pulse-echo", line, 36 * degree, Options{Speed: Estimate{Value: 2340}}, pulseEchoes},
		{"level", line, 0, Options{Speed: Estimate{Value: 2340}}, nil},
		{"matrix", matrix, 10 * degree, Options{Speed: Estimate{Value: 2340}}, nil},
		{"plate", line, 0, Options{Facing: Parallel}, nil},
		{"block", line, 0, Options{Facing: Parallel, Distance: Estimate{Value: 12e-3}}, pulseEchoes},
		{"four elements", line[:4], 10 * degree, Options{Speed: Estimate{Value: 2340}}, nil},
		{"one element", []r3.Vec{{}}, 0, Options{Facing: Parallel, Speed: Estimate{Value: 2340}}, nil},
	} {
		arrivals := faceArrivals(test.elements, 12e-3, test.angle, 0, 2340)
		if len(test.elements) == 4 { // not around the origin
			arrivals = faceArrivals(elementsOf(4, 0.6e-3), 12e-3, test.angle, 0, 2340)
		}
		if test.only != nil {
			arrivals = test.only(arrivals)
		}
		c, err := Face(test.elements, arrivals, &test.options)
		if err != nil {
			t.Errorf("%s: %v", test.name, err)
			continue
		}
		values := append([]Estimate{c.Speed, c.Distance}, c.Heights...)
		values = append(values, c.Delays...)
		if test.options.Facing == Inclined {
			values = append(values, c.Angle)
		}
		for i, e := range values {
			if !(math.Abs(e.Value) < math.Inf(1)) || !(e.Uncertainty > 0 && e.Uncertainty < math.Inf(1)) {
				t.Errorf("%s: estimate %d is %v ± %v: want an uncertainty above 0", test.name, i, e.Value, e.Uncertainty)
			}
		}
		for e, d := range c.Delays { // a hundredth of the uncertainty of the offset, over many pairs
			if !(d.Uncertainty >= 1e-11) {
				t.Errorf("%s: delay of element %d has the uncertainty %v s: want at least 10 ps", test.name, e, d.Uncertainty)
			}
		}
		for i, e := range []Estimate{c.Angle, c.Roof, c.Speed, c.Distance} {
			if u := math.Sqrt(c.Covariance[i][i]); !(math.Abs(u-e.Uncertainty) <= 1e-9*u) {
				t.Errorf("%s: covariance of estimate %d gives %v, its uncertainty is %v", test.name, i, u, e.Uncertainty)
			}
		}
	}
}

// TestFaceSensitivity checks the effects of 1 ns on a speed that is found, as the documentation states
// them: of an oblique delay at 20°, and of a common delay.
func TestFaceSensitivity(t *testing.T) {
	elements := elementsOf(32, 0.6e-3)
	for _, test := range []struct {
		name            string
		angle           float64
		oblique, common float64 // s
		want            float64 // relative change of the speed
	}{
		{"oblique, level", 0, 1e-9, 0, -0.85e-3},
		{"oblique, wedge", 36 * degree, 1e-9, 0, -0.28e-3},
		{"common, level", 0, 0, 1e-9, -0.05e-3},
		{"common, wedge", 36 * degree, 0, 1e-9, -0.02e-3},
	} {
		arrivals := faceArrivals(elements, 11.7e-3, test.angle, 0, 2340) // 10 µs
		for i, a := range arrivals {
			sine := (elements[a.Transmit].X - elements[a.Receive].X) * math.Cos(test.angle) / (a.Time * 2340)
			arrivals[i].Time += test.common + test.oblique*sine*sine/(obliqueSine*obliqueSine)
		}
		c, err := Face(elements, arrivals, nil)
		if err != nil {
			t.Fatal(err)
		}
		if change := c.Speed.Value/2340 - 1; !(change/test.want >= 0.7 && change/test.want <= 1.4) {
			t.Errorf("%s delay of 1 ns: the speed changes by %.3g, want %v", test.name, change, test.want)
		}
	}
}

// TestFaceCovarianceSigns changes the given speed and the given offset. The other values must change
// as the covariance says.
func TestFaceCovarianceSigns(t *testing.T) {
	elements := elementsOf(16, 0.6e-3)
	arrivals := faceArrivals(elements, 12e-3, 30*degree, 0, 2340)
	const speed, distance, offset = 2, 3, 4
	at := func(moreSpeed, moreOffset, uSpeed, uOffset float64) ([5]float64, [5][5]float64) {
		c, err := Face(elements, arrivals, &Options{Oblique: 1e-10,
			Speed: Estimate{2340 + moreSpeed, uSpeed}, Offset: Estimate{moreOffset, uOffset}})
		if err != nil {
			t.Fatal(err)
		}
		return [5]float64{c.Angle.Value, c.Roof.Value, c.Speed.Value, c.Distance.Value, moreOffset}, c.Covariance
	}
	for _, test := range []struct {
		name                                 string
		given                                int
		moreSpeed, moreOffset, uSpeed, uTime float64
	}{
		{"speed", speed, 1, 0, 50, 1e-13},
		{"offset", offset, 0, 1e-9, 1e-9, 1e-7},
	} {
		before, covariance := at(0, 0, test.uSpeed, test.uTime)
		after, _ := at(test.moreSpeed, test.moreOffset, test.uSpeed, test.uTime)
		for _, value := range []int{0, distance} {
			got := after[value] - before[value]
			want := covariance[value][test.given] / covariance[test.given][test.given] * (after[test.given] - before[test.given])
			if !(math.Abs(got-want) <= 0.02*math.Abs(want)+1e-9) {
				t.Errorf("%s: value %d changes by %v, its covariance says %v", test.name, value, got, want)
			}
		}
	}
}

// TestFaceStrayPairEchoes checks that a face is refused on which the pulse-echo arrivals agree, but
// not the pairs: a corner in the part may have such echoes.
func TestFaceStrayPairEchoes(t *testing.T) {
	rng := rand.New(rand.NewPCG(35, 36))
	elements := elementsOf(16, 0.6e-3)
	arrivals := faceArrivals(elements, 12e-3, 20*degree, 0, 2340)
	for i, a := range arrivals {
		if a.Transmit != a.Receive {
			arrivals[i].Time += 1e-6 * (2*rng.Float64() - 1)
		}
	}
	_, err := Face(elements, arrivals, &Options{Speed: Estimate{Value: 2340}})
	if !errors.Is(err, ErrUndetermined) || !strings.Contains(err.Error(), "pairs of elements") {
		t.Errorf("error %v: want %v, for the pairs", err, ErrUndetermined)
	}
}

// TestFaceOfTurnedLine turns an array of one row in its plane. Rounding does not matter; a row that
// follows neither axis is refused with the reason.
func TestFaceOfTurnedLine(t *testing.T) {
	line := elementsOf(16, 0.6e-3)
	for _, test := range []struct {
		name  string
		turn  float64 // rad
		angle float64 // of the face along the row, rad
		roof  bool    // whether the angle is the roof angle
		want  string  // of the error
	}{
		{"half a turn", math.Pi, -20 * degree, false, ""},
		{"a quarter of a turn", math.Pi / 2, 20 * degree, true, ""},
		{"a diagonal", math.Pi / 4, 0, false, "at 45° to the x axis"},
		{"a hundredth of a degree", 0.01 * degree, 0, false, "at 0.01° to the x axis"},
	} {
		arrivals := faceArrivals(line, 12e-3, 20*degree, 0, 2340)
		elements := make([]r3.Vec, len(line))
		for i, e := range line {
			elements[i] = r3.Vec{X: e.X * math.Cos(test.turn), Y: e.X * math.Sin(test.turn)}
		}
		for i, e := range elements[:15] {
			if e == elements[i+1] {
				t.Fatalf("%s: elements %d and %d coincide", test.name, i, i+1)
			}
		}
		options := Options{Speed: Estimate{Value: 2340}}
		c, err := Face(elements, arrivals, &options)
		if test.want != "" {
			check.Error(t, err, "calibrate: ", test.want)
			options.Facing = Parallel
			if _, err := Face(elements, faceArrivals(line, 12e-3, 0, 0, 2340), &options); err != nil {
				t.Errorf("%s, parallel: %v", test.name, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", test.name, err)
			continue
		}
		got, other := c.Angle, c.Roof
		if test.roof {
			got, other = other, got
		}
		if !(math.Abs(got.Value-test.angle) <= 1e-6) || other != (Estimate{}) {
			t.Errorf("%s: angle %v rad, other angle %v; want %v rad and none", test.name, got.Value, other, test.angle)
		}
	}
}

// TestFaceOfFewElements checks that a speed is not found from so few arrivals that they do not show
// their noise. Of arrays of four elements the intervals hold the truth.
func TestFaceOfFewElements(t *testing.T) {
	rng := rand.New(rand.NewPCG(37, 38))
	for _, n := range []int{2, 3, 4} {
		elements := elementsOf(n, 0.6e-3)
		held, found := 0, 0
		for range 200 {
			arrivals := faceArrivals(elements, 12e-3, 20*degree, 0, 2340)
			for i := range arrivals {
				arrivals[i].Time += 5e-9 * rng.NormFloat64()
			}
			c, err := Face(elements, arrivals, nil)
			if errors.Is(err, ErrUndetermined) {
				continue
			} else if err != nil {
				t.Fatal(err)
			}
			found++
			if math.Abs(c.Speed.Value-2340) <= 2*c.Speed.Uncertainty {
				held++
			}
		}
		if n < 4 && found > 0 || n == 4 && !(found >= 100 && held >= found*9/10) {
			t.Errorf("%d elements: a speed was found %d times, its interval holds the truth %d times", n, found, held)
		}
	}
}
