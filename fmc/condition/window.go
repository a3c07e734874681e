// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
)

// Window multiplies traces by a weight that is zero before From and after To, and 1 between, with
// raised-cosine edges inside of these limits:
//
//	w(t) = (1 − cos(π·(t − From)/Rise))/2 from From to From + Rise
//	w(t) = (1 − cos(π·(To − t)/Fall))/2   from To − Fall to To
//
// It blanks the dead zone after the pulse, where the ring-down of the elements hides every echo. It
// also lets a record begin and end softly. The blanked part was not inspected: say so in the
// report.
//
// There are no defaults. The zero value blanks all samples except the one at time 0.
type Window struct {
	// From and To are in s. A limit beyond the record, also -Inf or +Inf, means the end of the
	// record. At least one sample must lie between From and To, both included. A sample outside by
	// less than a millionth of the sample spacing counts as on the limit.
	From, To float64

	// Rise and Fall are the lengths of the edges in s: finite, at least 0, and together at most the
	// time from From to To.
	Rise, Fall float64
}

func (w Window) compile(like *fmc.Capture) (runner, error) {
	if _, _, err := gate(like, w.From, w.To); err != nil {
		return nil, err
	}
	w.From, w.To = max(w.From, like.FirstSample), min(w.To, like.Time(like.Samples-1))
	for _, edge := range []float64{w.Rise, w.Fall} {
		if !(edge >= 0) || math.IsInf(edge, 1) {
			return nil, fmt.Errorf("condition: edge of the window of %v s: "+
				"want a finite value of at least 0", edge)
		}
	}
	width, rate := w.To-w.From, like.SampleRate
	if !((w.Rise+w.Fall)*rate <= width*rate+tolerance) {
		return nil, fmt.Errorf("condition: edges of the window of %v and %v s: "+
			"want at most %v s together", w.Rise, w.Fall, width)
	}
	all := make([]float32, like.Samples)
	for k := range all {
		t, slack := like.Time(k), tolerance/rate
		all[k] = float32(edge(t-w.From, w.Rise, slack) * edge(w.To-t, w.Fall, slack))
	}
	from, to := 0, len(all)
	for from < to && all[from] != 1 {
		from++
	}
	for to > from && all[to-1] != 1 {
		to--
	}
	return weights{lead: all[:from], tail: all[to:]}, nil
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
