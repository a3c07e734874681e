// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/graded"
)

// ErrBlank is the error of a measurement in which no echo of the record reaches any view.
var ErrBlank = errors.New("the image is empty: no sample of the record reaches it")

// ErrCoarse is the error of a grid whose pixels lie so far apart that peaks are lost, without
// [Settings.Coarse].
var ErrCoarse = errors.New("want smaller steps")

// Options modifies [Measure] and [Repeat]. They do not change a result. Nil stands for the zero
// value.
type Options struct {
	// Workers limits the goroutines; 0 means all cores.
	Workers int
	// Progress, if it is not nil, is called when a stage begins and while it goes on. It gets the
	// name of the stage and the share of the stage that is done, 0 to 1. Calls do not overlap.
	Progress func(stage string, share float64)
}

// Measurement is a record with the images that it was read from.
type Measurement struct {
	Record    *Record
	Envelopes []*tfm.Envelope // one for each view of the settings; nil for a blank view
}

// Measure images a capture in the views of the settings, finds the indications, and lists the
// flaws. The name of the capture goes into the record; it has no folder.
//
// The capture is of single elements, on an array in one section of constant y, or of events. A
// capture of events has indications and no flaws, because flaws are read from the signals of single
// elements. A view without an echo is marked as blank. If all views are blank, the error wraps
// [ErrBlank].
//
// If the set-up has a weld with grains, the images follow the rays that the grains bend, for the
// first arrival of each wave. Walls, kinds of flaws and uncertainties are still judged along
// straight rays in the parent metal. So take the position of a flaw from such a list, and not its
// kind.
//
// The record has no calibration and no files yet: the caller adds them. The result has the same
// bits for any number of workers. If ctx ends early, its error is returned.
func Measure(ctx context.Context, name string, input *npy.Record, s *Settings, o *Options) (*Measurement, error) {
	if err := checkName("name of the capture", name); err != nil {
		return nil, err
	}
	if input == nil || s == nil {
		return nil, errors.New("report: no capture or no settings, nil: want both")
	}
	if err := s.check(); err != nil {
		return nil, err
	}
	capture, setup, err := identify(name, input)
	if err != nil {
		return nil, err
	}
	geometry, err := input.Geometry()
	if err != nil {
		return nil, fmt.Errorf("report: %w", err)
	}
	m := &measurer{input: input, setup: geometry, settings: s}
	if input.Weld != nil {
		if m.part, err = input.Welded(); err != nil {
			return nil, fmt.Errorf("report: %w", err)
		}
	}
	if o != nil {
		m.options = *o
	}
	m.record = &Record{
		Schema: Schema, Version: Version, Environment: ThisEnvironment(), Capture: capture, Setup: setup,
		Calibration: []Calibration{}, Settings: s.clone(), Flaws: []flaw.Flaw{}, Files: []File{},
	}
	for _, v := range s.Views {
		if err := m.view(ctx, v); err != nil {
			return nil, fmt.Errorf("report: view %s: %w", v.Name, err)
		}
	}
	if len(m.views) == 0 {
		return nil, fmt.Errorf("report: view %s: %w", s.Views[len(s.Views)-1].Name, ErrBlank)
	}
	if err := m.flaws(ctx); err != nil {
		return nil, err
	}
	m.number()
	return &Measurement{m.record, m.envelopes}, nil
}

// measurer makes a record.
type measurer struct {
	input     *npy.Record
	setup     *wedge.Setup
	part      *graded.Part // with its weld; nil if the set-up has no weld
	settings  *Settings
	options   Options
	record    *Record
	envelopes []*tfm.Envelope
	views     []flaw.View // that are not blank
	stage     string
}

// progress begins a stage, or reports the share of it that is done.
func (m *measurer) progress(stage string, share float64) {
	m.stage = stage
	if m.options.Progress != nil {
		m.options.Progress(stage, share)
	}
}

// view images and reads a view.
func (m *measurer) view(ctx context.Context, v ViewSettings) error {
	view, err := wedge.ParseView(v.Name)
	if err != nil {
		return err
	}
	image, shown, err := m.image(ctx, view, v)
	if err != nil {
		return err
	}
	m.progress("size "+v.Name, 0)
	envelope := image.Envelope(nil)
	peak, _ := envelope.Peak()
	if peak == 0 {
		shown.Blank = true
		m.record.Views = append(m.record.Views, *shown)
		m.envelopes = append(m.envelopes, nil)
		return nil
	}
	if err := m.checkCoarse(envelope); err != nil {
		return err
	}
	shown.Image = hashFloats(envelope.Data)
	for _, state := range envelope.States {
		for _, name := range stateNames(state) {
			shown.States[name]++
		}
	}
	r := &reader{measurer: m, view: view, envelope: envelope}
	if err := r.read(ctx, shown); err != nil {
		return err
	}
	m.record.Views = append(m.record.Views, *shown)
	m.envelopes = append(m.envelopes, envelope)
	found := make([]sizing.Indication, len(shown.Indications))
	for i := range shown.Indications {
		found[i] = shown.Indications[i].Indication
	}
	m.views = append(m.views, flaw.View{Name: v.Name, Image: image, Indications: found})
	return nil
}

