// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"image/color"
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"github.com/isochron-imaging/isochron/examples/internal/picture"
	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
)

// panels show a trace before and after, and their spectra under the filter.
type panels struct {
	title         string
	raw           *fmc.Capture
	before, after []float32
	filter        *condition.BandPass
}

var (
	rawColour         = color.RGBA{R: 150, G: 150, B: 150, A: 255}
	conditionedColour = color.RGBA{R: 20, G: 60, B: 140, A: 255}
	filterColour      = color.RGBA{R: 190, G: 60, B: 30, A: 255}
)

// write draws the picture into a PNG file.
func (p panels) write(name string) error {
	traces, err := p.traces()
	if err != nil {
		return err
	}
	spectra, err := p.spectra()
	if err != nil {
		return err
	}
	canvas := vgimg.NewWith(vgimg.UseWH(18*vg.Centimeter, 16*vg.Centimeter), vgimg.UseDPI(110), vgimg.UseBackgroundColor(color.White))
	rows := [][]*plot.Plot{{traces}, {spectra}}
	tiles := draw.Tiles{Rows: 2, Cols: 1, PadX: vg.Points(8), PadY: vg.Points(12), PadTop: vg.Points(6), PadBottom: vg.Points(6), PadLeft: vg.Points(6), PadRight: vg.Points(10)}
	for i, row := range plot.Align(rows, tiles, draw.New(canvas)) {
		rows[i][0].Draw(row[0])
	}
	return picture.WritePNG(canvas, name)
}

// traces plots the samples over time.
func (p panels) traces() (*plot.Plot, error) {
	pl := plot.New()
	pl.Title.Text = p.title
	pl.X.Label.Text = "time / µs"
	pl.Y.Label.Text = "amplitude / counts"
	points := func(trace []float32) plotter.XYs {
		var xys plotter.XYs
		for k, v := range trace {
			if t := p.raw.Time(k) * 1e6; t >= 0 && t <= 17 {
				xys = append(xys, plotter.XY{X: t, Y: float64(v)})
			}
		}
		return xys
	}
	pl.Y.Min, pl.Y.Max = -4000, 4000
	return pl, addLines(pl, []labelled{
		{"raw, one frame", points(p.before), rawColour},
		{"conditioned", points(p.after), conditionedColour},
	})
}

// spectra plots the levels of both spectra, each relative to its peak in the band of the
// array, and the response of the filter. The dead zone is left out.
func (p panels) spectra() (*plot.Plot, error) {
	pl := plot.New()
	pl.X.Label.Text = "frequency / MHz"
	pl.Y.Label.Text = "level / dB"
	pl.Y.Min, pl.Y.Max = -60, 20
	var response plotter.XYs
	for f := 0.0; f <= 8e6; f += 0.02e6 {
		level := 20 * math.Log10(max(1e-3, math.Abs(p.filter.Response(f))))
		response = append(response, plotter.XY{X: f / 1e6, Y: level})
	}
	return pl, addLines(pl, []labelled{
		{"raw, one frame", p.spectrum(p.before), rawColour},
		{"conditioned", p.spectrum(p.after), conditionedColour},
		{"response of the filter", response, filterColour},
	})
}

// spectrum returns the level of a trace behind the dead zone over frequency.
func (p panels) spectrum(trace []float32) plotter.XYs {
	gated := make([]float64, 4*len(trace))
	for k, v := range trace {
		if p.raw.Time(k) > deadZone+0.5e-6 {
			gated[k] = float64(v)
		}
	}
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
	var xys plotter.XYs
	for i, m := range magnitudes {
		if f := transform.Freq(i) * p.raw.SampleRate; f <= 8e6 {
			xys = append(xys, plotter.XY{X: f / 1e6, Y: max(-60, 20*math.Log10(m/peak+1e-9))})
		}
	}
	return xys
}

// labelled is a line with its name in the legend.
type labelled struct {
	name   string
	points plotter.XYs
	colour color.Color
}

func addLines(pl *plot.Plot, lines []labelled) error {
	pl.Legend.Top = true
	for _, l := range lines {
		line, err := plotter.NewLine(l.points)
		if err != nil {
			return err
		}
		line.Color, line.Width = l.colour, vg.Points(1)
		pl.Add(line)
		pl.Legend.Add(l.name, line)
	}
	return nil
}
