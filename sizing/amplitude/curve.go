// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package amplitude

import (
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm/ascan"
)

// Reading is the amplitude of a reference reflector.
type Reading struct {
	Distance  float64 // sound path one way, m, finite, above 0
	Amplitude float64 // in any linear unit, finite, above 0
}

func (r Reading) check() error {
	if !number.Positive(r.Distance) {
		return fmt.Errorf("amplitude: distance %v m of a reading: want a finite value above 0", r.Distance)
	}
	if !number.Positive(r.Amplitude) {
		return fmt.Errorf("amplitude: amplitude %v of a reading: want a finite value above 0", r.Amplitude)
	}
	return nil
}

// CurveOptions modifies NewCurve. Nil stands for the zero value.
type CurveOptions struct {
	// Linear interpolates levels over the distance, which is exact for pure attenuation. The
	// default interpolates over the logarithm of the distance, which is exact for laws such as
	// 1/s².
	Linear bool
	// Beyond is the share of the distance by which the curve may be continued beyond its last
	// reading and below its first one, from 0 to 0.5. The slope of the last piece goes on. The
	// default, 0, refuses each distance outside of the readings.
	Beyond float64
	// LimitDB is the largest gain of the time-corrected gain in dB, from 0 on; 0 stands for no
	// limit. A gain raises noise as it raises echoes.
	LimitDB float64
}

// Curve is a distance-amplitude curve through readings of equal reference reflectors, such as
// side-drilled holes of one diameter. It is immutable and safe for concurrent use.
type Curve struct {
	x, levels []float64 // axis of the interpolation, levels in dB
	options   CurveOptions
	from, to  float64 // range of distances, m
	highest   float64 // amplitude of the highest reading
}

// NewCurve returns the curve through at least two readings in any order, at distances that
// differ. All must come from one probe, one gain and one kind of reflector.
func NewCurve(readings []Reading, o *CurveOptions) (*Curve, error) {
	c := &Curve{}
	if o != nil {
		c.options = *o
	}
	if !(c.options.Beyond >= 0 && c.options.Beyond <= 0.5) {
		return nil, fmt.Errorf("amplitude: share %v beyond the readings: want 0 to 0.5", c.options.Beyond)
	}
	if !(c.options.LimitDB >= 0) || math.IsInf(c.options.LimitDB, 0) {
		return nil, fmt.Errorf("amplitude: limit of the gain %v dB: want a finite value, 0 or above", c.options.LimitDB)
	}
	if len(readings) < 2 {
		return nil, fmt.Errorf("amplitude: curve through %d readings: want at least 2", len(readings))
	}
	sorted := slices.Clone(readings)
	slices.SortFunc(sorted, func(a, b Reading) int {
		if a.Distance < b.Distance {
			return -1
		}
		return 1
	})
	for i, r := range sorted {
		if err := r.check(); err != nil {
			return nil, err
		}
		if i > 0 && r.Distance == sorted[i-1].Distance {
			return nil, fmt.Errorf("amplitude: two readings at %v m: want one", r.Distance)
		}
		c.x = append(c.x, c.axis(r.Distance))
		c.levels = append(c.levels, sizing.LevelDB(r.Amplitude, 1))
		c.highest = max(c.highest, r.Amplitude)
	}
	c.from = sorted[0].Distance * (1 - c.options.Beyond)
	c.to = sorted[len(sorted)-1].Distance * (1 + c.options.Beyond)
	return c, nil
}

// axis returns the place of a distance on the axis of the interpolation.
func (c *Curve) axis(distance float64) float64 {
	if c.options.Linear {
		return distance
	}
	return math.Log(distance)
}

// Range returns the distances in m from which and up to which the curve holds.
func (c *Curve) Range() (from, to float64) { return c.from, c.to }

// level returns the level of the curve in dB relative to the amplitude 1.
func (c *Curve) level(distance float64) float64 {
	x := c.axis(distance)
	i, _ := slices.BinarySearch(c.x, x)
	i = min(max(i, 1), len(c.x)-1)
	t := (x - c.x[i-1]) / (c.x[i] - c.x[i-1])
	return c.levels[i-1] + t*(c.levels[i]-c.levels[i-1])
}

// check returns an error unless the curve holds at a distance.
func (c *Curve) check(distance float64) error {
	if !(distance >= c.from && distance <= c.to) {
		return fmt.Errorf("amplitude: distance %v m is outside of the distance-amplitude curve: want %v to %v m", distance, c.from, c.to)
	}
	return nil
}

// Amplitude returns the amplitude of the reference reflector at a distance in m, in the unit of the
// readings. A distance outside of the range is an error.
func (c *Curve) Amplitude(distance float64) (float64, error) {
	if err := c.check(distance); err != nil {
		return 0, err
	}
	return sizing.Ratio(c.level(distance)), nil
}

// LevelDB returns the level of an echo relative to the curve in dB, 0 on the curve. The distance in
// m must be in the range, the amplitude finite and above 0.
func (c *Curve) LevelDB(distance, amplitude float64) (float64, error) {
	if err := c.check(distance); err != nil {
		return 0, err
	}
	if !number.Positive(amplitude) {
		return 0, fmt.Errorf("amplitude: amplitude %v of the echo: want a finite value above 0", amplitude)
	}
	return sizing.LevelDB(amplitude, 1) - c.level(distance), nil
}

// GainDB returns the time-corrected gain in dB at a distance in m: it brings the reference
// reflector to the amplitude of the highest reading. It is at most LimitDB. A distance outside of
// the range is an error.
func (c *Curve) GainDB(distance float64) (float64, error) {
	if err := c.check(distance); err != nil {
		return 0, err
	}
	return c.gain(distance), nil
}

func (c *Curve) gain(distance float64) float64 {
	gain := sizing.LevelDB(c.highest, 1) - c.level(distance)
	if c.options.LimitDB > 0 {
		gain = min(gain, c.options.LimitDB)
	}
	return gain
}

// Correct returns a copy of the A-scan of a beam with the time-corrected gain. The samples from
// valid[0] up to before valid[1] lie in the range of the curve. Samples outside of this range have
// the gain of the nearer end of the range: their echoes must not be compared with the reference.
// The distances of the curve are the sound paths of the A-scan.
func (c *Curve) Correct(t *ascan.Trace) (corrected *ascan.Trace, valid [2]int, err error) {
	if t == nil || t.Line == nil {
		return nil, valid, fmt.Errorf("amplitude: A-scan without a beam: want one with sound paths")
	}
	copied := *t
	copied.Analytic = make([]complex64, len(t.Analytic))
	for i, v := range t.Analytic {
		s := t.SoundPath(t.Time(float64(i)))
		if s < c.from {
			valid[0] = i + 1
		}
		if s <= c.to {
			valid[1] = i + 1
		}
		factor := sizing.Ratio(c.gain(min(max(s, c.from), c.to)))
		copied.Analytic[i] = complex(float32(factor*float64(real(v))), float32(factor*float64(imag(v))))
	}
	return &copied, [2]int{min(valid[0], valid[1]), valid[1]}, nil
}
