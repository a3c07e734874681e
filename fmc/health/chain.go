// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/internal/vector"
)

// link is the comparison of the traces of two elements with the same partners.
type link struct {
	from, to int
	score    float64 // mean of the extremes of the normalised cross-correlations, weighted by energy, -1 to 1
	evidence float64 // for the sign of score, in standard errors over the partners
	seconds  float64 // how much later the second element is, less the lag expected from the places
	timed    bool    // whether seconds is known
	doubt    float64 // standard error of seconds, by the scatter over the partners
	lags     []lag
}

// place is the position of two elements relative to a partner. With a wave that runs along the
// array, or an echo that takes longer to a more distant receiver, the lag of two traces depends on
// the distances of both elements from the partner. The usual lag at these distances is the median
// over all links between elements whose numbers differ by the same amount.
type place struct{ step, near, far int }

// lag is the lag of two traces with the same partner.
type lag struct {
	place   place
	seconds float64
}

// partners is the number of partners that are enough to compare two elements.
const partners = 24

// The limits beyond which a number counts as known.
const (
	sureSign   = 3    // standard errors of the polarity of an element
	leastError = 0.03 // of the sum of both extremes of a correlation
	agreement  = 0.15 // periods, within which lags agree
)

// slowest is the least speed in m/s of a wave along the array whose lags are found. Lags are
// searched up to 1.25 periods beyond the lag at this speed.
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
	l.evidence = evidence(likes)
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

// alike is the comparison of two traces: the extremes of their normalised cross-correlation, the
// lags of the extremes in s, and the geometric mean of their energies.
type alike struct {
	most, mostAt   float64
	least, leastAt float64
	energy         float64
	place          place
}

