// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import "fmt"

// Pair is a transmission and a receiver. Tx is the number of the element that fires, or the number
// of the event in a capture that has [Event]s. Rx is the number of the element that records.
type Pair struct{ Tx, Rx int }

// String returns the pair as "tx→rx".
func (p Pair) String() string { return fmt.Sprintf("%d→%d", p.Tx, p.Rx) }

// Reciprocal returns the pair with its ends swapped.
func (p Pair) Reciprocal() Pair { return Pair{Tx: p.Rx, Rx: p.Tx} }

// A Layout says which pairs a capture holds, and in which order.
type Layout uint8

// The layouts of a capture of N elements.
const (
	Full   Layout = iota // all N² pairs, or all pairs of events with N receivers, at p = tx·N + rx
	Half                 // the N(N+1)/2 pairs with rx ≥ tx at p = tx·N − tx(tx−1)/2 + (rx − tx)
	Listed               // any other set or order of distinct pairs
)

// String returns "full", "half" or "listed".
func (l Layout) String() string {
	switch l {
	case Full:
		return "full"
	case Half:
		return "half"
	case Listed:
		return "listed"
	}
	return fmt.Sprintf("Layout(%d)", uint8(l))
}

// FullPairs returns the pairs of the full matrix of n elements, in the order of [Full]. There are
// no pairs for n ≤ 0.
func FullPairs(n int) []Pair { return EventPairs(n, n) }

// HalfPairs returns the pairs of the half matrix of n elements, in the order of [Half]. There are
// no pairs for n ≤ 0.
func HalfPairs(n int) []Pair {
	pairs := make([]Pair, 0, max(n, 0)*(max(n, 0)+1)/2)
	for tx := range n {
		for rx := tx; rx < n; rx++ {
			pairs = append(pairs, Pair{tx, rx})
		}
	}
	return pairs
}

// SparsePairs returns the pairs of the listed transmitters with each of n receivers. The pair of
// transmitter number i of the list and receiver rx is at p = i·n + rx.
func SparsePairs(transmitters []int, n int) []Pair {
	pairs := make([]Pair, 0, len(transmitters)*max(n, 0))
	for _, tx := range transmitters {
		for rx := range n {
			pairs = append(pairs, Pair{tx, rx})
		}
	}
	return pairs
}

// complete reports whether each of pairs stands at its index and the last pair is the last of the
// matrix.
func complete(pairs []Pair, transmissions, receivers int, index func(Pair, int) int) bool {
	for p, pair := range pairs {
		if !pair.within(transmissions, receivers) || index(pair, receivers) != p {
			return false
		}
	}
	return len(pairs) > 0 && pairs[len(pairs)-1] == Pair{transmissions - 1, receivers - 1}
}

func (p Pair) within(transmissions, receivers int) bool {
	return p.Tx >= 0 && p.Tx < transmissions && p.Rx >= 0 && p.Rx < receivers
}

// fullIndex returns the index of pair in the full matrix of n receivers.
func fullIndex(pair Pair, n int) int { return pair.Tx*n + pair.Rx }

// halfIndex returns the index of pair in the half matrix of n elements, or -1 if that matrix does
// not hold the pair.
func halfIndex(pair Pair, n int) int {
	if pair.Rx < pair.Tx {
		return -1
	}
	return pair.Tx*n - pair.Tx*(pair.Tx-1)/2 + pair.Rx - pair.Tx
}
