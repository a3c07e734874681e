// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"github.com/isochron-imaging/isochron/internal/number"
)

// ordering compares the traces of each element with the traces of its neighbours, to find elements
// whose channels are exchanged.
//
// On one side, the trace of element e and partner j is compared with the trace of e+d and j+f,
// for neighbours e+d and small f, by the normalised correlation at equal times. The usual
// correlation for d and f is the median at the elements nearby. It may be negative, because waves
// along the array shift from element to element. The fit of an element in a place is the
// regression of its correlations there on the usual ones: about 1 in the right place.
type ordering struct {
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
	total    float64 // gain of the fit of both, were they exchanged
	gain     float64 // the same where each of them gains, else at most 0
	fit      float64 // that they would have
}

const (
	orderPartners = 16   // of each element that are enough
	orderSuspects = 12   // elements of the worst fit that are tried in each other's place
	leastGain     = 0.05 // of an exchange that is looked at
	provedGain    = 0.12 // of an exchange that is proved, and loss that proves an element in its place
	provedFit     = 0.55 // that both elements of a proved exchange would have
	doubtfulFit   = 0.35 // that makes an exchange without proof likely enough to doubt its neighbours
	provedMargin  = 1.5  // gain of a proved exchange over any other gain of its elements
	restored      = 0.02 // likeness of reciprocal traces that the exchange of one end restores
	strangeFit    = -0.2 // fit below which an element may not be out of place, but unlike all
	surelyFit     = 0.6  // fit that it must have in its right place then
)

// measureOrder measures how well each element fits in its place, and finds exchanged elements. An
// exchange on both sides is proved if its gain and fit are large there. An exchange on one side
// must also make reciprocal traces alike. The order of elements that gain without a proof, or would
// lose little in the place of a neighbour, is not known.
func (a *assessment) measureOrder() {
	var found [2][]exchange
	var unproved [2][]exchange
	var orders [2]*ordering
	for s := range a.ends.count() {
		orders[s] = a.newOrder(s)
		for e := range a.near {
			if orders[s].odd(e) {
				return // its neighbours are then unlike those nearby for that reason
			}
		}
		found[s], unproved[s] = orders[s].search()
	}
	if !a.ends.separate {
		found[1], unproved[1], orders[1] = found[0], unproved[0], orders[0]
	}
	for s := range found {
		for _, x := range found[s] {
			same := func(y exchange) bool { return y.elements == x.elements }
			both := slices.ContainsFunc(found[1-s], same)
			if alone := a.restores(s, x.elements); both && !alone || !both && alone {
				a.exchanged[s] = append(a.exchanged[s], x)
			} else {
				unproved[s] = append(unproved[s], x)
			}
		}
	}
	a.doubtSigns(slices.Concat(unproved[0], unproved[1]))
	for s := range found {
		for e := range a.near {
			margin := Number(orders[s].margin(e, a.exchanged[s], slices.Concat(unproved[0], unproved[1])))
			if s == 0 {
				a.report.Elements[e].Transmit.Order = margin
			} else {
				a.report.Elements[e].Receive.Order = margin
			}
		}
	}
}

// doubtSigns sets the polarity and the time zero of elements that are close to an exchange without
// proof to not known, because both numbers come from comparisons with neighbours.
func (a *assessment) doubtSigns(unproved []exchange) {
	for _, x := range unproved {
		if x.fit < doubtfulFit {
			continue // late elements may gain so little
		}
		for e := range a.near {
			near := func(o int) bool { return e == o || a.close(o, e) }
			if !near(x.elements[0]) && !near(x.elements[1]) {
				continue
			}
			for _, q := range []*Channel{&a.report.Elements[e].Transmit, &a.report.Elements[e].Receive} {
				q.Polarity, q.Drift, q.DriftError = unknown, unknown, unknown
			}
		}
	}
}

func (a *assessment) newOrder(side int) *ordering {
	o := &ordering{a: a, side: side, known: make(map[[2]int]float64), nearby: make(map[shift]float64)}
	for e := range a.near {
		o.place = append(o.place, e)
	}
	o.normalise()
	return o
}

// margin returns by how much element e fits better in its place than in the place of a neighbour.
// It is below 0 in a proved exchange, and NaN where the place is not known.
func (o *ordering) margin(e int, proved, unproved []exchange) float64 {
	in := func(x exchange) bool { return x.elements[0] == e || x.elements[1] == e }
	if i := slices.IndexFunc(proved, in); i >= 0 {
		return -proved[i].gain
	}
	if v := -o.bestGain(e); v >= provedGain && !slices.ContainsFunc(unproved, in) {
		return v
	}
	return math.NaN()
}

// restores reports whether the exchange of two elements on one side alone makes their traces like
// the reciprocal traces, which they are not without it.
func (a *assessment) restores(side int, elements [2]int) bool {
	if !a.ends.separate {
		return false
	}
	x, y := elements[0], elements[1]
	now := max(a.reciprocalLikeness(side, x, x), a.reciprocalLikeness(side, y, y))
	then := min(a.reciprocalLikeness(side, x, y), a.reciprocalLikeness(side, y, x))
	return then > now+restored
}

// reciprocalLikeness correlates the traces of element e on one side with the traces of element o on
// the other side, at equal times. It returns the median over the partners that both have.
func (a *assessment) reciprocalLikeness(side, e, o int) float64 {
	var likes []float64
	for _, end := range a.ends.sides[side][e] {
		q, ok := a.pairOf(1-side, o, end.partner)
		if !ok || q == end.pair || end.partner == e || end.partner == o {
			continue
		}
		x, y := a.inBand.of(end.pair, a.echo), a.inBand.of(q, a.echo)
		if norm := math.Sqrt(sumOfSquares(x, 0) * sumOfSquares(y, 0)); norm > 0 {
			likes = append(likes, float64(products(x, y, 0, 1)[0])/norm)
		}
	}
	return number.Median(likes)
}

