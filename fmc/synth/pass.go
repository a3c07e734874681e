// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"context"
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Pass describes how the array moves over the part, and the faults of the instrument and of the
// coupling on the way.
type Pass struct {
	// Positions are the positions s of the frames along the scan in m, finite, one or more. See
	// [Steps].
	Positions []float64
	Speed     float64 // of the array in m/s, finite and above 0; 0 stands for 0.05
	// Patches are places of poor coupling. Where patches overlap, their losses add up.
	Patches []Patch
	// Drift is the change of the gain from the first frame to the last in dB: -60 to 60.
	Drift float64
	// Noise is the standard deviation of white Gaussian noise, as a fraction of full scale: 0 to 1.
	// The coupling and the drift do not change it.
	Noise float64
	// FullScale is the amplitude of a sample at full scale, in the unit of a trace: finite, above
	// 0. The value 0 stands for 1.25 times the largest sample of some frames: the first, the last,
	// and the frames in the middle of up to 16 flaws. [Scan.FullScale] returns the value.
	FullScale float64
	// Bits is the number of bits of the digitiser, 2 to 24. Samples become whole numbers from
	// -2^(Bits-1) to 2^(Bits-1) - 1, and are clipped at both ends. 0 stands for samples that are
	// fractions of full scale.
	Bits int
	Seed uint64 // of the noise: the same seed gives the same noise
}

// Patch is a place of poor coupling. The loss begins and ends over the first and the last quarter
// of the patch, as a raised cosine.
type Patch struct {
	From float64 `json:"from_m"` // position along the scan in m, finite, below To
	To   float64 `json:"to_m"`
	Loss float64 `json:"loss_db"` // in the middle, for both directions together, in dB, 0 to 200
}

// Steps returns n positions, from a first one on, with a step between them, in m.
func Steps(first, step float64, n int) []float64 {
	out := make([]float64, max(n, 0))
	for i := range out {
		out[i] = first + float64(i)*step
	}
	return out
}

// validate reports the first field that is out of range.
func (p *Pass) validate() error {
	if len(p.Positions) == 0 {
		return fmt.Errorf("synth: scan of 0 positions: want at least 1")
	}
	for i, s := range p.Positions {
		if !number.Finite(s) {
			return fmt.Errorf("synth: position %d of the scan %v m: want a finite value", i, s)
		}
	}
	for i, patch := range p.Patches {
		if err := checkSpan(fmt.Sprintf("patch %d", i), patch.From, patch.To); err != nil {
			return err
		}
		if !(patch.Loss >= 0 && patch.Loss <= 200) {
			return fmt.Errorf("synth: loss of patch %d %v dB: want 0 to 200 dB", i, patch.Loss)
		}
	}
	switch {
	case p.Speed != 0 && !number.Positive(p.Speed):
		return fmt.Errorf("synth: speed of the scan %v m/s: want a finite value above 0, or 0 for 0.05", p.Speed)
	case !(math.Abs(p.Drift) <= 60):
		return fmt.Errorf("synth: drift of the gain %v dB: want -60 to 60 dB", p.Drift)
	case !(p.Noise >= 0 && p.Noise <= 1):
		return fmt.Errorf("synth: noise %v of full scale: want 0 to 1", p.Noise)
	case p.FullScale != 0 && !number.Positive(p.FullScale):
		return fmt.Errorf("synth: full scale %v: want a finite value above 0, or 0 for a value found from some frames",
			p.FullScale)
	case p.Bits != 0 && (p.Bits < 2 || p.Bits > 24):
		return fmt.Errorf("synth: %d bits: want 2 to 24, or 0 for none", p.Bits)
	}
	return nil
}

// at returns the loss of a patch in dB at a position.
func (p Patch) at(s float64) float64 {
	edge := min(s-p.From, p.To-s) / ((p.To - p.From) / 4)
	if !(edge > 0) {
		return 0
	}
	return p.Loss * (1 - math.Cos(math.Pi*min(edge, 1))) / 2
}

// gain returns the factor of the echoes in frame i.
func (p *Pass) gain(i int) float64 {
	level := 0.0
	if n := len(p.Positions); n > 1 {
		level = p.Drift * float64(i) / float64(n-1)
	}
	for _, patch := range p.Patches {
		level -= patch.at(p.Positions[i])
	}
	return math.Pow(10, level/20)
}

// time returns the time of frame i in s: of the way along the scan from frame 0.
func (p *Pass) time(i int) float64 {
	speed := p.Speed
	if speed == 0 {
		speed = 0.05
	}
	return math.Abs(p.Positions[i]-p.Positions[0]) / speed
}

// convert writes the output of the digitiser for samples in fractions of full scale.
func (p *Pass) convert(trace []float32, signal []float64) {
	if p.Bits == 0 {
		for k, v := range signal {
			trace[k] = float32(v)
		}
		return
	}
	limit := math.Ldexp(1, p.Bits-1)
	for k, v := range signal {
		trace[k] = float32(max(-limit, min(limit-1, math.RoundToEven(v*limit))))
	}
}

// setScale sets the scale of the samples. Without a full scale it computes some frames.
func (s *Scan) setScale(ctx context.Context) error {
	if s.pass.FullScale == 0 {
		largest, err := s.largest(ctx)
		if err != nil {
			return err
		}
		if largest == 0 {
			largest = 1
		}
		s.pass.FullScale = 1.25 * largest
	}
	s.scale = 1 / s.pass.FullScale
	return nil
}

// largest returns the largest sample of some frames, without the faults of the pass.
func (s *Scan) largest(ctx context.Context) (float64, error) {
	frames := []int{0, s.Len() - 1}
	step := max(1, (len(s.part.Flaws)+15)/16)
	for i := 0; i < len(s.part.Flaws); i += step {
		from, to := s.part.Flaws[i].Span()
		frames = append(frames, s.nearest((from+to)/2))
	}
	clean := &Scan{
		part: s.part, recording: s.recording, walls: s.walls, groups: s.groups, elevation: s.elevation,
		band: s.band, roots: s.roots, grid: s.grid, reach: s.reach, scale: 1, pass: Pass{Positions: s.pass.Positions, FullScale: 1},
	}
	c := s.Capture()
	largest := 0.0
	for _, i := range frames {
		if _, err := clean.Frame(ctx, i, c); err != nil {
			return 0, err
		}
		for _, v := range c.Data {
			largest = max(largest, math.Abs(float64(v)))
		}
	}
	return largest, nil
}

// nearest returns the index of the frame that is nearest to a position.
func (s *Scan) nearest(position float64) int {
	best := 0
	for i, at := range s.pass.Positions {
		if math.Abs(at-position) < math.Abs(s.pass.Positions[best]-position) {
			best = i
		}
	}
	return best
}
