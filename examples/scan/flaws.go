// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/sizing/volume"
	"github.com/isochron-imaging/isochron/tfm/stack"
	"github.com/isochron-imaging/isochron/wedge"
)

// elementLength is the length of the elements along the scan in m. A capture does not hold it.
const elementLength = 10 * mm

// entry is a flaw of the list: the strongest of the indications that belong together.
type entry struct {
	volume.Indication
	views []string // that show it, this one first
	frame int      // index of the frame that shows it best
}

// find lists the indications of all views in three dimensions, strongest first. Indications of several
// views whose extents overlap along all axes are one entry.
func (s *scanned) find(ctx context.Context, images *stack.Stack, shown *projected) ([]entry, error) {
	var all []entry
	for v, view := range s.views {
		line, err := volume.NewLine(images, v, nil)
		if err != nil {
			return nil, err
		}
		found, err := volume.Find(ctx, line, &volume.Options{
			Floor: lowest, Reference: float64(shown.references[v].Amplitude), Beam: s.beam(view),
		})
		if err != nil {
			return nil, err
		}
		for _, in := range found {
			all = append(all, entry{in, []string{view}, line.Frame(in.Best(1)[0]).Index})
		}
	}
	slices.SortStableFunc(all, func(a, b entry) int { return cmp.Compare(b.LevelDB, a.LevelDB) })
	var flaws []flaw.Flaw
	for i := range all {
		all[i].ID = i + 1
		flaws = append(flaws, all[i].Flaw())
	}
	groups, err := flaw.Interact(flaws, flaw.Rule{})
	if err != nil {
		return nil, err
	}
	var list []entry
	for i, group := range groups {
		strongest := all[group.IDs[0]-1]
		strongest.ID = i + 1
		for _, id := range group.IDs {
			if view := all[id-1].views[0]; !slices.Contains(strongest.views, view) {
				strongest.views = append(strongest.views, view)
			}
		}
		list = append(list, strongest)
	}
	return list, nil
}

// beam returns the width of the beam along the scan in a view: the mean of the ways there and back.
func (s *scanned) beam(view string) func(at r3.Vec) (sizing.Beam, error) {
	c := s.record.Capture
	var centre r3.Vec
	for _, e := range c.Array.Elements {
		centre = r3.Add(centre, r3.Scale(1/float64(len(c.Array.Elements)), e))
	}
	coupling := 0.0 // speed times length in the wedge, to the point x = 0 of the surface
	if s.record.Coupling != nil {
		coupling = s.record.Coupling.Longitudinal * r3.Norm(centre)
	}
	return func(at r3.Vec) (sizing.Beam, error) {
		v, err := wedge.ParseView(view)
		if err != nil {
			return sizing.Beam{}, err
		}
		q := coupling
		for _, legs := range [][]material.Mode{v.Transmit, v.Receive} {
			depth := at.Z // of the part unfolded at its walls
			if len(legs) == 2 {
				depth = 2*s.record.Thickness - at.Z
			}
			q += s.setup.Part.Speed(legs[0]) * math.Hypot(at.X, depth) / 2
		}
		return volume.ElementBeam(elementLength, c.Array.CentreFrequency, q)
	}
}

// print prints the list beside the true flaws.
func (s *scanned) print(w io.Writer, list []entry) {
	fmt.Fprintln(w, "\nflaw  level/dB  x/mm   z/mm  from s to s/mm  length/mm (95 %)  views")
	for _, f := range list {
		fmt.Fprintf(w, "%3d  %7.1f  %6.1f %6.1f  %6.1f  %6.1f  %-16s  %s\n", f.ID, f.LevelDB, f.X/mm, f.Z/mm,
			f.Drop.From/mm, f.Drop.To/mm, length(f), strings.Join(f.views, ", "))
	}
	for _, f := range s.truth.Planar {
		from, to := f.Span()
		fmt.Fprintf(w, "true: planar flaw, s %.1f to %.1f mm, %.1f mm long\n", from/mm, to/mm, (to-from)/mm)
	}
	for _, f := range s.truth.Pores {
		from, to := f.Span()
		fmt.Fprintf(w, "true: %d pores, s %.1f to %.1f mm\n", len(f.Spheres()), from/mm, to/mm)
	}
}

// writeFlaws writes the list in SI units.
func writeFlaws(list []entry) func(io.Writer) error {
	flaws := []flaw.Flaw{}
	for _, f := range list {
		one := f.Flaw()
		one.Views = f.views
		flaws = append(flaws, one)
	}
	return func(w io.Writer) error {
		lines := json.NewEncoder(w)
		lines.SetIndent("", "  ")
		return lines.Encode(flaws)
	}
}

// length returns the limits of the length of a flaw in mm.
func length(f entry) string {
	switch f.LengthIs {
	case tips.LowerBound:
		return fmt.Sprintf("at least %.1f", f.Least/mm)
	case tips.Unresolved:
		return fmt.Sprintf("up to %.1f", f.Most/mm)
	}
	return fmt.Sprintf("%.1f to %.1f", f.Least/mm, f.Most/mm)
}
