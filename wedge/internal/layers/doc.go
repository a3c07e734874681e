// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package layers computes times of flight through layers with plane, parallel
// faces: in AVX-512 instructions where the processor has them and the build is
// not tagged purego, otherwise in plain Go. The two agree to the bound below.
//
// # The ray
//
// Let layer i have the thickness h_i and the slowness s_i, and let the ends of the
// ray be d apart along the faces. All that a ray goes at one speed counts as one
// layer, wherever it lies. Snell's law gives all legs one slowness p along the
// faces. Its unknown here is q, the tangent of the angle to the normal in the
// fastest layer, of slowness s and thickness h, which any value ≥ 0 can have:
//
//	p = s·q/√(1+q²)
//	X(q) = h·q + Σ b_i·q/w_i = d,  b_i = h_i·r_i,  w_i = √(1+a_i·q²),  a_i = 1−r_i²
//
// where the sum is over the slower layers and r_i = s/s_i. X is a concave function
// of q, and a convex one of p: there is one ray.
//
// # The time
//
// For any q, also for one that is not quite the root,
//
//	T(q) = p·d + Σ h_i·√(s_i²−p²) = s/√(1+q²)·(q·d + h + Σ b_i·w_i/r_i²)
//
// is at most the time of the ray, and equal to it at the root, to first order
// (dT/dp = d−X). With δ = d−X, Newton's step Δ = δ/X'(q) and c = δ·Δ·(dp/dq)/2, the
// time of the ray is T + c to second order. That is a bound, not only an estimate:
// since X is concave in q and convex in p, the root lies between q+Δ and
// p+Δ·dp/dq, whichever side of it q is on. So what T + c leaves out is at most c times
// the share by which the mean of dp/dq = s·(1+q²)^(-3/2) over Δ differs from its value at
// q. With z = |Δ|/√(1+q²) that share is 3/2·z for a short step, and at most 4·z
// for any z ≤ 1/2. A time is taken when z ≤ 1/2 and c·z is at most 1e-13 of it: it is then
// right to 4e-13. No case is exempt: not grazing incidence, and not an end on the face
// of the fastest layer, where the ray runs along it.
//
// # The start
//
// Each ray is solved for by itself, so that its time does not depend on what
// else is asked for. A concave X has two lower bounds of q: the ray that goes
// straight on, d/(h + Σ b_i), and the one whose legs in slower layers are as slant
// as they can be, (d − Σ b_i/√a_i)/h. From the larger, one step of Halley's method is
// enough for 97 % of rays of all angles through layers from a micrometre to a
// decimetre (TestClosedForm), and four for the others.
package layers
