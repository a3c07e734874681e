// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestLineInPlate compares the axis of a beam in a plate with plane trigonometry: Snell's law at
// the wedge, and a depth that rises and falls between the walls.
func TestLineInPlate(t *testing.T) {
	const thickness = 10 * mm
	for _, test := range []struct {
		name     string
		coupling *material.Isotropic
		angle    float64
		centre   r3.Vec
	}{
		{"straight, in contact", nil, 0, r3.Vec{X: 2 * mm}},
		{"contact", nil, -50 * degree, r3.Vec{X: 2 * mm}},
		{"wedge", &plastic, 60 * degree, r3.Vec{X: -3 * mm, Z: -8 * mm}},
		{"wedge, backwards", &plastic, -35 * degree, r3.Vec{X: -3 * mm, Z: -8 * mm}},
		{"wedge, straight", &plastic, 0, r3.Vec{X: -3 * mm, Z: -8 * mm}},
		{"water, grazing", &water, 89 * degree, r3.Vec{Z: -20 * mm}},
	} {
		t.Run(test.name, func(t *testing.T) {
			setup := check.Must(wedge.NewPlate(test.coupling, steel, thickness))
			tracer := check.Must(newTracer(setup, material.T))
			line := check.Must(tracer.line(test.centre, test.angle, 50*mm))
			exit, delay := test.centre, 0.0
			if test.coupling != nil {
				incidence := math.Asin(test.coupling.Longitudinal / steel.Transverse * math.Sin(test.angle))
				exit = r3.Vec{X: test.centre.X - test.centre.Z*math.Tan(incidence)}
				delay = -test.centre.Z / math.Cos(incidence) / test.coupling.Longitudinal
			}
			near(t, "exit point", line.Exit, exit, 1e-10)
			check.Within(t, "delay", line.Delay, delay, 1e-15)
			check.Within(t, "length", line.Length(), 50*mm, 1e-12)
			sin, cos := math.Sincos(test.angle)
			for s := 0.0; s < 50*mm; s += 1.7 * mm {
				down := math.Mod(s*cos, 2*thickness)
				want := exit.X + s*sin
				p, leg := line.At(s)
				near(t, fmt.Sprintf("place at %v m", s), p, r3.Vec{X: want, Z: min(down, 2*thickness-down)}, 1e-9)
				if want := 1 + int(s*cos/thickness); leg != want {
					t.Errorf("leg %d at %v m, want %d", leg, s, want)
				}
				check.Within(t, "sound path", line.SoundPath(line.Time(s)), s, 1e-15)
			}
			for _, s := range []float64{-1e-9, 51 * mm, math.NaN()} {
				if p, leg := line.At(s); leg != 0 || !math.IsNaN(p.X) {
					t.Errorf("at %v m: %v on leg %d, want NaN on leg 0", s, p, leg)
				}
			}
		})
	}
}

// TestLineInPipe compares the axis of a beam across a pipe with the law of sines in the triangle of
// the exit point, the skip and the axis of the pipe. A beam with R·sin β above the radius of the
// bore misses the bore: it ends at the outer surface after a chord of 2·R·cos β.
func TestLineInPipe(t *testing.T) {
	const radius, wall = 50 * mm, 10 * mm
	for _, test := range []struct {
		angle float64
		skips bool
	}{{0, true}, {30 * degree, true}, {-45 * degree, true}, {60 * degree, false}, {-80 * degree, false}} {
		for _, x := range []float64{0, 6 * mm} {
			t.Run(fmt.Sprintf("%.0f° from %v m", test.angle/degree, x), func(t *testing.T) {
				setup := check.Must(wedge.NewPipe(&water, steel, radius, wall))
				tracer := check.Must(newTracer(setup, material.T))
				line := check.Must(tracer.line(r3.Vec{X: x, Z: -15 * mm}, test.angle, 0.2))
				sin, cos := math.Sincos(math.Abs(test.angle))
				if !test.skips {
					if len(line.Legs) != 1 {
						t.Fatalf("%d legs, want 1", len(line.Legs))
					}
					check.Within(t, "chord", line.Length(), 2*radius*cos, 1e-9)
					return
				}
				atBore := math.Asin(radius / (radius - wall) * sin)
				leg := radius*cos - (radius-wall)*math.Cos(atBore)
				for k, l := range line.Legs[1:] {
					check.Within(t, "skip", l.SoundPath, float64(k+1)*leg, 1e-9)
				}
				// After two legs the beam is back at the outer surface, around the pipe by twice
				// the angle between the radii of the exit point and the skip.
				turn := math.Copysign(2*(atBore-math.Abs(test.angle)), test.angle)
				start := math.Atan2(line.Exit.X, radius-line.Exit.Z)
				sin, cos = math.Sincos(start + turn)
				near(t, "second skip", line.Legs[1].To, r3.Vec{X: radius * sin, Z: radius * (1 - cos)}, 1e-9)
			})
		}
	}
}

