// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"context"
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// scanPart returns a plate of 30 mm under an array of n elements in contact.
func scanPart(tb testing.TB, n int, length float64, flaws ...Flaw) *Part {
	tb.Helper()
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate, err := wedge.NewPlate(nil, steel, 30e-3)
	must(tb, err)
	array, err := fmc.LinearArray(n, 1.2e-3, fmc.Array{Width: 0.8e-3, CentreFrequency: 3e6, Bandwidth: 0.6})
	must(tb, err)
	direct, err := wedge.ParseView("L-L")
	must(tb, err)
	return &Part{
		Scene: Scene{Setup: *plate, Array: array, Length: length, Views: []wedge.View{direct},
			Walls: [][]material.Mode{{material.L, material.L}}},
		Flaws: flaws,
	}
}

func must(tb testing.TB, err error) {
	tb.Helper()
	if err != nil {
		tb.Fatal(err)
	}
}

// scanRecording covers direct longitudinal echoes to 30 mm.
var scanRecording = Recording{Samples: 700, SampleRate: 40e6, FirstSample: 0}

// frames returns the frames of a scan at full scale 1.
func frames(tb testing.TB, part *Part, positions ...float64) []*fmc.Capture {
	tb.Helper()
	scan, err := NewScan(tb.Context(), part, Pass{Positions: positions, FullScale: 1}, scanRecording)
	must(tb, err)
	var out []*fmc.Capture
	for i := range positions {
		c := scan.Capture()
		_, err := scan.Frame(tb.Context(), i, c)
		must(tb, err)
		out = append(out, c)
	}
	return out
}

// peak returns the largest sample.
func peak(c *fmc.Capture) float64 {
	largest := 0.0
	for _, v := range c.Data {
		largest = max(largest, math.Abs(float64(v)))
	}
	return largest
}

// differ returns the largest difference of two captures, as a fraction of the largest sample of b.
func differ(a, b *fmc.Capture) float64 {
	most := 0.0
	for k, v := range b.Data {
		most = max(most, math.Abs(float64(a.Data[k]-v)))
	}
	return most / peak(b)
}

// TestScanEndless checks that a flaw much longer than the beam has the echo of an endless reflector.
func TestScanEndless(t *testing.T) {
	crack := Crack{From: r3.Vec{X: 1e-3, Z: 18e-3}, To: r3.Vec{X: 3e-3, Z: 21e-3}}
	long := Planar{Stations: []Station{
		{S: -1, X0: crack.From.X, Z0: crack.From.Z, X1: crack.To.X, Z1: crack.To.Z},
		{S: 1, X0: crack.From.X, Z0: crack.From.Z, X1: crack.To.X, Z1: crack.To.Z},
	}}
	for _, row := range []struct {
		name string
		flaw Flaw
		same Reflector
	}{
		{"planar", long, crack},
		{"drilled", Drilled{X: 2e-3, Z: 17e-3, Diameter: 1.5e-3, From: -1, To: 1}, Hole{X: 2e-3, Z: 17e-3, Diameter: 1.5e-3}},
	} {
		t.Run(row.name, func(t *testing.T) {
			part := scanPart(t, 8, 8e-3, row.flaw)
			part.Scene.Walls = nil
			got := frames(t, part, 0)[0]
			scene := part.Scene
			scene.Reflectors = []Reflector{row.same}
			want, err := Synthesise(context.Background(), &scene, scanRecording)
			must(t, err)
			if d := differ(got, want); !(d <= 2e-4) {
				t.Errorf("difference %.3g of the largest sample: want at most 2e-4", d)
			}
		})
	}
}

// pointLine is a flaw of many weak points in a row along the scan. Its amplitude is the integral of
// the amplitude of a point of strength 1 m for each m over an endless line, by stationary phase, with
// the length of the elements.
type pointLine struct {
	x, z, from, to, length float64
}

func (l pointLine) Span() (from, to float64) { return l.from, l.to }

func (l pointLine) strips(*Part) ([]strip, error) {
	return []strip{{reflectors: []Reflector{l}, from: l.from, to: l.to, centre: r3.Vec{X: l.x, Z: l.z}}}, nil
}

func (l pointLine) Scatterers(around Surroundings) ([]Scatterer, error) {
	return []Scatterer{lineScatterer{l, around}}, nil
}

type lineScatterer struct {
	pointLine
	around Surroundings
}

func (l lineScatterer) Centre() (r3.Vec, bool) { return r3.Vec{X: l.x, Z: l.z}, true }

func (l lineScatterer) Scatter(dst []complex128, in, out Wave) {
	c := l.around.Part.Longitudinal
	bend := (1/(c*in.Radius) + 1/(c*out.Radius)) / 2
	for k, f := range l.around.Frequencies {
		a := math.Pi * f * l.length * l.length * bend
		dst[k] = cmplx.Sqrt(complex(0, 1/(2*f*bend))) * overlap(a)
	}
}

