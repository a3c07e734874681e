// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/tfm"
)

// ProjectOptions are the options of [Project]. Nil stands for the defaults.
type ProjectOptions struct {
	// X, S and Z are the axes of the projections, and the zone that they look at. Pixels whose
	// centres lie outside one of them do not take part. The zero value of X and Z stands for the
	// pixels of all sources, with the smallest step of their grids. The zero value of S stands for
	// all frames of all sources, in steps of the smallest pitch.
	X, S, Z Axis
	// Workers is the most goroutines that read at a time; 0 stands for all cores. Each holds a copy
	// of the projections.
	Workers int
	// Progress, if not nil, is called now and then with the share of the frames that is done.
	Progress func(share float64)
}

// Projection is the highest levels in a zone of the part, seen along each of its axes.
type Projection struct {
	Plan Map // from above: s across, x down; the highest level over the depth
	Side Map // from the side: s across, depth down; the highest level over x
	End  Map // along the scan: x across, depth down; the highest level over s
	// Frames is the number of imaged frames that have pixels in the zone.
	Frames int
}

// Labels of the axes.
const (
	alongLabel  = "s"
	acrossLabel = "x"
	depthLabel  = "depth z"
)

// Project projects stacks, joined in the coordinates of the part. It reads each frame once, and its
// memory does not grow with the frames, except for the cells of the result.
//
// A pixel fills all cells whose centres it covers, so that small cells leave no gaps. It reaches to
// the middle between it and the next pixel on either side. Along s it reaches over half of the
// pitch. If it covers no centre, it fills the nearest cell. If the frames are skewed, it fills the
// box around it. A level that comes from one pixel may so fill several cells: lengths are read from
// the places, not from the cells.
//
// Only imaged frames have levels. A frame that repeats another takes part too.
func Project(ctx context.Context, sources []Source, o *ProjectOptions) (*Projection, error) {
	if len(sources) == 0 {
		return nil, errors.New("stack: no sources: want at least one")
	}
	for i := range sources {
		if err := sources[i].validate(); err != nil {
			return nil, fmt.Errorf("%w (source %d)", err, i)
		}
	}
	if o == nil {
		o = new(ProjectOptions)
	}
	poses, err := posesOf(sources)
	if err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(poses, func(p []posed) bool { return len(p) > 0 }) {
		return nil, errors.New("stack: no imaged frame in any source: want at least one")
	}
	zone, err := o.zone(sources, poses)
	if err != nil {
		return nil, err
	}
	whole := newProjection(zone[0], zone[1], zone[2])
	for i := range sources {
		if err := whole.add(ctx, sources, i, poses[i], zone, o); err != nil {
			return nil, err
		}
	}
	whole.Plan.trim()
	whole.Side.trim()
	whole.End.trim()
	return whole, nil
}

// zone returns the axes along X, S and Z of the projections. An axis that is not given holds all
// pixels of the frames at the poses.
func (o *ProjectOptions) zone(sources []Source, poses [][]posed) (zone [3]Axis, err error) {
	zone = [3]Axis{o.X, o.S, o.Z}
	for i, pixels := range extents(sources, poses) {
		name := [3]string{"X", "S", "Z"}[i]
		if zone[i] == (Axis{}) {
			if zone[i], err = pixels.axis(name); err != nil {
				return zone, err
			}
		}
		if err := zone[i].validate(name); err != nil {
			return zone, err
		}
	}
	x, s, z := zone[0], zone[1], zone[2]
	for _, pair := range [][2]Axis{{s, x}, {s, z}, {x, z}} {
		if pair[0].Cells > maxCells/pair[1].Cells {
			return zone, fmt.Errorf("stack: projection of %d by %d cells: want at most %d", pair[0].Cells, pair[1].Cells, maxCells)
		}
	}
	return zone, nil
}

// add adds the frames of source i at their poses.
func (p *Projection) add(ctx context.Context, sources []Source, i int, poses []posed, zone [3]Axis, o *ProjectOptions) error {
	var lock sync.Mutex
	var parts []*projector
	const chunk = 16 // frames of a task
	tasks := (len(poses) + chunk - 1) / chunk
	options := parallel.Options{Workers: o.Workers, Progress: o.share(i, len(sources))}
	err := parallel.Do(ctx, tasks, options, func() func(int) error {
		part := newProjector(&sources[i], i, newProjection(zone[0], zone[1], zone[2]))
		lock.Lock()
		defer lock.Unlock()
		parts = append(parts, part)
		return func(task int) error {
			for _, posed := range poses[task*chunk : min((task+1)*chunk, len(poses))] {
				if err := part.frame(posed); err != nil {
					return err
				}
			}
			return nil
		}
	})
	if err != nil {
		return err
	}
	for _, part := range parts {
		part.flushEnd()
		p.merge(part.projection)
	}
	return nil
}

