// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// maxTrials is the largest number of places that one search tries for the focus.
const maxTrials = 9

// predictor is the scratch in which a goroutine predicts one node after the other.
type predictor struct {
	*model
	out, back   []beam       // of each element; the same slice if both paths are equal
	pairs       []lookup     // those with an echo at the node
	echoes      []complex128 // of each of these pairs: focused at the centre, by frequency
	sent, heard []complex128 // phases of a shifted focus, of each element: by trial, by frequency
	scattered   []complex128
	sums        []complex128 // of the echoes: by trial, by frequency
	levels      []float64    // by trial
}

func (m *model) newPredictor() *predictor {
	elements, n := len(m.elements), len(m.frequencies)
	p := &predictor{
		model: m, out: make([]beam, elements), sent: make([]complex128, elements*maxTrials*n),
		scattered: make([]complex128, n), sums: make([]complex128, maxTrials*n), levels: make([]float64, maxTrials),
	}
	p.back, p.heard = p.out, p.sent
	if m.receive != m.transmit {
		p.back, p.heard = make([]beam, elements), make([]complex128, len(p.sent))
	}
	return p
}

// at returns the prediction for a reflector with its centre at a point.
func (p *predictor) at(centre r3.Vec) node {
	for i, element := range p.elements {
		p.transmit.to(&p.out[i], element, centre)
		if p.receive != p.transmit {
			p.receive.to(&p.back[i], element, centre)
		}
	}
	n := node{partial: p.collect()}
	if len(p.pairs) == 0 {
		return n
	}
	n.valid = true
	ahead, width := p.direction()
	focus := r2.Scale(-p.depth, ahead)
	// The echo of a hole comes from its near face. Rays from a wide aperture meet the face at
	// different places, and waves creep round a small hole, so the peak lies a little deeper.
	if p.depth > 0 {
		focus, _ = p.search(focus, r2.Scale(p.wavelength/8, ahead), 4)
	}
	// Where the phase of the amplitudes changes its sign along the array, the peak is beside the
	// reflector.
	across := r2.Scale(0.75*width, r2.Vec{X: -ahead.Y, Y: ahead.X})
	focus, n.amplitude = p.search(focus, across, 4)
	if p.depth > 0 {
		focus, n.amplitude = p.search(focus, r2.Scale(p.wavelength/8, ahead), 1)
	}
	if p.compact {
		n.toCentre = r2.Scale(-1, focus)
	}
	return n
}

// collect computes the echoes of all pairs, and reports whether a pair has none for lack of a ray.
func (p *predictor) collect() (partial bool) {
	p.pairs, p.echoes = p.pairs[:0], p.echoes[:0]
	for _, l := range p.lookups {
		out, back := &p.out[l.tx], &p.back[l.rx]
		if !out.exists || !back.exists {
			partial = true
			continue
		}
		p.pairs = append(p.pairs, l)
		at := len(p.echoes)
		p.reflected.at(p.scattered, out, back)
		for k, s := range p.scattered {
			v := s * out.amplitude[k] * back.amplitude[k] * complex(l.weight*p.shares[k], 0)
			p.echoes = append(p.echoes, v)
		}
		if p.receive != p.transmit {
			p.addReciprocal(p.echoes[at:], l)
		}
	}
	return partial
}

// addReciprocal adds the echo of the reciprocal view, which is in the same trace: the wave goes
// along the receiving path and returns along the transmitting path. It counts where it arrives at
// nearly the same time, as it does close to the back wall.
func (p *predictor) addReciprocal(dst []complex128, l lookup) {
	out, back := &p.back[l.tx], &p.out[l.rx]
	if !out.exists || !back.exists {
		return
	}
	late := out.time + back.time - p.out[l.tx].time - p.back[l.rx].time
	if !(math.Abs(late)*p.deviation < 0.75) { // the pulse is below 2e-5 of its peak
		return
	}
	p.mirrored.at(p.scattered, out, back)
	for k, s := range p.scattered {
		v := s * out.amplitude[k] * back.amplitude[k] * complex(l.weight*p.shares[k]*p.mirroredReception, 0)
		dst[k] += v * cmplx.Rect(1, 2*math.Pi*p.frequencies[k]*late)
	}
}

