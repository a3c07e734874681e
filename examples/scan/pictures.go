// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/tfm/sensitivity"
	"github.com/isochron-imaging/isochron/tfm/stack"
)

// projected is the stack as it is seen along the three axes.
type projected struct {
	*stack.Projection
	source     stack.Source
	references []tfm.Reference // amplitudes of 0 dB, one a view
}

// project projects all views. The views are compared by their sensitivity at its best place. The
// strongest echo of all views is 0 dB. A real examination takes 0 dB from a reference block.
func (s *scanned) project(ctx context.Context, images *stack.Stack, maps []*sensitivity.Map) (*projected, error) {
	source := stack.Source{Stack: images, Pose: stack.Along(s.path)}
	gain := 0.0
	for v, m := range maps {
		one := source
		one.Views = []int{v}
		p, err := stack.Project(ctx, []stack.Source{one}, nil)
		if err != nil {
			return nil, err
		}
		level, _ := p.Plan.Peak()
		best, _ := m.Peak()
		gain = max(gain, math.Pow(10, float64(level)/20)/float64(best))
	}
	for _, m := range maps {
		best, _ := m.Peak()
		source.References = append(source.References, tfm.Reference{Amplitude: float32(gain) * best})
	}
	p, err := stack.Project(ctx, []stack.Source{source}, nil)
	return &projected{p, source, source.References}, err
}

// drawn is a picture with its name and what it shows.
type drawn struct {
	*picture.Map
	name, alternative string
}

// lowest is the lowest level in dB that the colours and the list show.
const lowest = -30

// pictures draws the projections and the coverage, with the true flaws.
func (s *scanned) pictures(shown *projected, seen *coverage, flaws []entry) ([]drawn, error) {
	var all []drawn
	for _, view := range []struct {
		name, title string
		levels      *stack.Map
		axes        func(x, s, z float64) r2.Vec
		weld        [][]r2.Vec
	}{
		{"plan.png", "From above: the highest level over the depth", &shown.Plan, func(x, s, _ float64) r2.Vec { return r2.Vec{X: s, Y: x} }, nil},
		{"side.png", "From the side: the highest level across the weld", &shown.Side, func(_, s, z float64) r2.Vec { return r2.Vec{X: s, Y: z} }, nil},
		{"end.png", "Along the weld: the highest level of all frames", &shown.End, func(x, _, z float64) r2.Vec { return r2.Vec{X: x, Y: z} }, s.outlines.Metal},
	} {
		p, err := picture.LevelMap(view.levels, lowest)
		if err != nil {
			return nil, err
		}
		p.Title, p.Weld = view.title, view.weld
		p.Caption = fmt.Sprintf("Views %s of %s, compared by their sensitivity. 0 dB: the strongest echo. %d frames.", strings.Join(s.views, " and "), s.record.Title, shown.Frames)
		p.Reflectors = s.trueFlaws(view.axes)
		for _, f := range flaws {
			p.Marks = append(p.Marks, picture.Mark{At: view.axes(f.X, f.S, f.Z), Label: fmt.Sprint(f.ID)})
		}
		all = append(all, drawn{p, view.name, view.title + ", with the numbers of the flaws."})
	}
	p, err := seen.picture(s)
	if err != nil {
		return nil, err
	}
	return append(all, drawn{p, "coverage.png", "Which part of the weld was seen, from above. Frames that are missing leave stripes."}), nil
}

// trueFlaws returns the outlines of the true flaws on two axes of the part.
func (s *scanned) trueFlaws(axes func(x, s, z float64) r2.Vec) (all [][]r2.Vec) {
	for _, f := range s.truth.Planar {
		var top, bottom []r2.Vec
		for _, at := range f.Stations {
			top = append(top, axes(at.X0, at.S, at.Z0))
			bottom = append([]r2.Vec{axes(at.X1, at.S, at.Z1)}, bottom...)
		}
		all = append(all, append(append(top, bottom...), top[0]))
	}
	for _, cluster := range s.truth.Pores {
		for _, pore := range cluster.Spheres() {
			at := axes(pore.Position.X, pore.Position.Y, pore.Position.Z)
			all = append(all, picture.Circle(at.X, at.Y, pore.Diameter/2))
		}
	}
	return all
}