// linePoints returns the capture of two elements at s = 0, by single points and single parts of the
// elements: no beam is assumed.
func linePoints(t *testing.T, part *Part, l pointLine, points []r3.Vec, weight float64) *fmc.Capture {
	t.Helper()
	const parts = 12
	scene := part.Scene
	whole := scene.Array.Elements
	scene.Array.Elements = nil
	for _, e := range whole {
		for j := range parts {
			e.Y = l.length * ((float64(j)+0.5)/parts - 0.5)
			scene.Array.Elements = append(scene.Array.Elements, e)
		}
	}
	scene.Axis = r3.Vec{X: 1}
	scene.Length /= parts
	scene.Reflectors = nil
	for _, p := range points {
		scene.Reflectors = append(scene.Reflectors, Point{Position: p, Strength: weight})
	}
	fine, err := Synthesise(t.Context(), &scene, scanRecording)
	must(t, err)
	out, err := scanRecording.frame(part.Scene.Array)
	must(t, err)
	for pair, trace := range out.Traces() {
		for a := range parts {
			for b := range parts {
				from, ok := fine.Between(pair.Tx*parts+a, pair.Rx*parts+b)
				if !ok {
					t.Fatal("no trace")
				}
				for k, v := range from {
					trace[k] += v / (parts * parts)
				}
			}
		}
	}
	return out
}

// TestScanLineOfPoints compares flaws that begin and end with single points that [Synthesise] sees in
// space, from the single parts of the elements. Errors are fractions of the echo of a flaw without
// ends. They come from the spreading and the directivity, which change a little over the flaw.
func TestScanLineOfPoints(t *testing.T) {
	for _, row := range []struct {
		name         string
		length, z    float64
		from, to, at float64
		error        float64
	}{
		{"middle", 6e-3, 20e-3, -4e-3, 4e-3, 0, 0.03},
		{"end", 6e-3, 20e-3, 0, 8e-3, 0, 0.03},
		{"short", 6e-3, 20e-3, -1e-3, 1e-3, 1e-3, 0.03},
		{"aside", 6e-3, 20e-3, 3e-3, 8e-3, 0, 0.03},
		{"near field", 12e-3, 15e-3, -2e-3, 5e-3, 0, 0.04},
		{"far aside", 4e-3, 15e-3, 10e-3, 14e-3, 0, 0.01},
	} {
		t.Run(row.name, func(t *testing.T) {
			if testing.Short() && row.name != "aside" {
				t.Skip("short")
			}
			l := pointLine{x: 1e-3, z: row.z, from: row.from, to: row.to, length: row.length}
			part := scanPart(t, 2, row.length, l)
			part.Scene.Walls = nil
			got := frames(t, part, row.at)[0]
			const step = 0.25e-3
			var points []r3.Vec
			for y := l.from + step/2; y < l.to; y += step {
				points = append(points, r3.Vec{X: l.x, Y: y - row.at, Z: l.z})
			}
			want := linePoints(t, part, l, points, step)
			endless := l
			endless.from, endless.to = -1, 1
			largest := peak(frames(t, scanPart(t, 2, row.length, endless), 0)[0])
			if d := differ(got, want) * peak(want) / largest; !(d <= row.error) {
				t.Errorf("difference %.3g of an endless flaw: want at most %v", d, row.error)
			}
		})
	}
}

// straight returns lack of fusion with one section from one position to another.
func straight(from, to float64) Planar {
	return Planar{Stations: []Station{
		{S: from, X0: 1e-3, Z0: 18e-3, X1: 3e-3, Z1: 21e-3}, {S: to, X0: 1e-3, Z0: 18e-3, X1: 3e-3, Z1: 21e-3},
	}}
}

