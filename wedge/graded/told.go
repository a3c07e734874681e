// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r3"
	"gonum.org/v1/gonum/stat/distuv"
)

// finish returns the result of a fit: what the readings tell of the parameters.
func (p *problem) finish(s *solved) (*Fit, error) {
	n := len(s.family.parameters)
	out := &Fit{
		Family: s.family, Offset: s.offset * p.options.Offset, Residuals: s.residuals, Used: s.used,
		Scatter: s.scatter, DegreesOfFreedom: -n, Probability: math.NaN(),
	}
	var squares float64
	for i, used := range s.used {
		if used {
			out.DegreesOfFreedom++
			squares += s.residuals[i] * s.residuals[i]
		}
	}
	if u := p.options.Uncertainty; u > 0 && out.DegreesOfFreedom > 0 {
		out.Probability = distuv.ChiSquared{K: float64(out.DegreesOfFreedom)}.Survival(squares / (u * u))
	}
	rows := p.withoutOffset(s)
	noise := s.noise(p.options)
	normal := mat.NewSymDense(n, nil)
	for i, used := range s.used {
		if used {
			normal.SymRankOne(normal, 1/(noise*noise), mat.NewVecDense(n, rows[i]))
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(normal, true) {
		return nil, errors.New("graded: fit: the eigenvalues of the normal equations do not converge")
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	t := newTold(eigen.Values(nil), &vectors)
	for _, place := range []func(*TimeReading) r3.Vec{
		func(r *TimeReading) r3.Vec { return r.Point }, func(r *TimeReading) r3.Vec { return r.Element },
	} {
		variance, freedom := p.shared(s, rows, noise, place)
		if freedom < fewest {
			continue
		}
		out.DegreesOfFreedom = min(out.DegreesOfFreedom, freedom)
		if err := t.widen(variance); err != nil {
			return nil, err
		}
	}
	t.report(out)
	return out, nil
}

// withoutOffset returns the derivatives by the parameters if the offset is fitted too.
func (p *problem) withoutOffset(s *solved) [][]float64 {
	n := len(s.family.parameters)
	if len(s.rows[0]) == n {
		return s.rows
	}
	mixed := make([]float64, n)
	square := s.noise(p.options) * s.noise(p.options)
	for i, used := range s.used {
		if used {
			own := s.rows[i][n]
			square += own * own
			for k := range mixed {
				mixed[k] += own * s.rows[i][k]
			}
		}
	}
	rows := make([][]float64, len(s.rows))
	for i, row := range s.rows {
		rows[i] = make([]float64, n)
		for k := range mixed {
			rows[i][k] = row[k] - row[n]*mixed[k]/square
		}
	}
	return rows
}

// shared returns the variance of the right side of the normal equations, if errors of readings at the
// same place may be correlated in any way: the sum over places of the squares of the sums over
// readings. It also returns the degrees of freedom: the number of places less the number of parameters.
func (p *problem) shared(
	s *solved, rows [][]float64, noise float64, place func(*TimeReading) r3.Vec,
) (variance *mat.SymDense, freedom int) {
	n := len(rows[0])
	var sums []*mat.VecDense // in the order of the readings
	index := make(map[r3.Vec]int)
	for i := range p.readings {
		if !s.used[i] {
			continue
		}
		q := place(&p.readings[i])
		k, found := index[q]
		if !found {
			k = len(sums)
			index[q], sums = k, append(sums, mat.NewVecDense(n, nil))
		}
		sums[k].AddScaledVec(sums[k], s.residuals[i]/(noise*noise), mat.NewVecDense(n, rows[i]))
	}
	variance, freedom = mat.NewSymDense(n, nil), len(sums)-n
	if freedom < fewest {
		return nil, freedom
	}
	// The fit has made the residuals smaller than the errors, by about the share of a place in the
	// parameters. This is the correction of the jackknife, for places of like weight.
	places := float64(len(sums))
	factor := (places - 1) / places * math.Pow(places/float64(freedom), 2)
	for _, v := range sums {
		variance.SymRankOne(variance, factor, v)
	}
	return variance, freedom
}

// fewest is the least number of degrees of freedom of places from which the residuals show
// correlated errors.
const fewest = 5

// silent is the standard uncertainty of a combination, in ranges, from which the readings count as
// saying nothing of it.
const silent = 1e3

// told is what readings tell of parameters.
type told struct {
	vectors     *mat.Dense // eigenvectors of the normal equations
	information []float64  // eigenvalues in ascending order
	mute        int        // the first eigenvalues, of which the readings say nothing
	// spread is the covariance of the other combinations, in units of their uncertainties for
	// independent readings.
	spread *mat.SymDense
}

func newTold(information []float64, vectors *mat.Dense) *told {
	t := &told{vectors: vectors, information: information}
	for t.mute < len(information) && !(information[t.mute] > 1/(silent*silent)) {
		t.mute++
	}
	if left := len(information) - t.mute; left > 0 {
		t.spread = mat.NewSymDense(left, nil)
		for i := range left {
			t.spread.SetSym(i, i, 1)
		}
	}
	return t
}

// units returns the combinations as columns, each in units of its uncertainty for independent
// readings. The unit of a row is the range of the parameter.
func (t *told) units() *mat.Dense {
	n := len(t.information)
	out := mat.DenseCopyOf(t.vectors.Slice(0, n, t.mute, n))
	for i := range n - t.mute {
		for k := range n {
			out.Set(k, i, out.At(k, i)/math.Sqrt(t.information[t.mute+i]))
		}
	}
	return out
}

// widen makes the covariance at least as large, in each direction, as it is for the given variance of
// the right side of the normal equations.
func (t *told) widen(variance *mat.SymDense) error {
	if t.spread == nil {
		return nil
	}
	units := t.units()
	var half, other mat.Dense
	half.Mul(units.T(), variance)
	other.Mul(&half, units)
	n := t.spread.SymmetricDim()
	more := mat.NewSymDense(n, nil)
	for i := range n {
		for k := i; k < n; k++ {
			more.SetSym(i, k, other.At(i, k)-t.spread.At(i, k))
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(more, true) {
		return errors.New("graded: fit: the eigenvalues of the covariance do not converge")
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	for i, v := range eigen.Values(nil) {
		if v > 0 {
			t.spread.SymRankOne(t.spread, v, vectors.ColView(i))
		}
	}
	return nil
}

// report fills in the combinations, the estimates and their correlations.
func (t *told) report(f *Fit) {
	n := len(t.information)
	covariance := mat.NewDense(n, n, nil)
	if t.spread != nil {
		units := t.units()
		var half mat.Dense
		half.Mul(units, t.spread)
		covariance.Mul(&half, units.T())
	}
	unknown := make([]bool, n)
	for i := n - 1; i >= 0; i-- {
		c := Combination{Weights: mat.Col(nil, i, t.vectors), Uncertainty: math.Inf(1)}
		if at := i - t.mute; at >= 0 {
			c.Uncertainty = math.Sqrt(t.spread.At(at, at) / t.information[i])
		} else {
			for k, w := range c.Weights {
				const rounding = 1e-6
				unknown[k] = unknown[k] || math.Abs(w) > rounding
			}
		}
		c.Determined = c.Uncertainty <= determined
		f.Combinations = append(f.Combinations, c)
	}
	for k, q := range f.Family.parameters {
		e := Estimate{Name: q.Name, Value: q.Value, Uncertainty: math.Inf(1)}
		if u := math.Sqrt(covariance.At(k, k)); !unknown[k] && u <= determined {
			e.Uncertainty, e.Determined = u*(q.High-q.Low), true
		}
		f.Estimates = append(f.Estimates, e)
	}
	for k := range n {
		f.Correlation = append(f.Correlation, make([]float64, n))
		for j := range n {
			r := math.NaN()
			if f.Estimates[k].Determined && f.Estimates[j].Determined {
				r = covariance.At(k, j) / math.Sqrt(covariance.At(k, k)*covariance.At(j, j))
			}
			f.Correlation[k][j] = r
		}
	}
}
