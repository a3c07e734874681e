// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm_test

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"path/filepath"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// The tests of this file image the reference captures of testdata: full-wave
// simulations, which no ray model had a part in.

// reference reads a capture of testdata.
func reference(t *testing.T, name string) (*npy.Record, *wedge.Setup) {
	t.Helper()
	r, err := npy.ReadFile(filepath.Join("..", "testdata", name+".json"), nil)
	if err != nil {
		t.Fatal(err)
	}
	return r, check.Must(r.Geometry())
}

// imageOf images a capture in a view, over a range in mm.
func imageOf(t *testing.T, c *fmc.Capture, s *wedge.Setup, view string, x0, x1, z0, z1, step float64) *tfm.Image {
	t.Helper()
	ctx := context.Background()
	g := check.Must(tfm.NewSection(x0*1e-3, x1*1e-3, z0*1e-3, z1*1e-3, step*1e-3))
	return check.Must(check.Must(tfm.PlanView(ctx, c, s, view, g, nil)).Image(ctx, c))
}

// peakNear returns the position of the highest pixel within radius of a point.
func peakNear(e *tfm.Envelope, at r3.Vec, radius float64) (peak r3.Vec, amplitude float64) {
	for i, v := range e.Data {
		if p := e.Point(i); float64(v) > amplitude && r3.Norm(r3.Sub(p, at)) <= radius {
			peak, amplitude = p, float64(v)
		}
	}
	return peak, amplitude
}

// faceDistance returns how far p lies from the face that a hole turns to the
// array: the half of its circle about the direction against the ray to its centre.
func faceDistance(t *testing.T, s *wedge.Setup, view string, elements []r3.Vec, h npy.Hole, p r3.Vec) float64 {
	t.Helper()
	path, _, err := s.Paths(check.Must(wedge.ParseView(view)))
	if err != nil {
		t.Fatal(err)
	}
	centre := r3.Vec{X: h.X, Z: h.Z}
	middle := r3.Scale(0.5, r3.Add(elements[0], elements[len(elements)-1]))
	ray := path.Solve(middle, centre)
	if ray.Status != wedge.OK {
		t.Fatal(ray.Status.Err())
	}
	from := r3.Sub(p, centre)
	if r3.Dot(from, ray.Direction(len(ray.Points)-2)) > 0 {
		return math.Inf(1) // behind the hole
	}
	return math.Abs(r3.Norm(from) - h.Diameter/2)
}

// TestHoles checks that the peak of every hole lies on its near face, and where an independent
// program put it. That program took each ray time as the least over a fine scan of the entry
// surface (testdata/README.md), with pixels of 0.05 mm.
func TestHoles(t *testing.T) {
	for _, test := range []struct {
		name, view     string
		x0, x1, z0, z1 float64 // mm
		limit          float64 // mm from the near face
		peaks          []r3.Vec
	}{
		{"block16", "L-L", -12, 12, 6, 36, 0.3, []r3.Vec{{X: -8.65, Z: 9.40}, {X: -2.95, Z: 16.30}, {X: 2.75, Z: 23.35}, {X: 8.45, Z: 30.40}}},
		{"pipe32", "L-L", -10, 10, 4, 12, 0.3, []r3.Vec{{X: -6.80, Z: 6.00}, {X: 0.55, Z: 8.40}, {X: 7.30, Z: 7.05}}},
		{"wavy32", "L-L", -9, 9, 4, 18, 0.3, []r3.Vec{{X: -6.25, Z: 7.40}, {X: 0.95, Z: 11.45}, {X: 6.80, Z: 14.45}}},
		// The nearest hole partly shadows the other two.
		{"sdh32", "T-T", 8, 30, 4, 25, 1.0, []r3.Vec{{X: 13.25, Z: 7.35}, {X: 18.80, Z: 13.95}, {X: 25.70, Z: 20.25}}},
	} {
		t.Run(test.name, func(t *testing.T) {
			if testing.Short() && test.name != "block16" {
				t.Skip("one capture is enough for a short run")
			}
			r, s := reference(t, test.name)
			e := imageOf(t, r.Capture, s, test.view, test.x0, test.x1, test.z0, test.z1, 0.1).Envelope(nil)
			if len(test.peaks) != len(r.Truth.Holes) {
				t.Fatalf("%d holes, %d peaks to compare with", len(r.Truth.Holes), len(test.peaks))
			}
			for i, h := range r.Truth.Holes {
				peak, _ := peakNear(e, r3.Vec{X: h.X, Z: h.Z}, 2e-3)
				if d := faceDistance(t, s, test.view, r.Capture.Array.Elements, h, peak); !(d <= test.limit*1e-3) {
					t.Errorf("hole at (%.1f, %.1f) mm: peak at (%.2f, %.2f), %.2f mm from the near face", h.X*1e3, h.Z*1e3, peak.X*1e3, peak.Z*1e3, d*1e3)
				}
				if d := r3.Norm(r3.Sub(r3.Scale(1e3, peak), test.peaks[i])); !(d <= 0.12) {
					t.Errorf("hole at (%.1f, %.1f) mm: peak at (%.2f, %.2f), independent image (%.2f, %.2f)", h.X*1e3, h.Z*1e3, peak.X*1e3, peak.Z*1e3, test.peaks[i].X, test.peaks[i].Z)
				}
			}
		})
	}
}

