// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
)

// The values of -ghosts.
const (
	ghostsExplaining = "explaining" // the lines of the echoes that explain an indication
	ghostsWalls      = "walls"      // also the lines of all echoes of surfaces
	ghostsNone       = "none"       // no lines
)

// knownReflectors returns the reflectors that the set-up contains, with names that tell where they
// are.
func knownReflectors(t npy.Truth) (known []ghost.Reflector) {
	for _, h := range t.Holes {
		known = append(known, ghost.Reflector{
			Name:    fmt.Sprintf("the hole at x %.1f mm, z %.1f mm", h.X*1e3, h.Z*1e3),
			Outline: wedge.Outline{{X: h.X, Y: h.Z}}, Radius: h.Diameter / 2,
		})
	}
	for _, s := range t.Slits {
		known = append(known, ghost.Reflector{
			Name:    fmt.Sprintf("the slit from x %.1f mm, z %.1f mm", s.X0*1e3, s.Z0*1e3),
			Outline: wedge.Outline{{X: s.X0, Y: s.Z0}, {X: s.X1, Y: s.Z1}},
		})
	}
	return known
}

// explain finds the echoes that explain indications of a view, and where these echoes show.
// Captures of events are not explained: their traces mix the waves of many elements.
func (in *inspection) explain(ctx context.Context, r *result) (err error) {
	if in.record.Capture.Events != nil {
		return nil
	}
	in.stages.begin("explain " + r.view.String())
	defer in.stages.end()
	if in.echoes == nil {
		options := &ghost.Options{Reflectors: knownReflectors(in.record.Truth)}
		if in.echoes, err = ghost.New(ctx, in.setup, in.record.Capture.Array, options); err != nil {
			return err
		}
	}
	var places []r3.Vec
	for _, f := range r.indications {
		places = append(places, r3.Vec{X: f.X, Y: r.envelope.Origin.Y, Z: f.Z})
	}
	found, err := in.echoes.Explain(ctx, in.record.Capture, r.view, places, in.band())
	if err != nil {
		return err
	}
	for _, x := range found {
		r.explained = append(r.explained, x.Echo)
	}
	r.ghosts, err = in.predict(ctx, r)
	return err
}

// predict returns where echoes show in a view, as -ghosts asks. A third of the pixels along each
// axis is enough for lines.
func (in *inspection) predict(ctx context.Context, r *result) ([]ghost.Ghost, error) {
	var names []string
	for _, name := range in.echoes.Names() {
		explains := slices.Contains(r.explained, name)
		wall := strings.HasSuffix(name, "back wall") || strings.HasSuffix(name, "entry surface")
		if in.options.ghosts == ghostsExplaining && explains || in.options.ghosts == ghostsWalls && (explains || wall) {
			names = append(names, name)
		}
	}
	if len(names) == 0 {
		return nil, nil
	}
	const coarser = 3
	g := r.envelope.Grid
	g.Step = r3.Vec{X: coarser * g.Step.X, Y: g.Step.Y, Z: coarser * g.Step.Z}
	g.Cols, g.Rows = (g.Cols-1)/coarser+1, (g.Rows-1)/coarser+1
	ghosts, err := in.echoes.Predict(ctx, r.view, g, &ghost.PredictOptions{Names: names})
	return slices.DeleteFunc(ghosts, func(g ghost.Ghost) bool { return len(g.Lines) == 0 }), err
}

// ghostLines returns the lines of a picture, labelled G1, G2 and so on.
func ghostLines(ghosts []ghost.Ghost) []picture.Ghost {
	all := picture.Ghosts(ghosts)
	for i := range all {
		all[i].Label = ghostLabel(i)
	}
	return all
}

func ghostLabel(i int) string { return fmt.Sprintf("G%d", i+1) }
