// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/spatial/r3"
)

// fan holds rays that leave a start in all directions of a section and follow Snell's law. With it
// a table finds all rays to a point: a ray to the point lies between two neighbouring rays of the
// fan that pass the point on different sides. A fan is not changed after it is made.
type fan struct {
	shots     []shot  // those that leave the last surface, by the angle of the start
	crossings []point // of shot i, crossing k has the index i*stations + k
	stations  int
	sheets    []sheet // a sheet between neighbouring shots, then the sheets around two sheets
	top       int     // the index of the sheet around all sheets; -1 without shots
	// single tells that no two rays of the fan meet. Then at most one ray leads to any point.
	single bool
}

// sheet bounds the rays between two shots. All of them start within spread of at, and their unit
// vectors lie within turn of d.
type sheet struct {
	at, d        point
	spread, turn float64
	left, right  int // the sheets within; left is -1 in a sheet between neighbours
	first        int // the shot before the sheet between neighbours
	// bow and twist bound the distances of the rays between neighbours from their linear
	// interpolant: of the crossing (m) and of the unit vector.
	bow, twist float64
}

const (
	fanDirections = 180 // number of the first rays, all around the start
	// fanHalvings is how many times an angle is halved between a ray that leaves the last surface
	// and a ray that is totally reflected. The final angle is 1e-9 rad: the outermost ray then
	// leaves within 1e-4 rad of the surface.
	fanHalvings = 25
	// Between neighbours of a fan, crossings and directions change linearly within fanBow (a share
	// of the length of the first leg) and fanTwist, and by fanStep and fanTurn at most.
	fanBow, fanTwist = 5e-4, 1e-3
	fanStep, fanTurn = 0.1, 0.1
)

// newFan returns the fan from a start.
func newFan(p *Path, from r3.Vec) *fan {
	section := newSection(p)
	b := &fanBuilder{
		shooter: newShooter(section, flat(from), math.Inf(1)),
		fan:     &fan{stations: len(section.stations), top: -1},
		step:    math.Inf(1), low: math.Inf(1), high: math.Inf(-1),
		joined: true,
	}
	for range max(halvings, fanHalvings) + 1 {
		b.places = append(b.places, make([]point, b.fan.stations))
	}
	for i := range section.stations {
		if t := &section.stations[i]; t.kind == measured {
			b.step = min(b.step, t.profile.pitch())
			b.low, b.high = min(b.low, t.profile.x[0]), max(b.high, t.profile.x[t.profile.final])
		}
	}
	a := b.follow(-math.Pi, make([]point, b.fan.stations))
	spare := make([]point, b.fan.stations)
	for i := 1; i <= fanDirections; i++ {
		next := b.follow(-math.Pi+2*math.Pi*float64(i)/fanDirections, spare)
		b.between(a, next, 0)
		a, spare = next, a.crossings
	}
	f := b.fan
	f.single = b.diverges()
	if n := len(f.sheets); n > 0 {
		f.top = f.enclose(0, n)
	}
	return f
}

// pitch returns the least distance of neighbouring points of the profile along x, in m.
func (p *profile) pitch() float64 {
	least := math.Inf(1)
	for i := range p.final {
		least = min(least, p.x[i+1]-p.x[i])
	}
	return least
}

// fanBuilder makes a fan.
type fanBuilder struct {
	*shooter
	fan       *fan
	step      float64 // the largest distance of neighbouring crossings, from x = low to high, m
	low, high float64 // where profiles are curved, m
	// joined tells that each shot of the fan is the neighbour of the shot before it.
	joined bool
	// places holds room for the crossings of the ray in the middle, for each depth of halving.
	places [][]point
}

// ray is a shot with its crossings.
type ray struct {
	shot
	crossings []point
}

// follow returns the ray of an angle, whose crossings it writes to the given room.
func (b *fanBuilder) follow(angle float64, crossings []point) ray {
	b.crossings = crossings
	return ray{b.shoot(angle), crossings}
}

// between adds the rays between the directions of two others.
func (b *fanBuilder) between(first, last ray, depth int) {
	if !first.leaves && !last.leaves && depth >= blind {
		return
	}
	middle := b.follow((first.angle+last.angle)/2, b.places[depth])
	if first.leaves && middle.leaves && last.leaves && depth > 0 {
		if bow, twist, near := b.compare(first.shot, middle.shot, last.shot); near {
			b.add(first, last, bow, twist)
			return
		}
	}
	if depth < halvings || depth < fanHalvings && first.ok && last.ok && first.leaves != last.leaves {
		b.between(first, middle, depth+1)
		b.between(middle, last, depth+1)
	}
}