// share returns the progress of one source of several.
func (o *ProjectOptions) share(source, sources int) func(float64) {
	if o.Progress == nil {
		return nil
	}
	return func(share float64) { o.Progress((float64(source) + share) / float64(sources)) }
}

// posed is a frame in the part.
type posed struct {
	index int
	pose  Pose
}

// posesOf returns the imaged frames of each source.
func posesOf(sources []Source) ([][]posed, error) {
	all := make([][]posed, len(sources))
	for i := range sources {
		s := &sources[i]
		for k := range s.Stack.table.entries {
			f := s.Stack.Frame(s.Stack.table.from + k)
			if f.State != Imaged {
				continue
			}
			pose, err := s.pose(f)
			if err != nil {
				return nil, err
			}
			all[i] = append(all[i], posed{f.Index, pose})
		}
	}
	return all, nil
}

// extent is the range of the pixels along an axis, and their smallest step, in m.
type extent struct{ low, high, step float64 }

// axis returns the axis that holds all pixels.
func (e extent) axis(name string) (Axis, error) {
	cells := math.Ceil((e.high-e.low)/e.step-1e-6) + 1
	if !(cells >= 1 && cells <= maxCells) {
		return Axis{}, fmt.Errorf("stack: frames with pixels along %s from %v to %v m in steps of %v m: want finite positions and at most %d cells",
			name, e.low, e.high, e.step, maxCells)
	}
	return Axis{e.low, e.step, int(cells)}, nil
}

// extents returns the extents of all pixels of all frames along x, s and z.
func extents(sources []Source, poses [][]posed) [3]extent {
	inf := math.Inf(1)
	none := extent{inf, -inf, inf}
	all := [3]extent{none, none, none}
	for i := range sources {
		l := &sources[i].Stack.table.layout
		g := l.Grid
		for a, step := range [3]float64{g.Step.X, l.Pitch, g.Step.Z} {
			all[a].step = min(all[a].step, step)
		}
		for _, p := range poses[i] {
			sin, cos := math.Sincos(p.pose.Skew)
			for _, x := range []float64{g.X(0), g.X(g.Cols - 1)} {
				at := [3]float64{p.pose.X + x*cos, p.pose.S + x*sin, g.Y(0)}
				for a, v := range at {
					all[a].low, all[a].high = min(all[a].low, v), max(all[a].high, v)
				}
			}
			all[2].high = max(all[2].high, g.Y(g.Rows-1))
		}
	}
	return all
}

func newProjection(x, s, z Axis) *Projection {
	p := &Projection{
		Plan: newMap(s, x, alongLabel, acrossLabel),
		Side: newMap(s, z, alongLabel, depthLabel),
		End:  newMap(x, z, acrossLabel, depthLabel),
	}
	p.Plan.Missing = slices.Repeat([]bool{true}, s.Cells)
	p.Side.Missing = slices.Clone(p.Plan.Missing)
	return p
}

func (p *Projection) merge(q *Projection) {
	p.Plan.merge(&q.Plan)
	p.Side.merge(&q.Side)
	p.End.merge(&q.End)
	p.Frames += q.Frames
}

// projector projects frames of one source, for one goroutine.
type projector struct {
	source     *Source
	number     int32 // of the source
	projection *Projection
	levellers  []leveller
	levels     []float32 // of a view

	at       Pose // of the frames whose pixels end holds; only X and Skew count
	begun    bool
	from, to int     // columns in the zone
	runs     []run   // columns of the same cells along s
	x, s     []span  // cells of each column
	z        []span  // cells of each row
	rows     [2]int  // rows in the zone
	column   []found // highest of each column of the frame
	row      []found // highest of each run and row of the frame
	end      []found // highest of each pixel of all frames at the pose
}

// run is a range of columns that have the same cells along s.
type run struct {
	from, to int
	s        span
}

func newProjector(s *Source, number int, projection *Projection) *projector {
	g := s.Stack.table.layout.Grid
	p := &projector{
		source: s, number: int32(number), projection: projection,
		levels: make([]float32, g.Len()),
		x:      make([]span, g.Cols), s: make([]span, g.Cols), z: make([]span, g.Rows),
		column: make([]found, g.Cols), end: make([]found, g.Len()),
	}
	for _, v := range s.views() {
		p.levellers = append(p.levellers, s.leveller(v))
	}
	depth := projection.Side.Down
	p.rows[0] = g.Rows
	for r := range p.z {
		if depth.holds(g.Y(r)) {
			p.z[r] = depth.cells(g.Y(r), g.Step.Z/2)
			p.rows = [2]int{min(p.rows[0], r), r + 1}
		}
	}
	return p
}

