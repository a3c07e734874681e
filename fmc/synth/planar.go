// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Planar is a crack, lack of fusion or a notch that begins and ends along the scan. Its section is
// a [Crack]. Both ends of the section move on straight lines from station to station, so a flaw can
// curve, lean more or less, and grow. The ends of the flaw along the scan have no tips: the echo
// there is the echo of a part of the face.
type Planar struct {
	// Stations are the sections at ascending positions, two or more.
	Stations []Station `json:"stations"`
	Rooted   bool      `json:"rooted"`    // see [Crack]
	Width    float64   `json:"width_m"`   // see [Crack]
	FaceOnly bool      `json:"face_only"` // see [Crack]
}

// Station is the section of a [Planar] flaw at one position.
type Station struct {
	S  float64 `json:"s_m"`  // along the scan, in m, finite
	X0 float64 `json:"x0_m"` // of one end, in m, finite
	Z0 float64 `json:"z0_m"` // depth of this end, in m, finite
	X1 float64 `json:"x1_m"` // of the other end, which lies on a surface if the flaw is Rooted
	Z1 float64 `json:"z1_m"` // depth of the other end, in m, finite
}

// validate reports the first field that is out of range.
func (p Planar) validate() error {
	if len(p.Stations) < 2 {
		return fmt.Errorf("synth: planar flaw of %d stations: want at least 2", len(p.Stations))
	}
	for i, st := range p.Stations {
		for _, v := range [...]float64{st.S, st.X0, st.Z0, st.X1, st.Z1} {
			if !number.Finite(v) {
				return fmt.Errorf("synth: station %d of the planar flaw, %v m: want finite values", i, v)
			}
		}
		if i > 0 && !(st.S > p.Stations[i-1].S) {
			return fmt.Errorf("synth: station %d of the planar flaw at s = %v m: want more than %v m, the station before",
				i, st.S, p.Stations[i-1].S)
		}
	}
	return nil
}

// Span implements [Flaw].
func (p Planar) Span() (from, to float64) {
	if len(p.Stations) == 0 {
		return 0, 0
	}
	return p.Stations[0].S, p.Stations[len(p.Stations)-1].S
}

// At returns the section of the flaw at a position along the scan in m, and whether the flaw is
// there.
func (p Planar) At(s float64) (Crack, bool) {
	for i := 1; i < len(p.Stations); i++ {
		a, b := p.Stations[i-1], p.Stations[i]
		if s < a.S || s > b.S {
			continue
		}
		t := (s - a.S) / (b.S - a.S)
		mix := func(a, b float64) float64 { return a + t*(b-a) }
		return Crack{
			From:   r3.Vec{X: mix(a.X0, b.X0), Z: mix(a.Z0, b.Z0)},
			To:     r3.Vec{X: mix(a.X1, b.X1), Z: mix(a.Z1, b.Z1)},
			Rooted: p.Rooted, Width: p.Width, FaceOnly: p.FaceOnly,
		}, true
	}
	return Crack{}, false
}

// strips implements [Flaw]. Within a strip, no end moves by more than a quarter of a wavelength.
func (p Planar) strips(part *Part) ([]strip, error) {
	if err := p.validate(); err != nil {
		return nil, err
	}
	var out []strip
	for i := 1; i < len(p.Stations); i++ {
		a, b := p.Stations[i-1], p.Stations[i]
		moves := max(math.Hypot(b.X0-a.X0, b.Z0-a.Z0), math.Hypot(b.X1-a.X1, b.Z1-a.Z1))
		n := math.Ceil(moves / (part.wavelength() / 4))
		if n > maxStrips {
			return nil, fmt.Errorf("synth: station %d of the planar flaw moves by %v m: want up to %d quarters of a wavelength",
				i, moves, maxStrips)
		}
		n = max(1, n)
		for k := range int(n) {
			at := func(k float64) float64 { return a.S + (b.S-a.S)*k/n }
			section, _ := p.At(at(float64(k) + 0.5))
			out = append(out, strip{
				reflectors: []Reflector{section}, from: at(float64(k)), to: at(float64(k + 1)),
				centre: r3.Scale(0.5, r3.Add(section.From, section.To)),
				size:   section.length()/2 + section.Width,
				ring:   2 / part.Scene.Array.CentreFrequency,
			})
		}
	}
	return out, nil
}

// maxStrips is the largest number of strips between two stations.
const maxStrips = 1000
