// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"errors"
	"fmt"
	"math"
)

// BackWall holds the successive echoes of a back wall in the A-scan of a straight beam.
type BackWall struct {
	// Echoes are the readings of the echoes in order of time, at least one. The first is the first
	// back-wall echo.
	Echoes []Reading
	// Thickness is the thickness of the part in m: the slope of the straight line through the sound
	// paths of the echoes over their numbers, by least squares. Time zero, the couplant and the
	// coating do not matter, because they delay all echoes equally. It is NaN for a single echo.
	Thickness float64
	// Steps are the differences of the sound paths of successive echoes in m. Their scatter shows
	// how far the thickness can be trusted.
	Steps []float64
}

// BackWall reads the first back-wall echo in a gate, and the echoes that follow it at equal
// distances. The next echo is searched around the last echo plus the sound path of the first echo,
// within a quarter of this sound path. The search ends at the first echo that does not reach the
// threshold, or that the record does not hold. The gate is as for [Reader.Read], but After must be
// empty. No echo in the gate is an error.
//
// The beam must be straight: at right angles to both surfaces, which must be parallel. The reading
// is no echo of a flaw only if the flaw lies outside the gate, which the reader of the A-scan must
// judge.
func (r *Reader) BackWall(t *Trace, first Gate) (*BackWall, error) {
	if t != nil && t.Line == nil {
		return nil, errors.New("ascan: back wall in the A-scan of a pair: want the A-scan of a beam")
	}
	if first.After != "" {
		return nil, fmt.Errorf("ascan: gate %q of the first back-wall echo after gate %q: want none", first.Name, first.After)
	}
	readings, err := r.Read(t, []Gate{first})
	if err != nil {
		return nil, err
	}
	e, err := r.echoes(t)
	if err != nil {
		return nil, err
	}
	w := &BackWall{Thickness: math.NaN()}
	echo, period := readings[0], readings[0].SoundPath
	if !echo.Found || !(period > 0) {
		return nil, fmt.Errorf("ascan: no first back-wall echo in gate %q", first.Name)
	}
	for echo.Found && !echo.AtEdge {
		w.Echoes = append(w.Echoes, echo)
		next := echo.SoundPath + period
		echo = e.read(first, t.Line.Time(next-period/4), t.Line.Time(next+period/4))
	}
	if len(w.Echoes) == 0 {
		return nil, fmt.Errorf("ascan: the first back-wall echo is cut off by gate %q", first.Name)
	}
	w.fit()
	return w, nil
}

// fit sets the thickness and the steps.
func (w *BackWall) fit() {
	n := float64(len(w.Echoes))
	if n < 2 {
		return
	}
	var product, square float64
	for i, echo := range w.Echoes {
		x := float64(i) - (n-1)/2
		product += x * echo.SoundPath
		square += x * x
		if i > 0 {
			w.Steps = append(w.Steps, echo.SoundPath-w.Echoes[i-1].SoundPath)
		}
	}
	w.Thickness = product / square
}
