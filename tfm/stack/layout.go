// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/internal/numpy"
	"github.com/isochron-imaging/isochron/tfm"
)

// Values is how a stack holds its images.
type Values uint8

const (
	// Float32 holds amplitudes, linear and in the unit of the samples, in 4 bytes a pixel. NaN is
	// no value.
	Float32 Values = iota
	// Int16 holds levels in hundredths of a decibel relative to [View].Reference, in 2 bytes a
	// pixel. A level is rounded to the nearest hundredth, so an amplitude is off by at most 0.06 %.
	// Three codes are not levels: -32768 is no value, -32767 is an amplitude below -327.66 dB, also
	// 0, and 32767 is an amplitude of 327.67 dB or above.
	Int16
)

var valuesNames = [...]string{"float32 amplitude", "int16 level in 0.01 dB"}

// String returns "float32 amplitude" or "int16 level in 0.01 dB".
func (v Values) String() string {
	if int(v) < len(valuesNames) {
		return valuesNames[v]
	}
	return fmt.Sprintf("Values(%d)", uint8(v))
}

// size returns the bytes of a value.
func (v Values) size() int { return [...]int{4, 2}[v] }

// View is one view of a stack.
type View struct {
	// Name is unique in its stack, such as "TT-T": 1 to 100 bytes of printable UTF-8.
	Name string
	// Reference is the amplitude at 0 dB, in the unit of the samples, finite and above 0. It is
	// such as the echo of a calibration reflector in this view.
	Reference float64
	// States are the states of the pixels in all frames, one a pixel at the index of the grid. Nil
	// stands for pixels that show all that lies there. [Image] sets them. With Layout.FrameStates
	// they are nil, because each frame has its own.
	States []tfm.State
}

// Layout says what a stack holds. All stacks of one scan, its parts included, have the same layout.
type Layout struct {
	// Grid has the pixels of each frame, in the coordinates of the array: x and the depth z of one
	// slice.
	Grid tfm.Grid
	// Views are 1 to 100.
	Views []View
	// Frames is the number of frames of the whole scan, 1 to 1,000,000. The frames have the indices
	// 0 to Frames-1. A frame that was lost counts.
	Frames int
	// Pitch is the nominal distance of neighbouring frames along the scan in m, finite and above 0.
	// Two frames closer than half the pitch repeat each other ([Frame].Repeats).
	Pitch float64
	// Values is how the images are held. The default is Float32.
	Values Values
	// FrameStates keeps the states of the pixels of each frame, in 1 byte a pixel. Without it, all
	// frames have the states of View.States. [Image] sets it for plans with
	// [tfm.Options.FullScale].
	FrameStates bool
	// Origin identifies what the images are made from: at most 1,000 bytes of printable UTF-8.
	// Stacks of different origins are never joined. [Image] sets it from the plans.
	Origin string
}

const (
	maxFrames = 1_000_000
	maxViews  = 100
	maxName   = 100
	maxOrigin = 1000
)

// Validate reports the first field outside the range that its comment gives.
func (l *Layout) Validate() error {
	if err := l.Grid.Validate(); err != nil {
		return fmt.Errorf("stack: grid: %w", err)
	}
	if l.Grid.Slices != 1 {
		return fmt.Errorf("stack: grid of %d slices: want 1", l.Grid.Slices)
	}
	if n := len(l.Views); n < 1 || n > maxViews {
		return fmt.Errorf("stack: %d views: want 1 to %d", n, maxViews)
	}
	for i, v := range l.Views {
		if err := v.validate(l.Grid.Len()); err != nil {
			return fmt.Errorf("stack: view %d: %w", i, err)
		}
		if l.FrameStates && v.States != nil {
			return fmt.Errorf("stack: view %d with states for all frames: want none if each frame has its own", i)
		}
		if slices.ContainsFunc(l.Views[:i], func(w View) bool { return w.Name == v.Name }) {
			return fmt.Errorf("stack: view %d with the name %q of an earlier view: want different names", i, v.Name)
		}
	}
	if l.Frames < 1 || l.Frames > maxFrames {
		return fmt.Errorf("stack: %d frames: want 1 to %d", l.Frames, maxFrames)
	}
	if !number.Positive(l.Pitch) {
		return fmt.Errorf("stack: pitch %v m: want a finite value above 0", l.Pitch)
	}
	if l.Values > Int16 {
		return fmt.Errorf("stack: values %d: want %d (float32) or %d (int16)", l.Values, Float32, Int16)
	}
	if !printable(l.Origin, maxOrigin) {
		return fmt.Errorf("stack: origin %.50q: want at most %d bytes of printable UTF-8", l.Origin, maxOrigin)
	}
	if n := int64(len(l.Views)) * int64(l.Grid.Len()) * int64(l.Values.size()); n > math.MaxInt32 {
		return fmt.Errorf("stack: frames of %d bytes: want at most %d", n, math.MaxInt32)
	}
	return nil
}

