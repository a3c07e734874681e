// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/tfm"
)

// format names the form of the files. FORMAT.md describes it.
const format = "isochron stack 1"

// maxTable is the greatest length of a .json file or a journal in bytes.
const maxTable = 1 << 29

// names are the paths of the files of a stack.
type names struct{ table, journal, values, states string }

// namesOf returns the paths of the files of a stack whose .json file is called name.
func namesOf(name string) (names, error) {
	base, ok := strings.CutSuffix(name, ".json")
	if !ok || filepath.Base(name) == ".json" {
		return names{}, fmt.Errorf("stack: file name %q: want one that ends in .json", name)
	}
	return names{name, base + ".journal", base + ".npy", base + "-states.npy"}, nil
}

// table is what the files of a stack hold besides their values.
type table struct {
	layout   Layout
	from, to int
	states   uint32  // checksum of the states of the views; 0 if each frame has its own
	entries  []entry // of the frames from to to-1
}

// newTable returns a table of frames of which nothing is known.
func newTable(l *Layout, from, to int) *table {
	t := &table{layout: l.clone(), from: from, to: to, entries: newEntries(to - from)}
	if !l.FrameStates {
		t.states = sum(0, l.stateBytes())
	}
	return t
}

// difference names the first field in which the scans of two tables differ.
func (t *table) difference(u *table) error {
	if err := t.layout.difference(&u.layout); err != nil {
		return err
	}
	if t.states != u.states {
		return errors.New("states of the pixels differ: want the same set-up for all parts of a scan")
	}
	return nil
}

// head is all of a table except for its frames.
type head struct {
	Format      string     `json:"format"`
	Origin      string     `json:"origin"`
	Frames      int        `json:"frames"`
	From        int        `json:"from"`
	To          int        `json:"to"`
	Pitch       float64    `json:"pitch"`
	Values      string     `json:"values"`
	FrameStates bool       `json:"frame_states"`
	StatesSum   string     `json:"states_sum,omitempty"`
	Grid        headGrid   `json:"grid"`
	Views       []headView `json:"views"`
}

type headGrid struct {
	Origin [3]float64 `json:"origin"`
	Step   [3]float64 `json:"step"`
	Cols   int        `json:"cols"`
	Rows   int        `json:"rows"`
}

type headView struct {
	Name      string  `json:"name"`
	Reference float64 `json:"reference"`
}

// newHead returns the head of a table.
func newHead(t *table) *head {
	l, g := &t.layout, t.layout.Grid
	h := &head{
		Format: format, Origin: l.Origin, Frames: l.Frames, From: t.from, To: t.to, Pitch: l.Pitch,
		Values: l.Values.String(), FrameStates: l.FrameStates,
		Grid: headGrid{
			Origin: [3]float64{g.Origin.X, g.Origin.Y, g.Origin.Z},
			Step:   [3]float64{g.Step.X, g.Step.Y, g.Step.Z},
			Cols:   g.Cols, Rows: g.Rows,
		},
	}
	for _, v := range l.Views {
		h.Views = append(h.Views, headView{v.Name, v.Reference})
	}
	if !l.FrameStates {
		h.StatesSum = fmt.Sprintf("%08x", t.states)
	}
	return h
}

// table returns the table of a head, without frames. The states of the views are not in the head.
func (h *head) table() (*table, error) {
	if h.Format != format {
		return nil, fmt.Errorf("stack: format %.50q: want %q", h.Format, format)
	}
	o, s := h.Grid.Origin, h.Grid.Step
	values := slices.Index(valuesNames[:], h.Values)
	if values < 0 {
		return nil, fmt.Errorf("stack: values %.50q: want one of %q", h.Values, valuesNames)
	}
	t := &table{from: h.From, to: h.To, layout: Layout{
		Grid: tfm.Grid{
			Origin: r3.Vec{X: o[0], Y: o[1], Z: o[2]}, Step: r3.Vec{X: s[0], Y: s[1], Z: s[2]},
			Cols: h.Grid.Cols, Rows: h.Grid.Rows, Slices: 1,
		},
		Frames: h.Frames, Pitch: h.Pitch, Values: Values(values), FrameStates: h.FrameStates,
		Origin: h.Origin,
	}}
	for _, v := range h.Views {
		t.layout.Views = append(t.layout.Views, View{Name: v.Name, Reference: v.Reference})
	}
	if err := t.layout.Validate(); err != nil {
		return nil, err
	}
	var err error
	if !h.FrameStates {
		t.states, err = parseSum(h.StatesSum)
	} else if h.StatesSum != "" {
		err = fmt.Errorf("states_sum %.20q: want none if each frame has its own states", h.StatesSum)
	}
	if err != nil {
		return nil, fmt.Errorf("stack: %w", err)
	}
	return t, checkRange(&t.layout, h.From, h.To)
}

