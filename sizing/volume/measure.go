// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package volume

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/wedge"
)

const (
	// tipRange is how far in dB below the peak a maximum may lie that is an end of the flaw. It
	// keeps out the side lobes of the beam.
	tipRange = 14
	// leastSNR is the ratio in dB below which the noise reaches the contour.
	leastSNR = 14
	// widthShare is the standard deviation of the width of the beam, as in
	// [sizing.Indication.Strip].
	widthShare = 0.1
	// evenShare is how much longer than the drop the tips of an even face are, in widths of the
	// beam.
	evenShare = 0.2
	coverage  = 1.96 // standard deviations of an interval of 95 %
)

// finish returns the indications, strongest first.
func (f *finder) finish() ([]Indication, error) {
	slices.SortStableFunc(f.found, func(a, b *area) int {
		return cmp.Or(cmp.Compare(a.peak.section, b.peak.section), cmp.Compare(a.peak.pixel, b.peak.pixel))
	})
	list := make([]Indication, 0, len(f.found))
	for _, a := range f.found {
		in, err := f.measure(a)
		if err != nil {
			return nil, err
		}
		list = append(list, in)
	}
	slices.SortStableFunc(list, func(a, b Indication) int { return cmp.Compare(b.Amplitude, a.Amplitude) })
	for i := range list {
		list[i].ID = i + 1
	}
	return list, nil
}

// measure measures an area.
func (f *finder) measure(a *area) (Indication, error) {
	p := profile{amplitudes: a.profile}
	for i := range a.profile {
		p.s = append(p.s, f.sections.Position(a.from+i))
	}
	top := int(a.peak.section) - a.from
	s, rise := p.peak(top)
	x, z := f.place(int(a.peak.pixel))
	in := Indication{
		X: x + a.dx*f.grid.Step.X, S: s, Z: z + a.dz*f.grid.Step.Z,
		Amplitude: a.profile[top] * math.Exp(min(rise, math.Ln2/2)),
		Section:   int(a.peak.section), Edge: a.edge, States: a.states, Merged: a.merged,
		Profile: p.amplitudes, Positions: p.s, First: a.from,
	}
	in.LevelDB = sizing.LevelDB(in.Amplitude, f.reference)
	if f.noise > 0 {
		in.SNRDB = sizing.LevelDB(in.Amplitude, f.noise)
	}
	in.NoiseLimited = !(in.SNRDB >= leastSNR)
	in.Drop = f.extent(a, p, top, in.Amplitude*half)
	in.Full = Extent{From: math.NaN(), To: math.NaN()}
	if level := f.reference * sizing.Ratio(f.options.Level); level <= in.Amplitude {
		in.Full = f.extent(a, p, top, level)
	}
	beam, known, err := f.beam(&in)
	if err != nil {
		return in, err
	}
	f.tips(&in, a, p, top, beam)
	f.judge(&in, p, top, beam, known)
	if a.crestCut || in.Drop.cut() {
		in.LengthIs, in.Most = tips.LowerBound, math.Inf(1)
	}
	first, last := a.ends()
	for i := first + 1; i <= last; i++ {
		in.Bridged += missing(f.sections, i)
	}
	f.line(&in, a, beam)
	return in, nil
}

// beam returns the beam at an indication, and whether it is known.
func (f *finder) beam(in *Indication) (sizing.Beam, bool, error) {
	if f.options.Beam == nil {
		return sizing.Beam{}, false, nil
	}
	at := r3.Vec{X: in.X, Y: in.S, Z: in.Z}
	b, err := f.options.Beam(at)
	if errors.Is(err, wedge.ErrNoRay) {
		return sizing.Beam{}, false, nil
	}
	if err == nil && !(width(b) > 0) {
		err = errors.New("a beam without a profile")
	}
	if err != nil {
		return sizing.Beam{}, false, fmt.Errorf("volume: beam at %v m: %w", at, err)
	}
	return b, true, nil
}

// width returns the width of a beam at half amplitude in m, NaN for the zero Beam.
func width(b sizing.Beam) float64 {
	from, to := b.Point(sizing.SixDB)
	return from + to
}

// extent returns the extent of a profile round an index above a level.
func (f *finder) extent(a *area, p profile, top int, level float64) Extent {
	var e Extent
	var falls [2]bool
	e.From, falls[0] = p.crossing(top, -1, level)
	e.To, falls[1] = p.crossing(top, 1, level)
	e.Ends = f.endsOf(a, falls)
	return e
}

// endsOf says how an extent ends that falls, or that reaches the end of the profile.
func (f *finder) endsOf(a *area, falls [2]bool) (ends [2]End) {
	for k, end := range [2]struct {
		scan bool // the profile ends with the scan
		next int  // section behind the end
	}{{a.from == 0, a.from}, {a.to == f.sections.Len()-1, a.to + 1}} {
		switch {
		case falls[k]:
			ends[k] = Falls
		case end.scan:
			ends[k] = AtScanEnd
		case f.gap(end.next):
			ends[k] = AtGap
		default:
			ends[k] = NotFollowed
		}
	}
	return ends
}

// tips sets where the profile begins to drop at both ends of the flaw.
func (f *finder) tips(in *Indication, a *area, p profile, top int, beam sizing.Beam) {
	drop := f.options.TipDrop
	before, behind := beam.Edge(drop)
	if math.IsNaN(before) { // no beam
		drop, before, behind = sizing.SixDB, 0, 0
	}
	least := max(in.Amplitude*sizing.Ratio(-tipRange), f.reference*sizing.Ratio(f.options.Level))
	dip := mergedDip * f.noise
	least = max(least, dip)
	first := p.lastMaximum(top, -1, least, dip, width(beam)/2)
	last := p.lastMaximum(top, 1, least, dip, width(beam)/2)
	var falls [2]bool
	in.Tips.From, falls[0] = p.crossing(first, -1, p.amplitudes[first]*sizing.Ratio(-drop))
	in.Tips.To, falls[1] = p.crossing(last, 1, p.amplitudes[last]*sizing.Ratio(-drop))
	in.Tips.Ends = f.endsOf(a, falls)
	if falls[0] {
		in.Tips.From += before
	}
	if falls[1] {
		in.Tips.To -= behind
	}
	if in.Tips.To < in.Tips.From {
		middle := (in.Tips.From + in.Tips.To) / 2
		in.Tips.From, in.Tips.To = middle, middle
	}
}

