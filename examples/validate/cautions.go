// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

// cautions says what a validation by a procedure of the user still needs.
var cautions = []string{
	"The rows show that the mathematics of this build agrees with its sources, on this processor. They are no " +
		"qualification of a procedure, of equipment or of personnel.",
	"Validate the whole chain on your own reference blocks and on representative flaws: array, wedge, couplant, instrument, " +
		"settings, files, images and sizes. The option -rows adds such rows to this table.",
	"Measure the wave speeds of part and wedge, the wedge angle and the thickness. Handbook values and nominal values move " +
		"every indication.",
	"The captures of testdata are two-dimensional simulations without noise and without attenuation. They do not show what " +
		"grain, roughness, poor coupling or access do to detection.",
	"Values that are marked \"from memory\" must be compared with the publication before a decision depends on them.",
	"The applicable code, the written procedure, and qualified and licensed personnel decide on acceptance. Repeat the " +
		"validation after each change of the library, of the toolchain, of the processor or of the procedure.",
}
