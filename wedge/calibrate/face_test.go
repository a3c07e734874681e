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

const degree = math.Pi / 180

// elementsOf returns n elements at a pitch along x, in the frame of the array. A calibration of a
// reference capture knows only this about the positions of its elements.
func elementsOf(n int, pitch float64) []r3.Vec {
	elements := make([]r3.Vec, n)
	for i := range elements {
		elements[i].X = pitch * (float64(i) - float64(n-1)/2)
	}
	return elements
}

// faceArrivals returns the arrivals between all pairs of elements from a face at the given distance
// from the middle of the array, which must be the origin. It uses the mirror image of the
// transmitter in three dimensions.
func faceArrivals(elements []r3.Vec, distance, angle, roof, speed float64) []Arrival {
	a, b := math.Sin(angle), math.Sin(roof)
	normal := r3.Vec{X: -a, Y: -b, Z: math.Sqrt(1 - a*a - b*b)}
	var arrivals []Arrival
	for i, tx := range elements {
		height := distance - r3.Dot(normal, tx)
		image := r3.Add(tx, r3.Scale(2*height, normal))
		for j, rx := range elements {
			arrivals = append(arrivals, Arrival{i, j, r3.Norm(r3.Sub(rx, image)) / speed, 1})
		}
	}
	return arrivals
}

// pulseEchoes returns the arrivals of the pairs in which an element receives its own transmission.
func pulseEchoes(arrivals []Arrival) []Arrival {
	var own []Arrival
	for _, a := range arrivals {
		if a.Transmit == a.Receive {
			own = append(own, a)
		}
	}
	return own
}

func matrixElements(nx, ny int, pitch float64) []r3.Vec {
	var elements []r3.Vec
	for j := range ny {
		for i := range nx {
			elements = append(elements, r3.Vec{X: (float64(i) - float64(nx-1)/2) * pitch, Y: (float64(j) - float64(ny-1)/2) * pitch})
		}
	}
	return elements
}

// TestFaceExact recovers a face from times without error.
func TestFaceExact(t *testing.T) {
	line, matrix := elementsOf(32, 0.6e-3), matrixElements(8, 6, 1e-3)
	for _, test := range []struct {
		name, reason          string
		elements              []r3.Vec
		distance, angle, roof float64
		speed                 float64
		options               Options
		only                  func([]Arrival) []Arrival
	}{
		{"wedge", "the usual one", line, 12e-3, 36 * degree, 0, 2340, Options{Speed: Estimate{Value: 2340}}, nil},
		{"wedge, pulse-echo", "a half matrix may hold no more", line, 12e-3, 36 * degree, 0, 2340, Options{Speed: Estimate{Value: 2340}}, pulseEchoes},
		{"wedge, speed unknown", "from the arrivals between elements", line, 12e-3, 36 * degree, 0, 2340, Options{}, nil},
		{"wedge that fires backwards", "heights fall with x", line, 12e-3, -20 * degree, 0, 2730, Options{Speed: Estimate{Value: 2730}}, nil},
		{"water", "level with the surface", line, 30e-3, 0, 0, 1482, Options{Speed: Estimate{Value: 1482}}, nil},
		{"matrix", "a roof angle too", matrix, 15e-3, 20 * degree, -7 * degree, 2330, Options{Speed: Estimate{Value: 2330}}, nil},
		{"matrix, speed unknown", "all four at once", matrix, 15e-3, 20 * degree, -7 * degree, 2330, Options{}, nil},
		{"plate", "thickness and speed", line, 25e-3, 0, 0, 5920, Options{Facing: Parallel}, nil},
		{"plate, speed known", "a thickness", line, 25e-3, 0, 0, 5920, Options{Facing: Parallel, Speed: Estimate{Value: 5920}}, nil},
		{"block of known thickness", "a speed, from pulse-echo alone", line, 25e-3, 0, 0, 5920, Options{Facing: Parallel, Distance: Estimate{Value: 25e-3}}, pulseEchoes},
		{"tapered plate", "a wall that is not parallel", line, 25e-3, 2 * degree, 0, 5920, Options{}, nil},
		{"one element", "its height alone", line[:1], 25e-3, 0, 0, 5920, Options{Speed: Estimate{Value: 5920}}, nil},
	} {
		t.Run(test.name, func(t *testing.T) {
			elements := test.elements
			if len(elements) == 1 {
				elements = []r3.Vec{{}}
			}
			arrivals := faceArrivals(elements, test.distance, test.angle, test.roof, test.speed)
			if test.only != nil {
				arrivals = test.only(arrivals)
			}
			c, err := Face(elements, arrivals, &test.options)
			if err != nil {
				t.Fatal(err)
			}
			const tolerance = 1e-9
			if !(math.Abs(c.Angle.Value-test.angle) <= tolerance) || !(math.Abs(c.Roof.Value-test.roof) <= tolerance) {
				t.Errorf("angle %v, roof %v: want %v, %v rad",
					c.Angle.Value, c.Roof.Value, test.angle, test.roof)
			}
			if !(math.Abs(c.Distance.Value-test.distance) <= tolerance*test.distance) || !(math.Abs(c.Speed.Value-test.speed) <= tolerance*test.speed) {
				t.Errorf("distance %v m, speed %v m/s: want %v, %v",
					c.Distance.Value, c.Speed.Value, test.distance, test.speed)
			}
			// The placed elements must give the times through the plane z = 0.
			placed := c.Elements()
			for e, p := range placed {
				if !(math.Abs(p.Z+c.Heights[e].Value) <= 1e-15) {
					t.Errorf("element %d placed at z = %v m, its height is %v m",
						e, p.Z, c.Heights[e].Value)
				}
			}
			for _, a := range arrivals {
				image := placed[a.Transmit]
				image.Z = -image.Z
				if got := r3.Norm(r3.Sub(image, placed[a.Receive])) / test.speed; !(math.Abs(got-a.Time) <= 1e-8*a.Time) {
					t.Fatalf("between placed elements %d and %d %v s, want %v s",
						a.Transmit, a.Receive, got, a.Time)
				}
			}
		})
	}
}

