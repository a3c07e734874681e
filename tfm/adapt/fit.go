// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"github.com/isochron-imaging/isochron/internal/number"
)

// fitted is a curve that was fitted to the echoes of the front surface.
type fitted struct {
	curve      curve
	echoes     []echo
	model      *mixed
	covariance *mat.SymDense // of the parameters
	lit        [2]float64    // x between the first and the last point that mirrors, m
	rms        float64       // of the lengths, after delays, m

	deviation   float64 // largest distance from the profile in the lit range, m
	probability float64 // of such a deviation from the profile by chance
}

// fit fits a curve to the given echoes by Gauss-Newton steps. Without echoes it chooses them: first
// the candidates nearest to the curve, and from half of the steps on those that are no outliers.
func (f *finder) fit(c curve, echoes []echo) (*fitted, error) {
	r := &fitted{curve: c, echoes: slices.Clone(echoes)}
	f.trace(r)
	const steps = 12
	for i := range steps {
		switch {
		case echoes == nil && i < steps/2:
			r.echoes = f.choose(c)
		case echoes == nil && i == steps/2:
			r.echoes = r.agreeing()
		}
		if want := max(2*minElements, len(echoes)*9/10); len(r.echoes) < want {
			return nil, fmt.Errorf("adapt: %w: %d echoes agree on a front surface, want at least %d",
				ErrUndetermined, len(r.echoes), want)
		}
		before := append([]float64(nil), c.values()...)
		if err := r.step(len(f.elements), echoes != nil || i >= steps/2); err != nil {
			return nil, err
		}
		f.trace(r)
		if (echoes != nil || i >= steps/2) && change(before, c.values()) < 1e-9 {
			break
		}
	}
	var err error
	if r.covariance, err = r.model.covariance(); err != nil {
		return nil, err
	}
	r.lit = [2]float64{math.Inf(1), math.Inf(-1)}
	sum := 0.0
	for _, e := range r.echoes {
		r.lit[0], r.lit[1] = min(r.lit[0], e.bounce.x), max(r.lit[1], e.bounce.x)
		rest := r.rest(e)
		sum += rest * rest
	}
	r.rms = math.Sqrt(sum / float64(len(r.echoes)))
	return r, nil
}

// change returns the largest difference between two lists of parameters.
func change(a, b []float64) (largest float64) {
	for i := range a {
		largest = max(largest, math.Abs(a[i]-b[i]))
	}
	return largest
}

// trace follows the echoes to the curve as it is. It drops echoes that the curve does not mirror.
func (f *finder) trace(r *fitted) {
	kept := r.echoes[:0]
	for _, e := range r.echoes {
		var ok bool
		if e.bounce, ok = reflect(r.curve, f.elements[e.transmit], f.elements[e.receive], e.bounce.x); ok {
			kept = append(kept, e)
		}
	}
	r.echoes = kept
}

// choose returns the echoes whose lengths lie within a wavelength of the lengths that the curve
// gives. Of the candidates of a pair it takes the nearest. The two directions of a pair are
// averaged.
func (f *finder) choose(c curve) []echo {
	tolerance := f.wavelength
	n := len(f.elements)
	type sum struct {
		length float64
		count  int
		bounce bounce
	}
	sums := make([]sum, n*n) // of transmit·n + receive, with transmit ≤ receive
	for k := 0; k < len(f.arrivals); {
		a := f.arrivals[k]
		end := k
		for end < len(f.arrivals) && f.arrivals[end].Transmit == a.Transmit && f.arrivals[end].Receive == a.Receive {
			end++
		}
		candidates := f.arrivals[k:end]
		k = end
		one, two := min(a.Transmit, a.Receive), max(a.Transmit, a.Receive)
		from := (f.elements[one].X + f.elements[two].X) / 2
		b, ok := reflect(c, f.elements[one], f.elements[two], from)
		if !ok || b.incident > f.o.MaxIncidence {
			continue
		}
		nearest := math.NaN()
		for _, a := range candidates {
			if length := 2 * f.distance(a); !(math.Abs(length-b.length) >= math.Abs(nearest-b.length)) {
				nearest = length
			}
		}
		if !(math.Abs(nearest-b.length) <= tolerance) {
			continue
		}
		s := &sums[one*n+two]
		s.length, s.count, s.bounce = s.length+nearest, s.count+1, b
	}
	var echoes []echo
	for i, s := range sums {
		if s.count > 0 {
			echoes = append(echoes, echo{i / n, i % n, s.count, s.length / float64(s.count), s.bounce})
		}
	}
	return echoes
}

// rest returns the measured minus the fitted length of an echo, without the delays of its elements.
func (r *fitted) rest(e echo) float64 {
	n := r.model.parameters
	return e.length - e.bounce.length -
		r.model.solution.AtVec(n+e.transmit) - r.model.solution.AtVec(n+e.receive)
}

// agreeing returns the echoes that are no outliers.
func (r *fitted) agreeing() []echo {
	sizes := make([]float64, len(r.echoes))
	for i, e := range r.echoes {
		sizes[i] = math.Abs(r.rest(e))
	}
	limit := max(rejection*1.4826*number.Median(sizes), leastLength)
	var kept []echo
	for i, e := range r.echoes {
		if sizes[i] <= limit {
			kept = append(kept, e)
		}
	}
	return kept
}

// step takes one Gauss-Newton step, with the ratios of the variances at their first values or
// refined.
func (r *fitted) step(elements int, refine bool) error {
	m := newMixed(r.curve, elements)
	gradient := make([]float64, m.parameters)
	for _, e := range r.echoes {
		length := e.length - e.bounce.length
		r.curve.gradient(e.bounce.x, gradient)
		for i := range gradient {
			gradient[i] *= e.bounce.slope
			length += gradient[i] * r.curve.values()[i]
		}
		m.observe(gradient, e, length)
	}
	r.model = m
	if err := m.solve(refine); err != nil {
		return err
	}
	for i := range r.curve.values() {
		r.curve.values()[i] = m.solution.AtVec(i)
	}
	return nil
}

// compare fills in how far the curve lies from the profile, and how probable that is.
//
// The sum of squares of the curve exceeds the sum of the profile. With the ratio of variances of
// the profile, the excess follows an F distribution if the curve is the true shape. The effective
// number of parameters of a smoothed profile is the trace of its influence matrix.
func (r *fitted) compare(profile *fitted) {
	for k := range 65 {
		x := r.lit[0] + float64(k)/64*(r.lit[1]-r.lit[0])
		a, _, _ := r.curve.at(x)
		b, _, _ := profile.curve.at(x)
		r.deviation = max(r.deviation, math.Abs(a-b))
	}
	effective, all := profile.model.effective()
	free, extra := float64(profile.model.count)-all, effective-float64(r.model.parameters)
	if !(extra > 0.5) {
		r.probability = 1
		return
	}
	excess := r.model.with(profile.model).misfit() - profile.model.misfit()
	r.probability = 1 - distuv.F{D1: extra, D2: free}.CDF(max(0, excess/extra/profile.model.variance))
}
