// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"

	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

// draw writes a picture of the known holes by four methods.
func draw(ctx context.Context, s *scene, grid tfm.Grid, name string) error {
	t, err := s.target(ctx, segment{}, grid)
	if err != nil {
		return err
	}
	best, _ := t.level.Peak()
	if t.gain, err = t.level.Gain(float64(best), limit); err != nil {
		return err
	}
	images, err := t.images(ctx, s.clean)
	if err != nil {
		return err
	}
	var sections []picture.Picture
	for _, m := range []int{0, 1, 6, 8} {
		peak, _ := images[m].Peak()
		levels, err := images[m].Decibels(nil, peak, -40)
		if err != nil {
			return err
		}
		p := picture.Section{Title: s.methods[m], Levels: levels}
		for _, h := range s.record.Truth.Holes {
			p.Reflectors = append(p.Reflectors, picture.Circle(h.X, h.Z, h.Diameter/2))
		}
		sections = append(sections, &p)
	}
	caption := fmt.Sprintf("view %s, 0 dB is the peak of each panel; blue: true holes", s.view)
	return picture.WriteFile(name, &picture.Panels{Columns: 2, Pictures: sections, Caption: caption})
}
