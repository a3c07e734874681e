// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"errors"
	"fmt"

	"gonum.org/v1/gonum/spatial/r3"
)

// Piece is one scan of a part that several scans cover, in the common coordinates of the part.
// Examples are a weld from both sides, a pipe in two half turns, and a plate in several fields.
type Piece struct {
	Name string // for people
	Path Path
	Grid Grid
}

// PiecePlace is a place of a piece.
type PiecePlace struct {
	Piece int // element of the list of pieces
	Place
}

// Through returns the places of the pieces whose imaging planes hold the point q of the part, by
// piece and then by line. A line counts if q lies between its ends, with half a step beyond each. A
// path of more than a turn round a pipe passes a point twice, unless its axis is closed.
// It tells neither whether an image shows the point nor whether the step has a frame.
func Through(pieces []Piece, q r3.Vec) ([]PiecePlace, error) {
	if err := checkPoint(q); err != nil {
		return nil, err
	}
	var found []PiecePlace
	for i, p := range pieces {
		places, err := p.through(q)
		if err != nil {
			return nil, fmt.Errorf("%w, in piece %d, %q", err, i, p.Name)
		}
		for _, at := range places {
			found = append(found, PiecePlace{i, at})
		}
	}
	return found, nil
}

// maxTurns bounds the places of a point on a path round a pipe.
const maxTurns = 1000

// through returns the places of p whose imaging planes hold q.
func (p Piece) through(q r3.Vec) ([]Place, error) {
	if p.Path == nil {
		return nil, errors.New("scan: no path, nil: want one")
	}
	if err := p.Grid.validate(); err != nil {
		return nil, err
	}
	var places []Place
	axis := p.Grid.Along
	start, end := axis.Position(0)-axis.Step/2, axis.Position(axis.Steps-1)+axis.Step/2
	for line := range p.Grid.Lines() {
		at, err := p.Path.Locate(q, p.Grid.Across.Position(line))
		if errors.Is(err, ErrNoFrame) {
			continue
		}
		if err != nil {
			return nil, err
		}
		round, ok := p.Path.(Round)
		if !ok {
			if at.Along >= start && at.Along <= end {
				places = append(places, at)
			}
			continue
		}
		turn := round.Circumference()
		if end-start > maxTurns*turn {
			return nil, fmt.Errorf("scan: axis of %v m round a pipe of %v m: want at most %d turns",
				end-start, turn, maxTurns)
		}
		for at.Along = start + wrap(at.Along-start, turn); at.Along <= end; at.Along += turn {
			places = append(places, at)
			if axis.Closed {
				break
			}
		}
	}
	return places, nil
}
