// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

var polystyrene = material.Isotropic{Density: 1050, Longitudinal: 2330, Transverse: 1150}

// wedgeScene returns an invented scene: eight elements on a wedge over a plate. The plate contains
// one of each reflector that exists in the dimension.
func wedgeScene(dimension wedge.Dimension) synth.Scene {
	like := fmc.Array{Width: 0.8e-3, CentreFrequency: 3e6, Bandwidth: 0.6}
	array := check.Must(fmc.LinearArray(8, 1e-3, like))
	tilt := r3.NewRotation(30*degree, r3.Vec{Y: 1})
	s := synth.Scene{
		Setup:     plate(&polystyrene, 15e-3),
		Array:     check.Must(array.Place(tilt, r3.Vec{X: -8e-3, Z: -9e-3})),
		Dimension: dimension, Length: 5e-3, Front: true, Walls: backWall,
		Views:  parseViews("T-T", "L-T", "TT-T", "LT-L"),
		Losses: synth.Losses{Coupling: material.Attenuation{{Alpha: 5, Frequency: 3e6, Exponent: 1}}},
		Reflectors: []synth.Reflector{
			synth.Point{Position: r3.Vec{X: 5e-3, Z: 4e-3}, Strength: 1e-3},
			synth.Hole{X: 8e-3, Z: 6e-3, Diameter: 1e-3},
			synth.Crack{From: r3.Vec{X: 12e-3, Z: 7e-3}, To: r3.Vec{X: 14e-3, Z: 10e-3}},
			synth.Crack{From: r3.Vec{X: 10e-3, Z: 12e-3}, To: r3.Vec{X: 10e-3, Z: 15e-3}, Rooted: true, Width: 0.1e-3},
		},
	}
	if dimension == wedge.Space {
		s.Reflectors = append(s.Reflectors,
			synth.FlatBottomHole{
				Position: r3.Vec{X: 9e-3, Y: 1e-3, Z: 9e-3}, Normal: r3.Vec{X: -1, Z: -1}, Diameter: 2e-3,
			},
			synth.Sphere{Position: r3.Vec{X: 6e-3, Y: -1e-3, Z: 11e-3}, Diameter: 2e-3},
		)
	}
	return s
}

var wedgeRecording = synth.Recording{Samples: 1200, SampleRate: 40e6, FirstSample: 4e-6}

// TestReciprocity checks that i→j and j→i are the same trace within float32 rounding. It does so
// for each reflector, with conversions and losses, in both dimensions.
func TestReciprocity(t *testing.T) {
	for _, dimension := range []wedge.Dimension{wedge.Space, wedge.Section} {
		s := wedgeScene(dimension)
		short := synth.ShortCrack{From: r3.Vec{X: 7e-3, Z: 9e-3}, To: r3.Vec{X: 7.2e-3, Z: 9.4e-3}}
		for i, r := range append([]synth.Reflector{nil, short}, s.Reflectors...) {
			one := s
			one.Reflectors = nil
			if r != nil {
				one.Reflectors, one.Front, one.Walls = []synth.Reflector{r}, false, nil
			}
			t.Run(fmt.Sprintf("dimension %d, reflector %d (%T)", dimension, i, r), func(t *testing.T) {
				reciprocal(t, synthesise(t, one, wedgeRecording))
			})
		}
	}
}

// reciprocal fails the test unless a capture has echoes, and i→j and j→i are the same traces.
func reciprocal(t *testing.T, c *fmc.Capture) {
	t.Helper()
	largest := peak(c.Data)
	if !(largest > 0) {
		t.Fatal("no echo")
	}
	for pair, trace := range c.Traces() {
		twin, _ := c.Between(pair.Rx, pair.Tx)
		for k, v := range trace {
			if diff := math.Abs(float64(v - twin[k])); !(diff <= 1e-5*largest) {
				t.Fatalf("pair %v, sample %d: %v, backwards %v, largest %v",
					pair, k, v, twin[k], largest)
			}
		}
	}
}