// TestFaceExitPoint checks the origin of the placed elements: the ray along the normal of the array
// leaves the wedge there. For the array of weld32 this is the frame of the capture.
func TestFaceExitPoint(t *testing.T) {
	elements := elementsOf(32, 0.6e-3)
	arrivals := faceArrivals(elements, 6e-3+9.3e-3*math.Sin(36*degree), 36*degree, 0, 2340)
	c := check.Must(Face(elements, arrivals, &Options{Speed: Estimate{Value: 2340}}))
	sin, cos := math.Sincos(36 * degree)
	for e := range elements {
		along := 0.6e-3 * float64(e)
		want := r3.Vec{X: -15.854687359e-3 + along*cos, Z: -6e-3 - along*sin}
		if away := r3.Norm(r3.Sub(c.Elements()[e], want)); !(away <= 1e-9) {
			t.Errorf("element %d at %v m: want %v m", e, c.Elements()[e], want)
		}
	}
}

// TestFaceOutliers hides the echo of the floor among stronger echoes, removes some arrivals, and
// shifts others.
func TestFaceOutliers(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	elements := elementsOf(32, 0.6e-3)
	for round := range 20 {
		var arrivals []Arrival
		for _, a := range faceArrivals(elements, 12e-3, 36*degree, 0, 2340) {
			for range 3 {
				arrivals = append(arrivals, Arrival{a.Transmit, a.Receive, 2e-6 + 30e-6*rng.Float64(), 2 * rng.Float64()})
			}
			switch rng.IntN(10) {
			case 0: // missing
				continue
			case 1, 2: // a neighbouring peak taken for it
				a.Time += 80e-9 * (2*rng.Float64() - 1)
			default:
				a.Time += 1e-9 * rng.NormFloat64()
			}
			arrivals = append(arrivals, a)
		}
		c, err := Face(elements, arrivals, &Options{Speed: Estimate{Value: 2340}})
		if err != nil {
			t.Fatal(err)
		}
		if !(math.Abs(c.Angle.Value-36*degree) <= 0.02*degree) || !(math.Abs(c.Distance.Value-12e-3) <= 2e-6) {
			t.Errorf("round %d: angle %v°, distance %v m: want 36°, 12 mm",
				round, c.Angle.Value/degree, c.Distance.Value)
		}
		if c.Used == 0 || c.Used > len(elements)*len(elements) {
			t.Errorf("round %d: %d arrivals used of %d pairs",
				round, c.Used, len(elements)*len(elements))
		}
	}
}

