// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// The .json file, field by field. Pointers tell a field that is missing from
// one that is zero.
type (
	recordJSON struct {
		Title    *string         `json:"title"`
		Notes    Notes           `json:"notes,omitempty"`
		Capture  *captureJSON    `json:"capture"`
		Array    *arrayJSON      `json:"array"`
		Coupling json.RawMessage `json:"coupling"` // null or a mediumJSON
		Surface  *surfaceJSON    `json:"surface"`
		Part     *partJSON       `json:"part"`
		Truth    *truthJSON      `json:"truth,omitempty"` // missing where nothing is known
		Scan     *scanJSON       `json:"scan,omitempty"`  // of many frames
	}
	captureJSON struct {
		File        *string     `json:"file"`
		Order       *string     `json:"order"`
		SampleRate  *float64    `json:"sample_rate_hz"`
		FirstSample *float64    `json:"first_sample_s"`
		Pairs       [][]int     `json:"pairs,omitempty"`
		Events      []eventJSON `json:"events,omitempty"` // missing where elements fire alone
	}
	arrayJSON struct {
		CentreFrequency *float64    `json:"centre_frequency_hz"`
		Bandwidth       *float64    `json:"bandwidth_6db"`
		ElementWidth    *float64    `json:"element_width_m"`
		ElementCentres  [][]float64 `json:"element_centres_m"`
	}
	mediumJSON struct {
		Name         *string  `json:"name"`
		Density      *float64 `json:"density_kg_m3"`
		Longitudinal *float64 `json:"longitudinal_m_s"`
		Transverse   *float64 `json:"transverse_m_s"`
	}
	partJSON struct {
		mediumJSON
		Thickness *float64 `json:"thickness_m"`
	}
	surfaceJSON struct {
		Shape  *string     `json:"shape"`
		Radius *float64    `json:"radius_m,omitempty"`
		Points [][]float64 `json:"points_m,omitempty"`
	}
	truthJSON struct {
		Holes []holeJSON `json:"holes"`
		Slits []slitJSON `json:"slits"`
	}
	holeJSON struct {
		X        *float64 `json:"x_m"`
		Z        *float64 `json:"z_m"`
		Diameter *float64 `json:"diameter_m"`
	}
	slitJSON struct {
		X0    *float64 `json:"x0_m"`
		Z0    *float64 `json:"z0_m"`
		X1    *float64 `json:"x1_m"`
		Z1    *float64 `json:"z1_m"`
		Width *float64 `json:"width_m"`
	}
)

// The orders of the array's axes.
const (
	matrixOrder = "transmitter, receiver, sample"
	eventOrder  = "event, receiver, sample"
	pairOrder   = "pair, sample"
	frameAxis   = "frame, " // stands before one of them in a scan
)

// description is what the .json file says: a record whose capture has neither
// samples nor, unless they are listed, pairs.
type description struct {
	title  string
	notes  Notes
	frame  fmc.Capture
	setup  Setup
	file   string
	order  string      // of the axes of a frame
	frames []fmc.Frame // of a scan, without their captures; nil for a single capture

	options []ReadOption // of the reader
}

// readDescription reads and checks a .json file to its end. Its errors wrap
// [ErrSetup] or are those of r.
func readDescription(r io.Reader) (*description, error) {
	data, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	var j recordJSON
	if err := decodeStrict(data, &j); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrSetup, err)
	}
	d := &description{
		title: *j.Title,
		file:  *j.Capture.File,
		frame: fmc.Capture{SampleRate: *j.Capture.SampleRate, FirstSample: *j.Capture.FirstSample},
	}
	if len(j.Notes) > 0 {
		d.notes = j.Notes
	}
	if err := validateText("title", d.title, MaxText); err != nil {
		return nil, err
	}
	if err := d.notes.validate(); err != nil {
		return nil, err
	}
	if err := validateFile(d.file); err != nil {
		return nil, err
	}
	if d.order, err = j.order(); err != nil {
		return nil, err
	}
	if d.frame.Pairs, err = j.Capture.pairs(d.order); err != nil {
		return nil, err
	}
	if d.frames, err = j.Scan.frames(); err != nil {
		return nil, err
	}
	if d.frame.Array, err = j.Array.array(); err != nil {
		return nil, err
	}
	if d.frame.Events, err = j.Capture.events(len(d.frame.Array.Elements)); err != nil {
		return nil, err
	}
	if d.setup, err = j.setup(); err != nil {
		return nil, err
	}
	return d, d.setup.validate()
}

