// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"path/filepath"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/material/beam"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/wedge"
)

// A computation is one that a row of the user may name.
type computation struct {
	name    string
	inputs  []input
	result  dimension
	compute func(in inputs) (float64, error) // in SI units
}

// An input of a computation is a number of a dimension, one of several words, or any text.
type input struct {
	name     string
	of       dimension // nil for a word or a text
	choices  []string  // nil for any text
	standard string    // value of an input that is left out; "" if the input is required
}

// wants returns in words what the input may be.
func (in *input) wants() string {
	switch {
	case in.of != nil:
		return "a number in " + in.of.names()
	case in.choices != nil:
		return "one of: " + strings.Join(in.choices, ", ")
	}
	return "a text"
}

var (
	modes = []string{"L", "T"}
	// solids are the inputs that describe the two media of a boundary.
	solids = []input{
		{name: "upper density", of: density}, {name: "upper longitudinal speed", of: speed},
		{name: "upper transverse speed", of: speed, standard: "0 m/s"},
		{name: "lower density", of: density}, {name: "lower longitudinal speed", of: speed},
		{name: "lower transverse speed", of: speed, standard: "0 m/s"},
		{name: "contact", choices: []string{"welded", "liquid film"}, standard: "welded"},
		{name: "incident", choices: modes, standard: "L"}, {name: "leaving", choices: modes, standard: "L"},
		{name: "angle", of: angle, standard: "0 deg"},
		{name: "of", choices: []string{"energy", "pressure", "displacement"}},
	}
	// region are the inputs that describe an image of a capture.
	region = []input{
		{name: "capture"}, {name: "view"},
		{name: "x from", of: length}, {name: "x to", of: length},
		{name: "z from", of: length}, {name: "z to", of: length}, {name: "step", of: length, standard: "0.1 mm"},
	}
)

var computations = []computation{
	{"refraction angle", []input{{name: "angle", of: angle}, {name: "from", of: speed}, {name: "to", of: speed}}, angle,
		func(in inputs) (float64, error) {
			return physical(material.Refract(in.si["angle"], in.si["from"], in.si["to"]))
		}},
	{"critical angle", []input{{name: "from", of: speed}, {name: "to", of: speed}}, angle,
		func(in inputs) (float64, error) {
			return physical(material.CriticalAngle(in.si["from"], in.si["to"]))
		}},
	{"time of flight", []input{
		{name: "path"}, {name: "longitudinal speed", of: speed}, {name: "transverse speed", of: speed},
		{name: "thickness", of: length}, {name: "wedge speed", of: speed, standard: "0 m/s"},
		{name: "element x", of: length}, {name: "element height", of: length, standard: "0 mm"},
		{name: "point x", of: length}, {name: "point z", of: length},
	}, duration, timeOfFlight},
	{"wave speed", []input{{name: "material"}, {name: "mode", choices: modes}}, speed,
		func(in inputs) (float64, error) {
			e, err := material.Handbook().Find(in.texts["material"])
			if in.texts["mode"] == "T" {
				return e.Transverse.Value, err
			}
			return e.Longitudinal.Value, err
		}},
	{"wave speed of water", []input{{name: "temperature", of: temperature}}, speed,
		func(in inputs) (float64, error) {
			m, err := material.Water(in.si["temperature"])
			return m.Longitudinal, err
		}},
	{"reflection coefficient", solids, number,
		func(in inputs) (float64, error) {
			return coefficient(in, func(c material.Coefficients) [2]complex128 { return c.Reflected },
				func(e material.EnergyCoefficients) [2]float64 { return e.Reflected })
		}},
	{"transmission coefficient", solids, number,
		func(in inputs) (float64, error) {
			return coefficient(in, func(c material.Coefficients) [2]complex128 { return c.Transmitted },
				func(e material.EnergyCoefficients) [2]float64 { return e.Transmitted })
		}},
	{"near field length", []input{{name: "diameter", of: length}, {name: "frequency", of: frequency}, {name: "speed", of: speed}}, length,
		func(in inputs) (float64, error) {
			return physical(beam.Disc{Diameter: in.si["diameter"], Wavelength: in.si["speed"] / in.si["frequency"]}.NearField())
		}},
	{"beam spread", []input{
		{name: "shape", choices: []string{"disc", "strip"}}, {name: "size", of: length},
		{name: "frequency", of: frequency}, {name: "speed", of: speed},
		{name: "level in pulse-echo", of: level, standard: "-6.0206 dB"},
	}, angle, func(in inputs) (float64, error) {
		wavelength, edge := in.si["speed"]/in.si["frequency"], beam.PulseEcho(in.si["level in pulse-echo"])
		if in.texts["shape"] == "disc" {
			return physical(beam.Disc{Diameter: in.si["size"], Wavelength: wavelength}.HalfAngle(edge))
		}
		return physical(beam.Strip{Width: in.si["size"], Wavelength: wavelength}.HalfAngle(edge))
	}},
	{"focal width", []input{
		{name: "aperture", of: length}, {name: "frequency", of: frequency}, {name: "speed", of: speed}, {name: "distance", of: length},
	}, length, func(in inputs) (float64, error) {
		s := beam.Strip{Width: in.si["aperture"], Wavelength: in.si["speed"] / in.si["frequency"]}
		return physical(s.FocalWidth(in.si["distance"], beam.HalfPulseEcho))
	}},
	{"x of the peak", region, length,
		func(in inputs) (float64, error) { i, err := strongest(in); return i.X, err }},
	{"z of the peak", region, length,
		func(in inputs) (float64, error) { i, err := strongest(in); return i.Z, err }},
	{"6 dB length", region, length,
		func(in inputs) (float64, error) { i, err := strongest(in); return i.Length, err }},
	{"6 dB extent in depth", region, length,
		func(in inputs) (float64, error) { i, err := strongest(in); return i.ExtentZ[1] - i.ExtentZ[0], err }},
}

