// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"cmp"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/internal/number"
)

// judgement makes a report of what a checker measured.
type judgement struct {
	*Checker
	report *Report
	moves  []move
	step   float64 // m, NaN if not known
}

// Report returns the report of the frames so far. More frames may be added after it.
func (c *Checker) Report() *Report {
	j := &judgement{Checker: c, report: &Report{
		Frames: len(c.readings), Limits: c.limits, Gates: []Level{}, Findings: []Finding{},
	}}
	if len(j.readings) == 0 {
		j.report.Findings = append(j.report.Findings, Finding{Kind: Empty, FirstFrame: -1, LastFrame: -1, Value: 1})
	}
	j.measureMoves()
	j.judgeSamples()
	j.judgeOrder()
	j.judgePlaces()
	j.judgeMotion()
	for g := range c.options.Gates {
		j.judgeGate(g)
	}
	j.listReadings()
	slices.SortStableFunc(j.report.Findings, func(a, b Finding) int {
		return cmp.Compare(rank(a.Kind), rank(b.Kind))
	})
	return j.report
}

// add adds a finding over the readings first to last.
func (j *judgement) add(kind Kind, first, last int, value, limit float64) *Finding {
	a, b := j.readings[first].frame, j.readings[last].frame
	j.report.Findings = append(j.report.Findings, Finding{
		Kind: kind, FirstFrame: a.Index, LastFrame: b.Index, First: a.Position, Last: b.Position,
		Across: a.Across, Value: bounded(value), Limit: limit, Unit: units[rank(kind)].unit,
	})
	return &j.report.Findings[len(j.report.Findings)-1]
}

// runs calls found with each run of readings whose values exceed limit, and with the largest value
// of the run. n is the number of values, and NaN exceeds nothing.
func runs(n int, limit float64, value func(i int) float64, found func(first, last int, largest float64)) {
	first, largest := -1, 0.0
	for i := range n + 1 {
		v := math.NaN()
		if i < n {
			v = value(i)
		}
		switch over := v > limit; {
		case over && first < 0:
			first, largest = i, v
		case over:
			largest = max(largest, v)
		case first >= 0:
			found(first, i-1, largest)
			first = -1
		}
	}
}

// addRuns adds a finding for each run of readings beyond the limit.
func (j *judgement) addRuns(kind Kind, limit float64, value func(r *reading) float64) {
	if limit == Off {
		return
	}
	runs(len(j.readings), limit, func(i int) float64 { return value(&j.readings[i]) },
		func(first, last int, largest float64) { j.add(kind, first, last, largest, limit) })
}

// addCounts adds a finding for each run of readings with a fault. Its value is their number.
func (j *judgement) addCounts(kind Kind, faulty func(r *reading) bool) {
	value := func(i int) float64 {
		if faulty(&j.readings[i]) {
			return 1
		}
		return 0
	}
	runs(len(j.readings), 0, value, func(first, last int, _ float64) {
		j.add(kind, first, last, float64(last-first+1), 0)
	})
}

// judgeSamples adds the faults of single frames.
func (j *judgement) judgeSamples() {
	j.addCounts(WrongShape, func(r *reading) bool { return r.shape })
	j.addRuns(NotFinite, 0, func(r *reading) float64 { return float64(r.nonFinite) })
	j.addCounts(Stuck, func(r *reading) bool { return r.stuck })
	j.addRuns(Saturated, j.limits.Saturated, func(r *reading) float64 { return r.saturated })
}

// judgeOrder adds the faults of indices and times.
func (j *judgement) judgeOrder() {
	for i := range j.readings[min(1, len(j.readings)):] {
		a, b := j.readings[i].frame, j.readings[i+1].frame
		switch {
		case b.Index <= a.Index:
			j.add(Disorder, i, i+1, float64(a.Index)-float64(b.Index)+1, 0)
		case b.Index-a.Index > 1:
			f := j.add(LostFrames, i, i+1, float64(b.Index-a.Index-1), 0)
			f.FirstFrame, f.LastFrame = a.Index+1, b.Index-1
		}
		if b.Time < a.Time {
			j.add(Clock, i, i+1, a.Time-b.Time, 0)
		}
	}
}

