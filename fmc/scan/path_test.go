// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge"
)

// near reports whether two points are equal within 1e-12 m.
func near(a, b r3.Vec) bool { return r3.Norm(r3.Sub(a, b)) <= 1e-12 }

// TestPoses: the point (10, 0, 5) mm of a frame in the part, worked by hand.
func TestPoses(t *testing.T) {
	const quarter = math.Pi / 2
	pipe, bore := Pipe{Radius: 0.1}, Pipe{Radius: 0.1, Inside: true}
	turn := pipe.Circumference()
	tests := []struct {
		name          string
		path          Path
		along, across float64
		want          r3.Vec
	}{
		{"at the origin", Line{}, 0, 0, r3.Vec{X: 10e-3, Z: 5e-3}},
		{"along the weld", Line{}, 0.3, 0, r3.Vec{X: 10e-3, Y: 0.3, Z: 5e-3}},
		{"beside the weld", Line{X: -20e-3}, 0.3, 0, r3.Vec{X: -10e-3, Y: 0.3, Z: 5e-3}},
		{"from the other side", Line{X: 20e-3, Skew: math.Pi}, 0.3, 0,
			r3.Vec{X: 10e-3, Y: 0.3, Z: 5e-3}},
		{"back", Line{Y: 0.5, Heading: math.Pi}, 0.2, 0, r3.Vec{X: 10e-3, Y: 0.3, Z: 5e-3}},
		{"line of a raster", Line{}, 0.3, 40e-3, r3.Vec{X: 50e-3, Y: 0.3, Z: 5e-3}},
		{"raster turned: towards -x, lines towards +y", Line{Heading: quarter}, 0.3, 40e-3,
			r3.Vec{X: -0.29, Y: 40e-3, Z: 5e-3}},
		{"skew of 90 degrees: fires towards +y", Line{Skew: quarter}, 0, 0,
			r3.Vec{Y: 10e-3, Z: 5e-3}},
		{"girth weld, on top", Round{Pipe: pipe}, 0, 0, r3.Vec{X: 10e-3, Z: 5e-3}},
		{"girth weld, a quarter on: z points to the axis at y = 0, z = R", Round{Pipe: pipe}, turn / 4,
			0, r3.Vec{X: 10e-3, Y: 95e-3, Z: 0.1}},
		{"girth weld, half a turn on", Round{Pipe: pipe, X: -20e-3}, turn / 2, 1e-3,
			r3.Vec{X: -9e-3, Z: 0.195}},
		{"girth weld, a turn on", Round{Pipe: pipe}, turn, 0, r3.Vec{X: 10e-3, Z: 5e-3}},
		{"girth weld, backward", Round{Pipe: pipe, Backward: true}, turn / 4, 0,
			r3.Vec{X: 10e-3, Y: -95e-3, Z: 0.1}},
		{"girth weld from the other side", Round{Pipe: pipe, X: 20e-3, Skew: math.Pi}, turn / 4, 0,
			r3.Vec{X: 10e-3, Y: 95e-3, Z: 0.1}},
		{"in the bore: z points away from the axis at z = -R", Round{Pipe: bore}, turn / 4, 0,
			r3.Vec{X: 10e-3, Y: 0.105, Z: -0.1}},
		{"lengthwise", Lengthwise{Pipe: pipe}, 0.3, 0, r3.Vec{X: 0.31, Z: 5e-3}},
		{"lengthwise, second line a quarter on, backward", Lengthwise{Pipe: pipe, Backward: true}, 0.3,
			turn / 4, r3.Vec{X: -0.29, Y: 95e-3, Z: 0.1}},
		{"lengthwise, across the pipe", Lengthwise{Pipe: pipe, Skew: quarter}, 0.3, 0,
			r3.Vec{X: 0.3, Y: 10e-3, Z: 5e-3}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			pose, err := test.path.Pose(test.along, test.across)
			if err != nil {
				t.Fatal(err)
			}
			got := check.Must(pose.Part(10e-3, 5e-3))
			if !near(got, test.want) {
				t.Errorf("the point lies at %v, want %v", got, test.want)
			}
			back := check.Must(pose.Frame(got))
			if !near(back, r3.Vec{X: 10e-3, Z: 5e-3}) {
				t.Errorf("back in the frame at %v", back)
			}
			if !near(r3.Cross(pose.Z, pose.X), pose.Y) || !(math.Abs(r3.Norm(pose.X)-1) <= 1e-12) {
				t.Errorf("axes %v, %v, %v are not right-handed unit vectors", pose.X, pose.Y, pose.Z)
			}
		})
	}
}

