// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package uncertainty states how far a reading may be wrong: a position, a length, a tilt, a
// ligament, or any other result, with its expanded uncertainty.
//
//	model, err := uncertainty.NewModel(capture, setup, "T-T", &uncertainty.Options{Pivot: toe})
//	inputs := &uncertainty.Inputs{Parameters: map[uncertainty.Parameter]uncertainty.Quantity{
//		uncertainty.TransverseSpeed: {Uncertainty: 12}, // m/s
//		uncertainty.WedgeAngle: uncertainty.Limits("", 0, 0.005, uncertainty.Rectangular), // rad
//	}} // and so on: each parameter that moves a reading
//	upper, err := model.At(r3.Vec{X: a.X, Z: a.Z}) // of two indications a and b
//	lower, err := model.At(r3.Vec{X: b.X, Z: b.Z})
//	length, err := inputs.Length(
//		&uncertainty.Reading{Place: upper, SNRDB: a.SNRDB, Grid: 1e-6, Method: 0.1e-3},
//		&uncertainty.Reading{Place: lower, SNRDB: b.SNRDB, Grid: 1e-6, Method: 0.1e-3})
//	mm := length.In(1e3, "mm")
//	fmt.Println(mm.Result(0.95)) // 5.02 ± 0.31 mm (k = 1.96, 95 %)
//	fmt.Print(mm)                // the table of the contributions
//
// # The method
//
// The method is the method of the GUM (JCGM 100:2008). A result y = f(x₁ … x_n) depends on input
// quantities ([Quantity]). Each has an estimate xᵢ and a standard uncertainty uᵢ. [Readings] takes
// uᵢ from repeated readings (type A). [Limits] takes it from limits (type B). The combined
// standard uncertainty u of y is ([Combine])
//
//	u² = Σᵢ Σⱼ cᵢ·cⱼ·uᵢ·uⱼ·rᵢⱼ
//
//	cᵢ    sensitivity coefficient ∂f/∂xᵢ
//	rᵢⱼ   correlation coefficient of two estimates
//
// The expanded uncertainty is U = k·u. The coverage factor k follows from the level of confidence
// and from the effective degrees of freedom ([CoverageFactor]). The result is printed as y ± U
// with k and the level ([Result]). A [Budget] lists what each quantity contributes. [Propagate]
// makes a budget for any function. [MonteCarlo] draws the quantities at random instead (GUM
// Supplement 1, JCGM 101:2008). It needs no linear function and no normal distribution, so it
// checks the budget.
//
// # Positions in an image
//
// A [Model] says how an error of each [Parameter] of the set-up moves an indication. The peak of
// an image lies where the echoes of all pairs agree best. Let the parameter p be in error by δ.
// Then the time t_ij of each pair in the image is in error by (∂t_ij/∂p)·δ, and the peak moves by
// ([quality.Peak.Shift])
//
//	d = -H⁻¹ · Σ (∂∇|I|²/∂t_ij) · (∂t_ij/∂p) · δ
//
//	I           sum of the echoes near the peak, with the pulse of the array after its filter
//	∇, H        first and second derivatives over the place in the image
//	∂t_ij/∂p    derivative of the time along both rays ([wedge.Setup.Derivatives])
//
// The sum weights each pair with its amplitude. For a narrow band it is a fit of the phases: a
// plane through the delays of the pairs, with a free constant. A constant delay, such as an error
// of time zero, moves the envelope along the beam.
//
// A reading adds contributions of its own ([Reading]). Noise follows from the signal-to-noise ratio
// and the curvature of the spot. The others are the grid, and the method, such as the place of a
// tip in its spot.
//
// Results of several readings ([Inputs.Of], [Inputs.Length], [Inputs.Tilt]) take the difference of
// the sensitivities. So errors that move both ends of a flaw alike cancel in its length, but do
// not cancel in its depth. [Inputs.Remaining] includes the thickness of the part.
//
// # The place of the reflector
//
// The phases of the amplitudes move a peak away from its reflector. In contact and in water the
// offset is 0. Through a wedge it was 0.07 mm, over a skip 0.8 mm (T-T and TT-T of the tests).
// [Model.Reflector] corrects it for a small reflector. Package sizing/tips corrects it for tips:
// use [Model.At] for them.
//
// # Grains that are not exactly known
//
// In an anisotropic or graded part the derivatives ∂t_ij/∂p come from rays through the grains
// ([graded.Family]). [NewGrainModel] makes a model whose readings carry the uncertainties of the
// grain law, of elastic constants, or of dimensions ([Inputs].Grains). [graded.Family.Fit] gives
// estimates with uncertainties and correlations. A parameter that it could not determine needs the
// uncertainty of what was known before. In images of a point in an austenitic weld the parameters
// had errors of 4 % to 10 %. They moved the peak as predicted, within 20 % of the shift (tests
// named TestGrainShifts).
//
// # Accuracy
//
// Examples of the GUM: gum_test.go. Each derivative was checked by imaging a capture with one
// parameter in error (TestShifts).
//
// In three set-ups 500 readings each had noise, and all parameters were drawn from their
// distributions. The set-ups are an array in contact, on a wedge (T-T), and over a pipe in water.
// The share of the intervals of 95 % that hold the truth, in percent (TestCoverageLong):
//
//	                          x     z     length  tilt  remaining
//	contact, Result          99.4  93.8   94.2    95.6  95.2
//	contact, Simulate        94.2  93.8   94.2    95.6  94.8
//	wedge, Result            95.8  96.2   95.6    94.6  95.6
//	wedge, Simulate          95.2  96.4   95.6    94.6  96.4
//	pipe, Result             97.4  94.8   96.8    94.0  94.6
//	pipe, Simulate           96.0  94.8   96.8    94.0  94.6
//
// A rectangular quantity dominates x in contact: the factor of Result is then too large. In TT-T
// positions were held in 93 to 96 %, but lengths in 88 %. Errors of the set-up change the phases of
// the amplitudes, and Model does not contain this change.
//
// In full-wave captures, 23 of 24 intervals hold the near faces of holes, with half-widths of 0.07
// to 0.24 mm (TestHoles). All of 54 intervals hold the ends, lengths and tilts of slits and
// notches, so these intervals are rather too long (TestTipsLong).
//
// # No default uncertainties
//
// The package does not know your wedge, your speeds or your array. All uncertainties are inputs. A
// parameter that moves a reading and is not among the inputs is an error, so that none is
// forgotten. A parameter that is known exactly has the uncertainty 0.
//
// A part of the inputs can be measured: package wedge/calibrate and package tfm/adapt return
// estimates with standard uncertainties. Estimates of one fit are correlated
// ([Inputs].Correlations): [Calibrated] takes them from a calibration.
//
// # What it does not show
//
//   - Mistakes: a wrong mode, a wrong material, a ghost that is taken for a flaw.
//   - Errors that are not parameters: the radius of a pipe, the shape of a measured surface, a
//     missing echo. Speeds that differ from place to place or from direction to direction need
//     [NewGrainModel].
//     [Propagate] and a sensitivity of your own can add them.
//   - Large errors. The derivatives hold while the times of the pairs are wrong by less than about
//     a quarter of a period against each other. Larger errors blur or split the spot.
//   - Captures of events, volumes, and errors along y.
//   - Few samples. The image interpolates samples linearly. At 12 samples a period this moved
//     peaks by 2 to 4 µm (standard deviation), at 10 samples by up to 20 µm. Add it to Method.
//   - Echoes of other waves across the indication. In full-wave captures without noise, a ratio of
//     20 dB as [Reading].SNRDB covers them.
//
// # Cautions
//
// An interval of 95 % misses the truth once in twenty times, and more often if an input was too
// optimistic. The interval of a lower bound, such as the 6 dB length of a face, is no interval of
// the length of the flaw. The applicable code or procedure says which uncertainty to add to a size
// before it is compared with a limit. Qualified and licensed practitioners decide.
//
// # For contributors
//
// quantity.go, correlation.go, budget.go, result.go, propagate.go and montecarlo.go know nothing of
// waves. parameter.go and model.go hold the set-up, reading.go the results. A new parameter is a
// constant, a name, a line in Model.rates, and an error in the set-ups of model_test.go. grains.go
// does the same for parameters of a graded part.
package uncertainty
