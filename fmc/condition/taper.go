// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/vector"
)

// Taper multiplies traces by a weight that is zero before From and after To, 1
// between, with raised-cosine edges inside of the two:
//
//	w(t) = (1 − cos(π·(t − From)/Rise))/2 from From to From + Rise
//	w(t) = (1 − cos(π·(To − t)/Fall))/2   from To − Fall to To
//
// It blanks the dead zone after the pulse, where the ring-down of the elements
// hides every echo, and lets a record begin and end softly. What it blanks was
// not inspected: say so in the report.
type Taper struct {
	format
	options    TaperOptions
	lead, tail []float32 // weights of the first and the last samples; 1 between
}

// TaperOptions are the options of a [Taper]. There are no defaults: the zero
// value blanks all but time 0.
type TaperOptions struct {
	From, To   float64 // s; limits beyond the record, -Inf and +Inf too, mean its ends
	Rise, Fall float64 // s; finite, at least 0, and together no longer than from From to To
}

// NewTaper returns the taper for captures like the given one. At least one
// sample must lie between From and To, both included.
func NewTaper(like *fmc.Capture, options TaperOptions) (*Taper, error) {
	f, err := formatOf(like)
	if err != nil {
		return nil, err
	}
	o := options
	if _, _, err := f.gate(o.From, o.To); err != nil {
		return nil, err
	}
	o.From, o.To = max(o.From, f.first), min(o.To, f.time(f.samples-1))
	for _, edge := range []float64{o.Rise, o.Fall} {
		if !(edge >= 0) || math.IsInf(edge, 1) {
			return nil, fmt.Errorf("condition: edge of the taper of %v s: want a finite value of at least 0", edge)
		}
	}
	if width := o.To - o.From; !((o.Rise+o.Fall)*f.rate <= width*f.rate+tolerance) {
		return nil, fmt.Errorf("condition: edges of the taper of %v and %v s: want at most %v s together", o.Rise, o.Fall, width)
	}
	t := &Taper{format: f, options: o}
	weights := make([]float32, f.samples)
	for k := range weights {
		weights[k] = float32(t.At(f.time(k)))
	}
	from, to := 0, f.samples
	for from < to && weights[from] != 1 {
		from++
	}
	for to > from && weights[to-1] != 1 {
		to--
	}
	t.lead, t.tail = weights[:from], weights[to:]
	return t, nil
}

// At returns the weight at a time in s; 0 at NaN. A time within a millionth of the
// sample spacing outside From and To counts as on it.
func (t *Taper) At(time float64) float64 {
	o := t.options
	return edge(time-o.From, o.Rise, tolerance/t.rate) * edge(o.To-time, o.Fall, tolerance/t.rate)
}

// edge returns the weight at a time after the beginning of an edge.
func edge(time, rise, slack float64) float64 {
	switch {
	case !(time >= -slack):
		return 0
	case time >= rise:
		return 1
	case rise <= slack:
		return 1
	}
	return (1 - math.Cos(math.Pi*time/rise)) / 2
}

func (t *Taper) run(_ int, trace, _ []float32) {
	vector.Multiply(trace[:len(t.lead)], t.lead)
	vector.Multiply(trace[len(trace)-len(t.tail):], t.tail)
}
