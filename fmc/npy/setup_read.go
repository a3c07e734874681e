// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// maxSetup is the greatest length of a .json file in bytes, for reading and for writing. A scan of
// a million frames fits.
//
// To decode a set-up, sound or faulty, allocates at most 24 times its length and 64 KiB, counting
// also memory that was freed again. The lists of the frames of a scan allocate 13 times their
// length. This is measured for every kind of list in memory_setup_test.go.
const maxSetup = 1 << 25

// description is the content of the .json file: a record whose capture has no samples, and no pairs
// unless the file lists them.
type description struct {
	record Record
	frame  fmc.Capture
	file   string
	order  string      // of the axes of a frame
	frames []fmc.Frame // of a scan, without their captures; nil for a single capture
}

// readDescription reads a .json file to its end and checks it. Its errors wrap [ErrSetup] or are
// errors of r.
func readDescription(r io.Reader) (*description, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxSetup+1))
	if err != nil {
		return nil, err
	}
	if len(text) > maxSetup {
		return nil, setupError("text", fmt.Sprintf("of more than %d bytes", maxSetup),
			fmt.Sprintf("%d at most", maxSetup))
	}
	d := new(description)
	if err = d.decode(text); err == nil {
		err = d.validate()
	}
	if err != nil && !errors.Is(err, ErrSetup) {
		err = fmt.Errorf("%w: %w", ErrSetup, err)
	}
	return d, err
}

// decode decodes the text of a .json file.
func (d *description) decode(text []byte) error {
	top, err := parse(text)
	if err != nil {
		return err
	}
	return top.object([]field{
		{"title", &d.record.Title},
		{"capture", d.decodeCapture},
		{"array", d.decodeArray},
		{"coupling", d.decodeCoupling},
		{"surface", d.record.Surface.decode},
		{"part", d.decodePart},
	},
		field{"notes", d.decodeNotes},
		field{"weld", d.decodeWeld},
		field{"truth", d.record.Truth.decode},
		field{"scan", d.decodeScan})
}

// validate checks what was decoded, except for what [fmc.New] checks.
func (d *description) validate() error {
	if err := d.record.validateSetup(); err != nil {
		return err
	}
	if err := validateFile(d.file); err != nil {
		return err
	}
	if err := d.validateOrder(); err != nil {
		return err
	}
	if err := d.validateFrames(); err != nil {
		return err
	}
	if err := d.frame.Array.Validate(); err != nil {
		return fmt.Errorf("array: %w", err)
	}
	for i, e := range d.frame.Events {
		if err := e.Validate(len(d.frame.Array.Elements)); err != nil {
			return fmt.Errorf("capture.events[%d]: %w", i, err)
		}
	}
	return nil
}

// validateOrder checks that the order of the axes and the lists of events and pairs agree. It cuts
// the axis of frames from the order.
func (d *description) validateOrder() error {
	prefix, whole, where := "", matrixOrder, "without capture.events"
	if d.frames != nil {
		prefix = frameAxis
	}
	if d.frame.Events != nil {
		whole, where = eventOrder, "with capture.events"
	}
	order, ok := strings.CutPrefix(d.order, prefix)
	if !ok || order != whole && order != pairOrder {
		return setupError("capture.order", quoted(d.order),
			fmt.Sprintf("%q or %q %s", prefix+whole, prefix+pairOrder, where))
	}
	d.order = order
	pairs := d.frame.Pairs
	switch {
	case d.frame.Events != nil && len(d.frame.Events) == 0:
		return setupError("capture.events", "of length 0", "at least 1")
	case pairs != nil && order != pairOrder:
		return fmt.Errorf("capture.pairs: want none in the order %q", order)
	case pairs == nil && order == pairOrder && d.frame.Events != nil:
		return fmt.Errorf("capture.pairs: want a list for events in the order %q", order)
	case pairs != nil && len(pairs) == 0:
		return setupError("capture.pairs", "of length 0", "at least 1")
	}
	return nil
}

func (d *description) decodeCapture(v value) error {
	c := &d.frame
	return v.object([]field{
		{"file", &d.file},
		{"order", &d.order},
		{"sample_rate_hz", &c.SampleRate},
		{"first_sample_s", &c.FirstSample},
	},
		field{"pairs", d.decodePairs},
		field{"events", d.decodeEvents})
}

func (d *description) decodePairs(v value) error {
	d.frame.Pairs = make([]fmc.Pair, v.count())
	return v.each(func(i int, element value) error {
		var ends [2]int
		err := element.each(func(i int, end value) (err error) {
			if i < len(ends) {
				ends[i], err = end.integer()
			}
			return err
		})
		if n := element.count(); err == nil && n != len(ends) {
			err = fmt.Errorf(
				"list of %d numbers: want [transmitter, receiver], or [event, receiver]", n)
		}
		d.frame.Pairs[i] = fmc.Pair{Tx: ends[0], Rx: ends[1]}
		return err
	})
}

func (d *description) decodeEvents(v value) error {
	d.frame.Events = []fmc.Event{}
	return v.each(func(_ int, element value) error {
		var e fmc.Event
		err := element.object([]field{{"delays_s", &e.Delays}, {"weights", &e.Weights}})
		d.frame.Events = append(d.frame.Events, e)
		return err
	})
}

