// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"strings"

	"github.com/isochron-imaging/isochron/tfm/ascan"
)

// chart is an A-scan as lines of a drawing of 720 × 230 units.
type chart struct {
	Number               int
	Alternative, Caption string
	Signal, Envelope     string // points of polylines
	Focus                string // x of the focus; empty for none in the drawing
	Axis                 string // name of the axis along
	Along, Down          []tick
}

// tick is a mark of an axis, with the place of its text.
type tick struct{ At, Text, Label string }

// The rectangle of the curves in a chart, and the range of sound paths on each side of a focus in
// m.
const (
	left, right, top, bottom = 60, 700, 10, 180
	around                   = 15e-3
)

// newChart returns the chart of an A-scan in JSON.
func newChart(text []byte) (*chart, error) {
	var t ascan.Trace
	if err := json.Unmarshal(text, &t); err != nil {
		return nil, err
	}
	axis := func(k int) float64 { return t.Time(float64(k)) * 1e6 }
	c := &chart{Axis: "time / µs"}
	from, to, focus := axis(0), axis(len(t.Analytic)-1), math.NaN()
	if t.Line != nil {
		c.Axis = "sound path / mm"
		axis = func(k int) float64 { return t.SoundPath(t.Time(float64(k))) * 1e3 }
		from, to = 0, t.Line.Length()*1e3
		if t.Beam.Transmit.SoundPath > 0 {
			focus = t.Beam.Transmit.SoundPath * 1e3
			from, to = max(from, focus-around*1e3), min(to, focus+around*1e3)
		}
	}
	first, last := inside(axis, len(t.Analytic), from, to)
	if last <= first {
		return nil, errors.New("no two samples of the A-scan in the part: want at least two")
	}
	c.draw(t.Analytic[first:last+1], func(k int) float64 {
		return left + (right-left)*(axis(first+k)-from)/(to-from)
	})
	if focus > from && focus < to {
		c.Focus = fmt.Sprintf("%.1f", left+(right-left)*(focus-from)/(to-from))
	}
	c.ticks(from, to)
	return c, nil
}

// inside returns the first and the last sample whose axis lies between two values.
func inside(axis func(int) float64, n int, from, to float64) (first, last int) {
	for first < n && axis(first) < from {
		first++
	}
	last = n - 1
	for last > first && axis(last) > to {
		last--
	}
	return first, last
}

// draw draws samples, with the highest envelope at 100 %.
func (c *chart) draw(samples []complex64, x func(k int) float64) {
	highest := 0.0
	for _, v := range samples {
		highest = max(highest, cmplx.Abs(complex128(v)))
	}
	if highest == 0 {
		highest = 1
	}
	middle, half := (top+bottom)/2.0, (bottom-top)/2.0
	var signal, envelope strings.Builder
	for k, v := range samples {
		fmt.Fprintf(&signal, "%.1f,%.1f ", x(k), middle-half*float64(real(v))/highest)
		fmt.Fprintf(&envelope, "%.1f,%.1f ", x(k), middle-half*cmplx.Abs(complex128(v))/highest)
	}
	c.Signal, c.Envelope = signal.String(), envelope.String()
	for _, height := range []float64{100, 50, 0, -50, -100} {
		y := middle - half*height/100
		c.Down = append(c.Down, tick{fmt.Sprintf("%.1f", y), fmt.Sprintf("%.1f", y+4), fmt.Sprintf("%.0f", height)})
	}
}

// ticks makes the marks along.
func (c *chart) ticks(from, to float64) {
	step := math.Pow(10, math.Floor(math.Log10((to-from)/3)))
	for _, factor := range []float64{5, 2} {
		if (to-from)/(factor*step) >= 4 {
			step *= factor
			break
		}
	}
	for k := math.Ceil(from / step); k*step <= to; k++ {
		x := left + (right-left)*(k*step-from)/(to-from)
		c.Along = append(c.Along, tick{At: fmt.Sprintf("%.1f", x), Label: fmt.Sprintf("%.4g", k*step)})
	}
}
