// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"github.com/isochron-imaging/isochron/material/diffraction"
	"github.com/isochron-imaging/isochron/sizing"
)

// Limits of a pair of tips. They were chosen on tips_plate1, tips_weld1 and the synthetic captures
// of even seeds.
const (
	minFit     = 0.45 // of both tips together
	minTipFit  = 0.30 // of each tip
	hopeless   = 0.08 // fit of a tip at which the search ends
	maxPhase   = 70 * math.Pi / 180
	maxRatio   = 7.0  // dB
	maxUneven  = 24.0 // predicted level of one tip above the other, dB
	uneven     = 15.0 // the same, of tips that must fit better than holes
	holeMargin = 0.12 // by which two holes may fit better
	holeRest   = 2.0  // largest energy that is not explained, relative to two holes

	maxLobes  = 4.0 // largest difference of the levels of two lobes, dB
	lobeReach = 2.5 // largest distance of two lobes, in spreads

	clearHoles     = 0.60 // least fit of two holes in another view
	clearMargin    = 0.15 // by which they fit better than two tips
	reflectorReach = 2.5  // largest distance between the spots of one reflector, in wavelengths

	creepDrop  = 6.0                // dB
	creepReach = 8.0                // wavelengths
	creepAngle = 15 * math.Pi / 180 // from the direction of the waves
)

// openings are the widths of a slit that are tried, in wavelengths of transverse waves.
var openings = [...]float64{0, 0.06, 0.12, 0.18, 0.24}

// pair is two spots as the tips of one flaw, the upper spot first.
type pair struct {
	spots    [2]*spot
	at       [2]match
	evidence Evidence
}

// pairs returns the pairs of tips of a view, the best fit first. No spot is in two pairs.
func (v *model) pairs(tip *diffraction.Tip, o *Options) []*pair {
	var found []*pair
	candidates := append(slices.Clone(v.spots), v.twins()...)
	for i, a := range candidates {
		for _, b := range candidates[i+1:] {
			if a.shares(b) || v.creeps(a, b) || v.creeps(b, a) {
				continue
			}
			if p := newPair(tip, a, b, o); p != nil {
				found = append(found, p)
			}
		}
	}
	slices.SortStableFunc(found, func(a, b *pair) int {
		return cmp.Compare(b.evidence.Fit, a.evidence.Fit)
	})
	used := map[*spot]bool{}
	return slices.DeleteFunc(found, func(p *pair) bool {
		for _, s := range p.members() {
			if used[s] {
				return true
			}
		}
		for _, s := range p.members() {
			used[s] = true
		}
		return false
	})
}

// members returns the spots of the picture that a pair consists of.
func (p *pair) members() []*spot {
	return append(p.spots[0].members(), p.spots[1].members()...)
}

// members returns both spots of a twin, or the spot itself.
func (s *spot) members() []*spot {
	if s.lobes[0] != nil {
		return s.lobes[:]
	}
	return []*spot{s}
}

// shares reports whether two spots have a spot of the picture in common.
func (s *spot) shares(other *spot) bool {
	for _, m := range other.members() {
		if slices.Contains(s.members(), m) {
			return true
		}
	}
	return false
}

// twins returns a spot in the middle of each two spots that may be the lobes of one tip. If the
// coefficient of a tip changes its sign within the aperture, the spot of the tip splits across the
// beam into two lobes of about equal level.
func (v *model) twins() (out []*spot) {
	for i, a := range v.spots {
		for _, b := range v.spots[i+1:] {
			dx, dz := b.X-a.X, b.Z-a.Z
			apart := math.Hypot(dx, dz)
			x, z := a.away()
			if math.Abs(a.LevelDB-b.LevelDB) > maxLobes || apart > lobeReach*(a.spread+b.spread)/2 ||
				math.Abs(dx*x+dz*z) > apart/2 {
				continue
			}
			s := *a
			s.lobes, s.asHole = [2]*spot{a, b}, nil
			s.X, s.Z, s.wall = (a.X+b.X)/2, (a.Z+b.Z)/2, (a.wall+b.wall)/2
			s.Length, s.Tilt = apart, math.Atan2(dx, -dz)
			s.focus = v.at(s.X, s.Z)
			out = append(out, &s)
		}
	}
	return out
}

// creeps reports whether a spot lies close behind a much stronger spot that is not the given
// partner. Waves that creep round a hole, or that a reflector delays in other ways, show there.
func (v *model) creeps(s, partner *spot) bool {
	for _, front := range v.spots {
		if front.shares(s) || front.shares(partner) {
			continue
		}
		dx, dz := s.X-front.X, s.Z-front.Z
		distance := math.Hypot(dx, dz)
		if front.LevelDB < s.LevelDB+creepDrop || distance > creepReach*v.wavelength() {
			continue
		}
		if x, z := front.away(); dx*x+dz*z >= distance*math.Cos(creepAngle) {
			return true
		}
	}
	return false
}

// newPair returns the pair of two spots, or nil if they do not fit the tips of one flaw.
func newPair(tip *diffraction.Tip, a, b *spot, o *Options) *pair {
	if a.Z > b.Z {
		a, b = b, a
	}
	v := a.view
	near := v.wavelength()
	length := math.Hypot(b.X-a.X, b.Z-a.Z)
	if length < near || length > o.MaxLength || a.wall < near/2 || b.wall < near/2 {
		return nil
	}
	p := measurePair(tip, a, b)
	if !p.fits() {
		return nil
	}
	return p
}

