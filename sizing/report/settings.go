// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"errors"
	"fmt"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/uncertainty"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/wedge"
)

// Settings is everything that a measurement needs besides the capture and its set-up.
type Settings struct {
	// Views are the views with their grids, at least one, each view once.
	Views []ViewSettings `json:"views"`
	// Floor is the level in dB relative to the reference of a view below which a peak is not
	// listed: finite. Zero means the floor of [sizing.Options], which follows the noise.
	Floor float64 `json:"floor_db"`
	// Lowest is the level in dB relative to the reference below which no indication is listed, also
	// if the floor follows the noise: finite, at most 0. It spares the list the side lobes and
	// residual waves of strong echoes. Zero means no such level.
	Lowest float64 `json:"lowest_db"`
	// Background is how far a peak must lie above the median amplitude at its depth, in dB: finite,
	// at least 0. With zero, peaks are not compared with a background.
	Background float64 `json:"background_db"`
	// Reference says what 0 dB is. The zero value stands for the strongest indication of each view
	// that is no echo of a wall.
	Reference Reference `json:"reference"`
	// FullScale is the modulus at which the receiver clips ([tfm.Options]): finite, at least 0.
	// Zero means that clipping is not known.
	FullScale float32 `json:"full_scale"`
	// Coarse accepts grids so coarse that peaks may lie between pixels. Otherwise a view with the
	// state [tfm.CoarseGrid] at more than a tenth of its pixels is an error.
	Coarse bool `json:"coarse"`
	// Section says that waves spread in a section, as in a two-dimensional simulation, and not in
	// space.
	Section bool `json:"section"`
	// MaxLength is the largest length of a planar flaw in m: finite, above 0. Zero means the
	// default of [flaw.Options].
	MaxLength float64 `json:"largest_length_m"`
	// Known are shapes of the part whose echoes are no flaws ([flaw.Options]).
	Known []Shape `json:"known_shapes"`
	// Inputs is what is known of the errors of the set-up ([flaw.Options]). Nil means nothing: then
	// uncertainties contain the picture alone.
	Inputs *Inputs `json:"inputs"`
	// LevelU is the uncertainty of 95 % of all levels in dB: finite, at least 0.
	LevelU float64 `json:"level_u_db"`
	// Acceptance is the table by which entries are sorted ([flaw.Options]). Nil means none.
	Acceptance *flaw.Table `json:"acceptance"`
}

// Inputs is a [uncertainty.Inputs] as a list, with the pivot of [flaw.Options].
type Inputs struct {
	// Parameters have the names of [uncertainty.Parameter.String], each once. Their Value has no
	// effect.
	Parameters   []uncertainty.Quantity    `json:"parameters"`
	Correlations []uncertainty.Correlation `json:"correlations"`
	Pivot        [3]float64                `json:"pivot_m"` // x, y, z
}

// inputs returns the inputs in the form of package uncertainty.
func (in *Inputs) inputs() (*uncertainty.Inputs, error) {
	if in == nil {
		return nil, nil
	}
	out := &uncertainty.Inputs{Parameters: map[uncertainty.Parameter]uncertainty.Quantity{}, Correlations: in.Correlations}
	for _, q := range in.Parameters {
		p, ok := parameter(q.Name)
		if !ok {
			return nil, fmt.Errorf("report: parameter %q of the inputs: want a name of package uncertainty, such as %q", q.Name, uncertainty.Thickness)
		}
		if _, twice := out.Parameters[p]; twice {
			return nil, fmt.Errorf("report: parameter %q of the inputs comes twice: want each once", q.Name)
		}
		out.Parameters[p] = q
	}
	return out, nil
}

// parameter returns the parameter with a name.
func parameter(name string) (uncertainty.Parameter, bool) {
	for p := uncertainty.CouplingSpeed; p <= uncertainty.TimeZero; p++ {
		if p.String() == name {
			return p, true
		}
	}
	return 0, false
}

// Shape is a [ghost.Reflector]: a shape of the part that echoes.
type Shape struct {
	Name    string       `json:"name"`
	Outline [][2]float64 `json:"outline_m"` // x and z of its points
	Radius  float64      `json:"radius_m"`  // of a hole about one point, 0 for a line
}

// ViewSettings is a view and its grid.
type ViewSettings struct {
	Name string `json:"view"` // such as "TT-T"
	Grid Grid   `json:"grid"`
}

// Grid is a [tfm.Grid] of one slice, with lengths in m.
type Grid struct {
	Origin [3]float64 `json:"origin_m"` // x, y, z of the first pixel
	Step   [3]float64 `json:"step_m"`   // along x, y, z
	Cols   int        `json:"columns"`  // number of pixels along x
	Rows   int        `json:"rows"`     // number of pixels along z
}

// NewGrid returns g for settings. Of several slices it takes the first.
func NewGrid(g tfm.Grid) Grid {
	return Grid{
		Origin: [3]float64{g.Origin.X, g.Origin.Y, g.Origin.Z},
		Step:   [3]float64{g.Step.X, g.Step.Y, g.Step.Z},
		Cols:   g.Cols, Rows: g.Rows,
	}
}