// validateFile checks that name is a plain file name, so that a set-up from
// elsewhere cannot reach beyond its own folder.
func validateFile(name string) error {
	if name == "." || strings.ContainsAny(name, `/\`) || !filepath.IsLocal(name) {
		return setupError("capture.file", quoted(name), "the plain name of a file in the same folder")
	}
	return validateText("capture.file", name, maxName)
}

// order returns the order of the axes of a frame.
func (j *recordJSON) order() (string, error) {
	prefix, whole, where := "", matrixOrder, "without capture.events"
	if j.Scan != nil {
		prefix = frameAxis
	}
	if j.Capture.Events != nil {
		whole, where = eventOrder, "with capture.events"
	}
	order, ok := strings.CutPrefix(*j.Capture.Order, prefix)
	if !ok || order != whole && order != pairOrder {
		return "", setupError("capture.order", quoted(*j.Capture.Order), fmt.Sprintf("%q or %q %s", prefix+whole, prefix+pairOrder, where))
	}
	return order, nil
}

// pairs returns the listed pairs, nil if there is no list.
func (j *captureJSON) pairs(order string) ([]fmc.Pair, error) {
	if j.Pairs != nil && order != pairOrder {
		return nil, fmt.Errorf("%w: capture.pairs: want none in the order %q", ErrSetup, order)
	}
	if j.Pairs == nil && order == pairOrder && j.Events != nil {
		return nil, fmt.Errorf("%w: capture.pairs: want a list for events in the order %q", ErrSetup, order)
	}
	if j.Pairs != nil && len(j.Pairs) == 0 {
		return nil, fmt.Errorf("%w: capture.pairs of length 0: want at least 1", ErrSetup)
	}
	var pairs []fmc.Pair
	for p, ends := range j.Pairs {
		if len(ends) != 2 {
			return nil, setupError(fmt.Sprintf("capture.pairs[%d]", p), ends, "[transmitter, receiver], or [event, receiver]")
		}
		pairs = append(pairs, fmc.Pair{Tx: ends[0], Rx: ends[1]})
	}
	return pairs, nil
}

func (j *arrayJSON) array() (fmc.Array, error) {
	a := fmc.Array{
		Width:           *j.ElementWidth,
		CentreFrequency: *j.CentreFrequency,
		Bandwidth:       *j.Bandwidth,
	}
	for i, v := range j.ElementCentres {
		if len(v) != 2 && len(v) != 3 || len(v) != len(j.ElementCentres[0]) {
			return a, setupError(fmt.Sprintf("array.element_centres_m[%d]", i), v, "[x, z], or [x, y, z] for all")
		}
		centre := r3.Vec{X: v[0], Z: v[len(v)-1]}
		if len(v) == 3 {
			centre.Y = v[1]
		}
		a.Elements = append(a.Elements, centre)
	}
	if err := a.Validate(); err != nil {
		return a, fmt.Errorf("%w: array: %w", ErrSetup, err)
	}
	return a, nil
}

func (j *recordJSON) setup() (Setup, error) {
	s := Setup{Part: Part{Medium: j.Part.medium(), Thickness: *j.Part.Thickness}}
	if !bytes.Equal(j.Coupling, []byte("null")) {
		var coupling mediumJSON
		if err := decodeStrict(j.Coupling, &coupling); err != nil {
			return s, fmt.Errorf("%w: coupling: %w", ErrSetup, err)
		}
		medium := coupling.medium()
		s.Coupling = &medium
	}
	var err error
	if s.Surface, err = j.Surface.surface(); err != nil {
		return s, err
	}
	if j.Truth == nil {
		return s, nil
	}
	for _, h := range j.Truth.Holes {
		s.Truth.Holes = append(s.Truth.Holes, Hole{X: *h.X, Z: *h.Z, Diameter: *h.Diameter})
	}
	for _, l := range j.Truth.Slits {
		s.Truth.Slits = append(s.Truth.Slits, Slit{X0: *l.X0, Z0: *l.Z0, X1: *l.X1, Z1: *l.Z1, Width: *l.Width})
	}
	return s, nil
}

func (j *mediumJSON) medium() Medium {
	return Medium{Name: *j.Name, Density: *j.Density, Longitudinal: *j.Longitudinal, Transverse: *j.Transverse}
}

func (j *surfaceJSON) surface() (Surface, error) {
	shape := slices.Index(shapeNames[:], *j.Shape)
	if shape < 0 {
		return Surface{}, setupError("surface.shape", quoted(*j.Shape), "plane, cylinder or profile")
	}
	s := Surface{Shape: Shape(shape)}
	if (j.Radius != nil) != (s.Shape == Cylinder) {
		return s, fmt.Errorf("%w: surface.radius_m: want it for a cylinder and for no other shape", ErrSetup)
	}
	if (j.Points != nil) != (s.Shape == Profile) {
		return s, fmt.Errorf("%w: surface.points_m: want them for a profile and for no other shape", ErrSetup)
	}
	if j.Radius != nil {
		s.Radius = *j.Radius
	}
	for i, v := range j.Points {
		if len(v) != 2 {
			return s, setupError(fmt.Sprintf("surface.points_m[%d]", i), v, "[x, z]")
		}
		s.Points = append(s.Points, r3.Vec{X: v[0], Z: v[1]})
	}
	return s, nil
}

// writeDescription writes the .json file of a valid record, or of a scan if
// there are frames.
func writeDescription(w io.Writer, r *Record, file string, frames []fmc.Frame) error {
	j := newRecordJSON(r, file)
	if len(frames) > 0 {
		j.Scan = newScanJSON(frames)
		j.Capture.Order = new(frameAxis + *j.Capture.Order)
	}
	coupling, err := json.Marshal(newMediumJSON(r.Setup.Coupling))
	if err != nil {
		return err
	}
	j.Coupling = coupling
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	if err := enc.Encode(j); err != nil {
		return err
	}
	_, err = w.Write(numberList.ReplaceAllFunc(buf.Bytes(), func(list []byte) []byte {
		numbers := bytes.Join(bytes.Fields(bytes.Trim(list, "[]")), []byte(" "))
		return slices.Concat([]byte("["), numbers, []byte("]"))
	}))
	return err
}

// numberList matches a list of numbers as encoding/json indents it, which goes
// on one line instead. No string holds a raw line break, so it matches nothing
// inside one.
var numberList = regexp.MustCompile(`\[\n[-+.,eE\d\s]*\]`)

// newRecordJSON returns all fields but the coupling.
func newRecordJSON(r *Record, file string) *recordJSON {
	part := &r.Setup.Part
	return &recordJSON{
		Title:   &r.Title,
		Notes:   r.Notes,
		Capture: newCaptureJSON(r.Capture, file),
		Array:   newArrayJSON(&r.Capture.Array),
		Surface: newSurfaceJSON(&r.Setup.Surface),
		Part:    &partJSON{mediumJSON: *newMediumJSON(&part.Medium), Thickness: &part.Thickness},
		Truth:   newTruthJSON(&r.Setup.Truth),
	}
}

func newCaptureJSON(c *fmc.Capture, file string) *captureJSON {
	j := &captureJSON{File: &file, Order: new(pairOrder), SampleRate: &c.SampleRate, FirstSample: &c.FirstSample, Events: newEventsJSON(c.Events)}
	switch c.Layout() {
	case fmc.Full:
		j.Order = new(matrixOrder)
		if c.Events != nil {
			j.Order = new(eventOrder)
		}
	case fmc.Listed:
		for _, pair := range c.Pairs {
			j.Pairs = append(j.Pairs, []int{pair.Tx, pair.Rx})
		}
	}
	return j
}

func newArrayJSON(a *fmc.Array) *arrayJSON {
	j := &arrayJSON{CentreFrequency: &a.CentreFrequency, Bandwidth: &a.Bandwidth, ElementWidth: &a.Width}
	flat := !slices.ContainsFunc(a.Elements, func(e r3.Vec) bool { return e.Y != 0 })
	for _, e := range a.Elements {
		centre := []float64{e.X, e.Y, e.Z}
		if flat {
			centre = []float64{e.X, e.Z}
		}
		j.ElementCentres = append(j.ElementCentres, centre)
	}
	return j
}

// newMediumJSON returns nil, which is null in the file, for no medium.
func newMediumJSON(m *Medium) *mediumJSON {
	if m == nil {
		return nil
	}
	return &mediumJSON{Name: &m.Name, Density: &m.Density, Longitudinal: &m.Longitudinal, Transverse: &m.Transverse}
}

func newSurfaceJSON(s *Surface) *surfaceJSON {
	j := &surfaceJSON{Shape: new(s.Shape.String())}
	if s.Shape == Cylinder {
		j.Radius = &s.Radius
	}
	for _, p := range s.Points {
		j.Points = append(j.Points, []float64{p.X, p.Z})
	}
	return j
}

func newTruthJSON(t *Truth) *truthJSON {
	j := &truthJSON{Holes: []holeJSON{}, Slits: []slitJSON{}}
	for _, h := range t.Holes {
		j.Holes = append(j.Holes, holeJSON{X: &h.X, Z: &h.Z, Diameter: &h.Diameter})
	}
	for _, s := range t.Slits {
		j.Slits = append(j.Slits, slitJSON{X0: &s.X0, Z0: &s.Z0, X1: &s.X1, Z1: &s.Z1, Width: &s.Width})
	}
	return j
}
