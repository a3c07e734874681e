// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"slices"

	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/wedge"
)

// ghostLine is where an echo of a surface shows in a view.
type ghostLine struct {
	Echo  string         `json:"echo"`
	Level float64        `json:"level"` // of its focus, dB (ghost.Ghost)
	Lines [][][2]float64 `json:"lines"`
}

// ghosts answers with the lines along which the echoes of the surfaces show in the window of a
// request, best focus first.
func (s *source) ghosts(ctx context.Context, q imageQuery) (*answer, error) {
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
	echoes, err := ghost.New(ctx, setup, record.Capture.Array, nil)
	if err != nil {
		return nil, err
	}
	grid, err := newGrid(record, q.window, q.step)
	if err != nil {
		return nil, err
	}
	found, err := echoes.Predict(ctx, view, grid, nil)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(found, func(a, b ghost.Ghost) int {
		if a.Focus > b.Focus {
			return -1
		}
		return 1
	})
	lines := []ghostLine{}
	for _, g := range found {
		one := ghostLine{Echo: g.Echo, Level: g.LevelDB}
		for _, l := range g.Lines {
			one.Lines = append(one.Lines, section(l))
		}
		if len(one.Lines) > 0 {
			lines = append(lines, one)
		}
	}
	return &answer{head: lines}, nil
}
