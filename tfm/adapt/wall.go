// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"errors"
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// WallOptions modifies [FindWall]. Nil stands for the zero value.
type WallOptions struct {
	// FromPulse measures from the transmitted pulse to the echo of the wall, for an array in
	// contact whose record holds one wall echo only. The interval then contains the whole error of
	// the time zero. Otherwise the interval lies between two echoes of a trace.
	FromPulse bool
	// Common is the standard uncertainty of the interval that all elements share, s, finite, at
	// least 0. 0 stands for a fortieth of the period of the centre frequency.
	Common float64
	// Pick says which echoes of the traces are candidates. Nil stands for the ten strongest echoes
	// above a fiftieth of the strongest: from water, a wall is much weaker than the front.
	Pick *calibrate.PickOptions
}

// Wall is the interval between successive echoes of a wall.
type Wall struct {
	Interval calibrate.Estimate // s
	Used     int                // number of elements that agree
}

// FindWall measures the interval between successive echoes in the pulse-echo traces of a capture.
// The echoes come from the two parallel surfaces of a plate or a pipe: the front surface and the
// wall in immersion, or the wall and its repetition in contact. Only intervals from least to most
// count, in s. They follow from the range of the thickness and of the speed of the mode, 2d/c. Of
// the pairs of echoes of a trace the pair with the largest product of amplitudes counts.
//
// The standard uncertainty is the scatter of the elements, divided by the square root of their
// number, and the common part. The error wraps [ErrUndetermined] if fewer than half of the elements
// that transmit and receive agree on an interval, or fewer than five.
func FindWall(c *fmc.Capture, least, most float64, options *WallOptions) (*Wall, error) {
	var o WallOptions
	if options != nil {
		o = *options
	}
	switch {
	case c == nil:
		return nil, errors.New("adapt: wall of no capture: want a capture")
	case !(least > 0 && most > least && number.Finite(most)):
		return nil, fmt.Errorf("adapt: interval from %v to %v s: want finite values above 0 in ascending order", least, most)
	case !(o.Common >= 0 && number.Finite(o.Common)):
		return nil, fmt.Errorf("adapt: common uncertainty %v s: want a finite value of at least 0", o.Common)
	}
	if o.Pick == nil {
		o.Pick = &calibrate.PickOptions{Most: 10, Least: 0.02}
	}
	arrivals, err := calibrate.Pick(c, o.Pick)
	if err != nil {
		return nil, err
	}
	if o.Common == 0 {
		o.Common = 1 / c.Array.CentreFrequency / 40
	}
	traces := make([][]calibrate.Arrival, len(c.Array.Elements))
	for _, a := range arrivals {
		if a.Transmit == a.Receive {
			traces[a.Transmit] = append(traces[a.Transmit], a)
		}
	}
	var intervals []float64
	for _, echoes := range traces {
		from := echoes
		if o.FromPulse {
			from = []calibrate.Arrival{{Amplitude: 1}}
		}
		if interval, ok := strongestInterval(from, echoes, least, most); ok {
			intervals = append(intervals, interval)
		}
	}
	return agree(intervals, (len(traces)+1)/2, 1/c.Array.CentreFrequency/2, o.Common)
}

// strongestInterval returns the interval, in a range, from the first to the second echo of the
// strongest pair.
func strongestInterval(first, second []calibrate.Arrival, least, most float64) (interval float64, ok bool) {
	best := 0.0
	for _, a := range first {
		for _, b := range second {
			d := b.Time - a.Time
			if product := a.Amplitude * b.Amplitude; d >= least && d <= most && product > best {
				best, interval, ok = product, d, true
			}
		}
	}
	return interval, ok
}

// agree returns the mean of the intervals that lie within half a period of their median.
func agree(intervals []float64, want int, halfPeriod, common float64) (*Wall, error) {
	var sum, squares float64
	used := 0
	if len(intervals) > 0 {
		median := number.Median(intervals)
		for _, v := range intervals {
			if d := v - median; math.Abs(d) <= halfPeriod {
				sum, squares, used = sum+d, squares+d*d, used+1
			}
		}
		if used >= max(want, minElements) {
			n := float64(used)
			mean := sum / n
			scatter := math.Sqrt(max(0, squares/n-mean*mean) / (n - 1))
			return &Wall{calibrate.Estimate{Value: median + mean, Uncertainty: math.Hypot(scatter, common)}, used}, nil
		}
	}
	return nil, fmt.Errorf("adapt: %w: %d elements agree on the interval of a wall, want at least %d",
		ErrUndetermined, used, max(want, minElements))
}

// Thickness returns the thickness c·Δ/2 in m, for a speed in m/s and the interval Δ.
func (w *Wall) Thickness(speed calibrate.Estimate) calibrate.Estimate {
	d := speed.Value * w.Interval.Value / 2
	return calibrate.Estimate{Value: d, Uncertainty: math.Abs(d) *
		math.Hypot(speed.Uncertainty/speed.Value, w.Interval.Uncertainty/w.Interval.Value)}
}

// Speed returns the speed 2d/Δ in m/s, for a thickness d in m and the interval Δ.
func (w *Wall) Speed(thickness calibrate.Estimate) calibrate.Estimate {
	c := 2 * thickness.Value / w.Interval.Value
	return calibrate.Estimate{Value: c, Uncertainty: math.Abs(c) *
		math.Hypot(thickness.Uncertainty/thickness.Value, w.Interval.Uncertainty/w.Interval.Value)}
}
