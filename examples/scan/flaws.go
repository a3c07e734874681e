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
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/tfm/stack"
	"github.com/isochron-imaging/isochron/wedge"
)

// elementLength is the length of the elements along the scan in m. A capture does not hold it.
const elementLength = 10 * mm

// background is the least level of a flaw above the noise in dB. It is invented.
const background = 12

// entry is a flaw of the list: the strongest of the indications that belong together.
type entry struct {
	volume.Indication
	views []string // that show it, this one first
	frame int      // index of the frame that shows it best
	ghost string   // the echo of a stronger indication that explains it, or empty
}

// near is how far two indications of one flaw may lie apart in a section, such as the echoes of two
// tips. It is invented: the procedure has the rule for a real part.
var near = flaw.Gap{Distance: 1 * mm}

// find lists the flaws, strongest first: the indications of all views in three dimensions, without the
// ghosts. Indications that are near in the section and overlap along the scan are one flaw. The ghosts
// follow.
func (s *scanned) find(ctx context.Context, images *stack.Stack, shown *projected) ([]entry, error) {
	all, err := s.indications(ctx, images, shown)
	if err != nil {
		return nil, err
	}
	for i := range all {
		if err := s.explain(ctx, &all[i], all[:i]); err != nil {
			return nil, err
		}
	}
	var ghosts []entry
	var flaws []flaw.Flaw
	for i, f := range all {
		if f.ghost != "" {
			ghosts = append(ghosts, f)
			continue
		}
		one := f.Flaw()
		one.ID = i
		flaws = append(flaws, one)
	}
	groups, err := flaw.Interact(flaws, flaw.Rule{X: near, Z: near})
	if err != nil {
		return nil, err
	}
	var list []entry
	for _, group := range groups {
		strongest := all[group.IDs[0]]
		for _, i := range group.IDs {
			if view := all[i].views[0]; !slices.Contains(strongest.views, view) {
				strongest.views = append(strongest.views, view)
			}
		}
		list = append(list, strongest)
	}
	list = append(list, ghosts...)
	for i := range list {
		list[i].ID = i + 1
	}
	return list, nil
}

// indications returns the indications of all views, strongest first.
func (s *scanned) indications(ctx context.Context, images *stack.Stack, shown *projected) ([]entry, error) {
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
			if in.SNRDB < background {
				continue
			}
			all = append(all, entry{Indication: in, views: []string{view}, frame: line.Frame(in.Best(1)[0]).Index})
		}
	}
	slices.SortStableFunc(all, func(a, b entry) int { return cmp.Compare(b.LevelDB, a.LevelDB) })
	return all, nil
}

// explain tests whether an indication is a ghost: the echo of a stronger one in other modes or on other
// paths than the view assumes (package tfm/ghost).
func (s *scanned) explain(ctx context.Context, f *entry, stronger []entry) error {
	var known []ghost.Reflector
	for _, one := range stronger {
		if one.ghost == "" && one.Drop.From < f.S && f.S < one.Drop.To {
			name := fmt.Sprintf("flaw at x = %.1f mm, z = %.1f mm", one.X/mm, one.Z/mm)
			known = append(known, ghost.Reflector{Name: name, Outline: wedge.Outline{{X: one.X, Y: one.Z}}})
		}
	}
	if known == nil {
		return nil
	}
	capture, err := s.frame(f.frame)
	if err != nil {
		return err
	}
	echoes, err := ghost.New(ctx, s.setup, capture.Array, &ghost.Options{Reflectors: known})
	if err != nil {
		return err
	}
	view, err := wedge.ParseView(f.views[0])
	if err != nil {
		return err
	}
	why, err := echoes.Explain(ctx, capture, view, []r3.Vec{{X: f.X, Z: f.Z}}, tfm.Band{})
	if err != nil {
		return err
	}
	f.ghost = why[0].Echo
	return nil
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
		fmt.Fprintf(w, "%3d  %7.1f  %6.1f %6.1f  %6.1f  %6.1f  %-16s  %s%s\n", f.ID, f.LevelDB, f.X/mm, f.Z/mm,
			f.Drop.From/mm, f.Drop.To/mm, length(f), strings.Join(f.views, ", "), f.reason())
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
		one.Views, one.Explained = f.views, f.ghost
		flaws = append(flaws, one)
	}
	return func(w io.Writer) error {
		lines := json.NewEncoder(w)
		lines.SetIndent("", "  ")
		return lines.Encode(flaws)
	}
}

// reason returns what explains an entry.
func (f *entry) reason() string {
	if f.ghost == "" {
		return ""
	}
	return " (ghost: the " + f.ghost + ")"
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
