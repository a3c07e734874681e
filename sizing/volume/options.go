// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package volume

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// Options says which indications [Find] lists, and how it measures them. Nil stands for the zero
// value.
type Options struct {
	// Floor is the level in dB relative to the reference below which a peak is not listed: finite.
	// Zero means a floor that follows the noise: in sections of noise alone, fewer than 0.02 peaks
	// are expected above it in all sections together. But it is -40 at the lowest, and -20 if the
	// sections are too small for an estimate ([sizing.EstimateNoise]).
	Floor float64
	// Reference is the amplitude of 0 dB: finite and above 0. Zero means the reference of the
	// sections.
	Reference float64
	// Level is the level in dB relative to the reference to which the full drop measures lengths:
	// finite. Zero means the floor.
	Level float64
	// Beam returns the profile of the beam along the scan at a place in m: X, Y = s, Z. It is the
	// echo of a small reflector over s. [ElementBeam] and [sizing.NewBeam] make one. Nil means that
	// no beam is known: then no length is [tips.Measured].
	Beam func(at r3.Vec) (sizing.Beam, error)
	// TipDrop is the drop in dB at which the profile counts as dropping at its ends: 0.5 to 6. Zero
	// means 3 if the beam is known. Without a beam, the drop is 6 dB ([sizing.SixDB]).
	TipDrop float64
	// Bridge is how many neighbouring sections may be missing inside an indication, 0 to 1000.
	// [Indication.Bridged] says how many are. An indication ends at a larger gap.
	Bridge int
	// X and Z are the limits in m of the pixels that take part, lower limit first. The zero values
	// stand for all pixels.
	X, Z [2]float64
	// Voxels is the most pixels that are held at a time, at least 1. Zero means 50,000,000, in
	// about 1 GB. Pixels are held that lie above the floor less 6 dB, as long as they are connected
	// to a pixel in the last section. More of them are an error, because the floor is too low.
	Voxels int
}

const (
	mostBridged   = 1000
	defaultVoxels = 50_000_000
	gapShare      = 1.5 // of the pitch
	falseCalls    = 0.02
	leastFloor    = -40 // dB, as in package sizing
	smallFloor    = -20
	noiseSections = 16 // at most, for the estimate of the noise
)

// withDefaults returns the options with defaults, apart from Floor and Reference, or an error that
// names the field out of range.
func (options *Options) withDefaults() (Options, error) {
	var o Options
	if options != nil {
		o = *options
	}
	for _, level := range []struct {
		name  string
		value float64
	}{{"floor", o.Floor}, {"level", o.Level}} {
		if !number.Finite(level.value) {
			return o, fmt.Errorf("volume: %s %v dB: want a finite value", level.name, level.value)
		}
	}
	if !(o.Reference >= 0) || math.IsInf(o.Reference, 0) {
		return o, fmt.Errorf("volume: reference amplitude %v: want a finite value above 0, or 0 for the default", o.Reference)
	}
	if o.TipDrop == 0 && o.Beam != nil {
		o.TipDrop = 3
	}
	if o.Beam == nil {
		o.TipDrop = sizing.SixDB
	}
	if !(o.TipDrop >= 0.5 && o.TipDrop <= sizing.SixDB) {
		return o, fmt.Errorf("volume: drop of tips %v dB: want 0.5 to 6", o.TipDrop)
	}
	if o.Bridge < 0 || o.Bridge > mostBridged {
		return o, fmt.Errorf("volume: %d missing sections to bridge: want 0 to %d", o.Bridge, mostBridged)
	}
	for _, limits := range [2]*[2]float64{&o.X, &o.Z} {
		if *limits == ([2]float64{}) {
			*limits = [2]float64{math.Inf(-1), math.Inf(1)}
		}
		if !(limits[0] <= limits[1]) {
			return o, fmt.Errorf("volume: limits %v to %v m: want the lower limit first", limits[0], limits[1])
		}
	}
	if o.Voxels == 0 {
		o.Voxels = defaultVoxels
	}
	if o.Voxels < 1 {
		return o, fmt.Errorf("volume: %d voxels: want at least 1", o.Voxels)
	}
	return o, nil
}

// checkPositions returns an error unless the positions ascend.
func checkPositions(v Sections) error {
	if v == nil {
		return errors.New("volume: sections nil: want a Line or a Block")
	}
	if v.Len() < 1 || v.Len() > math.MaxInt32 {
		return fmt.Errorf("volume: %d sections: want 1 to %d", v.Len(), math.MaxInt32)
	}
	if v.Len() > 1 && !number.Positive(v.Pitch()) {
		return fmt.Errorf("volume: pitch %v m: want a finite value above 0", v.Pitch())
	}
	for i := range v.Len() {
		s := v.Position(i)
		if !number.Finite(s) || i > 0 && !(s > v.Position(i-1)) {
			return fmt.Errorf("volume: position %v m of section %d: want a finite value above the position before", s, i)
		}
	}
	return nil
}

// checkSection returns an error unless an envelope is a section of the grid, without bad
// amplitudes.
func checkSection(env *tfm.Envelope, grid *tfm.Grid, i int) error {
	if env == nil || env.Slices != 1 || env.Quantity != tfm.Amplitude || len(env.Data) != env.Rows*env.Cols ||
		env.States != nil && len(env.States) != len(env.Data) {
		return fmt.Errorf("volume: section %d is not one slice of amplitudes", i)
	}
	own := env.Grid
	own.Origin.Y = 0
	if i == 0 {
		*grid = own
	}
	if own != *grid {
		return fmt.Errorf("volume: section %d on the grid %+v: want the grid of section 0, %+v", i, own, *grid)
	}
	for p, a := range env.Data {
		if !(a >= 0) || a > math.MaxFloat32 {
			return fmt.Errorf("volume: amplitude %v at pixel %d of section %d: want a finite value, not negative", a, p, i)
		}
	}
	return nil
}
