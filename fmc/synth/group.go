// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"context"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/material"
)

// group is a strip of a flaw with its echoes. The echoes of its scatterers are added once for all
// frames. What changes from frame to frame is their common weight.
type group struct {
	strip
	stretch float64 // √(ρ/R) of a pipe; 1 for a straight scan
	views   [][]groupEcho
	// nearest and farthest are the legs of the least and the largest q, for a bound.
	nearest, farthest leg
}

// point reports whether the group is a point.
func (g *group) point() bool { return g.from == g.to }

// groupEcho is the echo of a group in one view and for one pair, as if the group were endless along
// the scan, or a point under the array.
type groupEcho struct {
	out, back leg
	// spectrum refers to the time of both legs. It is nil if there is no echo.
	spectrum []complex128
}

// leg is the way between an element and the centre of a group in one section.
type leg struct {
	time float64 // t₀, s
	bend float64 // 1/q, s/m²
}

// group returns the group of a strip.
func (s *Scan) group(ctx context.Context, piece strip) (*group, error) {
	scene, err := s.sceneAt((piece.from + piece.to) / 2)
	if err != nil {
		return nil, err
	}
	frequencies := s.band.frequencies
	seen, err := newViews(scene, frequencies)
	if err != nil {
		return nil, err
	}
	g := &group{strip: piece, stretch: 1}
	if r := s.part.Radius; r > 0 {
		g.stretch = math.Sqrt(max(0, 1-piece.centre.Z/r))
	}
	g.views = make([][]groupEcho, len(seen.pairs))
	for v := range g.views {
		g.views[v] = make([]groupEcho, len(s.walls.Pairs))
	}
	around := Surroundings{
		Part: scene.Setup.Part, Dimension: scene.Dimension, Frequencies: slices.Clone(frequencies),
	}
	first, last := s.walls.FirstSample, s.walls.Time(s.walls.Samples-1)
	lead := s.lead(piece)
	want := echoes{
		pairs: s.walls.Pairs, frequencies: len(frequencies),
		spread: parallel.Options{Workers: s.recording.Workers},
		covers: func(time float64) bool {
			return time >= first-s.reach-3*lead-piece.ring && time <= last+s.reach+3*lead
		},
		visit: func(p, view int, out, back *beam, spectrum []complex128) {
			g.views[view][p].add(&s.band, scene.Setup.Part, out, back, spectrum)
		},
	}
	for _, r := range piece.reflectors {
		scatterers, err := r.Scatterers(around)
		if err != nil {
			return nil, err
		}
		// The echo in the middle gives the times of the group.
		half := len(scatterers) / 2
		for _, scatterer := range append(scatterers[half:len(scatterers):len(scatterers)], scatterers[:half]...) {
			if err := seen.echoes(ctx, scene, scatterer, want); err != nil {
				return nil, err
			}
		}
	}
	g.bound()
	return g, nil
}

// bound sets the legs of the least and the largest q.
func (g *group) bound() {
	for _, view := range g.views {
		for i := range view {
			if view[i].spectrum == nil {
				continue
			}
			for _, l := range [...]leg{view[i].out, view[i].back} {
				if g.nearest.bend == 0 || l.bend > g.nearest.bend {
					g.nearest = l
				}
				if g.farthest.bend == 0 || l.bend < g.farthest.bend {
					g.farthest = l
				}
			}
		}
	}
}

// add adds the echo of a scatterer.
func (e *groupEcho) add(b *band, part material.Isotropic, out, back *beam, spectrum []complex128) {
	if e.spectrum == nil {
		e.spectrum = make([]complex128, len(spectrum))
		e.out, e.back = newLeg(part, out), newLeg(part, back)
	}
	phase, advance := b.turns(out.time + back.time - e.out.time - e.back.time)
	for k, v := range spectrum {
		e.spectrum[k] += v * phase
		phase *= advance
	}
}

// newLeg returns the leg of a beam. Its q is the sum of speed times length over the legs of its
// ray.
func newLeg(part material.Isotropic, b *beam) leg {
	return leg{time: b.time, bend: 1 / (part.Speed(b.arrival.Mode) * b.arrival.Radius)}
}

// later returns what changes if the centre moves by u along the scan: the delay in s, the slowness
// along the scan in s/m, and the spreading as a factor. The time is the hyperbola √(t₀² + t₀u²/q).
func (l leg) later(u float64) (delay, slowness, spreading float64) {
	t := math.Sqrt(l.time * (l.time + u*u*l.bend))
	return u * u * l.bend * l.time / (t + l.time), u * l.bend * l.time / t, l.time / t
}

// sight is a group in one frame.
type sight struct {
	group    *group
	from, to float64 // of the group along the scan, from the middle of the beam, m
}

// seen returns the groups that a frame at a position may contain.
func (s *Scan) seen(position float64) (out []sight) {
	for _, g := range s.groups {
		one := sight{group: g, from: s.distance(g, g.from-position), to: s.distance(g, g.to-position)}
		if one.from*one.to < 0 {
			out = append(out, one)
			continue
		}
		u := min(math.Abs(one.from), math.Abs(one.to))
		for _, l := range [...]leg{g.nearest, g.farthest} {
			if _, slowness, _ := l.later(u); s.visible(g, slowness, l.bend) {
				out = append(out, one)
				break
			}
		}
	}
	return out
}

// distance returns the distance along the scan that gives the right path to a group which is s
// ahead along the scan, in m. In a pipe of radius R, the chord between an element and a point at
// the radius ρ and the angle φ is √(r² + 4Rρ·sin²(φ/2)), with the length r at φ = 0.
func (s *Scan) distance(g *group, ahead float64) float64 {
	r := s.part.Radius
	if r == 0 {
		return ahead
	}
	half := max(-math.Pi/2, min(math.Pi/2, ahead/(2*r)))
	return 2 * r * g.stretch * math.Sin(half)
}

// The least weights of the end of a flaw and of a point at the centre frequency: -60 and -50 dB.
// Weaker echoes are left out.
const (
	leastEdge  = 1e-3
	leastPoint = 3e-3
)

// visible reports whether the weight of an end of a group may exceed the least weight, at the given
// slowness and bend, 1/q, of the mean leg. It takes the first term of the asymptotic series.
func (s *Scan) visible(g *group, slowness, bend float64) bool {
	f, length := s.part.Scene.Array.CentreFrequency, s.part.Scene.Length*g.stretch
	a := math.Pi * f * length * length * bend
	u := math.Pi * f * length * slowness / a
	if u <= 0.75 {
		return true
	}
	field := 1 / (a * (u - 0.25/u))
	if g.point() {
		return field*field > leastPoint
	}
	return field*field*math.Sqrt(2*a/math.Pi)/(4*a*u) > leastEdge
}
