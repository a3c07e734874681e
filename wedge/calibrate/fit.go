// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// The parameters of a face.
const (
	distanceParameter = iota // height of the middle of the array, m
	angleParameter           // sine of the angle of its x axis
	roofParameter            // sine of the angle of its y axis
	speedParameter           // m/s
	faceParameters

	// offsetParameter is the time that the instrument adds, s. It is given.
	offsetParameter = iota - 1
	// The delay of an echo that changes with its angle of incidence has three terms, in s.
	obliqueParameter = iota - 1
	steepParameter   = iota - 1
	pathParameter    = iota - 1
	allParameters    = iota - 1
)

// oblique lists the terms of the delay that changes with the angle of incidence. They are sought
// too, each with the expectation 0 and the uncertainty [Options.Oblique].
var oblique = [...]int{obliqueParameter, steepParameter, pathParameter}

const (
	biweight     = 4.685 // robust standard deviations from which the weight is 0
	rejection    = 4     // robust standard deviations within which the final weight is 1
	leastScatter = 1e-13 // s; a smaller scatter is the rounding of the times

	// obliqueSine is the sine of 20°, the angle of incidence for which [Options.Oblique] is stated.
	obliqueSine = 0.3420201433256687
	// obliqueDetail is the part of [Options.Oblique] that the three terms do not follow. It limits
	// how far times without noise determine the terms.
	obliqueDetail = 0.1
	// overlap is the delay at 20° that overlapping echoes cause, as a multiple of the scatter that
	// they cause. It was chosen on the captures block16 and tips_plate2.
	overlap = 1.5
)

// faceFit is the state of [Face].
type faceFit struct {
	o        *Options
	middle   r3.Vec
	elements []r3.Vec // from the middle
	arrivals []Arrival
	shares   []float64 // amplitude of each arrival / the strongest of its pair

	slopes []int // angleParameter and roofParameter, as far as they are sought
	free   []int // parameters that are sought
	params [allParameters]float64

	all       []int     // every arrival
	selected  []int     // arrivals taken for the echo of the face
	used      []int     // selected arrivals with a weight above 0
	sine      float64   // of the largest angle of incidence
	noise     float64   // scatter of the arrivals that are fitted, s
	oblique   float64   // standard uncertainty of the oblique terms, s
	residuals []float64 // of each arrival, s
}

func newFaceFit(elements []r3.Vec, arrivals []Arrival, o *Options) *faceFit {
	f := &faceFit{o: o, arrivals: arrivals, residuals: make([]float64, len(arrivals)), sine: math.Sin(o.MaxIncidence)}
	for _, e := range elements {
		f.middle = r3.Add(f.middle, r3.Scale(1/float64(len(elements)), e))
	}
	for k := range arrivals {
		f.all = append(f.all, k)
	}
	for _, e := range elements {
		f.elements = append(f.elements, r3.Sub(e, f.middle))
	}
	wideX, wideY := widths(elements)
	if o.Distance.Value == 0 {
		f.free = append(f.free, distanceParameter)
	}
	if o.Facing == Inclined && wideX {
		f.slopes = append(f.slopes, angleParameter)
	}
	if o.Facing == Inclined && wideY {
		f.slopes = append(f.slopes, roofParameter)
	}
	f.free = append(f.free, f.slopes...)
	if o.Speed.Value == 0 {
		f.free = append(f.free, speedParameter)
	}
	f.free = append(f.free, oblique[:]...)
	return f
}

// time returns the time of arrival k without the offset of the instrument.
func (f *faceFit) time(k int) float64 { return f.arrivals[k].Time - f.o.Offset.Value }

// shape returns the derivative of the height of an element with respect to a
// parameter of the heights.
func (f *faceFit) shape(parameter, element int) float64 {
	switch parameter {
	case angleParameter:
		return f.elements[element].X
	case roofParameter:
		return f.elements[element].Y
	}
	return 1
}

// height returns the height of an element over the face.
func (f *faceFit) height(element int) float64 {
	return f.params[distanceParameter] + f.params[angleParameter]*f.shape(angleParameter, element) +
		f.params[roofParameter]*f.shape(roofParameter, element)
}

// echo is the echo of the face between two elements, computed from the parameters.
type echo struct {
	time  float64 // s
	sine  float64 // of the angle of incidence
	slope [allParameters]float64
}

