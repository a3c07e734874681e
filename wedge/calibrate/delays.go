// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"github.com/isochron-imaging/isochron/internal/number"
)

// delayFit holds the delays of the elements, estimated from the residuals.
type delayFit struct {
	delays []Estimate // of each element
	spread float64    // standard deviation of the delays of the elements used, s
	noise  float64    // standard deviation of an arrival without the delays of its elements, s

	index    []int         // of each element among the delays, -1 if it has none
	arrivals []int         // from which the delays were found
	weights  []float64     // theirs
	inverse  *mat.SymDense // of the normal matrix
}

// rejectedWeight is the weight of a rejected arrival. It is small, but not zero, so that the
// equations for the delays stay solvable.
const rejectedWeight = 1e-6

// leastNoiseShare is the smallest noise of a time as a share of the uncertainty of the offset.
const leastNoiseShare = 0.01

// mostAlike is the largest correlation of the delays of neighbours that is taken into account.
const mostAlike = 0.9

// fitDelays splits the residuals of the selected arrivals into delays of the elements and noise:
// residual = delay(transmit) + delay(receive) + noise. Arrivals that the fit of the face rejected
// take part too, because a late element may be the reason for the rejection.
func (f *faceFit) fitDelays() (*delayFit, error) {
	f.update(f.selected)
	d := &delayFit{delays: make([]Estimate, len(f.elements)), index: f.delayed()}
	n := 0
	for e, i := range d.index {
		d.delays[e] = Estimate{math.NaN(), math.NaN()}
		n = max(n, i+1)
	}
	for _, k := range f.selected {
		if a := f.arrivals[k]; d.index[a.Transmit] >= 0 && d.index[a.Receive] >= 0 {
			d.arrivals = append(d.arrivals, k)
		}
	}
	if n == 0 {
		return nil, fmt.Errorf("calibrate: %w: no pulse-echo arrival agrees with the face",
			ErrUndetermined)
	}
	delays, counted, err := f.solveDelays(d, n)
	if err != nil {
		return nil, err
	}
	freedom := len(counted) - n - len(f.free)
	if freedom <= 0 && f.o.Speed.Value == 0 && f.o.Distance.Value == 0 {
		return nil, fmt.Errorf("calibrate: %w: %d arrivals of %d elements agree on a face, too few to show the noise of the speed: want at least %d, or the speed",
			ErrUndetermined, len(counted), n, n+len(f.free)+1)
	}
	squares := 0.0
	for _, k := range counted {
		e := f.undelayed(k, delays, d.index)
		squares += e * e
	}
	// Arrivals that are no more than the delays do not show their noise: it becomes part of the
	// spread of the delays. For a single delay the uncertainty of the offset stands for it.
	d.noise = f.leastNoise()
	noise := f.o.Offset.Uncertainty
	if freedom > 0 {
		d.noise = max(d.noise, math.Sqrt(squares/float64(freedom)))
		noise = d.noise
	}
	for e, i := range d.index {
		if i < 0 {
			continue
		}
		d.delays[e] = Estimate{delays[i], noise * math.Sqrt(d.inverse.At(i, i))}
	}
	d.spread = f.spreadOf(d)
	return d, nil
}

// leastNoise returns the smallest noise of a time, and the smallest spread of the delays of the
// elements: no instrument has none.
func (f *faceFit) leastNoise() float64 {
	return max(leastNoiseShare*f.o.Offset.Uncertainty, leastScatter)
}

// widen adds the part of the delay uncertainty that is caused by the uncertain wave speed. The part
// grows from the middle of the array to its ends.
func (f *faceFit) widen(d *delayFit, cov *covariance) {
	variance := cov[speedParameter][speedParameter]
	if !(variance > 0) {
		return
	}
	n, _ := d.inverse.Dims()
	right := mat.NewVecDense(n, nil)
	for j, k := range d.arrivals {
		e := f.echo(k)
		change := 0.0 // of the residual, with the speed
		for p := range cov {
			change -= e.slope[p] * cov[p][speedParameter] / variance
		}
		for _, i := range [...]int{d.index[f.arrivals[k].Transmit], d.index[f.arrivals[k].Receive]} {
			right.SetVec(i, right.AtVec(i)+d.weights[j]*change)
		}
	}
	var bowl mat.VecDense
	bowl.MulVec(d.inverse, right)
	for e, i := range d.index {
		if i >= 0 {
			d.delays[e].Uncertainty = math.Hypot(d.delays[e].Uncertainty, bowl.AtVec(i)*math.Sqrt(variance))
		}
	}
}

// delayed numbers the elements that have a selected pulse-echo arrival, from 0. The other elements
// get -1.
func (f *faceFit) delayed() []int {
	index := make([]int, len(f.elements))
	for e := range index {
		index[e] = -1
	}
	n := 0
	for _, k := range f.selected {
		if a := f.arrivals[k]; a.Transmit == a.Receive {
			index[a.Transmit] = n
			n++
		}
	}
	return index
}

