// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc_test

import (
	"context"
	"fmt"
	"io"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// A capture is made once. Each frame from the digitiser is then written to the same memory. The
// samples are invented.
func Example() {
	array, err := fmc.LinearArray(2, 0.6e-3,
		fmc.Array{Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	capture, err := fmc.New(fmc.Capture{
		Array:       array,
		Pairs:       fmc.HalfPairs(2),
		Samples:     4,
		SampleRate:  50e6,
		FirstSample: 8e-6,
	})
	if err != nil {
		log.Fatal(err)
	}
	frame := []int16{1, 5, -3, 0, 0, 2, 7, -1, 0, 6, -4, 1}
	if err := capture.SetInt16(frame); err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%v matrix, %d traces to %.2f µs\n", capture.Layout(), len(capture.Pairs),
		1e6*capture.Time(3))
	for pair, trace := range capture.Traces() {
		fmt.Printf("%v %v\n", pair, trace)
	}
	trace, _ := capture.Between(1, 0)
	fmt.Printf("1→0 by reciprocity: %v at %.2f µs\n", trace[2], 1e6*capture.Time(2))
	// Output:
	// half matrix, 3 traces to 8.06 µs
	// 0→0 [1 5 -3 0]
	// 0→1 [0 2 7 -1]
	// 1→1 [0 6 -4 1]
	// 1→0 by reciprocity: 7 at 8.04 µs
}

// A matrix array of 3 × 2 elements. The numbers of the elements run along x first.
func ExampleMatrixArray() {
	array, err := fmc.MatrixArray(3, 2, 1e-3, 1.5e-3,
		fmc.Array{Width: 0.8e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	for i, e := range array.Elements {
		fmt.Printf("element %d at x = %2.0f mm, y = %5.2f mm\n", i, 1e3*e.X, 1e3*e.Y)
	}
	// Output:
	// element 0 at x = -1 mm, y = -0.75 mm
	// element 1 at x =  0 mm, y = -0.75 mm
	// element 2 at x =  1 mm, y = -0.75 mm
	// element 3 at x = -1 mm, y =  0.75 mm
	// element 4 at x =  0 mm, y =  0.75 mm
	// element 5 at x =  1 mm, y =  0.75 mm
}

// A linear array on a wedge of 36° is turned, so that its far end lifts off the part. It is then
// moved to the place of the middle of its face.
func ExampleArray_Place() {
	flat, err := fmc.LinearArray(3, 1e-3,
		fmc.Array{Width: 0.8e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	tilt := r3.NewRotation(36*math.Pi/180, r3.Vec{Y: 1})
	placed, err := flat.Place(tilt, r3.Vec{X: -8e-3, Z: -11e-3})
	if err != nil {
		log.Fatal(err)
	}
	for i, e := range placed.Elements {
		fmt.Printf("element %d at x = %.3f mm, z = %.3f mm\n", i, 1e3*e.X, 1e3*e.Z)
	}
	// Output:
	// element 0 at x = -8.809 mm, z = -10.412 mm
	// element 1 at x = -8.000 mm, z = -11.000 mm
	// element 2 at x = -7.191 mm, z = -11.588 mm
}

// The two traces of a pair differ by noise. Their mean halves the power of the noise. The samples
// are invented.
func ExampleCapture_Half() {
	array, err := fmc.LinearArray(2, 1e-3,
		fmc.Array{Width: 0.8e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	full, err := fmc.New(fmc.Capture{
		Array:      array,
		Pairs:      fmc.FullPairs(2),
		Samples:    3,
		SampleRate: 50e6,
		Data:       []float32{0, 8, 0, 1, 6, -1, -1, 8, 1, 0, 9, 0},
	})
	if err != nil {
		log.Fatal(err)
	}
	half, err := full.Half()
	if err != nil {
		log.Fatal(err)
	}
	for pair, trace := range half.Traces() {
		fmt.Println(pair, trace)
	}
	// Output:
	// 0→0 [0 8 0]
	// 0→1 [0 7 0]
	// 1→1 [0 9 0]
}

// The hardware fills one buffer of int16 again and again. Each frame is the same capture with new
// samples. The samples are invented.
func ExampleFrames() {
	array, err := fmc.LinearArray(1, 0.6e-3,
		fmc.Array{Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	capture, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(1), Samples: 3,
		SampleRate: 50e6})
	if err != nil {
		log.Fatal(err)
	}
	buffer, n := make([]int16, 3), 0
	source := func(context.Context) (fmc.Frame, error) {
		if n == 2 {
			return fmc.Frame{}, io.EOF
		}
		n++
		buffer[1] = int16(100 * n) // as the hardware would
		frame := fmc.Frame{Index: n - 1, Time: 0.02 * float64(n), Position: 0.5e-3 * float64(n),
			Capture: capture}
		return frame, capture.SetInt16(buffer)
	}
	for frame, err := range fmc.Frames(context.Background(), source) {
		if err != nil {
			log.Fatal(err)
		}
		fmt.Printf("frame %d at %.1f mm: %v\n", frame.Index, 1e3*frame.Position, frame.Capture.Data)
	}
	// Output:
	// frame 0 at 0.5 mm: [0 100 0]
	// frame 1 at 1.0 mm: [0 200 0]
}

// numbered returns a full matrix of 4 elements, of which sample k of pair p is 10·p + k.
func numbered() *fmc.Capture {
	array, err := fmc.LinearArray(4, 0.6e-3,
		fmc.Array{Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	capture, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(4), Samples: 5,
		SampleRate: 50e6})
	if err != nil {
		log.Fatal(err)
	}
	for p := range capture.Pairs {
		for k := range capture.Samples {
			capture.Trace(p)[k] = float32(10*p + k)
		}
	}
	return capture
}

// Only elements 3 and 0 shall fire, and all elements record: a sparse capture is faster and
// smaller.
func ExampleCapture_Select() {
	sparse, err := numbered().Select(fmc.SparsePairs([]int{3, 0}, 4))
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%v, %d of 16 traces: %v\n", sparse.Layout(), len(sparse.Pairs), sparse.Pairs)
	// Output:
	// listed, 8 of 16 traces: [3→0 3→1 3→2 3→3 0→0 0→1 0→2 0→3]
}

// A gate keeps the samples of interest, and their times.
func ExampleCapture_Gate() {
	gated, err := numbered().Gate(20e-9, 60e-9)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("trace %v from %.0f ns: %v\n", gated.Pairs[1], 1e9*gated.FirstSample, gated.Trace(1))
	// Output:
	// trace 0→1 from 20 ns: [11 12 13]
}

// The two middle elements of the array as an array of their own.
func ExampleCapture_SubAperture() {
	middle, err := numbered().SubAperture([]int{1, 2})
	if err != nil {
		log.Fatal(err)
	}
	for pair, trace := range middle.Traces() {
		fmt.Println(pair, trace)
	}
	// Output:
	// 0→0 [50 51 52 53 54]
	// 0→1 [60 61 62 63 64]
	// 1→0 [90 91 92 93 94]
	// 1→1 [100 101 102 103 104]
}
