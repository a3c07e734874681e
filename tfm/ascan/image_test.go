// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// ramps returns the A-scans of a sector in a plate of 10 mm in contact, whose envelope is the sound
// path in mm.
func ramps(t testing.TB, from, to float64) []*Trace {
	t.Helper()
	setup := check.Must(wedge.NewPlate(nil, steel, 10*mm))
	tracer := check.Must(newTracer(setup, material.T))
	var list []*Trace
	for angle := from; angle <= to+1e-9; angle += degree {
		line := check.Must(tracer.line(r3.Vec{}, angle, 60*mm))
		trace := &Trace{Beam: &Beam{}, Line: line, SampleRate: 50e6, Analytic: make([]complex64, 2000)}
		for k := range trace.Analytic {
			trace.Analytic[k] = complex(float32(trace.SoundPath(trace.Time(float64(k)))/mm), 0)
		}
		list = append(list, trace)
	}
	return list
}

// TestImage checks a sector image pixel by pixel. All beams leave the origin. The true sound path
// of a pixel on the first leg is its distance from the origin. On the second leg, and on an image
// without a back wall, it is the distance of the mirrored or unfolded pixel. Between beams 1° apart
// the linear interpolation is wrong by at most (1°)²/8·s/cos³β, 0.1 % here.
func TestImage(t *testing.T) {
	list := ramps(t, 30*degree, 50*degree)
	for _, test := range []struct {
		name   string
		leg    int
		z0, z1 float64
		unfold func(z float64) float64
	}{
		{"first leg", 1, 2 * mm, 10 * mm, func(z float64) float64 { return z }},
		{"second leg", 2, 0, 10 * mm, func(z float64) float64 { return 20*mm - z }},
		{"no back wall", 0, 2 * mm, 30 * mm, func(z float64) float64 { return z }},
	} {
		t.Run(test.name, func(t *testing.T) {
			grid := check.Must(tfm.NewSection(-5*mm, 40*mm, test.z0, test.z1, 0.25*mm))
			image := check.Must(Image(grid, list, test.leg))
			shown := 0
			for i := range grid.Len() {
				p := grid.Point(i)
				z := test.unfold(p.Z)
				angle := math.Atan2(p.X, z)
				// A pixel on the outermost beam itself may count or not.
				if math.Abs(angle-30*degree) < 1e-9 || math.Abs(angle-50*degree) < 1e-9 {
					continue
				}
				if inside := angle > 30*degree && angle < 50*degree; inside != (image.State(i) == 0) {
					t.Fatalf("pixel at %v m: state %v, at %.2f°", p, image.State(i), angle/degree)
				}
				if image.State(i) != 0 {
					if image.State(i) != tfm.Blank || image.Data[i] != 0 {
						t.Fatalf("pixel at %v m: state %v, amplitude %v", p, image.State(i), image.Data[i])
					}
					continue
				}
				shown++
				want := math.Hypot(p.X, z) / mm
				if got := float64(image.Data[i]); !(math.Abs(got-want) <= 5e-5*want) {
					t.Fatalf("pixel at %v m: %v mm, want %v mm", p, got, want)
				}
			}
			if shown < 400 {
				t.Errorf("%d pixels shown, want at least 400", shown)
			}
		})
	}
}

// TestImageEdges checks overlapping beams, a record that ends, and errors.
func TestImageEdges(t *testing.T) {
	list := ramps(t, 30*degree, 50*degree)
	grid := check.Must(tfm.NewSection(0, 20*mm, 1*mm, 10*mm, 0.5*mm))
	once := check.Must(Image(grid, list, 1))
	// The same beams again, weaker and in the other order, change nothing.
	var both []*Trace
	both = append(both, list...)
	for i := len(list) - 1; i >= 0; i-- {
		weak := *list[i]
		weak.Analytic = make([]complex64, len(weak.Analytic))
		both = append(both, &weak)
	}
	for i, v := range check.Must(Image(grid, both, 1)).Data {
		if v != once.Data[i] {
			t.Fatalf("pixel %d is %v, want %v", i, v, once.Data[i])
		}
	}
	for _, trace := range list {
		trace.Analytic = trace.Analytic[:200] // 4 µs, 6.5 mm
	}
	for i, v := range check.Must(Image(grid, list, 1)).Data {
		if !(v <= 6.5) {
			t.Errorf("pixel at %v m shows %v mm, behind the end of the record", grid.Point(i), v)
		}
	}
	_, err := Image(grid, list[:1], 1)
	check.Error(t, err, "at least 2")
	_, err = Image(grid, list, -1)
	check.Error(t, err, "leg -1")
	deep := grid
	deep.Slices = 2
	_, err = Image(deep, list, 1)
	check.Error(t, err, "2 slices")
	deep.Slices = 0
	_, err = Image(deep, list, 1)
	check.Error(t, err, "0 pixels along y")
}

// TestSectorOfWeld checks a sector image of the full-wave weld. The highest echo of the first leg
// is the fusion face. Near the back wall it is the corner of the root notch. The spots are about
// one wavelength wide, 0.8 mm. The peak of the spot lies within half a wavelength. Half a step of
// the fan adds 0.4 mm at the corner, across the beam.
func TestSectorOfWeld(t *testing.T) {
	if testing.Short() {
		t.Skip("long: 18 beams of 1024 pairs")
	}
	record, setup := captured(t, "weld32")
	like := Beam{Mode: material.T, Transmit: Focus{SoundPath: 23 * mm}, Receive: Focus{Dynamic: true}}
	beams := check.Must(Sector(like, 36*degree, 70*degree, 2*degree))
	list := traces(t, record.Capture, setup, beams...)
	grid := check.Must(tfm.NewSection(5*mm, 35*mm, 2*mm, 16*mm, 0.1*mm))
	image := check.Must(Image(grid, list, 1))
	_, index := image.Peak()
	p, face := grid.Point(index), record.Truth.Slits[0]
	a, b := r3.Vec{X: face.X0, Z: face.Z0}, r3.Vec{X: face.X1, Z: face.Z1}
	along := r3.Unit(r3.Sub(b, a))
	if s := r3.Dot(r3.Sub(p, a), along); !(s >= 0 && s <= r3.Norm(r3.Sub(b, a))) {
		t.Errorf("highest echo at %v is beyond the ends of the fusion face", p)
	}
	check.Within(t, "distance from the fusion face", r3.Norm(r3.Cross(r3.Sub(p, a), along)), 0, 0.4*mm)
	low := check.Must(tfm.NewSection(5*mm, 35*mm, 14*mm, 16*mm, 0.1*mm))
	_, index = check.Must(Image(low, list, 1)).Peak()
	near(t, "corner", low.Point(index), r3.Vec{X: 16 * mm, Z: 16 * mm}, 0.57*mm)
}