// echo returns the echo between the elements of arrival k.
func (f *faceFit) echo(k int) (e echo) {
	tx, rx := f.arrivals[k].Transmit, f.arrivals[k].Receive
	h1, h2 := f.height(tx), f.height(rx)
	apart := r3.Norm(r3.Sub(f.elements[tx], f.elements[rx]))
	c := f.params[speedParameter]
	length := math.Sqrt(apart*apart + 4*h1*h2)
	e.time = length / c
	// The difference of the heights is the part of the distance between the elements along the
	// normal.
	e.sine = math.Sqrt(max(0, (apart-h1+h2)*(apart+h1-h2))) / length
	for p := distanceParameter; p <= roofParameter; p++ {
		e.slope[p] = 2 * (f.shape(p, tx)*h2 + f.shape(p, rx)*h1) / (length * c)
	}
	e.slope[speedParameter] = -e.time / c
	share := e.sine * e.sine / (obliqueSine * obliqueSine)
	e.slope[obliqueParameter] = share
	e.slope[steepParameter] = share * e.sine * e.sine / (f.sine * f.sine)
	e.slope[pathParameter] = share * ((h1+h2)/(2*f.params[distanceParameter]) - 1)
	for _, p := range oblique {
		e.time += f.params[p] * e.slope[p]
	}
	return e
}

// refine minimises the deviations of the times.
func (f *faceFit) refine() error {
	const selections, most = 5, 100
	for i := range most {
		if i < selections {
			f.choose()
		}
		step, err := f.step(f.selected, f.robustWeights())
		if err != nil {
			return err
		}
		if i >= selections && step <= 1e-10 {
			break
		}
	}
	scatter := f.scatter()
	f.weigh(scatter)
	for _, k := range f.selected {
		if math.Abs(f.residuals[k]) <= rejection*scatter {
			f.used = append(f.used, k)
		}
	}
	for range most {
		step, err := f.step(f.used, equal(f.used))
		if err != nil {
			return err
		}
		if step <= 1e-12 {
			return nil
		}
	}
	return fmt.Errorf("calibrate: %w: the fit does not settle", ErrUndetermined)
}

// choose selects one arrival of each pair: the arrival nearest to the time that the parameters
// give, if it is within the tolerance.
func (f *faceFit) choose() {
	nearest := make(map[[2]int]int)
	f.update(f.all)
	for k, a := range f.arrivals {
		if !(math.Abs(f.residuals[k]) <= f.o.Tolerance) {
			continue
		}
		if a.Transmit != a.Receive && !(f.echo(k).sine <= f.sine) {
			continue
		}
		pair := [2]int{a.Transmit, a.Receive}
		if best, taken := nearest[pair]; !taken || math.Abs(f.residuals[k]) < math.Abs(f.residuals[best]) {
			nearest[pair] = k
		}
	}
	f.selected = f.selected[:0]
	for _, k := range nearest {
		f.selected = append(f.selected, k)
	}
	slices.Sort(f.selected) // so that sums do not depend on the order of a map
}

// update computes the residuals of the given arrivals.
func (f *faceFit) update(arrivals []int) {
	for _, k := range arrivals {
		f.residuals[k] = f.time(k) - f.echo(k).time
	}
}

// scatter returns the robust standard deviation of the selected residuals.
func (f *faceFit) scatter() float64 {
	sizes := make([]float64, len(f.selected))
	for i, k := range f.selected {
		sizes[i] = f.residuals[k]
	}
	return robustScatter(sizes, len(f.free))
}

// robustScatter returns 1.4826 times the median of the absolute values. For a normal distribution
// about 0 this is the standard deviation. The result is larger if the number of values is only a
// little above the number of fitted parameters. Both rules are from memory of Rousseeuw and Leroy,
// Robust Regression and Outlier Detection, 1987.
func robustScatter(values []float64, fitted int) float64 {
	if len(values) == 0 {
		return leastScatter
	}
	sizes := make([]float64, len(values))
	for i, v := range values {
		sizes[i] = math.Abs(v)
	}
	few := 1 + 5/float64(max(1, len(values)-fitted))
	return max(1.4826*few*number.Median(sizes), leastScatter)
}

// biweightOf returns Tukey's weight of a residual.
func biweightOf(residual, scatter float64) float64 {
	u := residual / (biweight * scatter)
	return math.Pow(max(0, 1-u*u), 2)
}

// robustWeights returns the weights of the selected arrivals.
func (f *faceFit) robustWeights() []float64 {
	scatter := f.scatter()
	f.weigh(scatter)
	weights := make([]float64, len(f.selected))
	for i, k := range f.selected {
		weights[i] = biweightOf(f.residuals[k], scatter)
	}
	return weights
}

