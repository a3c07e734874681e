// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"context"
	"errors"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material/diffraction"
	"github.com/isochron-imaging/isochron/wedge"
)

// Find returns the planar flaws whose tips, corners or faces show in pictures of a capture, in the
// order of the views. Pairs of tips come first, then flaws on the back wall, then specular faces.
//
// The capture is of single elements, on a linear array in a section of constant y. The set-up is
// the set-up of the pictures. Direct views show the tips of most flaws. A second view whose beam
// crosses the first beam, such as TT-TT beside T-T, improves the ends. A half-skip view, such as
// TT-T through a wedge or TL-L in contact, shows the corner and the face of a flaw on the back
// wall. The pixels should be small enough that no pixel has the state [tfm.CoarseGrid].
//
// Spots at the edge of a picture are left out. Each view costs the search of its pairs: with 32
// elements and few spots about 0.1 s of one core. The result has the same bits for any number of
// workers. Calls may run at the same time.
//
// The error names the argument that is missing or out of range, or is the error of ctx if ctx ends
// early.
func Find(ctx context.Context, c *fmc.Capture, setup *wedge.Setup, views []View, options *Options) ([]Flaw, error) {
	f, err := newFinder(ctx, c, setup, views, options)
	if err != nil {
		return nil, err
	}
	return f.find(ctx)
}

// finder looks for flaws in several views of one capture.
type finder struct {
	setup   *wedge.Setup
	tip     *diffraction.Tip
	options *Options
	views   []*model
	drafts  []*draft
}

// newFinder returns a finder with the models of all views.
func newFinder(ctx context.Context, c *fmc.Capture, setup *wedge.Setup, views []View, options *Options) (*finder, error) {
	o, err := options.withDefaults()
	if err != nil {
		return nil, err
	}
	if setup == nil {
		return nil, errors.New("tips: no set-up, nil: want one")
	}
	tip, err := diffraction.NewTip(setup.Part)
	if err != nil {
		return nil, err
	}
	s, err := newSignals(ctx, c, o.Band, o.Workers)
	if err != nil {
		return nil, err
	}
	f := &finder{setup: setup, tip: tip, options: o}
	for _, view := range views {
		m, err := newModel(setup, s, view, o)
		if err != nil {
			return nil, err
		}
		f.views = append(f.views, m)
	}
	return f, nil
}

// find returns the flaws.
func (f *finder) find(ctx context.Context) ([]Flaw, error) {
	used := map[*spot]bool{}
	for _, v := range f.views {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		for _, p := range v.pairs(f.tip, f.options) {
			if f.contradicted(p) {
				continue
			}
			f.add(newDraft(p))
			for _, s := range p.members() {
				used[s] = true
			}
		}
	}
	if f.setup.Back != nil {
		f.stand(used)
		f.faces()
	}
	f.specular(used)
	var out []Flaw
	for _, d := range f.drafts {
		out = append(out, d.flaw(f.height))
	}
	return out, nil
}

// height returns the distance of a point to the back wall.
func (f *finder) height(at r3.Vec) float64 {
	if f.setup.Back == nil {
		return 0
	}
	return -f.setup.Back.Depth(at)
}
