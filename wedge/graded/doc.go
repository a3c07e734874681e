// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package graded computes times of flight through anisotropic and graded parts.
//
//	edge := joint.Edge{Upper: joint.Bevel{Angle: 30 * math.Pi / 180}}
//	vee, err := joint.Butt{Thickness: 30e-3, Gap: 6e-3, Left: edge, Right: edge}.Joint()
//	metal, err := material.FindCrystal("weld metal X6CrNi18-11")
//	curves, err := graded.NewSlownessCurves(metal.Medium)
//	grains, err := graded.NewGrainLaw(vee, 1, 1)
//	weld, err := graded.NewWeld(nil, parent, curves, grains, vee) // array in contact
//	times, err := weld.Interpolate(ctx, graded.QuasiLongitudinal, elements, grid, nil)
//	plan, err := tfm.NewPlan(capture, grid, times, times, nil)    // as with any other table
//
// # When to use it
//
// Examples of such parts are forged or rolled anisotropic parts, austenitic welds, and parts with a
// gradient of temperature. In an anisotropic medium energy travels at the group speed of its
// direction, and wave fronts are not perpendicular to rays. In a graded medium rays bend. An
// austenitic weld does both: its grains are columnar, and their direction changes with the place.
// In weld metal X6CrNi18-11 the speed of longitudinal waves changes by 12 % with the direction. A
// focus computed for isotropic metal then misses by a millimetre and more (see the example of the
// package). In uniform isotropic media use package wedge, which is a thousand times as fast.
//
// # Two dimensions
//
// All elements, points and rays lie in one section x–z of constant y. x goes along the entry
// surface, z into the part. Lengths are in metres, times in seconds, angles in radians from +x
// towards +z. The section must be a plane of symmetry of all media. This holds for columnar grains
// if the medium is the same all round the grain axis, and if the axis lies in the section. Welds
// whose grains lean along the weld need three dimensions; the package does not cover them. A
// [Polarisation] names a wave. The waves qL and qSV move in the section, the wave SH moves across
// it. All of them cross a coupling as longitudinal waves.
//
// # Parts
//
// A [Block] is one anisotropic medium behind an entry surface. [Block.Rays] finds all its rays,
// with times exact to rounding.
//
// A [Part] consists of several media, the zones, with faces between them. [NewWeld] makes the part
// of a welded joint of package wedge/joint: a butt joint of any preparation, a T joint or a lap
// joint, with layers of buttering or cladding. A [Medium] is isotropic ([NewIsotropic]), isotropic
// with linear speeds ([NewLinear]), or anisotropic. An anisotropic medium has its [SlownessCurves],
// and one orientation ([NewUniform]) or grains that turn with a [Texture] ([NewGrains]).
//
//	preparation                   texture                  origin
//	V, with or without land       NewGrainLaw              Ogilvy 1985
//	U; X and other double welds   NewGrainLaw              Ogilvy's law, continued (assumed)
//	bevel, J, fillet, T, lap      NewGrowth                heat flow (assumed)
//	any                           MeasuredGrains.Texture   a macrograph or diffraction
//	any                           a type of your own
//
// A law that is assumed shows what grains may do to an image. It does not replace measured grains.
//
// [Part.Times] makes a table of times from every element to every point, [Part.Ray] finds one ray,
// and [Part.Rays] finds all rays to a point. The qL and the SH wave usually have one ray to a
// point. The qSV curve of weld metal is dented: several qSV rays may reach a point. Options.Arrival
// chooses one of them for a table.
//
// A ray of qL or SH takes about 0.2 ms of one core. For qSV each element takes about 0.1 s, and
// each point then 0.2 to 0.5 ms. For an image use [Part.Interpolate]: it interpolates the times
// between rays, within a tolerance, also next to folds and shadows. A table of 32 elements and
// 65,536 points took 0.7 s for qL and 2.9 s for qSV on two busy cores (BenchmarkInterpolate).
//
// # Skips
//
// Options.Skips asks for rays that skip off the back wall and the entry surface. It names the wave
// after each reflection, so a reflection may convert qL into qSV and back. The views TT-T and LT-T
// of a weld need these tables:
//
//	direct, err := weld.Interpolate(ctx, graded.QuasiShearVertical, elements, grid, nil)
//	tt, err := weld.Interpolate(ctx, graded.QuasiShearVertical, elements, grid,
//		&graded.Options{Skips: []graded.Polarisation{graded.QuasiShearVertical}})
//	lt, err := weld.Interpolate(ctx, graded.QuasiLongitudinal, elements, grid,
//		&graded.Options{Skips: []graded.Polarisation{graded.QuasiShearVertical}})
//	plan, err := tfm.NewPlan(capture, grid, tt, direct, nil)
//
// At a wall the slowness along the wall stays the same (Snell's law), and the energy of the reflected
// wave goes into the part. If the slowness curve is dented, there may be no such wave, one wave or
// several. Rays and amplitudes follow all of them. The walls may be curved. Behind the back wall is a
// vacuum; behind the entry surface is the coupling, or a vacuum for an array in contact.
//
// The walls of [NewWeld] are flat under the weld, too. A root bead sends waves elsewhere. Do not rely on
// a skip view of a weld whose rays meet the wall at a bead that was not ground flush.
//
// A table of one skip, of 16 elements and 3,000 points in and beside a weld, takes about 1 s of one
// core for qL and 5 s for qSV (BenchmarkInterpolateSkips).
//
// # Amplitudes
//
// [Part.Amplitudes] returns the [Amplitude] along each ray: spreading, caustic index, coefficients
// at the entry surface, at the faces and at the walls, and losses. The coefficients are the
// coefficients of plane waves at a plane boundary ([material.AnisotropicBoundary]). Where the grains
// turn smoothly, nothing is reflected. Without losses the energy flux of a narrow tube of rays,
//
//	ρ · v · J · A²
//
// stays the same between faces, with the density ρ, the phase speed v, the width J of the tube along
// the wave front, and the amplitude A. In isotropic media the amplitudes are the amplitudes of
// package wedge in a section.
//
// Where several qSV rays lead to a point, an image needs all of them, with their phases:
//
//	branches, err := weld.Branches(ctx, graded.QuasiShearVertical, elements, points, nil, nil)
//	plan, err := tfm.NewBranchPlan(capture, grid, branches, branches, nil)
//
// In the full-wave capture of testdata/austenitic, images of all rays show each of three holes
// within 0.15 mm of its near face. Images of the first rays show one of them on its far side. Images
// of the strongest ray of each element are worse: they put two of the holes more than 1 mm off. The
// strongest ray changes along the array from one branch to another, which cuts the branches into
// pieces. The grains limit all images: with the parameter T of the grain law 10 % too large, which
// turns grains by up to 3°, the same holes show 0.3 to 1.2 mm off.
//
// This is ray theory. It fails near a caustic, where J is 0 and the amplitude infinite: within about
// a wavelength of it, rays overstate the amplitude. Beyond a caustic and in a shadow, the true wave
// fades gradually, and rays show nothing. It also fails where grains turn within a wavelength, near a
// critical angle, and for rays that graze a face. Head waves are missing.
//
// # How well the grains must be known
//
// A [Family] is a part that depends on parameters, such as T and η of the grain law, a turn of all
// grains and a factor of all speeds ([NewAdjusted]), elastic constants, or the root gap:
//
//	family, err := graded.NewFamily([]graded.Parameter{
//		{Name: "T", Value: 1, Low: 0.5, High: 2}, {Name: "eta", Value: 1, Low: 0.6, High: 1.4},
//	}, func(v []float64) (*graded.Part, error) {
//		grains, err := graded.NewGrainLaw(vee, v[0], v[1])
//		if err != nil {
//			return nil, err
//		}
//		return graded.NewWeld(nil, parent, curves, grains, vee)
//	})
//	derivatives, err := family.Derivatives(ctx, graded.QuasiLongitudinal, elements, points, nil)
//
// [Family.Derivatives] returns how the times change with each parameter. It needs one integral along
// each ray. It agrees with differences of times of new rays within about 1e-3 (TestDerivatives).
// Package sizing/uncertainty turns it into uncertainties of positions.
//
// [Family.Fit] fits the parameters to measured times: through a specimen, from known reflectors, or from
// the back wall. It returns standard uncertainties, and it says which parameters, or which sums of
// them, the times do not tell. Times of one specimen have errors that are correlated from place to
// place, so that the scatter alone understates the uncertainty; [Family.Fit] allows for this.
//
// The times of testdata/austenitic/grain32_times.json come from a full-wave computation with T = η =
// 1. A fit to half of the points, from a start 20 % off, gives T = 1.12 ± 0.13 and η = 1.05 ± 0.06
// (95 %). The times to the other half then agree within 7 ns (median), instead of 85 ns at the start.
// The errors of T and η compensate each other: their correlation is 0.98.
//
// # Accuracy
//
// [PartRay].Error is the difference between the last two refinements. Wherever a closed form
// exists, it is larger than the true error, apart from rounding. In practice the accuracy of the
// times of a weld is limited by how well the grains are known: an error of 5° of the grain axis
// changes a time by up to 0.1 to 0.2 µs in 30 mm of weld metal.
//
// # What it does not do
//
//   - For arrival 0 of qL and SH, a point has one time, the time of the ray of least time. If the
//     times of two rays differ by less than about 1 %, the package may return either ray.
//   - For qSV, and for other arrivals, two rays that nearly coincide at a caustic may be missed.
//     This happens to about one ray in a thousand; the two rays arrive within about 0.1 ns. Rays
//     that take more than three times as long as the way by the foot of the element are not
//     searched. If the search meets a limit, it says so: [wedge.LimitMet] and [ErrLimit].
//   - A table of [Part.Times] holds one ray. The first qSV ray may carry little energy, for example
//     a ray that grazed a fusion face, or a ray of a fold: see [Part.Amplitudes].
//   - Head waves, and waves that creep along a surface or round an edge, are not rays. Points that
//     only such waves reach have the time NaN. Points near the surface beyond a weld are often
//     such points, because grains that lean to the cap bend rays up and out of the part.
//   - Waves are reflected only at the back wall and at the entry surface, in turns, as Options.Skips
//     says. Faces refract waves; they neither reflect nor convert them.
//   - For qL and SH a ray may be missed that passes within about 0.1 mm of a corner of a zone, such as
//     the end of a root face. Waves that are diffracted at corners are not rays.
//   - Shooting is slow in parts with many corners: in a T joint the search may end with [ErrLimit].
//     Voids narrower than 20 µm are refused.
//
// In an austenitic V weld of 30 mm in the tests, 92 % of the points in and beside the weld get a
// qSV time from an element on a wedge, and 89 % from an element in contact. The other points lie
// under the cap in a true shadow: no ray of a finer fan leads to them.
//
// Measure the grains on a specimen that was welded by the same procedure. Confirm an image of a
// weld on known reflectors before any decision depends on it. Follow the codes and the qualified
// practice that apply.
//
// # Sources
//
// Slowness and group velocity: B. A. Auld, Acoustic Fields and Waves in Solids, vol. 1, 1973,
// chapter 7. The grain law: J. A. Ogilvy, Computerized ultrasonic ray tracing in austenitic steel,
// NDT International 18(2), 1985, from memory of that paper. Shortest paths and bending: T. J.
// Moser, Shortest path calculation of seismic rays, Geophysics 56(1), 1991, from memory. Hamilton's
// equations of rays and fans of rays: V. Červený, Seismic Ray Theory, 2001, chapters 3 and 4, from
// memory. Steps: J. R. Dormand and P. J. Prince, A family of embedded Runge-Kutta formulae, Journal
// of Computational and Applied Mathematics 6(1), 1980, from memory.
//
// # For contributors
//
// Bending finds the rays of qL and SH. lattice.go and front.go search a lattice for the path of
// least time by Dijkstra's method, on edges to all nodes within five steps. The time of this path
// is wrong by up to 1 %. This does not matter, because the path is only the start. But the start
// decides on which side a ray passes slow metal. layout.go replaces the path by a polyline with a
// knot on every face that the path crosses. bend.go moves the knots until the time is least
// (Fermat's principle): across the path inside a medium, along the face on a face. It uses
// Newton's method, with exact first derivatives and differenced second derivatives. Faces are
// sharp; nothing is smoothed. ray.go doubles the number of segments until the times, extrapolated
// to infinitely many segments (Romberg), agree within the tolerance.
//
// Shooting finds the rays of qSV, and arrivals after the first. Where a slowness curve is dented,
// several waves may have the same direction of energy, rays cross, and the time of a ray is not a
// minimum. Bending does not find such rays. But the ray of a wave with a given normal is unique.
// march.go integrates Hamilton's equations
//
//	dx/dt = ∂H/∂p,  dp/dt = −∂H/∂x,  H(x, p) = v(x, p/|p|)·|p|
//
// where x is the place, p the slowness, and v the phase speed, by the method of Dormand and Prince
// with steps that follow the error. shoot.go follows one ray through faces. At a face the slowness
// along the face stays the same. If the curve of the next zone is dented, the wave may go on as
// two or more waves, and each is followed, until it leaves the part or can no longer come back to a
// point in time (region.go). fan.go fills the fan of an element: it shoots rays between two
// neighbouring rays until neighbours go through the same zones, and lie side by side near the
// points. The ray in the middle must then do so too. So the fan is dense only where its rays may
// lead to points. Where a kind of ray begins, the angle between rays goes down to 1e-13 rad. The
// cells between neighbouring rays and time steps then show between which rays a point lies. If the
// cells overlap, the point has several rays. aim.go finds each ray by the secant method. One fan
// serves all points of a table.
//
// tube.go takes a shot ray together with its derivative by the launch angle (dynamic ray tracing),
// through media and faces. The derivatives of the rates are central differences, so a [Medium] needs
// no second derivatives. The sign with which a caustic counts follows the curvature of the slowness
// curve (L. Klimeš, Phase shift of the Green tensor due to caustics in anisotropic media, Studia
// Geophysica et Geodaetica 54, 2010, from memory). coefficient.go finds the two waves of a ray among
// the waves at a face.
//
// mesh.go paints the times of a fan on a grid, for interpolated tables. The checks of the times
// decide how dense such a fan is. Between two kinds of rays the angle goes down to 1e-6 rad, and
// then until the ends of both kinds are settled. Neighbouring tubes share the corners on their
// common ray, so that no point lies between them.
//
// space.go makes the space of a search: each zone is a room on each leg of the ray. A
// reflection is the passage from a room to the room of the same zone on the next leg, whose medium
// carries the wave of this leg. So fans, cells and tubes need to know only which rooms lie on the last
// leg. Skips are always shot.
//
// block.go searches over the phase direction instead. The functions of the phase direction are
// smooth even at cusps of the wave surface.
//
// A new [Medium] needs both Travel, by the direction of the energy, and Phase, by the direction of
// the wave normal. TestPhaseDerivatives compares the two. The other tests compare the times with
//
//   - the closed form of a linear gradient: within 10 ps with the default tolerance (measured: 0.01
//     ps), and to rounding with a small tolerance;
//   - plane layers, package wedge for isotropic media, and the exact group speeds in uniform weld
//     metal that is treated as graded: to rounding, by shooting for all arrivals;
//   - the ray equations in a weld, integrated by a method of the tests. A bent ray that is marched
//     for its time ends within 1 nm of its point, a shot ray within 15 nm. No point that a marched
//     qL or SH ray reaches is missed;
//   - each other: where bending finds a qL or SH ray, shooting finds the same ray, and no other ray
//     except for points on the edge of a shadow;
//   - reversed rays: each shot ray has a reversed ray with the same time to 2 ps, also with skips.
//
// Times of skips agree with package wedge in plates and pipes, and with a scan of all waves in
// uniform weld metal, to rounding. In a weld the first qL and SH skips agree with the least sums of
// two bent rays to 1 ps. Amplitudes of skips are reciprocal, and the energy of the waves at a wall
// adds up.
package graded