// TestLineOfManyLegs checks that a line in foil ends after 64 legs.
func TestLineOfManyLegs(t *testing.T) {
	tracer := check.Must(newTracer(check.Must(wedge.NewPlate(nil, steel, 0.2*mm)), material.L))
	line := check.Must(tracer.line(r3.Vec{}, 0, 60*mm))
	check.Within(t, "legs", float64(len(line.Legs)), 64, 0)
	check.Within(t, "length", line.Length(), 64*0.2*mm, 1e-9)
}

// TestLineEnds checks where a line ends that cannot skip.
func TestLineEnds(t *testing.T) {
	side := check.Must(wedge.NewPlane(r3.Vec{X: 12 * mm}, r3.Vec{X: 1}))
	for _, test := range []struct {
		name   string
		change func(*wedge.Setup)
		legs   int
		length float64
	}{
		{"half space", func(s *wedge.Setup) { s.Back = nil }, 1, 60 * mm},
		{"end of the plate", func(s *wedge.Setup) { s.Sides = []wedge.Surface{side} }, 2, 12 * math.Sqrt2 * mm},
		{"gap in the back wall", func(s *wedge.Setup) { s.BackGaps = []wedge.Interval{{Min: 9 * mm, Max: 11 * mm}} },
			1, 10 * math.Sqrt2 * mm},
		{"gap in the entry surface", func(s *wedge.Setup) { s.EntryGaps = []wedge.Interval{{Min: 19 * mm, Max: 21 * mm}} },
			2, 20 * math.Sqrt2 * mm},
	} {
		t.Run(test.name, func(t *testing.T) {
			setup := check.Must(wedge.NewPlate(nil, steel, 10*mm))
			test.change(setup)
			tracer := check.Must(newTracer(setup, material.T))
			line := check.Must(tracer.line(r3.Vec{}, 45*degree, 60*mm))
			if len(line.Legs) != test.legs {
				t.Errorf("%d legs, want %d", len(line.Legs), test.legs)
			}
			check.Within(t, "length", line.Length(), test.length, 1e-9)
		})
	}
}

// TestAim checks that a beam that was aimed at a point leads to the point, through flat and curved
// surfaces, on each leg.
func TestAim(t *testing.T) {
	plate := check.Must(wedge.NewPlate(&plastic, steel, 16*mm))
	pipe := check.Must(wedge.NewPipe(&water, steel, 57*mm, 14*mm))
	contact := check.Must(wedge.NewPlate(nil, steel, 16*mm))
	array := contactArray(16)
	turned := check.Must(array.Place(r3.NewRotation(36*degree, r3.Vec{Y: 1}), r3.Vec{X: -8 * mm, Z: -10 * mm}))
	above := check.Must(array.Place(r3.Rotation{Real: 1}, r3.Vec{X: 2 * mm, Z: -12 * mm}))
	for _, test := range []struct {
		name  string
		setup *wedge.Setup
		array fmc.Array
		leg   int
		p     r3.Vec
	}{
		{"contact", contact, array, 1, r3.Vec{X: 7 * mm, Z: 9 * mm}},
		{"wedge", plate, turned, 1, r3.Vec{X: 12 * mm, Z: 11 * mm}},
		{"wedge, after a skip", plate, turned, 2, r3.Vec{X: 22 * mm, Z: 5 * mm}},
		{"wedge, after two skips", plate, turned, 3, r3.Vec{X: 40 * mm, Z: 5 * mm}},
		{"pipe", pipe, above, 1, r3.Vec{X: -6 * mm, Z: 8 * mm}},
		{"pipe, after a skip", pipe, above, 2, r3.Vec{X: 12 * mm, Z: 6 * mm}},
	} {
		t.Run(test.name, func(t *testing.T) {
			like := Beam{Mode: material.T, Elements: elements(3, 9), Transmit: Focus{SoundPath: 1}}
			beam := check.Must(Aim(test.setup, test.array, like, test.p, test.leg))
			template := empty(test.array, fmc.HalfPairs(16))
			template.Data = nil // a plan reads no samples
			plan := check.Must(NewPlan(ctx, template, test.setup, []Beam{beam}, nil))
			p, leg := plan.Lines()[0].At(beam.Transmit.SoundPath)
			near(t, "focus", p, test.p, 1e-9)
			if leg != test.leg {
				t.Errorf("on leg %d, want %d", leg, test.leg)
			}
		})
	}
	if _, err := Aim(plate, turned, Beam{Mode: material.T}, r3.Vec{Z: 20 * mm}, 2); !errors.Is(err, wedge.ErrNoRay) {
		t.Errorf("error %v outside the part, want no ray", err)
	}
}