// TestFaceStrength checks that Face takes the stronger of two faces, although a few elements miss
// its echo and all elements see the weaker face.
func TestFaceStrength(t *testing.T) {
	elements := elementsOf(32, 0.6e-3)
	arrivals := faceArrivals(elements, 8e-3, 20*degree, 0, 2340)
	for i := range arrivals {
		arrivals[i].Amplitude = 0.3
	}
	for _, a := range faceArrivals(elements, 12e-3, 36*degree, 0, 2340) {
		if a.Transmit%8 != 3 && a.Receive%8 != 3 {
			arrivals = append(arrivals, a)
		}
	}
	c := check.Must(Face(elements, arrivals, &Options{Speed: Estimate{Value: 2340}}))
	if !(math.Abs(c.Angle.Value-36*degree) <= 1e-9) {
		t.Errorf("angle %v°: want 36°", c.Angle.Value/degree)
	}
}

// TestFaceStrayPairs checks that wrong times of single pairs are not taken for delays of their
// elements.
func TestFaceStrayPairs(t *testing.T) {
	elements := elementsOf(16, 0.6e-3)
	arrivals := faceArrivals(elements, 12e-3, 36*degree, 0, 2340)
	late := map[int]float64{5: 20e-9}
	for i, a := range arrivals {
		arrivals[i].Time += late[a.Transmit] + late[a.Receive]
		if a.Transmit == 7 && a.Receive == 8 || a.Transmit == 2 && a.Receive == 2 {
			arrivals[i].Time += 60e-9
		}
	}
	c := check.Must(Face(elements, arrivals, &Options{Speed: Estimate{Value: 2340}}))
	for e, d := range c.Delays {
		if !(math.Abs(d.Value-late[e]) <= 1e-12) {
			t.Errorf("element %d is late by %v s: want %v", e, d.Value, late[e])
		}
	}
}

// TestFaceUncertainty checks over many seeded sets of times that the errors have the size of the
// uncertainties: the mean square of their ratio is 1.
func TestFaceUncertainty(t *testing.T) {
	if testing.Short() {
		t.Skip("hundreds of fits")
	}
	elements := elementsOf(16, 0.6e-3)
	for _, test := range []struct {
		name         string
		noise, delay float64 // standard deviations, s
		options      Options
		only         func([]Arrival) []Arrival
	}{
		{"noise", 2e-9, 0, Options{Speed: Estimate{Value: 2340}}, nil},
		{"delays", 0.2e-9, 3e-9, Options{Speed: Estimate{Value: 2340}}, nil},
		{"both", 2e-9, 3e-9, Options{Speed: Estimate{Value: 2340}}, nil},
		{"pulse-echo", 2e-9, 3e-9, Options{Speed: Estimate{Value: 2340}}, pulseEchoes},
		{"speed unknown", 2e-9, 3e-9, Options{MaxIncidence: 40 * degree}, nil},
		{"speed and offset uncertain", 1e-9, 1e-9, Options{Speed: Estimate{2340, 10}, Offset: Estimate{0.1e-6, 20e-9}}, nil},
		{"thickness uncertain", 1e-9, 1e-9, Options{Facing: Parallel, Distance: Estimate{12e-3, 30e-6}}, nil},
	} {
		t.Run(test.name, func(t *testing.T) {
			// What has no uncertainty in the table is exact.
			exact := &test.options
			exact.Speed.byDefault(1e-9)
			exact.Distance.byDefault(1e-15)
			exact.Offset.byDefault(1e-15)
			exact.Oblique = 1e-15
			rng := rand.New(rand.NewPCG(7, 8))
			const rounds = 30
			var angle, first, distance, speed, late float64
			tilt := 30 * degree
			if test.options.Facing == Parallel {
				tilt = 0
			}
			for range rounds {
				// The errors of the given values have the size of their uncertainties.
				c := 2340.0
				if test.options.Speed.Value > 0 {
					c += test.options.Speed.Uncertainty * rng.NormFloat64()
				}
				d := 12e-3
				if test.options.Distance.Value > 0 {
					d += test.options.Distance.Uncertainty * rng.NormFloat64()
				}
				offset := test.options.Offset.Value + test.options.Offset.Uncertainty*rng.NormFloat64()
				delays := make([]float64, len(elements))
				for e := range delays {
					delays[e] = test.delay * rng.NormFloat64()
				}
				arrivals := faceArrivals(elements, d, tilt, 0, c)
				for k, a := range arrivals {
					arrivals[k].Time += offset + delays[a.Transmit] + delays[a.Receive] + test.noise*rng.NormFloat64()
				}
				if test.only != nil {
					arrivals = test.only(arrivals)
				}
				got := check.Must(Face(elements, arrivals, &test.options))
				ratio := func(e Estimate, truth float64) float64 { return math.Pow((e.Value-truth)/e.Uncertainty, 2) }
				if tilt != 0 {
					angle += ratio(got.Angle, tilt)
				}
				first += ratio(got.Heights[0], d+elements[0].X*math.Sin(tilt))
				distance += ratio(got.Distance, d)
				speed += ratio(got.Speed, c)
				// Trends are removed, because the fit assigns them to height and angle.
				found := make([]float64, len(elements))
				for e, d := range got.Delays {
					found[e] = d.Value
				}
				untrend(elements, delays)
				untrend(elements, found)
				for e := range delays {
					late += math.Pow((found[e]-delays[e])/got.Delays[e].Uncertainty, 2) / float64(len(elements))
				}
			}
			check := func(name string, mean float64) {
				// The mean of 30 squared ratios has a standard deviation of 0.26. The spread comes from 16
				// delays, which gives a mean of 14/12 (the variance of Student's distribution), less
				// the widening of the spread for this. If there are no delays, the estimate of the
				// spread is still not negative. If the speed is unknown, the scatter widens the oblique
				// delay. So some uncertainties are too large.
				least := 0.4
				if test.options.Speed.Value == 0 {
					least = 0.15
				}
				if !(mean >= least && mean <= 1.6) {
					t.Errorf("mean square of the error of %s over its uncertainty is %.2f: want about 1",
						name, mean)
				}
			}
			if tilt != 0 {
				check("the angle", angle/rounds)
			}
			check("the height of the first element", first/rounds)
			check("the distance", distance/rounds)
			if test.options.Speed.Value == 0 || test.options.Speed.Uncertainty > 0 {
				check("the speed", speed/rounds)
			}
			if test.only == nil {
				check("a delay", late/rounds)
			}
		})
	}
}

