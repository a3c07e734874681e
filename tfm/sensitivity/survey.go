// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/scan"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// Survey collects how strongly the reference reflector would show at the places of a part, over all
// frames of a scan. Make it with [NewSurvey]. Places that no frame saw hold 0. It is not for
// several goroutines at once while frames are added.
type Survey struct {
	X, Y, Z scan.Axis // centres of the cells in the coordinates of the part
	// Amplitude holds for each cell the highest amplitude of all frames and views, in the unit of
	// the maps. The cell i of X, j of Y and k of Z has the index (k·X.Steps + i)·Y.Steps + j.
	Amplitude []float32

	best  []uint8 // number of the view that has the amplitude, from 1 on; 0 for none
	views []string
}

// maxSurvey is the largest number of cells: 640 MiB.
const maxSurvey = 1 << 27

// NewSurvey returns a survey without frames. The axes have 2^27 cells together at most, and none is
// closed. For a pipe, y is the arc on the surface that the array moves on.
func NewSurvey(x, y, z scan.Axis) (*Survey, error) {
	cells := 1.0
	for i, a := range []scan.Axis{x, y, z} {
		name := "XYZ"[i : i+1]
		switch {
		case !number.Finite(a.From) || !number.Positive(a.Step) || !number.Finite(a.Position(a.Steps)):
			return nil, fmt.Errorf("sensitivity: axis %s from %v m in steps of %v m: want finite values, and steps above 0", name, a.From, a.Step)
		case a.Steps < 1:
			return nil, fmt.Errorf("sensitivity: axis %s of %d steps: want 1 or more", name, a.Steps)
		case a.Closed:
			return nil, fmt.Errorf("sensitivity: axis %s is closed: want an open one", name)
		}
		cells *= float64(a.Steps)
	}
	if cells > maxSurvey {
		return nil, fmt.Errorf("sensitivity: survey of %.3g cells: want at most %d", cells, maxSurvey)
	}
	return &Survey{X: x, Y: y, Z: z, Amplitude: make([]float32, int(cells)), best: make([]uint8, int(cells))}, nil
}

// Add adds a frame of the scan. Each map is a view of the frame, in the coordinates of the frame;
// the pose tells where the frame lies in the part. For a pipe, it is the pose on the surface that
// is laid flat: of a [scan.Line] whose y is the arc.
//
// The frame stands for the cells whose centres lie within reach of its imaging plane. Reach is in
// m, finite and above 0. At half the distance of two frames, a missing frame leaves a hole.
//
// LossDB is how much weaker the frame is than the maps say, finite, in dB: such as a loss of
// coupling from the readings of [scan.Report]. A cell has the value of the pixel nearest to its
// centre. A frame without coupling, or one that was refused, is not added.
func (s *Survey) Add(pose scan.Pose, reach, lossDB float64, maps ...*Map) error {
	if err := checkFrame(pose, reach, lossDB, maps); err != nil {
		return err
	}
	views := slices.Clone(s.views)
	var numbers []uint8
	for _, m := range maps {
		i := slices.Index(views, m.View)
		if i < 0 {
			i, views = len(views), append(views, m.View)
		}
		numbers = append(numbers, uint8(i+1))
	}
	if len(views) > math.MaxUint8 {
		return fmt.Errorf("sensitivity: survey of %d views: want at most %d", len(views), math.MaxUint8)
	}
	s.views = views
	factor := float32(math.Pow(10, -lossDB/20))
	for k := range s.Z.Steps {
		for i := range s.X.Steps {
			start := r3.Sub(r3.Vec{X: s.X.Position(i), Y: s.Y.From, Z: s.Z.Position(k)}, pose.Origin)
			first, last := s.within(r3.Dot(start, pose.Y), s.Y.Step*pose.Y.Y, reach)
			for j := first; j <= last; j++ {
				from := r3.Sub(r3.Vec{X: s.X.Position(i), Y: s.Y.Position(j), Z: s.Z.Position(k)}, pose.Origin)
				if !(math.Abs(r3.Dot(from, pose.Y)) <= reach) {
					continue
				}
				cell := (k*s.X.Steps+i)*s.Y.Steps + j
				for v, m := range maps {
					pixel := nearest(m.Grid, r3.Dot(from, pose.X), r3.Dot(from, pose.Z))
					if pixel >= 0 && factor*m.Data[pixel] > s.Amplitude[cell] {
						s.Amplitude[cell], s.best[cell] = factor*m.Data[pixel], numbers[v]
					}
				}
			}
		}
	}
	return nil
}

