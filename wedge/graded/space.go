// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// space is a part as rays with skips see it. A room is a zone on one leg of the ray: room
// leg·zones + zone. A reflection is the passage from a room to the room of the same zone on the next
// leg. So a ray is followed through walls and faces in the same way.
type space struct {
	*Part
	legs  []Polarisation
	rooms []Medium
	walls [][]wall // of each room
}

// wall is a surface by which a wave may leave a room.
type wall struct {
	surface wedge.Surface
	side    float64 // +1 if the wave comes to the far side of the surface, otherwise −1
	exit    int     // number of the surface, or −1 if the wave ends there
	mirrors bool    // the wave stays on its side of the surface
	room    int     // behind a mirror, otherwise −1
	thin    bool    // the surface of a void, which may be thinner than a step
}

const mostSkips = 8

// mostRooms is the largest number of rooms. The paths of pieces hold rooms as bytes.
const mostRooms = 256

// checkSkips returns an error for skips that a wave cannot have in the part.
func (p *Part) checkSkips(first Polarisation, skips []Polarisation) error {
	if len(skips) > mostSkips {
		return fmt.Errorf("graded: %d skips: want at most %d", len(skips), mostSkips)
	}
	if len(skips) > 0 && p.Back == nil {
		return fmt.Errorf("graded: skips in a part without back wall: want Part.Back")
	}
	for i, pol := range skips {
		if err := pol.validate(); err != nil {
			return fmt.Errorf("%w, after skip %d", err, i)
		}
		if (pol == ShearHorizontal) != (first == ShearHorizontal) {
			return fmt.Errorf("graded: %v after skip %d of %v: SH is reflected as SH only", pol, i, first)
		}
	}
	if n := len(p.Media) * (len(skips) + 1); n > mostRooms {
		return fmt.Errorf("graded: %d zones on %d legs: want a product of at most %d",
			len(p.Media), len(skips)+1, mostRooms)
	}
	return nil
}

// newSpace returns the space of a part for rays with skips.
func newSpace(p *Part, pol Polarisation, skips []Polarisation) *space {
	s := &space{Part: p, legs: append([]Polarisation{pol}, skips...)}
	for leg, pol := range s.legs {
		for zone, m := range p.Media {
			if len(skips) > 0 {
				m = oneWave{m, pol}
			}
			s.rooms = append(s.rooms, m)
			s.walls = append(s.walls, s.wallsOf(leg, zone))
		}
	}
	return s
}

// wallsOf returns the walls of a zone on a leg.
func (s *space) wallsOf(leg, zone int) []wall {
	out := []wall{{surface: s.Entry, side: -1, exit: -1, room: -1}}
	if s.Back != nil {
		out = append(out, wall{surface: s.Back, side: 1, exit: -1, room: -1})
	}
	if leg+1 < len(s.legs) {
		w := &out[1-leg%2] // the back wall, then the entry surface
		w.exit, w.mirrors, w.room = len(s.Faces), true, (leg+1)*len(s.Media)+zone
	}
	for k, f := range s.Faces[:min(zone+1, len(s.Faces))] {
		w := wall{surface: f, side: -1, exit: k, room: -1, thin: s.Media[k] == (void{})}
		if k == zone {
			w.side, w.thin = 1, false
		}
		out = append(out, w)
	}
	return out
}

// further is the distance in m behind a face at which the next zone is looked up.
const further = 10 * tolerance

// behind returns the room behind a face at one of its places, or −1 if no wave can go on there.
func (s *space) behind(room int, w *wall, at r3.Vec) int {
	u, v := w.surface.Locate(at)
	zone := room % len(s.Media)
	next := s.zone(r3.Add(at, r3.Scale(w.side*further, w.surface.At(u, v).Normal())))
	if next == zone || s.Media[next] == (void{}) {
		return -1
	}
	return room - zone + next
}

// direct reports whether rays have no skips.
func (s *space) direct() bool { return len(s.legs) == 1 }

// final reports whether a room is on the last leg, on which rays end at points.
func (s *space) final(room int) bool { return room >= s.last() }

// last returns the first room of the last leg.
func (s *space) last() int { return (len(s.legs) - 1) * len(s.Media) }

// wave returns the polarisation of the waves in a room.
func (s *space) wave(room int) Polarisation { return s.legs[room/len(s.Media)] }

// belongs reports whether q lies in the room, or on its walls.
func (s *space) belongs(q r3.Vec, room int) bool { return s.Part.belongs(q, room%len(s.Media)) }

// clearance returns the distance of a place from the nearest wall of a room, or less.
func (s *space) clearance(q r3.Vec, room int) float64 {
	least := math.Inf(1)
	for i := range s.walls[room] {
		least = min(least, math.Abs(s.walls[room][i].surface.Depth(q)))
	}
	return least
}

// thickness returns the largest distance of the two surfaces of the part, from samples along the
// entry surface in a rectangle.
func (s *space) thickness(in rectangle, y float64) float64 {
	const samples = 16
	most := 0.0
	for i := range samples + 1 {
		x := in.Min.X + (in.Max.X-in.Min.X)*float64(i)/samples
		most = max(most, math.Abs(s.Back.Depth(s.foot(r3.Vec{X: x, Y: y, Z: in.Min.Y}))))
	}
	return most
}

// oneWave is a medium that all waves cross as one polarisation.
type oneWave struct {
	Medium
	pol Polarisation
}

// Travel implements [Medium].
func (m oneWave) Travel(_ Polarisation, at, step r3.Vec) Travel {
	return m.Medium.Travel(m.pol, at, step)
}

// Phase implements [Medium].
func (m oneWave) Phase(_ Polarisation, at r3.Vec, normal float64) PhaseSpeed {
	return m.Medium.Phase(m.pol, at, normal)
}

// Elastic implements [Elastic].
func (m oneWave) Elastic(at r3.Vec) (material.Medium, error) { return elastic(m.Medium, at) }
