// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// Explanation tells where an indication comes from. The zero value stands for an indication that
// no echo explains.
type Explanation struct {
	// Echo is the name of the echo that explains the indication, one of [Echoes.Names]. It is empty
	// if no echo does.
	Echo string
	// Reflector is the name of the known reflector of which the indication is the image. It is
	// empty if no known reflector lies there. Then Echo is empty too.
	Reflector string
	// Share is the share of the amplitude of the indication that is lost if the echo is muted. It
	// is about 1 for a ghost. It may exceed 1 where the rest of the samples opposes the echo.
	Share float64
	// Coverage is the share of the traces in which the echo is muted, 0 to 1. A reflector at the
	// place of the indication would lose about this share of its amplitude.
	Coverage float64
	// Agreement compares both: 1 - |1 - Share|/(1 - Coverage), at most 1. It is 1 if nothing is
	// left of the indication, and about 0 if a reflector lies at the place of the indication.
	Agreement float64
	// Focus tells how well the echo focuses at the place of the indication, 0 to 1: the modulus of
	// the mean of exp(2πi·f·Δt) over all traces. Here f is the centre frequency of the array, and
	// Δt is the difference between the time of the echo and the time of the view.
	Focus float64
	// Strength is the amplitude of the echo, focused along its own path, divided by the amplitude
	// of the indication.
	Strength float64
	// Level is the predicted amplitude at the place of the indication, for an echo of this strength
	// in all traces, divided by the amplitude of the indication. It is about 1 for a ghost.
	Level float64
}

// The limits of an explanation. They were chosen with five captures of testdata. TestAllCaptures
// judges the other five too, which were not blind: their results were seen meanwhile.
const (
	leastAgreement = 0.5
	leastLevel     = 0.25 // -12 dB: the echo may be weaker in the traces that make the ghost
	mostCoverage   = 0.95 // above it, a mute takes all, and tells nothing
	leastStrength  = 0.5
	// An echo that focuses at the place of an indication explains the indication even if its mute
	// takes all traces. Its amplitude must then be nearly the amplitude of the indication.
	leastFocus    = 0.3
	leastShare    = 0.5
	focusStrength = 0.7
)

// better reports whether an echo is rather the cause of an indication than another one. The
// agreements decide, then the strengths. The mute of one of both may take nearly all traces. Then
// the agreement tells nothing, and the predicted level decides.
func (x *Explanation) better(than *Explanation) bool {
	switch {
	case than.Echo == "":
		return true
	case max(x.Coverage, than.Coverage) > mostCoverage:
		return x.Level > than.Level
	case x.Agreement > than.Agreement+near:
		return true
	}
	return x.Agreement > than.Agreement-near && x.Strength > than.Strength
}

// rivals reports whether an echo that takes nearly all traces can be the cause of an indication
// that another echo explains.
func (x *Explanation) rivals() bool {
	return x.Coverage > mostCoverage && x.Level >= leastLevel && x.Strength >= leastStrength
}

// explains reports whether an echo explains an indication.
func (x *Explanation) explains() bool {
	if !(x.Level >= leastLevel) {
		return false
	}
	if x.Coverage <= mostCoverage && x.Agreement >= leastAgreement && x.Strength >= leastStrength {
		return true
	}
	return x.Focus >= leastFocus && x.Share >= leastShare && x.Strength >= focusStrength
}

