// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"io"
	"runtime"
	"slices"
	"time"

	"github.com/isochron-imaging/isochron/tfm"
)

// way is one way to make an image.
type way struct {
	name string
	run  func() error
}

// times prints the time of an image by each method, from samples to the image. The plans exist. It
// prints medians of turns, in which the methods alternate.
func times(ctx context.Context, w io.Writer, s *scene, grid tfm.Grid, turns int) error {
	ways, err := s.ways(ctx, grid)
	if err != nil {
		return err
	}
	seconds := make([][]float64, len(ways))
	for range turns {
		for i, way := range ways {
			start := time.Now()
			if err := way.run(); err != nil {
				return err
			}
			seconds[i] = append(seconds[i], time.Since(start).Seconds())
		}
	}
	median := func(i int) float64 {
		slices.Sort(seconds[i])
		return seconds[i][turns/2]
	}
	fmt.Fprintf(w, "%s %s/%s, GOMAXPROCS=%d, %d pairs, %d × %d pixels; medians of %d turns\n\n%-28s%8s%8s\n", runtime.Version(),
		runtime.GOOS, runtime.GOARCH, runtime.GOMAXPROCS(0), len(s.clean.matrix.Pairs), grid.Cols, grid.Rows, turns, "method", "ms", "ratio")
	for i, way := range ways {
		fmt.Fprintf(w, "%-28s%8.2f%8.2f\n", way.name, 1e3*median(i), median(i)/median(0))
	}
	n := len(ways)
	fmt.Fprintf(w, "%-28s%8s%8.2f\n", "second view / its own pass", "", (median(n-1)-median(0))/median(n-2))
	return nil
}

// ways returns the methods of the table, and one and two views.
func (s *scene) ways(ctx context.Context, grid tfm.Grid) ([]way, error) {
	transmit, receive, err := s.tables(ctx, s.setup, grid)
	if err != nil {
		return nil, err
	}
	var ways []way
	add := func(name string, plan *tfm.Plan, samples []float32, after func(*tfm.Image) error) {
		scratch, image := plan.NewScratch(), tfm.NewImage(grid)
		ways = append(ways, way{name, func() error {
			if err := scratch.Reconstruct(ctx, image, samples); err != nil || after == nil {
				return err
			}
			return after(image)
		}})
	}
	t, err := s.target(ctx, segment{}, grid)
	if err != nil {
		return nil, err
	}
	best, _ := t.level.Peak()
	if t.gain, err = t.level.Gain(float64(best), limit); err != nil {
		return nil, err
	}
	plain, err := tfm.NewPlan(s.clean.matrix, grid, transmit, receive, nil)
	if err != nil {
		return nil, err
	}
	add("plain", plain, s.clean.matrix.Data, nil)
	add("sensitivity corrected", plain, s.clean.matrix.Data, t.gain.Correct)
	for _, c := range weights {
		p, err := tfm.NewPlan(s.clean.matrix, grid, transmit, receive, &tfm.Options{Coherence: c})
		if err != nil {
			return nil, err
		}
		var weighted *tfm.Envelope
		add("× "+c.String(), p, s.clean.matrix.Data, func(im *tfm.Image) (err error) {
			weighted, err = im.WeightedEnvelope(weighted, 1)
			return err
		})
	}
	add("plane waves", t.waves, s.clean.waves.Data, nil)
	const second = "TT-T"
	for _, names := range [][]string{{second}, {s.view.String(), second}} {
		views, err := tfm.PlanViews(ctx, s.clean.matrix, s.setup, names, grid, nil)
		if err != nil {
			return nil, err
		}
		scratch, images := views.NewScratch(), make([]*tfm.Image, len(names))
		for i := range images {
			images[i] = tfm.NewImage(grid)
		}
		ways = append(ways, way{fmt.Sprint(names), func() error { return scratch.Reconstruct(ctx, images, s.clean.matrix.Data) }})
	}
	return ways, nil
}
