// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// Limits of flaws on the back wall, chosen as the limits of pairs.
const (
	minWallFit  = 0.45               // of the tip
	minCorner   = -18.0              // level of a corner in its view, dB
	maxCorner   = 2.0                // length of a corner in half-skip views, in spreads
	maxLean     = 45 * math.Pi / 180 // of a flaw on the wall, from the normal of the wall
	onWall      = 0.5                // largest distance of a corner from the wall, in wavelengths
	wallReading = 0.05e-3            // standard uncertainty of the wall itself, m
	mirrorTrust = 1.0 / 16           // information of a corner beside the echo of the wall
	minWallHole = 0.15               // fit of a hole at a corner, or at a face that reaches the wall

	// Without a corner, the fit of a tip must be better than the fit of a hole.
	minLoneFit  = 0.70
	maxLoneRest = 0.50 // energy that is not explained, relative to a hole
	assumedLean = 0.5  // standard uncertainty of the tangent of the lean
)

// corners returns the spots of a view that may be the corner between a flaw and the back wall.
func (v *model) corners(back wedge.Surface) (out []*spot) {
	for _, s := range v.spots {
		corner := math.Abs(s.wall) <= onWall*v.wavelength() && s.LevelDB >= minCorner
		if corner && s.mirrored() { // it may be the echo of the wall
			corner = !v.direct() && s.Length <= maxCorner*s.spread
		}
		if (corner || v.halfSkip() && s.reaches(back)) && s.inPhase() {
			out = append(out, s)
		}
	}
	return out
}

// inPhase reports whether the signals of a corner, or of a face at the wall, add in phase as the
// signals of a hole do. The signals of other echoes, which only cross the wall, do not. A
// conversion of the mode at the wall turns the phase from element to element, so views with
// conversions have no such test.
func (s *spot) inPhase() bool { return !s.view.skipsAlike || s.hole().quality() >= minWallHole }

// mirrored reports whether the back wall can mirror a wave from one element to another at the
// focus: some pairs have echoes that come later to the left, some later to the right.
func (f *focus) mirrored() bool {
	least, most := math.Inf(1), math.Inf(-1)
	for _, p := range f.pairs {
		least, most = min(least, p.sx), max(most, p.sx)
	}
	return least <= 0 && most >= 0
}

// stand adds the flaws whose tips stand above a corner.
func (f *finder) stand(used map[*spot]bool) {
	var corners []*spot
	for _, v := range f.views {
		corners = append(corners, v.corners(f.setup.Back)...)
	}
	for _, v := range f.views {
		for _, s := range v.spots {
			if used[s] || s.wall < v.wavelength() || s.wall > f.options.MaxLength {
				continue
			}
			if d := f.standing(s, corners); d != nil {
				used[s] = true
				f.add(d)
			}
		}
	}
}

// standing returns the draft of the flaw between a spot and the best of some corners. Without a
// corner the foot is assumed on the wall below the spot, until a face confirms it. It returns nil
// if the spot does not fit a tip.
func (f *finder) standing(s *spot, corners []*spot) (best *draft) {
	for _, c := range corners {
		foot := c.foot(f.setup.Back)
		length := math.Hypot(foot.x-s.X, foot.z-s.Z)
		if length > f.options.MaxLength || s.wall < length*math.Cos(maxLean) {
			continue
		}
		d := f.footed(s, foot)
		if d.evidence[0].Fit < minWallFit || best != nil && d.evidence[0].Fit <= best.evidence[0].Fit {
			continue
		}
		best = d
		if c.view == s.view {
			best.evidence[0].Indications[1] = c.ID
		} else {
			best.evidence = append(best.evidence, Evidence{View: c.view.name, Indications: [2]int{0, c.ID}})
		}
	}
	if best != nil {
		return best
	}
	d := f.footed(s, s.below(f.setup.Back))
	d.assumed = true
	if e := d.evidence[0]; e.Fit >= minLoneFit && 1-e.Fit <= maxLoneRest*(1-e.HoleFit) {
		return d
	}
	return nil
}

