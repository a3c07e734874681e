// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !long

package wedge

// geometries is the number of random geometries of a comparison with brute force or with another
// solver.
const geometries = 600

// startedPaths and scannedPaths are the numbers of random paths whose rays are compared with the rays
// from many starts, and with a scan.
const startedPaths, scannedPaths = 40, 25

// curvedPairs is the number of random pairs of a start and an end over strongly curved surfaces.
const curvedPairs = 600

// boundRounds is the number of random set-ups of each kind of surface in [TestInterpolateBound], and
// boundPoints the number of points of each.
const boundRounds, boundPoints = 4, 400
