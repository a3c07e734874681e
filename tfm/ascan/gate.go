// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/wedge"
)

// Gate is a part of the time base range in which echoes are read.
type Gate struct {
	Name string
	// Start and End are the ends of the gate, finite, Start < End: sound paths in m, or times in s
	// if InTime is set. A sound path runs one way from the exit point, a time there and back.
	Start, End float64
	InTime     bool
	// Threshold is the height in percent of full height that an echo must reach, finite, above 0.
	Threshold float64
	// Flank reads where the first echo of the gate crosses the threshold. The default reads the
	// peak of the highest echo of the gate. The flank lies before the peak, by a time that depends
	// on the height of the echo.
	Flank bool
	// After is the name of an earlier gate. Start and End are then counted from the echo of that
	// gate. An example is a gate that follows the echo of an interface. The default is none.
	After string
}

// Reading is what a gate reads. If no echo reaches the threshold, Found is false and all numbers
// are NaN, or 0 for Leg.
type Reading struct {
	Gate  string // the name of the gate
	Found bool
	// AtEdge tells that the echo is not wholly in the gate: the envelope is highest at an end of
	// the gate, or a flank was passed before the start. The reading is then no echo's peak or
	// flank, but the end of the gate.
	AtEdge bool
	// Partial tells that not all pairs contribute at the peak. The height is then too low.
	Partial bool
	// Height is the peak of the echo in percent of full height. It may be above 100.
	Height float64
	// AboveThreshold is the height relative to the threshold in dB, at least 0.
	AboveThreshold float64
	// Level is the height relative to full height in dB.
	Level float64
	// Time is the time of the peak or of the flank in s, there and back.
	Time float64
	// SoundPath is the sound path in the part in m, one way from the exit point.
	SoundPath float64
	// Point is the place in the part on the axis of the beam in m, after all skips. It is NaN
	// before the exit point and behind the end of the line.
	Point r3.Vec
	// Leg is the number of the leg of the point, from 1. The number of skips is Leg - 1. It is 0 if
	// Point is NaN.
	Leg int
	// Depth is the distance of the point from the entry surface in m.
	Depth float64
	// SurfaceDistance is the distance along the entry surface from the exit point to the foot of
	// the point in m, positive in the direction of the beam.
	SurfaceDistance float64
	// ProjectedDistance is the distance along the entry surface from the front of the probe to the
	// foot of the point in m, positive in the direction of the beam.
	ProjectedDistance float64
}

// Reader reads gates. It holds the references of the readings.
type Reader struct {
	// FullHeight is the amplitude of an envelope that is 100 % of full height at a gain of 0 dB,
	// in the unit of the samples: finite, above 0. It often comes from a reference echo.
	FullHeight float64
	// Gain is added to all echoes, in dB, finite.
	Gain float64
	// Setup is the set-up of the plan. Nil leaves Depth and the distances along the surface NaN.
	Setup *wedge.Setup
	// Front is the x of the front of the probe on the entry surface in m, finite. The front
	// distance of the probe is the distance from the exit point to it.
	Front float64
}

// validate reports the first field outside its range.
func (r *Reader) validate() error {
	if !number.Positive(r.FullHeight) || !number.Finite(r.Gain) || !number.Finite(r.Front) {
		return fmt.Errorf("ascan: full height %v, gain %v dB, front at x = %v m: want finite values, full height above 0", r.FullHeight, r.Gain, r.Front)
	}
	if r.Setup != nil && r.Setup.Entry == nil {
		return errors.New("ascan: set-up of the reader without an entry surface: want one, or no set-up")
	}
	return nil
}

// validate reports the first field outside its range.
func (g *Gate) validate() error {
	if !number.Finite(g.Start) || !number.Finite(g.End) || !(g.Start < g.End) {
		return fmt.Errorf("ascan: gate %q from %v to %v: want finite values, the start before the end", g.Name, g.Start, g.End)
	}
	if !number.Positive(g.Threshold) {
		return fmt.Errorf("ascan: gate %q: threshold %v %%: want a finite value above 0", g.Name, g.Threshold)
	}
	return nil
}

// Read returns the readings of gates on one A-scan, one for each gate, in their order. An A-scan
// of a pair has no sound path: its gates must be in time.
func (r *Reader) Read(t *Trace, gates []Gate) ([]Reading, error) {
	e, err := r.echoes(t)
	if err != nil {
		return nil, err
	}
	readings := make([]Reading, 0, len(gates))
	for i, g := range gates {
		if err := g.validate(); err != nil {
			return nil, err
		}
		start := 0.0
		if g.After != "" {
			before := slices.IndexFunc(gates[:i], func(o Gate) bool { return o.Name == g.After })
			if before < 0 {
				return nil, fmt.Errorf("ascan: gate %q after gate %q: want the name of an earlier gate", g.Name, g.After)
			}
			start = readings[before].Time
		}
		from, to, err := g.times(t, start)
		if err != nil {
			return nil, err
		}
		readings = append(readings, e.read(g, from, to))
	}
	return readings, nil
}

