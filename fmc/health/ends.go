// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"cmp"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"gonum.org/v1/gonum/spatial/r3"
)

// ends tells which pairs an element takes part in.
type ends struct {
	separate bool             // both directions of every pair are there
	at       map[fmc.Pair]int // index of a pair
	sides    [2][][]end       // of each element, as a transmitter and as a receiver; the same where not separate
}

// end is a pair seen from one of its elements.
type end struct{ partner, pair int }

func newEnds(c *fmc.Capture) ends {
	n := len(c.Array.Elements)
	e := ends{separate: true, at: make(map[fmc.Pair]int, len(c.Pairs))}
	for p, pair := range c.Pairs {
		e.at[pair] = p
	}
	for _, pair := range c.Pairs {
		if _, ok := e.at[pair.Reciprocal()]; !ok {
			e.separate = false
		}
	}
	transmit, receive := make([][]end, n), make([][]end, n)
	for p, pair := range c.Pairs {
		transmit[pair.Tx] = append(transmit[pair.Tx], end{pair.Rx, p})
		_, twin := e.at[pair.Reciprocal()]
		switch {
		case e.separate:
			receive[pair.Rx] = append(receive[pair.Rx], end{pair.Tx, p})
		case !twin:
			transmit[pair.Rx] = append(transmit[pair.Rx], end{pair.Tx, p})
		}
	}
	if !e.separate {
		receive = transmit
	}
	e.sides = [2][][]end{transmit, receive}
	return e
}

// count returns the number of sides that differ.
func (e *ends) count() int {
	if e.separate {
		return 2
	}
	return 1
}

// nearest is the number of neighbours kept of each element.
const nearest = 24

// neighbours lists, for each element, at most 24 other elements, the nearest first. Of two equally
// near elements the element with the lower number comes first.
func neighbours(at []r3.Vec) [][]int {
	near := make([][]int, len(at))
	type other struct {
		element  int
		distance float32 // in which equal pitches are equal: rounding must not decide
	}
	others := make([]other, 0, len(at))
	for e := range at {
		others = others[:0]
		for o := range at {
			if o != e {
				others = append(others, other{o, float32(r3.Norm(r3.Sub(at[o], at[e])))})
			}
		}
		slices.SortFunc(others, func(x, y other) int {
			if c := cmp.Compare(x.distance, y.distance); c != 0 {
				return c
			}
			return x.element - y.element
		})
		for _, o := range others[:min(nearest, len(others))] {
			near[e] = append(near[e], o.element)
		}
	}
	return near
}
