// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package volume

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/stack"
)

// Sections are parallel sections of a part, in the order of their positions s along the scan.
// [Line] and [Block] are Sections.
type Sections interface {
	// Len returns the number of sections, at least 1.
	Len() int
	// Position returns s of section i in m. Positions are finite and ascend strictly.
	Position(i int) float64
	// Pitch returns the nominal distance of neighbouring sections in m, above 0. A distance above
	// 1.5 times the pitch is a gap: nobody looked there.
	Pitch() float64
	// Reference returns the amplitude of 0 dB, or 0 for the highest amplitude of all sections.
	Reference() float64
	// Section returns the amplitudes of section i. All sections have the same grid of one slice.
	// The result may be dst, used again, or share memory that does not change.
	Section(dst *tfm.Envelope, i int) (*tfm.Envelope, error)
}

// Line is the frames of a stack along one line, in the order of their positions. Make it with
// [NewLine]. Its reference is the reference of the view in the layout of the stack.
type Line struct {
	stack  *stack.Stack
	view   int
	layout *stack.Layout
	frames []stack.Frame
}

// NewLine returns the imaged frames of a stack in a view, without frames that repeat others. The
// function keep chooses frames, such as the frames of one line of a raster. Nil keeps all. It is an
// error if frames of several lines are kept ([stack.Frame].Across), or none.
func NewLine(s *stack.Stack, view int, keep func(stack.Frame) bool) (*Line, error) {
	if s == nil {
		return nil, errors.New("volume: stack nil: want a stack")
	}
	l := &Line{stack: s, view: view, layout: s.Layout()}
	if view < 0 || view >= len(l.layout.Views) {
		return nil, fmt.Errorf("volume: view %d: want 0 to %d", view, len(l.layout.Views)-1)
	}
	from, to := s.Range()
	for i := from; i < to; i++ {
		f := s.Frame(i)
		if f.State != stack.Imaged || f.Repeats >= 0 || keep != nil && !keep(f) {
			continue
		}
		if len(l.frames) > 0 && f.Across != l.frames[0].Across {
			return nil, fmt.Errorf("volume: frames at %v and %v m across the scan: want one line", l.frames[0].Across, f.Across)
		}
		l.frames = append(l.frames, f)
	}
	if len(l.frames) == 0 {
		return nil, errors.New("volume: no imaged frame is kept: want at least one")
	}
	slices.SortStableFunc(l.frames, func(a, b stack.Frame) int { return cmp.Compare(a.Position, b.Position) })
	return l, nil
}

// Frame returns what the stack knows of section i.
func (l *Line) Frame(i int) stack.Frame { return l.frames[i] }

// Len implements [Sections].
func (l *Line) Len() int { return len(l.frames) }

// Position implements [Sections]. It returns the position of the encoder.
func (l *Line) Position(i int) float64 { return l.frames[i].Position }

// Pitch implements [Sections]. It returns the pitch of the layout of the stack.
func (l *Line) Pitch() float64 { return l.layout.Pitch }

// Reference implements [Sections]. It returns the reference of the view.
func (l *Line) Reference() float64 { return l.layout.Views[l.view].Reference }

// Section implements [Sections]. It reads the stack.
func (l *Line) Section(dst *tfm.Envelope, i int) (*tfm.Envelope, error) {
	return l.stack.Envelope(dst, l.frames[i].Index, l.view)
}

// Block is the slices of an envelope in three dimensions, such as the image of a matrix array. Its
// positions s are the y of the slices. Make it with [NewBlock].
type Block struct{ env *tfm.Envelope }

// NewBlock returns the slices of an envelope, which must not change while the block is in use.
func NewBlock(env *tfm.Envelope) (*Block, error) {
	if env == nil {
		return nil, errors.New("volume: envelope nil: want an envelope")
	}
	if err := env.Validate(); err != nil {
		return nil, fmt.Errorf("volume: grid of the envelope: %w", err)
	}
	if len(env.Data) != env.Grid.Len() || env.States != nil && len(env.States) != env.Grid.Len() {
		return nil, fmt.Errorf("volume: envelope of %d amplitudes and %d states: want %d, one a pixel", len(env.Data), len(env.States), env.Grid.Len())
	}
	if env.Slices > 1 && !number.Positive(env.Step.Y) {
		return nil, fmt.Errorf("volume: distance of slices %v m: want a finite value above 0", env.Step.Y)
	}
	return &Block{env}, nil
}

// Len implements [Sections].
func (b *Block) Len() int { return b.env.Slices }

// Position implements [Sections].
func (b *Block) Position(i int) float64 { return b.env.Origin.Y + float64(i)*b.env.Step.Y }

// Pitch implements [Sections].
func (b *Block) Pitch() float64 { return b.env.Step.Y }

// Reference implements [Sections]. It returns 0.
func (b *Block) Reference() float64 { return 0 }

// Section implements [Sections].
func (b *Block) Section(_ *tfm.Envelope, i int) (*tfm.Envelope, error) { return b.env.Section(i), nil }