// coarsest is the largest share of pixels in the state CoarseGrid.
const coarsest = 0.1

// checkCoarse returns an error for an image whose pixels lie so far apart that peaks are lost.
func (m *measurer) checkCoarse(e *tfm.Envelope) error {
	coarse := 0
	for _, s := range e.States {
		if s&tfm.CoarseGrid != 0 {
			coarse++
		}
	}
	share := float64(coarse) / float64(e.Len())
	if share <= coarsest || m.settings.Coarse {
		return nil
	}
	return fmt.Errorf("steps of %.4g and %.4g m: an echo between pixels may lose more than 2 dB at %.0f %% of them: %w",
		e.Step.X, e.Step.Z, 100*share, ErrCoarse)
}

// image returns the image of a view, and the view without readings.
func (m *measurer) image(ctx context.Context, view wedge.View, v ViewSettings) (*tfm.Image, *View, error) {
	capture := m.input.Capture
	band := tfm.DefaultBand(capture.Array.CentreFrequency, capture.Array.Bandwidth, capture.SampleRate)
	m.progress("plan "+v.Name, 0)
	plan, err := m.plan(ctx, view, v.Grid.grid(), &tfm.Options{
		Band: band, FullScale: m.settings.FullScale, Workers: m.options.Workers,
		Progress: func(share float64) { m.progress(m.stage, share) },
	})
	if err != nil {
		return nil, nil, err
	}
	m.progress("image "+v.Name, 0)
	image, err := plan.Image(ctx, capture)
	if err != nil {
		return nil, nil, err
	}
	return image, &View{
		Name: v.Name, Kernel: plan.Kernel(), Band: [2]float64{band.Low, band.High},
		Indications: []Indication{}, States: map[string]int{},
	}, nil
}

// offSurface is the distance in m from a surface below which a place is moved: a ray to a place on
// a surface has a leg without length, and so no amplitude.
const offSurface = 10e-6

// spread returns the point spread of a view. A capture of events has none.
func (m *measurer) spread(view string) (func(r3.Vec, float64) (*tfm.Envelope, error), error) {
	if m.input.Capture.Events != nil {
		return nil, nil
	}
	o := &quality.Options{Dimension: m.settings.dimension()}
	spread, err := quality.NewSpread(m.input.Capture, m.setup, view, o)
	if err != nil {
		return nil, err
	}
	return func(at r3.Vec, drop float64) (*tfm.Envelope, error) {
		if below := m.setup.Entry.Depth(at); math.Abs(below) < offSurface {
			at.Z += offSurface
		}
		if m.setup.Back != nil && math.Abs(m.setup.Back.Depth(at)) < offSurface {
			at.Z -= 2 * offSurface
		}
		return spread.Picture(at, drop)
	}, nil
}

// flaws lists the flaws.
func (m *measurer) flaws(ctx context.Context) error {
	if m.input.Capture.Events != nil {
		return nil
	}
	m.progress("flaws", 0)
	options, err := m.settings.flawOptions(m.options.Workers)
	if err != nil {
		return err
	}
	found, err := flaw.List(ctx, m.input.Capture, m.setup, m.views, options)
	if err != nil {
		return err
	}
	m.record.Flaws = append(m.record.Flaws, found...)
	return nil
}

// number numbers the indications of each view from 1: first those that are no walls, then the
// walls, each strongest first. The flaws follow.
func (m *measurer) number() {
	numbers := map[string]map[int]int{} // new from old, by view
	for i := range m.record.Views {
		v := &m.record.Views[i]
		numbers[v.Name] = map[int]int{}
		slices.SortStableFunc(v.Indications, func(a, b Indication) int {
			return cmp.Compare(min(1, len(a.Wall)), min(1, len(b.Wall)))
		})
		for k := range v.Indications {
			numbers[v.Name][v.Indications[k].ID] = k + 1
			v.Indications[k].ID = k + 1
		}
	}
	for i := range m.record.Flaws {
		for k := range m.record.Flaws[i].Indications {
			in := &m.record.Flaws[i].Indications[k]
			in.ID = numbers[in.View][in.ID]
		}
	}
}

// wallAt returns the name of the wall that an indication is the echo of, and an empty name for
// another indication.
func (m *measurer) wallAt(ctx context.Context, view wedge.View, e *tfm.Envelope, f *sizing.Indication) (string, error) {
	peak := r3.Vec{X: f.X, Y: e.Origin.Y, Z: f.Z}
	return ghost.WallAt(ctx, m.setup, m.input.Capture.Array, view, peak, f.Contour, max(e.Step.X, e.Step.Z))
}
