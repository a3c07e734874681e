// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package amplitude

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/sizing"
)

// Transfer holds the differences between a reference block and a part.
type Transfer struct {
	// SurfaceDB is the loss of the surface of the part less the loss of the surface of the block,
	// in dB, for both passes: coupling, roughness, curvature, coating. It is above 0 if the part
	// loses more.
	SurfaceDB float64
	// BlockAttenuation and PartAttenuation are the attenuation in dB/m, along the path one way.
	BlockAttenuation, PartAttenuation float64
}

// NewTransfer measures a transfer correction from two wall echoes of the block and two of the part,
// nearer one first, with one probe and one gain. The distances of a straight beam are the distances
// to the wall, such as the thickness and twice the thickness. Between two angle-beam probes
// that face each other they are half of the sound paths over one and two skips.
//
// The attenuation of each is what is left of the fall between its two echoes after the spreading of
// the beam. The spreading returns a positive amplitude at a distance, such as Echo of a Wall. Nil
// stands for 1/distance, which holds for walls beyond three near-field lengths within 0.8 dB. The
// difference of the surfaces is what is left between block and part at distance 0.
//
// Amplitudes that rise by more than 1 dB after the spreading are an error: an error of a reading,
// or a spreading that is not the spreading of the probe. The second echo of a plate was reflected
// at the probe once more than the first echo. This loss counts as attenuation here, unless it is
// equal in block and part.
func NewTransfer(block, part [2]Reading, spreading func(distance float64) float64) (Transfer, error) {
	if spreading == nil {
		spreading = func(distance float64) float64 { return 1 / distance }
	}
	b, blockLevel, err := fall("block", block, spreading)
	if err != nil {
		return Transfer{}, err
	}
	p, partLevel, err := fall("part", part, spreading)
	if err != nil {
		return Transfer{}, err
	}
	return Transfer{SurfaceDB: blockLevel - partLevel, BlockAttenuation: b, PartAttenuation: p}, nil
}

// fall returns the attenuation in dB/m one way, and the level in dB at distance 0.
func fall(name string, r [2]Reading, spreading func(float64) float64) (attenuation, level float64, err error) {
	var levels [2]float64
	for i := range r {
		if err := r[i].check(); err != nil {
			return 0, 0, fmt.Errorf("amplitude: echo %d of the %s: %w", i+1, name, err)
		}
		s := spreading(r[i].Distance)
		if !number.Positive(s) {
			return 0, 0, fmt.Errorf("amplitude: spreading %v at %v m: want a finite value above 0", s, r[i].Distance)
		}
		levels[i] = sizing.LevelDB(r[i].Amplitude, s)
	}
	path := 2 * (r[1].Distance - r[0].Distance)
	if !(path > 0) {
		return 0, 0, fmt.Errorf("amplitude: echoes of the %s at %v and %v m: want the nearer one first", name, r[0].Distance, r[1].Distance)
	}
	loss := levels[0] - levels[1]
	const most = 1 // dB
	if !(loss >= -most) {
		return 0, 0, fmt.Errorf("amplitude: second echo of the %s is %.2f dB above the spreading from the first: want at most %v dB", name, -loss, most)
	}
	return loss / path, levels[0] + 2*r[0].Distance*loss/path, nil
}

// DB returns the gain in dB that a part needs more than the block, for echoes of equal reflectors
// at the same distance in m. It is NaN for a field that is not finite, or a negative distance.
func (t Transfer) DB(distance float64) float64 {
	if t.check() != nil || !(distance >= 0) {
		return math.NaN()
	}
	return t.SurfaceDB + 2*(t.PartAttenuation-t.BlockAttenuation)*distance
}

func (t Transfer) check() error {
	if !number.Finite(t.SurfaceDB) || !number.Finite(t.BlockAttenuation) || !number.Finite(t.PartAttenuation) {
		return fmt.Errorf("amplitude: transfer correction %+v: want finite values", t)
	}
	return nil
}