// TestFans checks the beams of sector and linear images.
func TestFans(t *testing.T) {
	like := Beam{Mode: material.T, Receive: Focus{Dynamic: true}}
	sector := check.Must(Sector(like, 40*degree, 70*degree, 0.1*degree))
	if len(sector) != 301 {
		t.Errorf("%d beams from 40° to 70° in steps of 0.1°, want 301", len(sector))
	}
	check.Within(t, "last angle", sector[len(sector)-1].Angle, 70*degree, 1e-12)
	check.Within(t, "beams in the finest steps", float64(len(check.Must(Sector(like, 0, 1e-3, 1e-4)))), 11, 0)
	linear := check.Must(Linear(like, 10, 4, 3))
	if len(linear) != 3 || linear[2].Elements[0] != 6 || len(linear[2].Elements) != 4 || !linear[2].Receive.Dynamic {
		t.Errorf("linear image %v, want 3 beams of 4 elements from 0, 3 and 6", linear)
	}
	_, err := Sector(like, 50*degree, 40*degree, degree)
	check.Error(t, err, "from", "to")
	_, err = Sector(like, 0, 40*degree, 0)
	check.Error(t, err, "step")
	_, err = Linear(like, 10, 11, 1)
	check.Error(t, err, "aperture of 11")
	_, err = Linear(Beam{Elements: []int{0}}, 10, 4, 1)
	check.Error(t, err, "listed")
}

// TestBadBeams checks that each bad field is named.
func TestBadBeams(t *testing.T) {
	contact := check.Must(wedge.NewPlate(nil, steel, 10*mm))
	tight := check.Must(wedge.NewPlate(&plastic, steel, 10*mm))
	tight.Contact = &wedge.Interval{Min: -1 * mm, Max: 1 * mm}
	fluid := check.Must(wedge.NewPlate(nil, water, 10*mm))
	fast := check.Must(wedge.NewPlate(&steel, plastic, 10*mm))
	array := contactArray(4)
	lifted := check.Must(array.Place(r3.Rotation{Real: 1}, r3.Vec{Z: -10 * mm}))
	c, over := empty(array, fmc.FullPairs(4)), empty(lifted, fmc.FullPairs(4))
	for _, test := range []struct {
		c     *fmc.Capture
		setup *wedge.Setup
		beam  Beam
		word  string
	}{
		{c, contact, Beam{Elements: []int{4}}, "element 4"},
		{c, contact, Beam{Elements: []int{1, 1}}, "element 1"},
		{c, contact, Beam{Elements: []int{}}, "no elements"},
		{c, contact, Beam{Weights: []float64{1}}, "1 weights"},
		{c, contact, Beam{Weights: []float64{1, 1, math.NaN(), 1}}, "weight NaN"},
		{c, contact, Beam{Weights: make([]float64, 4)}, "all weights"},
		{c, contact, Beam{Mode: 9}, "mode"},
		{c, contact, Beam{Angle: math.Pi / 2}, "angle"},
		{c, contact, Beam{Angle: math.NaN()}, "angle"},
		{c, contact, Beam{Transmit: Focus{SoundPath: -1}}, "transmission"},
		{c, contact, Beam{Receive: Focus{SoundPath: 1, Dynamic: true}}, "reception"},
		{c, contact, Beam{Receive: Focus{Leg: 2}}, "leg 2"},
		{c, contact, Beam{Receive: Focus{Depth: 20 * mm}}, "does not come to"},
		{c, contact, Beam{Receive: Focus{Depth: 5 * mm, Leg: 90}}, "leg 90"},
		{c, contact, Beam{DelayStep: math.Inf(1)}, "delay step"},
		{c, fluid, Beam{Mode: material.T}, "no such wave"},
		{c, nil, Beam{}, "set-up"},
		{over, fast, Beam{Angle: 60 * degree}, "no ray from the aperture"},
		{over, tight, Beam{Mode: material.T, Angle: 60 * degree}, "wedge touches"},
	} {
		t.Run(test.word, func(t *testing.T) {
			_, err := NewPlan(ctx, test.c, test.setup, []Beam{test.beam}, nil)
			check.Error(t, err, test.word)
		})
	}
	_, err := NewPlan(ctx, c, contact, nil, nil)
	check.Error(t, err, "no beams")
	events := *c
	events.Events = []fmc.Event{{Delays: make([]float64, 4), Weights: []float64{1, 1, 1, 1}}}
	events.Pairs = fmc.EventPairs(1, 4)
	events.Data = make([]float32, 4*1000)
	if _, err := NewPlan(ctx, &events, contact, []Beam{{}}, nil); !errors.Is(err, fmc.ErrEvents) {
		t.Errorf("error %v of a capture of events, want fmc.ErrEvents", err)
	}
}
