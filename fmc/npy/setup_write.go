// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"regexp"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// The .json file, as it is written. The types of record.go that have json tags are written as they
// are. A new field is one line here or there, and one line in setup_read.go.
type (
	recordJSON struct {
		Title    string         `json:"title"`
		Notes    map[string]any `json:"notes,omitempty"`
		Capture  captureJSON    `json:"capture"`
		Array    arrayJSON      `json:"array"`
		Coupling *Material      `json:"coupling"` // null for no coupling
		Surface  surfaceJSON    `json:"surface"`
		Part     partJSON       `json:"part"`
		Weld     *Weld          `json:"weld,omitempty"`
		Truth    Truth          `json:"truth"`
		Scan     *scanJSON      `json:"scan,omitempty"`
	}
	captureJSON struct {
		File        string      `json:"file"`
		Order       string      `json:"order"`
		SampleRate  float64     `json:"sample_rate_hz"`
		FirstSample float64     `json:"first_sample_s"`
		Pairs       [][]int     `json:"pairs,omitempty"`
		Events      []eventJSON `json:"events,omitempty"`
	}
	eventJSON struct {
		Delays  []float64 `json:"delays_s"`
		Weights []float64 `json:"weights"`
	}
	arrayJSON struct {
		CentreFrequency float64     `json:"centre_frequency_hz"`
		Bandwidth       float64     `json:"bandwidth_6db"`
		ElementWidth    float64     `json:"element_width_m"`
		ElementCentres  [][]float64 `json:"element_centres_m"`
	}
	partJSON struct {
		Material
		Thickness float64 `json:"thickness_m"`
	}
	surfaceJSON struct {
		Shape  string      `json:"shape"`
		Radius float64     `json:"radius_m,omitempty"`
		Points [][]float64 `json:"points_m,omitempty"`
	}
)

// The orders of the array's axes.
const (
	matrixOrder = "transmitter, receiver, sample"
	eventOrder  = "event, receiver, sample"
	pairOrder   = "pair, sample"
	frameAxis   = "frame, " // before one of the others in a scan
)

// writeDescription writes the .json file of a valid record, or of a scan if there are frames.
func writeDescription(w io.Writer, r *Record, file string, frames []fmc.Frame) error {
	j := newRecordJSON(r, file)
	if len(frames) > 0 {
		j.Scan = newScanJSON(frames)
		j.Capture.Order = frameAxis + j.Capture.Order
	}
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	if err := enc.Encode(j); err != nil {
		return err
	}
	text := numberList.ReplaceAllFunc(buf.Bytes(), func(list []byte) []byte {
		numbers := bytes.Join(bytes.Fields(bytes.Trim(list, "[]")), []byte(" "))
		return slices.Concat([]byte("["), numbers, []byte("]"))
	})
	if len(text) > maxSetup {
		return setupError("text", fmt.Sprintf("of %d bytes", len(text)),
			fmt.Sprintf("%d bytes at most", maxSetup))
	}
	_, err := w.Write(text)
	return err
}

// numberList matches a list of numbers as encoding/json indents it. Such a list is written on one
// line instead. No string holds a raw line break, so numberList matches nothing inside a string.
var numberList = regexp.MustCompile(`\[\n[-+.,eE\d\s]*\]`)

func newRecordJSON(r *Record, file string) *recordJSON {
	return &recordJSON{
		Title:    r.Title,
		Notes:    r.Notes,
		Capture:  newCaptureJSON(r.Capture, file),
		Array:    newArrayJSON(&r.Capture.Array),
		Coupling: r.Coupling,
		Surface:  newSurfaceJSON(r.Surface),
		Part:     partJSON{r.Part, r.Thickness},
		Weld:     r.Weld,
		Truth: Truth{ // a list without elements is [], not null
			Holes: append([]Hole{}, r.Truth.Holes...),
			Slits: append([]Slit{}, r.Truth.Slits...),
		},
	}
}

func newCaptureJSON(c *fmc.Capture, file string) captureJSON {
	j := captureJSON{
		File: file, Order: pairOrder, SampleRate: c.SampleRate, FirstSample: c.FirstSample,
	}
	for _, e := range c.Events {
		j.Events = append(j.Events, eventJSON(e))
	}
	switch c.Layout() {
	case fmc.Full:
		j.Order = matrixOrder
		if c.Events != nil {
			j.Order = eventOrder
		}
	case fmc.Listed:
		for _, pair := range c.Pairs {
			j.Pairs = append(j.Pairs, []int{pair.Tx, pair.Rx})
		}
	}
	return j
}

func newArrayJSON(a *fmc.Array) arrayJSON {
	j := arrayJSON{
		CentreFrequency: a.CentreFrequency, Bandwidth: a.Bandwidth, ElementWidth: a.Width,
	}
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

func newSurfaceJSON(s EntrySurface) surfaceJSON {
	j := surfaceJSON{Shape: s.String(), Radius: s.Radius}
	for _, p := range s.Points {
		j.Points = append(j.Points, []float64{p.X, p.Z})
	}
	return j
}
