// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package exact holds rays whose times are known from elsewhere than a solver for
// rays: from closed formulas, from properties of conics, or from calculations
// with 25 digits. Package wedge is tested against them, and any other solver can
// be.
//
// A [Problem] gives the legs and surfaces of a path, its ends, the time and, where
// they are known, the places of its crossings. Its surfaces are [wedge.Surface]
// values, which a solver may ask for points, derivatives and distances; nothing of
// the solver of package wedge takes part. Lengths are in metres, times in seconds,
// speeds in m/s; axes are those of package wedge.
//
// The problems are
//   - rays through one plane, level or tilted, in a section and skew to it;
//   - normal incidence, and equal media, through which the ray is a straight line;
//   - two to five parallel layers, from the ray parameter of Snell's law;
//   - skips off a plate, of one mode by its mirror images, converted by Fermat's
//     principle;
//   - circles and spheres, from outside, from inside and from the centre;
//   - a paraboloid, which makes rays from its focus parallel;
//   - Cartesian ovals, which refract every ray from one focus to the other in the
//     same time, and ellipses, which reflect it so.
//
// In some problems every place on the surface is a crossing of a ray of the same
// time ([Problem.Everywhere]). There the Hessian of the time is singular: a
// solver has nothing to find, and must not fail by it.
package exact