// judge sets the interval of the length, as if the indication were not cut.
func (f *finder) judge(in *Indication, p profile, top int, beam sizing.Beam, known bool) {
	in.LengthIs, in.Most, in.CentreU = tips.Unresolved, math.Inf(1), math.Inf(1)
	if known {
		f.interval(in, p, top, beam)
	}
	if in.Drop.cut() {
		in.CentreU = math.Inf(1)
	}
	in.Least = min(in.Least, in.Drop.Length())
}

// interval sets the interval of the length. The flaw may be a face whose echoes add in phase, or a
// rough face whose powers add. It may mirror the beam within a zone narrower than the beam, or it
// may be uneven. The interval holds the lengths of all of them.
func (f *finder) interval(in *Indication, p profile, top int, beam sizing.Beam) {
	w, length := width(beam), in.Drop.Length()
	sd := f.deviation(in, beam)
	longest := max(length, in.Tips.Length())
	// The last pieces of an uneven face lie above this level.
	level := max(in.Amplitude*sizing.Ratio(-tipRange), mergedDip*f.noise)
	if before, behind := beam.Edge(-sizing.LevelDB(level, in.Amplitude)); level < in.Amplitude*half {
		from, _ := p.crossing(top, -1, level)
		to, _ := p.crossing(top, 1, level)
		longest = max(longest, to-from-before-behind)
	}
	in.Most = longest + coverage*sd
	in.CentreU = coverage * sd / 2
	in.CentreU += max(longest-length-evenShare*w, 0) / 2
	smooth, err := beam.Strip(length, sizing.SixDB, sd)
	if err != nil { // shorter than the echo of a point
		return
	}
	in.Most = max(in.Most, smooth.High)
	if !smooth.Resolved {
		return
	}
	// The powers of a rough face add: the beam is squared, and so is the ratio at the drop.
	if squared, err := sizing.GaussianBeam(w / math.Sqrt2); err == nil {
		if rough, err := squared.Strip(length, 2*sizing.SixDB, sd); err == nil {
			in.Least = min(smooth.Low, rough.Low)
		}
	}
	if in.Least > 0 {
		in.LengthIs = tips.Measured
	}
}

// deviation returns the standard deviation of the length of the drop: of noise, pitch and the width
// of the beam.
func (f *finder) deviation(in *Indication, beam sizing.Beam) float64 {
	ratio := math.Inf(1) // of the peak to the standard deviation of the amplitude
	if f.noise > 0 {
		ratio = in.Amplitude / f.noise * math.Sqrt2
	}
	// The level of the contour follows the peak and its noise ([sizing.Beam.EdgeSD]).
	ratio /= math.Sqrt(1 + half*half)
	from, to := beam.EdgeSD(math.Inf(1), sizing.SixDB, ratio, f.step(in))
	return math.Hypot(math.Hypot(from, to), widthShare*width(beam))
}

// step returns the largest distance of sections in m at the ends of an indication.
func (f *finder) step(in *Indication) float64 {
	step := 0.0
	for i := 1; i < len(in.Positions); i++ {
		a, b := in.Positions[i-1], in.Positions[i]
		if a <= in.Drop.From && in.Drop.From <= b || a <= in.Drop.To && in.Drop.To <= b {
			step = max(step, b-a)
		}
	}
	return step
}

// line sets the extents and the centre line of an indication.
func (f *finder) line(in *Indication, a *area, beam sizing.Beam) {
	reach := 2 * f.sections.Pitch()
	if w := width(beam); w > 0 {
		reach = max(reach, w/2)
	}
	raw := make([]r3.Vec, len(a.sections))
	for i, p := range a.sections {
		raw[i] = r3.Vec{X: p.x, Y: f.sections.Position(p.section), Z: p.z}
		if i == 0 {
			in.ExtentX, in.ExtentZ = p.contourX, p.contourZ
		}
		in.ExtentX = [2]float64{min(in.ExtentX[0], p.contourX[0]), max(in.ExtentX[1], p.contourX[1])}
		in.ExtentZ = [2]float64{min(in.ExtentZ[0], p.contourZ[0]), max(in.ExtentZ[1], p.contourZ[1])}
	}
	in.Centre = smoothed(raw, reach)
	in.CurveLength = in.Drop.Length()
	last := len(in.Centre) - 1
	in.CurveLength -= in.Centre[last].Y - in.Centre[0].Y
	for i := range last {
		in.CurveLength += r3.Norm(r3.Sub(in.Centre[i+1], in.Centre[i]))
	}
}

// smoothed returns the means of x and z of points within reach before and behind each point, with
// as many points before as behind.
func smoothed(points []r3.Vec, reach float64) []r3.Vec {
	out := slices.Clone(points)
	for i := range points {
		sum, n := points[i], 1.0
		for k := 1; i-k >= 0 && i+k < len(points); k++ {
			a, b := points[i-k], points[i+k]
			if b.Y-a.Y > 2*reach {
				break
			}
			sum, n = r3.Add(sum, r3.Add(a, b)), n+2
		}
		out[i].X, out[i].Z = sum.X/n, sum.Z/n
	}
	return out
}
