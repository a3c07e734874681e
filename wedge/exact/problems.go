// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package exact

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

const (
	bisection = "independent calculation by bisection with 25 digits, mpmath 1.2.1"
	// closed is the tolerance of times from a closed formula. Coordinates in float64 are rounded by
	// about 1e-15 m, in paths of some centimetres.
	closed = 1e-13
	// printed is the tolerance of times printed with 13 digits.
	printed = 1e-12
)

// Problems returns all problems. The caller may change them.
func Problems() []Problem {
	return slices.Concat(planes(), straight(), layers(), skips(), rounds(), bent(), conics())
}

// Get returns the problem with a name, and whether there is one.
func Get(name string) (Problem, bool) {
	for _, p := range Problems() {
		if p.Name == name {
			return p, true
		}
	}
	return Problem{}, false
}

// mm returns the point (x, 0, z), both in millimetres.
func mm(x, z float64) r3.Vec { return r3.Vec{X: x * 1e-3, Z: z * 1e-3} }

// legs returns legs of speeds in mm/µs.
func legs(speeds ...float64) []wedge.Leg {
	var legs []wedge.Leg
	for _, c := range speeds {
		legs = append(legs, wedge.Leg{Speed: c * 1e3})
	}
	return legs
}

// through returns refractions at each surface, from its near side.
func through(surfaces ...wedge.Surface) []wedge.Crossing {
	var crossings []wedge.Crossing
	for _, s := range surfaces {
		crossings = append(crossings, wedge.Crossing{Surface: s})
	}
	return crossings
}

// off returns a reflection off the near side of a surface.
func off(s wedge.Surface) []wedge.Crossing {
	return []wedge.Crossing{{Surface: s, Reflects: true}}
}

// level returns the horizontal plane at a depth in mm.
func level(z float64) wedge.Surface { return must(wedge.HorizontalPlane(z * 1e-3)) }

// planes returns problems of one plane or one circle, computed by bisection.
func planes() []Problem {
	water := legs(1.48, 5.9)
	tilted := must(wedge.NewPlane(mm(0, 20), r3.Vec{X: -0.2, Z: 1})) // z = 20 mm + 0.2·x
	problem := func(name string, legs []wedge.Leg, s wedge.Surface, from, to r3.Vec,
		microseconds float64, at r3.Vec) Problem {
		return Problem{
			Name: name, Source: bisection, Legs: legs, Crossings: through(s), From: from, To: to,
			Seconds: microseconds * 1e-6, Tolerance: printed, Points: []r3.Vec{at},
		}
	}
	return []Problem{
		problem("plane, 1.48 to 5.9 mm/µs", water, level(0), mm(0, -20), mm(20, 30),
			19.505272739817, mm(2.5435230719443, 0)),
		problem("plane, 1.48 to 3.23 mm/µs", legs(1.48, 3.23), level(0), mm(0, -20), mm(20, 30),
			24.305214413709, mm(4.3394512610422, 0)),
		problem("plane, 2.73 to 5.92 mm/µs", legs(2.73, 5.92), level(0), mm(0, -10), mm(30, 25),
			10.034789977942, mm(3.5566181667044, 0)),
		problem("plane, 2.73 to 3.255 mm/µs", legs(2.73, 3.255), level(0), mm(0, -10), mm(30, 25),
			14.907610470387, mm(6.9182894302512, 0)),
		problem("plane, end 0.1 mm below", legs(1.5, 6), level(0), mm(0, -50), mm(3, 0.1),
			33.409464754698, mm(2.9755370656073, 0)),
		problem("tilted plane", water, tilted, mm(0, 0), mm(15, 45), 18.45021752422,
			mm(-0.5059956847465, 19.89880086305)),
		problem("convex cylinder", water, drum(50), mm(0, 0), mm(10, 30), 15.77012118042,
			mm(2.3393278442, 20.0547545282)),
		problem("convex cylinder, over the top", water, drum(50), mm(10, 0), mm(-8, 35),
			17.42597443131, mm(4.93291252124, 20.2439312841)),
	}
}

// drum returns a convex cylinder along y with a radius in mm. Its top lies at z = 20 mm.
func drum(radius float64) wedge.Surface {
	return must(wedge.NewCylinder(mm(0, 20+radius), r3.Vec{Y: 1}, radius*1e-3, wedge.Convex))
}

