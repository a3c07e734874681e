// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package thickness

import (
	"errors"
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm/ascan"
)

// Reader reads thicknesses from A-scans of straight beams. It may be used by several goroutines at
// once if none changes it.
type Reader struct {
	// Least and Most are the ends of the gate as thicknesses in m: 0 < Least < Most, finite. An
	// echo before Least is not seen: set Least behind the ringing of the pulse or of the interface.
	Least, Most float64
	Method      Method
	// Fallback reads the first echo where [EchoToEcho] has no second echo.
	Fallback bool
	// Flank reads the time of an echo on its flank. Nil reads the peak of the envelope.
	Flank *Flank
	// Reference is the amplitude of the envelope that is 0 dB, in the unit of the samples: finite,
	// above 0. Take the back-wall echo of a sound part of the same thickness.
	Reference float64
	// Threshold is the level in dB relative to Reference that an echo must reach, finite, at most
	// 0, such as -20. Set it above the noise. A pit echoes far more weakly than a flat wall.
	Threshold float64
	// Delay is added to the time zero of all A-scans, in s, finite ([Reader.Zero]).
	Delay float64
	// Interface is how far in s the echo of the entry surface may lie from its expected time, for
	// [FromInterface]: finite, above 0.
	Interface float64
	// Agree is the largest difference in m between the thickness by the first echo and the
	// thickness by the distance of the echoes: at least 0, infinite for no comparison. The value 0
	// stands for a quarter of the wavelength at the middle of the band. With the method
	// [EchoToEcho], which needs no time zero, 0 stands for no comparison.
	Agree  float64
	Errors Errors
}

// Flank is a threshold on an echo, at which its time is read. A flank lies before the peak by a
// time that depends on the pulse, so that [FirstEcho] needs a Delay from [Reader.Zero].
type Flank struct {
	// Share is the threshold as a share of the peak of the envelope of the same echo, above 0 and
	// below 1. So the time does not depend on the height of the echo.
	Share float64
	// Sign is 0 for a threshold on the envelope, +1 or -1 for a threshold on the positive or
	// negative half-waves of the A-scan. The first half-wave that reaches the threshold counts. It
	// can change from one echo to the next: the thickness then jumps by half a wavelength.
	// Successive back-wall echoes have the same sign. The echo of the entry surface has the
	// opposite sign, if the part is harder than the coupling, and is read so.
	Sign int
}

// Errors are standard uncertainties of what a [Reader] is told. Zero stands for an exact value.
// Function [uncertainty.Limits] turns limits into standard uncertainties.
type Errors struct {
	Speed float64 // of the wave speed in the part, m/s
	Delay float64 // of time zero with the delay of the coupling, s; for [FirstEcho]
	// Wall is the part of roughness, curvature and tilt of the back wall within the beam, m.
	Wall   float64
	Method float64 // of the reading of an echo other than noise, such as the change of its shape, m
}

// validate reports the first field outside its range.
func (r *Reader) validate() error {
	switch {
	case !(r.Least > 0 && r.Most > r.Least && number.Finite(r.Most)):
		return fmt.Errorf("thickness: gate from %v to %v m: want finite thicknesses above 0 in ascending order", r.Least, r.Most)
	case int(r.Method) >= len(methods):
		return fmt.Errorf("thickness: method %d: want %d to %d", r.Method, FirstEcho, EchoToEcho)
	case !number.Positive(r.Reference):
		return fmt.Errorf("thickness: reference %v: want a finite amplitude above 0", r.Reference)
	case !(r.Threshold <= 0 && number.Finite(r.Threshold)):
		return fmt.Errorf("thickness: threshold %v dB: want a finite level of at most 0 dB", r.Threshold)
	case !number.Finite(r.Delay):
		return fmt.Errorf("thickness: delay %v s: want a finite time", r.Delay)
	case r.Method == FromInterface && !number.Positive(r.Interface):
		return fmt.Errorf("thickness: interface within %v s: want a finite time above 0", r.Interface)
	case !(r.Agree >= 0):
		return fmt.Errorf("thickness: agreement within %v m: want at least 0", r.Agree)
	}
	if f := r.Flank; f != nil && (!(f.Share > 0 && f.Share < 1) || f.Sign < -1 || f.Sign > 1) {
		return fmt.Errorf("thickness: flank at a share of %v with the sign %d: want a share above 0 and below 1, and a sign of -1, 0 or 1", f.Share, f.Sign)
	}
	for _, u := range []float64{r.Errors.Speed, r.Errors.Delay, r.Errors.Wall, r.Errors.Method} {
		if !(u >= 0 && number.Finite(u)) {
			return fmt.Errorf("thickness: errors %+v: want finite standard uncertainties of at least 0", r.Errors)
		}
	}
	return nil
}