// compare returns how far the middle of three shots lies from the middle between the others, and
// reports whether the outer shots are near enough to be neighbours.
func (b *fanBuilder) compare(first, middle, last shot) (bow, twist float64, near bool) {
	leg := math.Hypot(first.at.x-b.from.x, first.at.z-b.from.z)
	step, turn := last.at.minus(first.at), last.d.minus(first.d)
	off := point{middle.at.x - first.at.x - step.x/2, middle.at.z - first.at.z - step.z/2}
	bend := point{middle.d.x - first.d.x - turn.x/2, middle.d.z - first.d.z - turn.z/2}
	bow, twist = math.Hypot(off.x, off.z), math.Hypot(bend.x, bend.z)
	limit := fanStep * leg
	if max(first.at.x, last.at.x) >= b.low && min(first.at.x, last.at.x) <= b.high {
		limit = min(limit, b.step)
	}
	near = bow <= fanBow*leg && twist <= fanTwist && math.Hypot(turn.x, turn.z) <= fanTurn &&
		math.Hypot(step.x, step.z) <= limit
	return bow, twist, near
}

// add adds a sheet between neighbours.
func (b *fanBuilder) add(first, last ray, bow, twist float64) {
	f := b.fan
	if n := len(f.shots); n == 0 || f.shots[n-1].angle != first.angle {
		b.joined = b.joined && n == 0
		b.append(first)
	}
	b.append(last)
	step, turn := last.at.minus(first.at), last.d.minus(first.d)
	f.sheets = append(f.sheets, sheet{
		at:     point{(first.at.x + last.at.x) / 2, (first.at.z + last.at.z) / 2},
		d:      point{(first.d.x + last.d.x) / 2, (first.d.z + last.d.z) / 2},
		spread: math.Hypot(step.x, step.z)/2 + 2*bow,
		turn:   math.Hypot(turn.x, turn.z)/2 + 2*twist,
		left:   -1, first: len(f.shots) - 2,
		bow: bow, twist: twist,
	})
}

// append adds a ray.
func (b *fanBuilder) append(a ray) {
	b.fan.shots = append(b.fan.shots, a.shot)
	b.fan.crossings = append(b.fan.crossings, a.crossings...)
}

// enclose returns the index of a new sheet around the sheets from first to last-1.
func (f *fan) enclose(first, last int) int {
	if last-first == 1 {
		return first
	}
	middle := (first + last) / 2
	left, right := f.enclose(first, middle), f.enclose(middle, last)
	a, b := &f.sheets[left], &f.sheets[right]
	s := sheet{
		at:   point{(a.at.x + b.at.x) / 2, (a.at.z + b.at.z) / 2},
		d:    point{(a.d.x + b.d.x) / 2, (a.d.z + b.d.z) / 2},
		left: left, right: right,
	}
	s.spread = math.Hypot(a.at.x-b.at.x, a.at.z-b.at.z)/2 + max(a.spread, b.spread)
	s.turn = math.Hypot(a.d.x-b.d.x, a.d.z-b.d.z)/2 + max(a.turn, b.turn)
	f.sheets = append(f.sheets, s)
	return len(f.sheets) - 1
}

// diverges reports whether no two rays of the fan meet behind the last surface, except within
// 10 µm of the surface. There the times of both rays differ by less than a table can hold.
//
// The rays must follow each other without a gap. They must turn the same way from one to the next,
// by less than a full turn in all. They must start one beside the other in the order of their turn.
// Then the rays map angles of the start and lengths of the last leg to places, and the map is
// locally one to one. It is one to one as a whole if it is so on its edge: the first ray, the last
// ray, and the crossings between them.
func (b *fanBuilder) diverges() bool {
	const atSurface = 10e-6 // m
	shots := b.fan.shots
	if len(shots) == 0 || !b.joined {
		return false
	}
	turned, bent, forward := 0.0, 0.0, 0.0
	for i := range len(shots) - 1 {
		p, q := &shots[i], &shots[i+1]
		step := q.at.minus(p.at)
		turn, beside := cross(point{}, p.d, q.d), cross(point{}, p.d, step)
		along := step.x*p.tx + step.z*p.tz
		if turn*(beside+atSurface*turn) < 0 || turn*turned < 0 || along*forward < 0 {
			return false
		}
		turned += math.Asin(turn)
		bent += math.Abs(p.tx*q.tz - p.tz*q.tx)
		forward += along
	}
	first, last := &shots[0], &shots[len(shots)-1]
	if first.angle == -math.Pi && last.angle == math.Pi {
		return math.Abs(turned) <= 2*math.Pi+1e-6 // the edge is closed
	}
	const far = 1e3 // m
	end := point{last.at.x + far*last.d.x, last.at.z + far*last.d.z}
	if !(math.Abs(turned) < 2*math.Pi && bent < 2*math.Pi) || first.meets(last.at, end) {
		return false
	}
	for i := range len(shots) - 1 {
		p, q := shots[i].at, shots[i+1].at
		if i > 0 && first.meets(p, q) || i+2 < len(shots) && last.meets(p, q) {
			return false
		}
	}
	return true
}

// meets reports whether the ray beyond the last surface meets the line between two points.
func (a *shot) meets(p, q point) bool {
	e, along := p.minus(a.at), q.minus(p)
	across := a.d.x*along.z - a.d.z*along.x
	share, length := (e.x*a.d.z-e.z*a.d.x)/across, (e.x*along.z-e.z*along.x)/across
	return share >= 0 && share <= 1 && length >= 0
}