// untrend removes the mean and the trend along x from the delays, because a calibration cannot
// distinguish them from a height and an angle. The elements are centred.
func untrend(elements []r3.Vec, delays []float64) {
	var mean, moment, square float64
	for e, d := range delays {
		mean += d / float64(len(delays))
		moment += d * elements[e].X
		square += elements[e].X * elements[e].X
	}
	for e := range delays {
		delays[e] -= mean + moment/square*elements[e].X
	}
}

// TestFaceErrors checks that errors name the argument at fault.
func TestFaceErrors(t *testing.T) {
	line := elementsOf(8, 0.6e-3)
	good := faceArrivals(line, 12e-3, 0.5, 0, 2340)
	known := Estimate{Value: 2340}
	nan := math.NaN()
	for _, test := range []struct {
		name     string
		elements []r3.Vec
		arrivals []Arrival
		options  Options
		want     string
		fit      bool // wraps ErrUndetermined
	}{
		{"no elements", nil, nil, Options{}, "0 elements", false},
		{"element off the plane", []r3.Vec{{Z: 1}}, nil, Options{}, "element 0 of the calibration at z = 1 m", false},
		{"element not finite", []r3.Vec{{X: nan}}, nil, Options{}, "want finite coordinates", false},
		{"elements coincide", []r3.Vec{{}, {}}, nil, Options{}, "elements 0 and 1", false},
		{"arrival of no element", line, []Arrival{{Transmit: 8}}, Options{}, "arrival 0: elements 8 and 0: want 0 to 7", false},
		{"time not finite", line, []Arrival{{Time: nan}}, Options{}, "time NaN s", false},
		{"amplitude below 0", line, []Arrival{{Amplitude: -1}}, Options{}, "amplitude -1", false},
		{"speed below 0", line, good, Options{Speed: Estimate{Value: -1}}, "speed of the calibration -1 m/s", false},
		{"uncertainty not a number", line, good, Options{Speed: Estimate{2340, nan}}, "uncertainty of the speed of the calibration NaN", false},
		{"offset not finite", line, good, Options{Offset: Estimate{Value: math.Inf(1)}}, "offset of the calibration", false},
		{"facing unknown", line, good, Options{Facing: 2}, "facing 2", false},
		{"distance of an inclined face", line, good, Options{Distance: Estimate{Value: 1}}, "want it for a Parallel one only", false},
		{"nothing to find", line, good, Options{Facing: Parallel, Speed: known, Distance: Estimate{Value: 1}}, "both speed and distance", false},
		{"tolerance below 0", line, good, Options{Tolerance: -1}, "tolerance of the calibration -1 s", false},
		{"incidence beyond 90°", line, good, Options{MaxIncidence: 2}, "largest incidence of the calibration 2 rad", false},
		{"no arrivals", line, nil, Options{}, "0 elements have pulse-echo arrivals, want at least 4", true},
		{"pitch-catch only", line, good[1:2], Options{}, "0 elements have pulse-echo arrivals", true},
		{"speed from pulse-echo", line, pulseEchoes(good), Options{}, "from which to find the speed", true},
		{"inclined, called parallel", line, good, Options{Facing: Parallel, Speed: known, Tolerance: 1e-9}, "agree on a flat face", true},
		{"before the pulse", line[:1], []Arrival{{Time: -1e-6}}, Options{Speed: known}, "0 elements have pulse-echo arrivals", true},
		{"speed too high", line, good, Options{Speed: Estimate{Value: 6000}}, "is the speed right?", true},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := Face(test.elements, test.arrivals, &test.options)
			if err == nil || !strings.Contains(err.Error(), test.want) {
				t.Fatalf("error %v: want one with %q", err, test.want)
			}
			if errors.Is(err, ErrUndetermined) != test.fit {
				t.Errorf("error %v: wraps ErrUndetermined is %v, want %v", err, !test.fit, test.fit)
			}
		})
	}
}

