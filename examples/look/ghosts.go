// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"

	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/wedge"
)

// ghostsQuery asks for ghosts: of the surfaces, and of a small reflector at a point, x and z in m.
type ghostsQuery struct {
	imageQuery
	x, z float64
}

// A prediction sums all pairs of elements for each echo and pixel. So it has fewer pixels than an
// image. With 20,000 pixels an answer took up to 2 s of one core in the views of two captures of 32
// elements in testdata (AMD EPYC, family 25). The maximum leaves room for the edges of a window.
const (
	usualGhostPixels = 20_000
	maxGhostPixels   = 21_000
)

// readGhosts reads a request for ghosts. A coarse grid is enough for lines.
func (s *source) readGhosts(q *query) (r ghostsQuery, err error) {
	r.x = q.number("x", (s.window.X0+s.window.X1)/2, -1, 1)
	r.z = q.number("z", (s.window.Z0+s.window.Z1)/2, -1, 1)
	usual := max(wavelength(s.record)/2.5, s.window.step(usualGhostPixels))
	r.imageQuery, err = s.readImage(q, usual, maxGhostPixels)
	return r, err
}

// ghostLine is where an echo shows in a view.
type ghostLine struct {
	Echo  string         `json:"echo"`
	Level float64        `json:"level"` // of its focus, dB (ghost.Ghost)
	Lines [][][2]float64 `json:"lines"`
}

// faintest is the level in dB of the focus of an echo that is still drawn. Fainter echoes do not
// focus, and their lines fill the section.
const faintest = -20

// ghosts answers with the lines along which echoes show in the window of a request, best focus
// first. Echoes of the point that show at the point are no ghosts, and are left out.
func (s *source) ghosts(ctx context.Context, q ghostsQuery) (*answer, error) {
	if s.record.Capture.Events != nil {
		return &answer{head: []ghostLine{}}, nil
	}
	record, setup, err := q.setting.apply(s.record)
	if err != nil {
		return nil, err
	}
	view, err := wedge.ParseView(q.view)
	if err != nil {
		return nil, err
	}
	grid, err := newGrid(record, q.window, q.step)
	if err != nil {
		return nil, err
	}
	array := record.Capture.Array
	known := ghost.Reflector{Name: "the reading point", Outline: wedge.Outline{{X: q.x, Y: q.z}}}
	echoes, err := ghost.New(ctx, setup, array, &ghost.Options{Reflectors: []ghost.Reflector{known}})
	if err != nil {
		return nil, err
	}
	found, err := echoes.Predict(ctx, view, grid, nil)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(found, func(a, b ghost.Ghost) int { return cmp.Compare(b.Focus, a.Focus) })
	near := 2 * record.Part.Longitudinal / array.CentreFrequency
	lines := []ghostLine{}
	for _, g := range found {
		own := strings.HasSuffix(g.Echo, known.Name) && math.Hypot(g.At.X-q.x, g.At.Z-q.z) < near
		if own || g.LevelDB < faintest || len(g.Lines) == 0 {
			continue
		}
		one := ghostLine{Echo: g.Echo, Level: g.LevelDB}
		for _, l := range g.Lines {
			one.Lines = append(one.Lines, section(l))
		}
		lines = append(lines, one)
	}
	return &answer{head: lines}, nil
}