// Explain tests which echo explains each indication of a view, by the place of the peak of the
// indication in m. It returns one explanation for each place. Reflectors of [Options] count as
// known.
//
// The capture must be one of the array of e, in any layout of pairs, without events. The band is
// the pass band of the image; the zero value stands for [tfm.DefaultBand]. The result has the same
// bits for any number of cores. The package documentation describes the test.
func (e *Echoes) Explain(ctx context.Context, c *fmc.Capture, view wedge.View, places []r3.Vec,
	band tfm.Band) ([]Explanation, error) {
	if err := c.Validate(); err != nil {
		return nil, fmt.Errorf("ghost: %w", err)
	}
	if c.Events != nil {
		return nil, fmt.Errorf("ghost: capture of %d events: want elements that fire alone, as a decoded matrix has", len(c.Events))
	}
	if !slices.Equal(c.Array.Elements, e.array.Elements) {
		return nil, fmt.Errorf("ghost: capture of another array of %d elements: want the %d elements that New was given",
			len(c.Array.Elements), len(e.array.Elements))
	}
	if len(places) == 0 {
		return nil, nil
	}
	timer, err := tfm.NewTimer(c, e.setup, view.String(), &wedge.TimesOptions{Workers: e.workers})
	if err != nil {
		return nil, err
	}
	transmit, receive, err := timer(ctx, places)
	if err != nil {
		return nil, err
	}
	r, err := e.record(ctx, c, band)
	if err != nil {
		return nil, err
	}
	strengths, err := e.strengths(ctx, r)
	if err != nil {
		return nil, err
	}
	found := make([]Explanation, len(places))
	err = parallel.Do(ctx, len(places), parallel.Options{Workers: e.workers}, func() func(int) error {
		t := trial{echoes: e, recording: r}
		return func(k int) error {
			if found[k].Reflector = e.imaged(view, places[k]); found[k].Reflector != "" {
				return nil
			}
			t.read(transmit, receive, k)
			found[k] = t.explain(view, strengths)
			return nil
		}
	})
	return found, err
}

// imaged returns the name of the known reflector whose image lies at a place: the reflector from
// which the place is at most the length of a pulse away. It returns an empty name if there is
// none.
func (e *Echoes) imaged(v wedge.View, place r3.Vec) string {
	length := pulseLength(e.setup, e.array, v)
	for i := range e.reflects {
		r := &e.reflects[i]
		if math.Abs(fromLine(r.Outline, r2.Vec{X: place.X, Y: place.Z})-r.Radius) <= length {
			return r.Name
		}
	}
	return ""
}

// fromLine returns the distance of a point from an outline.
func fromLine(o wedge.Outline, p r2.Vec) float64 {
	least := r2.Norm(r2.Sub(p, o[0]))
	for i := 1; i < len(o); i++ {
		side, to := r2.Sub(o[i], o[i-1]), r2.Sub(p, o[i-1])
		if length2 := r2.Norm2(side); length2 > 0 {
			share := min(1, max(0, r2.Dot(side, to)/length2))
			least = min(least, r2.Norm(r2.Sub(to, r2.Scale(share, side))))
		}
	}
	return least
}

// strengths returns the amplitude of each echo, focused along its own path.
func (e *Echoes) strengths(ctx context.Context, r *recording) ([]float64, error) {
	all := make([]float64, len(e.echoes))
	err := parallel.Do(ctx, len(all), parallel.Options{Workers: e.workers}, func() func(int) error {
		return func(k int) error {
			for _, table := range e.echoes[k].tables {
				var sum complex128
				for _, t := range r.traces {
					z, _ := r.at(t.trace, float64(table[t.pair]))
					sum += z
				}
				all[k] = max(all[k], cmplx.Abs(sum))
			}
			return nil
		}
	})
	return all, err
}

// recording is the analytic signals of a capture.
type recording struct {
	signals     []complex64
	samples     int
	first, rate float64
	traces      []direction
}

// direction is a trace, and the index of its transmitter and receiver in a table of an echo. In a
// half matrix a trace of two different elements counts for both directions.
type direction struct{ trace, tx, rx, pair int }

// record returns the analytic signals of a capture.
func (e *Echoes) record(ctx context.Context, c *fmc.Capture, band tfm.Band) (*recording, error) {
	if band == (tfm.Band{}) {
		band = tfm.DefaultBand(c.Array.CentreFrequency, c.Array.Bandwidth, c.SampleRate)
	}
	analytic, err := tfm.NewAnalytic(c.Samples, c.SampleRate, band)
	if err != nil {
		return nil, err
	}
	r := &recording{
		signals: make([]complex64, len(c.Data)), samples: c.Samples, first: c.FirstSample, rate: c.SampleRate,
	}
	n := len(c.Array.Elements)
	half := c.Layout() == fmc.Half
	for p, pair := range c.Pairs {
		r.traces = append(r.traces, direction{p, pair.Tx, pair.Rx, pair.Tx*n + pair.Rx})
		if half && pair.Tx != pair.Rx {
			r.traces = append(r.traces, direction{p, pair.Rx, pair.Tx, pair.Rx*n + pair.Tx})
		}
	}
	err = parallel.Do(ctx, len(c.Pairs), parallel.Options{Workers: e.workers}, func() func(int) error {
		return func(p int) error {
			from, to := p*c.Samples, (p+1)*c.Samples
			return analytic.Transform(r.signals[from:to], c.Data[from:to])
		}
	})
	return r, err
}