// TestReciprocityOfWalls checks the reciprocity of waves that the back wall converts. The wave from
// i to j that goes as L and returns as T is, from j to i, a wave that goes as T and returns as L.
// The sum of both kinds is reciprocal only if directivities, conversions, spreading and reception
// are consistent.
func TestReciprocityOfWalls(t *testing.T) {
	for _, dimension := range []wedge.Dimension{wedge.Space, wedge.Section} {
		like := fmc.Array{Width: 0.6e-3, CentreFrequency: 4e6, Bandwidth: 0.6}
		array := check.Must(fmc.LinearArray(4, 5e-3, like))
		array.Elements[3].X += 1e-3 // makes all pairs different
		setup := plate(nil, 20e-3)
		setup.Back = check.Must(wedge.NewPlane(r3.Vec{Z: 20e-3}, r3.Vec{X: 0.1, Z: 1})) // makes LT and TL differ
		s := synth.Scene{Setup: setup, Array: array, Dimension: dimension}
		s.Walls = [][]material.Mode{{material.L, material.T}}
		t.Run(fmt.Sprintf("dimension %d", dimension), func(t *testing.T) {
			reciprocal(t, synthesise(t, s, synth.Recording{Samples: 1000, SampleRate: 50e6}))
		})
	}
}

// TestWorkers checks that the capture has the same bits for any number of workers, and that it is
// the sum of the captures of its parts.
func TestWorkers(t *testing.T) {
	s := wedgeScene(wedge.Section)
	recording := wedgeRecording
	recording.Workers = 1
	want := synthesise(t, s, recording)
	for _, n := range []int{2, 5} {
		recording.Workers = n
		if got := synthesise(t, s, recording); !slices.Equal(got.Data, want.Data) {
			t.Errorf("the captures of %d workers and of one worker differ", n)
		}
	}
	parts := make([]float64, len(want.Data))
	for i := range len(s.Reflectors) + 1 {
		part := s
		if i < len(s.Reflectors) {
			part.Reflectors, part.Front, part.Walls = s.Reflectors[i:i+1], false, nil
		} else {
			part.Reflectors = nil
		}
		for k, v := range synthesise(t, part, wedgeRecording).Data {
			parts[k] += float64(v)
		}
	}
	largest := peak(want.Data)
	for k, v := range want.Data {
		if !(math.Abs(parts[k]-float64(v)) <= 1e-6*largest) {
			t.Fatalf("sample %d: %v, the sum of the parts %v", k, v, parts[k])
		}
	}
}

// TestWindow checks that a record that begins later and ends sooner contains the same echoes, and
// that no echo wraps round.
func TestWindow(t *testing.T) {
	s := wedgeScene(wedge.Section)
	whole := synthesise(t, s, wedgeRecording)
	cut := wedgeRecording
	cut.FirstSample, cut.Samples = whole.Time(400), 90
	cut.Pairs = []fmc.Pair{{Tx: 7, Rx: 2}, {Tx: 0, Rx: 0}}
	got := synthesise(t, s, cut)
	largest := peak(whole.Data)
	for pair, trace := range got.Traces() {
		want, _ := whole.Between(pair.Tx, pair.Rx)
		for k, v := range trace {
			if diff := math.Abs(float64(v - want[400+k])); !(diff <= 2e-4*largest) {
				t.Fatalf("pair %v, sample %d: %v, in the whole record %v", pair, k, v, want[400+k])
			}
		}
	}
}

// TestMovedAlongY checks that the capture stays the same if the array and the reflectors move along
// y. Surfaces, holes and cracks are endless along y.
func TestMovedAlongY(t *testing.T) {
	s := wedgeScene(wedge.Space)
	want := synthesise(t, s, wedgeRecording)
	s.Array = check.Must(s.Array.Place(r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{Y: 3e-3}))
	s.Reflectors = slices.Clone(s.Reflectors)
	for i, r := range s.Reflectors {
		switch r := r.(type) {
		case synth.Point:
			r.Position.Y += 3e-3
			s.Reflectors[i] = r
		case synth.FlatBottomHole:
			r.Position.Y += 3e-3
			s.Reflectors[i] = r
		case synth.Sphere:
			r.Position.Y += 3e-3
			s.Reflectors[i] = r
		}
	}
	got := synthesise(t, s, wedgeRecording)
	largest := peak(want.Data)
	for k, v := range got.Data {
		if !(math.Abs(float64(v-want.Data[k])) <= 1e-6*largest) {
			t.Fatalf("sample %d: %v, before the move %v", k, v, want.Data[k])
		}
	}
}

