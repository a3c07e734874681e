// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"sort"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/wedge"
)

// CompoundOptions are the options of compounding: of the sum of the images of plane waves,
// diverging or focused beams, with weights. See the section Compounding of the package
// documentation.
type CompoundOptions struct {
	// Taper is the share of the set of waves over which the weights fall to 0, 0 to 1. Half of this
	// share is at either end of the set. The window is Tukey's, over the slopes of the delays. A
	// taper lowers the side lobes of a set of few angles and widens the main lobe. The default, 0,
	// is no taper.
	Taper float64

	// LeastShare normalises the amplitude where waves are missing. The sum at a pixel is divided by
	// the share of the aperture that the waves replace ([Plan.Shares]). If the share is below
	// LeastShare, the sum is divided by LeastShare. The range is 0 to 1. A small value amplifies
	// the noise where few waves reach. The default, 0, does not normalise.
	LeastShare float64
}

// check returns an error for the first field out of range, and for a capture without events.
func (o *CompoundOptions) check(c *fmc.Capture) error {
	switch {
	case o == nil:
		return nil
	case c.Events == nil:
		return errors.New("tfm: compounding of a capture without events: want events, such as plane waves")
	case !(o.Taper >= 0 && o.Taper <= 1):
		return fmt.Errorf("tfm: taper %v: want 0 to 1", o.Taper)
	case !(o.LeastShare >= 0 && o.LeastShare <= 1):
		return fmt.Errorf("tfm: least share %v: want 0 to 1, 0 for no normalisation", o.LeastShare)
	}
	return nil
}

// compound holds the weights of the events at the pixels.
type compound struct {
	events, points int
	weights        []complex64 // of event e at pixel p: at e*points + p
	shares         []float32   // of the aperture, at each pixel
	dark           []bool      // whether some event has no wave at the pixel
}

// newCompound returns the weights of the events of c, and the table of the times of events, from
// the table of elements. Without compounding it returns the table as it is.
func newCompound(ctx context.Context, c *fmc.Capture, elements *wedge.Times, o *Options) (*compound, *wedge.Times, error) {
	if o.Compound == nil {
		return nil, elements, nil
	}
	if elements == nil {
		return nil, nil, errors.New("tfm: compounding without a transmitting table of elements")
	}
	if _, events := elements.MadeFor.Path.(eventPath); events {
		return nil, nil, errors.New("tfm: compounding with a transmitting table of events: want the table of the elements")
	}
	times, apertures, err := newEventTable(c, elements)
	if err != nil {
		return nil, nil, err
	}
	cells, firing, err := cellsOf(apertures, len(c.Array.Elements), o.Compound.Taper)
	if err != nil {
		return nil, nil, err
	}
	k := &compound{
		events:  len(c.Events),
		points:  elements.Points,
		weights: make([]complex64, len(c.Events)*elements.Points),
		shares:  make([]float32, elements.Points),
		dark:    make([]bool, elements.Points),
	}
	var waves []*compoundWave
	for e, a := range apertures {
		waves = append(waves, newCompoundWave(a, cells[e], firing, c.Array.SpectralDeviation()))
	}
	blocks := (k.points + pointBlock - 1) / pointBlock
	err = parallel.Do(ctx, blocks, parallel.Options{Workers: o.Workers}, func() func(int) error {
		phasors := make([]complex128, pointBlock*elements.Elements)
		arrivals := make([]float64, pointBlock*elements.Elements)
		return func(block int) error {
			first := block * pointBlock
			n := min(pointBlock, k.points-first)
			phase := 2 * math.Pi * c.Array.CentreFrequency
			setPhasors(phasors, elements, first, n, phase)
			for e, w := range waves {
				w.arrive(arrivals, first, n, elements)
				for p := range n {
					k.weigh(times, e, first+p, w, w.at(arrivals, p), phasors[p*elements.Elements:], phase)
				}
			}
			return nil
		}
	})
	if err != nil {
		return nil, nil, err
	}
	for _, t := range times.Seconds {
		if t != t {
			times.Missing++
		}
	}
	k.normalise(float32(o.Compound.LeastShare))
	return k, times, nil
}

// setPhasors sets phasors to exp(i·phase·t), where t is the time of element e to point first + p,
// at p·elements + e; 0 where the element has no ray.
func setPhasors(phasors []complex128, elements *wedge.Times, first, n int, phase float64) {
	for e := range elements.Elements {
		for p, t := range elements.Seconds[e*elements.Points+first:][:n] {
			v := 0i
			if t == t {
				v = cmplx.Rect(1, phase*float64(t))
			}
			phasors[p*elements.Elements+e] = v
		}
	}
}

