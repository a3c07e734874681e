// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"sync"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
)

// Scan computes the frames of an array that moves over a part. Make it with [NewScan]. Frames do
// not depend on each other: each can be computed alone, in any order. Their bytes do not depend on
// the order or on the number of workers. Several goroutines may use a Scan at once.
type Scan struct {
	part      Part
	pass      Pass
	recording Recording
	walls     *fmc.Capture // echoes that are the same in all frames; its samples are not scaled
	groups    []*group
	elevation *elevation
	band      band      // of a burst
	grid      grid      // of bursts
	reach     float64   // of the pulse, s
	roots     []float64 // of the frequencies of the band
	scale     float64   // of samples
	workers   sync.Pool // of *scanWorker
}

// NewScan traces the rays and returns the scan. Its frames are sampled as the recording says, which
// also limits the number of workers. The rays take up to some seconds, each frame some 10 ms of one
// core for 32 elements. The error names the field that is out of range, or is the error of ctx.
func NewScan(ctx context.Context, part *Part, pass Pass, recording Recording) (*Scan, error) {
	if err := part.validate(); err != nil {
		return nil, err
	}
	if err := pass.validate(); err != nil {
		return nil, err
	}
	s := &Scan{part: *part, pass: pass, recording: recording, scale: 1}
	if err := s.checkEndless(); err != nil {
		return nil, err
	}
	var err error
	if s.walls, err = s.constant(ctx, pass.Positions[0]); err != nil {
		return nil, err
	}
	s.recording.Pairs = s.walls.Pairs
	if err := s.addFlaws(ctx); err != nil {
		return nil, err
	}
	return s, s.setScale(ctx)
}

// checkEndless returns an error for a reflector of the scene that is not endless along the scan.
func (s *Scan) checkEndless() error {
	around := Surroundings{
		Part: s.part.Scene.Setup.Part, Dimension: s.part.Scene.Dimension,
		Frequencies: []float64{s.part.Scene.Array.CentreFrequency},
	}
	for i, r := range s.part.Scene.Reflectors {
		scatterers, err := r.Scatterers(around)
		if err != nil {
			return fmt.Errorf("%w, of reflector %d", err, i)
		}
		for _, scatterer := range scatterers {
			if at, endless := scatterer.Centre(); !endless {
				return fmt.Errorf("synth: reflector %d at %v m moves with the array: want it among the flaws", i, at)
			}
		}
	}
	return nil
}

// sceneAt returns the scene of the section at s.
func (s *Scan) sceneAt(position float64) (*Scene, error) {
	scene := s.part.Scene
	var err error
	scene.Setup.Back, err = s.part.back(position)
	return &scene, err
}

// constant returns the echoes of the section at a position without its flaws.
func (s *Scan) constant(ctx context.Context, position float64) (*fmc.Capture, error) {
	scene, err := s.sceneAt(position)
	if err != nil {
		return nil, err
	}
	return Synthesise(ctx, scene, s.recording)
}

// addFlaws adds the groups of all flaws, and the beam of the elements.
func (s *Scan) addFlaws(ctx context.Context) error {
	var strips []strip
	before, after := 0.0, 0.0 // times from the start of an echo to its centre, and on to its end
	pulse := newPulse(s.part.Scene.Array)
	s.reach, _ = pulse.reach()
	for i, f := range s.part.Flaws {
		more, err := f.strips(&s.part)
		if err != nil {
			return fmt.Errorf("%w, of flaw %d", err, i)
		}
		for _, piece := range more {
			piece.flaw = i
			strips = append(strips, piece)
			lead := s.lead(piece) + s.reach
			before = max(before, lead)
			after = max(after, lead+piece.ring)
		}
	}
	if length := (before + after) * s.recording.SampleRate; !(length <= maxLength) {
		return fmt.Errorf("synth: echo of a flaw of %.3g samples: want at most %d", length, maxLength)
	}
	s.grid = newGrid(pulse, s.walls.Samples, s.recording.SampleRate, before, after)
	s.band = newBand(pulse, s.grid.length*s.grid.stride, s.recording.SampleRate)
	for _, f := range s.band.frequencies {
		s.roots = append(s.roots, math.Sqrt(f))
	}
	for _, piece := range strips {
		g, err := s.group(ctx, piece)
		if err != nil {
			return err
		}
		s.groups = append(s.groups, g)
	}
	return s.addElevation(ctx, pulse)
}

// lead returns the largest time in s by which an echo of a strip is before or after the echo of its
// centre.
func (s *Scan) lead(piece strip) float64 {
	medium := s.part.Scene.Setup.Part
	slowest := medium.Longitudinal
	if medium.Transverse > 0 {
		slowest = medium.Transverse
	}
	return 2 * piece.size / slowest
}