// straight returns problems whose ray is a straight line. It meets each surface along the normal,
// or the media have the same speed.
func straight() []Problem {
	const normal = "closed form: sum of distance over speed along the normal"
	const equal = "identity: in equal media the ray is the straight line"
	sphere := must(wedge.NewSphere(r3.Vec{Y: 3e-3, Z: 60e-3}, 40e-3,
		wedge.Convex)) // top at z = 20 mm
	skew := must(wedge.NewPlane(mm(0, 20), r3.Vec{X: 0.3, Y: -0.4, Z: 1}))
	// along returns the problem of a line through the surface at the parameters u and v in m. The
	// line starts a mm before the surface and ends b mm behind it.
	along := func(name, source string, legs []wedge.Leg, s wedge.Surface, u, v float64,
		direction r3.Vec, a, b float64) Problem {
		at := s.At(u, v)
		if direction == (r3.Vec{}) {
			direction = at.Normal()
		}
		return constructed(name, source, legs, s, at, r3.Unit(direction), a*1e-3, b*1e-3)
	}
	water, none := legs(1.48, 5.9), r3.Vec{}
	same := legs(3.24, 3.24)
	oblique := r3.Vec{X: 0.5, Y: -0.3, Z: 1}
	return []Problem{
		along("plane, normal incidence", normal, water, level(0), 0, 0, none, 15, 40),
		along("skew plane, normal incidence", normal, water, skew, 4e-3, -5e-3, none, 15, 40),
		along("convex cylinder, normal incidence", normal, water, drum(50), 9e-3, 2e-3, none, 12,
			20),
		along("sphere, normal incidence", normal, water, sphere, 6e-3, -4e-3, none, 12, 20),
		along("plane, equal media", equal, same, level(0), 2e-3, 0, r3.Vec{X: 0.8, Z: 1}, 15, 40),
		along("skew plane, equal media", equal, same, skew, 2e-3, 1e-3, oblique, 15, 40),
		along("convex cylinder, equal media", equal, same, drum(50), 5e-3, 0, r3.Vec{X: 0.4, Z: 1},
			15, 20),
		along("convex cylinder, equal media, out of its section", equal, same, drum(50), 5e-3, 1e-3,
			oblique, 15, 20),
		along("sphere, equal media", equal, same, sphere, 5e-3, 1e-3, oblique, 15, 20),
		{
			Name: "no crossing", Source: "closed form: 5 mm, by the triangle of sides 3, 4, 5",
			Legs: legs(5.92),
			From: mm(0, 0), To: mm(3, 4), Seconds: 5 / 5.92 * 1e-6, Tolerance: closed,
		},
	}
}

// constructed returns the problem of the ray through a point of a surface. The direction before the
// surface is given; Snell's law gives the direction behind it. The ray starts a before the surface
// and ends b behind it, in m.
func constructed(
	name, source string, legs []wedge.Leg, s wedge.Surface, at wedge.Patch,
	direction r3.Vec, a, b float64,
) Problem {
	normal := at.Normal()
	ratio := legs[1].Speed / legs[0].Speed
	across := r3.Sub(direction, r3.Scale(r3.Dot(direction, normal), normal))
	beyond := r3.Scale(ratio, across)
	beyond = r3.Add(beyond, r3.Scale(math.Sqrt(1-r3.Norm2(beyond)), normal))
	return Problem{
		Name: name, Source: source, Legs: legs, Crossings: through(s),
		From: r3.Sub(at.P, r3.Scale(a, direction)), To: r3.Add(at.P, r3.Scale(b, beyond)),
		Seconds: a/legs[0].Speed + b/legs[1].Speed, Tolerance: closed, Points: []r3.Vec{at.P},
	}
}

// bent returns problems constructed by Snell's law from a place and a direction on a surface.
func bent() []Problem {
	const snell = "closed form: ray made at its crossing by Snell's law"
	y := r3.Vec{Y: 1}
	oblique := r3.Vec{X: 0.05, Y: -0.08, Z: 1}
	problem := func(name string, legs []wedge.Leg, s wedge.Surface, direction r3.Vec) Problem {
		return constructed(name, snell, legs, s, s.At(5e-3, -3e-3), r3.Unit(direction), 15e-3,
			18e-3)
	}
	water, back := legs(1.48, 5.9), legs(5.9, 1.48)
	return []Problem{
		problem("plane, a thousandth below the critical angle", water, level(0),
			slanted(0.999*1.48/5.9)),
		problem("plane, slow behind fast", back, level(0), slanted(0.95)),
		problem("skew plane", water, must(wedge.NewPlane(mm(0, 20), r3.Vec{X: 0.1, Y: -0.1, Z: 1})),
			oblique),
		problem("skew cylinder", water, must(wedge.NewCylinder(mm(0, 70), r3.Vec{X: 1, Y: 1}, 50e-3,
			wedge.Convex)), oblique),
		problem("concave cylinder", water,
			must(wedge.NewCylinder(mm(0, -180), y, 200e-3, wedge.Concave)), oblique),
		problem("sphere", water, must(wedge.NewSphere(mm(0, 70), 50e-3, wedge.Convex)), oblique),
		problem("cone", water, must(wedge.NewCone(mm(0, 70), r3.Vec{X: 1, Y: 0.3}, 50e-3, 0.05,
			wedge.Convex)), oblique),
	}
}