// compoundWave is an aperture with the factors of its elements.
type compoundWave struct {
	*aperture
	delayed []complex128 // exp(i·phase·delay)
	cells   []float64
	roots   []float64 // of the cells over the number of elements that fire
	pulse   float64   // s; arrivals that differ by more do not overlap
}

func newCompoundWave(a *aperture, cells []float64, firing int, deviation float64) *compoundWave {
	frequency := 0.5 / a.together
	// The pulse is four standard deviations of its Gaussian envelope long.
	w := &compoundWave{aperture: a, cells: cells, pulse: 4 / (2 * math.Pi * deviation)}
	for i, cell := range cells {
		w.delayed = append(w.delayed, cmplx.Rect(1, 2*math.Pi*frequency*a.delays[i]))
		w.roots = append(w.roots, math.Sqrt(cell/float64(firing)))
	}
	return w
}

// weigh sets the time and the weight of event e at a point, and adds to the share of the point.
func (k *compound) weigh(times *wedge.Times, e, point int, w *compoundWave, arrivals []float64, phasors []complex128, phase float64) {
	t := w.time(arrivals)
	if math.IsNaN(t) {
		k.dark[point] = true
		t = w.edge(arrivals)
	}
	seconds := single(t)
	times.Seconds[e*k.points+point] = seconds
	if seconds != seconds {
		return
	}
	weight, share := w.sums(float64(seconds), arrivals, phasors[w.elements[0]:])
	k.weights[e*k.points+point] = complex64(weight * cmplx.Rect(1, -phase*float64(seconds)))
	k.shares[point] += float32(real(share)*real(share) + imag(share)*imag(share))
}

// sums returns the sums over the pulses that overlap at time t, of the cells and of their roots.
// Pulses count fully near t, and less and less towards the time at which they no longer overlap.
func (w *compoundWave) sums(t float64, arrivals []float64, phasors []complex128) (weight, share complex128) {
	for i, arrival := range arrivals {
		off := (arrival - t) / w.pulse
		overlap := 1 - off*off*off*off
		if !(overlap > 0) {
			continue
		}
		overlap *= overlap
		v := phasors[i] * w.delayed[i]
		weight += complex(real(v)*overlap*w.cells[i], imag(v)*overlap*w.cells[i])
		share += complex(real(v)*overlap*w.roots[i], imag(v)*overlap*w.roots[i])
	}
	return weight, share
}

// edge returns the time of the wave from the nearest edge of the aperture, for a point beyond the
// beam. This is the latest arrival if the arrivals curve downwards over the aperture, as behind a
// focus. Otherwise it is the earliest arrival. It is NaN if no element has a ray.
func (a *aperture) edge(arrivals []float64) float64 {
	n := len(arrivals)
	earliest, latest := math.Inf(1), math.Inf(-1)
	for _, t := range arrivals { // NaN is neither less nor greater
		if t < earliest {
			earliest = t
		}
		if t > latest {
			latest = t
		}
	}
	switch {
	case earliest > latest:
		return math.NaN()
	case arrivals[0]+arrivals[n-1] < arrivals[n/2]+arrivals[(n-1)/2]:
		return latest
	}
	return earliest
}

// mark adds PartlyInsonified to the states of the pixels that some events do not reach.
func (k *compound) mark(states []State) {
	for p, dark := range k.dark {
		if dark {
			states[p] |= PartlyInsonified
		}
	}
}

// normalise divides the weights by the shares, or by least where a share is smaller.
func (k *compound) normalise(least float32) {
	if least == 0 {
		return
	}
	for i := range k.weights {
		k.weights[i] /= complex(max(k.shares[i%k.points], least), 0)
	}
}

// slope is the change of the delays of an event at an element.
type slope struct {
	event, index int     // index of the element in the aperture of the event
	value        float64 // periods for each element
}

// cellsOf returns, for each event and each element of its aperture, the range of slopes for which
// the event stands, times the taper. The slope is the change of the delay from element to element
// in periods, p·sin β/λ for a plane wave at the angle β in the coupling, pitch p and wavelength λ.
// An event stands for the slopes that are closer to its own slope than to the slopes of other
// events at the same element. It also returns the number of elements that fire in any event.
func cellsOf(apertures []*aperture, elements int, taper float64) (cells [][]float64, firing int, err error) {
	at := make([][]slope, elements)
	for e, a := range apertures {
		if a.rows > 1 {
			return nil, 0, fmt.Errorf("tfm: compounding of event %d of a matrix array: want a linear array, or the capture decoded", e)
		}
		cells = append(cells, make([]float64, len(a.elements)))
		for i, element := range a.elements {
			if element != a.elements[0]+i {
				return nil, 0, fmt.Errorf("tfm: compounding of event %d, in which elements between others are silent: want neighbouring elements", e)
			}
			at[element] = append(at[element], slope{e, i, a.slope(i) * 0.5 / a.together})
		}
	}
	for _, slopes := range at {
		if len(slopes) == 0 {
			continue
		}
		firing++
		slices.SortStableFunc(slopes, func(a, b slope) int { return cmp.Compare(a.value, b.value) })
		for i, s := range slopes {
			cells[s.event][s.index] = cell(slopes, i, apertures[s.event], taper)
		}
	}
	return cells, firing, nil
}

