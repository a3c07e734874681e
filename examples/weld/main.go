// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Weld images a weld and prints the position of each indication in the weld: its zone, the nearest
// fusion face, the distance from that face, and the tilt of both. It draws the preparation of the
// weld over the image.
//
//	go run ./examples/weld
//
// The capture is the weld of testdata, a full-wave simulation. The preparation is a single V with a
// bevel angle of 30°. Its other sizes are invented.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/examples/internal/command"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

func main() {
	var out string
	command.Command{
		Name:  "weld",
		About: "Weld images a weld, prints where each indication lies in it, and draws both.",
		Flags: func(fs *flag.FlagSet) {
			fs.StringVar(&out, "out", "weld.png", "the picture to write, a `FILE.png`")
		},
		Run: func(ctx context.Context, w, _ io.Writer) error {
			return run(ctx, w, "testdata/weld32.json", out)
		},
	}.Main()
}

// preparation returns the weld. Its centre line is 16 mm in front of x = 0, where the normal of the
// array leaves the wedge.
func preparation(thickness float64) (*joint.Joint, error) {
	edge := joint.Edge{Upper: joint.Bevel{Angle: 30 * math.Pi / 180}}
	j, err := joint.Butt{
		Thickness: thickness, Gap: 1e-3, RootFace: 1e-3, Left: edge, Right: edge,
		Cap:  joint.Bead{Height: 1.5e-3, Width: 21e-3},
		Root: joint.Bead{Height: 0.8e-3, Width: 4e-3},
	}.Joint()
	if err != nil {
		return nil, err
	}
	return j.Shifted(r2.Vec{X: 16e-3}), nil
}

func run(ctx context.Context, w io.Writer, name, out string) error {
	record, err := npy.ReadFile(name, nil)
	if err != nil {
		return err
	}
	weld, err := preparation(record.Thickness)
	if err != nil {
		return err
	}
	if err := advise(w, weld); err != nil {
		return err
	}
	grid, err := tfm.NewSection(2e-3, 34e-3, 2e-3, 18e-3, 1e-4)
	if err != nil {
		return err
	}
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	plan, err := tfm.PlanView(ctx, record.Capture, setup, "T-T", grid, nil)
	if err != nil {
		return err
	}
	image, err := plan.Image(ctx, record.Capture)
	if err != nil {
		return err
	}
	envelope := image.Envelope(nil)
	found, err := sizing.Find(envelope, &sizing.Options{Floor: -12})
	if err != nil {
		return err
	}
	report(w, weld, found)
	if err := draw(out, weld, record, envelope, found); err != nil {
		return err
	}
	fmt.Fprintln(w, "\nwrote", out)
	return nil
}

// advise prints the beams that strike the right bevel at a right angle.
func advise(w io.Writer, weld *joint.Joint) error {
	bevel, ok := weld.Face("right bevel")
	if !ok {
		return errors.New("no right bevel")
	}
	for skips := range 2 {
		beam, err := weld.Square(bevel, 0.5, skips)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "at a right angle to the middle of the right bevel, skips %d: "+
			"a beam of %.0f° from x = %.1f mm\n", skips, beam.Angle*180/math.Pi, beam.Index*1e3)
	}
	fmt.Fprintln(w)
	return nil
}

// heatAffected is the assumed width of the heat-affected zone in m (common practice, no source).
const heatAffected = 3e-3

// report prints the positions of the indications in the weld.
func report(w io.Writer, weld *joint.Joint, found []sizing.Indication) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "no.\tx/mm\tz/mm\tlevel/dB\tof thickness\tzone\t"+
		"from the face/mm\tface\ttilt/°\tface angle/°\t")
	for _, f := range found {
		p := r2.Vec{X: f.X, Y: f.Z}
		n := weld.Nearest(p)
		tilt := "-"
		if !f.Round {
			tilt = fmt.Sprintf("%.0f", f.Tilt*180/math.Pi)
		}
		// 0 is added so that no minus zero is printed.
		distance, angle := math.Round(n.Distance*1e4)/10+0, 0-n.Inclination*180/math.Pi
		fmt.Fprintf(t, "%d\t%.1f\t%.1f\t%.1f\t%.0f %%\t%v\t%.1f\t%s\t%s\t%.0f\t\n",
			f.ID, f.X*1e3, f.Z*1e3, f.LevelDB, 100*weld.DepthFraction(p),
			weld.Zone(p, heatAffected), distance, n.Face.Name, tilt, angle)
	}
	t.Flush()
	fmt.Fprintln(w, `
A distance below 0 lies within the weld metal. Tilts and face angles are from the vertical, and
above 0 if the top leans to +x. For a spot as small as the beam, the tilt says nothing about the
direction of a flaw. For a smooth flaw, the length of the spot says nothing about its size.`)
}

// draw writes the image with the preparation and the true reflectors over it.
func draw(
	name string, weld *joint.Joint, record *npy.Record, envelope *tfm.Envelope,
	found []sizing.Indication,
) error {
	peak, _ := envelope.Peak()
	levels, err := envelope.Decibels(nil, peak, -30)
	if err != nil {
		return err
	}
	p := picture.Section{
		Title: "single V, 16 mm, view T-T",
		Caption: fmt.Sprintf("transverse waves of %.0f m/s, pixels of %.1f mm, levels relative "+
			"to the highest peak; contours at half of each peak",
			record.Part.Transverse, envelope.Step.X*1e3),
		Levels: levels,
		Marks:  picture.Marks(found),
	}
	outlines, err := weld.Outlines(20e-6)
	if err != nil {
		return err
	}
	p.Part, p.Weld = outlines.Parts, outlines.Metal
	for _, s := range record.Truth.Slits {
		p.Reflectors = append(p.Reflectors, []r2.Vec{{X: s.X0, Y: s.Z0}, {X: s.X1, Y: s.Z1}})
	}
	return picture.WriteFile(name, &p)
}