// TestCancelled checks that Synthesise returns the error of its context.
func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	s := wedgeScene(wedge.Section)
	if _, err := synth.Synthesise(ctx, &s, wedgeRecording); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want that of the context", err)
	}
}

// TestInput checks that a field out of range gives an error that names it.
func TestInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	reflector := func(r synth.Reflector) func(*synth.Scene, *synth.Recording) {
		return func(s *synth.Scene, _ *synth.Recording) { s.Reflectors = []synth.Reflector{r} }
	}
	for _, row := range []struct {
		name   string
		change func(*synth.Scene, *synth.Recording)
		want   string // words in the error
	}{
		{"no array", func(s *synth.Scene, _ *synth.Recording) { s.Array = fmc.Array{} }, "array"},
		{"no set-up", func(s *synth.Scene, _ *synth.Recording) { s.Setup = wedge.Setup{} }, "set-up"},
		{"negative length", func(s *synth.Scene, _ *synth.Recording) { s.Length = -1 }, "length"},
		{"length in mm", func(s *synth.Scene, _ *synth.Recording) { s.Length *= 1000 }, "length of the elements 5 m: want 0 to"},
		{"endless length", func(s *synth.Scene, _ *synth.Recording) { s.Length = inf }, "length"},
		{"unknown dimension", func(s *synth.Scene, _ *synth.Recording) { s.Dimension = 7 }, "dimension"},
		{"NaN normal", func(s *synth.Scene, _ *synth.Recording) { s.Normal.X = nan }, "normal"},
		{"Inf axis", func(s *synth.Scene, _ *synth.Recording) { s.Axis.Y = -inf }, "axis"},
		{"axis too short", func(s *synth.Scene, _ *synth.Recording) { s.Axis = r3.Vec{X: 1e-310} }, "axis"},
		{"pulse without end", func(s *synth.Scene, _ *synth.Recording) { s.Array.Bandwidth = 5e-324 }, "broader band"},
		{"pulse of 17 million samples", func(s *synth.Scene, _ *synth.Recording) { s.Array.Bandwidth = 2.5e-6 }, "broader band"},
		{"record too long", func(_ *synth.Scene, r *synth.Recording) { r.Samples = 1<<24 + 1 }, "want 1 to 16777216"},
		{"sampling too fast", func(_ *synth.Scene, r *synth.Recording) { r.SampleRate = 1.7e308 }, "lower sample rate"},
		{"axis along the normal", func(s *synth.Scene, _ *synth.Recording) { s.Normal, s.Axis = r3.Vec{Z: 1}, r3.Vec{Z: 1} }, "right angles"},
		{"negative losses", func(s *synth.Scene, _ *synth.Recording) {
			s.Losses.Transverse = material.Attenuation{{Alpha: -1, Frequency: 1, Exponent: 1}}
		}, "transverse"},
		{"no views", func(s *synth.Scene, _ *synth.Recording) { s.Views = nil }, "views"},
		{"empty view", func(s *synth.Scene, _ *synth.Recording) { s.Views = make([]wedge.View, 1) }, "mode"},
		{"nil reflector", reflector(nil), "reflector 0"},
		{"odd wall", func(s *synth.Scene, _ *synth.Recording) { s.Walls = [][]material.Mode{{material.L}} }, "even"},
		{"unknown mode of a wall", func(s *synth.Scene, _ *synth.Recording) { s.Walls = [][]material.Mode{{9, material.L}} }, "speed"},
		{"no back wall", func(s *synth.Scene, _ *synth.Recording) { s.Setup.Back, s.Views = nil, s.Views[:1] }, "back wall"},
		{"front of a contact array", func(s *synth.Scene, _ *synth.Recording) { s.Setup.Coupling = nil }, "front"},
		{"slow sampling", func(_ *synth.Scene, r *synth.Recording) { r.SampleRate = 9e6 }, "sample rate"},
		{"NaN sampling", func(_ *synth.Scene, r *synth.Recording) { r.SampleRate = nan }, "sample rate"},
		{"endless sampling", func(_ *synth.Scene, r *synth.Recording) { r.SampleRate = inf }, "sample rate"},
		{"NaN start", func(_ *synth.Scene, r *synth.Recording) { r.FirstSample = nan }, "first sample"},
		{"no samples", func(_ *synth.Scene, r *synth.Recording) { r.Samples = 0 }, "samples"},
		{"pair without element", func(_ *synth.Scene, r *synth.Recording) { r.Pairs = []fmc.Pair{{Tx: 0, Rx: 8}} }, "pair"},
		{"reflector above the part", reflector(synth.Point{Position: r3.Vec{Z: -1e-3}}), "in the part"},
		{"reflector below the part", reflector(synth.Hole{Z: 20e-3, Diameter: 1e-3}), "in the part"},
		{"NaN point", reflector(synth.Point{Position: r3.Vec{X: nan}}), "position"},
		{"point on the entry surface", reflector(synth.Point{Position: r3.Vec{X: 5e-3}, Strength: 1}), "away from the surfaces"},
		{"point on the back wall", reflector(synth.Point{Position: r3.Vec{X: 5e-3, Z: 15e-3}, Strength: 1}), "away from the surfaces"},
		{"NaN strength", reflector(synth.Point{Position: r3.Vec{Z: 1e-3}, Strength: nan}), "strength"},
		{"strength beyond float32", reflector(synth.Point{Position: r3.Vec{X: 5e-3, Z: 4e-3}, Strength: 1e60}), "float32"},
		{"hole without diameter", reflector(synth.Hole{Z: 5e-3}), "diameter"},
		{"endless hole", reflector(synth.Hole{Z: 5e-3, Diameter: inf}), "diameter"},
		{"huge hole", reflector(synth.Hole{Z: 5e-3, Diameter: 1}), "100 wavelengths"},
		{"tiny hole", reflector(synth.Hole{Z: 5e-3, Diameter: 1e-9}), "0.001 to"},
		{"negative hole", reflector(synth.Hole{Z: 5e-3, Diameter: -1e-3}), "diameter"},
		{"NaN hole", reflector(synth.Hole{Z: nan, Diameter: 1e-3}), "axis"},
		{"crack of no length", reflector(synth.Crack{From: r3.Vec{Z: 1e-3}, To: r3.Vec{Z: 1e-3}}), "distinct"},
		{"skew crack", reflector(synth.Crack{From: r3.Vec{Z: 1e-3}, To: r3.Vec{Y: 1e-3, Z: 1e-3}}), "y = 0"},
		{"endless crack", reflector(synth.Crack{From: r3.Vec{Z: 1e-3}, To: r3.Vec{Z: 1e9}}), "wavelengths"},
		{"short crack of no length", reflector(synth.ShortCrack{}), "distinct"},
		{"long short crack", reflector(synth.ShortCrack{From: r3.Vec{Z: 1e-3}, To: r3.Vec{Z: 1}}), "50 wavelengths"},
		{"crack out of the part", reflector(synth.Crack{From: r3.Vec{Z: 1e-3}, To: r3.Vec{Z: 50e-3}}), "in the part"},
		{"crack of NaN width", reflector(synth.Crack{From: r3.Vec{Z: 1e-3}, To: r3.Vec{Z: 2e-3}, Width: nan}), "width"},
		{"disc in a section", reflector(synth.FlatBottomHole{Position: r3.Vec{Z: 1e-3}, Normal: r3.Vec{Z: 1}, Diameter: 1e-3}), "section"},
		{"disc without normal", reflector(synth.FlatBottomHole{Position: r3.Vec{Z: 1e-3}, Diameter: 1e-3}), "normal"},
		{"sphere in a section", reflector(synth.Sphere{Position: r3.Vec{Z: 1e-3}, Diameter: 1e-3}), "section"},
		{"disc of a normal too short", func(s *synth.Scene, _ *synth.Recording) {
			s.Dimension = wedge.Space
			s.Reflectors = []synth.Reflector{synth.FlatBottomHole{Position: r3.Vec{Z: 1e-3}, Normal: r3.Vec{Z: 1e-310}, Diameter: 1e-3}}
		}, "normal"},
		{"cloud of nothing", reflector(synth.Cloud{To: r3.Vec{Z: 1e-3}}), "points"},
		{"NaN cloud", reflector(synth.Cloud{To: r3.Vec{Z: nan}, Points: 1}), "corner"},
	} {
		s, r := wedgeScene(wedge.Section), wedgeRecording
		row.change(&s, &r)
		t.Run(row.name, func(t *testing.T) {
			_, err := synth.Synthesise(t.Context(), &s, r)
			check.Error(t, err, row.want)
			if !strings.HasPrefix(err.Error(), "synth: ") {
				t.Errorf("error %q, want the prefix of the package", err)
			}
		})
	}
}

