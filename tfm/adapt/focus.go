// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// Verdict says whether the data determine a parameter.
type Verdict uint8

// The verdicts. All but the first mean that the data cannot tell the value.
const (
	Determined Verdict = iota
	// NoReflector: the signals at a peak do not agree better than noise does by chance.
	NoReflector
	// AtEnd: the image is sharpest at an end of the range.
	AtEnd
	// Flat: between the best value and an end of the range the level of the peaks falls by less
	// than [FocusOptions.LeastDrop].
	Flat
	// Uncertain: the interval of 95 % is as long as the range, or unknown.
	Uncertain
	// OutsideRegion: a peak lies at the edge of its region, so that the reflector may lie outside.
	OutsideRegion
)

var verdictNames = []string{"determined", "no reflector", "at an end of the range", "flat", "uncertain",
	"outside a region"}

// String returns the verdict in words.
func (v Verdict) String() string {
	if int(v) < len(verdictNames) {
		return verdictNames[v]
	}
	return fmt.Sprintf("Verdict(%d)", uint8(v))
}

// FocusOptions modifies [Focus]. Nil stands for the zero value.
type FocusOptions struct {
	Band tfm.Band // pass band; the zero value stands for [tfm.DefaultBand] of the array
	// Radius is the known radius of the holes in the regions, m, finite, at least 0; 0 stands for
	// points. The echo of a hole comes from its near face, and its wavefront is the wavefront of a
	// point near the axis. A hole that is taken for a point makes a speed too high, by the share
	// R/4z for the radius R and the depth z in contact.
	Radius float64
	// Steps is the number of values of the first scan, at least 5; 0 stands for 17. Neighbouring
	// values should change the level of the peak by less than about 3 dB.
	Steps int
	// Common is the standard uncertainty of the times that neighbouring signals share, s, finite,
	// at least 0. Its worst shape along the array looks like an error of the parameter. 0 stands
	// for 0.1 ns in contact, the error of interpolated times. With a coupling, 0 stands for a
	// fortieth of the period of the centre frequency: the phase that a boundary adds depends on the
	// contact.
	Common float64
	// LeastDrop is the least fall of the level of the peaks from the best value to both ends of the
	// range, as a positive number of dB. The value 0 stands for 1 dB. Smaller drops have other
	// causes than focus: transmission, directivity, other echoes.
	LeastDrop float64
	Workers   int // largest number of goroutines; 0 stands for all cores
}

// Focused is the value of a parameter at which the image is sharpest.
type Focused struct {
	// Value holds the standard uncertainty from the scatter of the signals and from
	// [FocusOptions.Common]. It does not hold the uncertainties of the parameters that the Trial
	// keeps. It has a meaning only if the Verdict is Determined.
	Value   calibrate.Estimate
	Verdict Verdict
	// Drop is the fall of the level of the peaks from the best value to an end of the range, in dB,
	// above 0 for a fall. Of the two ends it is the smaller fall. With the best value at an end, it
	// is the range of all levels.
	Drop float64
	// Scan holds the values of the first scan, in ascending order, with the level of each.
	Scan []ScanPoint
}

// ScanPoint is one value of the parameter, with the level of the peaks in dB relative to the
// amplitude 1, as the mean over the regions.
type ScanPoint struct{ Value, LevelDB float64 }

