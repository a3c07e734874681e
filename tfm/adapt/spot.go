// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// spot is the peak of the image of a region, between pixels.
type spot struct {
	level float64 // dB
	edge  bool    // the pixel of the peak lies at the edge of the region
	sum   complex128
	parts []part // of each pair
}

// part is the part of a pair in a sum of signals.
type part struct {
	time  float64    // s
	value complex128 // of the analytic signal at this time
	slope complex128 // derivative of the analytic signal with respect to time, 1/s
}

// spot finds the peak of an image. The quadric through nine pixels leaves an error that changes
// with the place of the peak between the pixels, of some 0.01 dB. Such steps would shift the
// sharpest value by more than its uncertainty. So further quadrics pass through nine points around
// the last top. They are a quarter as far apart as soon as the top lies among them. The phases of
// the elements follow the top.
func (f *focuser) spot(s *sum) spot {
	envelope := make([]float32, len(s.image))
	for i, v := range s.image {
		envelope[i] = float32(math.Sqrt(squared(complex128(v))))
	}
	level, at, right, down := peak(envelope, s.region.Cols, s.region.Rows)
	near := newNine(s, at)
	c, r := at%s.region.Cols, at/s.region.Cols
	if c == 0 || r == 0 || c == s.region.Cols-1 || r == s.region.Rows-1 || math.IsInf(level, -1) {
		return f.spotAt(s, near, true)
	}
	for step, rounds := 0.25, 0; step > 0.03 && rounds < 30; rounds++ {
		s.turn(r3.Add(s.region.Point(at), r3.Vec{X: right * s.region.Step.X, Z: down * s.region.Step.Z}))
		var around [9]float32
		for i := range around {
			near.move(right+step*float64(i%3-1), down+step*float64(i/3-1))
			around[i] = float32(math.Sqrt(squared(f.total(s, near))))
		}
		_, best, dc, dr := peak(around[:], 3, 3)
		right += step * (float64(best%3-1) + dc)
		down += step * (float64(best/3-1) + dr)
		if best == 4 {
			step /= 4
		}
	}
	near.move(right, down)
	return f.spotAt(s, near, false)
}

// total returns the sum of the signals at a place.
func (f *focuser) total(s *sum, near *nine) (total complex128) {
	first, second := near.arrivals(&s.transmit), near.arrivals(&s.receive)
	for _, p := range f.pairs {
		a, b := &first[p.transmit], &second[p.receive]
		total += a.turn * b.turn * smooth(p.samples, f.index(a, b))
	}
	return total
}

// spotAt returns the sum of the signals at a place, with the parts of all pairs.
func (f *focuser) spotAt(s *sum, near *nine, edge bool) spot {
	first, second := near.arrivals(&s.transmit), near.arrivals(&s.receive)
	out := spot{edge: edge, parts: make([]part, len(f.pairs))}
	rate := f.capture.SampleRate
	for i, p := range f.pairs {
		a, b := &first[p.transmit], &second[p.receive]
		k, turn := f.index(a, b), a.turn*b.turn
		const step = 0.25
		out.parts[i] = part{
			time:  k / rate,
			value: turn * smooth(p.samples, k),
			slope: turn * (smooth(p.samples, k+step) - smooth(p.samples, k-step)) * complex(rate/(2*step), 0),
		}
		out.sum += out.parts[i].value
	}
	out.level = 10 * math.Log10(squared(out.sum))
	return out
}

// index returns the place of an echo in its trace, in samples.
func (f *focuser) index(a, b *arrival) float64 {
	time := a.time + b.time - f.o.Radius*math.Hypot(a.x+b.x, a.z+b.z)
	return (time - f.capture.FirstSample) * f.capture.SampleRate
}

// coherence returns |Σ|²/Σ|·|² over the pairs.
func (s *spot) coherence() float64 {
	power := 0.0
	for _, e := range s.parts {
		power += squared(e.value)
	}
	return squared(s.sum) / power
}

func squared(v complex128) float64 { return real(v)*real(v) + imag(v)*imag(v) }

// nine holds the weights of the nine pixels about a place, for interpolation by quadrics.
type nine struct {
	pixels    int // of the region
	indices   [9]int
	aside, up float64 // from the middle one of the nine to the pixel of the peak, in pixels
	weights   [9]float64
}

// newNine returns nine pixels about a pixel, all of which rays reach, if there are any: a peak can
// lie at a wall.
func newNine(s *sum, pixel int) *nine {
	g := s.region
	c, r := pixel%g.Cols, pixel/g.Cols
	n := &nine{pixels: g.Len()}
	for i := range n.indices {
		n.indices[i] = pixel
	}
	for _, shift := range [][2]int{{0, 0}, {0, -1}, {0, 1}, {-1, 0}, {1, 0}, {-1, -1}, {1, -1}, {-1, 1}, {1, 1}} {
		middle, centre := c+shift[0], r+shift[1]
		if middle < 1 || centre < 1 || middle > g.Cols-2 || centre > g.Rows-2 {
			continue
		}
		n.aside, n.up = float64(c-middle), float64(r-centre)
		var times float32 // NaN if one of them is NaN
		for i := range n.indices {
			n.indices[i] = (centre+i/3-1)*g.Cols + middle + i%3 - 1
			times += s.transmit.seconds[n.indices[i]] + s.receive.seconds[n.indices[i]]
		}
		if times == times {
			break
		}
	}
	n.move(0, 0)
	return n
}

// move sets the weights for a place, in columns and rows from the pixel of the peak.
func (n *nine) move(right, down float64) {
	across, along := three(right+n.aside), three(down+n.up)
	for i := range n.weights {
		n.weights[i] = across[i%3] * along[i/3]
	}
}

// three returns the weights of values at -1, 0 and 1 for a parabola at x.
func three(x float64) [3]float64 { return [3]float64{x * (x - 1) / 2, 1 - x*x, x * (x + 1) / 2} }

// arrival is a ray that arrives at a place from an element.
type arrival struct {
	time float64    // s
	x, z float64    // slowness vector, s/m
	turn complex128 // factor that undoes the phase by boundaries
}

// arrivals returns the rays from all elements.
func (n *nine) arrivals(t *table) []arrival {
	out := make([]arrival, len(t.turns))
	for e := range out {
		a := &out[e]
		a.turn = t.turns[e]
		for i, w := range n.weights {
			q := e*n.pixels + n.indices[i]
			a.time += w * float64(t.seconds[q])
			if t.x != nil {
				a.x += w * float64(t.x[q])
				a.z += w * float64(t.z[q])
			}
		}
	}
	return out
}

// smooth returns the value of a signal at sample k, from the polynomial through eight samples. Its
// error is a thousandth of the amplitude at six samples a period, against a fortieth for a cubic.
// The value is 0 outside of the signal.
func smooth(samples []complex64, k float64) complex128 {
	first := math.Floor(k) - 3
	if !(first >= 0 && first <= float64(len(samples)-8)) {
		return 0
	}
	var above [8]float64 // products of the distances to all later samples
	above[7] = 1
	x := k - first
	for i := 6; i >= 0; i-- {
		above[i] = above[i+1] * (x - float64(i+1))
	}
	var out complex128
	below := 1.0
	for i, v := range samples[int(first):][:8] {
		out += complex(below*above[i]/lagrange[i], 0) * complex128(v)
		below *= x - float64(i)
	}
	return out
}

// lagrange holds the products of i-j over all j from 0 to 7 but i.
var lagrange = [8]float64{-5040, 720, -240, 144, -144, 240, -720, 5040}
