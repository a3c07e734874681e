// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// reader reads one view that is not blank.
type reader struct {
	*measurer
	view     wedge.View
	envelope *tfm.Envelope
}

// read finds the indications of the view.
func (r *reader) read(ctx context.Context, shown *View) (err error) {
	noise, err := sizing.EstimateNoise(r.envelope)
	if err != nil {
		return err
	}
	if noise.Cells > 0 {
		shown.Noise = noise.Level
	}
	if shown.Reference, shown.What, err = r.reference(ctx); err != nil {
		return err
	}
	spread, err := r.spread(shown.Name)
	if err != nil {
		return err
	}
	found, err := sizing.Find(r.envelope, &sizing.Options{
		Floor: r.settings.Floor, Reference: shown.Reference, Spread: spread,
	})
	if err != nil {
		return err
	}
	for _, f := range found {
		if r.settings.Lowest < 0 && f.LevelDB < r.settings.Lowest {
			break // the others are weaker
		}
		wall, err := r.wallAt(ctx, r.view, r.envelope, &f)
		if err != nil {
			return err
		}
		if wall != "" || r.exceedsBackground(&f) {
			shown.Indications = append(shown.Indications, Indication{f, stateNames(f.States), wall})
		}
	}
	return nil
}

// stateNames returns the names of states. Pixels that show all have none.
func stateNames(s tfm.State) []string {
	if s == 0 {
		return []string{}
	}
	return strings.Split(s.String(), ", ")
}

// The lowest level of a reference in dB relative to the highest peak, and the largest distance in m
// between a peak and the place of Reference.At.
const (
	deepest = -60
	nearby  = 1e-3
)

// reference returns the amplitude of 0 dB and its name.
func (r *reader) reference(ctx context.Context) (amplitude float64, what string, err error) {
	if a := r.settings.Reference.Amplitude; a > 0 {
		return a, "a level of " + strconv.FormatFloat(a, 'g', 4, 64), nil
	}
	if at := r.settings.Reference.At; at != nil {
		return r.reflectorAt(at[0], at[1])
	}
	return r.strongest(ctx)
}

// strongest returns the amplitude of the strongest indication that is no wall. If there is none
// down to the level deepest, it returns the highest peak.
func (r *reader) strongest(ctx context.Context) (amplitude float64, what string, err error) {
	const first = -20 // dB: most views show an indication down to this level
	for floor := float64(first); ; floor = max(deepest, 2*floor) {
		found, err := sizing.Find(r.envelope, &sizing.Options{Floor: floor})
		if err != nil {
			return 0, "", err
		}
		for _, f := range found {
			wall, err := r.wallAt(ctx, r.view, r.envelope, &f)
			if err != nil {
				return 0, "", err
			}
			if wall == "" && r.exceedsBackground(&f) {
				return f.Amplitude, "the strongest indication", nil
			}
		}
		if floor <= deepest {
			peak, _ := r.envelope.Peak()
			return float64(peak), "the highest peak, because only walls exceed the background", nil
		}
	}
}

// reflectorAt returns the amplitude of the strongest reflector near a position.
func (r *reader) reflectorAt(x, z float64) (amplitude float64, what string, err error) {
	found, err := sizing.Find(r.envelope, &sizing.Options{Floor: deepest})
	if err != nil {
		return 0, "", err
	}
	nearest := math.Inf(1)
	for _, f := range found { // the strongest first
		distance := math.Hypot(f.X-x, f.Z-z)
		if distance <= nearby {
			what = fmt.Sprintf("the reflector at x = %.2f mm, z = %.2f mm", f.X*1e3, f.Z*1e3)
			return f.Amplitude, what, nil
		}
		nearest = min(nearest, distance)
	}
	return 0, "", fmt.Errorf("reference at x = %v mm, z = %v mm: no peak within %v mm of it; the nearest is %.1f mm away",
		x*1e3, z*1e3, nearby*1e3, nearest*1e3)
}