// clock reports whether times were recorded: not all of them are equal.
func (j *judgement) clock() bool {
	return slices.ContainsFunc(j.readings, func(r reading) bool {
		return r.frame.Time != j.readings[0].frame.Time
	})
}

// judgePlaces adds the steps without a frame, the steps with several frames, and the frames off
// their steps.
func (j *judgement) judgePlaces() {
	if j.options.Grid == (Grid{}) {
		j.judgeEqualPositions()
		return
	}
	grid := j.options.Grid
	frames := make([]fmc.Frame, len(j.readings))
	for i, r := range j.readings {
		frames[i] = r.frame
	}
	o := AssignOptions{Along: j.options.Tolerance, Keep: KeepAll}
	o.defaults(grid)
	a, err := Assign(frames, grid, &o)
	if err != nil { // more than 2^31 frames: all other values were checked
		return
	}
	j.report.Places = grid.Lines() * grid.Along.Steps
	j.report.Covered = j.report.Places
	for _, g := range a.Gaps {
		missing := g.Last - g.First + 1
		j.report.Covered -= missing
		j.report.Findings = append(j.report.Findings, Finding{
			Kind: MissingSteps, FirstFrame: -1, LastFrame: -1, First: grid.Along.Position(g.First),
			Last: grid.Along.Position(g.Last), Across: grid.Across.Position(g.Line),
			Value: float64(missing),
		})
	}
	for i, first := 0, 0; i < len(a.Repeated); i++ {
		if i+1 < len(a.Repeated) && a.Repeated[i+1].Line == a.Repeated[i].Line &&
			a.Repeated[i+1].Step == a.Repeated[i].Step+1 {
			continue
		}
		j.addRepeated(a.Repeated[first : i+1])
		first = i + 1
	}
	j.addStrays(frames, a.Stray, &o)
}

// addStrays adds the frames off their steps, and among the others the frames off their lines.
func (j *judgement) addStrays(frames []fmc.Frame, strays []int, o *AssignOptions) {
	along, across := make([]float64, len(frames)), make([]float64, len(frames))
	for _, i := range strays {
		_, _, a, b := j.options.Grid.nearest(frames[i].Position, frames[i].Across)
		if along[i] = math.Abs(a); along[i] <= o.Along {
			across[i] = math.Abs(b)
		}
	}
	add := func(values []float64, limit float64) {
		runs(len(values), limit, func(i int) float64 { return values[i] },
			func(first, last int, v float64) { j.add(Stray, first, last, v, limit) })
	}
	add(along, o.Along)
	add(across, o.Across)
}

// addRepeated adds a finding for successive steps with several frames.
func (j *judgement) addRepeated(steps []Repeat) {
	first, last, most := math.MaxInt, 0, 0
	for _, r := range steps {
		first, last = min(first, r.Frames[0]), max(last, r.Frames[len(r.Frames)-1])
		most = max(most, len(r.Frames))
	}
	f := j.add(Repeated, first, last, float64(most), 1)
	axis := j.options.Grid.Along
	f.First, f.Last = axis.Position(steps[0].Step), axis.Position(steps[len(steps)-1].Step)
}

// judgeEqualPositions adds successive frames at equal positions, which repeat a place without any
// grid.
func (j *judgement) judgeEqualPositions() {
	n := len(j.readings)
	for i := 0; i < n; {
		a, k := j.readings[i].frame, i+1
		for k < n && j.readings[k].frame.Position == a.Position && j.readings[k].frame.Across == a.Across {
			k++
		}
		if k-i > 1 {
			j.add(Repeated, i, k-1, float64(k-i), 1)
		}
		i = k
	}
}

