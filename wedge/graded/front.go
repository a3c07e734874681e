// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"
)

// front holds the shortest paths over a lattice from one element. It does not change after it is
// made.
type front struct {
	*lattice
	element r3.Vec
	times   []float64 // at the nodes
	before  []int32   // node before each on its path; -1-g after gate g, or 0 in contact
	entries []float64 // times at the gates
}

// newFront runs Dijkstra's method from the element over the lattice.
func newFront(l *lattice, element r3.Vec) *front {
	f := &front{
		lattice: l, element: element,
		times:  make([]float64, len(l.inside)),
		before: make([]int32, len(l.inside)),
	}
	for n := range f.times {
		f.times[n] = math.Inf(1)
	}
	var queue heap
	reached := func(n, before int32, time float64) {
		if time < f.times[n] {
			f.times[n], f.before[n] = time, before
			queue.push(item{time, n})
		}
	}
	if l.part.Coupling == nil {
		for _, k := range l.links(element) {
			reached(k.node, -1, float64(k.cost))
		}
	} else {
		f.entries = make([]float64, len(l.gates))
		for g := range l.gates {
			d := r3.Sub(l.gates[g].at, element)
			f.entries[g] = math.Hypot(d.X, d.Z) / l.part.Coupling.Longitudinal
			for _, k := range l.gates[g].links {
				reached(k.node, int32(-1-g), f.entries[g]+float64(k.cost))
			}
		}
	}
	for len(queue) > 0 {
		top := queue.pop()
		n := int(top.node)
		if top.time > f.times[n] {
			continue // reached sooner since
		}
		column, row := n%l.columns, n/l.columns
		for s, o := range stencil {
			if cost := l.costs[n*len(stencil)+s]; cost <= math.MaxFloat32 {
				reached(int32(n+o.row*l.columns+o.column), top.node, top.time+float64(cost))
			}
			// The edge from the node on the other side is of the same length.
			c, r := column-o.column, row-o.row
			if c < 0 || c >= l.columns || r < 0 {
				continue
			}
			m := r*l.columns + c
			if cost := l.costs[m*len(stencil)+s]; cost <= math.MaxFloat32 {
				reached(int32(m), top.node, top.time+float64(cost))
			}
		}
	}
	return f
}

// path appends to dst the shortest path from the element to q, and returns its time. The time is
// infinite if there is no path. With a coupling, the second point of the path lies on the entry
// surface.
func (f *front) path(dst []r3.Vec, q r3.Vec) ([]r3.Vec, float64) {
	best, last := math.Inf(1), int32(0)
	for _, k := range f.links(q) {
		if t := f.times[k.node] + float64(k.cost); t < best {
			best, last = t, k.node
		}
	}
	near := linking * f.spacing
	if f.part.Coupling == nil {
		if d := r3.Sub(q, f.element); math.Hypot(d.X, d.Z) <= near {
			if t := f.cost(f.element, q); t < best {
				best, last = t, -1
			}
		}
	}
	for g := range f.gates {
		if d := r3.Sub(q, f.gates[g].at); math.Abs(d.X) <= near && math.Abs(d.Z) <= near {
			if t := f.entries[g] + f.cost(f.gates[g].at, q); t < best {
				best, last = t, int32(-1-g)
			}
		}
	}
	if math.IsInf(best, 1) {
		return dst, best
	}
	first := len(dst)
	dst = append(dst, q)
	for last >= 0 {
		dst = append(dst, f.node(int(last)))
		last = f.before[last]
	}
	if f.part.Coupling != nil {
		dst = append(dst, f.gates[-1-last].at)
	}
	dst = append(dst, f.element)
	slices.Reverse(dst[first:])
	return dst, best
}

// straight appends to dst the straight line to q, and reports whether it meets the
// entry surface.
func (f *front) straight(dst []r3.Vec, q r3.Vec) ([]r3.Vec, bool) {
	if f.part.Coupling == nil {
		return append(dst, f.element, q), true
	}
	along := r3.Sub(q, f.element)
	depth := func(t float64) float64 {
		return f.part.Entry.Depth(r3.Add(f.element,
			r3.Scale(t, along)))
	}
	outside := depth(0)
	if math.Abs(depth(1)) <= tolerance {
		return append(dst, f.element, q, q), true // to the surface itself
	}
	if !(outside < 0 && depth(1) > 0) {
		return dst, false
	}
	at := rootOf(depth, 0, 1, outside)
	return append(dst, f.element, r3.Add(f.element, r3.Scale(at, along)), q), true
}

// item is a node in the queue with the time of its path when it was added.
type item struct {
	time float64
	node int32
}

// heap is a binary heap of items, the least time on top.
type heap []item

// push adds an item.
func (h *heap) push(x item) {
	*h = append(*h, x)
	s := *h
	i := len(s) - 1
	for i > 0 {
		up := (i - 1) / 2
		if s[up].time <= x.time {
			break
		}
		s[i] = s[up]
		i = up
	}
	s[i] = x
}

// pop takes the item of the least time.
func (h *heap) pop() item {
	s := *h
	top := s[0]
	n := len(s) - 1
	x := s[n]
	s = s[:n]
	*h = s
	i := 0
	for {
		down := 2*i + 1
		if down >= n {
			break
		}
		if down+1 < n && s[down+1].time < s[down].time {
			down++
		}
		if s[down].time >= x.time {
			break
		}
		s[i] = s[down]
		i = down
	}
	if n > 0 {
		s[i] = x
	}
	return top
}