// frame adds a frame.
func (p *projector) frame(f posed) error {
	if !p.begun || f.pose.X != p.at.X || f.pose.Skew != p.at.Skew {
		p.flushEnd()
		for i := range p.end {
			p.end[i] = nothing
		}
		p.at, p.begun = f.pose, true
	}
	p.place(f.pose)
	if p.from >= p.to || p.rows[0] >= p.rows[1] {
		return nil
	}
	for i := range p.column {
		p.column[i] = nothing
	}
	p.row = p.row[:0]
	for range len(p.runs) * len(p.z) {
		p.row = append(p.row, nothing)
	}
	l := &p.source.Stack.table.layout
	n := l.Grid.Len()
	err := p.source.Stack.read(f.index, func(values, states []byte) {
		for i := range p.levellers {
			v := &p.levellers[i]
			v.decodeLevels(p.levels, values[v.view*n*l.Values.size():])
			p.scan(f.index, v.view, states)
		}
	})
	if err != nil {
		return err
	}
	p.flushFrame()
	p.projection.Frames++
	return nil
}

// place finds the cells of the columns of a frame.
func (p *projector) place(pose Pose) {
	l := &p.source.Stack.table.layout
	g, across, along := l.Grid, p.projection.End.Across, p.projection.Plan.Across
	sin, cos := math.Sincos(pose.Skew)
	halfX := (math.Abs(cos)*g.Step.X + math.Abs(sin)*l.Pitch) / 2
	halfS := (math.Abs(sin)*g.Step.X + math.Abs(cos)*l.Pitch) / 2
	p.from, p.to, p.runs = g.Cols, 0, p.runs[:0]
	for c := range g.Cols {
		x, s := pose.X+g.X(c)*cos, pose.S+g.X(c)*sin
		if !across.holds(x) || !along.holds(s) {
			continue
		}
		p.x[c], p.s[c] = across.cells(x, halfX), along.cells(s, halfS)
		if k := len(p.runs); k > 0 && p.runs[k-1].s == p.s[c] {
			p.runs[k-1].to = c + 1
		} else {
			p.runs = append(p.runs, run{c, c + 1, p.s[c]})
		}
		p.from, p.to = min(p.from, c), c+1
	}
}

// scan compares the levels of a view with the highest so far.
func (p *projector) scan(frame, view int, states []byte) {
	l := &p.source.Stack.table.layout
	g := l.Grid
	state := func(pixel int) tfm.State {
		if states != nil {
			return tfm.State(states[view*g.Len()+pixel])
		}
		if held := l.Views[view].States; held != nil {
			return held[pixel]
		}
		return 0
	}
	for r := p.rows[0]; r < p.rows[1]; r++ {
		for k, run := range p.runs {
			highest := &p.row[k*len(p.z)+r]
			base := r * g.Cols
			levels, end := p.levels[base+run.from:base+run.to], p.end[base+run.from:base+run.to]
			column := p.column[run.from:run.to]
			for c, level := range levels {
				// A comparison with NaN is false: the highest so far is replaced if it is NaN.
				if level <= column[c].level && level <= end[c].level && level <= highest.level || level != level {
					continue
				}
				pixel := base + run.from + c
				f := found{level, Place{p.number, int32(view), int32(frame), int32(pixel)}, state(pixel)}
				for _, held := range []*found{&column[c], &end[c], highest} {
					if !(level <= held.level) {
						*held = f
					}
				}
			}
		}
	}
}

// flushFrame adds the highest of a frame to the views that have positions.
func (p *projector) flushFrame() {
	plan, side := &p.projection.Plan, &p.projection.Side
	for c := p.from; c < p.to; c++ {
		plan.addSpans(p.s[c], p.x[c], p.column[c])
	}
	for k, run := range p.runs {
		for s := run.s.from; s <= run.s.to; s++ {
			plan.Missing[s], side.Missing[s] = false, false
		}
		for r := p.rows[0]; r < p.rows[1]; r++ {
			side.addSpans(run.s, p.z[r], p.row[k*len(p.z)+r])
		}
	}
}

// flushEnd adds the highest of all frames at the pose to the end view.
func (p *projector) flushEnd() {
	if !p.begun {
		return
	}
	g := p.source.Stack.table.layout.Grid
	across := p.projection.End.Across
	for i, f := range p.end {
		if f.level != f.level {
			continue
		}
		c, r := i%g.Cols, i/g.Cols
		sin, cos := math.Sincos(p.at.Skew)
		half := (math.Abs(cos)*g.Step.X + math.Abs(sin)*p.source.Stack.table.layout.Pitch) / 2
		p.projection.End.addSpans(across.cells(p.at.X+g.X(c)*cos, half), p.z[r], f)
	}
}