// lead is a place of the fan near which a ray to a point leaves: at a share from a shot to the
// next.
type lead struct {
	shot  int
	share float64
	sure  bool // the neighbours pass the point on different sides
}

// find appends the leads to q.
func (f *fan) find(leads []lead, q point) []lead {
	if f.top < 0 {
		return leads
	}
	var stack [64]int
	stack[0] = f.top
	for n := 1; n > 0; {
		n--
		s := &f.sheets[stack[n]]
		e := q.minus(s.at)
		// The cross product of the unit vector of a ray and of the vector from its crossing to q
		// differs from the value of the middle by this bound.
		reach := math.Sqrt(e.x*e.x + e.z*e.z)
		if side := s.d.x*e.z - s.d.z*e.x; math.Abs(side) > s.turn*reach+s.spread {
			continue
		}
		if s.left >= 0 {
			stack[n], stack[n+1] = s.right, s.left
			n += 2
			continue
		}
		leads = f.passes(leads, s, q)
	}
	return leads
}

// passes appends the leads to q in a sheet between neighbours.
func (f *fan) passes(leads []lead, s *sheet, q point) []lead {
	a, b := &f.shots[s.first], &f.shots[s.first+1]
	ea, eb := q.minus(a.at), q.minus(b.at)
	fa, fb := a.d.x*ea.z-a.d.z*ea.x, b.d.x*eb.z-b.d.z*eb.x
	if (fa < 0) != (fb < 0) {
		share := fa / (fa - fb)
		ahead := (1-share)*(a.d.x*ea.x+a.d.z*ea.z) + share*(b.d.x*eb.x+b.d.z*eb.z)
		if ahead >= -s.spread-s.bow {
			leads = append(leads, lead{s.first, share, true})
		}
		return leads
	}
	// The rays between may reach q although both neighbours pass it on the same side.
	off := 4 * (s.bow + s.twist*math.Sqrt(ea.x*ea.x+ea.z*ea.z))
	if max(a.d.x*ea.x+a.d.z*ea.z, b.d.x*eb.x+b.d.z*eb.z) < -s.spread {
		return leads
	}
	if math.Abs(fa) <= off {
		leads = append(leads, lead{s.first, 0, false})
	}
	if math.Abs(fb) <= off {
		leads = append(leads, lead{s.first, 1, false})
	}
	return leads
}

// near returns a crossing of the ray at a lead, by linear interpolation.
func (f *fan) near(l lead, crossing int) point {
	a := f.crossings[l.shot*f.stations+crossing]
	b := f.crossings[(l.shot+1)*f.stations+crossing]
	return point{a.x + l.share*(b.x-a.x), a.z + l.share*(b.z-a.z)}
}

// holds reports whether the direction e of a first leg lies between the neighbours at a lead.
func (f *fan) holds(l lead, e point) bool {
	const slack = 1e-7 // of the length of e
	a, b := f.shots[l.shot].start, f.shots[l.shot+1].start
	limit := slack * (math.Abs(e.x) + math.Abs(e.z))
	// The angles grow from +z towards +x.
	return a.z*e.x-a.x*e.z >= -limit && b.z*e.x-b.x*e.z <= limit && a.x*e.x+a.z*e.z > 0
}

// fans holds the fans of the elements of a table. A fan is made when it is first needed.
type fans struct {
	path     *Path
	elements []r3.Vec
	once     []sync.Once
	made     []*fan
}

// newFans returns the fans of the elements. It returns nil if at most one ray of p leads to any
// point, or if p has no section.
func newFans(p *Path, elements []r3.Vec) *fans {
	if p.single() || !p.extruded() {
		return nil
	}
	return allFans(p, elements)
}

// allFans returns the fans of the elements. p has a section and at least one crossing.
func allFans(p *Path, elements []r3.Vec) *fans {
	n := len(elements)
	return &fans{path: p, elements: elements, once: make([]sync.Once, n), made: make([]*fan, n)}
}

// of returns the fan of an element. It is safe for concurrent use.
func (f *fans) of(element int) *fan {
	if f == nil {
		return nil
	}
	f.once[element].Do(func() { f.made[element] = newFan(f.path, f.elements[element]) })
	return f.made[element]
}

// single reports whether at most one ray of p leads from any start to any end.
//
// Through planes alone the time is a convex function of the crossings. Through one curved surface
// the time is a minimum at every ray if the slower side of a refraction bends away from the
// surface, or if the reflecting side does. For a refraction Snell's law then gives a normal
// component of the slowness that is larger on the slower side. Two minima would have a saddle
// between them.
func (p *Path) single() bool {
	flat := true
	for _, c := range p.crossings {
		_, is := c.Surface.(*plane)
		flat = flat && is
	}
	if flat {
		return true
	}
	if len(p.crossings) != 1 {
		return false
	}
	c := p.crossings[0]
	before, after := p.legs[0].Speed, p.legs[1].Speed
	if c.Reflects || before < after {
		return convex(bound{c.Surface, 1 - c.From})
	}
	return convex(bound{c.Surface, c.From})
}