func (d *description) decodeArray(v value) error {
	a := &d.frame.Array
	return v.object([]field{
		{"centre_frequency_hz", &a.CentreFrequency},
		{"bandwidth_6db", &a.Bandwidth},
		{"element_width_m", &a.Width},
		{"element_centres_m", d.decodeCentres},
	})
}

// decodeCentres decodes a list of [x, z] or of [x, y, z].
func (d *description) decodeCentres(v value) error {
	centres, axes := make([]r3.Vec, v.count()), 0
	d.frame.Array.Elements = centres
	return v.each(func(i int, element value) error {
		var c [3]float64
		n, err := element.tuple(c[:])
		if err != nil {
			return err
		}
		if i == 0 {
			axes = n
		}
		if n != axes || n != 2 && n != 3 {
			return fmt.Errorf("list of %d numbers: want [x, z], or [x, y, z] for all", n)
		}
		centres[i] = r3.Vec{X: c[0], Y: c[1], Z: c[2]}
		if n == 2 {
			centres[i] = r3.Vec{X: c[0], Z: c[1]}
		}
		return nil
	})
}

// decodeCoupling decodes a material, or null for none: the only null of a set-up.
func (d *description) decodeCoupling(v value) error {
	if string(v) == "null" {
		return nil
	}
	d.record.Coupling = new(Material)
	return v.object(d.record.Coupling.fields())
}

func (m *Material) fields() []field {
	return []field{
		{"name", &m.Name},
		{"density_kg_m3", &m.Density},
		{"longitudinal_m_s", &m.Longitudinal},
		{"transverse_m_s", &m.Transverse},
	}
}

func (d *description) decodePart(v value) error {
	r := &d.record
	return v.object(append(r.Part.fields(), field{"thickness_m", &r.Thickness}))
}

func (d *description) decodeWeld(v value) error {
	d.record.Weld = new(Weld)
	return d.record.Weld.decode(v)
}

func (s *EntrySurface) decode(v value) error {
	shape, radius := "", math.NaN()
	err := v.object([]field{{"shape", &shape}},
		field{"radius_m", &radius},
		field{"points_m", s.decodePoints})
	if err != nil {
		return err
	}
	if shape != plane && shape != cylinder && shape != profile {
		return within("shape", fmt.Errorf("%s: want plane, cylinder or profile", quoted(shape)))
	}
	given := !math.IsNaN(radius)
	if given != (shape == cylinder) {
		return within("radius_m", errors.New("want it for a cylinder and for no other shape"))
	}
	if given && radius == 0 { // a Surface without a radius is a plane
		return within("radius_m", errors.New("0: want "+wantPositive))
	}
	if given {
		s.Radius = radius
	}
	if (s.Points != nil) != (shape == profile) {
		return within("points_m", errors.New("want them for a profile and for no other shape"))
	}
	return nil
}

func (s *EntrySurface) decodePoints(v value) error {
	s.Points = make([]r3.Vec, v.count())
	return v.each(func(i int, element value) error {
		var p [2]float64
		n, err := element.tuple(p[:])
		if err == nil && n != len(p) {
			err = fmt.Errorf("list of %d numbers: want [x, z]", n)
		}
		s.Points[i] = r3.Vec{X: p[0], Z: p[1]}
		return err
	})
}

func (t *Truth) decode(v value) error {
	return v.object([]field{{"holes", t.decodeHoles}, {"slits", t.decodeSlits}})
}

func (t *Truth) decodeHoles(v value) error {
	return v.each(func(_ int, element value) error {
		var h Hole
		err := element.object([]field{{"x_m", &h.X}, {"z_m", &h.Z}, {"diameter_m", &h.Diameter}})
		t.Holes = append(t.Holes, h)
		return err
	})
}

func (t *Truth) decodeSlits(v value) error {
	return v.each(func(_ int, element value) error {
		var s Slit
		err := element.object([]field{
			{"x0_m", &s.X0}, {"z0_m", &s.Z0}, {"x1_m", &s.X1}, {"z1_m", &s.Z1},
			{"width_m", &s.Width},
		})
		t.Slits = append(t.Slits, s)
		return err
	})
}

// decodeNotes decodes an object. Its fields may have any names.
func (d *description) decodeNotes(v value) error {
	if v[0] != '{' {
		return v.wants("an object")
	}
	for quotedName, member := range v.members() {
		name, err := quotedName.text()
		if err != nil {
			return err
		}
		if _, repeated := d.record.Notes[name]; repeated {
			return fmt.Errorf("field %s is repeated", quoted(name))
		}
		if len(d.record.Notes) == maxNotes {
			return fmt.Errorf("more than %d notes: want %d at most", maxNotes, maxNotes)
		}
		if d.record.Notes == nil {
			d.record.Notes = make(map[string]any)
		}
		if member[0] == '"' {
			d.record.Notes[name], err = member.text()
		} else {
			d.record.Notes[name], err = member.number()
		}
		if err != nil {
			return within(fmt.Sprintf("[%s]", quoted(name)), fmt.Errorf("%w or a text", err))
		}
	}
	return nil
}
