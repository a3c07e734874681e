// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// order compares the traces of each element with the traces of its neighbours, to find elements
// whose channels are exchanged.
//
// On one side, the trace of element e and partner j is compared with the trace of e+d and j+f,
// for neighbours e+d and small f, by the normalised correlation at equal times. The usual
// correlation for d and f is the median at the elements nearby. It may be negative, because waves
// along the array shift from element to element. The fit of an element in a place is the
// regression of its correlations there on the usual ones: about 1 in the right place.
type order struct {
	a      *assessment
	side   int
	signal [][]float64 // of each pair, of norm 1 without the noise; nil where noise hides it
	known  map[[2]int]float64
	nearby map[shift]float64
	place  []int // the element that is taken for the one of each place
}

// shift is a displacement of an element and its partner, by number.
type shift struct{ element, by, partnerBy int }

// exchange is a pair of elements that may be in each other's place.
type exchange struct {
	elements [2]int
	gain     float64 // of the fit, were they exchanged
	fit      float64 // that they would have
}

const (
	orderPartners = 16   // of each element that are enough
	orderSuspects = 12   // elements of the worst fit that are tried in each other's place
	leastGain     = 0.05 // of an exchange that is looked at
	placeFit      = 0.35 // fit that an element must have in its right place
	strangeFit    = -0.2 // fit below which an element may not be out of place, but unlike all
	surelyFit     = 0.6  // fit that it must have in its right place then
)

// measureOrder measures how well each element fits in its place, and finds exchanged ones.
func (a *assessment) measureOrder() {
	for s := range a.ends.count() {
		o := &order{a: a, side: s, known: make(map[[2]int]float64), nearby: make(map[shift]float64)}
		for e := range a.near {
			o.place = append(o.place, e)
		}
		o.normalise()
		for e := range a.report.Elements {
			margin := Number(-o.bestGain(e))
			q := &a.report.Elements[e]
			if s == 0 {
				q.Transmit.Order = margin
			}
			if s == 1 || !a.ends.separate {
				q.Receive.Order = margin
			}
		}
		a.exchanged[s] = o.search()
	}
	if !a.ends.separate {
		a.exchanged[1] = a.exchanged[0]
	}
}

// normalise prepares the signals from the end of the initial pulse, or the begin of the echo
// gate, to the end of the echo gate.
func (o *order) normalise() {
	a := o.a
	w := a.afterPulse()
	w = window{min(w.first, a.echo.first), max(w.first, a.echo.end)}
	o.signal = make([][]float64, len(a.capture.Pairs))
	for p := range o.signal {
		x := make([]float64, w.length())
		for k, v := range a.capture.Trace(p)[w.first:w.end] {
			x[k] = float64(v) - float64(a.report.Pairs[p].Offset)
		}
		noise := float64(len(x)) * a.variance[p]
		energy := -noise
		for _, v := range x {
			energy += v * v
		}
		pair := a.capture.Pairs[p]
		if o.odd(pair.Tx) || o.odd(pair.Rx) || !(energy > 0) || energy < 6*math.Sqrt(2/float64(len(x)))*noise {
			continue
		}
		norm := 1 / math.Sqrt(energy)
		for k := range x {
			x[k] *= norm
		}
		o.signal[p] = x
	}
}

// odd reports whether an element has a fault that makes it unlike the others in any place.
func (o *order) odd(e int) bool {
	q := o.a.report.Elements[e]
	const surely = -0.85 // an exchanged element may look reversed, but not so much
	return min(q.Transmit.Level, q.Receive.Level, q.Coupling) < farBelow || min(q.Transmit.Polarity, q.Receive.Polarity) < surely
}

// bestGain returns the gain of exchanging element e with the nearer of its neighbours that gains
// more, NaN where it is not known.
func (o *order) bestGain(e int) float64 {
	most := math.NaN()
	for _, other := range o.a.near[e][:min(2, len(o.a.near[e]))] {
		if x := o.exchange(e, other); !(x.gain <= most) {
			most = x.gain
		}
	}
	return most
}

// search returns the exchanges of elements that improve the fit of both, the largest gain first.
// Each is made before the next is looked for, because an element in a wrong place is also unlike
// the neighbours of that place.
func (o *order) search() []exchange {
	var made []exchange
	for e := range o.place {
		if o.odd(e) {
			return nil // its neighbours are then unlike those nearby for that reason
		}
	}
	for range len(o.place) / 4 {
		best := exchange{gain: leastGain}
		suspects := o.suspects()
		for i, x := range suspects {
			for _, y := range suspects[i+1:] {
				if e := o.exchange(min(x, y), max(x, y)); e.gain > best.gain && e.fit >= placeFit {
					best = e
				}
			}
		}
		x, y := best.elements[0], best.elements[1]
		if x == y || o.place[x] != x || o.place[y] != y {
			break
		}
		made = append(made, best)
		o.place[x], o.place[y] = y, x
		clear(o.known)
		clear(o.nearby)
	}
	return made
}