// slope returns the change of the delay at element i from element to element, in s.
func (a *aperture) slope(i int) float64 {
	from, to := max(i-1, 0), min(i+1, len(a.delays)-1)
	if from == to {
		return 0
	}
	return (a.delays[to] - a.delays[from]) / float64(to-from)
}

// cell returns the range of slopes for which slope i of sorted slopes stands, times the taper.
// Equal slopes share their range. A single slope stands for the range 1/n of an aperture of n
// elements, as a wave of a complete set does.
func cell(slopes []slope, i int, a *aperture, taper float64) float64 {
	const equal = 1e-9 // periods
	here := slopes[i].value
	before := sort.Search(len(slopes), func(k int) bool { return slopes[k].value >= here-equal })
	after := sort.Search(len(slopes), func(k int) bool { return slopes[k].value > here+equal })
	copies := float64(after - before)
	first, last := slopes[0].value, slopes[len(slopes)-1].value
	var width float64
	switch {
	case before == 0 && after == len(slopes):
		return 1 / float64(len(a.elements)) / copies
	case before == 0:
		width = slopes[after].value - here
	case after == len(slopes):
		width = here - slopes[before-1].value
	default:
		width = (slopes[after].value - slopes[before-1].value) / 2
	}
	// The window is 0 half a cell beyond the ends of the set, so that no event is lost.
	margin := (last - first) / float64(2*(len(slopes)-1))
	return width / copies * tukey((here-first+margin)/(last-first+2*margin), taper)
}

// tukey returns the Tukey window of a taper at x in [0, 1].
func tukey(x, taper float64) float64 {
	edge := min(x, 1-x)
	if edge >= taper/2 {
		return 1
	}
	return (1 - math.Cos(2*math.Pi*edge/taper)) / 2
}

// bytes returns the memory of k in bytes.
func (k *compound) bytes() int {
	if k == nil {
		return 0
	}
	return 8*len(k.weights) + 5*len(k.shares)
}

// Shares returns the share of the aperture that the waves replace, for each pixel at the index of
// the grid. It is 1 where the waves focus like all elements that fire, and less where waves are
// missing. With a complete set of plane waves it is 1 at all pixels. With few waves it may exceed 1
// by some percent. Shares returns nil without [Options.Compound]. The caller owns the slice.
func (p *Plan) Shares() []float32 {
	if p.compound == nil {
		return nil
	}
	return slices.Clone(p.compound.shares)
}

// lookupsOf returns the lookups of one row of the transmitting table.
func (p *Plan) lookupsOf(tx int) []lookup {
	first := sort.Search(len(p.lookups), func(i int) bool { return p.lookups[i].tx >= tx })
	after := sort.Search(len(p.lookups), func(i int) bool { return p.lookups[i].tx > tx })
	return p.lookups[first:after]
}

// adder returns an adder of p that sums the events with their weights, from an adder of all events.
func (k *compound) adder(p *Plan, a adder) adder {
	if k == nil {
		return a
	}
	return &compoundAdder{a, p, [][]complex64{make([]complex64, k.points)}}
}

// compoundAdder sums the tiles of one event after the other, and adds them with their weights.
type compoundAdder struct {
	adder
	plan *Plan
	part [][]complex64 // the image of one event, of which only the tile in hand is valid
}

func (a *compoundAdder) sum(dst [][]complex64, i int) {
	k, t := a.plan.compound, a.plan.tiles[i]
	for r := range t.rows {
		clear(dst[0][t.index(a.plan.grid, r):][:t.cols])
	}
	for e := range k.events {
		a.only(e)
		a.adder.sum(a.part, i)
		for r := range t.rows {
			p := t.index(a.plan.grid, r)
			addWeighted(dst[0][p:][:t.cols], a.part[0][p:][:t.cols], k.weights[e*k.points+p:][:t.cols])
		}
	}
}

// addWeighted adds the products of weights and src to dst. Products are rounded before they are
// added, so that all processors give the same bits.
func addWeighted(dst, src, weights []complex64) {
	src, weights = src[:len(dst)], weights[:len(dst)]
	for i, v := range src {
		w := weights[i]
		re := float32(real(w)*real(v)) - float32(imag(w)*imag(v))
		im := float32(real(w)*imag(v)) + float32(imag(w)*real(v))
		dst[i] += complex(re, im)
	}
}