// listReadings lists what was measured of each frame. The references of the gates are known.
func (j *judgement) listReadings() {
	for i, r := range j.readings {
		out := Reading{Frame: r.frame.Index, Time: r.frame.Time, Position: r.frame.Position,
			Across: r.frame.Across, Levels: []health.Number{}, Saturated: health.Number(r.saturated)}
		for g := range j.gates {
			out.Levels = append(out.Levels, health.Number(j.level(i, g)))
		}
		j.report.Readings = append(j.report.Readings, out)
	}
}

// level returns the level of a reading in a gate in dB, relative to the reference and within
// ±120 dB.
func (j *judgement) level(i, gate int) float64 {
	v := j.levels[i*len(j.gates)+gate]
	return max(-120, min(120, 20*math.Log10(v/float64(j.report.Gates[gate].Reference))))
}

// judgeGate measures the levels of a gate and adds losses and drift.
func (j *judgement) judgeGate(g int) {
	gate := j.options.Gates[g]
	l := Level{Name: gate.Name, From: gate.From, To: gate.To, Reference: health.Number(gate.Reference)}
	unknown := health.Number(math.NaN())
	l.Scatter, l.Drift, l.DriftError = unknown, unknown, unknown
	if gate.Reference == 0 && len(j.gates) > 0 {
		l.Reference = health.Number(number.Median(j.amplitudes(g)))
	}
	j.report.Gates = append(j.report.Gates, l)
	if len(j.gates) == 0 { // no frame
		j.report.Gates[g].Reference = unknown
		return
	}
	drop := func(i int) float64 { return -j.level(i, g) }
	if limit := j.limits.Loss; limit != Off {
		runs(len(j.readings), limit, drop, func(first, last int, largest float64) {
			j.add(CouplingLoss, first, last, largest, limit).Gate = gate.Name
		})
	}
	j.judgeDrift(g)
}

// amplitudes returns the known amplitudes of a gate.
func (j *judgement) amplitudes(g int) []float64 {
	var known []float64
	for i := range j.readings {
		if v := j.levels[i*len(j.gates)+g]; !math.IsNaN(v) {
			known = append(known, v)
		}
	}
	return known
}

// judgeDrift compares the medians of the level over an eighth of the sound frames.
func (j *judgement) judgeDrift(g int) {
	var sound []int
	var levels, changes []float64
	for i := range j.readings {
		if v := j.level(i, g); v >= -j.lossLimit() {
			sound, levels = append(sound, i), append(levels, v)
		}
	}
	for k := 1; k < len(levels); k++ {
		changes = append(changes, math.Abs(levels[k]-levels[k-1]))
	}
	out := &j.report.Gates[g]
	// The median of |x − y| of two normal values of standard deviation σ is 0.6745·√2·σ.
	out.Scatter = health.Number(number.Median(changes) / (0.6745 * math.Sqrt2))
	const windows, fewest = 8, 16
	if len(levels) < fewest {
		return
	}
	width := (len(levels) + windows - 1) / windows
	lowest, highest := 0, 0
	least, most := math.Inf(1), math.Inf(-1)
	for k := 0; k+width <= len(levels); k += max(1, width/windows) {
		m := number.Median(levels[k : k+width])
		if m < least {
			lowest, least = k, m
		}
		if m > most {
			highest, most = k, m
		}
	}
	drift := most - least
	// The standard error of a median of n normal values is √(π/2)·σ/√n.
	spread := math.Sqrt(math.Pi/2/float64(width)) * float64(out.Scatter)
	out.Drift, out.DriftError = health.Number(drift), health.Number(spread)
	if limit := j.limits.Drift; limit != Off && drift-sureDrift*spread > limit {
		from, to := min(lowest, highest), max(lowest, highest)+width-1
		j.add(GainDrift, sound[from], sound[to], drift, limit).Gate = out.Name
	}
}

// sureDrift is the number of standard errors by which the largest and the smallest of some eight
// independent medians differ by chance, with a margin: their mean difference is 2.85.
const sureDrift = 4

// lossLimit returns the drop beyond which a frame does not count for the drift, dB.
func (j *judgement) lossLimit() float64 {
	if j.limits.Loss == Off {
		return math.Inf(1)
	}
	return j.limits.Loss
}
