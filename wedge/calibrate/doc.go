// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package calibrate finds the position of an array over a flat face from the echoes of the face in
// a capture.
//
//	record, err := npy.ReadFile("testdata/weld32.json", nil)
//	arrivals, err := calibrate.Pick(record.Capture, nil) // the echoes of all traces
//	placement, err := calibrate.Face(elements, arrivals, &calibrate.Options{
//		Speed:  calibrate.Estimate{Value: 2340, Uncertainty: 2.3}, // m/s, in the wedge
//		Offset: calibrate.Estimate{Uncertainty: 10e-9},            // s, of the instrument
//	})
//	fmt.Println(placement.Angle)      // of the wedge, rad, with its standard uncertainty
//	fmt.Println(placement.Heights[0]) // of the first element over the face, m
//	fmt.Println(placement.Elements()) // the positions of all elements, m
//
// With a wedge or a column of water the face is the surface of the part: the result is the angle of
// the array and the heights of its elements. In contact the face is the back wall of a plate: the
// result is the thickness of the plate, the speed of its waves, or both. Every element also gets a
// delay of its own. Each number has a standard uncertainty, and [Placement].Covariance holds their
// covariances.
//
// # Two steps
//
// [Pick] reads the samples: it takes the strongest maxima of the envelope of each trace. [Face]
// reads only times, so that times from another source serve as well. The arrivals of one pair are
// alternatives: at most one of them is the echo of the face. A vote among all elements decides
// which one, so that nobody has to know beforehand where the echo lies.
//
// # Uncertainty
//
// An uncertainty combines five causes:
//
//	noise            scatter of the times that their elements do not explain
//	delays           of the elements, common to all pairs of an element
//	given values     uncertainties of speed, distance and offset, by default 0.1 %, 0.1 % and a
//	                 twentieth of a period
//	oblique delay    delay that grows with the angle of incidence θ, by default a twentieth of a
//	                 period at 20°
//	overlap          echoes that overlap: part of the scatter is taken as an oblique delay, and like
//	                 delays of neighbours average out less
//
// The defaults of a twentieth of a period hold if [Options].Tolerance is half a period. Only the
// noise averages out over many pairs. The oblique delay
//
//	τ(θ) = (sin²θ/sin² 20°)·(a + b·sin²θ/sin²θₘ + d·(h/h₀ − 1))
//
//	θₘ        largest angle of incidence ([Options].MaxIncidence)
//	h, h₀     mean height of both elements, and of the array
//	a, b, d   unknown, each with the expectation 0 and the uncertainty [Options].Oblique
//
// is an even function of θ, because a pair and its reverse have the same echo. It is fitted
// together with the face. Under a level face the term a has the same effect as an error of the
// speed c: at a time of flight t
//
//	δc/c = −a/(t·sin² 20°)
//
// so 1 ns at 10 µs is 0.09 % of the speed. The different paths of an inclined face separate a part
// of the term: at 36° 0.03 % remain (TestFaceSensitivity). The scatter shows nothing of it. A speed
// that is found from one face is therefore known to about 0.4 %, and the angle with it to 0.15°. A
// common error of 1 ns costs only 0.005 % of the speed. The ratio sin(Angle)/Speed is known far
// better than both: if the angle is known from a measurement on the wedge, it gives the speed.
//
// What causes an oblique delay (tests named TestDelay…):
//
//   - The width of the elements and their directivity: none to first order. They change the
//     spectrum with the angle, but it stays real, and the pulse symmetric. Echoes of strips of wide
//     elements arrive within 0.5 % of a period.
//   - The curvature of the wave. The second term of its reflection turns the phase by −(A″/A +
//     1/4)/(2kL). Here A is the product of the directivities and the reflection coefficient, k the
//     wave number and L the path. For an array of 4 MHz on polystyrene over steel the delay falls
//     from 0.7 ns at 0° to 0.2 ns at 14°. Near the first critical angle it grows without bound.
//   - The phase of the reflection coefficient: none below the first critical angle. Beyond it the
//     echo merges with a head wave: keep MaxIncidence below it.
//   - A film of couplant on steel: 21.5 ns for 10 µm of water at 0°, and 1.4 ns less at 17°. It is
//     an offset, which shifts the heights by 2.5 µm for each micrometre.
//   - Delays in the matching layers and the housing of an array. No formula covers them.
//
// In the full-wave capture weld32 (4 MHz) the oblique delay is 2 ns at 9°, 7 ns at 17° and 12 ns at
// 21°. The curvature explains how it changes with the path. The rest is 9.8 ns at 20° for all paths
// (TestDelayOfCapture): the elements or the face of that simulation cause it. In grainw32 (2.25
// MHz) the oblique delay stays below 0.7 ns up to 21°. No formula foretells such a rest, so the
// delay is fitted, and its uncertainty is a default.
//
// # Coverage
//
// The table has shares in percent: how many intervals of twice the standard uncertainty hold the
// truth in 1,000 trials (TestCoverageLong). The trials have drawn angles, heights, speeds, widths,
// bandwidths, noise, jitter, roll, offsets and delays of 12 elements. With the speed to be found,
// 22 trials were refused.
//
//	                     angle   first height   last height   distance   speed
//	speed given          95.0    96.3           96.0          96.2       96.4
//	speed to be found    97.3    97.3           97.4          97.4       97.8
//
// Calibrations of full-wave wedges of 36°, with the default uncertainties. The truth is 36°, 2340
// m/s and 6 mm from the floor to the first element:
//
//	                     angle             speed              first height
//	weld32, given        35.982 ± 0.042    2340.0 ±  2.3      6.012 ± 0.013 mm
//	weld32, found        35.880 ± 0.166    2334.3 ±  9.3      5.998 ± 0.026 mm
//	grainw32, given      35.988 ± 0.042    2340.0 ±  2.3      5.998 ± 0.013 mm
//	grainw32, found      35.989 ± 0.143    2340.0 ±  8.1      5.998 ± 0.023 mm
//
// Calibrations of full-wave plates in contact. Echoes of holes and notches and surface waves
// overlap the echo of the back wall, and scatter the times by 11 to 43 ns:
//
//	           speed, m/s, thickness given    speed, thickness to be found    truth
//	notch32         5921 ±  9                      5884 ± 125                 5920
//	tips_plate1     5920 ±  9                      5896 ± 121                 5920
//	tips_plate2     5914 ± 11                      5810 ± 169                 5920
//	block16         6309 ± 10                      6025 ± 418                 6320
//
// # Faces that are not flat
//
// Face refuses them with [ErrNotFlat], which names the misfit and the limit. Examples are a curved
// or wavy surface in water, and a record that begins after the echo of the face and holds other
// echoes. Two tests look for a bend. A bend beyond the tolerance shows in the vote: a parabola
// agrees with the arrivals of one element in eight more than a plane. A smaller bend shows in the
// residuals of the pulse-echo arrivals. Polynomials of degree 2 to 5 are compared with the rest by
// an F test at a probability of false alarm of 0.1 % (TestFaceFalseAlarm). A bend of a twentieth of
// a period rms is accepted. Use package tfm/adapt for surfaces that are not flat.
//
// # Several echoes
//
// The echo of the back wall of the part does not determine the speed in the wedge, because it adds
// the thickness and the speed of the part as unknowns. The interval between the echoes of the face
// and of the back wall gives the thickness or the speed of the part, without the offset (FindWall
// of package tfm/adapt). A block of known thickness in contact gives the speed of the block
// ([Parallel]), and so does a block that is made of the material of the wedge.
//
// # What it does not show
//
//   - A common error of all times beyond the stated offset: the height is wrong, and nothing shows
//     it.
//   - A trend of the delays along the array: it has the same effect as an angle.
//   - A speed that differs between the elements, as in a warm wedge or a worn one.
//
// A calibration does not replace the checks of probe and instrument that the applicable code
// requires.
package calibrate