// TestScanBytes checks that the bytes of a frame depend neither on the number of workers nor on the
// frames before it, and that other frames have other noise.
func TestScanBytes(t *testing.T) {
	part := scanPart(t, 4, 8e-3, straight(2e-3, 9e-3), Pit{X: 0, S: 4e-3, Diameter: 6e-3, Depth: 3e-3},
		Pores{X: -2e-3, S: 8e-3, Z: 14e-3, Width: 3e-3, Length: 4e-3, Height: 2e-3, Count: 3, Smallest: 1e-3, Largest: 2e-3, Seed: 5})
	pass := Pass{Positions: Steps(0, 2e-3, 6), Noise: 0.01, Bits: 16, Seed: 3, Drift: -1,
		Patches: []Patch{{From: 3e-3, To: 9e-3, Loss: 6}}}
	var want [][]float32
	for _, row := range []struct {
		name          string
		workers, from int
	}{{"one worker", 1, 0}, {"three workers", 3, 0}, {"from the middle", 2, 3}} {
		recording := scanRecording
		recording.Workers = row.workers
		recording.Pairs = fmc.HalfPairs(4)
		scan, err := NewScan(t.Context(), part, pass, recording)
		must(t, err)
		i := row.from
		for frame, err := range fmc.Frames(t.Context(), scan.Source(row.from, scan.Len())) {
			must(t, err)
			if frame.Index != i || frame.Position != pass.Positions[i] {
				t.Fatalf("%s: frame %d at %v", row.name, frame.Index, frame.Position)
			}
			if row.name == "one worker" {
				want = append(want, slices.Clone(frame.Capture.Data))
			}
			if !slices.Equal(want[i], frame.Capture.Data) {
				t.Errorf("%s: frame %d differs", row.name, i)
			}
			i++
		}
		if i != 6 {
			t.Fatalf("%s: %d frames", row.name, i)
		}
	}
	// Two frames at one place differ in their noise alone.
	scan, err := NewScan(t.Context(), scanPart(t, 2, 8e-3), Pass{Positions: []float64{0, 0}, Noise: 0.01}, scanRecording)
	must(t, err)
	a, b := scan.Capture(), scan.Capture()
	for i, c := range []*fmc.Capture{a, b} {
		_, err := scan.Frame(t.Context(), i, c)
		must(t, err)
	}
	if d := differ(a, b); !(d > 0.01) {
		t.Errorf("two frames at one place differ by %v: want other noise", d)
	}
}

// TestScanIdentities checks superposition, symmetry along the scan, reciprocity, and that a frame far
// from the flaw has no echo.
func TestScanIdentities(t *testing.T) {
	const far = 150e-3
	left, right := straight(-6e-3, 1e-3), straight(1e-3, 6e-3)
	at := []float64{-3e-3, 3e-3, far}
	without := func(flaws ...Flaw) *Part {
		p := scanPart(t, 4, 8e-3, flaws...)
		p.Scene.Walls = nil
		return p
	}
	whole := frames(t, without(straight(-6e-3, 6e-3)), at...)
	a, b := frames(t, without(left), at...), frames(t, without(right), at...)
	for i := range at {
		for k := range a[i].Data {
			a[i].Data[k] += b[i].Data[k]
		}
	}
	for i := range at[:2] {
		if d := differ(a[i], whole[i]); !(d <= 3e-6) {
			t.Errorf("two halves at %v m differ by %.3g from the whole", at[i], d)
		}
	}
	if d := differ(whole[0], whole[1]); !(d <= 3e-6) {
		t.Errorf("mirrored positions differ by %.3g", d)
	}
	if p := peak(whole[2]) / peak(whole[0]); !(p <= 1e-5) {
		t.Errorf("echo %.3g of the largest far from the flaw", p)
	}
	there, _ := whole[0].Between(0, 3)
	back, _ := whole[0].Between(3, 0)
	for k := range there {
		if d := math.Abs(float64(there[k] - back[k])); !(d <= 1e-6*peak(whole[0])) {
			t.Fatalf("sample %d: %v and %v: not reciprocal", k, there[k], back[k])
		}
	}
}

// TestScanPit checks that a plate whose whole wall is one pit is a thinner plate. The wall echo is the
// echo of a ray, the pit is Kirchhoff's integral.
func TestScanPit(t *testing.T) {
	pit := Pit{X: 0, S: 0, Diameter: 60e-3, Depth: 6e-3}
	part := scanPart(t, 2, 8e-3, pit)
	got := frames(t, part, 0)[0]
	thin := scanPart(t, 2, 8e-3)
	var err error
	thin.Scene.Setup.Back, err = wedge.HorizontalPlane(24e-3)
	must(t, err)
	want := frames(t, thin, 0)[0]
	if d := differ(got, want); !(d <= 0.03) {
		t.Errorf("difference %.3g of the largest sample: want at most 0.03", d)
	}
	steps := scanPart(t, 2, 8e-3, pit, pit)
	steps.Flaws[0] = Pit{Diameter: pit.Diameter, Depth: 2e-3}
	steps.Flaws[1] = Pit{Diameter: pit.Diameter, Depth: pit.Depth, Base: 2e-3}
	if d := differ(frames(t, steps, 0)[0], got); !(d <= 3e-6) {
		t.Errorf("a pit in two steps differs by %.3g of the largest sample from the same pit in one", d)
	}
	for _, row := range []struct{ x, s, want float64 }{{0, 0, 24e-3}, {29e-3, 0, 24e-3}, {25e-3, 25e-3, 30e-3}} {
		left, err := part.Remaining(row.x, row.s)
		must(t, err)
		if !(math.Abs(left-row.want) <= 1e-12) {
			t.Errorf("%v m left at x = %v, s = %v m: want %v m", left, row.x, row.s, row.want)
		}
	}
}
