// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
	"unsafe"

	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/stream"
)

// Options are the options of [Image]. Nil stands for the whole scan without a limit of memory.
type Options struct {
	// From and To choose the frames From to To-1: a part of the scan for [Merge]. Frames outside
	// are read from the source and left out. To = 0 stands for the end of the scan.
	From, To int
	// Memory is the most memory in bytes that Image takes beside the plans, 0 for no limit. It
	// decides how many frames are imaged at a time. A limit that is too small for one frame at a
	// time is an error, which names the smallest limit. The values themselves are on the disk. The
	// memory of the source does not count.
	Memory int64
	// Workers is the most goroutines that image at a time; 0 stands for all cores.
	Workers int
	// Progress, if not nil, is called after each frame with the number of frames of the range that
	// are done, and the number of frames of the range. One call runs at a time.
	Progress func(done, frames int)
}

// Report says what a call of [Image] found. The counts are of frames of the range.
type Report struct {
	Imaged  int // in this call
	Held    int // in the stack already
	Refused int // in this call
	Missing int // did not come before the end of the source; only if the stack is complete
	Again   int // repetitions of a frame that came before in this call; only if the stack is complete
}

// Image images the frames of a scan in the views of several plans, into the stack whose .json file
// is called name. It sets Grid, States, FrameStates and Origin of a copy of the layout. The layout
// has a view for each plan; its Grid is zero or the grid of the plans. The plans take the same
// frames and have the same grid.
//
// The source yields the frames in any order, each with its index and its position. When the source
// has ended with io.EOF, frames that did not come are missing, and the stack is complete. After any
// other error, also of ctx, the stack is not complete. The same call then goes on with it. The
// source yields all frames again, or only the frames that are not done. Frames that are done are
// not imaged again. Such a frame with another position, time or samples is an error. The samples
// must come in the same type. A stack that is complete is not changed, and frames that were missing
// get another chance.
//
// A frame that cannot be imaged is refused. It has a wrong number of samples, a sample that is NaN
// or infinite, or a position or time that is not finite. The stack holds the reason. An index
// outside 0 to Frames-1 ends Image with an error.
//
// Images have the same bits for any number of cores and any memory. After the first frames nothing
// is allocated for a frame that is imaged.
func Image(ctx context.Context, name string, plans []*tfm.Plan, layout *Layout, source stream.Source, o *Options) (*Report, error) {
	if source == nil {
		return nil, errors.New("stack: no source of frames, nil: want one")
	}
	if o == nil {
		o = new(Options)
	}
	l, err := planned(ctx, plans, layout)
	if err != nil {
		return nil, err
	}
	to := o.To
	if to == 0 {
		to = l.Frames
	}
	if err := checkRange(l, o.From, to); err != nil {
		return nil, err
	}
	streamOptions, err := o.stream(plans, l, to-o.From)
	if err != nil {
		return nil, err
	}
	s, err := stream.New(plans, streamOptions)
	if err != nil {
		return nil, err
	}
	w, err := Create(name, l, o.From, to)
	if err != nil {
		return nil, err
	}
	defer w.Close()
	return (&imaging{writer: w, gate: newGate(w, source), options: o}).run(ctx, s)
}

// planned returns a layout with all that follows from plans.
func planned(ctx context.Context, plans []*tfm.Plan, layout *Layout) (*Layout, error) {
	if layout == nil {
		return nil, errors.New("stack: no layout, nil: want one")
	}
	if len(plans) == 0 || len(plans) != len(layout.Views) || slices.Contains(plans, nil) {
		return nil, fmt.Errorf("stack: %d plans, or a plan nil: want one for each of the %d views, at least one", len(plans), len(layout.Views))
	}
	l := layout.clone()
	if l.Grid == (tfm.Grid{}) {
		l.Grid = plans[0].Grid()
	}
	l.FrameStates = slices.ContainsFunc(plans, func(p *tfm.Plan) bool { return p.FullScale() > 0 })
	for i, p := range plans {
		if p.Grid() != l.Grid {
			return nil, fmt.Errorf("stack: plan %d has the grid %+v: want %+v", i, p.Grid(), l.Grid)
		}
		l.Views[i].States = nil
		if !l.FrameStates {
			l.Views[i].States = p.States()
		}
	}
	if err := l.Validate(); err != nil {
		return nil, err
	}
	var err error
	l.Origin, err = originOf(ctx, plans)
	return &l, err
}

// originOf identifies the images of plans.
func originOf(ctx context.Context, plans []*tfm.Plan) (string, error) {
	all := sha256.New()
	var kernels []string
	for _, p := range plans {
		fingerprint, err := p.Fingerprint(ctx)
		if err != nil {
			return "", err
		}
		all.Write([]byte(fingerprint))
		kernels = append(kernels, p.Kernel())
	}
	return fmt.Sprintf("kernel %s, plans %x", strings.Join(slices.Compact(kernels), " and "), all.Sum(nil)), nil
}

// perFrame is the memory that each frame of the range takes, whether it is imaged or not: in the
// tables of the writer and of the gate.
const perFrame = int64(2*unsafe.Sizeof(entry{})) + 1