// TestInputOfNothing checks the errors of a missing scene, and of surroundings without frequencies.
func TestInputOfNothing(t *testing.T) {
	_, err := synth.Synthesise(t.Context(), nil, wedgeRecording)
	check.Error(t, err, "synth: no scene")
	none := synth.Surroundings{Part: steel}
	_, err = synth.Hole{Z: 1e-3, Diameter: 1e-3}.Scatterers(none)
	check.Error(t, err, "synth: frequencies [] Hz")
	_, err = synth.Crack{To: r3.Vec{Z: 1e-3}}.Scatterers(none)
	check.Error(t, err, "synth: frequencies [] Hz")
}

// TestLimits checks that the smallest and the largest values in range give no error.
func TestLimits(t *testing.T) {
	s := synth.Scene{Setup: plate(nil, 10e-3), Array: small(1, 1e-3, 5e6, 1.9)}
	c := synthesise(t, s, synth.Recording{Samples: 1, SampleRate: 30e6})
	if c.Data[0] != 0 {
		t.Errorf("an empty scene echoes: %v", c.Data[0])
	}
	s.Reflectors, s.Views = []synth.Reflector{synth.Point{Position: r3.Vec{Z: 1e-3}, Strength: 1}}, parseViews("L-L")
	s.Walls = backWall
	for _, at := range []float64{-1, 0, 0.3e-6, 1, 1e9} {
		synthesise(t, s, synth.Recording{Samples: 1, SampleRate: 30e6, FirstSample: at})
	}
	// The square of this distance overflows.
	far := wedgeScene(wedge.Space)
	far.Reflectors = []synth.Reflector{synth.Point{Position: r3.Vec{X: 1e200, Z: 4e-3}, Strength: 1}}
	synthesise(t, far, synth.Recording{Samples: 1, SampleRate: 30e6})
	s.Array.Bandwidth = 1e-3
	synthesise(t, s, synth.Recording{Samples: 5, SampleRate: 30e6})
}

func BenchmarkSynthesise(b *testing.B) {
	like := fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
	array := check.Must(fmc.LinearArray(32, 0.6e-3, like))
	s := synth.Scene{Setup: plate(nil, 25e-3), Array: array, Walls: backWall, Views: parseViews("L-L")}
	for i := range 3 {
		s.Reflectors = append(s.Reflectors, synth.Hole{X: float64(i) * 3e-3, Z: 10e-3, Diameter: 1.5e-3})
	}
	recording := synth.Recording{Samples: 800, SampleRate: 50e6}
	for b.Loop() {
		if _, err := synth.Synthesise(b.Context(), &s, recording); err != nil {
			b.Fatal(err)
		}
	}
}