// suspects returns the elements that fit worst in their places, the worst first.
func (o *order) suspects() []int {
	var elements []int
	fit := make([]float64, len(o.place))
	for e := range fit {
		if now, _, weight := o.fit(e, e, e, e); weight > 0 {
			fit[e] = now / weight
			elements = append(elements, e)
		}
	}
	slices.SortStableFunc(elements, func(x, y int) int { return cmp.Compare(fit[x], fit[y]) })
	return elements[:min(orderSuspects, len(elements))]
}

// exchange returns what the exchange of two elements gains. It is no gain unless both fit better.
func (o *order) exchange(x, y int) exchange {
	e := exchange{elements: [2]int{x, y}, gain: math.NaN(), fit: math.NaN()}
	nowX, thenX, weightX := o.fit(x, y, x, y)
	nowY, thenY, weightY := o.fit(y, x, x, y)
	if weight := weightX + weightY; weightX > 0 && weightY > 0 {
		e.gain = (thenX + thenY - nowX - nowY) / weight
		e.fit = (thenX + thenY) / weight
		both := thenX-nowX > leastGain*weightX && thenY-nowY > leastGain*weightY
		if !both || nowX+nowY < strangeFit*weight && e.fit < surelyFit {
			e.gain = min(e.gain, 0)
		}
	}
	return e
}

// fit returns the fit of the element that stands in a place, and of another one in that place,
// both multiplied by the weight. The elements x and y, which may be exchanged, take no part.
func (o *order) fit(place, other, x, y int) (now, then, weight float64) {
	a, n := o.a, len(o.a.near)
	for _, neighbour := range a.near[place][:min(4, len(a.near[place]))] {
		if neighbour == x || neighbour == y {
			continue
		}
		by := neighbour - place
		for _, partnerBy := range []int{0, by, -by} {
			usual := o.usual(shift{place, by, partnerBy}, x, y)
			if math.IsNaN(usual) {
				continue
			}
			for j := 0; j < n; j += 1 + n/(orderPartners+1) {
				k := j + partnerBy
				if j == x || j == y || k == x || k == y {
					continue
				}
				own, candidate := o.correlation(place, j, neighbour, k), o.correlation(other, j, neighbour, k)
				if !math.IsNaN(own) && !math.IsNaN(candidate) {
					now, then, weight = now+usual*own, then+usual*candidate, weight+usual*usual
				}
			}
		}
	}
	return now, then, weight
}

// usual returns how alike traces so displaced are at the five nearest elements, of which neither
// end is x or y.
func (o *order) usual(s shift, x, y int) float64 {
	var values []float64
	for _, e := range o.a.near[s.element] {
		to := e + s.by
		if e == x || e == y || to == x || to == y || to < 0 || to >= len(o.a.near) {
			continue
		}
		if v := o.likeness(shift{e, s.by, s.partnerBy}); !math.IsNaN(v) {
			values = append(values, v)
		}
		if len(values) == 5 {
			break
		}
	}
	if len(values) < 3 {
		return math.NaN()
	}
	return median(values)
}

// likeness returns the median correlation over the partners of an element.
func (o *order) likeness(s shift) float64 {
	if v, ok := o.nearby[s]; ok {
		return v
	}
	n := len(o.a.near)
	values := make([]float64, 0, n)
	for j := 0; j < n; j += 1 + n/(orderPartners+1) {
		values = append(values, o.correlation(s.element, j, s.element+s.by, j+s.partnerBy))
	}
	v := median(values)
	o.nearby[s] = v
	return v
}

// correlation returns the correlation of the trace of element e and partner j with the trace of
// f and k, NaN where a
// trace is missing, hidden by noise, or an element's own.
func (o *order) correlation(e, j, f, k int) float64 {
	if e == j || f == k || k < 0 || k >= len(o.a.near) {
		return math.NaN()
	}
	p, okP := o.a.pairOf(o.side, o.place[e], j)
	q, okQ := o.a.pairOf(o.side, o.place[f], k)
	if !okP || !okQ || p == q || o.signal[p] == nil || o.signal[q] == nil {
		return math.NaN()
	}
	key := [2]int{min(p, q), max(p, q)}
	v, ok := o.known[key]
	if !ok {
		v = max(-1, min(1, floats.Dot(o.signal[p], o.signal[q])))
		o.known[key] = v
	}
	return v
}
