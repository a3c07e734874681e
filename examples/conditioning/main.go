// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Conditioning prepares raw traces: by the mean of 16 frames, removal of the offset, and a filter.
//
//	go run ./examples/conditioning
//
// The mean lowers noise by √16. It does not lower interference that repeats with each pulse: the
// filter does. The numbers are the faults that each step leaves, as root mean square, beside the
// root of the sum of squares of the known faults. The picture shows one trace after each step.
//
// No step repairs a clipped sample, and filters hide clipping: look for it in raw frames. Here
// only the transmitted pulses clip. The capture is simulated (testdata), the faults are invented.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"log"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "conditioning.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

const offset, hum, frequency, noise = 1500., 1200., 0.4e6, 300. // counts, counts at Hz, counts (standard deviation)

func run(w io.Writer, out string) error {
	record, err := npy.ReadFile("testdata/block16.json", nil)
	if err != nil {
		return err
	}
	clean := record.Capture
	mean, err := condition.NewAverage(clean)
	if err != nil {
		return err
	}
	raw, random := *clean, rand.New(rand.NewPCG(1, 2))
	raw.Data = make([]float32, len(clean.Data))
	for range 16 {
		for i, v := range clean.Data {
			faults := offset + hum*math.Sin(2*math.Pi*frequency*clean.Time(i%clean.Samples)) + noise*random.NormFloat64()
			raw.Data[i] = float32(min(max(math.Round(float64(v)+faults), -32767), 32767))
		}
		if err := mean.Add(&raw); err != nil {
			return err
		}
	}
	averaged := raw
	averaged.Data = slices.Clone(raw.Data)
	clipped, err := condition.AppendSaturations(nil, &raw, -32767, 32767)
	if err := errors.Join(err, mean.Mean(&averaged)); err != nil {
		return err
	}
	fmt.Fprintf(w, "%d of %d traces clip\n", len(clipped), len(raw.Pairs))
	sheet := &picture.Panels{Columns: 2, Title: "Element 4 to element 11 of an aluminium block"}
	window := condition.Window{From: 2.2e-6, To: math.Inf(1), Rise: 0.5e-6} // blanks the transmitted pulse
	removal := condition.OffsetRemoval{From: 15.5e-6, To: math.Inf(1)}      // of the mean behind the last echo
	filter := []condition.Step{removal, condition.BandPass{}, window}       // of the band of the array
	for _, s := range []struct {
		title         string
		from          *fmc.Capture
		steps         []condition.Step
		offset, noise float64 // expected
	}{
		{"one frame", &raw, filter[2:], offset, noise},
		{"mean of 16 frames", &averaged, filter[2:], offset, noise / 4},
		{"offset removed", &averaged, []condition.Step{removal, window}, 0, noise / 4},
		{"band-pass", &averaged, filter, 0, noise / 4},
	} {
		chain, err := condition.NewChain(clean, s.steps...)
		if err != nil {
			return err
		}
		got, want := *clean, *clean
		got.Data, want.Data = make([]float32, len(clean.Data)), make([]float32, len(clean.Data))
		if err := errors.Join(chain.Apply(&got, s.from), chain.Apply(&want, clean)); err != nil {
			return err
		}
		sum, n, line := 0.0, 0.0, picture.Line{}
		for k, v := range got.Data {
			if t := clean.Time(k % clean.Samples); t > 4e-6 && t < 16.5e-6 {
				sum, n = sum+math.Pow(float64(v-want.Data[k]), 2), n+1
				if k/clean.Samples == 4*16+11 {
					line.Points = append(line.Points, r2.Vec{X: t * 1e6, Y: float64(v)})
				}
			}
		}
		passes := 0.0 // the mean of the squares of the response: the share of the power of white noise
		for f := range 1000 {
			passes += math.Pow(cmplx.Abs(chain.Response(float64(f)/2000*clean.SampleRate)), 2) / 1000
		}
		tone := hum / math.Sqrt2 * cmplx.Abs(chain.Response(frequency))
		expected := math.Sqrt(s.offset*s.offset + tone*tone + passes*s.noise*s.noise)
		fmt.Fprintf(w, "%-18s faults of %4.0f counts, expected %4.0f\n", s.title+":", math.Sqrt(sum/n), expected)
		sheet.Pictures = append(sheet.Pictures, &picture.Chart{Title: s.title, Lines: []picture.Line{line},
			X: picture.Axis{Label: "time / µs", From: 4, To: 16.5}, Y: picture.Axis{Label: "counts", From: -4000, To: 7000}})
	}
	return picture.WriteFile(out, sheet)
}
