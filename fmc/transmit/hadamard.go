// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit

import (
	"fmt"
	"math/bits"

	"github.com/isochron-imaging/isochron/fmc"
)

// maxOrder bounds [Hadamard], because its events take 16·n² bytes.
const maxOrder = 1 << 12

// Hadamard returns n events of n elements without delays. Their weights are the rows of a Hadamard
// matrix: all are 1 or -1, and the rows are orthogonal. The weight of the first element in the
// first event is 1.
//
// n is a power of two times 1 or p + 1, where p is a prime with p mod 4 = 3. It is at most 4096. Up
// to 64 these numbers are 1, 2, 4, 8, 12, 16, 20, 24, 32, 40, 44, 48, 60 and 64. The powers of two
// are the construction of J. J. Sylvester (Philosophical Magazine 34 (1867) 461). The factor p + 1
// is the first construction of R. E. A. C. Paley (Journal of Mathematics and Physics 12 (1933)
// 311). Both sources are cited from memory.
func Hadamard(n int) ([]fmc.Event, error) {
	if n < 1 || n > maxOrder {
		return nil, fmt.Errorf("transmit: Hadamard code of order %d: want 1 to %d", n, maxOrder)
	}
	sign, doublings := baseOf(n)
	if sign == nil {
		return nil, fmt.Errorf("transmit: Hadamard code of order %d: "+
			"want a power of two times 1 or p + 1, p prime and p mod 4 = 3", n)
	}
	base := n >> doublings
	events := make([]fmc.Event, n)
	for r := range events {
		events[r] = silent(n)
		for c := range n {
			// Sylvester: doubling H gives [H H; H -H].
			w := sign(r%base, c%base)
			for halves := r / base & (c / base); halves > 0; halves &= halves - 1 {
				w = -w
			}
			events[r].Weights[c] = w
		}
	}
	return events, nil
}

// baseOf returns the entries of the base matrix and the number of doublings that make a matrix of
// order n. It returns nil if there is no base matrix.
func baseOf(n int) (sign func(r, c int) float64, doublings int) {
	if n&(n-1) == 0 {
		return func(int, int) float64 { return 1 }, bits.Len(uint(n)) - 1
	}
	for base := n; ; base /= 2 {
		switch p := base - 1; {
		case p%4 == 3 && prime(p):
			return paley(p), doublings
		case base%2 != 0:
			return nil, 0
		}
		doublings++
	}
}

// paley returns the entries of Paley's matrix of order p + 1,
//
//	I + [0 1; -1 Q], Q the quadratic character of (row − column) modulo p.
func paley(p int) func(r, c int) float64 {
	character := make([]float64, p)
	for i := range character {
		character[i] = -1
	}
	for i := range p {
		character[i*i%p] = 1
	}
	return func(r, c int) float64 {
		switch {
		case r == c, r == 0:
			return 1
		case c == 0:
			return -1
		}
		return character[(r-c+p)%p]
	}
}

func prime(p int) bool {
	if p < 2 {
		return false
	}
	for d := 2; d*d <= p; d++ {
		if p%d == 0 {
			return false
		}
	}
	return true
}
