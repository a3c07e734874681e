// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/internal/number"
)

// Options modifies [Check] and [NewChecker]. Nil stands for the zero value.
type Options struct {
	// Grid is where the scan wants frames. The zero value stands for no plan: then missing steps
	// and strays are not found, and the step is the median distance of two successive frames.
	Grid Grid
	// Tolerance is the greatest distance of a frame from its step in m, above 0. Zero stands for
	// half a step. Across the scan half a line counts.
	Tolerance float64
	// Gates are where coupling and gain are measured, each with a name of its own. Without gates
	// they are not checked: nothing in a record tells by itself which echo passes the coupling.
	Gates []Gate
	// FullScale is the modulus of a sample at which the receiver clips, finite and above 0. Zero
	// stands for the largest modulus of each frame, which counts as clipping only where a trace
	// stays at it for three samples or more.
	FullScale float64
	// Window is where clipped samples count, in s. The zero value stands for the record from
	// 3.6/(B·f) after time 0 on, behind the initial pulse. B is the bandwidth and f the centre
	// frequency of the array.
	Window health.Gate
	// Limits are the limits that the findings are judged by.
	Limits Limits
}

// Gate is a window of time in which the level of each frame is measured. It holds the echo of the
// wedge floor, the entry surface or the back wall, or the noise of the grains.
type Gate struct {
	Name        string // for the findings, not empty
	health.Gate        // s, From < To, at least two samples
	// Reach selects the pairs that are measured: a transmitter and a receiver at most so many
	// elements apart, at least 0. At 0 each element receives its own echo. If no pair is that
	// close, and in a capture of events, all pairs are measured.
	Reach int
	// Reference is the root mean square of the samples in the gate at which the loss is 0. It is
	// finite and above 0, and comes from a place with good coupling. Zero stands for the median of
	// the frames. A scan that has lost its coupling in more than half of the frames needs a
	// reference.
	Reference float64
}

// Off in place of a limit judges nothing.
const Off = -1

// Limits bound what counts as a sound scan. Each is above 0. Zero stands for its default, and [Off]
// for no judgement. The defaults are common practice, no source. A procedure or a standard in force
// takes precedence over them.
type Limits struct {
	// Spacing is the greatest distance of two successive frames in steps, above 1, default 1.5. At
	// 2 a step lies between the frames; position noise needs some room above 1.
	Spacing float64 `json:"spacing_steps"`
	// Jump is the distance of two successive frames in steps at which the encoder jumped, above
	// Spacing, default 5. A scanner does not move as fast by itself.
	Jump float64 `json:"jump_steps"`
	// Reversal is the way in steps that the array may go back, default 0.5. With less, each step
	// has still its frame.
	Reversal float64 `json:"reversal_steps"`
	// Speed is the greatest speed between two frames in m/s, default [Off]: only the procedure
	// knows it. Spacing already bounds the speed to Spacing steps in the time between two frames.
	Speed float64 `json:"speed_m_s"`
	// Loss is the drop of a frame below the reference of a gate in dB, default 6: half of the
	// amplitude.
	Loss float64 `json:"loss_db"`
	// Drift is the change of the level in a gate over the scan in dB, without the frames with a
	// loss, default 2. Two echoes of one flaw differ by as much in a repeated scan.
	Drift float64 `json:"drift_db"`
	// Saturated is the share of the samples of a frame that are clipped, default 1e-9: any. The
	// level of a clipped echo is not known.
	Saturated float64 `json:"saturated_share"`
}

// limit is a field of Limits with its name, its default and the least value.
type limit struct {
	name            string
	value           *float64
	standard, least float64
}

func (l *Limits) fields() []limit {
	return []limit{
		{"spacing", &l.Spacing, 1.5, 1},
		{"jump", &l.Jump, 5, 1},
		{"reversal", &l.Reversal, 0.5, 0},
		{"speed", &l.Speed, Off, 0},
		{"loss", &l.Loss, 6, 0},
		{"drift", &l.Drift, 2, 0},
		{"saturated", &l.Saturated, 1e-9, 0},
	}
}

// complete returns the limits with defaults in place of zeros.
func (l Limits) complete() (Limits, error) {
	for _, f := range l.fields() {
		if *f.value == 0 {
			*f.value = f.standard
		}
		if !(*f.value == Off || *f.value > f.least && number.Finite(*f.value)) {
			return Limits{}, fmt.Errorf("scan: limit %s %v: want a finite value above %v, 0 for the "+
				"default, or Off", f.name, *f.value, f.least)
		}
	}
	if l.Jump != Off && l.Jump <= l.Spacing {
		return Limits{}, fmt.Errorf("scan: limit jump %v steps: want more than the limit spacing, %v",
			l.Jump, l.Spacing)
	}
	return l, nil
}

// validate checks all fields that do not depend on the capture.
func (o *Options) validate() error {
	if o.Grid != (Grid{}) {
		if err := o.Grid.validate(); err != nil {
			return err
		}
	}
	if !(o.Tolerance >= 0 && o.Tolerance <= maxLength) {
		return fmt.Errorf("scan: tolerance %v m: want above 0 and at most %g m, or 0 for half a step",
			o.Tolerance, float64(maxLength))
	}
	if !(o.FullScale >= 0 && number.Finite(o.FullScale)) {
		return fmt.Errorf("scan: full scale %v: want a finite value above 0, or 0 for the largest "+
			"sample", o.FullScale)
	}
	names := map[string]bool{}
	for i, g := range o.Gates {
		switch {
		case g.Name == "" || names[g.Name]:
			return fmt.Errorf("scan: name %q of gate %d: want a name of its own", g.Name, i)
		case g.Reach < 0:
			return fmt.Errorf("scan: reach %d of gate %q: want at least 0 elements", g.Reach, g.Name)
		case !(g.Reference >= 0 && number.Finite(g.Reference)):
			return fmt.Errorf("scan: reference %v of gate %q: want a finite value above 0, or 0 for the "+
				"median", g.Reference, g.Name)
		}
		names[g.Name] = true
	}
	return nil
}

// samples returns the samples of a gate. The gate has at least two of them.
func samples(c *fmc.Capture, name string, g health.Gate) (span, error) {
	first, end := c.SampleRange(g.From, g.To)
	if !(g.From < g.To) || end-first < 2 {
		return span{}, fmt.Errorf("scan: gate %q from %v to %v s: want from < to, and two samples of %v "+
			"to %v s between them", name, g.From, g.To, c.FirstSample, c.Time(c.Samples-1))
	}
	return span{first, end}, nil
}

// span is a range of samples, the last one excluded.
type span struct{ first, end int }

// behindPulse returns the samples behind the initial pulse.
func behindPulse(c *fmc.Capture) span {
	first, end := c.SampleRange(3.6/(c.Array.Bandwidth*c.Array.CentreFrequency), math.Inf(1))
	return span{first, end}
}
