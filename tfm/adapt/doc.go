// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package adapt adapts the geometry of an image to the part: it finds the entry surface of a part
// in water from the capture itself.
//
//	record, err := npy.ReadFile("testdata/wavy32.json", nil)
//	water := calibrate.Estimate{Value: 1482, Uncertainty: 2} // m/s
//	surface, err := adapt.FindSurface(record.Capture, water, nil)
//	fmt.Println(surface.Shape, surface.StandOff, surface.Depth(2e-3)) // m, with uncertainties
//	setup, err := surface.Setup(wedge.Setup{Coupling: coupling, Part: steel, Back: wall})
//	plan, err := tfm.PlanView(ctx, record.Capture, setup, "L-L", grid, nil)
//
// # The entry surface
//
// An element hears its own echo from the point of the surface whose normal leads to the element.
// With the distance d(x) = c·t/2 of this echo, the speed c of the liquid and the time t, a smooth
// surface passes through the points
//
//	(x - d·d', z + d·√(1 - d'²)),
//
// where (x, z) is the element and d' the derivative of d along the array. This is exact for every
// smooth surface. [FindSurface] tracks the echo from element to element and takes these points for
// a start. Then it fits a plane, a circle or a smooth profile to the echoes between all pairs of
// elements whose angle of incidence is small. A path between two elements is the path of stationary
// length over the surface (Fermat). So the derivative of its length, with respect to the depth of
// the surface, is the sum of the two direction cosines at the point that mirrors.
//
// The fit knows two kinds of errors: independent errors of the echoes, and a delay of each element
// that all its echoes share. A profile is a spline with knots as close as the elements. The data
// decide how smooth it is, by restricted maximum likelihood.
//
// # Uncertainty
//
// The standard uncertainty of the depth at each x holds four parts: the scatter of the echoes, the
// delays of the elements, the uncertainty of the speed of the liquid, and the uncertainty of the
// time zero ([SurfaceOptions]). Intervals of twice the standard uncertainty hold the true depth at
// about 95 % of all places. On 240 simulated captures the intervals of 95 % hold it at 93 to 97 %.
//
// Nothing is claimed outside of the lit range, in which the surface mirrors echoes into the array.
// On the full-wave captures of testdata, with a wavelength of 0.37 mm in water, the depth is within
// 0.02 wavelengths of the truth. Holes and walls lie within 0.05 mm of their places with the true
// surface.
//
// # What it does not show
//
//   - A step, an edge or a pit narrower than the spacing of the mirroring points is smoothed away.
//   - A surface that focuses the echo before it returns, a hollow whose radius is below the distance
//     of the array, has several echoes for one element. The fit follows one of them at best.
//   - The surface is taken to be the same along y. A rotation of the array about its own x axis
//     changes the distance only.
//   - A saturated front echo keeps its time down to a clipping level of about a third of its height.
//
// A surface that is wrong by a tenth of a wavelength of the water moves indications and lowers
// their levels. Check the result on a reference reflector before you rely on it. The procedure and
// the code that apply to the inspection decide what an adapted image may be used for.
//
// # For contributors
//
// curve.go holds the shapes, reflect.go the echo of a shape, track.go the first search, mixed.go the
// statistics, fit.go the fit. Settings were chosen on the trials in chosenSurfaces, and are judged
// on judgedSurfaces (coverage_test.go).
package adapt
