// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/wedge"
)

// Views images a capture in several views in one pass, such as T-T and TT-T. The views share the
// filter and the analytic signals of the traces, which are computed once for all views. Views that
// sum the same traces also share the packed traces: in [Single] always, and with [Fixed16] in each
// frame where the strongest samples that they read differ by 1 dB at most. In the kernel "portable"
// views share no traces of 16 bits. Views is immutable and safe for concurrent use, with a
// [ViewsScratch] for each goroutine.
//
// The image of each view is the image of its own plan, to rounding. In [Single] the image of a half
// matrix has the same bits. With [Fixed16] a view that shares traces is rounded to steps that are
// up to 1 dB coarser than in its own plan. The errors that [Fixed16] states hold for it too. Levels
// of different views are not comparable, because their sensitivities differ: see [Fuse].
type Views struct{ plans []*Plan }

// PlanViews prepares the images over g of captures like c in several views of a set-up, such as
// "T-T" and "TT-T", with the same options. It is [PlanView] for each name, but makes and stores
// the table of a path once for all views that have it. Options.Progress is called with the share
// of the tables that is made.
func PlanViews(ctx context.Context, c *fmc.Capture, setup *wedge.Setup, names []string, g Grid, options *Options) (*Views, error) {
	options, analytic, err := options.prepare(c, g)
	if err != nil {
		return nil, err
	}
	if setup == nil {
		return nil, errors.New("tfm: views without a set-up: want one")
	}
	var paths pathList
	at := make([][2]int, len(names)) // of the transmitting and the receiving path of each view
	for i, name := range names {
		view, err := wedge.ParseView(name)
		if err != nil {
			return nil, err
		}
		transmit, receive, err := setup.Paths(view)
		if err != nil {
			return nil, err
		}
		at[i] = [2]int{paths.add(transmit), paths.add(receive)}
	}
	tables, err := paths.tables(ctx, c.Array.Elements, g.Points(), options)
	if err != nil {
		return nil, err
	}
	plans := make([]*Plan, len(names))
	common := *options
	common.tables = make(pathTables)
	for i, path := range at {
		transmit, receive := tables[path[0]], tables[path[1]]
		if c.Events != nil && options.Compound == nil {
			if transmit, err = timesOfEvents(ctx, c, transmit, &wedge.TimesOptions{Workers: options.Workers}); err != nil {
				return nil, err
			}
		}
		if plans[i], err = newPlan(ctx, c, g, transmit.MadeFor.Points, analytic, transmit, receive, &common); err != nil {
			return nil, fmt.Errorf("%w (view %s)", err, names[i])
		}
	}
	return NewViews(plans...)
}

// pathList holds paths, equal ones once.
type pathList []*wedge.Path

// add returns the place of the path in the list, and adds it if need be.
func (l *pathList) add(path *wedge.Path) int {
	for i, p := range *l {
		if p == path || (wedge.MadeFor{Path: p}).Equal(wedge.MadeFor{Path: path}) {
			return i
		}
	}
	*l = append(*l, path)
	return len(*l) - 1
}

// tables returns the table of each path.
func (l pathList) tables(ctx context.Context, elements, points []r3.Vec, options *Options) ([]*wedge.Times, error) {
	tables := make([]*wedge.Times, len(l))
	for i, path := range l {
		o := &wedge.TimesOptions{Workers: options.Workers}
		if report := options.Progress; report != nil {
			o.Progress = func(share float64) { report((float64(i) + share) / float64(len(l))) }
		}
		var err error
		if tables[i], err = path.Times(ctx, elements, points, o); err != nil {
			return nil, err
		}
	}
	return tables, nil
}

