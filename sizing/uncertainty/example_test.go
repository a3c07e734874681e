// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty_test

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing/uncertainty"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// A thickness from the time of a back-wall echo: the time was read five times, the speed is known
// within limits. The data are invented.
func ExamplePropagate() {
	quantities := []uncertainty.Quantity{
		uncertainty.Readings("time, µs", 6.758, 6.755, 6.761, 6.757, 6.760),
		uncertainty.Limits("speed, mm/µs", 5.92, 0.03, uncertainty.Rectangular),
	}
	thickness := func(x []float64) float64 { return x[0] * x[1] / 2 }
	budget, err := uncertainty.Propagate("thickness", "mm", thickness, quantities, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Print(budget)
	fmt.Println(budget.Result(0.95))

	// The speed is rectangular and dominates. So the interval of 95 % is shorter than the factor
	// of a normal distribution says.
	d, err := uncertainty.MonteCarlo(thickness, quantities, nil, &uncertainty.MonteCarloOptions{Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	low, high := d.Interval(0.95)
	fmt.Printf("Monte Carlo: %.2f to %.2f mm\n", low, high)
	// Output:
	// thickness, mm  u        ν         shape        sensitivity  contribution  share
	// time, µs       0.00107  4         normal       2.96         0.00316       0 %
	// speed, mm/µs   0.0173   ∞         rectangular  3.38         0.0585        100 %
	// combined                4.73e+05                            0.0586
	// 20.00 ± 0.11 mm (k = 1.96, 95 %)
	// Monte Carlo: 19.91 to 20.10 mm
}

// The length and the depth of a planar flaw between two tips, in a view through a wedge. All
// numbers are invented.
func ExampleInputs() {
	acrylic := material.Isotropic{Density: 1180, Longitudinal: 2730, Transverse: 1430}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	setup, err := wedge.NewPlate(&acrylic, steel, 20e-3)
	if err != nil {
		fmt.Println(err)
		return
	}
	array, err := fmc.LinearArray(32, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.6})
	if err != nil {
		fmt.Println(err)
		return
	}
	const degree = math.Pi / 180
	if array, err = array.Place(r3.NewRotation(36*degree, r3.Vec{Y: 1}), r3.Vec{X: -10e-3, Z: -12e-3}); err != nil {
		fmt.Println(err)
		return
	}
	capture, err := fmc.New(fmc.Capture{
		Array: array, Pairs: fmc.FullPairs(32), Samples: 1, SampleRate: 50e6, Data: make([]float32, 32*32),
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	model, err := uncertainty.NewModel(capture, setup, "T-T", &uncertainty.Options{Pivot: array.Elements[0]})
	if err != nil {
		fmt.Println(err)
		return
	}
	inputs := &uncertainty.Inputs{Parameters: map[uncertainty.Parameter]uncertainty.Quantity{
		uncertainty.CouplingSpeed:    {Uncertainty: 10},
		uncertainty.TransverseSpeed:  {Uncertainty: 15},
		uncertainty.WedgeAngle:       uncertainty.Limits("", 0, 0.3*degree, uncertainty.Rectangular),
		uncertainty.WedgeHeight:      {Uncertainty: 0.1e-3},
		uncertainty.ProbePosition:    uncertainty.Limits("", 0, 0.5e-3, uncertainty.Rectangular),
		uncertainty.ElementSpacing:   {Uncertainty: 0.001},
		uncertainty.ElementPositions: {Uncertainty: 0.01e-3},
		uncertainty.TimeZero:         {Uncertainty: 10e-9},
	}}
	// Two tips, read with a standard uncertainty of 0.1 mm each.
	var ends [2]*uncertainty.Reading
	for i, at := range [2]r3.Vec{{X: 16e-3, Z: 9e-3}, {X: 17e-3, Z: 14e-3}} {
		place, err := model.At(at)
		if err != nil {
			fmt.Println(err)
			return
		}
		ends[i] = &uncertainty.Reading{Place: place, SNRDB: 25, Grid: 1e-6, Method: 0.1e-3}
	}
	depth, err := inputs.Z(ends[0])
	if err != nil {
		fmt.Println(err)
		return
	}
	length, err := inputs.Length(ends[0], ends[1])
	if err != nil {
		fmt.Println(err)
		return
	}
	tilt, err := inputs.Tilt(ends[0], ends[1])
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("depth: ", depth.In(1e3, "mm").Result(0.95))
	fmt.Println("length:", length.In(1e3, "mm").Result(0.95))
	fmt.Println("tilt:  ", tilt.In(1/degree, "°").Result(0.95))
	fmt.Print(length.In(1e3, "mm"))
	// Output:
	// depth:  9.00 ± 0.43 mm (k = 1.96, 95 %)
	// length: 5.10 ± 0.29 mm (k = 1.96, 95 %)
	// tilt:   -11.3 ± 3.3 ° (k = 1.96, 95 %)
	// length, mm         u         ν  shape        sensitivity  contribution  share
	// coupling speed     10        ∞  normal       0.000273     0.00273       0 %
	// transverse speed   15        ∞  normal       0.00209      0.0313        5 %
	// wedge angle        0.00302   ∞  rectangular  -0.296       0.000895      0 %
	// wedge height       0.0001    ∞  normal       -56.1        0.00561       0 %
	// probe position     0.000289  ∞  rectangular  0            0             0 %
	// element spacing    0.001     ∞  normal       -1.74        0.00174       0 %
	// element positions  1e-05     ∞  normal       121          0.00121       0 %
	// time zero          1e-08     ∞  normal       1.05e+05     0.00105       0 %
	// noise 1            1.9e-05   ∞  normal       1e+03        0.019         2 %
	// grid 1             5.77e-07  ∞  rectangular  1e+03        0.000577      0 %
	// method 1           0.0001    ∞  normal       1e+03        0.1           46 %
	// noise 2            1.94e-05  ∞  normal       1e+03        0.0194        2 %
	// grid 2             5.77e-07  ∞  rectangular  1e+03        0.000577      0 %
	// method 2           0.0001    ∞  normal       1e+03        0.1           46 %
	// combined                     ∞                            0.148
}

// Two speeds from one fit are correlated: the uncertainty of their ratio is smaller than for
// independent speeds. The data are invented.
func ExampleCombine() {
	longitudinal := uncertainty.Quantity{Name: "longitudinal", Value: 5920, Uncertainty: 30, DegreesOfFreedom: 9}
	transverse := uncertainty.Quantity{Name: "transverse", Value: 3240, Uncertainty: 16, DegreesOfFreedom: 9}
	ratio := longitudinal.Value / transverse.Value
	for _, r := range []float64{0, 0.9} {
		budget, err := uncertainty.Combine("ratio", "", ratio, []uncertainty.Contribution{
			{Quantity: longitudinal, Sensitivity: 1 / transverse.Value},
			{Quantity: transverse, Sensitivity: -ratio / transverse.Value},
		}, []uncertainty.Correlation{{A: "longitudinal", B: "transverse", R: r}})
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Println(budget.Result(0.95))
	}
	// Output:
	// 1.827 ± 0.029 (k = 2.26, 95 %)
	// 1.8272 ± 0.0093 (k = 2.26, 95 %)
}

// One rectangular quantity, such as a probe position within limits. The normal factor claims more
// than the limits allow.
func ExampleBudget_Simulate() {
	position := uncertainty.Limits("probe position", 0, 0.5, uncertainty.Rectangular) // mm
	budget, err := uncertainty.Combine("x", "mm", 14.2, []uncertainty.Contribution{{Quantity: position, Sensitivity: 1}}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	simulated, err := budget.Simulate(0.95, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(budget.Result(0.95))
	fmt.Println(simulated)
	// Output:
	// 14.20 ± 0.57 mm (k = 1.96, 95 %)
	// 14.20 ± 0.47 mm (k = 1.64, 95 %)
}

// The inputs of a wedge that was calibrated from the echoes of its floor, in a reference capture.
func ExampleCalibrated() {
	record, err := npy.ReadFile("../../testdata/weld32.json", nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	arrivals, err := calibrate.Pick(record.Capture, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	elements := make([]r3.Vec, 32)
	for i := range elements {
		elements[i].X = (float64(i) - 15.5) * 0.6e-3
	}
	placement, err := calibrate.Face(elements, arrivals, &calibrate.Options{
		Speed: calibrate.Estimate{Value: 2340, Uncertainty: 2.3}, // m/s
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	inputs, err := uncertainty.Calibrated(placement)
	if err != nil {
		fmt.Println(err)
		return
	}
	inputs.Parameters[uncertainty.TransverseSpeed] = uncertainty.Quantity{Uncertainty: 12} // m/s
	fmt.Printf("wedge angle ± %.4f rad\n", inputs.Parameters[uncertainty.WedgeAngle].Uncertainty)
	for _, c := range inputs.Correlations {
		if math.Abs(c.R) >= 0.1 {
			fmt.Printf("%s, %s: %.1f\n", c.A, c.B, c.R)
		}
	}
	// Output:
	// wedge angle ± 0.0007 rad
	// coupling speed, wedge angle: 1.0
	// wedge height, wedge angle: 0.7
	// wedge height, coupling speed: 0.7
	// time zero, wedge height: 0.7
}
