// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"path/filepath"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// capture is a full-wave capture with the section to image, in mm.
type capture struct {
	name                 string
	views                []string
	x0, x1, z0, z1, step float64
}

// captures are the full-wave captures of testdata.
var captures = []capture{
	{"block16", []string{"L-L"}, -14, 14, 5, 41, 0.2},
	{"sdh32", []string{"T-T", "TT-T"}, 10, 28, 5, 23, 0.12},
	{"weld32", []string{"T-T", "TT-T"}, 12, 25, 5, 16.5, 0.12},
	{"notch32", []string{"L-L", "TL-L"}, -9, 9, 7.5, 25.5, 0.12},
	{"tips_plate1", []string{"L-L", "TL-L"}, -9, 9, 7.5, 25.5, 0.12},
	{"tips_plate2", []string{"L-L"}, -9, 9, 7.5, 25.5, 0.12},
	{"tips_weld1", []string{"T-T", "TT-T"}, 12, 25, 5, 16.5, 0.12},
	{"tips_weld2", []string{"T-T", "TT-T", "TT-TT"}, 12, 25, 5, 16.5, 0.12},
	{"pipe32", []string{"L-L"}, -11, 11, 2, 14.5, 0.15},
	{"wavy32", []string{"L-L"}, -11, 11, 3, 20.5, 0.15},
}

// measured prints the table of full-wave captures.
func measured(ctx context.Context, w io.Writer, folder string, captures []capture) error {
	fmt.Fprintf(w, "\nThe full-wave captures: each true reflector, and what the list shows\n\n%-13s%-6s|%7s%7s%6s%6s |%-8s %-13s%6s%6s%7s%6s%6s %-12s%6s%5s\n",
		"capture", "flaw", "x", "z", "size", "tilt", " kind", "method", "off x", "off z", "± u", "size", "± u", "size is", "tilt", "± u")
	for _, c := range captures {
		if err := c.print(ctx, w, folder); err != nil {
			return fmt.Errorf("%s: %w", c.name, err)
		}
	}
	return nil
}

// print prints the reflectors of a capture, and how many entries are no reflector.
func (c *capture) print(ctx context.Context, w io.Writer, folder string) error {
	record, err := npy.ReadFile(filepath.Join(folder, c.name+".json"), nil)
	if err != nil {
		return err
	}
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(c.x0*mm, c.x1*mm, c.z0*mm, c.z1*mm, c.step*mm)
	if err != nil {
		return err
	}
	const floor = -30 // dB; the captures have no noise to follow
	flaws, err := list(ctx, record.Capture, setup, c.views, grid, floor, &flaw.Options{Dimension: wedge.Section})
	if err != nil {
		return err
	}
	targets := known(record.Truth)
	for _, t := range targets {
		r, err := t.judge(setup, record.Capture.Array, flaws)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "%-13s%v\n", c.name, &r)
	}
	if n := spurious(flaws, targets); n > 0 {
		fmt.Fprintf(w, "%-13s%d more entries are planar or a point\n", c.name, n)
	}
	return nil
}

// known returns the reflectors of a capture.
func known(truth npy.Truth) (targets []target) {
	for _, h := range truth.Holes {
		at := r3.Vec{X: h.X, Z: h.Z}
		targets = append(targets, target{"hole", at, at, h.Diameter})
	}
	for _, s := range truth.Slits {
		from, to := r3.Vec{X: s.X0, Z: s.Z0}, r3.Vec{X: s.X1, Z: s.Z1}
		if from.Z > to.Z {
			from, to = to, from
		}
		targets = append(targets, target{"slit", from, to, 0})
	}
	return targets
}

// spurious returns how many planar or point entries lie at none of the targets.
func spurious(flaws []flaw.Flaw, targets []target) (n int) {
	for i := range flaws {
		least := math.Inf(1)
		for _, t := range targets {
			least = min(least, t.away(&flaws[i]))
		}
		if k := flaws[i].Kind; (k == flaw.Planar || k == flaw.Point) && least > reach {
			n++
		}
	}
	return n
}

// String returns a row of the table of captures.
func (r *reading) String() string {
	tilt := func(v float64) string {
		if r.flaw == "hole" {
			return "-"
		}
		return fmt.Sprintf("%.0f", v)
	}
	truth := fmt.Sprintf("%-6s|%7.2f%7.2f%6.2f%6s |", r.flaw, r.x, r.z, r.length, tilt(r.tilt))
	if r.kind == "" {
		return truth + " not listed"
	}
	row := fmt.Sprintf("%s %-7s %-13s%6.2f%6.2f%7.2f%6.2f%6.2f %-12s", truth, r.kind, r.method, r.offX, r.offZ, r.placeU,
		r.readLength, r.lengthU, r.is)
	if r.method == string(flaw.NoMethod) || r.is == string(tips.Unresolved) {
		return row + fmt.Sprintf("%6s%5s", "-", "-")
	}
	return row + fmt.Sprintf("%6.0f%5.0f", r.readTilt, r.tiltU)
}