// TestTips checks the echoes from the ends of the slit and from the tip of the notch
// in notch32, and the heights that follow from them. The image ends above the
// back wall, whose echo is 20 dB stronger.
func TestTips(t *testing.T) {
	r, s := reference(t, "notch32")
	e := imageOf(t, r.Capture, s, "L-L", -12, 12, 5, 23, 0.05).Envelope(nil)
	var depths []float64
	slit, notch := r.Truth.Slits[0], r.Truth.Slits[1]
	for _, tip := range []r3.Vec{{X: slit.X0, Z: slit.Z0}, {X: slit.X1, Z: slit.Z1}, {X: notch.X0, Z: notch.Z0}} {
		got, _ := peakNear(e, tip, 1e-3)
		if d := r3.Norm(r3.Sub(got, tip)); !(d <= 0.25e-3) {
			t.Errorf("tip at (%.2f, %.2f) mm: peak at (%.2f, %.2f), %.2f mm away", tip.X*1e3, tip.Z*1e3, got.X*1e3, got.Z*1e3, d*1e3)
		}
		depths = append(depths, got.Z)
	}
	for _, height := range []struct {
		name      string
		got, want float64
	}{
		{"slit", depths[1] - depths[0], 5e-3},
		{"notch", r.Thickness - depths[2], 5.5e-3},
	} {
		if !(math.Abs(height.got-height.want) <= 0.3e-3) {
			t.Errorf("%s %.2f mm high by its tips, want %.2f", height.name, height.got*1e3, height.want*1e3)
		}
	}
}

// TestHalfOfReal checks that the whole matrix of block16 and its half, the mean of
// both directions, give one image though the two directions are not equal to the last
// digit. It holds where both paths are one; a view whose paths differ tells the
// directions apart.
func TestHalfOfReal(t *testing.T) {
	r, s := reference(t, "block16")
	if r.Capture.Layout() != fmc.Full {
		t.Fatal("block16 is not the full matrix")
	}
	half := check.Must(r.Capture.Half())
	want := imageOf(t, r.Capture, s, "L-L", -12, 12, 6, 36, 0.3)
	got := imageOf(t, half, s, "L-L", -12, 12, 6, 36, 0.3)
	wantSame(t, got, want)
}

// wantSame fails unless two images are the same to 1e-5 of their peak.
func wantSame(t *testing.T, got, want *tfm.Image) {
	t.Helper()
	peak, _ := want.Envelope(nil).Peak()
	worst := 0.0
	for i, v := range want.Data {
		d := complex128(v - got.Data[i])
		worst = max(worst, math.Hypot(real(d), imag(d)))
	}
	if !(worst <= 1e-5*float64(peak)) {
		t.Errorf("the images differ by %g of the peak", worst/float64(peak))
	}
}

