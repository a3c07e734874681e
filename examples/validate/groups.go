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
		{"tfm: images", images()},
	}
}