func (v *View) validate(pixels int) error {
	if v.Name == "" || !printable(v.Name, maxName) {
		return fmt.Errorf("name %.50q: want 1 to %d bytes of printable UTF-8", v.Name, maxName)
	}
	if !number.Positive(v.Reference) {
		return fmt.Errorf("reference %v: want a finite amplitude above 0", v.Reference)
	}
	if v.States != nil && len(v.States) != pixels {
		return fmt.Errorf("states of length %d: want %d, one a pixel, or none", len(v.States), pixels)
	}
	return nil
}

// printable reports whether a text has at most so many bytes and no character that acts on a
// terminal.
func printable(text string, most int) bool {
	control := func(r rune) bool { return !unicode.IsPrint(r) }
	return len(text) <= most && utf8.ValidString(text) && strings.IndexFunc(text, control) < 0
}

// pixels returns the number of values of a frame.
func (l *Layout) pixels() int { return len(l.Views) * l.Grid.Len() }

// frameBytes returns the bytes of the values of a frame.
func (l *Layout) frameBytes() int { return l.pixels() * l.Values.size() }

// difference names the first field in which two valid layouts differ, without the states.
func (l *Layout) difference(m *Layout) error {
	differ := func(what string, a, b any) error {
		return fmt.Errorf("%s %v differs from %v: want the same for all parts of a scan", what, a, b)
	}
	switch {
	case l.Grid != m.Grid:
		return differ("grid", l.Grid, m.Grid)
	case l.Frames != m.Frames:
		return differ("number of frames", l.Frames, m.Frames)
	case l.Pitch != m.Pitch:
		return differ("pitch in m", l.Pitch, m.Pitch)
	case l.Values != m.Values:
		return differ("values", l.Values, m.Values)
	case l.FrameStates != m.FrameStates:
		return differ("states of each frame", l.FrameStates, m.FrameStates)
	case len(l.Views) != len(m.Views):
		return differ("number of views", len(l.Views), len(m.Views))
	}
	for i, v := range l.Views {
		w := m.Views[i]
		if v.Name != w.Name || v.Reference != w.Reference {
			return differ(fmt.Sprintf("view %d (name, reference)", i),
				fmt.Sprintf("%q, %v", v.Name, v.Reference), fmt.Sprintf("%q, %v", w.Name, w.Reference))
		}
	}
	if l.Origin != m.Origin {
		err := differ("origin", fmt.Sprintf("%q", l.Origin), fmt.Sprintf("%q", m.Origin))
		return fmt.Errorf("made with other plans (array, set-up, view, options) or another kernel: %w", err)
	}
	return nil
}

// clone returns a copy that shares nothing with l.
func (l *Layout) clone() Layout {
	c := *l
	c.Views = slices.Clone(l.Views)
	for i, v := range c.Views {
		c.Views[i].States = slices.Clone(v.States)
	}
	return c
}

// stateBytes returns the states of all views, as the file of states holds them.
func (l *Layout) stateBytes() []byte {
	b := make([]byte, l.pixels())
	for i, v := range l.Views {
		setStates(b[i*l.Grid.Len():(i+1)*l.Grid.Len()], v.States)
	}
	return b
}

// headers returns the headers of the files of values and of states for so many frames.
func (l *Layout) headers(frames int) (values, states []byte) {
	shape := []int{frames, len(l.Views), l.Grid.Rows, l.Grid.Cols}
	values = numpy.Header([...]string{"<f4", "<i2"}[l.Values], shape, 0)
	if !l.FrameStates {
		shape = shape[1:]
	}
	return values, numpy.Header("|u1", shape, 0)
}