// Focus finds the value of a parameter at which the image of a view is sharpest, within a range.
// Regions are the surroundings of reflectors, one for each, in m. Every region should hold its
// reflector for all values of the range, and no stronger echo. The pixels should be at most an
// eighth of the wavelength high. The image is sharpest where the level of the peaks, as the mean
// over the regions, is highest.
//
// The error names an argument out of range, or is the error of ctx if ctx ends early.
func Focus(ctx context.Context, c *fmc.Capture, view string, regions []tfm.Grid, trial Trial,
	within wedge.Interval, options *FocusOptions) (*Focused, error) {
	f, err := newFocuser(c, view, regions, trial, within, options)
	if err != nil {
		return nil, err
	}
	if err := f.prepare(); err != nil {
		return nil, err
	}
	out := &Focused{Scan: make([]ScanPoint, f.o.Steps)}
	scan := make([]reading, f.o.Steps)
	step := (within.Max - within.Min) / float64(f.o.Steps-1)
	err = parallel.Do(ctx, f.o.Steps, parallel.Options{Workers: f.o.Workers}, func() func(int) error {
		return func(i int) (err error) {
			out.Scan[i].Value = within.Min + float64(i)*step
			scan[i], err = f.read(ctx, out.Scan[i].Value)
			out.Scan[i].LevelDB = scan[i].level
			return err
		}
	})
	if errors.Is(err, errEmpty) {
		out.Value, out.Verdict = unknown, NoReflector
		return out, nil
	}
	if err != nil {
		return nil, err
	}
	best := 0
	for i, p := range out.Scan {
		if p.LevelDB > out.Scan[best].LevelDB {
			best = i
		}
	}
	if best == 0 || best == f.o.Steps-1 {
		out.Value, out.Verdict = calibrate.Estimate{Value: out.Scan[best].Value, Uncertainty: math.NaN()}, AtEnd
		if out.Drop = span(scan); out.Drop < f.o.LeastDrop {
			out.Verdict = Flat
		}
		return out, nil
	}
	return out, f.refine(ctx, out, scan, best)
}

// span returns the difference between the highest and the lowest level of a scan, in dB.
func span(scan []reading) float64 {
	low, high := scan[0].level, scan[0].level
	for _, r := range scan {
		low, high = min(low, r.level), max(high, r.level)
	}
	return high - low
}

// narrow is the fall of the level over which the parabola through the top is fitted, dB.
const narrow = 0.002

var unknown = calibrate.Estimate{Value: math.NaN(), Uncertainty: math.NaN()}

// refine finds the top between the neighbours of the best value of the scan, its uncertainty and
// the verdict.
func (f *focuser) refine(ctx context.Context, out *Focused, scan []reading, best int) error {
	var failed error
	h := out.Scan[1].Value - out.Scan[0].Value
	read := func(v float64) reading {
		r, err := f.read(ctx, v)
		failed = errors.Join(failed, err)
		return r
	}
	top := golden(out.Scan[best-1].Value, out.Scan[best+1].Value, h/50, func(v float64) float64 {
		return -read(v).level
	})
	// The level falls faster below the top than above it. A wide parabola would shift the top by
	// 0.1 %.
	before, here, after := read(top-h), read(top), read(top+h)
	if fall := here.level - (before.level+after.level)/2; failed == nil && fall > narrow {
		h *= math.Sqrt(narrow / fall)
		before, after = read(top-h), read(top+h)
	}
	if failed != nil {
		return failed
	}
	shift, _ := number.Vertex(before.level, here.level, after.level)
	out.Value.Value = top + shift*h
	bend := (before.level + after.level - 2*here.level) / (h * h)
	out.Value.Uncertainty = math.Hypot(f.uncertainty(before, here, after, h), f.common(bend))
	here.edge = here.edge || before.edge || after.edge
	out.Drop = here.level - max(scan[0].level, scan[len(scan)-1].level)
	out.Verdict = f.judge(out, here, bend)
	return nil
}

// common returns the part of the uncertainty that comes from errors which neighbouring signals
// share. Errors of the times with the standard deviation τ lower the level of a peak by the factor
// exp(-(2πfτ)²/2). An error of the parameter that lowers the level as much cannot be told from
// them.
func (f *focuser) common(bend float64) float64 {
	phase := 2 * math.Pi * f.capture.Array.CentreFrequency * f.o.Common
	loss := 10 * math.Log10E * phase * phase // dB
	return math.Sqrt(2 * loss / -bend / float64(len(f.regions)))
}

