// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
)

// RepairOptions modifies [NewRepair]. Nil stands for the zero value.
type RepairOptions struct {
	// DropReversed leaves out the pairs with a reversed end. By default their sign is changed,
	// twice for two reversed ends.
	DropReversed bool
	// LargestGain bounds the factor that makes up for the loss of a weak or uncoupled
	// end, at least 1. The zero value stands for 1: losses stay as they are. A gain
	// raises the noise of its traces as it raises their echoes.
	LargestGain float64
	// LargestShare bounds the share of the elements that a repair may change, above 0 and at most
	// 1. The zero value stands for 0.25. Verdicts compare an element with the others. If so many
	// elements seem bad, the comparison itself is probably wrong.
	LargestShare float64
}

// Repair holds the changes of a capture that make its image right in spite of bad elements.
type Repair struct {
	// Weights are the factors of the pairs, in the order of the capture, as
	// tfm.Options.Weights takes them.
	Weights []float32
	// Scale is the part of every weight that makes up for the pairs left out: the number of all
	// pairs over the number of pairs that are left. An off-diagonal pair of a half matrix counts
	// twice. With Scale, echoes that reach all elements alike keep their amplitude in a sum over
	// the pairs. The image stays less sharp and its noise higher, because the aperture is smaller.
	Scale float64

	LeftOut  []int // elements of which pairs were left out, ascending
	Flipped  []int // elements of which pairs were turned, ascending
	Balanced []int // elements of which pairs were raised, ascending
}

// NewRepair makes weights from the findings of a report on c whose value exceeds their limit. Pairs
// of a dead end get 0. Pairs of reversed and weak ends get the weights that the options say. Ends
// with other findings, and ends of which numbers are not known, stay as they are.
//
// It wants the report of a capture with the same pairs, and at least one pair to be left.
// A repair that would change a larger share of the elements than
// [RepairOptions.LargestShare] is refused.
func NewRepair(c *fmc.Capture, r *Report, options *RepairOptions) (*Repair, error) {
	if options == nil {
		options = new(RepairOptions)
	}
	if c == nil || r == nil {
		return nil, errors.New("health: repair without a capture or a report")
	}
	if c.Events != nil {
		return nil, fmt.Errorf("health: %w: want it decoded before it is repaired", fmc.ErrEvents)
	}
	samePair := func(p Trace, q fmc.Pair) bool { return p.Pair == q }
	if !slices.EqualFunc(r.Traces, c.Pairs, samePair) || len(r.Elements) != len(c.Array.Elements) {
		return nil, fmt.Errorf("health: report on %d pairs of %d elements: want that of a capture of the same %d pairs of %d elements",
			len(r.Traces), len(r.Elements), len(c.Pairs), len(c.Array.Elements))
	}
	largest := options.LargestGain
	if largest == 0 {
		largest = 1
	}
	if !(largest >= 1) || math.IsInf(largest, 1) {
		return nil, fmt.Errorf("health: largest gain %v: want a finite value of at least 1, or 0 for 1", options.LargestGain)
	}
	share := options.LargestShare
	if share == 0 {
		share = 0.25
	}
	if !(share > 0 && share <= 1) {
		return nil, fmt.Errorf("health: largest share %v: want above 0 and at most 1, or 0 for 0.25", options.LargestShare)
	}
	gains := newGains(r, options.DropReversed, largest)
	repair := gains.repair
	changed := slices.Concat(repair.LeftOut, repair.Flipped, repair.Balanced)
	slices.Sort(changed)
	changed = slices.Compact(changed)
	if n := len(r.Elements); float64(len(changed)) > share*float64(n) {
		return nil, fmt.Errorf("health: repair would change %d of %d elements, %v: want at most a share of %v; look for the common cause first",
			len(changed), n, changed, share)
	}
	if err := repair.weigh(c, gains); err != nil {
		return nil, err
	}
	return repair, nil
}

// gains holds the factor of each element at either end of a pair.
type gains struct {
	transmit, receive []float64
	repair            *Repair
}

func newGains(r *Report, dropReversed bool, largest float64) *gains {
	n := len(r.Elements)
	g := &gains{slices.Repeat([]float64{1}, n), slices.Repeat([]float64{1}, n), new(Repair)}
	for _, f := range r.Findings {
		if len(f.Elements) != 1 || f.Elements[0] < 0 || f.Elements[0] >= n || !(f.Value > f.Limit) {
			continue
		}
		e := f.Elements[0]
		switch {
		case f.Kind == Dead, f.Kind == Reversed && dropReversed:
			g.multiply(f, 0, 0)
			g.repair.LeftOut = append(g.repair.LeftOut, e)
		case f.Kind == Reversed:
			g.multiply(f, -1, -1)
			g.repair.Flipped = append(g.repair.Flipped, e)
		case (f.Kind == Weak || f.Kind == Uncoupled) && largest > 1:
			g.multiply(f, gain(r.Elements[e].Transmit, largest), gain(r.Elements[e].Receive, largest))
			g.repair.Balanced = append(g.repair.Balanced, e)
		}
	}
	for _, list := range []*[]int{&g.repair.LeftOut, &g.repair.Flipped, &g.repair.Balanced} {
		slices.Sort(*list)
		*list = slices.Compact(*list)
	}
	return g
}

// multiply multiplies the factors of the ends of an element that a finding is about.
func (g *gains) multiply(f Finding, transmit, receive float64) {
	if f.Transmit {
		g.transmit[f.Elements[0]] *= transmit
	}
	if f.Receive {
		g.receive[f.Elements[0]] *= receive
	}
}

// gain returns the factor that compensates the loss of a side against its neighbours.
func gain(s Channel, largest float64) float64 {
	if !s.Relative.Known() {
		return 1
	}
	return max(1, min(largest, math.Pow(10, -float64(s.Relative)/20)))
}

// weigh sets the weights.
func (r *Repair) weigh(c *fmc.Capture, g *gains) error {
	half := c.Layout() == fmc.Half
	all, left := 0, 0
	r.Weights = make([]float32, len(c.Pairs))
	factors := make([]float64, len(c.Pairs))
	for p, pair := range c.Pairs {
		count := 1
		if half && pair.Tx != pair.Rx {
			count = 2
		}
		all += count
		factors[p] = g.transmit[pair.Tx] * g.receive[pair.Rx]
		if factors[p] != 0 {
			left += count
		}
	}
	if left == 0 {
		return errors.New("health: no pair without a bad element: want at least one to be left")
	}
	r.Scale = float64(all) / float64(left)
	for p, f := range factors {
		r.Weights[p] = float32(f * r.Scale)
	}
	return nil
}