// normalise prepares the signals from the end of the initial pulse, or the begin of the echo
// gate, to the end of the echo gate.
func (o *ordering) normalise() {
	a := o.a
	w := a.afterPulse()
	w = window{min(w.first, a.echo.first), max(w.first, a.echo.end)}
	o.signal = make([][]float64, len(a.capture.Pairs))
	for p := range o.signal {
		x := make([]float64, w.length())
		for k, v := range a.capture.Trace(p)[w.first:w.end] {
			x[k] = float64(v) - float64(a.report.Traces[p].Offset)
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
func (o *ordering) odd(e int) bool {
	q := o.a.report.Elements[e]
	const surely = -0.85 // an exchanged element may look reversed, but not so much
	return min(q.Transmit.Level, q.Receive.Level, q.Coupling) < farBelow || min(q.Transmit.Polarity, q.Receive.Polarity) < surely
}

// bestGain returns the gain of exchanging element e with the nearer of its neighbours that gains
// more, NaN where it is not known.
func (o *ordering) bestGain(e int) float64 {
	most := math.NaN()
	for _, other := range o.a.near[e][:min(2, len(o.a.near[e]))] {
		if x := o.exchange(e, other); !(x.gain <= most) {
			most = x.gain
		}
	}
	return most
}

// search returns the exchanges of elements that stand out in the record, and those that gain
// without such a proof. An exchange that gains only after another one is undone is not proved:
// where many orders fit, some gain by chance.
func (o *ordering) search() (made, unproved []exchange) {
	for _, e := range o.candidates() {
		if o.proved(e) {
			made = append(made, e)
		} else {
			unproved = append(unproved, e)
		}
	}
	if len(made) == 0 {
		return nil, unproved
	}
	for _, e := range made {
		x, y := e.elements[0], e.elements[1]
		o.place[x], o.place[y] = y, x
	}
	clear(o.known)
	clear(o.nearby)
	return made, o.candidates()
}

// candidates returns the exchanges of the suspects that gain, the largest gain first.
func (o *ordering) candidates() []exchange {
	var all []exchange
	suspects := o.suspects()
	for i, x := range suspects {
		for _, y := range suspects[i+1:] {
			if e := o.exchange(min(x, y), max(x, y)); e.gain > leastGain {
				all = append(all, e)
			}
		}
	}
	slices.SortStableFunc(all, func(x, y exchange) int { return cmp.Compare(y.gain, x.gain) })
	return all
}

// proved reports whether an exchange stands out from every other exchange of elements that are
// close, and from every likely one farther off. In the order 3, 1, 2, 0, for example, 0 and 3 are
// exchanged, or 1 and 2 in an array that is mirrored there.
func (o *ordering) proved(e exchange) bool {
	if !(e.gain > provedGain && e.fit >= provedFit) {
		return false
	}
	nearby := o.around(e, 2*closest)
	near := o.around(e, closest)
	for i, x := range nearby {
		for _, y := range nearby[i+1:] {
			other := o.exchange(x, y)
			likely := other.fit >= provedFit || slices.Contains(near, x) && slices.Contains(near, y)
			if other.elements != e.elements && likely && e.gain < provedMargin*other.total {
				return false
			}
		}
	}
	return true
}

// around returns the elements of an exchange and so many of the nearest elements of each.
func (o *ordering) around(e exchange, count int) []int {
	var elements []int
	for _, x := range e.elements {
		elements = append(append(elements, x), o.a.near[x][:min(count, len(o.a.near[x]))]...)
	}
	slices.Sort(elements)
	return slices.Compact(elements)
}

// suspects returns the elements that fit worst in their places, the worst first.
func (o *ordering) suspects() []int {
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

// exchange returns the gain of the exchange of two elements. There is a gain only if both elements
// fit better.
func (o *ordering) exchange(x, y int) exchange {
	e := exchange{elements: [2]int{x, y}, total: math.NaN(), gain: math.NaN(), fit: math.NaN()}
	nowX, thenX, weightX := o.fit(x, y, x, y)
	nowY, thenY, weightY := o.fit(y, x, x, y)
	if weight := weightX + weightY; weightX > 0 && weightY > 0 {
		e.total = (thenX + thenY - nowX - nowY) / weight
		e.gain = e.total
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
func (o *ordering) fit(place, other, x, y int) (now, then, weight float64) {
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

// usual returns the usual correlation of traces with this displacement: the median at the five
// nearest elements. Traces with an end x or y are left out.
func (o *ordering) usual(s shift, x, y int) float64 {
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
	return number.Median(values)
}

// likeness returns the median correlation over the partners of an element.
func (o *ordering) likeness(s shift) float64 {
	if v, ok := o.nearby[s]; ok {
		return v
	}
	n := len(o.a.near)
	values := make([]float64, 0, n)
	for j := 0; j < n; j += 1 + n/(orderPartners+1) {
		values = append(values, o.correlation(s.element, j, s.element+s.by, j+s.partnerBy))
	}
	v := number.Median(values)
	o.nearby[s] = v
	return v
}

// correlation returns the correlation of the trace of element e and partner j with the trace of
// f and k, NaN where a
// trace is missing, hidden by noise, or an element's own.
func (o *ordering) correlation(e, j, f, k int) float64 {
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
