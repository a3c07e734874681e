// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// twins compares the traces that element e transmits with their reciprocal traces, which hold the
// same echoes. The sign is the product of its polarity as a transmitter and as a receiver, 0 where
// the evidence is below sureSign. The lag in s is its delay as a transmitter less its delay as a
// receiver, the median over its partners, most of which are sound. It is NaN where fewer than
// leastLags traces are clear.
func (a *assessment) twins(e int) (sign int, lag float64) {
	reach := a.samples(0.6/a.capture.Array.CentreFrequency) + 1
	var likes []alike
	ends := a.ends.sides[0][e]
	for i := 0; i < len(ends); i += 1 + len(ends)/(partners+1) {
		p := ends[i].pair
		twin := a.ends.at[a.capture.Pairs[p].Reciprocal()]
		if twin != p && a.clear(p) && a.clear(twin) {
			likes = append(likes, a.correlate(twin, p, reach))
		}
	}
	sum := 0.0
	var positive, negative []float64
	for _, c := range likes {
		sum += c.energy * (c.most + c.least)
		positive, negative = append(positive, c.mostAt), append(negative, c.leastAt)
	}
	switch {
	case len(likes) < leastLags || evidence(likes) < sureSign:
		return 0, math.NaN()
	case sum > 0:
		return 1, number.Median(positive)
	}
	return -1, number.Median(negative)
}

// reconcile sets polarities and time zeros to not known if reciprocal traces contradict them: a
// fault of one end alone must show in the difference from the reciprocal traces. A polarity that
// is known of one end only is carried to the other end.
func (a *assessment) reconcile(polarity, drift [2][]float64) {
	tolerance := agreement / a.capture.Array.CentreFrequency
	for e := range a.near {
		sign, lag := a.twins(e)
		for s := range polarity {
			if math.IsNaN(polarity[s][e]) && sign != 0 {
				polarity[s][e] = float64(sign) * polarity[1-s][e]
			}
		}
		if product := polarity[0][e] * polarity[1][e]; product < 0 && sign >= 0 || product > 0 && sign < 0 {
			polarity[0][e], polarity[1][e] = math.NaN(), math.NaN()
		}
		// Without a clear lag only a delay of both ends is proved. The delay of one end is
		// not, where the other is not known.
		difference := drift[0][e] - drift[1][e]
		if math.IsNaN(lag) {
			lag = 0
		}
		if !(math.Abs(difference-lag) <= tolerance) {
			drift[0][e], drift[1][e] = math.NaN(), math.NaN()
		}
	}
}
