// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package detection

import (
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// beetles are the published data of C. I. Bliss (1935): log doses, numbers of beetles, and deaths.
// The printed fit is in A. J. Dobson, An Introduction to Generalized Linear Models: logit -60.72,
// 34.27, deviance 11.23 (from memory). The further digits are from an independent calculation.
var beetles = []Group{
	{1.6907, 59, 6}, {1.7242, 60, 13}, {1.7552, 62, 18}, {1.7842, 56, 28},
	{1.8113, 63, 52}, {1.8369, 59, 53}, {1.8610, 62, 61}, {1.8839, 60, 60},
}

// flights are 23 yes-or-no trials over a temperature, published data of 1986: damage at 53, 57, 58,
// 63, 70, 70 and 75. The printed fit is 15.0429 and -0.2322. The further digits are from an
// independent calculation.
func flights() []Group {
	var groups []Group
	for _, yes := range []float64{53, 57, 58, 63, 70, 70, 75} {
		groups = append(groups, Group{yes, 1, 1})
	}
	for _, no := range []float64{66, 67, 67, 67, 68, 69, 70, 70, 72, 73, 75, 76, 76, 78, 79, 81} {
		groups = append(groups, Group{no, 1, 0})
	}
	return groups
}

// cracks are 40 invented hits and misses over a size in mm, for which independent fits exist.
func cracks() []Group {
	var groups []Group
	for _, miss := range []float64{0.3, 0.4, 0.5, 0.5, 0.6, 0.7, 0.8, 0.8, 0.9, 1.0, 1.1, 1.2, 1.4, 1.6, 2.1} {
		groups = append(groups, Group{miss, 1, 0})
	}
	for _, hit := range []float64{0.7, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.7, 1.8, 1.9, 2.0, 2.2, 2.3, 2.5, 2.6,
		2.8, 3.0, 3.2, 3.4, 3.6, 3.8, 4.0, 4.3, 4.6, 5.0} {
		groups = append(groups, Group{hit, 1, 1})
	}
	return groups
}

func TestFitHitMiss(t *testing.T) {
	for _, c := range []struct {
		name                       string
		groups                     []Group
		options                    *HitMissOptions
		intercept, slope, deviance string
		interceptError, slopeError string // empty: not known
	}{
		{"beetles, logit", beetles, &HitMissOptions{Linear: true}, "-60.717455", "34.270326", "11.232231", "5.180711", "2.912140"},
		{"beetles, probit", beetles, &HitMissOptions{Linear: true, Link: Probit}, "-34.935259", "19.727934", "10.119758", "", ""},
		{"beetles, complementary log-log", beetles, &HitMissOptions{Linear: true, Link: ComplementaryLogLog},
			"-39.572311", "22.041170", "3.446439", "", ""},
		{"flights: a curve that falls", flights(), &HitMissOptions{Linear: true}, "15.042902", "-0.232163", "20.315193", "7.378636", "0.108237"},
		{"cracks, logit", cracks(), nil, "-0.54032361", "3.54120177", "29.140002", "0.532749", "1.118478"},
		{"cracks, probit", cracks(), &HitMissOptions{Link: Probit}, "-0.31647546", "2.05910278", "", "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			curve := check.Must(FitHitMiss(c.groups, c.options))
			for _, number := range []struct {
				what string
				got  float64
				want string
			}{
				{"intercept", curve.Intercept, c.intercept}, {"slope", curve.Slope, c.slope}, {"deviance", curve.Deviance, c.deviance},
				{"standard error of the intercept", math.Sqrt(curve.Covariance[0][0]), c.interceptError},
				{"standard error of the slope", math.Sqrt(curve.Covariance[1][1]), c.slopeError},
			} {
				if number.want != "" {
					check.Printed(t, number.what, number.got, number.want)
				}
			}
		})
	}
	check.Within(t, "x50 of the beetles", check.Must(FitHitMiss(beetles, &HitMissOptions{Linear: true})).Size(0.5), 1.771720964, 1e-9)
}

