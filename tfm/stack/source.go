// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/scan"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm"
)

// Pose is where a frame lies in the part. The point (x, z) of the frame lies at
//
//	part x = X + x·cos(Skew),   part s = S + x·sin(Skew),   depth = z.
//
// A scan from the other side of a weld has the skew π.
type Pose struct {
	X, S float64 // of the origin of the frame in m, finite
	Skew float64 // angle from the part's x to the frame's x, about the depth, in rad, finite
}

// Source is a stack in the part.
type Source struct {
	Stack *Stack
	// Pose returns the pose of a frame from its positions, such as [Along]. Nil stands for X = 0,
	// S = the position of the encoder and no skew.
	Pose func(Frame) (Pose, error)
	// Views are the numbers of the views to show, each once; nil stands for all.
	Views []int
	// References replace the references of the layout, one for each view of the stack. Nil keeps
	// them. A pixel whose map holds 0 or NaN does not take part.
	References []tfm.Reference
}

// Along returns the poses of frames on a path of package fmc/scan. The s of a straight path is the
// y of the part. The s of a path round or along a pipe is the arc on the surface from 0 on, x is
// the axial position, and the depth is measured from this surface. There the skew is 0 or π, on a
// path round the pipe and on a path along it. Any other skew is an error, because the depth is then
// not the z of the frame.
func Along(path scan.Path) func(Frame) (Pose, error) {
	return func(f Frame) (Pose, error) {
		switch p := path.(type) {
		case scan.Round:
			s, err := p.At(f.Position)
			return Pose{X: p.X + f.Across, S: s, Skew: p.Skew}, errors.Join(err, checkSkew(p.Skew))
		case scan.Lengthwise:
			s, err := p.Wrap(p.Arc + f.Across)
			x := p.X + f.Position
			if p.Backward {
				x = p.X - f.Position
			}
			return Pose{X: x, S: s, Skew: p.Skew}, errors.Join(err, checkSkew(p.Skew))
		case scan.Line:
			q, err := p.Pose(f.Position, f.Across)
			return Pose{X: q.Origin.X, S: q.Origin.Y, Skew: p.Skew}, err
		}
		return Pose{}, fmt.Errorf("stack: path of the type %T: want a path of package fmc/scan", path)
	}
}

// checkSkew reports a frame on a pipe whose plane does not hold the axis.
func checkSkew(skew float64) error {
	if !(math.Abs(math.Sin(skew)) <= 1e-9) {
		return fmt.Errorf("stack: skew %v rad on a pipe: want 0 or π", skew)
	}
	return nil
}

// pose returns the pose of a frame.
func (s *Source) pose(f Frame) (Pose, error) {
	if s.Pose == nil {
		return Pose{S: f.Position}, nil
	}
	p, err := s.Pose(f)
	if err == nil && !(number.Finite(p.X) && number.Finite(p.S) && number.Finite(p.Skew)) {
		err = fmt.Errorf("stack: pose %+v: want finite values", p)
	}
	if err != nil {
		return p, fmt.Errorf("%w (frame %d)", err, f.Index)
	}
	return p, nil
}

// Point returns where the pixel of a place of s lies in the part: x, the position s as Y, and the
// depth as Z, in m. The place has a frame and a pixel of the stack.
func (s *Source) Point(p Place) (r3.Vec, error) {
	if s.Stack == nil {
		return r3.Vec{}, errNoStack
	}
	g := s.Stack.table.layout.Grid
	if p.Pixel < 0 || int(p.Pixel) >= g.Len() {
		return r3.Vec{}, fmt.Errorf("stack: place with the pixel %d: want 0 to %d", p.Pixel, g.Len()-1)
	}
	f := s.Stack.Frame(int(p.Frame))
	if f.State != Imaged {
		return r3.Vec{}, fmt.Errorf("stack: place in frame %d, which is %v: want a frame that is %v", p.Frame, f.State, Imaged)
	}
	pose, err := s.pose(f)
	q := g.Point(int(p.Pixel))
	sin, cos := math.Sincos(pose.Skew)
	return r3.Vec{X: pose.X + q.X*cos, Y: pose.S + q.X*sin, Z: q.Z}, err
}

// errNoStack is the error of a source without a stack.
var errNoStack = errors.New("stack: source without a stack, nil: want one")

// validate reports the first field out of range.
func (s *Source) validate() error {
	if s.Stack == nil {
		return errNoStack
	}
	l := &s.Stack.table.layout
	for i, v := range s.Views {
		if v < 0 || v >= len(l.Views) || slices.Contains(s.Views[:i], v) {
			return fmt.Errorf("stack: view %d of a source: want different views from 0 to %d", v, len(l.Views)-1)
		}
	}
	if s.References == nil {
		return nil
	}
	if len(s.References) != len(l.Views) {
		return fmt.Errorf("stack: %d references: want %d, one a view, or none", len(s.References), len(l.Views))
	}
	for i, r := range s.References {
		if !number.Positive(float64(r.Amplitude)) {
			return fmt.Errorf("stack: reference %d with the amplitude %v: want a finite value above 0", i, r.Amplitude)
		}
		if r.Map != nil && len(r.Map) != l.Grid.Len() {
			return fmt.Errorf("stack: reference %d with a map of length %d: want %d, one a pixel, or none", i, len(r.Map), l.Grid.Len())
		}
		for p, v := range r.Map {
			if v < 0 || math.IsInf(float64(v), 0) {
				return fmt.Errorf("stack: reference %d with the value %v at pixel %d of its map: want a finite value, not negative, or NaN", i, v, p)
			}
		}
	}
	return nil
}

// views returns the numbers of the views, ascending.
func (s *Source) views() []int {
	if s.Views != nil {
		return slices.Sorted(slices.Values(s.Views))
	}
	all := make([]int, len(s.Stack.table.layout.Views))
	for i := range all {
		all[i] = i
	}
	return all
}

// leveller turns the values of a view into levels in dB relative to its reference.
type leveller struct {
	layout  *Layout
	view    int
	scale   float64   // 1/reference, of Float32
	offset  float32   // dB to add, of Int16
	offsets []float32 // dB to add at each pixel, NaN where the view does not take part; may be nil
}

func (s *Source) leveller(view int) leveller {
	l := &s.Stack.table.layout
	v := leveller{layout: l, view: view, scale: 1 / l.Views[view].Reference}
	if s.References == nil {
		return v
	}
	r := s.References[view]
	v.scale = 1 / float64(r.Amplitude)
	v.offset = float32(20 * math.Log10(l.Views[view].Reference*v.scale))
	if r.Map != nil {
		v.offsets = make([]float32, len(r.Map))
		for p, m := range r.Map {
			v.offsets[p] = float32(-20 * math.Log10(float64(m)))
			if !(m > 0) {
				v.offsets[p] = float32(math.NaN())
			}
		}
	}
	return v
}