// NewViews joins plans of the same grid, captures, band, weights, precision and workers. Coherence
// may differ. Options.Progress of the first plan reports the progress of all views.
func NewViews(plans ...*Plan) (*Views, error) {
	if len(plans) == 0 || slices.Contains(plans, nil) {
		return nil, fmt.Errorf("tfm: %d views, or a view without a plan: want a plan for each of at least one view", len(plans))
	}
	first := plans[0]
	for i, p := range plans[1:] {
		if p.grid != first.grid {
			return nil, fmt.Errorf("tfm: view %d on another grid than view 0: %+v; want %+v", i+1, p.grid, first.grid)
		}
		if err := checkFrame(first.template, p.template); err != nil {
			return nil, fmt.Errorf("%w (view %d and view 0)", err, i+1)
		}
		if p.band != first.band || !slices.Equal(p.weights, first.weights) || p.precision != first.precision || p.name != first.name || p.workers != first.workers {
			return nil, fmt.Errorf("tfm: view %d with another band, other weights, another precision or other workers than view 0: want the same options", i+1)
		}
	}
	return &Views{slices.Clone(plans)}, nil
}

// Images reconstructs one image of c for each view, in the order of the views. It is [Plan.Image]
// for all views.
func (v *Views) Images(ctx context.Context, c *fmc.Capture) ([]*Image, error) {
	if err := v.plans[0].Check(c); err != nil {
		return nil, err
	}
	images := make([]*Image, len(v.plans))
	for i, p := range v.plans {
		images[i] = NewImage(p.grid)
	}
	if err := v.NewScratch().Reconstruct(ctx, images, c.Data); err != nil {
		return nil, err
	}
	return images, nil
}

// ViewsScratch is the memory in which [Views] reconstruct one frame after another.
// It must not be used by two calls at once.
type ViewsScratch struct{ scratch *Scratch }

// NewScratch returns a scratch for frames of v, as [Plan.NewScratch] does.
func (v *Views) NewScratch() *ViewsScratch { return v.NewScratchOf(v.plans[0].workers) }

// NewScratchOf is [Views.NewScratch] for another number of cores, as [Plan.NewScratchOf] is.
func (v *Views) NewScratchOf(workers int) *ViewsScratch {
	return &ViewsScratch{newScratch(workers, v.plans...)}
}

// Reconstruct writes the images of one frame to dst, an image of the grid for each view, all
// different. It is [Scratch.Reconstruct] for all views.
func (s *ViewsScratch) Reconstruct(ctx context.Context, dst []*Image, samples []float32) error {
	if err := s.prepare(dst, len(samples)); err != nil {
		return err
	}
	s.scratch.float32s = samples
	return s.scratch.run(ctx)
}

// ReconstructInt16 is [ViewsScratch.Reconstruct] for 16-bit samples, as a digitiser delivers them.
func (s *ViewsScratch) ReconstructInt16(ctx context.Context, dst []*Image, samples []int16) error {
	if err := s.prepare(dst, len(samples)); err != nil {
		return err
	}
	s.scratch.int16s = samples
	return s.scratch.run(ctx)
}

// RoundingNoise returns the level of [Scratch.RoundingNoise] for each view, in the order of the
// views. A view that shares packed traces has the scale of the strongest view that shares them.
func (s *ViewsScratch) RoundingNoise(reference float32) []float64 {
	levels := make([]float64, len(s.scratch.views))
	for i, v := range s.scratch.views {
		levels[i] = v.roundingNoise(reference)
	}
	return levels
}

// prepare checks the images, and gives each view its own.
func (s *ViewsScratch) prepare(dst []*Image, samples int) error {
	views := s.scratch.views
	if len(dst) != len(views) {
		return fmt.Errorf("tfm: %d images: want %d, one a view", len(dst), len(views))
	}
	if err := s.scratch.plan.checkSamples(samples); err != nil {
		return err
	}
	for i, v := range views {
		if slices.Contains(dst[:i], dst[i]) {
			return fmt.Errorf("tfm: image %d is also the image of another view: want an image for each", i)
		}
		if err := dst[i].aim(v); err != nil {
			return err
		}
	}
	return nil
}