// within returns the range of cells of Y that may lie within the reach of a plane: cell 0 has the
// distance at, and the distance changes by step from cell to cell.
func (s *Survey) within(at, step, reach float64) (first, last int) {
	if math.Abs(step) < 1e-9*s.Y.Step {
		return 0, s.Y.Steps - 1 // the imaging plane lies along y
	}
	middle, half := -at/step, reach/math.Abs(step)
	end := float64(s.Y.Steps - 1)
	return int(max(0, min(end+1, math.Floor(middle-half)))), int(max(-1, min(end, math.Ceil(middle+half))))
}

// checkFrame reports the first argument of Add that is out of range.
func checkFrame(pose scan.Pose, reach, lossDB float64, maps []*Map) error {
	for i, axis := range []r3.Vec{pose.X, pose.Y, pose.Z} {
		if !(math.Abs(r3.Norm(axis)-1) <= 1e-6) {
			return fmt.Errorf("sensitivity: axis %s of the pose %v: want a unit vector", "XYZ"[i:i+1], axis)
		}
	}
	switch {
	case !number.Finite(pose.Origin.X) || !number.Finite(pose.Origin.Y) || !number.Finite(pose.Origin.Z):
		return fmt.Errorf("sensitivity: origin of the pose %v m: want a finite point", pose.Origin)
	case !number.Positive(reach):
		return fmt.Errorf("sensitivity: reach %v m: want a finite value above 0", reach)
	case !number.Finite(lossDB):
		return fmt.Errorf("sensitivity: loss %v dB: want a finite value; a frame without coupling is not added", lossDB)
	}
	return checkMaps(maps)
}

// nearest returns the pixel of a grid whose centre is nearest to a point, or -1 outside the pixels.
func nearest(g tfm.Grid, x, z float64) int {
	c, r := math.Round((x-g.Origin.X)/g.Step.X), math.Round((z-g.Origin.Z)/g.Step.Z)
	if !(c >= 0 && c < float64(g.Cols) && r >= 0 && r < float64(g.Rows)) {
		return -1
	}
	return int(r)*g.Cols + int(c)
}

// View returns the view in which the reference reflector would show best in a cell, and "" for a
// cell that no frame saw. If views are equal, the view that was added first counts.
func (s *Survey) View(cell int) string {
	if s.best[cell] == 0 {
		return ""
	}
	return s.views[s.best[cell]-1]
}

// Weakest looks at an area of the section from above, such as the metal of a weld: closed outlines
// of (x, z), the same at each y. For each x and y it returns the index of the weakest cell in the
// area, or -1 if no centre of a cell lies there. Cell i of X and j of Y has the index i·Y.Steps +
// j.
func (s *Survey) Weakest(area []wedge.Outline) ([]int, error) {
	inside, err := s.inside(area)
	if err != nil {
		return nil, err
	}
	weakest := make([]int, s.X.Steps*s.Y.Steps)
	for column := range weakest {
		weakest[column] = -1
		for k := range s.Z.Steps {
			cell := k*len(weakest) + column
			if inside[cell/s.Y.Steps] && (weakest[column] < 0 || s.Amplitude[cell] < s.Amplitude[weakest[column]]) {
				weakest[column] = cell
			}
		}
	}
	return weakest, nil
}

// Coverage returns the share of a volume in which the reference reflector shows with at least the
// given level. The volume consists of the cells whose centres lie in the area, at any y. The level
// is in dB relative to the reference, an amplitude of a map: finite and above 0.
func (s *Survey) Coverage(area []wedge.Outline, reference, levelDB float64) (share float64, err error) {
	if err := checkLevel(reference, levelDB); err != nil {
		return 0, err
	}
	inside, err := s.inside(area)
	if err != nil {
		return 0, err
	}
	least := float32(reference * math.Pow(10, levelDB/20))
	covered, total := 0, 0
	for cell, a := range s.Amplitude {
		if inside[cell/s.Y.Steps] {
			total++
			if a >= least {
				covered++
			}
		}
	}
	return float64(covered) / float64(total), nil
}

// inside reports for each x and z, at the index k·X.Steps + i, whether the centres of the cells lie
// in an area. At least one does.
func (s *Survey) inside(area []wedge.Outline) ([]bool, error) {
	if err := checkArea(area); err != nil {
		return nil, err
	}
	inside := make([]bool, s.X.Steps*s.Z.Steps)
	for k := range s.Z.Steps {
		for _, span := range spansAt(area, s.Z.Position(k)) {
			for i := range s.X.Steps {
				if x := s.X.Position(i); x >= span[0] && x <= span[1] {
					inside[k*s.X.Steps+i] = true
				}
			}
		}
	}
	if !slices.Contains(inside, true) {
		return nil, errors.New("sensitivity: area without the centre of a cell: want it within the survey, or finer cells")
	}
	return inside, nil
}