// TestFaceFew checks that too few arrivals to show their own noise have the uncertainties of the
// defaults, and that elements without arrivals get no delay.
func TestFaceFew(t *testing.T) {
	line := elementsOf(8, 0.6e-3)
	arrivals := pulseEchoes(faceArrivals(line, 12e-3, 0, 0, 2340))[:1]
	c := check.Must(Face(line, arrivals, &Options{Facing: Parallel, Speed: Estimate{2340, 1e-9}, Offset: Estimate{Uncertainty: 10e-9}}))
	// A delay with the uncertainty of the offset, 10 ns each way, and the offset itself.
	want := math.Hypot(10e-9*2340, 10e-9*2340/2)
	if u := c.Distance.Uncertainty; !(math.Abs(c.Distance.Value-12e-3) <= 1e-9) || !(u >= want && u <= 1.2*want) {
		t.Errorf("distance %v ± %v m: want 12 mm ± %v m", c.Distance.Value, u, want)
	}
	for e, d := range c.Delays {
		if math.IsNaN(d.Value) != (e > 0) || math.IsNaN(d.Uncertainty) != (e > 0) {
			t.Errorf("element %d: delay %v ± %v", e, d.Value, d.Uncertainty)
		}
	}
}

// TestFaceNoFreedom checks that uncertainties are finite if the arrivals are as many as the
// unknowns, here two delays and a distance. Noise and delays cannot be separated then.
func TestFaceNoFreedom(t *testing.T) {
	pair := elementsOf(2, 0.6e-3)
	arrivals := faceArrivals(pair, 12e-3, 0, 0, 2340)
	arrivals = []Arrival{arrivals[0], arrivals[1], arrivals[3]}
	arrivals[1].Time += 1e-9
	c := check.Must(Face(pair, arrivals, &Options{Facing: Parallel, Speed: Estimate{Value: 2340}}))
	if u := c.Distance.Uncertainty; !(u > 0 && u <= 3e-5) {
		t.Errorf("uncertainty %v m of the distance, want below 30 µm", u)
	}
}

// TestScoreInFront checks that a face through an element is not in front of the array.
func TestScoreInFront(t *testing.T) {
	elements := elementsOf(3, 1./1024)
	own := [][]candidate{{{1, 1}}, {{1, 1}}, {{2, 1}}}
	f := newFaceFit(elements, nil, &Options{Tolerance: 0.1})
	for _, test := range []struct{ distance, want float64 }{{1, 0}, {0.5, 0}, {1.0625, 2}} {
		face := [faceParameters]float64{distanceParameter: test.distance, angleParameter: 1024}
		if got := f.score(face, own, []int{0, 1, 2}); got != test.want {
			t.Errorf("echoes after %v, %v and %v s: score %v, want %v",
				test.distance-1, test.distance, test.distance+1, got, test.want)
		}
	}
}

