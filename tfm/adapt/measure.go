// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/tfm"
)

// Measure is a measure of the sharpness of an image. All measures are larger for a sharper image.
// With the amplitudes a of the envelope, in M pixels:
type Measure uint8

// The measures of sharpness.
const (
	// Peak is the level of the highest amplitude in dB relative to 1, between pixels. It is the
	// only measure whose maximum does not depend on the size of the spot in the image: a spot grows
	// with the wavelength, so the other measures prefer a low speed of the part. [Focus] knows the
	// uncertainty for Peak only.
	Peak Measure = iota
	// Brenner is the sum of the squared differences of amplitudes two pixels apart, along x and
	// along z, divided by the sum of squares.
	Brenner
	// Variance is the variance divided by the square of the mean.
	Variance
	// Entropy is Σ p·ln p for the shares p = a/Σa: minus the entropy.
	Entropy
	// Energy is Σ a²/(Σ a)².
	Energy
	// Kurtosis is the fourth central moment divided by the square of the variance.
	Kurtosis
	measures
)

var measureNames = [measures]string{"peak", "Brenner", "variance", "entropy", "energy", "kurtosis"}

// String returns the name of the measure.
func (m Measure) String() string {
	if m < measures {
		return measureNames[m]
	}
	return fmt.Sprintf("Measure(%d)", uint8(m))
}

// Of returns the sharpness of the first slice of an envelope. It is NaN for an image of zeros,
// except for Peak, which is then -Inf. It is NaN without pixels.
func (m Measure) Of(e *tfm.Envelope) float64 {
	if n := e.Cols * e.Rows; n == 0 || len(e.Data) < n {
		return math.NaN()
	}
	a := e.Data[:e.Cols*e.Rows]
	switch m {
	case Peak:
		level, _, _, _ := peak(a, e.Cols, e.Rows)
		return level
	case Brenner:
		across, down, squares := brenner(a, e.Cols, e.Rows)
		return (across + down) / squares
	case Entropy:
		return entropy(a)
	}
	var sum, squares float64
	for _, v := range a {
		sum += float64(v)
		squares += float64(v) * float64(v)
	}
	if m == Energy {
		return squares / (sum * sum)
	}
	mean := sum / float64(len(a))
	var second, fourth float64
	for _, v := range a {
		d := float64(v) - mean
		second += d * d
		fourth += d * d * d * d
	}
	second /= float64(len(a))
	fourth /= float64(len(a))
	if m == Kurtosis {
		return fourth / (second * second)
	}
	return second / (mean * mean)
}

// brenner returns the sums of squared differences over two pixels, and the sum of squares.
func brenner(a []float32, cols, rows int) (across, down, squares float64) {
	for r := range rows {
		for c := range cols {
			v := float64(a[r*cols+c])
			squares += v * v
			if c+2 < cols {
				d := float64(a[r*cols+c+2]) - v
				across += d * d
			}
			if r+2 < rows {
				d := float64(a[(r+2)*cols+c]) - v
				down += d * d
			}
		}
	}
	return across, down, squares
}

// entropy returns Σ p·ln p of the shares of the amplitudes.
func entropy(a []float32) float64 {
	var sum, logs float64
	for _, v := range a {
		if v > 0 {
			sum += float64(v)
			logs += float64(v) * math.Log(float64(v))
		}
	}
	return logs/sum - math.Log(sum)
}

// peak returns the level of the highest amplitude in dB, the index of its pixel, and the place of
// the peak relative to this pixel, in columns and rows. The level between pixels is the top of the
// quadric through the logarithms of the pixel and its neighbours, with a mixed term for a spot that
// leans. It is exact for a Gaussian spot.
func peak(a []float32, cols, rows int) (level float64, index int, right, down float64) {
	for i, v := range a {
		if v > a[index] {
			index = i
		}
	}
	c, r := index%cols, index/cols
	log := func(dc, dr int) float64 { return math.Log(float64(a[index+dr*cols+dc])) }
	top := log(0, 0)
	if c > 0 && c < cols-1 && r > 0 && r < rows-1 {
		x, z := (log(1, 0)-log(-1, 0))/2, (log(0, 1)-log(0, -1))/2
		xx, zz := log(1, 0)+log(-1, 0)-2*top, log(0, 1)+log(0, -1)-2*top
		xz := (log(1, 1) - log(1, -1) - log(-1, 1) + log(-1, -1)) / 4
		if d := xx*zz - xz*xz; xx < 0 && d > 0 && !math.IsInf(d, 0) {
			right, down = (xz*z-zz*x)/d, (xz*x-xx*z)/d
			if max(math.Abs(right), math.Abs(down)) > 1 { // no top near the pixel
				return top * 20 / math.Ln10, index, 0, 0
			}
			top += (x*right + z*down) / 2
		}
	}
	return top * 20 / math.Ln10, index, right, down
}