// TestHalfIsFull checks that the half matrix of weld32, and the full one that it
// stands for, give one image, in a view whose paths are one and in one whose paths
// differ.
func TestHalfIsFull(t *testing.T) {
	r, s := reference(t, "weld32")
	full := check.Must(r.Capture.Full())
	for _, view := range []string{"T-T", "TT-T"} {
		want := imageOf(t, full, s, view, 8, 32, 2, 16, 0.2)
		got := imageOf(t, r.Capture, s, view, 8, 32, 2, 16, 0.2)
		wantSame(t, got, want)
	}
}

// TestResolution checks the width of a point's image along the beam and across it
// against independent calculation (numpy, Gaussian pulse, no directivity, 0.02 mm
// grid): 64 elements, 0.6 mm apart, 5 MHz, 5920 m/s.
func TestResolution(t *testing.T) {
	for _, test := range []struct {
		elements       int
		z              float64 // mm
		lateral, axial float64 // mm at -6 dB
	}{
		{64, 30, 0.911, 0.915},
		{32, 30, 1.694, 0.885},
		{16, 30, 3.310, 0.874},
	} {
		t.Run(fmt.Sprintf("elements=%d", test.elements), func(t *testing.T) {
			lateral, axial := pointWidths(t, test.elements, test.z)
			if !(math.Abs(lateral-test.lateral) <= 0.03*test.lateral) || !(math.Abs(axial-test.axial) <= 0.03*test.axial) {
				t.Errorf("%.3f mm across and %.3f mm along, want %.3f and %.3f", lateral, axial, test.lateral, test.axial)
			}
		})
	}
}

// pointWidths images a point at depth z (mm) below the middle of an array, and
// returns the widths of its image at half its peak, in mm.
func pointWidths(t *testing.T, elements int, z float64) (lateral, axial float64) {
	t.Helper()
	ctx := context.Background()
	const speed, frequency, bandwidth, rate = 5920.0, 5e6, 0.6, 100e6
	at := r3.Vec{Z: z * 1e-3}
	var array fmc.Array
	for i := range elements {
		array.Elements = append(array.Elements, r3.Vec{X: (float64(i) - float64(elements-1)/2) * 0.6e-3})
	}
	array.Width, array.CentreFrequency, array.Bandwidth = 0.5e-3, frequency, bandwidth
	c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.HalfPairs(elements), Samples: 800, SampleRate: rate, FirstSample: 2*at.Z/speed - 3e-6}))
	// exp(-(πBft)²/(4 ln 2)) has a spectrum of -6 dB width B·f.
	sharpness := math.Pow(math.Pi*bandwidth*frequency, 2) / (4 * math.Ln2)
	for pair, trace := range c.Traces() {
		arrival := (r3.Norm(r3.Sub(at, array.Elements[pair.Tx])) + r3.Norm(r3.Sub(at, array.Elements[pair.Rx]))) / speed
		for k := range trace {
			s := c.Time(k) - arrival
			trace[k] = float32(1000 * math.Exp(-sharpness*s*s) * math.Cos(2*math.Pi*frequency*s))
		}
	}
	path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: speed}}, nil))
	const step = 0.02e-3
	width := func(g tfm.Grid) float64 {
		times := check.Must(path.Times(ctx, array.Elements, g.Points(), nil))
		plan := check.Must(tfm.NewPlan(c, g, times, times, &tfm.Options{Band: tfm.Band{Low: 0.5e6, High: 12e6}}))
		e := check.Must(plan.Image(ctx, c)).Envelope(nil)
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
		return (crossing(1) + crossing(-1)) * step * 1e3
	}
	row := check.Must(tfm.NewSection(-4e-3, 4e-3, at.Z, at.Z, step))
	column := check.Must(tfm.NewSection(0, 0, at.Z-2e-3, at.Z+2e-3, step))
	return width(row), width(column)
}

