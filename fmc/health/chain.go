// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// likeness is how the traces of one element compare with those of another, with the
// same partners.
type likeness struct {
	other int
	score float64 // mean of the extremes of the normalised cross-correlations, weighted by energy, -1 to 1
	lag   float64 // how much later the other is in s, what the places of both let expect taken away
	ruled bool    // whether that could be taken away
}

// better reports whether l is the better bridge from one element to the next.
func (l likeness) better(than likeness) bool {
	if l.ruled != than.ruled {
		return l.ruled
	}
	return math.Abs(l.score) > math.Abs(than.score)
}

// link is the comparison of two elements before that.
type link struct {
	from, to int
	score    float64
	lags     []lag
}

// lag is that of a single partner. With a wave that runs along the array, or an echo
// that takes longer to a more distant receiver, it depends on the distances of both
// elements from the partner; what it is as a rule at those is the median over all links
// between elements whose numbers differ by as much.
type lag struct {
	place   place
	seconds float64
}

type place struct{ step, near, far int }

// partners is how many partners are enough to compare two elements.
const partners = 24

// slowest is the least speed in m/s at which a wave may run along the array for its lags
// to be found, which are looked for up to 1.25 periods beyond that.
const slowest = 2000

// compare returns the link of elements e and o on side s, 0 to transmit and 1 to receive,
// and whether they have partners in common.
func (a *assessment) compare(s, e, o int, silent func(side, element int) bool) (link, bool) {
	at := a.capture.Array.Elements
	reach := a.samples(1.25/a.capture.Array.CentreFrequency+r3.Norm(r3.Sub(at[e], at[o]))/slowest) + 1
	var likes []alike
	var like, unlike, weights float64
	ends := a.ends.sides[s][e]
	for i := 0; i < len(ends); i += 1 + len(ends)/(partners+1) {
		p, j := ends[i].pair, ends[i].partner
		q, ok := a.pairOf(s, o, j)
		if !ok || silent(1-s, j) {
			continue
		}
		c := a.correlate(p, q, reach)
		c.place = place{o - e, a.class[p], a.class[q]}
		like += c.most * c.energy
		unlike += c.least * c.energy
		weights += c.energy
		likes = append(likes, c)
	}
	if !(weights > 0) {
		return link{}, false
	}
	l := link{from: e, to: o, score: like / weights}
	if -unlike > like {
		l.score = unlike / weights
	}
	for _, c := range likes {
		switch {
		case l.score > 0 && c.most > 0.5:
			l.lags = append(l.lags, lag{c.place, c.mostAt})
		case l.score < 0 && c.least < -0.5:
			l.lags = append(l.lags, lag{c.place, c.leastAt})
		}
	}
	return l, true
}

// pairOf returns the pair of element e on side s with partner j.
func (a *assessment) pairOf(s, e, j int) (int, bool) {
	pair := fmc.Pair{Tx: e, Rx: j}
	if s == 1 {
		pair = pair.Reciprocal()
	}
	p, ok := a.ends.at[pair]
	if !ok && !a.ends.separate {
		p, ok = a.ends.at[pair.Reciprocal()]
	}
	return p, ok
}

// alike is how two traces compare: the extremes of their normalised cross-correlation,
// the lags there in s, and the geometric mean of their energies.
type alike struct {
	most, mostAt   float64
	least, leastAt float64
	energy         float64
	place          place
}

// correlate compares the first trace in the echo gate with the second up to so many
// samples before and after, and finds the lags to parts of a sample.
func (a *assessment) correlate(p, q, reach int) alike {
	c := a.capture
	w := window{max(0, a.echo.first-reach), min(c.Samples, a.echo.end+reach)}
	x, y := a.signal(p, w), a.signal(q, w)
	xx, yy := cumulated(x), cumulated(y)
	correlation := make([]float64, 2*reach+1)
	most, least := reach, reach
	var r alike
	for l := range correlation {
		shift := l - reach
		from, to := max(a.echo.first-w.first, -shift), min(a.echo.end-w.first, len(y)-shift)
		if from >= to {
			continue
		}
		sum := 0.0
		shifted := y[from+shift : to+shift]
		for k, v := range x[from:to] {
			sum += v * shifted[k]
		}
		norm := math.Sqrt(xx[to]-xx[from]) * math.Sqrt(yy[to+shift]-yy[from+shift])
		if shift == 0 {
			r.energy = norm
		}
		if norm > 0 {
			correlation[l] = max(-1, min(1, sum/norm))
		}
		if correlation[l] > correlation[most] {
			most = l
		}
		if correlation[l] < correlation[least] {
			least = l
		}
	}
	r.most, r.mostAt = correlation[most], (float64(most-reach)+vertex(correlation, most))/c.SampleRate
	r.least, r.leastAt = correlation[least], (float64(least-reach)+vertex(correlation, least))/c.SampleRate
	return r
}

// signal returns the samples of a window without their offset.
func (a *assessment) signal(p int, w window) []float64 {
	x := make([]float64, w.length())
	offset := float64(a.report.Pairs[p].Offset)
	for k, v := range a.capture.Trace(p)[w.first:w.end] {
		x[k] = float64(v) - offset
	}
	return x
}

