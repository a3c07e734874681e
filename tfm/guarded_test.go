// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.
package tfm

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm/internal/kerneltest"
	"github.com/isochron-imaging/isochron/wedge"
)

// guardBuffers lets the kernel of p work between unreadable pages.
func guardBuffers(t *testing.T, p *Plan) {
	t.Helper()
	switch w := p.kernel.(type) {
	case *windowed[float32]:
		w.kernel = kerneltest.Guarded[float32](t, w.kernel, p.samples)
	case *windowed[int16]:
		w.kernel = kerneltest.Guarded[int16](t, w.kernel, p.samples)
	default:
		t.Fatalf("%T has no assembly", w)
	}
}

// checkGuarded images between unreadable pages, with each kernel in assembly. The image must
// be the one in ordinary memory.
func checkGuarded(t *testing.T, c *fmc.Capture, g Grid, tx, rx *wedge.Times) {
	t.Helper()
	for _, name := range kernelNames() {
		if name == "portable" {
			continue
		}
		for _, precision := range []Precision{Single, Fixed16} {
			o := Options{kernel: name, Precision: precision}
			want := check.Must(check.Must(NewPlan(c, g, tx, rx, &o)).Image(background, c))
			p := check.Must(NewPlan(c, g, tx, rx, &o))
			guardBuffers(t, p)
			if got := check.Must(p.Image(background, c)); !slices.Equal(got.Data, want.Data) {
				t.Errorf("%s in %v: another image between unreadable pages", name, precision)
			}
		}
	}
}

// TestGuardedTiles takes every size around the size of a tile.
func TestGuardedTiles(t *testing.T) {
	c := randomCapture(2, 3, 300, fmc.FullPairs(3))
	for _, rows := range []int{1, 3, tileRows - 1, tileRows, tileRows + 1} {
		for _, cols := range []int{1, 7, tileCols - 1, tileCols, tileCols + 1} {
			t.Run(fmt.Sprintf("%dx%d", rows, cols), func(t *testing.T) {
				g := Grid{Origin: r3.Vec{X: -1e-3, Z: 6e-3}, Step: r3.Vec{X: 1e-4, Y: 1e-4, Z: 1e-4}, Cols: cols, Rows: rows, Slices: 1}
				tx, rx := tables(plate(), "L-L", c, g)
				checkGuarded(t, c, g, tx, rx)
			})
		}
	}
}

// TestGuardedRandom takes captures, grids and tables of all sorts.
func TestGuardedRandom(t *testing.T) {
	count := 60
	if testing.Short() {
		count = 15
	}
	for seed := range count {
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(uint64(seed), 14))
			c, _ := anyCapture(rng)
			g := anyGrid(rng)
			tx := anyTimes(rng, c, g, c.Events != nil)
			checkGuarded(t, c, g, tx, anyTimes(rng, c, g, false))
		})
	}
}