// correlate compares the first trace in the echo gate with the second trace, shifted by up to the
// given number of samples either way. It finds the lags to fractions of a sample.
func (a *assessment) correlate(p, q, reach int) alike {
	c := a.capture
	w := window{max(a.inBand.first, a.echo.first-reach), min(a.inBand.end, a.echo.end+reach)}
	x, y := a.inBand.of(p, w), a.inBand.of(q, w)
	xx, yy := cumulated(x), cumulated(y)
	lead := a.echo.first - w.first // samples of w before the echo gate
	products := products(x[lead:lead+a.echo.length()], y, lead-reach, 2*reach+1)
	correlation := make([]float64, 2*reach+1)
	most, least := reach, reach
	var r alike
	for l := range correlation {
		shift := l - reach
		from, to := max(lead, -shift), min(lead+a.echo.length(), len(y)-shift)
		if from >= to {
			continue
		}
		norm := math.Sqrt(xx[to]-xx[from]) * math.Sqrt(yy[to+shift]-yy[from+shift])
		if shift == 0 {
			r.energy = norm
		}
		if norm > 0 {
			correlation[l] = max(-1, min(1, float64(products[l])/norm))
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

// products returns the scalar products of x with the parts of y that begin at sample first,
// first+1 and so on. Samples of y before its begin and after its end count as 0.
func products(x, y []float32, first, count int) []float32 {
	const block = 128 // outputs, for which the convolution is fastest
	outputs := (count + block - 1) / block * block
	padded := make([]float32, outputs+len(x)-1)
	if from := max(first, 0); from < len(y) {
		copy(padded[from-first:], y[from:])
	}
	out := make([]float32, outputs)
	vector.Convolve(out, padded, x)
	return out[:count]
}

// cumulated returns the sums of the squares of the first k samples, for k from 0 to all.
func cumulated(x []float32) []float64 {
	sums := make([]float64, len(x)+1)
	for k, v := range x {
		sums[k+1] = sums[k] + float64(v)*float64(v)
	}
	return sums
}

// vertex returns the place of the vertex of the parabola through v[i] and its two
// neighbours, from -0.5 to 0.5 about i.
func vertex(v []float64, i int) float64 {
	if i == 0 || i == len(v)-1 {
		return 0
	}
	at, _ := number.Vertex(v[i-1], v[i], v[i+1])
	return max(-0.5, min(0.5, at))
}

// evidence returns by how many standard errors the positive extremes of the correlations differ
// from the negative ones. The errors are standard errors over the partners, weighted by energy,
// and at least leastError.
func evidence(likes []alike) float64 {
	var sum, weights float64
	for _, c := range likes {
		sum += c.energy * (c.most + c.least)
		weights += c.energy
	}
	mean := sum / weights
	squares := 0.0
	for _, c := range likes {
		d := c.most + c.least - mean
		squares += c.energy * c.energy * (d*d + leastError*leastError)
	}
	return math.Abs(sum) / math.Sqrt(squares)
}

// chained holds the results for each element from the comparisons of neighbours on one side.
type chained struct {
	polarity []float64 // positive for the majority, in a tie for the lowest element; NaN for not known
	zero     []float64 // time zero in s, within a piece of the array; NaN for not known
	doubt    []float64 // standard error of zero in s, the median over the links of the element
	piece    []int     // number of the piece; -1 for none
}

// chain compares the elements on side s with their neighbours and joins the comparisons.
func (a *assessment) chain(s int, silent func(side, element int) bool) chained {
	links := a.links(s, silent)
	a.time(links)
	of := make([][]link, len(a.near))
	for _, l := range links {
		of[l.from] = append(of[l.from], l)
		l.from, l.to, l.seconds = l.to, l.from, -l.seconds
		of[l.from] = append(of[l.from], l)
	}
	c := chained{polarity: a.signs(s, of, silent)}
	c.zero, c.piece = a.zeros(s, of, silent)
	for _, links := range of {
		var doubts []float64
		for _, l := range links {
			if l.timed {
				doubts = append(doubts, l.doubt)
			}
		}
		c.doubt = append(c.doubt, number.Median(doubts))
	}
	return c
}

// signs follows the most certain links from element to element, to a tree, and keeps the largest
// piece of which all parts are surely tied to each other.
func (a *assessment) signs(s int, links [][]link, silent func(side, element int) bool) []float64 {
	n := len(links)
	polarity, piece := make([]float64, n), make([]int, n)
	for e := range polarity {
		polarity[e], piece[e] = math.NaN(), -1
	}
	members := make(map[int][]int) // of each piece
	largest := -1
	for root := range n {
		if !math.IsNaN(polarity[root]) || silent(s, root) || len(a.ends.sides[s][root]) == 0 {
			continue
		}
		tree, parent := grow(root, links, polarity)
		for i, e := range tree {
			piece[e] = e
			if i > 0 && cutEvidence(tree[i:], e, parent, links, polarity) >= sureSign {
				piece[e] = piece[parent[e]]
			}
			members[piece[e]] = append(members[piece[e]], e)
			if largest < 0 || len(members[piece[e]]) > len(members[largest]) {
				largest = piece[e]
			}
		}
	}
	if largest < 0 {
		return polarity // every element is silent on this side, or is in no pair
	}
	turn(members[largest], polarity)
	for e := range polarity {
		if piece[e] != largest {
			polarity[e] = math.NaN()
		}
	}
	known := slices.Clone(polarity)
	for _, e := range members[largest] {
		if len(members[largest]) > 1 && joint(e, links[e], known) < sureSign {
			polarity[e] = math.NaN()
		}
	}
	return polarity
}

// grow joins elements to a tree from the root on by the most certain links, and sets their
// polarities. It returns the elements in the order in which they joined, and the parent of each.
func grow(root int, links [][]link, polarity []float64) (tree []int, parent map[int]int) {
	tree, parent = []int{root}, make(map[int]int)
	polarity[root] = 1
	for {
		var best link
		for _, e := range tree {
			for _, l := range links[e] {
				if math.IsNaN(polarity[l.to]) && l.evidence > best.evidence {
					best = l
				}
			}
		}
		if best.from == best.to {
			return tree, parent
		}
		if len(tree) == 1 {
			polarity[root] = math.Abs(best.score) // the likeness of its best neighbour
		}
		polarity[best.to] = math.Copysign(best.score, best.score*polarity[best.from])
		parent[best.to] = best.from
		tree = append(tree, best.to)
	}
}

// cutEvidence returns the evidence, in standard errors, of all links that connect element e and
// its branch to the rest of the tree. If the only link were uncertain, an error in it would turn
// all elements of the branch.
func cutEvidence(later []int, e int, parent map[int]int, links [][]link, polarity []float64) float64 {
	hangs := map[int]bool{e: true}
	for _, o := range later[1:] {
		hangs[o] = hangs[parent[o]]
	}
	sum, count := 0.0, 0.0
	for o, on := range hangs {
		if !on {
			continue
		}
		for _, l := range links[o] {
			if !hangs[l.to] && !math.IsNaN(polarity[l.to]) {
				sum += math.Copysign(l.evidence, l.score*polarity[o]*polarity[l.to])
				count++
			}
		}
	}
	return sum / math.Sqrt(count)
}

// joint returns the evidence of all links of element e for its polarity, in standard errors.
func joint(e int, links []link, polarity []float64) float64 {
	sum, count := 0.0, 0.0
	for _, l := range links {
		if math.IsNaN(polarity[l.to]) {
			continue
		}
		sum += math.Copysign(l.evidence, l.score*polarity[e]*polarity[l.to])
		count++
	}
	return sum / math.Sqrt(count)
}

// zeros joins the elements to pieces. An element is added to a piece if two links
// with it agree on its time zero.
func (a *assessment) zeros(s int, links [][]link, silent func(side, element int) bool) (zero []float64, piece []int) {
	n := len(links)
	zero, piece = make([]float64, n), make([]int, n)
	for e := range zero {
		zero[e], piece[e] = math.NaN(), -1
	}
	tolerance := agreement / a.capture.Array.CentreFrequency
	for root := range n {
		if piece[root] >= 0 || silent(s, root) || len(a.ends.sides[s][root]) == 0 {
			continue
		}
		// The second element has one link with the piece.
		piece[root], zero[root] = root, 0
		if first, ok := firstOf(links[root], piece); ok {
			piece[first.to], zero[first.to] = root, first.seconds
		}
		for grown := true; grown; {
			grown = false
			for e := range n {
				if piece[e] >= 0 {
					continue
				}
				var votes []float64
				for _, l := range links[e] {
					if l.timed && piece[l.to] == root {
						votes = append(votes, zero[l.to]-l.seconds)
					}
				}
				if v, ok := majority(votes, tolerance); ok {
					zero[e], piece[e], grown = v, root, true
				}
			}
		}
	}
	return zero, piece
}

// firstOf returns the nearest of the links that are timed and lead out of every piece.
func firstOf(links []link, piece []int) (link, bool) {
	var best link
	for _, l := range links {
		step := func(l link) int { return max(l.to-l.from, l.from-l.to) }
		if l.timed && piece[l.to] < 0 && (best.from == best.to || step(l) < step(best)) {
			best = l
		}
	}
	return best, best.from != best.to
}

// majority returns the median of the votes. It also reports whether at least two votes, and at
// least two thirds of all votes, lie within the tolerance of the median.
func majority(votes []float64, tolerance float64) (float64, bool) {
	middle := number.Median(votes)
	near := 0
	for _, v := range votes {
		if math.Abs(v-middle) <= tolerance {
			near++
		}
	}
	return middle, near >= 2 && 3*near >= 2*len(votes)
}

// turn makes the polarity of the majority positive.
func turn(tree []int, polarity []float64) {
	positive, negative := 0, 0
	for _, e := range tree {
		if polarity[e] > 0 {
			positive++
		} else if polarity[e] < 0 {
			negative++
		}
	}
	if positive > negative || positive == negative && !(polarity[tree[0]] < 0) {
		return
	}
	for _, e := range tree {
		polarity[e] = -polarity[e]
	}
}

// links compares each element that is not silent with its four nearest neighbours that are not
// silent, if they are close: over a longer distance, two links may agree on an error. If a silent
// element lies between them, the usual lag at this distance is not known. So the same number of
// elements at this distance elsewhere in the array are compared too.
func (a *assessment) links(s int, silent func(side, element int) bool) []link {
	var links []link
	known, steps := make(map[[2]int]bool), make(map[int]int)
	add := func(e, o int) {
		from, to := min(e, o), max(e, o)
		if known[[2]int{from, to}] || !a.close(from, to) || !a.close(to, from) {
			return
		}
		known[[2]int{from, to}] = true
		if l, ok := a.compare(s, from, to, silent); ok {
			links = append(links, l)
			steps[to-from]++
		}
	}
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
			add(e, o)
		}
	}
	for step := range len(a.near) {
		if count := steps[step]; count == 0 || count >= len(a.near)/2 {
			continue
		}
		for e := range len(a.near) - step {
			if o := e + step; !silent(s, e) && !silent(s, o) && slices.Contains(a.near[e], o) {
				add(e, o)
			}
		}
	}
	return links
}

// time finds the lags of each link less the usual lags for their places. If a third of the links
// have no usual lag, as in small arrays, nothing is subtracted.
func (a *assessment) time(links []link) {
	rule := rules(links)
	count := 0
	for i := range links {
		if l := &links[i]; len(l.off(rule)) >= leastLags {
			count++
		}
	}
	if 3*count < 2*len(links) {
		rule = nil
	}
	tolerance := agreement / a.capture.Array.CentreFrequency
	for i := range links {
		l := &links[i]
		off := l.off(rule)
		if len(off) < leastLags {
			continue
		}
		l.seconds = number.Median(off)
		near := 0
		var scatter []float64
		for _, v := range off {
			scatter = append(scatter, math.Abs(v-l.seconds))
			if math.Abs(v-l.seconds) <= tolerance {
				near++
			}
		}
		l.timed = 2*near >= len(off)
		// 1.4826·1.2533: of Gaussian values, the standard error of the median from the median
		// absolute deviation.
		l.doubt = 1.858 * number.Median(scatter) / math.Sqrt(float64(len(off)))
	}
}

// leastLags is the least number of lags of a link, of which one may be wrong.
const leastLags = 3

// closest is the number of nearest elements that count as close, including dead elements.
const closest = 6

// close reports whether element o is close to e.
func (a *assessment) close(e, o int) bool {
	return slices.Contains(a.near[e][:min(closest, len(a.near[e]))], o)
}

// off returns the lags less the usual lags for their places. Lags without a usual lag are left
// out. Without any rules it returns the lags themselves.
func (l *link) off(rule map[place]float64) []float64 {
	var off []float64
	for _, g := range l.lags {
		if usual, ok := rule[g.place]; ok || rule == nil {
			off = append(off, g.seconds-usual)
		}
	}
	return off
}

// rules returns the usual lag, the median lag, of each place. At least six links with a lag at the
// place are required; in small arrays half the elements, but at least four. With few links the
// median would contain the faults of their elements.
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
			rule[at] = number.Median(v)
		}
	}
	return rule
}
