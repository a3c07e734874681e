// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// slit is tips_plate2 around its slit, in view L-L.
func slit() (*fmc.Capture, *wedge.Setup, *tfm.Image) {
	ctx := context.Background()
	record := check.Must(npy.ReadFile("../../testdata/tips_plate2.json", nil))
	setup := check.Must(record.Geometry())
	grid := check.Must(tfm.NewSection(-2e-3, 6e-3, 8e-3, 18e-3, 0.12e-3))
	plan := check.Must(tfm.PlanView(ctx, record.Capture, setup, "L-L", grid, nil))
	return record.Capture, setup, check.Must(plan.Image(ctx, record.Capture))
}

// TestSame finds the same flaw, bit by bit, with one worker and with several, and after a detour
// through JSON. The full matrix gives the same flaw as the half matrix, within rounding.
func TestSame(t *testing.T) {
	c, setup, image := slit()
	find := func(c *fmc.Capture, workers int) []Flaw {
		return check.Must(Find(context.Background(), c, setup, []View{{"L-L", image}},
			&Options{Dimension: wedge.Section, Workers: workers}))
	}
	one := find(c, 1)
	if len(one) != 1 {
		t.Fatalf("%d flaws, want 1", len(one))
	}
	if diff := cmp.Diff(one, find(c, 5)); diff != "" {
		t.Errorf("five workers (-one +five):\n%s", diff)
	}
	var read []Flaw
	if err := json.Unmarshal(check.Must(json.Marshal(one)), &read); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(one, read); diff != "" {
		t.Errorf("JSON (-want +got):\n%s", diff)
	}
	// The spreading of the waves hardly changes from one tip to the other.
	space := check.Must(Find(context.Background(), c, setup, []View{{"L-L", image}}, nil))
	if len(space) != 1 {
		t.Fatalf("in space: %d flaws, want 1", len(space))
	}
	check.Within(t, "length in space, m", space[0].Length, one[0].Length, 5e-5)
	full := find(check.Must(c.Full()), 0)
	if len(full) != 1 {
		t.Fatalf("full matrix: %d flaws, want 1", len(full))
	}
	check.Within(t, "length from the full matrix, m", full[0].Length, one[0].Length, 1e-9)
	check.Within(t, "fit in the full matrix", full[0].Evidence[0].Fit, one[0].Evidence[0].Fit, 1e-6)
}

// TestMirror mirrors a capture at x = 0. The flaw is mirrored.
func TestMirror(t *testing.T) {
	half, setup, image := slit()
	c := check.Must(half.Full())
	n := len(c.Array.Elements)
	mirrored := *c
	mirrored.Pairs = slices.Clone(c.Pairs)
	for i, p := range c.Pairs {
		mirrored.Pairs[i] = fmc.Pair{Tx: n - 1 - p.Tx, Rx: n - 1 - p.Rx}
	}
	other := *image
	other.Origin.X = -(image.Origin.X + float64(image.Cols-1)*image.Step.X)
	other.Data = slices.Clone(image.Data)
	for r := range image.Rows {
		slices.Reverse(other.Data[r*image.Cols : (r+1)*image.Cols])
	}
	options := &Options{Dimension: wedge.Section}
	want := check.Must(Find(context.Background(), c, setup, []View{{"L-L", image}}, options))
	got := check.Must(Find(context.Background(), &mirrored, setup, []View{{"L-L", &other}}, options))
	if len(got) != 1 || len(want) != 1 {
		t.Fatalf("%d and %d flaws, want 1 each", len(want), len(got))
	}
	check.Within(t, "tilt", got[0].Tilt, -want[0].Tilt, 1e-6)
	check.Within(t, "length, m", got[0].Length, want[0].Length, 1e-8)
	check.Within(t, "x of the centre, m", got[0].Centre.X, -want[0].Centre.X, 1e-8)
	check.Within(t, "z of the centre, m", got[0].Centre.Z, want[0].Centre.Z, 1e-8)
	check.Within(t, "phase error", got[0].Evidence[0].PhaseError, want[0].Evidence[0].PhaseError, 1e-3)
}

