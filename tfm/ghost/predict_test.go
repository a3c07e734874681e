// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"context"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

var ctx = context.Background()

func noError(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// The materials of the tests.
var (
	steel = material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	water = material.Isotropic{Density: 998, Longitudinal: 1480}
)

// row returns an array of n elements in contact with z = depth, a pitch apart, of 5 MHz.
func row(n int, pitch, depth float64) fmc.Array {
	a := fmc.Array{Width: pitch, CentreFrequency: 5e6, Bandwidth: 0.6}
	for i := range n {
		a.Elements = append(a.Elements, r3.Vec{X: (float64(i) - float64(n-1)/2) * pitch, Z: depth})
	}
	return a
}

func plate(t testing.TB, coupling *material.Isotropic, thickness float64) *wedge.Setup {
	t.Helper()
	s, err := wedge.NewPlate(coupling, steel, thickness)
	noError(t, err)
	return s
}

func echoes(t testing.TB, s *wedge.Setup, a fmc.Array, known ...Reflector) *Echoes {
	t.Helper()
	e, err := New(ctx, s, a, &Options{Reflectors: known})
	noError(t, err)
	return e
}

func view(t testing.TB, name string) wedge.View {
	t.Helper()
	v, err := wedge.ParseView(name)
	noError(t, err)
	return v
}

func section(t testing.TB, x0, x1, z0, z1, step float64) tfm.Grid {
	t.Helper()
	g, err := tfm.NewSection(x0, x1, z0, z1, step)
	noError(t, err)
	return g
}

// predict returns the ghost of one echo.
func predict(t testing.TB, e *Echoes, name, in string, g tfm.Grid) Ghost {
	t.Helper()
	ghosts, err := e.Predict(ctx, view(t, in), g, &PredictOptions{Names: []string{name}})
	noError(t, err)
	if len(ghosts) != 1 || ghosts[0].Echo != name {
		t.Fatalf("%s in view %s: ghosts %v, want one", name, in, ghosts)
	}
	return ghosts[0]
}

// A wall parallel to the array shows in each view where the time of the view straight below an
// element equals the time of the echo. The depths are closed forms. With the thickness d, the
// speeds c1 of the leg down and c2 of the leg up, and the speed c of the view, the depth is
// d·(c/c1 + c/c2)/2. The second echo of the entry surface shows at h·c/cw for the water path h.
func TestWallDepths(t *testing.T) {
	inContact, immersed := plate(t, nil, 20e-3), plate(t, &water, 100e-3)
	for _, test := range []struct {
		setup      *wedge.Setup
		array      float64 // depth, m
		echo, view string
		want       float64 // m
	}{
		{inContact, 0, "L-L echo of the back wall", "L-L", 20e-3},
		{inContact, 0, "L-T echo of the back wall", "L-L", 28.187404e-3},
		{inContact, 0, "T-T echo of the back wall", "L-L", 36.374808e-3},
		{inContact, 0, "L-L echo of the back wall", "T-T", 10.996622e-3},
		{inContact, 0, "L-T echo of the back wall", "T-T", 15.498311e-3},
		{inContact, 0, "L-L-L-L echo of the back wall", "L-L", 40e-3},
		{immersed, -20e-3, "second echo of the entry surface", "L-L", 80e-3},
		{immersed, -20e-3, "second echo of the entry surface", "T-T", 43.986486e-3},
		// The least water paths that keep this echo below a part of 50 mm, in L-L and in T-T.
		{immersed, -12.5e-3, "second echo of the entry surface", "L-L", 50e-3},
		{immersed, -22.734e-3, "second echo of the entry surface", "T-T", 50e-3},
	} {
		e := echoes(t, test.setup, row(2, 0.1e-3, test.array))
		got := predict(t, e, test.echo, test.view, section(t, 0, 0, 8e-3, 90e-3, 0.1e-3))
		if !(math.Abs(got.At.Z-test.want) <= 5e-6) {
			t.Errorf("%s in view %s at z = %v m, want %v m", test.echo, test.view, got.At.Z, test.want)
		}
		full := 1.0 // of two elements side by side
		if strings.HasPrefix(test.echo, "L-T ") {
			full = 2 // with its reverse
		}
		if !(got.Focus >= 0.99*full && got.Focus <= full+1e-6) {
			t.Errorf("%s in view %s: focus %v, want %v", test.echo, test.view, got.Focus, full)
		}
	}
}

// The converted echo of a wall 20 mm below two elements takes these times. The values are the
// roots of Snell's law at the wall, by bisection in double precision, L leg first.
func TestConvertedEcho(t *testing.T) {
	for _, test := range []struct{ apart, want float64 }{ // m, s
		{10e-3, 9.790078077e-6},
		{20e-3, 10.536733576e-6},
		{40e-3, 12.959696562e-6},
	} {
		e := echoes(t, plate(t, nil, 20e-3), row(2, test.apart, 0))
		echo, err := e.find("L-T echo of the back wall")
		noError(t, err)
		for _, table := range echo.tables { // the L leg first, and last
			if got := float64(table[1]); !(math.Abs(got-test.want) <= 2e-12) {
				t.Errorf("elements %v m apart: %v s, want %v s", test.apart, got, test.want)
			}
		}
	}
}

// TestPredictedImage compares the predicted images with the plain sum of all pulses, where rays are
// missing and where the number of elements is no multiple of the groups.
func TestPredictedImage(t *testing.T) {
	s := plate(t, nil, 20e-3)
	e := echoes(t, s, row(11, 0.8e-3, 0), hole)
	g := section(t, -6e-3, 6e-3, 0.5e-3, 22e-3, 0.7e-3) // also points below the back wall
	there, back, err := s.Paths(view(t, "TL-T"))
	noError(t, err)
	transmit, err := there.Times(context.Background(), e.array.Elements, g.Points(), nil)
	noError(t, err)
	receive, err := back.Times(context.Background(), e.array.Elements, g.Points(), nil)
	noError(t, err)
	p := predictor{echoes: e, grid: g, transmit: transmit, receive: receive}
	seen := 0
	for i := range e.echoes {
		got, err := p.image(context.Background(), &e.echoes[i])
		noError(t, err)
		for k := range got {
			var sum complex128
			for tx := range 11 {
				for rx := range 11 {
					for _, table := range e.echoes[i].tables {
						at := float64(transmit.Seconds[tx*g.Len()+k]) + float64(receive.Seconds[rx*g.Len()+k])
						sum += complex128(e.pulse.at(at - float64(table[tx*11+rx])))
					}
				}
			}
			want := cmplx.Abs(sum) / 121
			if !(math.Abs(got[k]-want) <= 1e-12) {
				t.Fatalf("%s, pixel %d: focus %v, want %v", e.echoes[i].name, k, got[k], want)
			}
			if want > faintest {
				seen++
			}
		}
	}
	if seen < 1000 {
		t.Errorf("%d pixels show an echo: too few to tell", seen)
	}
}

// By reciprocity an echo shows at the same place in a view and in its reciprocal view.
func TestReciprocity(t *testing.T) {
	e := echoes(t, plate(t, nil, 20e-3), row(8, 0.6e-3, 0), hole)
	g := section(t, -6e-3, 6e-3, 4e-3, 19.5e-3, 0.5e-3)
	for _, pair := range [][2]string{{"T-L", "L-T"}, {"LT-L", "L-TL"}} {
		for _, name := range []string{
			"L-L echo of the back wall", "L-T echo of the back wall", "LT-T echo of the hole",
		} {
			a, b := predict(t, e, name, pair[0], g), predict(t, e, name, pair[1], g)
			if !(r3.Norm(r3.Sub(a.At, b.At)) <= 1e-6) || !(math.Abs(a.Focus-b.Focus) <= 1e-5) {
				t.Errorf("%s: at %v with focus %v in view %s, at %v with %v in view %s",
					name, a.At, a.Focus, pair[0], b.At, b.Focus, pair[1])
			}
		}
	}
}

// hole is a reflector of the tests.
var hole = Reflector{Name: "the hole", Outline: wedge.Outline{{X: 1e-3, Y: 9e-3}}, Radius: 0.75e-3}

// In a set-up of twice the size, at half the frequency, all ghosts lie at twice the distance, and
// their focus is the same.
func TestScaling(t *testing.T) {
	a := row(8, 0.6e-3, 0)
	small := echoes(t, plate(t, nil, 20e-3), a, hole)
	twice := row(8, 1.2e-3, 0)
	twice.CentreFrequency /= 2
	large := echoes(t, plate(t, nil, 40e-3), twice,
		Reflector{Name: hole.Name, Outline: wedge.Outline{{X: 2e-3, Y: 18e-3}}, Radius: 2 * hole.Radius})
	from, err := small.Predict(ctx, view(t, "T-L"), section(t, -6e-3, 6e-3, 4e-3, 19e-3, 0.5e-3), nil)
	noError(t, err)
	to, err := large.Predict(ctx, view(t, "T-L"), section(t, -12e-3, 12e-3, 8e-3, 38e-3, 1e-3), nil)
	noError(t, err)
	if len(from) < 15 || len(from) != len(to) {
		t.Fatalf("%d ghosts and %d at twice the size: want the same number, at least 15", len(from), len(to))
	}
	for i, g := range from {
		if g.Focus < 0.05 { // a flat image has no definite place
			continue
		}
		if !(r3.Norm(r3.Sub(r3.Scale(2, g.At), to[i].At)) <= 2e-5) || !(math.Abs(g.Focus-to[i].Focus) <= 1e-3) {
			t.Errorf("%s at %v with focus %v, and %s at %v with %v at twice the size",
				g.Echo, g.At, g.Focus, to[i].Echo, to[i].At, to[i].Focus)
		}
	}
}

// A small reflector focuses at its own place in its own view. The image of a hole lies on its near
// face.
func TestOwnView(t *testing.T) {
	point := Reflector{Name: "the point", Outline: hole.Outline}
	e := echoes(t, plate(t, nil, 20e-3), row(16, 0.6e-3, 0), point, hole)
	g := section(t, 0, 2e-3, 7.5e-3, 10e-3, 0.1e-3)
	for _, test := range []struct {
		name, view string
		want       float64 // distance from the centre, m
	}{
		{"the point", "L-L", 0}, {"the point", "T-L", 0}, {"the point", "TT-T", 0}, {"the point", "LT-TL", 0},
		{"the hole", "L-L", hole.Radius}, {"the hole", "T-T", hole.Radius},
	} {
		got := predict(t, e, test.view+" echo of "+test.name, test.view, g)
		from := math.Hypot(got.At.X-1e-3, got.At.Z-9e-3)
		if !(math.Abs(from-test.want) <= 0.1e-3) {
			t.Errorf("%s in view %s: best focus %v m from the centre, want %v m", test.name, test.view, from, test.want)
		}
		if !(got.Focus > 0.9 && got.Focus <= 1.2) {
			t.Errorf("%s in view %s: focus %v, want nearly 1", test.name, test.view, got.Focus)
		}
	}
}

// A wall in its own view is a straight line at its depth.
func TestLines(t *testing.T) {
	e := echoes(t, plate(t, nil, 20e-3), row(16, 0.6e-3, 0))
	got := predict(t, e, "L-L echo of the back wall", "L-L", section(t, -8e-3, 8e-3, 15e-3, 23e-3, 0.3e-3))
	if len(got.Lines) != 1 {
		t.Fatalf("%d lines, want 1", len(got.Lines))
	}
	line := got.Lines[0]
	width := math.Abs(line[len(line)-1].X - line[0].X)
	if !(width >= 3e-3 && width <= 11e-3) {
		t.Errorf("the line is %v m wide, want about the width of the array, 9 mm", width)
	}
	for i, p := range line {
		if !(math.Abs(p.Z-20e-3) <= 0.05e-3) {
			t.Errorf("point %d at z = %v m, want 20 mm", i, p.Z)
		}
		if i > 0 && !(r3.Norm(r3.Sub(p, line[i-1])) < 0.7e-3) {
			t.Errorf("points %d and %d are %v m apart", i-1, i, r3.Norm(r3.Sub(p, line[i-1])))
		}
	}
}

// The L-L echo of a hole shows in L-T as one bow. Below it and above it the image has short
// ridges, where its pulses overlap. They are no lines.
func TestNoShortPieces(t *testing.T) {
	hole := Reflector{Name: "the hole", Outline: wedge.Outline{{X: 0, Y: 14e-3}}, Radius: 0.5e-3}
	setup, err := wedge.NewPlate(nil, material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230}, 40e-3)
	noError(t, err)
	e := echoes(t, setup, row(32, 0.6e-3, 0), hole)
	options := &PredictOptions{Names: []string{"L-L echo of the hole"}, Drop: 8}
	got, err := e.Predict(ctx, view(t, "L-T"), section(t, -4e-3, 4e-3, 8.5e-3, 11e-3, 0.1e-3), options)
	noError(t, err)
	if len(got) != 1 || len(got[0].Lines) != 1 {
		t.Fatalf("ghosts %v, want one with one line", got)
	}
	if l := length(got[0].Lines[0]); !(l >= 4e-3 && l <= 8e-3) {
		t.Errorf("the line is %v m long, want about 6 mm", l)
	}
}

// The corner between the back wall and an end of the part, given as a line, echoes in half-skip
// views. Off two walls at right angles, a wave of one mode takes the time to the mirror image of
// the element behind the corner (closed form).
func TestCorner(t *testing.T) {
	end := Reflector{Name: "the end", Outline: wedge.Outline{{X: 12e-3, Y: 0}, {X: 12e-3, Y: 20e-3}}}
	a := row(6, 0.6e-3, 0)
	e := echoes(t, plate(t, nil, 20e-3), a, end)
	corner, err := e.find("TT-T echo of the end")
	noError(t, err)
	n := len(a.Elements)
	for i, from := range a.Elements {
		for j, to := range a.Elements {
			image := r3.Vec{X: 24e-3 - to.X, Z: 40e-3 - to.Z}
			want := r3.Norm(r3.Sub(image, from)) / steel.Transverse
			// The wave meets the back wall first, or the end: one of both rays exists.
			got := float64(min(corner.tables[0][i*n+j], corner.tables[1][i*n+j]))
			if !(math.Abs(got-want) <= 2e-9) {
				t.Errorf("from element %d to %d: %v s, want %v s", i, j, got, want)
			}
		}
	}
}
