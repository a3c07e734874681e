// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"slices"
	"strconv"

	"github.com/isochron-imaging/isochron/sizing"
)

// images checks the places and the levels of echoes in images of full-wave captures. The expected
// places come from images that another program made of the full matrices: each ray time is the
// least time over a fine scan of the entry surface.
func images() []check {
	return slices.Concat(
		place("block16", "L-L", "hole 1 in aluminium, in contact", -8.65, 9.40, 0.1),
		place("block16", "L-L", "hole 2 in aluminium, in contact", -2.95, 16.30, 0.1),
		place("block16", "L-L", "hole 3 in aluminium, in contact", 2.75, 23.35, 0.1),
		place("block16", "L-L", "hole 4 in aluminium, in contact", 8.45, 30.40, 0.1),
		place("pipe32", "L-L", "hole 1 in a pipe, through water", -6.80, 6.00, 0.1),
		place("pipe32", "L-L", "hole 2 in a pipe, through water", 0.55, 8.40, 0.1),
		place("pipe32", "L-L", "hole 3 in a pipe, through water", 7.30, 7.05, 0.1),
		place("wavy32", "L-L", "hole 1 under a wavy surface, water", -6.25, 7.40, 0.1),
		place("wavy32", "L-L", "hole 2 under a wavy surface, water", 0.95, 11.45, 0.1),
		place("wavy32", "L-L", "hole 3 under a wavy surface, water", 6.80, 14.45, 0.1),
		place("sdh32", "T-T", "hole 1 through a wedge", 13.25, 7.35, 0.1),
		place("sdh32", "T-T", "hole 2 through a wedge, in a shadow", 18.80, 13.95, 0.1),
		place("sdh32", "T-T", "hole 3 through a wedge, in a shadow", 25.70, 20.25, 0.2),
		place("notch32", "L-L", "upper tip of a slit, in contact", -6.05, 8.95, 0.1),
		place("notch32", "L-L", "lower tip of a slit, in contact", -5.90, 14.05, 0.1),
		place("notch32", "L-L", "tip of a notch, in contact", 5.00, 19.45, 0.1),
		[]check{
			{"back wall of aluminium, depth", fullWave, "full wave, block16: plate of 40 mm", "40", "mm", 0.1, depth(peakNear("block16", "L-L", 0, 40, 2))},
			{"bore of a pipe, depth below the top", fullWave, "full wave, pipe32: wall of 14 mm", "14", "mm", 0.1, depth(peakNear("pipe32", "L-L", 0, 14, 1.5))},
			{"back wall under a wavy surface, depth", fullWave, "full wave, wavy32: plate of 20 mm", "20", "mm", 0.1, depth(peakNear("wavy32", "L-L", 0, 20, 1.5))},
			{"back wall of steel, depth", fullWave, "full wave, notch32: plate of 25 mm", "25", "mm", 0.1, depth(peakNear("notch32", "L-L", -3, 25, 2))},
			{"slit between its tips, height", fullWave, "full wave, notch32: z from 9 to 14 mm", "5", "mm", 0.2, height},
			{"tip of a notch against the back wall", fullWave, "full wave, notch32: tips at -21 to -26 dB", "-23.5", "dB", 2.5, tipLevel},
			{"root notch in TT-T, x", fullWave, "full wave, weld32: notch along x = 16 mm", "16", "mm", 0.3, func() (float64, error) {
				i, err := peakNear("weld32", "TT-T", 16, 14, 3)()
				return i.X * 1e3, err
			}},
			{"lack of fusion in T-T, tilt", fullWave, "full wave, weld32: bevel of 30°", "30", "°", 3, func() (float64, error) {
				i, err := peakNear("weld32", "T-T", 20, 9, 3)()
				return i.Tilt / degree, err
			}},
			{"lack of fusion in T-T, distance from its line", fullWave, "full wave, weld32: (18.85, 11) to (21.15, 7)", "0", "mm", 0.3, offFace},
		},
	)
}

// place returns the checks of x and z of an indication, in mm.
func place(name, view, what string, x, z, limit float64) []check {
	peak := peakNear(name, view, x, z, 1.2)
	source := fmt.Sprintf("full wave, %s, image in %s by another program", name, view)
	return []check{
		{what + ", x", fullWave, source, fixed(x), "mm", limit, func() (float64, error) { i, err := peak(); return i.X * 1e3, err }},
		{what + ", z", fullWave, source, fixed(z), "mm", limit, depth(peak)},
	}
}

// fixed returns a place in mm with two decimals.
func fixed(v float64) string { return strconv.FormatFloat(v, 'f', 2, 64) }

// depth returns the depth of an indication in mm.
func depth(peak func() (sizing.Indication, error)) func() (float64, error) {
	return func() (float64, error) {
		i, err := peak()
		return i.Z * 1e3, err
	}
}

// height returns the height of the slit of notch32 between its tips, in mm.
func height() (float64, error) {
	upper, err := peakNear("notch32", "L-L", -6.05, 8.95, 1.2)()
	if err != nil {
		return 0, err
	}
	lower, err := peakNear("notch32", "L-L", -5.90, 14.05, 1.2)()
	return (lower.Z - upper.Z) * 1e3, err
}

// tipLevel returns the level of the tip of the notch of notch32 relative to the back wall, in dB.
func tipLevel() (float64, error) {
	tip, err := peakNear("notch32", "L-L", 5, 19.45, 1.2)()
	if err != nil {
		return 0, err
	}
	wall, err := peakNear("notch32", "L-L", -3, 25, 2)()
	return sizing.LevelDB(tip.Amplitude, wall.Amplitude), err
}

// offFace returns the distance of the echo of the lack of fusion of weld32 from its line, in mm.
func offFace() (float64, error) {
	i, err := peakNear("weld32", "T-T", 20, 9, 3)()
	x, z := i.X*1e3, i.Z*1e3
	const dx, dz = 21.15 - 18.85, 7.0 - 11.0
	return ((x-18.85)*dz - (z-11)*dx) / 4.614, err // 4.614 mm is the length of the line
}