// footed returns the draft of the flaw from the tip at a spot to a foot on the wall.
func (f *finder) footed(s *spot, foot place) *draft {
	dx, dz := foot.x-s.X, foot.z-s.Z
	length := math.Hypot(dx, dz)
	most := length / s.view.wavelength() / 2
	var at match
	opening := 0.0
	for _, o := range openings {
		if m := s.best(s.tipEcho(f.tip, dx/length, dz/length, most, o)); m.quality() > at.quality() {
			at, opening = m, o
		}
	}
	return &draft{
		method: TipAndWall, reading: Measured,
		ends: [2]place{s.place(at), foot},
		evidence: []Evidence{{
			View: s.view.name, Indications: [2]int{s.ID, 0}, Fit: at.quality(), HoleFit: s.hole().quality(),
			Opening: s.view.width(opening),
		}},
	}
}

// foot returns the place of a corner, moved onto the wall.
func (s *spot) foot(back wedge.Surface) place {
	at := match{x: s.X, z: s.Z}
	if s.view.halfSkip() && s.wall > 0 && s.lean(back) <= maxLean { // a face: its foot lies on its axis
		up, n := s.up(back), normalAt(back, vec(s.X, s.Z))
		far := s.wall / (up.X*n.X + up.Z*n.Z)
		at.x, at.z = s.X+far*up.X, s.Z+far*up.Z
	}
	p := s.place(at)
	if s.mirrored() { // the echo of the wall interferes
		p.xx, p.xz, p.zz = p.xx*mirrorTrust, p.xz*mirrorTrust, p.zz*mirrorTrust
	}
	return p.onto(back, -back.Depth(vec(at.x, at.z)))
}

// below returns the place on the wall below a spot. A flaw may lean, so the place is not sure.
func (s *spot) below(back wedge.Surface) place {
	wide := assumedLean * s.wall
	return place{s.X, s.Z, 1 / (wide * wide), 0, 1 / (wide * wide)}.onto(back, s.wall)
}

// onto returns a place moved onto the wall, at the given distance.
func (p place) onto(back wedge.Surface, wall float64) place {
	n := normalAt(back, vec(p.x, p.z))
	sure := 1 / (wallReading * wallReading)
	x, z := p.x+wall*n.X, p.z+wall*n.Z
	if p.xz == 0 {
		p.x, p.z = x, z
	}
	return p.join(place{x, z, sure * n.X * n.X, sure * n.X * n.Z, sure * n.Z * n.Z})
}

// normalAt returns the unit normal of a surface near a point of the section, away from the part.
func normalAt(s wedge.Surface, at r3.Vec) r3.Vec {
	const step = 1e-6
	x := s.Depth(r3.Add(at, vec(step, 0))) - s.Depth(r3.Sub(at, vec(step, 0)))
	z := s.Depth(r3.Add(at, vec(0, step))) - s.Depth(r3.Sub(at, vec(0, step)))
	return r3.Unit(vec(x, z))
}

// faces adds the flaws on the wall whose face shows in a half-skip view, and confirms the flaws
// that were read from a tip.
func (f *finder) faces() {
	for _, v := range f.views {
		if !v.halfSkip() || !v.skipsAlike {
			continue
		}
		for _, s := range v.spots {
			if d := s.standingFace(f.setup.Back); d != nil && !f.confirms(d) {
				f.add(d)
			}
		}
	}
}

// confirms adds the evidence of a face to the flaw on the wall that it belongs to.
func (f *finder) confirms(face *draft) bool {
	for _, d := range f.drafts {
		if d.method != TipAndWall || math.Abs(d.ends[1].x-face.ends[1].x) > 2*math.Abs(d.ends[1].z-d.ends[0].z) {
			continue
		}
		if d.ends[1].apart(face.ends[1]) <= maxApart {
			if d.assumed { // the face shows the foot
				d.assumed, d.ends[1] = false, d.ends[1].join(face.ends[1])
			}
			d.evidence = append(d.evidence, face.evidence...)
			return true
		}
	}
	return false
}

