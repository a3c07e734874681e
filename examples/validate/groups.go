// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

// groups returns all checks, in the order of the packages.
func groups() []group {
	return []group{
		{"material: speeds, elastic constants, attenuation", speeds()},
		{"material: refraction", refractions()},
		{"material: boundaries", boundaries()},
		{"material: anisotropy", anisotropy()},
		{"material/beam", beams()},
		{"material/diffraction", cracks()},
		{"wedge", rays()},
		{"wedge/graded", grains()},
		{"wedge/joint", welds()},
		{"wedge/calibrate", calibrations()},
		{"fmc/transmit, fmc/scan", transmissions()},
		{"fmc/condition", conditioning()},
		{"fmc/synth", syntheses()},
		{"fmc/health", healths()},
		{"tfm: images", images()},
		{"tfm: coherence", coherences()},
		{"tfm/quality", qualities()},
		{"tfm/ghost", ghosts()},
		{"tfm/sensitivity", sensitivities()},
		{"tfm/adapt", surfaces()},
		{"tfm/ascan", beamsOfMatrix()},
		{"sizing: drops, levels", drops()},
		{"sizing/tips", crackTips()},
		{"sizing/flaw", flaws()},
		{"sizing/thickness, sizing/volume", walls()},
		{"sizing/amplitude", amplitudes()},
		{"sizing/uncertainty", uncertainties()},
		{"sizing/detection", detections()},
	}
}