// at returns the sample of a trace at a time, interpolated linearly, and whether the record has
// it.
func (r *recording) at(trace int, t float64) (complex128, bool) {
	x := (t - r.first) * r.rate
	if !(x >= 0 && x < float64(r.samples-1)) {
		return 0, false
	}
	k := int(x)
	s := r.signals[trace*r.samples+k:]
	share := x - float64(k)
	return complex(1-share, 0)*complex128(s[0]) + complex(share, 0)*complex128(s[1]), true
}

// trial is the test of one indication. It holds what each trace adds to the indication.
type trial struct {
	echoes    *Echoes
	recording *recording
	sum       complex128
	parts     []part
}

// part is what one trace adds to an indication.
type part struct {
	value complex128
	time  float64 // of the view, s
	pair  int     // index in a table of an echo
}

// read reads the parts of the indication at a place.
func (t *trial) read(transmit, receive *wedge.Times, place int) {
	t.sum, t.parts = 0, t.parts[:0]
	for _, d := range t.recording.traces {
		time := float64(transmit.Seconds[d.tx*transmit.Points+place]) + float64(receive.Seconds[d.rx*receive.Points+place])
		if z, ok := t.recording.at(d.trace, time); ok {
			t.sum += z
			t.parts = append(t.parts, part{z, time, d.pair})
		}
	}
}

// near is the difference between agreements that does not decide between two echoes. The stronger
// echo then explains the indication.
const near = 0.1

// explain returns the explanation of the indication.
func (t *trial) explain(view wedge.View, strengths []float64) Explanation {
	var best Explanation
	explained := false
	level := cmplx.Abs(t.sum)
	if level == 0 {
		return best
	}
	name := view.String()
	for k := range t.echoes.echoes {
		e := &t.echoes.echoes[k]
		if slices.Contains(e.own, name) {
			continue
		}
		x := t.compare(e, strengths[k]/level)
		explains := x.explains()
		explained = explained || explains
		if (explains || x.rivals()) && x.better(&best) {
			best = x
		}
	}
	if !explained {
		return Explanation{}
	}
	return best
}

// compare measures how an echo of a strength relative to the indication explains the indication.
func (t *trial) compare(e *echo, strength float64) Explanation {
	visible := t.echoes.pulse.visible(strength)
	fade := t.echoes.pulse.half / 2
	var muted, covered float64
	for _, p := range t.parts {
		weight := 0.0
		for _, table := range e.tables {
			apart := math.Abs(float64(table[p.pair]) - p.time)
			if apart < visible+fade { // false for NaN
				weight = max(weight, min(1, (visible+fade-apart)/fade))
			}
		}
		if weight > 0 {
			covered += weight
			muted += weight * real(p.value*cmplx.Conj(t.sum))
		}
	}
	x := Explanation{
		Echo:     e.name,
		Share:    muted / real(t.sum*cmplx.Conj(t.sum)),
		Coverage: covered / float64(len(t.parts)),
		Strength: strength,
	}
	if x.Coverage < 1 {
		x.Agreement = 1 - math.Abs(1-x.Share)/(1-x.Coverage)
	}
	if x.Share >= leastShare { // else no rule is met, and the focus takes most of the time
		x.Focus = t.focus(e)
		x.Level = t.predicted(e) * strength
	}
	return x
}

// predicted returns the amplitude of the image that Predict predicts for an echo at the place of
// the indication.
func (t *trial) predicted(e *echo) float64 {
	var sum complex128
	for _, table := range e.tables {
		for _, p := range t.parts {
			sum += complex128(t.echoes.pulse.at(p.time - float64(table[p.pair])))
		}
	}
	return cmplx.Abs(sum) / float64(len(t.parts))
}

// focus returns how well an echo focuses at the place of the indication.
func (t *trial) focus(e *echo) float64 {
	best := 0.0
	omega := 2 * math.Pi * t.echoes.array.CentreFrequency
	for _, table := range e.tables {
		var sum complex128
		for _, p := range t.parts {
			if delay := float64(table[p.pair]) - p.time; !math.IsNaN(delay) {
				sum += cmplx.Rect(1, omega*delay)
			}
		}
		best = max(best, cmplx.Abs(sum)/float64(len(t.parts)))
	}
	return best
}
