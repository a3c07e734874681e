// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"io"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

// draw writes the picture of a view.
func (in *inspection) draw(w io.Writer, r *result) error {
	levels, err := r.envelope.Decibels(nil, float32(r.shown.Reference), in.options.lowest)
	if err != nil {
		return err
	}
	p := picture.Section{
		Title:      fmt.Sprintf("%s: %s, view %v", in.name(), in.title(), r.view),
		Caption:    in.caption(r),
		Levels:     levels,
		Part:       picture.Surfaces(in.setup, r.envelope.Grid),
		Reflectors: picture.Reflectors(in.record.Truth),
		Ghosts:     ghostLines(r.ghosts),
		Marks:      picture.Marks(r.indications),
	}
	for _, e := range r.walls {
		mark := picture.Marks([]sizing.Indication{e.Indication})[0]
		mark.Label, mark.Wall = fmt.Sprintf("W%d", e.ID), true
		p.Marks = append(p.Marks, mark)
	}
	return p.WritePNG(w)
}

// caption describes the set-up and the options of a picture.
func (in *inspection) caption(r *result) string {
	floor := fmt.Sprintf("the noise, at the lowest %d dB", lowestFloor)
	if in.options.floor != 0 {
		floor = fmt.Sprintf("%.3g dB", in.options.floor)
	}
	return fmt.Sprintf("View %v, %s; pixels of %.3g mm. 0 dB: %s, amplitude %s; "+
		"indications down to %s, contours %.2g dB below each peak. %s",
		r.view, in.describe(), in.options.step*1e3, r.shown.What, number(r.shown.Reference),
		floor, sizing.SixDB, library())
}

// figure is the caption of a picture in the report.
func (in *inspection) figure(r *result) string {
	return fmt.Sprintf("View %v: levels in decibels over x and the depth z. Crosses mark the peaks of the numbered indications, "+
		"and dots their contours 6 dB below the peaks. W marks echoes of walls. Known reflectors are blue, "+
		"lines of predicted ghosts dashed violet.", r.view)
}

// alternative describes a picture in words.
func (in *inspection) alternative(r *result) string {
	return fmt.Sprintf("Image of view %v in decibels over x and depth z, with %d numbered indications and %d echoes of walls. "+
		"The table of indications lists their positions and levels.", r.view, len(r.indications), len(r.walls))
}
