// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Campaign measures known flaws, and prints how far the readings are from the truth.
//
//	go run ./examples/campaign
//
// It draws 500 flaws in three set-ups: a block in contact, a plate under a wedge, a pipe in water.
// The errors of each set-up are drawn from the uncertainties that the set-up states. The library
// computes a capture with noise, images it, lists the flaws, and states an interval of 95 % for
// each value. One table says what was found, one how well each method measured. A third table has
// the full-wave captures of testdata.
//
// They show:
//
//   - Lengths between two tips have no bias, and their intervals hold the truth.
//   - A tip above the back wall gives a length only if a corner or a face shows the foot. The
//     intervals of such lengths hold the truth in 97 %. Without a foot the list states no length.
//   - A view without the corner shows a crack from the back wall as a point: use a view that
//     skips.
//   - Of 42 lower bounds of a drop, less their uncertainties, 41 are not longer than the flaw.
//   - Four flaws near the wall have lengths from the height of their face, and no interval holds.
//   - A hole may be wider than its spot: an unresolved length is no upper limit of a hole.
//
// The folder testdata/campaign holds the output, and the readings of all flaws as -csv writes
// them. Flaw number i is the same for any number of flaws. A run takes some minutes of one core.
package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"os"
	"os/signal"
	"runtime"
	"sync"
	"sync/atomic"
)

func main() {
	log.SetFlags(0)
	var j job
	flag.IntVar(&j.flaws, "flaws", 500, "how many synthetic flaws: 0 to 1e6")
	flag.Uint64Var(&j.seed, "seed", 1, "the seed of the flaws")
	flag.IntVar(&j.workers, "workers", 0, "flaws at a time: 0 for one for each core")
	flag.StringVar(&j.table, "csv", "", "write the readings of all synthetic flaws to a `FILE.csv`")
	flag.StringVar(&j.folder, "captures", "testdata", "the `FOLDER` of the full-wave captures; empty for none")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := j.run(ctx, os.Stdout, os.Stderr); err != nil {
		stop()
		log.Fatal(err)
	}
}

// job holds the values of the flags.
type job struct {
	flaws, workers int
	seed           uint64
	table, folder  string
}

func (j *job) run(ctx context.Context, w, progress io.Writer) error {
	if j.flaws < 0 || j.flaws > 1e6 {
		return fmt.Errorf("flaws %d: want 0 to 1e6", j.flaws)
	}
	readings, err := campaign(ctx, progress, j.seed, j.flaws, j.workers)
	if err != nil {
		return err
	}
	if j.table != "" {
		var text bytes.Buffer
		if err := write(&text, readings); err != nil {
			return err
		}
		if err := os.WriteFile(j.table, text.Bytes(), 0o666); err != nil {
			return err
		}
	}
	summarise(w, readings)
	if j.folder != "" {
		if err := measured(ctx, w, j.folder, captures); err != nil {
			return err
		}
	}
	_, err = io.WriteString(w, note)
	return err
}

// note says what the tables mean, and what they do not show.
const note = `
Columns
  right, unknown, wrong: the kind of the strongest entry within 1.5 mm of the flaw. Right is planar for
  a crack, and a point for a hole or a pore. A root is a crack from the back wall. In the block and the
  pipe the view L-L shows its tip alone, and a tip alone looks like a point.
  others: further entries that are planar or a point.
  measured, bound, unres.: lengths that are measured, a lower bound, or unresolved. True means: the flaw
  is at least as long as the bound less its uncertainty; or not longer than an unresolved length. An
  unresolved length is no upper limit: a hole shows its near face alone, so it may be wider. A crack of
  which one tip shows may have any length, and so may a smooth crack that mirrors the beam away.
  mean, rms, median: errors, read minus true, in mm and degrees. The median is of their moduli.
  holds: share of the intervals of 95 % that hold the truth; of places, the intervals of x and of z.
  A place is the centre of a crack whose length is measured, else the nearest point of the crack. Of a
  hole it is the face that mirrors the beam.

What the numbers do not show
  All scenes are invented. Each has one flaw, smooth and straight, without echoes of the entry surface
  and the back wall. The captures come from the ray model, and the readings use the same ray model and
  the same coefficients of diffraction at tips. So the synthetic tables test the arithmetic, the
  decisions and the stated intervals, not the physics. Waves along a crack are missing, so that cracks
  near a wavelength are approximate. Only the full-wave captures are independent of the ray model.
  They have exact set-ups and no noise, and their limits were in part chosen on them.
  Not tried: rough, curved, branched or closed cracks; grain and other noise than white noise;
  attenuation; errors of the wedge angle, of single elements, of the time zero; two flaws close
  together. Real reliability needs a trial on real parts. The numbers are no basis for acceptance of a
  part: the applicable code, the written procedure and qualified practitioners decide.
`

// campaign returns the readings of the first flaws of a seed.
func campaign(ctx context.Context, progress io.Writer, seed uint64, flaws, workers int) ([]reading, error) {
	references := map[string]float64{}
	for _, g := range rigs {
		level, err := g.reference(ctx)
		if err != nil {
			return nil, err
		}
		references[g.name] = level
	}
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	readings := make([]reading, flaws)
	var started, ended atomic.Int64
	var group sync.WaitGroup
	for range workers {
		group.Go(func() {
			for ctx.Err() == nil {
				i := int(started.Add(1) - 1)
				if i >= flaws {
					return
				}
				s := newScene(seed, i)
				r, err := s.read(ctx, references[s.rig.name])
				if err != nil {
					stop(fmt.Errorf("flaw %d in the %s: %w", i, s.rig.name, err))
					return
				}
				r.number, r.rig = i, s.rig.name
				r.round()
				readings[i] = r
				fmt.Fprintf(progress, "\r%3d %%", 100*ended.Add(1)/int64(flaws))
			}
		})
	}
	group.Wait()
	fmt.Fprint(progress, "\r")
	return readings, context.Cause(ctx)
}