// Len returns the number of frames.
func (s *Scan) Len() int { return len(s.pass.Positions) }

// Capture returns a capture with the array, the pairs and the times of all frames. All its samples
// are 0. Frame computes a frame into such a capture.
func (s *Scan) Capture() *fmc.Capture {
	c := *s.walls
	c.Data = make([]float32, len(s.walls.Data))
	return &c
}

// FullScale returns the amplitude of a sample at full scale, as in [Pass].
func (s *Scan) FullScale() float64 { return s.pass.FullScale }

// Frame computes the samples of frame i, from 0 to Len()-1, into a capture from [Scan.Capture], and
// returns the frame.
func (s *Scan) Frame(ctx context.Context, i int, into *fmc.Capture) (fmc.Frame, error) {
	if i < 0 || i >= s.Len() {
		return fmc.Frame{}, fmt.Errorf("synth: frame %d of the scan: want 0 to %d", i, s.Len()-1)
	}
	if into == nil || len(into.Data) != len(s.walls.Data) || into.Samples != s.walls.Samples {
		return fmc.Frame{}, fmt.Errorf("synth: capture for frame %d: want one of the scan, from the method Capture", i)
	}
	position := s.pass.Positions[i]
	walls := s.walls
	if s.part.Back != nil {
		var err error
		if walls, err = s.constant(ctx, position); err != nil {
			return fmc.Frame{}, err
		}
	}
	seen := s.seen(position)
	gain := s.pass.gain(i)
	var lock sync.Mutex
	var workers []*scanWorker
	options := parallel.Options{Workers: s.recording.Workers}
	err := parallel.Do(ctx, len(into.Pairs), options, func() func(int) error {
		w := s.worker()
		lock.Lock()
		workers = append(workers, w)
		lock.Unlock()
		return func(p int) error {
			w.frame(walls.Trace(p), seen, p)
			w.record(into.Trace(p), i, p, gain)
			return nil
		}
	})
	for _, w := range workers {
		s.workers.Put(w)
	}
	return fmc.Frame{Index: i, Time: s.pass.time(i), Position: position, Capture: into}, err
}

// Source returns the frames from one to before another, in order, from 0 to Len(). All frames share
// one capture.
func (s *Scan) Source(from, to int) fmc.FrameSource {
	next, into := from, s.Capture()
	return func(ctx context.Context) (fmc.Frame, error) {
		if err := ctx.Err(); err != nil {
			return fmc.Frame{}, err
		}
		if next >= to {
			return fmc.Frame{}, io.EOF
		}
		next++
		return s.Frame(ctx, next-1, into)
	}
}

// scanWorker computes traces. Each goroutine has its own.
type scanWorker struct {
	scan    *Scan
	sum     *sum
	weights []complex128 // of the end at the distance end, if known: strips of a flaw share an end
	end     float64
	known   bool
	flaw    int
	signal  []float64
	source  *rand.PCG
	random  *rand.Rand
}

// worker returns a worker that is free.
func (s *Scan) worker() *scanWorker {
	if w, ok := s.workers.Get().(*scanWorker); ok {
		return w
	}
	source := rand.NewPCG(0, 0)
	w := &scanWorker{
		scan: s, weights: make([]complex128, len(s.band.frequencies)),
		signal: make([]float64, s.walls.Samples), source: source, random: rand.New(source),
	}
	if len(s.groups) > 0 {
		w.sum = newSum(&s.grid, &s.band)
	}
	return w
}

// frame sets the signal of pair p: the walls and the flaws.
func (w *scanWorker) frame(walls []float32, seen []sight, p int) {
	for k, v := range walls {
		w.signal[k] = float64(v)
	}
	if len(seen) == 0 {
		return
	}
	for v := range seen[0].group.views {
		w.known = false
		for _, one := range seen {
			if e := &one.group.views[v][p]; e.spectrum != nil {
				w.add(one, e)
			}
		}
	}
	w.sum.finish(w.signal)
}

// record writes the samples of frame i and pair p: the signal with the faults of the pass.
func (w *scanWorker) record(trace []float32, i, p int, gain float64) {
	s := w.scan
	pass, scale := &s.pass, gain*s.scale
	for k, v := range w.signal {
		w.signal[k] = v * scale
	}
	if pass.Noise > 0 {
		w.source.Seed(pass.Seed, uint64(i)<<32|uint64(p))
		for k := range w.signal {
			w.signal[k] += pass.Noise * w.random.NormFloat64()
		}
	}
	pass.convert(trace, w.signal)
}
