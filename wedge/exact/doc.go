// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package exact holds ray problems whose answer is known independently of any ray solver.
//
//	for _, p := range exact.Problems() {
//		seconds := solve(p.Legs, p.Crossings, p.From, p.To) // a solver of your own
//		if err := p.Check(seconds); err != nil {
//			t.Error(err) // names the problem, the error, and the source of the time
//		}
//	}
//
// The tests of package wedge use these problems. A [Problem] gives the legs and surfaces of a
// path, its ends, the time and, if they are known, the places of its crossings. Its surfaces are
// [wedge.Surface] values, which return points, derivatives and distances. The problems do not use
// the solver of package wedge. Lengths are in metres, times in seconds, speeds in m/s. The axes
// are the axes of package wedge.
//
// The problems are
//   - rays through one plane, level or tilted, in a section and skew to it;
//   - normal incidence, and equal media, where the ray is a straight line;
//   - two to five parallel layers, by the ray parameter of Snell's law;
//   - skips off a plate: of one mode by mirror images, with mode conversion by Fermat's principle;
//   - circles and spheres, from outside, from inside and from the centre;
//   - a paraboloid, whose rays from the focus are parallel;
//   - Cartesian ovals, which refract all rays from one focus to the other in the same time;
//   - ellipses, which reflect all rays from one focus to the other in the same time.
//
// The times come from closed formulas, from properties of conics, or from calculations with 25
// digits.
//
// In some problems a ray through any place of the surface has the same time
// ([Problem.Everywhere]). The Hessian of the time is then singular. A solver cannot find a single
// ray there, but it must return the time.
package exact