// checkTrace reports why an A-scan has no thickness.
func checkTrace(t *ascan.Trace) error {
	switch {
	case t == nil:
		return errors.New("thickness: no A-scan")
	case t.Line == nil || len(t.Line.Legs) == 0 || !number.Positive(t.Line.Speed):
		return errors.New("thickness: A-scan without the line of a beam: want the A-scan of a beam in the part")
	case len(t.Analytic) == 0 || !number.Positive(t.SampleRate) || !number.Finite(t.FirstSample):
		return fmt.Errorf("thickness: A-scan of %d samples from %v s at %v Hz: want samples, a finite time, and a finite rate above 0", len(t.Analytic), t.FirstSample, t.SampleRate)
	}
	return nil
}

// Read returns the thickness from the A-scan of a beam that is straight: at right angles to the
// entry surface. A lost echo is a [State] and no error. Samples that are not finite are read as 0.
func (r *Reader) Read(t *ascan.Trace) (Reading, error) {
	if err := r.validate(); err != nil {
		return Reading{}, err
	}
	if err := checkTrace(t); err != nil {
		return Reading{}, err
	}
	return r.read(newSignal(t, nil)), nil
}

// Zero returns the Delay in s at which the A-scan t of a part of a known thickness in m reads this
// thickness by [FirstEcho]. The part has the wave speed of the A-scan. The uncertainty of the delay
// is the uncertainty of the known thickness times two over the speed, together with
// [Reading].Noise.
func (r *Reader) Zero(t *ascan.Trace, known float64) (float64, error) {
	first := *r
	first.Method, first.Agree = FirstEcho, math.Inf(1)
	x, err := first.Read(t)
	switch {
	case err != nil:
		return 0, err
	case !number.Positive(known):
		return 0, fmt.Errorf("thickness: known thickness %v m: want a finite value above 0", known)
	case !x.State.Counts():
		return 0, fmt.Errorf("thickness: zero from a part of %v m: %v: want a first back-wall echo between %v and %v m", known, x.State, r.Least, r.Most)
	}
	return r.Delay + 2*(x.Thickness-known)/x.Speed, nil
}

// read reads a valid A-scan.
func (r *Reader) read(s *signal) Reading {
	threshold := r.Reference * math.Pow(10, r.Threshold/20)
	line := s.trace.Line
	zero := echo{time: line.Time(0) + r.Delay}
	begin := zero.time
	if r.Method == FromInterface {
		top := s.highest(zero.time-r.Interface, zero.time+r.Interface)
		if top < 0 || s.height[top] < threshold {
			return without(NoInterface, r.Method)
		}
		zero = s.pick(top, r.Flank.opposite())
		begin = s.trace.Time(float64(top))
	}
	w := walls{reader: r, speed: line.Speed}
	w.quarter = line.Speed / (2 * (s.trace.Band.Low + s.trace.Band.High))
	s.noise = s.quiet(zero.time + 2*r.Least/line.Speed)
	for _, top := range s.tops(begin, threshold) {
		e := s.pick(top, r.Flank)
		w.list = append(w.list, wall{echo: e, depth: (e.time - zero.time) * line.Speed / 2})
	}
	x := w.read(zero)
	if x.State == NoEcho && (s.end()-zero.time)*line.Speed/2 < r.Most {
		x.State = RecordEnds
	}
	if !math.IsNaN(x.Thickness) {
		x.Uncertainty = r.combined(&x)
	}
	return x
}

// opposite returns the flank for an echo of the opposite sign.
func (f *Flank) opposite() *Flank {
	if f == nil {
		return nil
	}
	return &Flank{Share: f.Share, Sign: -f.Sign}
}