// weigh sets the noise of the times, and the uncertainty of the oblique terms against which it is
// weighted. Echoes that overlap scatter the times in ways that depend on the angle of incidence, so
// the scatter widens the uncertainty.
func (f *faceFit) weigh(scatter float64) {
	f.oblique = math.Hypot(f.o.Oblique, overlap*scatter)
	f.noise = max(scatter, obliqueDetail*f.o.Oblique)
}

// equal returns a weight of 1 for each of the arrivals.
func equal(arrivals []int) []float64 {
	weights := make([]float64, len(arrivals))
	for i := range weights {
		weights[i] = 1
	}
	return weights
}

// step takes one Gauss-Newton step on the given arrivals. It returns the size of the step relative
// to the parameters. For the slopes the size is relative to their range.
func (f *faceFit) step(arrivals []int, weights []float64) (size float64, err error) {
	respond, err := f.response(arrivals, weights)
	if err != nil {
		return 0, err
	}
	f.update(arrivals)
	old := f.params
	for i, p := range f.free {
		change := 0.0
		for j, k := range arrivals {
			change += respond.At(i, j) * f.residuals[k]
		}
		for j, q := range oblique {
			change -= respond.At(i, len(arrivals)+j) * old[q]
		}
		f.params[p] += change
		size = max(size, math.Abs(change/f.unit(p)))
	}
	if s := math.Hypot(f.params[angleParameter], f.params[roofParameter]); !(s < 1) {
		doubt := "is the speed right?"
		if f.o.Speed.Value == 0 {
			doubt = "the arrivals do not determine the speed"
		}
		return 0, fmt.Errorf("calibrate: %w: the heights grow faster than the elements are apart; %s", ErrUndetermined, doubt)
	}
	for e := range f.elements {
		if !(f.height(e) > 0) {
			return 0, fmt.Errorf("calibrate: %w: the fit puts element %d behind the face",
				ErrUndetermined, e)
		}
	}
	f.update(arrivals)
	return size, nil
}

// response returns the derivatives of each sought parameter with respect to the time of each given
// arrival, and with respect to the expectation of each oblique term. They are the matrix
// (JᵀWJ)⁻¹JᵀW of weighted least squares. J holds the derivatives of the times and of the terms.
func (f *faceFit) response(arrivals []int, weights []float64) (*mat.Dense, error) {
	n, rows := len(f.free), len(arrivals)+len(oblique)
	if want := n - len(oblique); len(arrivals) < want {
		return nil, fmt.Errorf("calibrate: %w: %d arrivals agree on a face, want at least %d",
			ErrUndetermined, len(arrivals), want)
	}
	slope, weighted := mat.NewDense(rows, n, nil), mat.NewDense(rows, n, nil)
	for j, k := range arrivals {
		e := f.echo(k)
		for i, p := range f.free {
			slope.Set(j, i, e.slope[p]*f.unit(p))
			weighted.Set(j, i, weights[j]*e.slope[p]*f.unit(p))
		}
	}
	expected := f.noise / f.oblique // the square is the weight of an expectation
	for i, p := range f.free {
		for j, q := range oblique {
			if p == q {
				slope.Set(len(arrivals)+j, i, f.unit(p))
				weighted.Set(len(arrivals)+j, i, expected*expected*f.unit(p))
			}
		}
	}
	var normal, respond mat.Dense
	normal.Mul(slope.T(), weighted)
	// A condition that makes the result meaningless is an error of Solve.
	if err := respond.Solve(&normal, weighted.T()); err != nil {
		return nil, fmt.Errorf("calibrate: %w: the arrivals do not determine what is sought (%v)",
			ErrUndetermined, err)
	}
	for i, p := range f.free {
		for j := range rows {
			respond.Set(i, j, respond.At(i, j)*f.unit(p))
		}
	}
	return &respond, nil
}

// unit returns the size of a parameter, by which it is scaled in the fit. For a delay it is the
// time of the echo, so that the effects of all parameters on the times are of one size.
func (f *faceFit) unit(parameter int) float64 {
	switch parameter {
	case distanceParameter, speedParameter:
		return f.params[parameter]
	case obliqueParameter, steepParameter, pathParameter:
		return 2 * f.params[distanceParameter] / f.params[speedParameter]
	}
	widest := 0.0
	for e := range f.elements {
		widest = max(widest, math.Abs(f.shape(parameter, e)))
	}
	return f.params[distanceParameter] / widest
}