// slanted returns the direction in the section at an angle from z, given the sine of the angle.
func slanted(sin float64) r3.Vec { return r3.Vec{X: sin, Z: math.Sqrt(1 - sin*sin)} }

// layers returns problems of parallel planes.
func layers() []Problem {
	// stack returns the problem of layers with heights in mm. The ray has the ray parameter sin θ/c
	// in µs/mm. The whole problem is turned by the rotation.
	stack := func(name string, parameter float64, heights, speeds []float64, azimuth float64,
		turn r3.Rotation) Problem {
		p := Problem{
			Name: name, Source: "closed form: Snell's law by the ray parameter",
			Legs: legs(speeds...), From: r3.Vec{Z: -heights[0] * 1e-3}, Tolerance: closed,
		}
		at, depth := p.From, 0.0
		for i, h := range heights {
			if i > 0 {
				plane := must(wedge.NewPlane(turn.Rotate(r3.Vec{Z: depth}),
					turn.Rotate(r3.Vec{Z: 1})))
				p.Crossings = append(p.Crossings, through(plane)...)
				p.Points = append(p.Points, turn.Rotate(at))
				depth += h * 1e-3
			}
			sin := parameter * speeds[i]
			cos := math.Sqrt(1 - sin*sin)
			out := h * 1e-3 * sin / cos
			at = r3.Vec{X: at.X + out*math.Cos(azimuth), Y: at.Y + out*math.Sin(azimuth), Z: depth}
			p.Seconds += h / (speeds[i] * cos) * 1e-6
		}
		p.From, p.To = turn.Rotate(p.From), turn.Rotate(at)
		return p
	}
	upright := r3.NewRotation(0, r3.Vec{Y: 1})
	three, speeds := []float64{10, 5, 30}, []float64{1.48, 2.73, 5.92}
	five, fives := []float64{20, 0.2, 8, 1, 25}, []float64{1.48, 2.4, 5.9, 1.5, 3.24}
	return []Problem{
		{
			Name: "three layers, by offset", Source: bisection,
			Legs: legs(speeds...), Crossings: through(level(0), level(5)),
			From: mm(0, -10), To: mm(25, 35), Seconds: 15.028425715367e-6, Tolerance: printed,
			Points: []r3.Vec{mm(1.49847144873, 0), mm(1.49847144873+1.42089382567, 5)},
		},
		stack("two layers", 0.1, three[:2], speeds[:2], 0, upright),
		stack("three layers", 0.1, three, speeds, 0, upright),
		stack("three layers, tilted", 0.12, three, speeds, 0, r3.NewRotation(0.3, r3.Vec{Y: 1})),
		stack("three layers, out of the section", 0.12, three, speeds, 0.7, upright),
		stack("three layers, skew", 0.12, three, speeds, 0.7,
			r3.NewRotation(0.3, r3.Vec{X: 1, Y: 1})),
		stack("five layers", 0.15, five, fives, 0, upright),
		stack("five layers, skew", 0.15, five, fives, -0.4,
			r3.NewRotation(0.2, r3.Vec{X: 1, Y: 2})),
		stack("five layers, grazing one", 0.9999/5.9, five, fives, 0, upright),
	}
}

// skips returns problems of an element on top of a plate of 30 mm. The rays skip off the surfaces
// of the plate to (20, 15) mm.
func skips() []Problem {
	const longitudinal, transverse = 5.92, 3.255
	const mirror = "identity: mirror images of the end"
	const fermat = "identity: Fermat's principle through layers of 30 and 15 mm; " + bisection
	back, entry := level(30), level(0)
	problem := func(name, source string, speeds []float64, microseconds, tolerance float64,
		points ...r3.Vec) Problem {
		p := Problem{
			Name: name, Source: source, Legs: legs(speeds...), From: mm(0, 0), To: mm(20, 15),
			Seconds: microseconds * 1e-6, Tolerance: tolerance, Points: points,
		}
		for i := range points {
			c := wedge.Crossing{Surface: back, Reflects: true}
			if i%2 == 1 {
				c = wedge.Crossing{Surface: entry, From: wedge.Far, Reflects: true}
			}
			p.Crossings = append(p.Crossings, c)
		}
		return p
	}
	return []Problem{
		problem("skip, TT", mirror, []float64{transverse, transverse},
			math.Hypot(20, 45)/transverse, closed, mm(20*30./45, 30)),
		problem("skip, LL", mirror, []float64{longitudinal, longitudinal},
			math.Hypot(20, 45)/longitudinal, closed, mm(20*30./45, 30)),
		problem("two skips, TTT", mirror, []float64{transverse, transverse, transverse},
			math.Hypot(20, 75)/transverse, closed, mm(20*30./75, 30), mm(20*60./75, 0)),
		problem("skip, LT", fermat, []float64{longitudinal, transverse}, 10.512572476889, printed,
			mm(15.9851275879, 30)),
		problem("skip, TL", fermat, []float64{transverse, longitudinal}, 12.759976000017, printed,
			mm(9.7727797964, 30)),
	}
}

