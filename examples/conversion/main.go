// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Conversion shows how a wave that changes its mode makes a ghost in an image.
//
//	go run ./examples/conversion
//
// A longitudinal wave (L) that meets a hole scatters as L and, in part, as a slower transverse
// wave (T). An image in the view L-T expects this change. But the samples also hold the L-L echo,
// which arrives earlier. The image takes it for an L-T echo from less deep. It shows an indication
// where nothing lies: a ghost. In the view L-L the L-T echo makes a weak ghost below the hole. The
// T-L echo arrives at the same time, so both have one ghost.
//
// The picture: both views with the hole, and the lines of the ghosts. Package tfm/ghost predicts
// the lines from the times of flight alone.
//
// The numbers: the depth of each ghost by a formula for echoes along the axis, by the prediction,
// and in the image. The echo of a hole comes from its near face, at the depth z. Its L-L echo
// shows in L-T at 2z/(1 + cL/cT). Its L-T echo shows in L-L at z·(1 + cL/cT)/2.
//
// A ghost explains an indication, but a flaw may lie at the same place. Look from elsewhere, or in
// another view. The plate and the hole are invented.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"os"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "conversion.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	ctx := context.Background()
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230} // kg/m³, m/s
	setup, err := wedge.NewPlate(nil, steel, 40e-3)
	if err != nil {
		return err
	}
	array, err := fmc.LinearArray(32, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		return err
	}
	hole := synth.Hole{X: 0, Z: 14e-3, Diameter: 1e-3} // m
	views := []wedge.View{
		{Transmit: []material.Mode{material.L}, Receive: []material.Mode{material.L}},
		{Transmit: []material.Mode{material.L}, Receive: []material.Mode{material.T}},
	}
	scene := &synth.Scene{Setup: *setup, Array: array, Reflectors: []synth.Reflector{hole}, Views: views}
	capture, err := synth.Synthesise(ctx, scene, synth.Recording{Samples: 900, SampleRate: 50e6})
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(-12e-3, 12e-3, 5e-3, 27e-3, 0.1e-3)
	if err != nil {
		return err
	}
	known := []ghost.Reflector{{Name: "the hole", Outline: wedge.Outline{{X: hole.X, Y: hole.Z}}, Radius: hole.Diameter / 2}}
	echoes, err := ghost.New(ctx, setup, array, &ghost.Options{Reflectors: known})
	if err != nil {
		return err
	}
	near, ratio := hole.Z-hole.Diameter/2, steel.Longitudinal/steel.Transverse
	fmt.Fprintln(w, "view  ghost of              formula/mm  predicted/mm  in the image/mm  level/dB")
	var panels []picture.Picture
	for i, other := range []struct {
		echo    string
		formula float64
	}{{"T-L echo of the hole", near * (1 + ratio) / 2}, {"L-L echo of the hole", 2 * near / (1 + ratio)}} {
		image, err := tfm.ImageView(ctx, capture, setup, views[i].String(), grid, nil)
		if err != nil {
			return err
		}
		envelope := image.Envelope(nil)
		levels, err := envelope.Decibels(nil, 0, -46)
		if err != nil {
			return err
		}
		ghosts, err := echoes.Predict(ctx, views[i], grid, &ghost.PredictOptions{Names: []string{other.echo}})
		if err != nil {
			return err
		}
		for _, g := range ghosts {
			_, pixel := envelope.PeakNear(g.At, 2e-3)
			fmt.Fprintf(w, "%-5v %-20s %11.1f %13.1f %16.1f %9.1f\n", views[i], g.Echo, other.formula*1e3, g.At.Z*1e3,
				grid.Point(pixel).Z*1e3, levels.Data[pixel])
		}
		panels = append(panels, &picture.Section{
			Title: fmt.Sprintf("view %v, and the ghost of the %s", views[i], other.echo), Levels: levels,
			Reflectors: [][]r2.Vec{picture.Circle(hole.X, hole.Z, hole.Diameter/2)}, Ghosts: picture.Ghosts(ghosts),
		})
	}
	return picture.WriteFile(out, &picture.Panels{Title: "A change of mode makes a ghost", Pictures: panels})
}