// TestPipeAgainstSurface: the depth of a point in front of a frame is the depth of package wedge,
// which computes it from a surface that knows no scan.
func TestPipeAgainstSurface(t *testing.T) {
	for _, pipe := range []Pipe{{Radius: 57.15e-3}, {Radius: 40e-3, Inside: true}} {
		curvature, axis := wedge.Convex, r3.Vec{Z: pipe.Radius}
		if pipe.Inside {
			curvature, axis = wedge.Concave, r3.Vec{Z: -pipe.Radius}
		}
		surface := check.Must(wedge.NewCylinder(axis, r3.Vec{X: 1}, pipe.Radius, curvature))
		for along := -0.4; along < 0.4; along += 0.013 {
			for _, path := range []Path{Round{Pipe: pipe, X: 0.1, Skew: 0.3},
				Lengthwise{Pipe: pipe, Arc: along}} {
				pose := check.Must(path.Pose(along, 0))
				for _, depth := range []float64{0, 3e-3, 12e-3} {
					got := surface.Depth(check.Must(pose.Part(0, depth)))
					check.Within(t, fmt.Sprintf("%T, depth", path), got, depth, 1e-12)
				}
			}
		}
	}
}

// TestLocateInverts: Locate finds the frame and the point that a point of the part was made from.
func TestLocateInverts(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	uniform := func(from, to float64) float64 { return from + (to-from)*rng.Float64() }
	for range 3000 {
		pipe := Pipe{Radius: uniform(0.05, 0.5), Inside: rng.IntN(2) == 0}
		backward := rng.IntN(2) == 0
		skew := uniform(-1.2, 1.2) + float64(rng.IntN(2))*math.Pi
		along, across := uniform(0, pipe.Circumference()), uniform(-0.1, 0.1)
		heading := skew + uniform(-1.4, 1.4) + float64(rng.IntN(2))*math.Pi
		for _, path := range []Path{
			Line{X: uniform(-1, 1), Y: uniform(-1, 1), Heading: heading, Skew: skew},
			Round{Pipe: pipe, X: uniform(-1, 1), Arc: uniform(-9, 9), Backward: backward, Skew: skew},
			Lengthwise{Pipe: pipe, X: uniform(-1, 1), Arc: uniform(-9, 9), Backward: backward,
				Skew: skew + math.Pi/2},
		} {
			x, z := uniform(-0.02, 0.02), uniform(0, 0.02)
			pose := check.Must(path.Pose(along, across))
			got, err := path.Locate(check.Must(pose.Part(x, z)), across)
			if err != nil {
				t.Fatalf("%+v: %v", path, err)
			}
			want := Place{along, across, x, z}
			if !(math.Abs(got.Along-along) <= 1e-9 && math.Abs(got.X-x) <= 1e-9 &&
				math.Abs(got.Z-z) <= 1e-9 && got.Across == across) {
				t.Fatalf("%+v: %+v, want %+v", path, got, want)
			}
		}
	}
}

// TestPathsRefuse: values that are not finite or too large are refused by each method of each path.
func TestPathsRefuse(t *testing.T) {
	bad := []float64{math.NaN(), math.Inf(1), math.Inf(-1), 2e6}
	q := r3.Vec{X: 1e-3, Y: 1e-3, Z: 1e-3}
	pipe := Pipe{Radius: 0.1}
	for _, path := range []Path{Line{}, Round{Pipe: pipe}, Lengthwise{Pipe: pipe, Skew: 1}} {
		pose := check.Must(path.Pose(0, 0))
		for _, v := range bad {
			_, err := path.Pose(v, 0)
			check.Error(t, err, "position along", "±1e+06 m")
			_, err = path.Pose(0, v)
			check.Error(t, err, "position across")
			_, err = path.Locate(q, v)
			check.Error(t, err, "position across")
			_, err = path.Locate(r3.Vec{X: v}, 0)
			check.Error(t, err, "x of the point")
			_, err = path.Locate(r3.Vec{Y: v}, 0)
			check.Error(t, err, "y of the point")
			_, err = path.Locate(r3.Vec{Z: v}, 0)
			check.Error(t, err, "z of the point")
			_, err = pose.Part(v, 0)
			check.Error(t, err, "x of the frame")
			_, err = pose.Part(0, v)
			check.Error(t, err, "z of the frame")
			_, err = pose.Frame(r3.Vec{Y: v})
			check.Error(t, err, "y of the point")
		}
	}
	nan := math.NaN()
	for _, test := range []struct {
		path Path
		want string
	}{
		{Line{X: nan}, "x of the line NaN"},
		{Line{Y: nan}, "y of the line NaN"},
		{Line{Heading: math.Inf(1)}, "heading of the line +Inf"},
		{Line{Skew: nan}, "skew of the line NaN"},
		{Round{Pipe: Pipe{Radius: nan}}, "radius of the pipe NaN"},
		{Round{}, "radius of the pipe 0"},
		{Round{Pipe: pipe, X: nan}, "x of the path NaN"},
		{Round{Pipe: pipe, Arc: nan}, "arc at position 0 NaN"},
		{Round{Pipe: pipe, Skew: nan}, "skew NaN"},
		{Lengthwise{Pipe: Pipe{Radius: -1}}, "radius of the pipe -1"},
		{Lengthwise{Pipe: pipe, X: nan}, "x of the path NaN"},
		{Lengthwise{Pipe: pipe, Arc: nan}, "arc of the path NaN"},
		{Lengthwise{Pipe: pipe, Skew: nan}, "skew NaN"},
	} {
		_, err := test.path.Pose(0, 0)
		check.Error(t, err, test.want)
		_, err = test.path.Locate(q, 0)
		check.Error(t, err, test.want)
	}
	for _, test := range []struct {
		name string
		path Path
		q    r3.Vec
		want string
	}{
		{"moves along its imaging plane", Line{Skew: math.Pi / 2}, q, "along its imaging plane"},
		{"across the pipe", Round{Pipe: pipe, Skew: math.Pi / 2}, q, "every frame"},
		{"point on the axis", Round{Pipe: pipe}, r3.Vec{Z: 0.1}, "beside the axis"},
		{"with the axis of the pipe", Lengthwise{Pipe: pipe, Skew: math.Pi}, q,
			"along its imaging plane"},
	} {
		_, err := test.path.Locate(test.q, 0)
		check.Error(t, err, test.want)
	}
	// At a skew of 45 degrees the imaging plane reaches 0.1 m from the axis at 0.1 m along it.
	_, err := Round{Pipe: pipe, Skew: math.Pi / 4}.Locate(r3.Vec{X: 0.11}, 0)
	if !errors.Is(err, ErrNoFrame) {
		t.Errorf("error %v, want ErrNoFrame", err)
	}
}