// checkRange reports a range of frames that a layout does not have.
func checkRange(l *Layout, from, to int) error {
	if from < 0 || to <= from || to > l.Frames {
		return fmt.Errorf("stack: frames from %d to %d: want 0 ≤ from < to ≤ %d", from, to, l.Frames)
	}
	return nil
}

// decodeStrictly decodes one value, without fields that dst does not have.
func decodeStrictly(text []byte, dst any) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(dst); err != nil {
		return err
	}
	if _, err := d.Token(); err != io.EOF {
		return errors.New("more text after the value: want one value")
	}
	return nil
}

// listBegin separates the head from the frames in a .json file.
const (
	listBegin = `, "frame_list": [` + "\n"
	listEnd   = "\n]}\n"
)

// appendTable appends the text of a .json file.
func appendTable(b []byte, t *table) []byte {
	text, _ := json.Marshal(newHead(t)) // all fields are finite numbers, texts and lists of these
	b = append(append(b, text[:len(text)-1]...), listBegin...)
	for i := range t.entries {
		if i > 0 {
			b = append(b, ",\n"...)
		}
		b = t.entries[i].appendLine(b, t.from+i)
	}
	return append(b, listEnd...)
}

// parseTable parses the text of a .json file.
func parseTable(text []byte) (*table, error) {
	before, after, found := bytes.Cut(text, []byte(listBegin))
	lines, whole := bytes.CutSuffix(after, []byte(listEnd))
	if !found || !whole {
		return nil, fmt.Errorf("stack: table without a list of frames: want a file of %q", format)
	}
	t, err := parseHead(append(slices.Clip(before), '}'))
	if err != nil {
		return nil, err
	}
	for len(lines) > 0 {
		text, rest, _ := bytes.Cut(lines, []byte(",\n"))
		lines = rest
		index, e, err := parseLine(text)
		if want := t.from + len(t.entries); err == nil && (index != want || index >= t.to) {
			err = fmt.Errorf("index %d: want %d, and the last %d", index, want, t.to-1)
		}
		if err != nil {
			return nil, fmt.Errorf("stack: line %d of frames: %w", len(t.entries), err)
		}
		t.entries = append(t.entries, e)
	}
	if n := t.to - t.from; len(t.entries) != n {
		return nil, fmt.Errorf("stack: table of %d frames: want %d, from %d to %d", len(t.entries), n, t.from, t.to-1)
	}
	return t, nil
}

// parseHead parses the text of a head.
func parseHead(text []byte) (*table, error) {
	h := new(head)
	if err := decodeStrictly(text, h); err != nil {
		return nil, fmt.Errorf("stack: table: %w", err)
	}
	return h.table()
}

// parseLine parses a line of frames.
func parseLine(text []byte) (index int, e entry, err error) {
	var l line
	if err := decodeStrictly(text, &l); err != nil {
		return 0, e, err
	}
	e, err = l.entry()
	return l.Index, e, err
}

// parseJournal parses the text of a journal. A line that is not whole ends the journal, as the loss
// of power leaves it: the frames of later lines count as not imaged. It also returns the length of
// the text before such a line.
func parseJournal(text []byte) (t *table, length int, err error) {
	first, _, found := bytes.Cut(text, []byte{'\n'})
	if !found {
		return nil, 0, errNoHead
	}
	if t, err = parseHead(first); err != nil {
		return nil, 0, err
	}
	length = len(first) + 1
	t.entries = newEntries(t.to - t.from)
	for {
		text, _, found := bytes.Cut(text[length:], []byte{'\n'})
		index, e, err := parseLine(text)
		if !found || err != nil || index < t.from || index >= t.to {
			return t, length, nil
		}
		t.entries[index-t.from] = e
		length += len(text) + 1
	}
}

// errNoHead is the error of a journal that was killed before it had a head.
var errNoHead = errors.New("stack: journal without a head")

// newEntries returns entries of which nothing is known.
func newEntries(n int) []entry {
	entries := make([]entry, n)
	for i := range entries {
		entries[i] = unknown
	}
	return entries
}