// TestIntegerFilter images captures and a frame of a scan from their samples of 16 bits, and from
// the samples that a digitiser of 14 bits would deliver. Images in 16 bits must be as precise as
// [tfm.Fixed16] promises, and must differ little from images filtered in single precision.
func TestIntegerFilter(t *testing.T) {
	ctx := context.Background()
	for _, test := range []struct {
		name, view     string
		x0, x1, z0, z1 float64 // mm
	}{
		{"block16", "L-L", -12, 12, 6, 36},
		{"pipe32", "L-L", -10, 10, 4, 12},
		{"wavy32", "L-L", -9, 9, 4, 18},
		{"sdh32", "T-T", 8, 30, 4, 25},
		{"weld32", "T-T", 8, 30, 4, 20},
		{"notch32", "T-T", 8, 30, 4, 20},
		{"notch32", "L-L", -10, 10, 4, 20},
		{"tips_plate1", "L-L", -8, 8, 3, 15},
		{"tips_plate2", "L-L", -8, 8, 3, 15},
		{"tips_weld1", "T-T", 4, 24, 3, 15},
		{"tips_weld2", "T-T", 4, 24, 3, 20},
		{"austenitic/grain32", "L-L", -8, 8, 3, 15}, // 5.6 samples a period, as grainw32
		{"austenitic/grainw32", "L-L", 13, 28, 6, 15},
	} {
		if testing.Short() && test.name != "block16" && test.name != "tips_weld1" {
			continue
		}
		r, s := reference(t, test.name)
		g := check.Must(tfm.NewSection(test.x0*1e-3, test.x1*1e-3, test.z0*1e-3, test.z1*1e-3, 0.3e-3))
		tolerance := 2e-4
		if strings.HasPrefix(test.name, "austenitic") {
			tolerance = 3e-4
		}
		wantIntegers(t, test.name, tolerance, check.Must(tfm.PlanView(ctx, r.Capture, s, test.view, g, nil)),
			check.Must(tfm.PlanView(ctx, r.Capture, s, test.view, g, &tfm.Options{Precision: tfm.Fixed16})), r.Capture)
	}
	file := check.Must(npy.OpenScan(filepath.Join("..", "testdata", "scan", "weld16.json"), nil))
	defer file.Close()
	s := check.Must(file.Record().Geometry())
	g := check.Must(tfm.NewSection(25e-3, 40e-3, 4e-3, 16e-3, 0.3e-3))
	single := check.Must(tfm.PlanView(ctx, file.Record().Capture, s, "TT-T", g, nil))
	fixed := check.Must(tfm.PlanView(ctx, file.Record().Capture, s, "TT-T", g, &tfm.Options{Precision: tfm.Fixed16}))
	frame := *file.Record().Capture
	frame.Data = nil
	for _, v := range check.Must(file.Int16(18)) {
		frame.Data = append(frame.Data, float32(v))
	}
	wantIntegers(t, "scan", 3e-4, single, fixed, &frame)
}

// wantIntegers compares the images of integers with an image in single precision.
func wantIntegers(t *testing.T, name string, tolerance float64, single, fixed *tfm.Plan, c *fmc.Capture) {
	t.Helper()
	ctx, peak := context.Background(), float32(0)
	for _, v := range c.Data {
		peak = max(peak, v, -v)
	}
	for _, full := range []float32{peak, 8191} {
		samples, frame := make([]int16, len(c.Data)), *c
		frame.Data = make([]float32, len(c.Data))
		for i, v := range c.Data {
			samples[i] = int16(math.Round(float64(v / peak * full)))
			frame.Data[i] = float32(samples[i])
		}
		want, float := check.Must(single.Image(ctx, &frame)), check.Must(fixed.Image(ctx, &frame))
		got := tfm.NewImage(want.Grid)
		if err := fixed.NewScratch().ReconstructInt16(ctx, got, samples); err != nil {
			t.Fatal(err)
		}
		highest, worst, change := 0.0, 0.0, 0.0
		for i, v := range want.Data {
			highest = max(highest, cmplx.Abs(complex128(v)))
			worst = max(worst, cmplx.Abs(complex128(got.Data[i]-v)))
			change = max(change, cmplx.Abs(complex128(got.Data[i]-float.Data[i])))
		}
		if !(highest > 0 && worst <= tolerance*highest && change <= 1e-4*highest) {
			t.Errorf("%s, samples up to %v: off by %g of the peak, want %g at most; another filter changes %g, want 1e-4 at most",
				name, full, worst/highest, tolerance, change/highest)
		}
	}
}