// TestArcs: lengths and angles round a pipe.
func TestArcs(t *testing.T) {
	pipe := Pipe{Radius: 84e-3}
	bore := Pipe{Radius: 74e-3, Inside: true}
	degree := func(p Pipe, n float64) float64 { return n / 360 * p.Circumference() }
	tests := []struct {
		name            string
		pipe            Pipe
		from, to, depth float64
		want            float64
	}{
		{"within a turn", pipe, degree(pipe, 10), degree(pipe, 30), 0, degree(pipe, 20)},
		{"over the seam", pipe, degree(pipe, 350), degree(pipe, 10), 0, degree(pipe, 20)},
		{"forward from 10 to 350 degrees", pipe, degree(pipe, 10), degree(pipe, 350), 0,
			degree(pipe, 340)},
		{"counted from another turn", pipe, degree(pipe, 710), degree(pipe, 370), 0, degree(pipe, 20)},
		{"no length", pipe, 0.1, 0.1, 0, 0},
		{"a turn is no length", pipe, 0, pipe.Circumference(), 0, 0},
		{"at the inner wall", pipe, 0, degree(pipe, 90), 10e-3, 74e-3 * math.Pi / 2},
		{"from the bore at the outer wall", bore, degree(bore, 315), degree(bore, 45), 10e-3,
			84e-3 * math.Pi / 2},
	}
	for _, test := range tests {
		got, err := test.pipe.Length(test.from, test.to, test.depth)
		if err != nil {
			t.Errorf("%s: %v", test.name, err)
		}
		check.Within(t, test.name, got, test.want, 1e-12)
	}
	for _, arc := range []float64{-1e-300, -1e-17, -degree(pipe, 360), 0, degree(pipe, 359.9), 5, -5} {
		wrapped, angle := check.Must(pipe.Wrap(arc)), check.Must(pipe.Angle(arc))
		if !(wrapped >= 0 && wrapped < pipe.Circumference() && angle >= 0 && angle < 2*math.Pi) {
			t.Errorf("arc %v: wrapped %v, angle %v: want within a turn", arc, wrapped, angle)
		}
		check.Within(t, "sine of the angle", math.Sin(angle), math.Sin(arc/pipe.Radius), 1e-12)
	}
	back := Round{Pipe: pipe, Arc: degree(pipe, 30), Backward: true}
	check.Within(t, "arc of a position", check.Must(back.At(degree(pipe, 50))), degree(pipe, 340), 1e-12)
	axis := check.Must(pipe.Axis(1e-3)) // 527.79 mm
	if axis.Steps != 528 || !axis.Closed {
		t.Errorf("%+v, want 528 steps, closed", axis)
	}
	check.Within(t, "length of the axis", axis.Position(axis.Steps), pipe.Circumference(), 1e-12)

	for _, depth := range []float64{-1e-3, 84e-3, math.NaN(), math.Inf(1)} {
		_, err := pipe.Length(0, 1, depth)
		check.Error(t, err, "depth")
	}
	_, err := pipe.Length(math.NaN(), 0, 0)
	check.Error(t, err, "arc NaN")
	_, err = pipe.Wrap(math.Inf(1))
	check.Error(t, err, "arc +Inf")
	_, err = pipe.Angle(math.NaN())
	check.Error(t, err, "arc NaN")
	_, err = Pipe{}.Wrap(1)
	check.Error(t, err, "radius of the pipe 0")
	_, err = back.At(math.NaN())
	check.Error(t, err, "position along NaN")
	for _, step := range []float64{0, -1, math.NaN(), math.Inf(1), 1e-9, 2} {
		_, err = pipe.Axis(step)
		check.Error(t, err, "step")
	}
}