// FuzzFace checks that arrivals with any times and amplitudes give a result with finite values, or
// an error, and no panic.
func FuzzFace(f *testing.F) {
	f.Add([]byte("\x00\x00\x80\x10\x11\x11\x90\x10\x22\x22\xa0\x10\x33\x33\xb0\x10"), false, 2340.0)
	f.Add([]byte("\x00\x00\x80\x10\x01\x11\x90\x10\x10\x22\xa0\x10\x33\x33\xb0\x10\x22\x22\xa0\x10"), true, 0.0)
	line := elementsOf(4, 0.6e-3)
	f.Fuzz(func(t *testing.T, data []byte, parallel bool, speed float64) {
		var arrivals []Arrival
		for ; len(data) >= 4; data = data[4:] {
			arrivals = append(arrivals, Arrival{int(data[0]>>4) % 4, int(data[0]) % 4, 1e-7 * float64(int(data[1])<<8+int(data[2])) / 256, float64(data[3])})
		}
		o := &Options{Speed: Estimate{Value: speed}}
		if parallel {
			o.Facing = Parallel
		}
		c, err := Face(line, arrivals, o)
		if err != nil {
			return
		}
		for _, v := range []float64{c.Angle.Value, c.Speed.Value, c.Distance.Value, c.RMS} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%+v", c)
			}
		}
		for e, h := range append(c.Heights, c.Angle, c.Speed, c.Distance) {
			if e < len(c.Heights) && !(h.Value > 0) || math.IsNaN(h.Uncertainty) {
				t.Fatalf("estimate %d is %v ± %v", e, h.Value, h.Uncertainty)
			}
		}
	})
}

// TestFaceSmallOblique checks that a tiny uncertainty of the oblique delay gives the face, as any
// other uncertainty does, and that a value out of range is an error.
func TestFaceSmallOblique(t *testing.T) {
	elements := elementsOf(16, 0.6e-3)
	arrivals := faceArrivals(elements, 12e-3, 30*degree, 0, 2340)
	for _, speed := range []float64{0, 2340} {
		for _, oblique := range []float64{1e-300, 1e-18, 1e-15, 1e-13, 1e-9, 0.1e-6} {
			c, err := Face(elements, arrivals, &Options{Oblique: oblique, Speed: Estimate{Value: speed}})
			if err != nil {
				t.Errorf("oblique %v s, speed %v m/s: %v", oblique, speed, err)
				continue
			}
			check.Within(t, "angle", c.Angle.Value, 30*degree, 1e-5)
			check.Within(t, "distance", c.Distance.Value, 12e-3, 1e-7)
		}
	}
	for _, oblique := range []float64{-1e-9, math.NaN(), 0.2e-6} {
		_, err := Face(elements, arrivals, &Options{Oblique: oblique})
		check.Error(t, err, "oblique", "above 0 and at most 1e-07 s")
	}
}

// TestFaceFewElements checks that an angle needs four elements, or five for two angles.
func TestFaceFewElements(t *testing.T) {
	rows := []r3.Vec{{}, {X: 1e-3}, {Y: 1e-3}, {X: 1e-3, Y: 1e-3}, {X: 2e-3}}
	for _, tc := range []struct {
		name     string
		elements []r3.Vec
		words    string // of the error; "" for none
	}{
		{"two", elementsOf(2, 1e-3), "2 elements have pulse-echo arrivals, want at least 4"},
		{"three", elementsOf(3, 1e-3), "3 elements have pulse-echo arrivals, want at least 4"},
		{"four", elementsOf(4, 1e-3), ""},
		{"four of a grid", rows[:4], "4 elements have pulse-echo arrivals, want at least 5"},
		{"five of a grid", rows, ""},
	} {
		middle := r3.Vec{}
		for _, e := range tc.elements {
			middle = r3.Add(middle, r3.Scale(1/float64(len(tc.elements)), e))
		}
		centred := make([]r3.Vec, len(tc.elements))
		for i, e := range tc.elements {
			centred[i] = r3.Sub(e, middle)
		}
		_, err := Face(tc.elements, faceArrivals(centred, 12e-3, 10*degree, 0, 2340), &Options{Speed: Estimate{Value: 2340}})
		if tc.words == "" {
			if err != nil {
				t.Errorf("%s: %v", tc.name, err)
			}
			continue
		}
		if !errors.Is(err, ErrUndetermined) {
			t.Errorf("%s: error %v, want %v", tc.name, err, ErrUndetermined)
		}
		check.Error(t, err, tc.words)
	}
}
