// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"

	"github.com/isochron-imaging/isochron/fmc"
)

// Saturation reports the samples of one trace that are at the limits of the digitiser or beyond.
type Saturation struct {
	Index int      // index p of the pair
	Pair  fmc.Pair // the pair
	Count int      // number of samples at the limits, at least 1
	First int      // index k of the first of these samples
	Run   int      // greatest number of adjacent samples at the limits; rarely above 1 by chance
}

// AppendSaturations appends a report to dst for each trace of the raw capture that has samples
// outside of low < sample < high. The reports are in the order of the pairs. It returns the
// extended slice. It does not allocate if dst has room for a report a pair.
//
// Low and high, with low < high, are the limits of the digitiser in the unit of the samples: -32768
// and 32767 for int16 samples. A sample that is NaN counts as saturated. Reports on a capture that
// was conditioned before have no meaning.
func AppendSaturations(dst []Saturation, raw *fmc.Capture, low, high float32) (
	[]Saturation, error,
) {
	if !(low < high) {
		return dst, fmt.Errorf("condition: saturation limits %v and %v: want low below high", low,
			high)
	}
	if raw == nil || raw.Samples < 1 || len(raw.Data) != len(raw.Pairs)*raw.Samples {
		return dst, fmt.Errorf("condition: raw capture without its samples: want a valid capture")
	}
	for p, pair := range raw.Pairs {
		s := Saturation{Index: p, Pair: pair}
		run := 0
		for k, v := range raw.Trace(p) {
			if v > low && v < high {
				run = 0
				continue
			}
			if s.Count == 0 {
				s.First = k
			}
			run++
			s.Count++
			s.Run = max(s.Run, run)
		}
		if s.Count > 0 {
			dst = append(dst, s)
		}
	}
	return dst, nil
}