// grid is the inverse of NewGrid.
func (g Grid) grid() tfm.Grid {
	return tfm.Grid{
		Origin: r3.Vec{X: g.Origin[0], Y: g.Origin[1], Z: g.Origin[2]},
		Step:   r3.Vec{X: g.Step[0], Y: g.Step[1], Z: g.Step[2]},
		Cols:   g.Cols, Rows: g.Rows, Slices: 1,
	}
}

// Reference says what 0 dB is. At most one field is set.
type Reference struct {
	// Amplitude is an amplitude in the unit of the image: finite, above 0. Zero means none.
	Amplitude float64 `json:"amplitude"`
	// At is the place (x, z) in m of a reflector: its highest peak within 1 mm is 0 dB. Nil means
	// none.
	At *[2]float64 `json:"at_m"`
}

// check returns the first field that is out of range as an error.
func (s *Settings) check() error {
	if len(s.Views) == 0 {
		return errors.New("report: settings without a view: want at least one")
	}
	var names []string
	for _, v := range s.Views {
		if _, err := wedge.ParseView(v.Name); err != nil {
			return fmt.Errorf("report: %w", err)
		}
		if slices.Contains(names, v.Name) {
			return fmt.Errorf("report: view %s comes twice: want each view once", v.Name)
		}
		names = append(names, v.Name)
		g := v.Grid.grid()
		if err := g.Validate(); err != nil {
			return fmt.Errorf("report: view %s: %w", v.Name, err)
		}
	}
	if !number.Finite(s.Floor) {
		return fmt.Errorf("report: floor %v dB: want a finite value", s.Floor)
	}
	if !(s.Lowest <= 0) || !number.Finite(s.Lowest) {
		return fmt.Errorf("report: lowest level %v dB: want a finite value, at most 0", s.Lowest)
	}
	if !(s.Background >= 0) || !number.Finite(s.Background) {
		return fmt.Errorf("report: background %v dB: want a finite value, at least 0", s.Background)
	}
	if !(s.FullScale >= 0) || !number.Finite(float64(s.FullScale)) {
		return fmt.Errorf("report: full scale %v: want a finite value, at least 0", s.FullScale)
	}
	if !(s.MaxLength >= 0) || !number.Finite(s.MaxLength) {
		return fmt.Errorf("report: largest length %v m: want a finite value above 0, or 0 for the default", s.MaxLength)
	}
	if !(s.LevelU >= 0) || !number.Finite(s.LevelU) {
		return fmt.Errorf("report: uncertainty %v dB of levels: want a finite value, at least 0", s.LevelU)
	}
	if _, err := s.Inputs.inputs(); err != nil {
		return err
	}
	if s.Acceptance != nil {
		if err := s.Acceptance.Validate(); err != nil {
			return err
		}
	}
	return s.Reference.check()
}

// check returns an error for a reference out of range.
func (r Reference) check() error {
	if !(r.Amplitude >= 0) || !number.Finite(r.Amplitude) {
		return fmt.Errorf("report: amplitude %v of the reference: want a finite value above 0, or 0 for none", r.Amplitude)
	}
	if r.At == nil {
		return nil
	}
	if !number.Finite(r.At[0]) || !number.Finite(r.At[1]) {
		return fmt.Errorf("report: place %v m of the reference: want finite coordinates", *r.At)
	}
	if r.Amplitude != 0 {
		return errors.New("report: a reference by amplitude and by place: want one of them")
	}
	return nil
}

// dimension returns how waves spread.
func (s *Settings) dimension() wedge.Dimension {
	if s.Section {
		return wedge.Section
	}
	return wedge.Space
}

// flawOptions returns the options of [flaw.List].
func (s *Settings) flawOptions(workers int) (*flaw.Options, error) {
	in, err := s.Inputs.inputs()
	if err != nil {
		return nil, err
	}
	o := &flaw.Options{
		Dimension: s.dimension(), MaxLength: s.MaxLength, Inputs: in, LevelU: s.LevelU,
		Acceptance: s.Acceptance, Workers: workers,
	}
	if in != nil {
		p := s.Inputs.Pivot
		o.Pivot = r3.Vec{X: p[0], Y: p[1], Z: p[2]}
	}
	for _, shape := range s.Known {
		known := ghost.Reflector{Name: shape.Name, Radius: shape.Radius}
		for _, p := range shape.Outline {
			known.Outline = append(known.Outline, r2.Vec{X: p[0], Y: p[1]})
		}
		o.Known = append(o.Known, known)
	}
	return o, nil
}

// clone returns a copy of s that shares no memory that a caller might change, with empty lists in
// place of nil, as the JSON form needs them.
func (s *Settings) clone() Settings {
	c := *s
	c.Views = slices.Clone(s.Views)
	c.Known = make([]Shape, len(s.Known))
	for i, shape := range s.Known {
		shape.Outline = append([][2]float64{}, shape.Outline...)
		c.Known[i] = shape
	}
	if in := s.Inputs; in != nil {
		c.Inputs = &Inputs{
			append([]uncertainty.Quantity{}, in.Parameters...), append([]uncertainty.Correlation{}, in.Correlations...), in.Pivot,
		}
	}
	if at := s.Reference.At; at != nil {
		place := *at
		c.Reference.At = &place
	}
	return c
}
