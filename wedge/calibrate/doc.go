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
// delay of its own. Each number has a standard uncertainty.
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
// An uncertainty holds two parts: the scatter of the times, and the uncertainties of the values
// that the caller gives. An error that shifts all times by the same amount does not appear in the
// scatter. It is part of no uncertainty, unless the caller gives it as the uncertainty of
// [Options.Offset]. On the simulated capture weld32 the scatter alone gives ± 0.0008° for an angle
// that is 0.02° from the truth.
package calibrate