// lean returns the angle of the long axis of a spot from the normal of the wall.
func (s *spot) lean(back wedge.Surface) float64 {
	n := normalAt(back, vec(s.X, s.Z))
	sin, cos := math.Sincos(s.Tilt) // the long axis runs along (sin, -cos)
	return math.Acos(min(1, math.Abs(sin*n.X-cos*n.Z)))
}

// reaches reports whether a spot is long, narrow, and reaches the wall as a standing face does.
func (s *spot) reaches(back wedge.Surface) bool {
	lambda := s.view.wavelength()
	gap := math.Inf(1) // between the contour and the wall
	for _, p := range s.Contour {
		gap = min(gap, -back.Depth(p))
	}
	return gap <= lambda/4 && s.lean(back) <= maxLean && s.Width <= 2*lambda && s.LevelDB >= minCorner
}

// standingFace returns the draft of a face that reaches the wall, or nil.
func (s *spot) standingFace(back wedge.Surface) *draft {
	if s.mirrored() || !s.reaches(back) || !s.inPhase() {
		return nil
	}
	height := 0.0
	for _, p := range s.Contour {
		height = max(height, -back.Depth(p))
	}
	foot := s.foot(back)
	// The upper end lies on the long axis, at the height of the top of the contour.
	up := s.up(back)
	n := normalAt(back, vec(s.X, s.Z))
	far := -height / (up.X*n.X + up.Z*n.Z)
	d := &draft{
		method: FaceAndWall, reading: Measured,
		ends:     [2]place{s.place(match{x: foot.x + far*up.X, z: foot.z + far*up.Z}), foot},
		evidence: []Evidence{{View: s.view.name, Indications: [2]int{s.ID, s.ID}}},
	}
	if height < s.spread {
		d.ends[0] = d.ends[0].blurred(faceBlur * s.spread)
	}
	if height < minFace*s.spread {
		d.reading = Unresolved
	}
	return d
}

// up returns the direction of the long axis away from the wall.
func (s *spot) up(back wedge.Surface) r3.Vec {
	n := normalAt(back, vec(s.X, s.Z))
	sin, cos := math.Sincos(s.Tilt)
	if sin*n.X-cos*n.Z > 0 {
		return vec(-sin, cos)
	}
	return vec(sin, -cos)
}

const (
	minFace     = 0.6  // least 6 dB height of a resolved face, in spreads
	faceBlur    = 0.1  // standard uncertainty of a height below one spread, in spreads
	minSpecular = 1.4  // least length of a specular face, in spreads
	strong      = -6.0 // least level of a specular face in its view, dB
	minFaceHole = 0.30 // fit of a hole at a specular face: its signals add in phase too
)

// specular adds the strong, long spots that no flaw explains: faces that mirror the beam.
func (f *finder) specular(used map[*spot]bool) {
	for _, v := range f.views {
		if v.halfSkip() {
			continue
		}
		for _, s := range v.spots {
			near := v.wavelength()
			if used[s] || s.wall < near || s.LevelDB < strong || !(s.Length >= minSpecular*s.spread) || f.explained(s) ||
				!(s.hole().quality() >= minFaceHole) {
				continue
			}
			sin, cos := math.Sincos(s.Tilt)
			half := s.Length / 2
			a := s.place(match{x: s.X + half*sin, z: s.Z - half*cos})
			b := s.place(match{x: s.X - half*sin, z: s.Z + half*cos})
			if a.z > b.z {
				a, b = b, a
			}
			f.add(&draft{
				method: Face, reading: LowerBound, ends: [2]place{a, b},
				evidence: []Evidence{{View: v.name, Indications: [2]int{s.ID, s.ID}}},
			})
		}
	}
}

// explained reports whether a spot lies on a flaw that was already found.
func (f *finder) explained(s *spot) bool {
	for _, d := range f.drafts {
		if d.method != Face && d.near(s.X, s.Z, s.reach(s.Length)) {
			return true
		}
	}
	return false
}