// stream returns the options of the stream that keeps within the memory.
func (o *Options) stream(plans []*tfm.Plan, l *Layout, frames int) (*stream.Options, error) {
	if o.Memory < 0 {
		return nil, fmt.Errorf("stack: memory of %d bytes: want 0 for no limit, or a number above 0", o.Memory)
	}
	if o.Workers < 0 {
		return nil, fmt.Errorf("stack: workers %d: want 0 for all cores, or a number above 0", o.Workers)
	}
	if o.Memory == 0 {
		return &stream.Options{Workers: o.Workers}, nil
	}
	template := plans[0].Template()
	scratch := int64(0)
	for _, p := range plans {
		_, n := p.Bytes()
		scratch += int64(n) + 1<<18 // sums of a goroutine
	}
	pixels := int64(l.pixels())
	slot := 9*pixels + 4*int64(len(template.Pairs)*template.Samples)
	fixed := 2*slot + 13*pixels + int64(l.frameBytes()) + 1<<20 + int64(frames)*perFrame
	workers := o.Workers
	if workers == 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	atOnce := int64(1)
	for _, p := range plans {
		if _, n := p.Bytes(); n <= 2<<20 {
			atOnce = int64(workers)
		}
	}
	atOnce = min(atOnce, (o.Memory-fixed)/(scratch+slot))
	if o.Memory < fixed || atOnce < 1 {
		return nil, fmt.Errorf("stack: memory of %d bytes: want at least %d for one frame at a time", o.Memory, fixed+scratch+slot)
	}
	return &stream.Options{Workers: o.Workers, Frames: int(atOnce)}, nil
}

// gate passes the frames of a source that are to be imaged.
type gate struct {
	source     stream.Source
	from, last int     // range of the stack, and last index of the scan
	entries    []entry // what is known of each frame of the range, with frames that are under way
	seen       []bool  // of each frame of the range: whether it came
	again      int
	buffer     []byte
}

func newGate(w *Writer, source stream.Source) *gate {
	t := w.table
	return &gate{
		source: source, from: t.from, last: t.layout.Frames - 1,
		entries: slices.Clone(t.entries), seen: make([]bool, len(t.entries)),
	}
}

// next is a [stream.Source].
func (g *gate) next(ctx context.Context, f *stream.Frame) error {
	for {
		if err := g.source(ctx, f); err != nil {
			return err
		}
		if f.Index < 0 || f.Index > g.last {
			return fmt.Errorf("stack: frame %d at %v m: want an index from 0 to %d", f.Index, f.Position, g.last)
		}
		if i := f.Index - g.from; i >= 0 && i < len(g.entries) {
			if g.seen[i] {
				g.again++
			}
			g.seen[i] = true
			if pass, err := g.take(&g.entries[i], f); pass || err != nil {
				return err
			}
		}
		*f = stream.Frame{Int16: f.Int16[:0], Float32: f.Float32[:0]}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
}

// take reports whether a frame is to be imaged, and notes what is known of it.
func (g *gate) take(held *entry, f *stream.Frame) (bool, error) {
	e := entry{state: Imaged, position: f.Position, across: f.Across, time: f.Time, samples: g.sum(f)}
	if bad := e.notFinite(); bad != "" {
		e.state, e.reason = Refused, bad+": want a finite value"
		e.forget()
	}
	if held.known() {
		return false, held.conflict(f.Index, &e)
	}
	if e.state == Refused { // without samples the stream does not image it
		f.Int16, f.Float32 = f.Int16[:0], f.Float32[:0]
	}
	*held = e
	return true, nil
}

// sum returns the checksum of the samples of a frame.
func (g *gate) sum(f *stream.Frame) uint32 {
	return sum(sum(0, littleEndian(f.Int16, &g.buffer)), littleEndian(f.Float32, &g.buffer))
}

// imaging is a call of Image.
type imaging struct {
	writer    *Writer
	gate      *gate
	options   *Options
	report    Report
	envelopes []*tfm.Envelope
}

// run images all frames that are left.
func (m *imaging) run(ctx context.Context, s *stream.Stream) (*Report, error) {
	frames := len(m.gate.entries)
	left := m.writer.left()
	m.report.Held = frames - left
	if left == 0 {
		return &m.report, m.writer.Finish()
	}
	m.envelopes = make([]*tfm.Envelope, len(m.writer.table.layout.Views))
	for r, err := range s.Images(ctx, m.gate.next) {
		if err := m.put(r, err); err != nil {
			return &m.report, err
		}
		if m.options.Progress != nil {
			m.options.Progress(m.report.Held+m.report.Imaged+m.report.Refused, frames)
		}
	}
	m.report.Again = m.gate.again
	m.report.Missing = left - m.report.Imaged - m.report.Refused
	return &m.report, m.writer.Finish()
}

// put writes the images of a frame, or why it has none. It returns the errors that end the run.
func (m *imaging) put(r stream.Result, err error) error {
	if err != nil {
		return m.refuse(err)
	}
	for i, image := range r.Images {
		m.envelopes[i] = image.Envelope(m.envelopes[i])
	}
	e := &m.gate.entries[r.Index-m.gate.from]
	m.report.Imaged++
	return m.writer.Put(e.frame(r.Index, -1), m.envelopes)
}

// refuse writes why a frame has no image, or returns the error that ends the run.
func (m *imaging) refuse(err error) error {
	var bad *stream.FrameError
	if !errors.As(err, &bad) {
		return err
	}
	f := m.gate.entries[bad.Index-m.gate.from].frame(bad.Index, -1)
	if f.Reason == "" {
		f.State, f.Reason = Refused, reasonOf(bad.Err)
	}
	m.report.Refused++
	return m.writer.Put(f, nil)
}

// reasonOf returns the text of an error as a reason.
func reasonOf(err error) string {
	text := strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return '?'
		}
		return r
	}, strings.ToValidUTF8(err.Error(), "?"))
	for len(text) > maxReason {
		_, last := utf8.DecodeLastRuneInString(text)
		text = text[:len(text)-last]
	}
	return text
}