// undelayed returns the residual of arrival k after the delays of its elements are subtracted.
func (f *faceFit) undelayed(k int, delays []float64, index []int) float64 {
	a := f.arrivals[k]
	return f.residuals[k] - delays[index[a.Transmit]] - delays[index[a.Receive]]
}

// solveDelays fits n delays to the residuals of the arrivals of d. It returns the delays and the
// arrivals that were not rejected, and leaves weights and inverse in d.
func (f *faceFit) solveDelays(d *delayFit, n int) (delays []float64, counted []int, err error) {
	delays = f.guessDelays(d.arrivals, d.index, n)
	d.weights = make([]float64, len(d.arrivals))
	left := make([]float64, len(d.arrivals))
	const rounds = 10
	for round := range rounds {
		for j, k := range d.arrivals {
			left[j] = f.undelayed(k, delays, d.index)
		}
		scatter := robustScatter(left, n)
		counted = counted[:0]
		for j, k := range d.arrivals {
			weight := biweightOf(left[j], scatter)
			if round == rounds-1 {
				weight = 0
				if math.Abs(left[j]) <= rejection*scatter {
					weight = 1
				}
			}
			if weight > 0 {
				counted = append(counted, k)
			}
			d.weights[j] = max(rejectedWeight, weight)
		}
		if delays, d.inverse, err = f.leastSquares(d, n); err != nil {
			return nil, nil, err
		}
	}
	return delays, counted, nil
}

// guessDelays returns for each element the median of the delays that its arrivals would give if all
// other elements had no delay.
func (f *faceFit) guessDelays(arrivals, index []int, n int) []float64 {
	said := make([][]float64, n)
	for _, k := range arrivals {
		tx, rx := index[f.arrivals[k].Transmit], index[f.arrivals[k].Receive]
		if tx == rx {
			said[tx] = append(said[tx], f.residuals[k]/2)
			continue
		}
		said[tx] = append(said[tx], f.residuals[k])
		said[rx] = append(said[rx], f.residuals[k])
	}
	delays := make([]float64, n)
	for i, values := range said {
		delays[i] = number.Median(values)
	}
	return delays
}

// leastSquares returns the n delays that fit the residuals best with the weights
// of d, and the inverse of the normal matrix.
func (f *faceFit) leastSquares(d *delayFit, n int) ([]float64, *mat.SymDense, error) {
	normal := make([]float64, n*n)
	right := mat.NewVecDense(n, nil)
	for j, k := range d.arrivals {
		ends := [...]int{d.index[f.arrivals[k].Transmit], d.index[f.arrivals[k].Receive]}
		for _, a := range ends {
			right.SetVec(a, right.AtVec(a)+d.weights[j]*f.residuals[k])
			for _, b := range ends {
				normal[a*n+b] += d.weights[j]
			}
		}
	}
	var factor mat.Cholesky
	var x mat.VecDense
	var inverse mat.SymDense
	// Each element's pulse-echo arrival alone makes the matrix positive definite.
	ok := factor.Factorize(mat.NewSymDense(n, normal))
	if !ok || factor.SolveVecTo(&x, right) != nil || factor.InverseTo(&inverse) != nil {
		return nil, nil, fmt.Errorf("calibrate: %w: the arrivals do not determine the delays",
			ErrUndetermined)
	}
	return slices.Clone(x.RawVector().Data), &inverse, nil
}

// spreadOf returns the standard deviation of the delays of the elements whose pulse-echo arrivals
// the fit of the face used, less the part that noise alone would cause. Overlapping echoes make the
// delays of neighbours alike, so that they average out less. The correlation ρ of neighbours
// widens the result by √((1+ρ)/(1−ρ)), the factor of the mean of an autoregressive series (from
// memory of G. E. P. Box and G. M. Jenkins, Time Series Analysis, 1970).
func (f *faceFit) spreadOf(fit *delayFit) float64 {
	sum, square, product, before := 0.0, 0.0, 0.0, 0.0
	n := 0
	for _, k := range f.used {
		if a := f.arrivals[k]; a.Transmit == a.Receive {
			d := fit.delays[a.Transmit]
			i := fit.index[a.Transmit]
			sum += d.Value*d.Value - fit.noise*fit.noise*fit.inverse.At(i, i)
			square += d.Value * d.Value
			product += d.Value * before
			before = d.Value
			n++
		}
	}
	freedom := n - 1 - len(f.slopes)
	if freedom <= 0 {
		return f.o.Offset.Uncertainty // too few elements do not show their spread
	}
	widen := 1.0
	if square > 0 {
		alike := min(max(0, product/square), mostAlike)
		widen = (1 + alike) / (1 - alike)
	}
	// Twice the spread must hold 95 %, although it comes from few independent delays.
	student := distuv.StudentsT{Sigma: 1, Nu: max(1, float64(n)/widen-float64(n-freedom))}.Quantile(0.975) / 1.96
	return max(f.leastNoise(), student*math.Sqrt(widen*max(0, sum)/float64(freedom)))
}