// direction returns the unit vector ahead, along the mean slowness of the waves there and back,
// weighted with their amplitudes. It also returns the width of the focus across this direction, in
// m. If the waves there and back are opposite, the direction is along the waves there.
func (p *predictor) direction() (ahead r2.Vec, width float64) {
	mean, spread := moments(p.out)
	if p.receive != p.transmit {
		back, more := moments(p.back)
		if sum := r2.Add(mean, back); r2.Norm(sum) > 0.1*(r2.Norm(mean)+r2.Norm(back)) {
			mean = sum
		}
		spread = math.Hypot(spread, more)
	} else {
		spread *= math.Sqrt2
	}
	if r2.Norm(mean) == 0 {
		return r2.Vec{Y: 1}, p.wavelength
	}
	// For a Gaussian distribution of slownesses, 1/(2πf·spread) is the standard deviation of the
	// focus. A single element does not focus.
	return r2.Unit(mean), min(1/(2*math.Pi*p.centre*spread), 2*p.wavelength)
}

// moments returns the mean and the standard deviation of the slownesses of beams, in s/m, weighted
// with their amplitudes.
func moments(beams []beam) (mean r2.Vec, spread float64) {
	total := 0.0
	for i := range beams {
		if b := &beams[i]; b.exists {
			mean = r2.Add(mean, r2.Scale(b.size, b.slowness))
			total += b.size
		}
	}
	if total == 0 {
		return r2.Vec{}, 0
	}
	mean = r2.Scale(1/total, mean)
	for i := range beams {
		if b := &beams[i]; b.exists {
			spread += b.size / total * r2.Norm2(r2.Sub(b.slowness, mean))
		}
	}
	return mean, math.Sqrt(spread)
}

// search tries the focus at a place, and at the given number of steps on both sides. It returns the
// place and the amplitude of the peak, by a parabola through the highest trial and its neighbours.
// Places are relative to the centre of the reflector, in m.
func (p *predictor) search(from, step r2.Vec, reach int) (focus r2.Vec, amplitude float64) {
	first := r2.Sub(from, r2.Scale(float64(reach), step))
	trials := 2*reach + 1
	p.shift(p.sent, p.out, first, step, trials)
	if p.receive != p.transmit {
		p.shift(p.heard, p.back, first, step, trials)
	}
	p.sum(trials)
	best := 0
	n := len(p.frequencies)
	for k := range trials {
		sum := complex128(0)
		for _, v := range p.sums[k*n : (k+1)*n] {
			sum += v
		}
		p.levels[k] = cmplx.Abs(sum)
		if p.levels[k] > p.levels[best] {
			best = k
		}
	}
	at, amplitude := float64(best), p.levels[best]
	if best > 0 && best < trials-1 {
		share, rise := number.Vertex(p.levels[best-1], amplitude, p.levels[best+1])
		at += share
		amplitude += rise
	}
	return r2.Add(first, r2.Scale(at, step)), amplitude
}

// shift sets dst to the factors by which echoes change at a shifted focus. A pixel that the wave
// reaches earlier reads the echo earlier.
func (p *predictor) shift(dst []complex128, beams []beam, first, step r2.Vec, trials int) {
	n := len(p.frequencies)
	spacing := p.frequencies[1] - p.frequencies[0]
	for e := range beams {
		b := &beams[e]
		if !b.exists {
			continue
		}
		for k := range trials {
			late := r2.Dot(b.slowness, first) + float64(k)*r2.Dot(b.slowness, step)
			phase := cmplx.Rect(1, -2*math.Pi*p.frequencies[0]*late)
			advance := cmplx.Rect(1, -2*math.Pi*spacing*late)
			row := dst[(e*maxTrials+k)*n:][:n]
			for i := range row {
				row[i] = phase
				phase *= advance
			}
		}
	}
}

// sum adds the echoes of all pairs for each trial.
func (p *predictor) sum(trials int) {
	n := len(p.frequencies)
	sums := p.sums[:trials*n]
	clear(sums)
	for i, l := range p.pairs {
		echo := p.echoes[i*n:][:n]
		for k := range trials {
			sent := p.sent[(l.tx*maxTrials+k)*n:][:n]
			heard := p.heard[(l.rx*maxTrials+k)*n:][:n]
			row := sums[k*n:][:n]
			for j, v := range echo {
				row[j] += v * sent[j] * heard[j]
			}
		}
	}
}