// TestBound compares with independent calculations of the three methods. They differ by 36 %.
func TestBound(t *testing.T) {
	for _, c := range []struct {
		link                         Link
		a50, a90, ratio, delta, wald string
	}{
		{Logit, "1.164837963", "2.166377153", "3.501512", "3.086916", "4.190599"},
		{Probit, "1.166136098", "2.172936088", "", "3.005081", "3.728055"},
	} {
		curve := check.Must(FitHitMiss(cracks(), &HitMissOptions{Link: c.link}))
		check.Printed(t, "a50", curve.Size(0.5), c.a50)
		check.Printed(t, "a90", curve.Size(0.9), c.a90)
		if c.ratio != "" {
			check.Printed(t, "likelihood ratio", check.Must(curve.Bound(0.9, 0.95, LikelihoodRatio)), c.ratio)
		}
		check.Printed(t, "delta", check.Must(curve.Bound(0.9, 0.95, Delta)), c.delta)
		check.Printed(t, "pointwise Wald", check.Must(curve.Bound(0.9, 0.95, PointwiseWald)), c.wald)
	}
}

// TestManyFlaws repeats a trial 1000 times: the three bounds then agree, and lie above a90.
func TestManyFlaws(t *testing.T) {
	groups := cracks()
	for i := range groups {
		groups[i].Trials *= 1000
		groups[i].Hits *= 1000
	}
	for link := Logit; link <= ComplementaryLogLog; link++ {
		curve := check.Must(FitHitMiss(groups, &HitMissOptions{Link: link}))
		delta := check.Must(curve.Bound(0.9, 0.95, Delta))
		if a90 := curve.Size(0.9); !(delta > 1.005*a90 && delta < 1.02*a90) {
			t.Errorf("link %d: bound %v, a90 %v", link, delta, a90)
		}
		for _, method := range []Method{LikelihoodRatio, PointwiseWald} {
			check.Within(t, "bound over the bound by delta", check.Must(curve.Bound(0.9, 0.95, method))/delta, 1, 5e-4)
		}
	}
}

// TestInvariance checks what must not change a result: the unit of the size, the order of the
// groups, and the joining of flaws of one size.
func TestInvariance(t *testing.T) {
	of := func(groups []Group) (a90, bound float64) {
		c := check.Must(FitHitMiss(groups, nil))
		return c.Size(0.9), check.Must(c.Bound(0.9, 0.95, LikelihoodRatio))
	}
	a90, bound := of(cracks())
	metres, reversed, joined := cracks(), cracks(), []Group(nil)
	at := map[float64]int{}
	for i, g := range cracks() {
		metres[i].Size /= 1000
		reversed[len(reversed)-1-i] = g
		j, known := at[g.Size]
		if !known {
			j = len(joined)
			at[g.Size], joined = j, append(joined, Group{Size: g.Size})
		}
		joined[j].Trials += g.Trials
		joined[j].Hits += g.Hits
	}
	for _, c := range []struct {
		name   string
		groups []Group
		unit   float64
	}{{"metres", metres, 1e-3}, {"reversed", reversed, 1}, {"joined", joined, 1}} {
		gotA90, gotBound := of(c.groups)
		check.Within(t, c.name+": a90", gotA90/c.unit, a90, 1e-7)
		check.Within(t, c.name+": bound", gotBound/c.unit, bound, 1e-7)
	}
}

