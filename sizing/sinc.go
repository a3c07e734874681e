// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/integrate/quad"
)

// sinc2 returns (sin(πu)/(πu))².
func sinc2(u float64) float64 {
	if u == 0 {
		return 1
	}
	s := math.Sin(math.Pi*u) / (math.Pi * u)
	return s * s
}

// The integral of sinc2 is in a table up to sincFar, and in a series beyond.
const (
	sincFar  = 6
	sincStep = 1.0 / 256
)

// sincTable holds the integral of sinc2 from 0 to each multiple of sincStep.
var sincTable = sync.OnceValue(func() []float64 {
	table := make([]float64, sincFar/sincStep+2)
	for i := 1; i < len(table); i++ {
		u := float64(i) * sincStep
		table[i] = table[i-1] + quad.Fixed(sinc2, u-sincStep, u, 8, quad.Legendre{}, 1)
	}
	return table
})

// sinc2Integral returns the integral of sinc2 from 0 to u. Its error is below 1e-10.
func sinc2Integral(u float64) float64 {
	if u < 0 {
		return -sinc2Integral(-u)
	}
	if u < sincFar { // cubic, by the values and the derivatives at both ends of a step
		table := sincTable()
		i := int(u / sincStep)
		a := float64(i) * sincStep
		t := (u - a) / sincStep
		rise := table[i+1] - table[i]
		before, behind := sinc2(a)*sincStep, sinc2(a+sincStep)*sincStep
		return table[i] + t*(rise+(1-t)*((1-t)*(before-rise)-t*(behind-rise)))
	}
	sin := math.Sin(math.Pi * u)
	return sineIntegral(2*math.Pi*u)/math.Pi - sin*sin/(math.Pi*math.Pi*u)
}

// sineIntegral returns Si(x), the integral of sin(t)/t from 0 to x, for x above 32. It is the
// asymptotic series of M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 5.2.8,
// 5.2.34 and 5.2.35 (from memory).
func sineIntegral(x float64) float64 {
	// f = 1/x·(1 − 2!/x² + 4!/x⁴ …) and g = 1/x²·(1 − 3!/x² + 5!/x⁴ …)
	f, g := 0.0, 0.0
	a, b := 1/x, 1/(x*x)
	for k := 0.0; k < 28; k += 2 {
		f, g = f+a, g+b
		a *= -(k + 1) * (k + 2) / (x * x)
		b *= -(k + 2) * (k + 3) / (x * x)
	}
	sin, cos := math.Sincos(x)
	return math.Pi/2 - f*cos - g*sin
}
