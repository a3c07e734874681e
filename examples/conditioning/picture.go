// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"image/color"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"
	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/examples/internal/output"
	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

// panels holds a trace before and after conditioning, for two pictures: the traces, and their
// spectra.
type panels struct {
	title         string
	raw           *fmc.Capture
	before, after []float32
	chain         *condition.Chain
}

const (
	tracesName  = "conditioning-trace.png"
	spectraName = "conditioning-spectrum.png"
)

var (
	rawColour         = color.RGBA{R: 150, G: 150, B: 150, A: 255}
	conditionedColour = color.RGBA{R: 20, G: 60, B: 140, A: 255}
	filterColour      = color.RGBA{R: 190, G: 60, B: 30, A: 255}
)

// write draws both pictures into a folder.
func (p panels) write(folder string) error {
	files := output.Files{Folder: folder}
	if err := files.Add(tracesName, p.traces().WritePNG); err != nil {
		return err
	}
	if err := files.Add(spectraName, p.spectra().WritePNG); err != nil {
		return err
	}
	return files.Commit()
}

// traces plots the samples over time.
func (p panels) traces() *picture.Chart {
	points := func(trace []float32) (xys []r2.Vec) {
		for k, v := range trace {
			xys = append(xys, r2.Vec{X: p.raw.Time(k) * 1e6, Y: float64(v)})
		}
		return xys
	}
	return &picture.Chart{
		Title: p.title,
		Caption: "The dead zone ends at 2.2 µs. The echo of the back wall arrives at 12.7 µs. " +
			"Conditioned: offset removed, band-pass, gain, window.",
		X: picture.Axis{Label: "time / µs", From: 0, To: 17},
		Y: picture.Axis{Label: "amplitude / counts", From: -12000, To: 12000},
		Lines: []picture.Line{
			{Name: "raw, one frame", Points: points(p.before), Colour: rawColour},
			{Name: "conditioned", Points: points(p.after), Colour: conditionedColour},
		},
	}
}

// highest is the end of the axis of frequencies, in Hz.
const highest = 8e6

// spectra plots the levels of both spectra, each relative to its peak in the band of the array, and
// the response of the filter. The spectra do not contain the dead zone.
func (p panels) spectra() *picture.Chart {
	var response []r2.Vec
	for f := 0.0; f <= highest; f += 0.02e6 {
		level := 20 * math.Log10(max(1e-4, cmplx.Abs(p.chain.Response(f))))
		response = append(response, r2.Vec{X: f / 1e6, Y: level})
	}
	return &picture.Chart{
		Title: "spectra after the dead zone: " + p.title,
		Caption: "With a Hann window. Each level is relative to the peak of the spectrum " +
			"in the band of the array.",
		X: picture.Axis{Label: "frequency / MHz", From: 0, To: highest / 1e6},
		Y: picture.Axis{Label: "level / dB", From: -80, To: 20},
		Lines: []picture.Line{
			{Name: "raw, one frame", Points: p.spectrum(p.before), Colour: rawColour},
			{Name: "conditioned", Points: p.spectrum(p.after), Colour: conditionedColour},
			{Name: "response of the filter", Points: response, Colour: filterColour, Dashed: true},
		},
	}
}

// spectrum returns the level of a trace after the dead zone over frequency, in MHz and dB. Without
// a window, the offset would spread over all frequencies.
func (p panels) spectrum(trace []float32) (levels []r2.Vec) {
	var gated []float64
	for k, v := range trace {
		if p.raw.Time(k) > deadZone+0.5e-6 {
			gated = append(gated, float64(v))
		}
	}
	gated = append(window.Hann(gated), make([]float64, 3*len(gated))...)
	transform := fourier.NewFFT(len(gated))
	coefficients := transform.Coefficients(nil, gated)
	centre, peak := p.raw.Array.CentreFrequency, 0.0
	magnitudes := make([]float64, len(coefficients))
	for i, c := range coefficients {
		f := transform.Freq(i) * p.raw.SampleRate
		magnitudes[i] = math.Hypot(real(c), imag(c))
		if math.Abs(f-centre) < centre/2 {
			peak = max(peak, magnitudes[i])
		}
	}
	for i, m := range magnitudes {
		if f := transform.Freq(i) * p.raw.SampleRate; f <= highest {
			levels = append(levels, r2.Vec{X: f / 1e6, Y: 20 * math.Log10(m/peak+1e-5)})
		}
	}
	return levels
}
