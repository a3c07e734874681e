// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/wedge"
)

// target is a true flaw. A round flaw has its centre for both ends.
type target struct {
	kind     string  // crack, root, hole or pore
	from, to r3.Vec  // the upper end first, m
	diameter float64 // of a round flaw, m; 0 for a crack
}

// reading is a true flaw with the strongest entry that the list has at its place. The kind is
// empty if there is none. Values are in mm and degrees.
type reading struct {
	number              int
	rig, flaw           string
	x, z, length, tilt  float64 // true; of a round flaw the centre and the diameter
	kind, method, is    string
	readLength, lengthU float64
	readTilt, tiltU     float64
	offX, offZ, placeU  float64 // read place minus true place
	others              int     // further entries at or beside the flaw that are planar or a point
}

// reach is the largest distance of an entry from its flaw in m.
const reach = 1.5 * mm

// judge returns the reading of a target in a list of flaws.
func (t target) judge(setup *wedge.Setup, array fmc.Array, flaws []flaw.Flaw) (reading, error) {
	length := r3.Norm(r3.Sub(t.from, t.to)) + t.diameter
	r := reading{
		flaw: t.kind, x: (t.from.X + t.to.X) / 2 / mm, z: (t.from.Z + t.to.Z) / 2 / mm,
		length: length / mm, tilt: math.Atan2(t.from.X-t.to.X, t.to.Z-t.from.Z) / degree,
	}
	for i := range flaws {
		f := &flaws[i]
		switch {
		case f.Kind == flaw.Geometry:
		case r.kind == "" && t.away(f) <= reach:
			at, err := t.place(setup, array, f)
			if err != nil {
				return r, err
			}
			r.kind, r.method, r.is = string(f.Kind), string(f.Method), string(f.LengthIs)
			r.readLength, r.lengthU = f.Length/mm, f.LengthU/mm
			r.readTilt, r.tiltU = f.Tilt/degree, f.TiltU/degree
			r.offX, r.offZ, r.placeU = (f.X-at.X)/mm, (f.Z-at.Z)/mm, f.PlaceU/mm
		case f.Kind != flaw.Unknown:
			r.others++
		}
	}
	return r, nil
}

// nearest returns the point of the line of a target that is nearest to p.
func (t target) nearest(p r3.Vec) r3.Vec {
	line := r3.Sub(t.to, t.from)
	if line == (r3.Vec{}) {
		return t.from
	}
	share := r3.Dot(r3.Sub(p, t.from), line) / r3.Norm2(line)
	return r3.Add(t.from, r3.Scale(min(1, max(0, share)), line))
}

// away returns the distance of the nearest of the centre and the ends of an entry, in m.
func (t target) away(f *flaw.Flaw) float64 {
	points := []r3.Vec{{X: f.X, Z: f.Z}}
	if f.Ends != nil {
		points = append(points, r3.Vec{X: f.Ends[0][0], Z: f.Ends[0][1]}, r3.Vec{X: f.Ends[1][0], Z: f.Ends[1][1]})
	}
	least := math.Inf(1)
	for _, p := range points {
		least = min(least, r3.Norm(r3.Sub(p, t.nearest(p)))-t.diameter/2)
	}
	return least
}

// place returns the true place that an entry stands for. Where the length of a crack is measured,
// it is the centre. Else it is the nearest point of the crack. For a hole it is the face that
// mirrors the beam.
func (t target) place(setup *wedge.Setup, array fmc.Array, f *flaw.Flaw) (r3.Vec, error) {
	if f.Kind == flaw.Planar && f.LengthIs == tips.Measured {
		return r3.Scale(0.5, r3.Add(t.from, t.to)), nil
	}
	if t.diameter == 0 {
		return t.nearest(r3.Vec{X: f.X, Z: f.Z}), nil
	}
	if t.kind == "pore" {
		return t.from, nil // echoes from a point
	}
	var sum r3.Vec // the mean over the views
	for _, name := range f.Views {
		normal, err := t.normal(setup, array, name)
		if err != nil {
			return r3.Vec{}, err
		}
		sum = r3.Add(sum, r3.Sub(t.from, r3.Scale(t.diameter/2, normal)))
	}
	return r3.Scale(1/float64(len(f.Views)), sum), nil
}

// normal returns the unit vector between the directions in which the rays of a view, from the
// middle of the array, reach a target.
func (t target) normal(setup *wedge.Setup, array fmc.Array, name string) (r3.Vec, error) {
	view, err := wedge.ParseView(name)
	if err != nil {
		return r3.Vec{}, err
	}
	transmit, receive, err := setup.Paths(view)
	if err != nil {
		return r3.Vec{}, err
	}
	n := len(array.Elements)
	middle := r3.Scale(0.5, r3.Add(array.Elements[0], array.Elements[n-1]))
	var sum r3.Vec
	for _, p := range []*wedge.Path{transmit, receive} {
		ray := p.Solve(middle, t.from)
		if err := ray.Status.Err(); err != nil {
			return r3.Vec{}, fmt.Errorf("view %s: %w", name, err)
		}
		sum = r3.Add(sum, r3.Unit(r3.Sub(t.from, ray.Points[len(ray.Points)-2])))
	}
	return r3.Unit(sum), nil
}

// columns are the columns of the file of readings.
var columns = []string{
	"number", "set_up", "flaw", "x_mm", "z_mm", "length_mm", "tilt_deg", "kind", "method", "length_is",
	"read_length_mm", "u_length_mm", "read_tilt_deg", "u_tilt_deg", "off_x_mm", "off_z_mm", "u_place_mm", "others",
}

// fields returns pointers to the values of a reading, in the order of the columns.
func (r *reading) fields() []any {
	return []any{
		&r.number, &r.rig, &r.flaw, &r.x, &r.z, &r.length, &r.tilt, &r.kind, &r.method, &r.is,
		&r.readLength, &r.lengthU, &r.readTilt, &r.tiltU, &r.offX, &r.offZ, &r.placeU, &r.others,
	}
}

// round rounds the values to hundredths, as the file has them. So the tables follow from the file.
func (r *reading) round() {
	for _, field := range r.fields() {
		if v, ok := field.(*float64); ok {
			*v = math.Round(*v*100)/100 + 0 // +0 makes 0 of -0
		}
	}
}

// write writes readings, one a line.
func write(w io.Writer, readings []reading) error {
	out := csv.NewWriter(w)
	if err := out.Write(columns); err != nil {
		return err
	}
	for i := range readings {
		var line []string
		for _, field := range readings[i].fields() {
			switch v := field.(type) {
			case *int:
				line = append(line, strconv.Itoa(*v))
			case *string:
				line = append(line, *v)
			case *float64:
				line = append(line, strconv.FormatFloat(*v, 'f', -1, 64))
			}
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// read reads what write wrote.
func read(in io.Reader) ([]reading, error) {
	lines, err := csv.NewReader(in).ReadAll()
	if err != nil {
		return nil, err
	}
	var readings []reading
	for n, line := range lines {
		if n == 0 {
			continue
		}
		var r reading
		for k, field := range r.fields() {
			var err error
			switch v := field.(type) {
			case *int:
				*v, err = strconv.Atoi(line[k])
			case *string:
				*v = line[k]
			case *float64:
				*v, err = strconv.ParseFloat(line[k], 64)
			}
			if err != nil {
				return nil, fmt.Errorf("line %d, %s: %w", n+1, columns[k], err)
			}
		}
		readings = append(readings, r)
	}
	return readings, nil
}
