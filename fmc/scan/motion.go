// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/internal/number"
)

// move is the motion from a frame to the next one on the same line.
type move struct {
	way   float64 // along, with its sign, m; NaN to another line
	frame float64 // modulus of the way for each step of the index, m; NaN as before
	time  float64 // s
	jump  bool
}

// measureMoves measures the motion between successive frames, the step, the interval and the speed.
func (j *judgement) measureMoves() {
	unknown := health.Number(math.NaN())
	j.report.Interval, j.report.Speed = unknown, unknown
	var ways, times, speeds []float64
	clock := j.clock()
	for i := range j.readings[min(1, len(j.readings)):] {
		m := j.moveAfter(i)
		j.moves = append(j.moves, m)
		if m.frame > 0 {
			ways = append(ways, m.frame)
		}
		if clock && m.time > 0 {
			times = append(times, m.time)
			if !math.IsNaN(m.way) {
				speeds = append(speeds, math.Abs(m.way)/m.time)
			}
		}
	}
	j.step = number.Median(ways)
	if j.options.Grid != (Grid{}) {
		j.step = j.options.Grid.Along.Step
	}
	j.report.Step = health.Number(j.step)
	if clock {
		j.report.Interval = health.Number(number.Median(times))
		j.report.Speed = health.Number(bounded(number.Median(speeds)))
	}
	for i := range j.moves {
		j.moves[i].jump = j.limits.Jump != Off && j.moves[i].frame > j.limits.Jump*j.step
	}
}

// moveAfter returns the motion from reading i to the next one.
func (j *judgement) moveAfter(i int) move {
	a, b := j.readings[i].frame, j.readings[i+1].frame
	if !j.sameLine(i) {
		return move{way: math.NaN(), frame: math.NaN(), time: b.Time - a.Time}
	}
	way := b.Position - a.Position
	if axis := j.options.Grid.Along; axis.Closed {
		turn := axis.Step * float64(axis.Steps)
		way = wrap(way+turn/2, turn) - turn/2
	}
	frames := 1.0
	if b.Index > a.Index {
		frames = float64(b.Index) - float64(a.Index)
	}
	return move{way: way, frame: math.Abs(way) / frames, time: b.Time - a.Time}
}

// sameLine reports whether reading i and the next one lie on one line: one line of the grid, or
// without a grid, frames that are farther apart along the scan than across it.
func (j *judgement) sameLine(i int) bool {
	a, b := j.readings[i].frame, j.readings[i+1].frame
	switch grid := j.options.Grid; {
	case grid == (Grid{}):
		return math.Abs(b.Across-a.Across) <= math.Abs(b.Position-a.Position)
	case grid.Across.Steps == 0:
		return true
	default:
		from, _ := grid.Across.nearest(a.Across)
		to, _ := grid.Across.nearest(b.Across)
		return from == to
	}
}

// judgeMotion adds jumps, reversals, and motion that is too far or too fast.
func (j *judgement) judgeMotion() {
	add := func(kind Kind, limit float64, value func(m move) float64) {
		runs(len(j.moves), limit, func(i int) float64 { return value(j.moves[i]) },
			func(first, last int, v float64) { j.add(kind, first, last+1, v, limit) })
	}
	add(EncoderJump, j.limits.Jump*j.step, func(m move) float64 {
		if !m.jump {
			return math.NaN()
		}
		return m.frame
	})
	if j.limits.Spacing != Off {
		add(TooSparse, j.limits.Spacing*j.step, func(m move) float64 {
			if m.jump {
				return math.NaN()
			}
			return m.frame
		})
	}
	if j.limits.Speed != Off {
		add(TooFast, j.limits.Speed, func(m move) float64 {
			if m.jump || !(m.time > 0) {
				return math.NaN()
			}
			return math.Abs(m.way) / m.time
		})
	}
	for first := 0; first < len(j.moves); {
		end := first
		for end < len(j.moves) && !math.IsNaN(j.moves[end].way) {
			end++
		}
		j.judgeReversals(first, end)
		first = end + 1
	}
}

// judgeReversals adds the reversals within the moves of one line. The direction of the line is the
// direction of most of its way. A jump is no motion, and a new start.
func (j *judgement) judgeReversals(first, end int) {
	if j.limits.Reversal == Off {
		return
	}
	total := 0.0
	for _, m := range j.moves[first:end] {
		if !m.jump {
			total += m.way
		}
	}
	direction := math.Copysign(1, total)
	limit := j.limits.Reversal * j.step
	var back []float64 // way behind the foremost frame at each reading
	foremost, at := 0.0, 0.0
	for i := first; i <= end; i++ {
		back = append(back, foremost-at)
		if i == end {
			break
		}
		at += direction * j.moves[i].way
		if j.moves[i].jump {
			foremost = at
		}
		foremost = max(foremost, at)
	}
	runs(len(back), limit, func(i int) float64 { return back[i] }, func(a, b int, largest float64) {
		farthest := a + slices.Index(back[a:b+1], largest)
		start := a
		for start > 0 && back[start] > 0 {
			start--
		}
		j.add(Reversal, first+start, first+farthest, largest, limit)
	})
}