func TestFindErrors(t *testing.T) {
	c, setup, image := slit()
	views := []View{{"L-L", image}}
	ended, end := context.WithCancel(context.Background())
	end()
	events := *c
	events.Events = []fmc.Event{{}}
	matrix := *c
	matrix.Array.Elements = slices.Clone(c.Array.Elements)
	matrix.Array.Elements[3].Y = 1e-3
	for _, row := range []struct {
		name    string
		ctx     context.Context
		capture *fmc.Capture
		setup   *wedge.Setup
		views   []View
		options Options
		want    string
	}{
		{"no set-up", nil, c, nil, views, Options{}, "set-up"},
		{"no capture", nil, &fmc.Capture{}, setup, views, Options{}, "tips: "},
		{"events", nil, &events, setup, views, Options{}, "tips: "},
		{"two sections", nil, &matrix, setup, views, Options{}, "y of element 3"},
		{"view", nil, c, setup, []View{{"LL", image}}, Options{}, "LL"},
		{"no image", nil, c, setup, []View{{"L-L", nil}}, Options{}, "image"},
		{"floor", nil, c, setup, views, Options{Floor: 3}, "floor 3 dB"},
		{"floor NaN", nil, c, setup, views, Options{Floor: math.NaN()}, "floor NaN dB"},
		{"length", nil, c, setup, views, Options{MaxLength: -1}, "length -1 m"},
		{"dimension", nil, c, setup, views, Options{Dimension: 7}, "dimension 7"},
		{"workers", nil, c, setup, views, Options{Workers: -1}, "workers"},
		{"ended", ended, c, setup, views, Options{}, context.Canceled.Error()},
	} {
		t.Run(row.name, func(t *testing.T) {
			ctx := row.ctx
			if ctx == nil {
				ctx = context.Background()
			}
			flaws, err := Find(ctx, row.capture, row.setup, row.views, &row.options)
			check.Error(t, err, row.want)
			if flaws != nil {
				t.Errorf("%d flaws with an error", len(flaws))
			}
			if row.name == "ended" && !errors.Is(err, context.Canceled) {
				t.Errorf("error %v, want one that wraps context.Canceled", err)
			}
		})
	}
}

// TestJoin joins two places whose uncertain axes cross at a right angle: each gives the coordinate
// that it knows.
func TestJoin(t *testing.T) {
	knowsX := place{x: 1e-3, z: 5e-3, xx: 1e10, zz: 1e6} // standard deviations of 10 µm and 1 mm
	knowsZ := place{x: 3e-3, z: 4e-3, xx: 1e6, zz: 1e10}
	p := knowsX.join(knowsZ)
	check.Within(t, "x, m", p.x, 1e-3, 1e-6)
	check.Within(t, "z, m", p.z, 4e-3, 1e-6)
	check.Within(t, "uncertainty along x, m", p.along(1, 0), 10e-6, 1e-8)
	check.Within(t, "uncertainty along z, m", p.along(0, 1), 10e-6, 1e-8)
	// The distances are 2 mm and 1 mm, with a standard deviation of 1 mm each.
	check.Within(t, "apart", knowsX.apart(knowsZ), math.Sqrt(5), 1e-3)
	// The same with axes at 45 degrees: one place knows x + z, the other knows x - z.
	sum := place{x: 2e-3 + 1e-3, z: 3e-3 - 1e-3, xx: 5e9, xz: 5e9 - 1e6, zz: 5e9}
	difference := place{x: 2e-3 + 2e-3, z: 3e-3 + 2e-3, xx: 2e10, xz: 1e6 - 2e10, zz: 2e10}
	p = sum.join(difference)
	check.Within(t, "x at 45 degrees, m", p.x, 2e-3, 2e-6)
	check.Within(t, "z at 45 degrees, m", p.z, 3e-3, 2e-6)
	near := sum
	near.x, near.z = near.x+10e-6/math.Sqrt2, near.z+10e-6/math.Sqrt2 // 10 µm along the axis that sum knows
	check.Within(t, "apart at 45 degrees", sum.apart(near), math.Sqrt(0.5), 1e-3)
	check.Within(t, "blurred along x, m", knowsX.blurred(24e-6).along(1, 0), 26e-6, 1e-9)
	// A place without correlation of x and z, turned by 45 degrees.
	turned := place{xx: 1, xz: 0.5, zz: 1}
	check.Within(t, "along the long axis", turned.along(math.Sqrt2/2, -math.Sqrt2/2), math.Sqrt2, 1e-12)
	check.Within(t, "along the short axis", turned.along(math.Sqrt2/2, math.Sqrt2/2), math.Sqrt(2.0/3), 1e-12)
}

// TestNormal checks the normal of the back wall of a pipe, which points to its axis.
func TestNormal(t *testing.T) {
	setup := check.Must(wedge.NewPipe(nil, onPlate(0).setup.Part, 50e-3, 10e-3))
	at := r3.Vec{X: 25e-3, Z: 20e-3}
	want := r3.Unit(r3.Sub(r3.Vec{Z: 50e-3}, at))
	got := normalAt(setup.Back, at)
	check.Within(t, "x of the normal", got.X, want.X, 1e-6)
	check.Within(t, "z of the normal", got.Z, want.Z, 1e-6)
}