// TestCurve checks At against Size, and the closed forms of a90 for curves of a log-normal shape:
// ln a90 = μ + 1.281551566·σ for the probit, and μ + 1.211393399·σ for log-odds that are written
// with π/√3.
func TestCurve(t *testing.T) {
	const mu, sigma = 0.3, 0.4
	probit := &Curve{Link: Probit, Intercept: -mu / sigma, Slope: 1 / sigma}
	check.Within(t, "ln a90, probit", math.Log(probit.Size(0.9)), mu+1.281551566*sigma, 1e-9)
	steep := math.Pi / math.Sqrt(3) / sigma
	logit := &Curve{Intercept: -mu * steep, Slope: steep}
	check.Within(t, "ln a90, logit", math.Log(logit.Size(0.9)), mu+1.211393399*sigma, 1e-9)
	for link := Logit; link <= ComplementaryLogLog; link++ {
		c := &Curve{Link: link, Intercept: -1, Slope: 2}
		for _, p := range []float64{0.01, 0.5, 0.9, 0.99} {
			check.Within(t, "probability at the size of the probability", c.At(c.Size(p)), p, 1e-12)
		}
		const step = 1e-5
		for e := -3.0; e <= 1; e += 0.5 {
			f, miss, slope := link.mean(e)
			up, _, _ := link.mean(e + step)
			down, _, _ := link.mean(e - step)
			check.Within(t, "hit and miss", f+miss, 1, 1e-15)
			check.Within(t, "derivative", slope, (up-down)/(2*step), 1e-9)
		}
	}
	for name, got := range map[string]float64{"size 0": probit.At(-1), "probability 0": probit.Size(0), "probability 1": probit.Size(1)} {
		if !math.IsNaN(got) {
			t.Errorf("%s: %v, want NaN", name, got)
		}
	}
}

func TestHitMissErrors(t *testing.T) {
	for _, c := range []struct {
		name    string
		groups  []Group
		options *HitMissOptions
		want    string
	}{
		{"nothing", nil, nil, "no group"},
		{"no miss", []Group{{1, 5, 5}, {2, 5, 5}}, nil, "too few data: no flaw was missed"},
		{"no hit", []Group{{1, 5, 0}, {2, 5, 0}}, nil, "too few data: no flaw was detected"},
		{"one size", []Group{{1, 5, 3}, {1, 5, 4}}, nil, "one size"},
		{"all hits above all misses", []Group{{1, 5, 0}, {2, 5, 5}}, nil, "separation"},
		{"hits and misses meet at one size", []Group{{1, 5, 0}, {2, 5, 3}, {3, 5, 5}}, nil, "separation"},
		{"all hits below all misses", []Group{{1, 5, 5}, {2, 5, 0}}, nil, "separation"},
		{"size 0", []Group{{0, 5, 0}}, nil, "size 0 at index 0"},
		{"size not a number", []Group{{math.NaN(), 5, 0}}, &HitMissOptions{Linear: true}, "size NaN"},
		{"no trials", []Group{{1, 0, 0}}, nil, "0 hits in 0 trials"},
		{"more hits than trials", []Group{{1, 2, 3}}, nil, "3 hits in 2 trials"},
		{"link", []Group{{1, 2, 1}}, &HitMissOptions{Link: 7}, "link 7"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := FitHitMiss(c.groups, c.options)
			check.Error(t, err, c.want)
		})
	}
}

func TestBoundErrors(t *testing.T) {
	good := check.Must(FitHitMiss(cracks(), nil))
	falls := check.Must(FitHitMiss(flights(), &HitMissOptions{Linear: true}))
	few := check.Must(FitHitMiss([]Group{{1, 3, 1}, {2, 3, 2}}, nil))
	for _, c := range []struct {
		name            string
		curve           *Curve
		pod, confidence float64
		method          Method
		want            string
	}{
		{"probability", good, 1, 0.95, Delta, "probability of detection 1"},
		{"confidence", good, 0.9, 0.5, Delta, "confidence 0.5"},
		{"no method", good, 0.9, 0.95, 0, "method 0"},
		{"no data", &Curve{Slope: 1}, 0.9, 0.95, Delta, "without data"},
		{"a curve that falls", falls, 0.9, 0.95, Delta, "no finite bound"},
		{"too few flaws", few, 0.9, 0.95, LikelihoodRatio, "no finite bound"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := c.curve.Bound(c.pod, c.confidence, c.method)
			check.Error(t, err, c.want)
		})
	}
}