// judge returns the verdict on a top between the ends of the range.
func (f *focuser) judge(out *Focused, here reading, bend float64) Verdict {
	pixels := 0
	for _, g := range f.regions {
		pixels = max(pixels, g.Len())
	}
	// The coherence of noise times the number of pairs is distributed as exp(-x). This is its
	// largest value among all pixels and trials, with a probability of 1e-3.
	noise := math.Log(1e3 * float64(pixels*len(out.Scan)))
	coherence := math.Inf(1)
	for _, s := range here.spots {
		coherence = min(coherence, s.coherence())
	}
	width := out.Scan[len(out.Scan)-1].Value - out.Scan[0].Value
	switch {
	case !(coherence > noise):
		return NoReflector
	case here.edge:
		return OutsideRegion
	case !(out.Drop >= f.o.LeastDrop) || !(bend < 0):
		return Flat
	case !(4*out.Value.Uncertainty < width):
		return Uncertain
	}
	return Determined
}

// newFocuser checks the arguments of [Focus] and completes its options.
func newFocuser(c *fmc.Capture, view string, regions []tfm.Grid, trial Trial,
	within wedge.Interval, options *FocusOptions) (*focuser, error) {
	if err := checkFocus(c, regions, trial, within); err != nil {
		return nil, err
	}
	f := &focuser{capture: c, regions: regions, trial: trial}
	if options != nil {
		f.o = *options
	}
	f.o.Steps = cmp.Or(f.o.Steps, 17)
	f.o.LeastDrop = cmp.Or(f.o.LeastDrop, 1)
	f.o.Band = cmp.Or(f.o.Band, tfm.DefaultBand(c.Array.CentreFrequency, c.Array.Bandwidth, c.SampleRate))
	if err := f.o.validate(); err != nil {
		return nil, err
	}
	var err error
	if f.view, err = wedge.ParseView(view); err != nil {
		return nil, fmt.Errorf("adapt: %w", err)
	}
	setup, _, err := f.geometry(within.Min)
	if err != nil {
		return nil, err
	}
	if f.o.Common == 0 {
		f.o.Common = timeError
		if setup.Coupling != nil {
			f.o.Common = 1 / c.Array.CentreFrequency / 40
		}
	}
	return f, nil
}

// checkFocus reports the first argument of [Focus] that is missing or out of range.
func checkFocus(c *fmc.Capture, regions []tfm.Grid, trial Trial, within wedge.Interval) error {
	if c == nil {
		return errors.New("adapt: focus of no capture: want a capture")
	}
	if err := c.Validate(); err != nil {
		return fmt.Errorf("adapt: %w", err)
	}
	if c.Events != nil {
		return fmt.Errorf("adapt: %w", fmc.ErrEvents)
	}
	for i, g := range regions {
		if err := g.Validate(); err != nil {
			return fmt.Errorf("adapt: region %d: %w", i, err)
		}
		if g.Slices != 1 || g.Cols < 3 || g.Rows < 3 {
			return fmt.Errorf("adapt: region %d of %d × %d × %d pixels along x, z and y: want at least 3 × 3 × 1",
				i, g.Cols, g.Rows, g.Slices)
		}
	}
	switch {
	case len(regions) == 0:
		return errors.New("adapt: focus without regions: want at least one")
	case trial == nil:
		return errors.New("adapt: focus without a trial: want one, such as PartSpeed")
	case !(within.Max > within.Min && number.Finite(within.Max-within.Min)):
		return fmt.Errorf("adapt: range from %v to %v: want finite ends in ascending order", within.Min, within.Max)
	}
	return nil
}

// validate reports the first field that is out of range, after the defaults are set.
func (o *FocusOptions) validate() error {
	switch {
	case !(o.Radius >= 0 && number.Finite(o.Radius)):
		return fmt.Errorf("adapt: radius of the holes %v m: want a finite value of at least 0", o.Radius)
	case o.Steps < 5:
		return fmt.Errorf("adapt: %d steps: want at least 5", o.Steps)
	case !(o.Common >= 0 && number.Finite(o.Common)):
		return fmt.Errorf("adapt: common uncertainty %v s: want a finite value of at least 0", o.Common)
	case !(o.LeastDrop > 0 && number.Finite(o.LeastDrop)):
		return fmt.Errorf("adapt: least drop %v dB: want a finite value above 0", o.LeastDrop)
	}
	if err := parallel.Check(o.Workers); err != nil {
		return fmt.Errorf("adapt: %w", err)
	}
	return nil
}
