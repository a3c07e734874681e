// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// A unit is a unit in which a file of rows may state a value.
type unit struct {
	name string
	si   float64 // value of the unit in SI units
}

// A dimension is a kind of quantity with its units.
type dimension []unit

var (
	length      = dimension{{"mm", 1e-3}, {"m", 1}, {"um", 1e-6}}
	duration    = dimension{{"us", 1e-6}, {"s", 1}, {"ns", 1e-9}}
	speed       = dimension{{"m/s", 1}, {"km/s", 1e3}, {"mm/us", 1e3}}
	frequency   = dimension{{"MHz", 1e6}, {"kHz", 1e3}, {"Hz", 1}}
	angle       = dimension{{"deg", degree}, {"rad", 1}}
	density     = dimension{{"kg/m3", 1}, {"g/cm3", 1e3}}
	temperature = dimension{{"degC", 1}}
	level       = dimension{{"dB", 1}}
	number      = dimension{{"", 1}, {"%", 0.01}}
)

// names returns the units in words.
func (d dimension) names() string {
	var all []string
	for _, u := range d {
		if u.name == "" {
			all = append(all, "no unit")
		} else {
			all = append(all, u.name)
		}
	}
	return strings.Join(all, ", ")
}

// parse returns the number and the unit of a text such as "20 deg".
func (d dimension) parse(text string) (value float64, of unit, err error) {
	fields := strings.Fields(text)
	if len(fields) == 1 {
		fields = append(fields, "")
	}
	if len(fields) == 2 {
		if value, err = strconv.ParseFloat(fields[0], 64); err == nil && !math.IsInf(value, 0) && !math.IsNaN(value) {
			for _, u := range d {
				if u.name == fields[1] {
					return value, u, nil
				}
			}
		}
	}
	return 0, unit{}, fmt.Errorf("%q: want a finite number, a blank and a unit of: %s", text, d.names())
}
