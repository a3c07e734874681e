// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"io"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc/scan"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/tfm/sensitivity"
	"github.com/isochron-imaging/isochron/tfm/stack"
)

// required is an invented level in dB below the best place. The procedure has the level of a real part.
const required = -12

// coverage is what the frames of a scan would show of a reference hole.
type coverage struct {
	maps   []*sensitivity.Map // one a view
	best   float64            // highest amplitude of all maps
	survey *sensitivity.Survey
}

// coverage follows the sensitivity of the views along the frames that were taken, with their coupling.
func (s *scanned) coverage(ctx context.Context, images *stack.Stack, checked *scan.Report) (*coverage, error) {
	c := new(coverage)
	for _, view := range images.Layout().Views {
		m, err := sensitivity.New(ctx, s.record.Capture, s.setup, view.Name, s.grid, sensitivity.Hole{Diameter: 1.5 * mm}, &sensitivity.Options{Spacing: 1 * mm})
		if err != nil {
			return nil, err
		}
		if m, err = m.Hide(view.States); err != nil { // such as beyond the end of the record
			return nil, err
		}
		peak, _ := m.Peak()
		c.maps, c.best = append(c.maps, m), max(c.best, float64(peak))
	}
	first, last := s.frames[0], s.frames[len(s.frames)-1]
	var err error
	c.survey, err = sensitivity.NewSurvey(
		scan.Axis{From: 24.25 * mm, Step: 0.5 * mm, Steps: 40},
		scan.Axis{From: first.Position, Step: s.pitch, Steps: last.Index - first.Index + 1},
		scan.Axis{From: 0.25 * mm, Step: 0.5 * mm, Steps: int(s.record.Thickness / (0.5 * mm))})
	if err != nil {
		return nil, err
	}
	for _, r := range checked.Readings {
		pose, err := s.path.Pose(r.Position, 0)
		if err != nil {
			return nil, err
		}
		loss := 0.0
		if len(r.Levels) > 0 && r.Levels[0].Known() {
			loss = -float64(r.Levels[0])
		}
		if err := c.survey.Add(pose, s.pitch/2, loss, c.maps...); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// print prints which share of the weld was seen.
func (c *coverage) print(w io.Writer, s *scanned) error {
	share, err := c.survey.Coverage(s.outlines.Metal, c.best, required)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "\na %v shows within %d dB of its best place in %.0f %% of the weld\n", c.maps[0].Reflector, -required, 100*share)
	for _, view := range s.views {
		cells, total := 0, 0
		for cell, a := range c.survey.Amplitude {
			if a > 0 {
				total++
				if c.survey.View(cell) == view {
					cells++
				}
			}
		}
		fmt.Fprintf(w, "  %-5s shows it best in %.0f %% of what was seen\n", view, 100*float64(cells)/float64(total))
	}
	return nil
}

// picture shows the weld from above: for each place the weakest level over its depth.
func (c *coverage) picture(s *scanned) (*picture.Map, error) {
	weakest, err := c.survey.Weakest(s.outlines.Metal)
	if err != nil {
		return nil, err
	}
	x, y := c.survey.X, c.survey.Y
	p := &picture.Map{
		Title:   "What was seen of the weld, from above",
		Caption: fmt.Sprintf("Predicted level of a %v at the weakest depth of the weld, in its best view, relative to its best place.", c.maps[0].Reflector),
		From:    r2.Vec{X: y.Position(0) - y.Step/2, Y: x.Position(0) - x.Step/2},
		To:      r2.Vec{X: y.Position(y.Steps) - y.Step/2, Y: x.Position(x.Steps) - x.Step/2},
		Across:  "position s along the scan / mm", Down: "x / mm",
		Columns: y.Steps, Rows: x.Steps, Quantity: "level / dB", Low: -30, High: 0,
		Reasons: []string{"beside the weld", "not seen"}, Stretch: true,
	}
	for _, cell := range weakest {
		level, reason := math.NaN(), uint8(0)
		if cell >= 0 {
			reason = 1
			if a := float64(c.survey.Amplitude[cell]); a > 0 {
				level = 20 * math.Log10(a/c.best)
			}
		}
		p.Values, p.Reason = append(p.Values, level), append(p.Reason, reason)
	}
	return p, nil
}
