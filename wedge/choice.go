// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/parallel"
)

// Choice tells which ray a table of [Path.Times] holds where several rays lead from an element to a
// point. The zero value stands for the first ray, the ray of least time.
//
// The first ray is the best choice for most images: it has touched no caustic, so its echo has the
// phase of the pulse. The strongest ray gives the best contrast where a surface focuses. The
// nearest ray keeps the ray of another table while the geometry changes in small steps.
type Choice struct {
	by        criterion
	strongest *Amplitudes
	nearest   *Times
}

// criterion tells by what a ray is chosen.
type criterion uint8

const (
	byTime criterion = iota // the first ray
	byAmplitude
	byTable
)

// Strongest chooses the ray with the largest amplitude. The amplitudes must belong to the path of
// the table. Rays on a caustic, where ray theory has no amplitude, count as the strongest.
func Strongest(a *Amplitudes) Choice { return Choice{by: byAmplitude, strongest: a} }

// Nearest chooses the ray whose time is nearest to the time in a table from as many elements to as
// many points. Where that table has no time, it chooses the first ray.
func Nearest(to *Times) Choice { return Choice{by: byTable, nearest: to} }

// validate returns an error unless c can choose among the rays of p to a table of pairs.
func (c Choice) validate(p *Path, elements, points int) error {
	switch {
	case c.by == byAmplitude && (c.strongest == nil || c.strongest.path != p):
		return fmt.Errorf("wedge: the strongest rays by no amplitudes or amplitudes of another path: want amplitudes of this path")
	case c.by == byTable && c.nearest == nil:
		return fmt.Errorf("wedge: the rays nearest to a missing table: want a table of %d × %d times", elements, points)
	case c.by == byTable && (c.nearest.Elements != elements || c.nearest.Points != points || len(c.nearest.Seconds) != elements*points):
		return fmt.Errorf("wedge: the rays nearest to a table of %d × %d with %d times: want %d × %d",
			c.nearest.Elements, c.nearest.Points, len(c.nearest.Seconds), elements, points)
	}
	return nil
}

// chosen identifies a table of rays other than the first, as [MadeFor.Path].
type chosen struct {
	path *Path
	// by is the [Acoustics] of the strongest ray, a nearTimes, or the number of a table of branches.
	by any
}

// nearTimes identifies the times of a nearest table. It does not hold what that table was made for:
// each table of a sequence, nearest to the table before, would keep all tables before.
type nearTimes uint64

// identify returns the identity of times in s.
func identify(seconds []float32) nearTimes {
	var sum uint64
	for _, v := range seconds {
		bits := math.Float32bits(v)
		if v != v {
			bits = math.Float32bits(float32(math.NaN())) // one pattern for all
		}
		sum = mix(sum, uint64(bits))
	}
	return nearTimes(sum)
}

// each calls visit with all rays from every element to every point, in order of time, and with the
// index of the pair in a table. The calls overlap.
func (p *Path) each(
	ctx context.Context, elements, points []r3.Vec, options *TimesOptions, visit func(at int, rays []StationaryRay),
) error {
	if err := p.checkEnds(elements, points); err != nil {
		return err
	}
	if !p.extruded() || !inSection(elements, points) {
		return fmt.Errorf("wedge: all rays from %d elements to %d points: want ends of one y, and surfaces that are extruded along y",
			len(elements), len(points))
	}
	const chunk = 1024 // points of a task
	var all *fans
	if len(p.crossings) > 0 {
		all = allFans(p, elements)
	}
	chunks := (len(points) + chunk - 1) / chunk
	spread := parallel.Options{Workers: options.Workers, Progress: options.Progress}
	return parallel.Do(ctx, len(elements)*chunks, spread, func() func(int) error {
		k := newSeeker(newSolver(p))
		return func(task int) error {
			e, first := task/chunks, task%chunks*chunk
			for i := first; i < min(first+chunk, len(points)); i++ {
				if p.endsAt(points[i]) {
					visit(e*len(points)+i, k.all(all.of(e), elements[e], points[i]))
				}
			}
			return nil
		}
	})
}

// all returns all rays to q, in order of time. Without a lead it returns the ray to which the search
// leads from the straight line.
func (k *seeker) all(f *fan, from, q r3.Vec) (rays []StationaryRay) {
	s := k.solver
	add := func() {
		r := StationaryRay{}
		r.record(s)
		for i := range rays {
			if coincide(rays[i].Points, r.Points) {
				return
			}
		}
		k.measure(&r, from, q)
		rays = append(rays, r)
	}
	if f != nil {
		k.leads = f.find(k.leads[:0], flat(q))
		for _, l := range k.leads {
			if k.solve(f, l, from, q) == OK {
				add()
			}
		}
	}
	if len(rays) == 0 {
		s.aim(from, q)
		if f == nil {
			s.evaluate()
		} else if s.search() != OK {
			return nil
		}
		if s.checkWalls() == OK {
			add()
		}
	}
	slices.SortFunc(rays, func(a, b StationaryRay) int { return cmp.Compare(a.Time, b.Time) })
	return rays
}

// measure computes the index and the radius of the ray that the solver has found.
func (k *seeker) measure(r *StationaryRay, from, q r3.Vec) {
	if k.section == nil {
		r.Radius = k.solver.span
		return
	}
	k.section.adopt(k.solver, flat(from), flat(q))
	r.Index = k.section.index()
	r.Radius = k.section.slopes(flat(q), point{1, 0}, point{0, 1}).radius
	r.Caustic = !(math.Abs(r.Radius) > causticRadius*k.solver.span)
}

// choose fills the table with the chosen rays.
func (p *Path) choose(ctx context.Context, t *Times, elements, points []r3.Vec, options *TimesOptions) error {
	c := options.Choice
	if err := c.validate(p, len(elements), len(points)); err != nil {
		return err
	}
	var pick func(at int, rays []StationaryRay) int
	if c.by == byAmplitude {
		t.MadeFor.Path = chosen{p, c.strongest.acoustics}
		pick = func(_ int, rays []StationaryRay) int { return c.strongestOf(rays) }
	} else {
		t.MadeFor.Path = chosen{p, identify(c.nearest.Seconds)}
		pick = func(at int, rays []StationaryRay) int { return nearestOf(rays, float64(c.nearest.Seconds[at])) }
	}
	for i := range t.Seconds {
		t.set(i, math.NaN(), nowhere, nowhere)
	}
	err := p.each(ctx, elements, points, options, func(at int, rays []StationaryRay) {
		if len(rays) > 0 {
			r := &rays[pick(at, rays)]
			t.set(at, r.Time, single(r.Direction(0)), single(r.Direction(len(r.Points)-2)))
		}
	})
	for _, v := range t.Seconds {
		if v != v {
			t.Missing++
		}
	}
	return err
}

// strongestOf returns the index of the strongest of the rays. A ray without an amplitude, as of a
// leg without a length, is the weakest.
func (c Choice) strongestOf(rays []StationaryRay) int {
	best, most := 0, -1.0
	for i := range rays {
		a, err := c.strongest.Along(&rays[i].Ray)
		switch {
		case err != nil:
			continue
		case math.IsInf(a.Spreading, 1):
			return i
		}
		if size := cmplx.Abs(a.Value()); size > most {
			best, most = i, size
		}
	}
	return best
}

// nearestOf returns the index of the ray whose time is nearest to a time (s), or 0 for NaN.
func nearestOf(rays []StationaryRay, time float64) int {
	best := 0
	for i := range rays {
		if math.Abs(rays[i].Time-time) < math.Abs(rays[best].Time-time) {
			best = i
		}
	}
	return best
}
