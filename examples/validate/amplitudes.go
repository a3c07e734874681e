// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"

	"github.com/isochron-imaging/isochron/material/beam"
	"github.com/isochron-imaging/isochron/sizing/amplitude"
)

// probe is a disc in steel with the near-field length 21.1 mm.
var probe = beam.Disc{Diameter: 10e-3, Wavelength: 1.184e-3}

// amplitudes checks reference reflectors against the laws of their echoes.
func amplitudes() []check {
	const kr = "Krautkrämer 1990, distance laws, from memory"
	near := probe.NearField()
	echo := func(r amplitude.Reflector, lengths float64) func() (float64, error) {
		return inDecibels(func() (float64, error) { return amplitude.Echo(probe, r, lengths*near) })
	}
	fall := func(r amplitude.Reflector) func() (float64, error) { // from 20 to 40 near-field lengths
		return func() (float64, error) {
			a, err := echo(r, 20)()
			if err != nil {
				return 0, err
			}
			b, err := echo(r, 40)()
			return b - a, err
		}
	}
	disc := func(share float64) amplitude.FlatHole { return amplitude.FlatHole{Diameter: share * probe.Diameter} }
	return []check{
		{"wall at one near-field length", calculated, "mpmath, formula of Rogers 1974", "-2.47886", "dB", 0, echo(amplitude.Wall{}, 1)},
		{"wall at three near-field lengths", calculated, "mpmath, formula of Rogers 1974", "0.478004023", "", 0,
			func() (float64, error) { return amplitude.Echo(probe, amplitude.Wall{}, 3*near) }},
		{"wall at ten near-field lengths, π/2A", closedForm, kr, "-16.0776", "dB", 0.1, echo(amplitude.Wall{}, 10)},
		{"disc of a fifth of the probe at ten lengths, π²G²/A²", closedForm, kr, "-48.07281", "dB", 0.1, echo(disc(0.2), 10)},
		{"disc of half of the probe at one length", calculated, "mpmath, Kirchhoff's approximation", "-8.0935", "dB", 1e-3, echo(disc(0.5), 1)},
		{"disc of half of the probe at three lengths", calculated, "mpmath, Kirchhoff's approximation", "-13.3009", "dB", 1e-3, echo(disc(0.5), 3)},
		{"wall, fall over the double distance", closedForm, kr, "-6.0206", "dB", 0.03, fall(amplitude.Wall{})},
		{"side-drilled hole, fall over the double distance", closedForm, kr, "-9.0309", "dB", 0.03, fall(amplitude.SideHole{Diameter: 3e-3})},
		{"side-drilled hole of 3 mm against a wall, both at 100 mm", closedForm, "Krautkrämer 1990, √(a/(a + s)), from memory", "-18.3037", "dB", 1e-4, inDecibels(func() (float64, error) {
			hole, err := amplitude.Echo(probe, amplitude.SideHole{Diameter: 3e-3}, 100e-3)
			if err != nil {
				return 0, err
			}
			wall, err := amplitude.Echo(probe, amplitude.Wall{}, 100e-3)
			return hole / wall, err
		})},
		{"flat-bottomed hole, fall over the double distance", closedForm, kr, "-12.0412", "dB", 0.03, fall(disc(0.2))},
		{"disc for a side-drilled hole of 3 mm at 50 mm, λ 1.48 mm", published, "ISO 16811, 0.67·√(λ√(ds)), from memory", "2.8524", "mm", 0.02, func() (float64, error) {
			h, err := amplitude.SideHole{Diameter: 3e-3}.FlatHole(50e-3, 1.48e-3)
			return h.Diameter * 1e3, err
		}},
		{"disc equivalent of a disc of 3 mm", identity, "algebra, the same reflector", "3", "mm", 1e-6, func() (float64, error) {
			hole, wall := amplitude.FlatHole{Diameter: 3e-3}, amplitude.Wall{}
			a, err := amplitude.Echo(probe, hole, 80e-3)
			if err != nil {
				return 0, err
			}
			b, err := amplitude.Echo(probe, wall, 60e-3)
			if err != nil {
				return 0, err
			}
			d, err := amplitude.EquivalentDisc(probe, 20*math.Log10(a/b), amplitude.Known{Reflector: wall, Distance: 60e-3}, 80e-3, nil)
			return d * 1e3, err
		}},
		{"curve through 1/s² between its readings", closedForm, "algebra, 1/s²", "0.25", "", 1e-12, func() (float64, error) {
			c, err := amplitude.NewCurve([]amplitude.Reading{{Distance: 10e-3, Amplitude: 1}, {Distance: 40e-3, Amplitude: 1. / 16}}, nil)
			if err != nil {
				return 0, err
			}
			return c.Amplitude(20e-3)
		}},
	}
}
