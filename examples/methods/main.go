// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Methods compares imaging methods. It images the known reflectors of the captures of testdata by
// each method. It prints a table:
//
//	go run ./examples/methods
//
// The columns are:
//
//   - error: distance of the peak, in mm, from the place of the echo. This place is the near face
//     of a hole, along the ray from the middle of the array. In the plates it is the tip of a slit,
//     in the welds the nearest point of a slit or of a notch.
//   - length: the 6 dB length of the spot in mm, along its longer axis. "no size": package sizing
//     refuses a weighted image. "open": the spot reaches the edge of the window. "-": the spot is
//     a part of a stronger one.
//   - level: dB relative to the strongest reflector of the same capture, view and method.
//   - snr: the peak in dB above the root mean square of noise, for white noise in all traces. In
//     the plain image the strongest reflector lies 30 dB above this noise. Traces of plane waves
//     have noise of the same strength, because it is noise of the receivers.
//
// The file table.txt holds the output, methods.png the picture of -picture. They show:
//
//   - Places and lengths are the same in plain, corrected and compounded images. Two holes of
//     sdh32 lie in the shadow of the first. Their echoes come from the side that the waves reach.
//   - Correction makes equal holes equal (block16: 5.3 dB apart before, 0.6 dB after). It also
//     raises noise where the sensitivity is low.
//   - N plane waves raise the ratio of signal to noise by about 10·log10 N, because N elements
//     fire together.
//   - A weight lowers the noise between echoes, so the ratio of a weighted image is high. But a
//     weight also lowers weak echoes: the third hole of sdh32 falls from -25 dB to between -36 and
//     -52 dB, and with four of the six weights below the noise.
//   - The coherence factor lowers a tip of notch32 by 28 dB. The wave along the surface, from
//     elements 10 to 14 mm apart, arrives at the same time and is ten times stronger. Measures of
//     phases are not disturbed.
//
// With -time the program measures the time of an image by each method instead.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"math"
	"math/cmplx"
	"os"
	"os/signal"
	"path/filepath"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// ratio is the ratio in dB of the strongest reflector to the noise in the plain image.
const ratio = 30

// captures are the captures and views in which the known reflectors show.
var captures = []struct{ name, view string }{
	{"block16", "L-L"}, {"sdh32", "T-T"}, {"pipe32", "L-L"}, {"wavy32", "L-L"}, {"notch32", "L-L"},
	{"tips_plate1", "L-L"}, {"tips_plate2", "L-L"}, {"weld32", "T-T"}, {"weld32", "TT-T"},
	{"tips_weld1", "T-T"}, {"tips_weld1", "TT-T"}, {"tips_weld2", "T-T"}, {"tips_weld2", "TT-T"},
}

func main() {
	log.SetFlags(0)
	measure := flag.Bool("time", false, "measure the time of an image instead")
	folder := flag.String("captures", "testdata", "the `FOLDER` of the captures")
	picture := flag.String("picture", "", "draw four methods instead, to a `FILE.png`")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Stdout, *folder, *picture, *measure); err != nil {
		stop()
		log.Fatal(err)
	}
}

func run(ctx context.Context, w io.Writer, folder, picture string, measure bool) error {
	if measure || picture != "" {
		s, err := newScene(ctx, filepath.Join(folder, "sdh32.json"), "T-T")
		if err != nil {
			return err
		}
		grid, err := tfm.NewSection(7e-3, 32.5e-3, 1.5e-3, 27e-3, 1e-4)
		switch {
		case err != nil:
			return err
		case measure:
			return times(ctx, w, s, grid, 21)
		}
		return draw(ctx, s, grid, picture)
	}
	fmt.Fprintf(w, "%-12s%-6s%-11s%-28s%6s%9s%7s%6s\n%-57s%6s%9s%7s%6s\n",
		"capture", "view", "reflector", "method", "error", "length", "level", "snr", "", "mm", "mm", "dB", "dB")
	for _, c := range captures {
		if err := compare(ctx, w, folder, c.name, c.view); err != nil {
			return fmt.Errorf("%s %s: %w", c.name, c.view, err)
		}
	}
	return nil
}

// compare prints the rows of a capture in a view.
func compare(ctx context.Context, w io.Writer, folder, name, view string) error {
	s, err := newScene(ctx, filepath.Join(folder, name+".json"), view)
	if err != nil {
		return err
	}
	targets, err := s.targets(ctx)
	if err != nil {
		return err
	}
	strongest := make([]float64, len(s.methods)) // of the readings of each method
	noise := math.Inf(1)                         // standard deviation that gives the stated ratio
	for _, t := range targets {
		if err := t.read(ctx, s.clean, s.noise); err != nil {
			return fmt.Errorf("%s: %w", t.name, err)
		}
		for m, r := range t.readings {
			strongest[m] = max(strongest[m], r.amplitude)
		}
		if plain := t.readings[0]; plain.amplitude == strongest[0] {
			noise = plain.amplitude / (plain.noise * sizing.Ratio(ratio))
		}
	}
	noisy := s.noisy(noise)
	for _, t := range targets {
		disturbed, err := t.views.Images(ctx, noisy)
		if err != nil {
			return err
		}
		for m, r := range t.readings {
			peak := r.amplitude
			if c := m - weighted; c >= 0 && c < len(weights) {
				im := disturbed[c] // the coherence of an echo depends on the noise
				peak = cmplx.Abs(complex128(im.Data[r.pixel])) * float64(im.Coherence[r.pixel])
			}
			fmt.Fprintf(w, "%-12s%-6s%-11s%-28s%6.1f%9s%7.1f%6.0f\n", name, view, t.name, s.methods[m], 1e3*r.off, r.length,
				sizing.LevelDB(r.amplitude, strongest[m]), sizing.LevelDB(peak, noise*r.noise))
		}
	}
	return nil
}