// times returns the ends of the gate in s. The start is the time of the echo that the gate follows,
// in s, and NaN without such an echo.
func (g *Gate) times(t *Trace, start float64) (from, to float64, err error) {
	if g.InTime {
		return start + g.Start, start + g.End, nil
	}
	if t.Line == nil {
		return 0, 0, fmt.Errorf("ascan: gate %q in sound path on the A-scan of a pair: want a gate in time", g.Name)
	}
	if g.After == "" {
		return t.Line.Time(g.Start), t.Line.Time(g.End), nil
	}
	return start + 2*g.Start/t.Line.Speed, start + 2*g.End/t.Line.Speed, nil
}

// echoes is an A-scan whose envelope is in percent of full height.
type echoes struct {
	*Trace
	reader *Reader
	height []float64
}

func (r *Reader) echoes(t *Trace) (*echoes, error) {
	if err := r.validate(); err != nil {
		return nil, err
	}
	if err := t.validate(); err != nil {
		return nil, err
	}
	e := &echoes{Trace: t, reader: r, height: t.Envelope(nil)}
	scale := 100 / r.FullHeight * math.Pow(10, r.Gain/20)
	for k := range e.height {
		e.height[k] *= scale
	}
	return e, nil
}

// read returns the reading of a gate between two times in s.
func (e *echoes) read(g Gate, from, to float64) Reading {
	nothing := e.reading(g, math.NaN(), math.NaN())
	// The ends of the gate may be infinite or far outside the record.
	last := float64(len(e.height) - 1)
	lower, upper := math.Ceil(e.sample(from)), math.Floor(e.sample(to))
	if !(lower <= last && upper >= 0 && lower <= upper) {
		return nothing
	}
	first, end := int(max(lower, 0)), int(min(upper, last))+1
	if !g.Flank {
		k := highest(e.height, first, end)
		if e.height[k] < g.Threshold {
			return nothing
		}
		at, height, inside := e.peak(k)
		reading := e.reading(g, at, height)
		reading.AtEdge, reading.Partial = !inside, e.partial(k)
		return reading
	}
	k := first
	for e.height[k] < g.Threshold {
		if k++; k == end {
			return nothing
		}
	}
	behind := k
	for behind < end && e.height[behind] >= g.Threshold {
		behind++
	}
	top := highest(e.height, k, behind)
	_, height, _ := e.peak(top)
	at, passed := float64(k), k == first && (k == 0 || e.height[k-1] >= g.Threshold)
	if !passed && k > 0 {
		at -= (e.height[k] - g.Threshold) / (e.height[k] - e.height[k-1])
		// A flank between the start of the gate and its first sample may lie before the gate.
		at = max(at, e.sample(from))
	}
	reading := e.reading(g, at, height)
	reading.AtEdge, reading.Partial = passed, e.partial(top)
	return reading
}

// highest returns the first index of the highest value from first to before end.
func highest(v []float64, first, end int) int {
	k := first
	for i := first; i < end; i++ {
		if v[i] > v[k] {
			k = i
		}
	}
	return k
}

// peak returns the place in samples and the height of the peak next to sample k, from the parabola
// through the logarithms of three heights. This is exact for a Gaussian envelope. If the neighbours
// of sample k are not lower, or missing, it returns sample k and false.
func (e *echoes) peak(k int) (at, height float64, inside bool) {
	if k < 1 || k+1 >= len(e.height) {
		return float64(k), e.height[k], false
	}
	before, here, behind := e.height[k-1], e.height[k], e.height[k+1]
	if before > here || behind > here {
		return float64(k), here, false
	}
	if !(before > 0 && behind > 0) || before == here && behind == here {
		return float64(k), here, true
	}
	here = math.Log(here)
	shift, rise := number.Vertex(math.Log(before), here, math.Log(behind))
	return float64(k) + shift, math.Exp(here + rise), true
}

// partial reports whether sample k lacks pairs.
func (e *echoes) partial(k int) bool {
	for _, r := range e.Partial {
		if k >= r[0] && k < r[1] {
			return true
		}
	}
	return false
}

// reading returns the reading of an echo at a sample, with its fraction. The sample is NaN if there
// is no echo.
func (e *echoes) reading(g Gate, sample, height float64) Reading {
	nan := math.NaN()
	time := e.Time(sample)
	r := Reading{
		Gate: g.Name, Found: !math.IsNaN(sample), Height: height,
		AboveThreshold: 20 * math.Log10(height/g.Threshold), Level: 20 * math.Log10(height/100),
		Time: time, SoundPath: e.SoundPath(time),
		Point: r3.Vec{X: nan, Y: nan, Z: nan}, Depth: nan, SurfaceDistance: nan, ProjectedDistance: nan,
	}
	if e.Line == nil {
		return r
	}
	if r.Point, r.Leg = e.Line.At(r.SoundPath); r.Leg == 0 || e.reader.Setup == nil {
		return r
	}
	entry := e.reader.Setup.Entry
	r.Depth = entry.Depth(r.Point)
	foot, _ := entry.Locate(r.Point)
	exit, _ := entry.Locate(e.Line.Exit)
	front, _ := entry.Locate(r3.Vec{X: e.reader.Front, Y: e.Line.Exit.Y, Z: e.Line.Exit.Z})
	ahead := math.Copysign(1, e.Line.Angle)
	r.SurfaceDistance, r.ProjectedDistance = ahead*(foot-exit), ahead*(foot-front)
	return r
}