// cumulated returns the sums of the squares of the first k samples, for k from 0 to all.
func cumulated(x []float64) []float64 {
	sums := make([]float64, len(x)+1)
	for k, v := range x {
		sums[k+1] = sums[k] + v*v
	}
	return sums
}

// vertex returns the place of the vertex of the parabola through v[i] and its two
// neighbours, from -0.5 to 0.5 about i.
func vertex(v []float64, i int) float64 {
	if i == 0 || i == len(v)-1 {
		return 0
	}
	curvature := v[i-1] - 2*v[i] + v[i+1]
	if curvature == 0 {
		return 0
	}
	return max(-0.5, min(0.5, (v[i-1]-v[i+1])/(2*curvature)))
}

// chain compares the elements on side s with their neighbours and joins the
// comparisons, the most alike first, to polarities (positive for the majority, in a tie
// for the lowest element) and time zeros in s. Both are NaN for silent elements and
// those without pairs.
func (a *assessment) chain(s int, silent func(side, element int) bool) (polarity, zero []float64) {
	polarity, zero = make([]float64, len(a.near)), make([]float64, len(a.near))
	links := a.links(s, silent)
	a.join(s, likenesses(links, len(zero)), silent, polarity, zero)
	return polarity, zero
}

// join follows the best likenesses from element to element.
func (a *assessment) join(s int, links [][]likeness, silent func(side, element int) bool, polarity, zero []float64) {
	n := len(a.near)
	for e := range polarity {
		polarity[e], zero[e] = math.NaN(), math.NaN()
	}
	for root := range n {
		if !math.IsNaN(zero[root]) || silent(s, root) || len(a.ends.sides[s][root]) == 0 {
			continue
		}
		tree := []int{root}
		polarity[root], zero[root] = 1, 0
		for {
			from, best := -1, likeness{}
			for _, e := range tree {
				for _, l := range links[e] {
					if math.IsNaN(zero[l.other]) && (from < 0 || l.better(best)) {
						from, best = e, l
					}
				}
			}
			if from < 0 {
				break
			}
			polarity[best.other] = math.Copysign(best.score, best.score*polarity[from])
			zero[best.other] = zero[from] + best.lag
			tree = append(tree, best.other)
		}
		if len(tree) > 1 {
			// The root's own likeness is that of its best neighbour.
			polarity[root] = math.Abs(polarity[tree[1]])
		}
		turn(tree, polarity)
	}
}

// turn makes the polarity of the majority positive.
func turn(tree []int, polarity []float64) {
	positive := 0
	for _, e := range tree {
		if polarity[e] > 0 {
			positive++
		}
	}
	if negative := len(tree) - positive; positive > negative || positive == negative && polarity[tree[0]] > 0 {
		return
	}
	for _, e := range tree {
		polarity[e] = -polarity[e]
	}
}

// links compares each element that is not silent with its four nearest such neighbours.
func (a *assessment) links(s int, silent func(side, element int) bool) []link {
	var links []link
	known := make(map[[2]int]bool)
	for e, near := range a.near {
		if silent(s, e) {
			continue
		}
		count := 0
		for _, o := range near {
			if silent(s, o) {
				continue
			}
			if count++; count > 4 {
				break
			}
			from, to := min(e, o), max(e, o)
			if known[[2]int{from, to}] {
				continue
			}
			known[[2]int{from, to}] = true
			if l, ok := a.compare(s, from, to, silent); ok {
				links = append(links, l)
			}
		}
	}
	return links
}

// likenesses lists those of each of n elements.
func likenesses(links []link, n int) [][]likeness {
	rule := rules(links)
	list := make([][]likeness, n)
	for _, l := range links {
		seconds, ruled := l.seconds(rule)
		list[l.from] = append(list[l.from], likeness{l.to, l.score, seconds, ruled})
		list[l.to] = append(list[l.to], likeness{l.from, l.score, -seconds, ruled})
	}
	return list
}

// rules returns the median lag of each place. It wants six links with a lag there, in
// small arrays half the elements but at least four: a rule that rests on few links
// would take the faults of their elements for its own.
func rules(links []link) map[place]float64 {
	lags, linked := make(map[place][]float64), make(map[int]bool)
	for _, l := range links {
		linked[l.from], linked[l.to] = true, true
		for _, g := range l.lags {
			lags[g.place] = append(lags[g.place], g.seconds)
		}
	}
	rule := make(map[place]float64)
	for at, v := range lags {
		if len(v) >= max(4, min(6, len(linked)/2)) {
			rule[at] = median(v)
		}
	}
	return rule
}

// seconds returns the median of the link's lags less the rule for their places, or, as
// the second value tells, of the lags as they are where there are too few rules: then
// partners on both sides balance.
func (l *link) seconds(rule map[place]float64) (seconds float64, ruled bool) {
	var off, raw []float64
	for _, g := range l.lags {
		raw = append(raw, g.seconds)
		if usual, ok := rule[g.place]; ok {
			off = append(off, g.seconds-usual)
		}
	}
	switch {
	case len(off) >= 3: // of which one may be wrong
		return median(off), true
	case len(raw) > 0:
		return median(raw), false
	}
	return 0, false
}