// computationNames returns the names of all computations.
func computationNames() []string {
	var names []string
	for _, f := range computations {
		names = append(names, f.name)
	}
	return names
}

// inputNames returns the names of the inputs of f.
func (f *computation) inputNames() []string {
	var names []string
	for _, in := range f.inputs {
		names = append(names, in.name)
	}
	return names
}

// printComputations writes all computations with their inputs and units.
func printComputations(w io.Writer) {
	for _, f := range computations {
		fmt.Fprintf(w, "  %q gives %s\n", f.name, f.result.names())
		for _, in := range f.inputs {
			fmt.Fprintf(w, "      %q: %s", in.name, in.wants())
			if in.standard != "" {
				fmt.Fprintf(w, " (%s if left out)", in.standard)
			}
			fmt.Fprintln(w)
		}
	}
}

// physical returns v, or an error if the inputs have no physical answer.
func physical(v float64) (float64, error) {
	if math.IsNaN(v) {
		return v, errors.New("no physical answer for these inputs")
	}
	return v, nil
}

// timeOfFlight returns the time of a path from an element to a point of a plate.
func timeOfFlight(in inputs) (float64, error) {
	part := material.Isotropic{Density: 1, Longitudinal: in.si["longitudinal speed"], Transverse: in.si["transverse speed"]}
	var coupling *material.Isotropic
	if c := in.si["wedge speed"]; c != 0 {
		coupling = &material.Isotropic{Density: 1, Longitudinal: c}
	}
	setup, err := wedge.NewPlate(coupling, part, in.si["thickness"])
	if err != nil {
		return 0, err
	}
	view, err := wedge.ParseView(in.texts["path"] + "-" + in.texts["path"])
	if err != nil {
		return 0, err
	}
	path, err := setup.Path(view.Transmit)
	if err != nil {
		return 0, err
	}
	ray := path.Solve(r3.Vec{X: in.si["element x"], Z: -in.si["element height"]}, r3.Vec{X: in.si["point x"], Z: in.si["point z"]})
	if ray.Status != wedge.OK {
		return 0, fmt.Errorf("no ray: %v", ray.Status)
	}
	return ray.Time, nil
}

// coefficient returns the modulus of a coefficient of a boundary.
func coefficient(in inputs, amplitude func(material.Coefficients) [2]complex128, share func(material.EnergyCoefficients) [2]float64) (float64, error) {
	medium := func(side string) material.Isotropic {
		return material.Isotropic{
			Density:      in.si[side+" density"],
			Longitudinal: in.si[side+" longitudinal speed"], Transverse: in.si[side+" transverse speed"],
		}
	}
	contact, mode := material.Welded, map[string]material.Mode{"L": material.L, "T": material.T}
	if in.texts["contact"] == "liquid film" {
		contact = material.LiquidFilm
	}
	s, err := scatter(medium("upper"), medium("lower"), contact, mode[in.texts["incident"]], in.si["angle"]/degree)
	if err != nil {
		return 0, err
	}
	leaving := mode[in.texts["leaving"]]
	switch in.texts["of"] {
	case "energy":
		return share(s.Energy)[leaving], nil
	case "pressure":
		return cmplx.Abs(amplitude(s.Pressure)[leaving]), nil
	}
	return cmplx.Abs(amplitude(s.Displacement)[leaving]), nil
}

// strongest returns the strongest indication of a region of an image of a capture.
func strongest(in inputs) (sizing.Indication, error) {
	name := in.texts["capture"]
	if !filepath.IsAbs(name) {
		name = filepath.Join(in.folder, name)
	}
	env, err := envelope(name, in.texts["view"], in.si["x from"], in.si["x to"], in.si["z from"], in.si["z to"], in.si["step"])
	if err != nil {
		return sizing.Indication{}, err
	}
	found, err := sizing.Find(env, &sizing.Options{Floor: -20})
	if err == nil && len(found) == 0 {
		err = errors.New("no indication in the region")
	}
	if err != nil {
		return sizing.Indication{}, err
	}
	return found[0], nil
}