// measurePair returns the pair of two spots of a view, the upper spot first, with its evidence.
func measurePair(tip *diffraction.Tip, a, b *spot) *pair {
	p := &pair{spots: [2]*spot{a, b}}
	for i, spot := range p.spots {
		p.at[i] = match{x: spot.X, z: spot.Z}
	}
	if p.place(tip, openings[2]); p.at[0].quality() < hopeless || p.at[1].quality() < hopeless {
		return p
	}
	best := match{}
	for _, opening := range openings {
		var at [2]match
		for i, e := range p.echoes(tip, opening) {
			s := p.spots[i]
			at[i] = s.matched(e, p.at[i].x-s.focus.x, p.at[i].z-s.focus.z)
		}
		if both := at[0].with(at[1]); both.quality() > best.quality() {
			best = both
			p.evidence.Opening = opening
		}
	}
	p.place(tip, p.evidence.Opening)
	p.judge()
	return p
}

// place finds the places of both tips. The predictions depend on the direction of the crack, so
// place repeats the search with the direction that it has found.
func (p *pair) place(tip *diffraction.Tip, opening float64) {
	const most = 3
	for range most {
		last := p.at
		for i, e := range p.echoes(tip, opening) {
			if p.at[i] = p.spots[i].best(e); p.at[i].quality() < hopeless {
				return
			}
		}
		moved := math.Hypot(p.at[0].x-last[0].x, p.at[0].z-last[0].z) + math.Hypot(p.at[1].x-last[1].x, p.at[1].z-last[1].z)
		if moved < p.spots[0].view.wavelength()/20 {
			return
		}
	}
}

// echoes returns the predicted echoes of both tips.
func (p *pair) echoes(tip *diffraction.Tip, opening float64) [2]*echo {
	a, b := p.spots[0], p.spots[1]
	dx, dz := p.at[1].x-p.at[0].x, p.at[1].z-p.at[0].z
	length := math.Hypot(dx, dz)
	// Towards the specular direction the coefficient of a tip grows up to the echo of the face.
	most := length / a.view.wavelength() / 2
	return [2]*echo{
		a.tipEcho(tip, dx/length, dz/length, most, opening),
		b.tipEcho(tip, -dx/length, -dz/length, most, opening),
	}
}

// judge sets the evidence.
func (p *pair) judge() {
	a, b := p.at[0], p.at[1]
	e := &p.evidence
	v := p.spots[0].view
	e.View = v.name
	e.Indications = [2]int{p.spots[0].ID, p.spots[1].ID}
	e.Fit = a.with(b).quality()
	e.Opening = v.width(e.Opening)
	e.Phase = cmplx.Phase(a.predicted * cmplx.Conj(b.predicted))
	e.PhaseError = cmplx.Phase(a.gain() * cmplx.Conj(b.gain()))
	e.RatioDB = sizing.LevelDB(cmplx.Abs(a.predicted), cmplx.Abs(b.predicted))
	e.RatioErrorDB = sizing.LevelDB(cmplx.Abs(a.gain()), cmplx.Abs(b.gain()))
	one, two := p.spots[0].hole(), p.spots[1].hole()
	e.HoleFit = (one.quality()*one.total + two.quality()*two.total) / (one.total + two.total)
}

// fits reports whether the evidence is within all limits.
func (p *pair) fits() bool {
	e := &p.evidence
	return e.Fit >= minFit && p.at[0].quality() >= minTipFit && p.at[1].quality() >= minTipFit &&
		math.Abs(e.PhaseError) <= maxPhase && math.Abs(e.RatioErrorDB) <= maxRatio &&
		math.Abs(e.RatioDB) <= maxUneven && e.HoleFit-e.Fit <= p.margin() && 1-e.Fit <= holeRest*(1-e.HoleFit)+0.01
}

// margin returns by how much two holes may fit better than the tips. A hole and the much weaker
// wave that creeps round it may look like two uneven tips. So holes must not fit better than uneven
// tips.
func (p *pair) margin() float64 {
	if math.Abs(p.evidence.RatioDB) > uneven {
		return 0
	}
	return holeMargin
}

// contradicted reports whether another view shows two holes where a view shows a pair of tips.
func (f *finder) contradicted(p *pair) bool {
	for _, v := range f.views {
		if v == p.spots[0].view {
			continue
		}
		for i, a := range v.spots {
			for _, b := range v.spots[i+1:] {
				if a.Z > b.Z {
					a, b = b, a
				}
				if a.beside(p.spots[0]) && b.beside(p.spots[1]) {
					e := measurePair(f.tip, a, b).evidence
					if e.HoleFit >= clearHoles && e.HoleFit-e.Fit >= clearMargin {
						return true
					}
				}
			}
		}
	}
	return false
}

// beside reports whether two spots of different views may be the echoes of one reflector.
func (s *spot) beside(other *spot) bool {
	return math.Hypot(s.X-other.X, s.Z-other.Z) <= reflectorReach*s.view.wavelength()
}

// hole returns the best match of a hole of any size at the spot.
func (s *spot) hole() match {
	if s.asHole == nil {
		top := s.bestHole()
		s.asHole = &top
	}
	return *s.asHole
}

func (s *spot) bestHole() (top match) {
	lambda := s.view.wavelength()
	for _, radius := range [...]float64{0, lambda / 4, lambda / 2, lambda} {
		if m := s.best(s.holeEcho(radius)); m.quality() > top.quality() {
			top = m
		}
	}
	return top
}

// with returns the match of two echoes with a common gain.
func (m match) with(n match) match {
	m.sum += n.sum
	m.power += n.power
	m.total += n.total
	return m
}