// rounds returns problems of circles and spheres with ends at the centre or near it.
func rounds() []Problem {
	const radius = 40e-3
	bore := must(wedge.NewCylinder(r3.Vec{}, r3.Vec{Y: 1}, radius, wedge.Concave))
	ball := must(wedge.NewSphere(r3.Vec{}, radius, wedge.Concave))
	pulse := legs(3.24, 3.24)
	centre := "identity: every radius of a circle is as long as the other"
	outward := slanted(0.4)
	return []Problem{
		{
			Name: "circle, centre to centre", Source: centre, Legs: pulse, Crossings: off(bore),
			Seconds: 2 * radius / 3240, Tolerance: closed, Everywhere: true,
		},
		{
			Name: "sphere, centre to centre", Source: centre, Legs: pulse, Crossings: off(ball),
			Seconds: 2 * radius / 3240, Tolerance: closed, Everywhere: true,
		},
		{
			Name: "bore, from its centre", Source: "closed form: along the radius", Legs: legs(1.48,
				5.9), Crossings: through(bore),
			To: r3.Scale(65e-3, outward), Seconds: radius/1480 +
				25e-3/5900, Tolerance: closed, Points: []r3.Vec{r3.Scale(radius, outward)},
		},
		{
			Name: "circle, to the mirror image through its centre", Legs: pulse, Crossings: off(bore),
			Source: "closed form: the longest of the four reflections is on the perpendicular " +
				"(Alhazen's problem)",
			From: mm(-9, 0), To: mm(9, 0), Seconds: 2 * math.Hypot(9e-3,
				radius) / 3240, Tolerance: closed,
			Points: []r3.Vec{{Z: radius}}, Index: 1,
		},
	}
}

// conics returns problems of conics and of Cartesian ovals.
func conics() []Problem {
	const parabola = "identity: from the focus of a parabola to a line across its axis " +
		"all ways have the same length"
	const ellipse = "identity: from focus to focus of an ellipse all ways are as long as its major axis"
	const descartes = "identity: the Cartesian oval is the curve of equal times between its foci"
	dish := &paraboloid{vertex: mm(0, 40), focal: 30e-3}
	// reflected returns the problem from the focus of the dish through (x, y) to z = 0.
	reflected := func(name string, x, y float64) Problem {
		at := dish.At(x, y).P
		return Problem{
			Name: name, Source: parabola, Legs: legs(5.92, 5.92), Crossings: off(dish),
			From: mm(0, 10), To: r3.Vec{X: at.X, Y: at.Y}, Seconds: (30e-3 +
				40e-3) / 5920, Tolerance: closed, Points: []r3.Vec{at},
		}
	}
	// between returns the problem between the foci of an oval with a time.
	between := func(name, source string, reflects bool, c1, c2 float64, from, to r3.Vec,
		seconds float64) Problem {
		s := newOval(from, to, c1*1e3, c2*1e3, seconds)
		return Problem{
			Name: name, Source: source, Legs: legs(c1, c2), Crossings: []wedge.Crossing{{Surface: s,
				Reflects: reflects}},
			From: from, To: to, Seconds: seconds, Tolerance: closed, Everywhere: true,
		}
	}
	return []Problem{
		reflected("paraboloid, in a section", 12e-3, 0),
		reflected("paraboloid, out of every section", -9e-3, 14e-3),
		between("ellipse, focus to focus", ellipse, true, 5.92, 5.92, mm(-40, 0), mm(40, 0),
			2*50e-3/5920),
		between("tilted ellipse, focus to focus", ellipse, true, 3.24, 3.24, mm(-30, -10),
			mm(30, 10), 90e-3/3240),
		between("oval that reflects and converts", descartes, true, 3.24, 5.92, mm(-12, 0),
			mm(12, -3), 19e-6),
		between("Cartesian oval, 1.48 to 5.9 mm/µs", descartes, false, 1.48, 5.9, mm(0, -20),
			mm(0, 30), 20e-3/1480+30e-3/5900),
		between("Cartesian oval, 1.48 to 3.24 mm/µs, tilted", descartes, false, 1.48, 3.24,
			mm(-5, -20), mm(9, 30), 23.5e-6),
	}
}
