// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"

	"github.com/isochron-imaging/isochron/internal/disk"
	"github.com/isochron-imaging/isochron/tfm"
)

// errClosed is the error of a method after Close.
var errClosed = errors.New("stack: already closed")

// Writer writes the images of frames to a stack, in any order of the frames. [Image] uses one; a
// program with images of its own uses [Create]. Two goroutines must not use a Writer at once.
type Writer struct {
	names   names
	table   *table // its entries are the frames that are done
	codec   *codec
	values  array
	states  array
	journal *os.File // nil once closed
	fresh   bool     // the journal holds nothing yet
	stale   bool     // the .json file, if there is one, does not say what the stack holds
	line    []byte
	err     error // of the disk
}

// Create begins a stack of the frames from to to-1 of a scan. Its .json file is called name, and
// the arrays lie beside it (FORMAT.md). A range that is not the whole scan makes a part for
// [Merge].
//
// If a stack of this name is there already, from a run that ended early or from a whole run, Create
// goes on with it. The frames that it holds are done. The layout and the range must be the same. A
// frame whose bytes do not have their checksum is not done. Other files of these names are an
// error, and are not touched. So is a stack that another process is writing.
func Create(name string, l *Layout, from, to int) (*Writer, error) {
	if l == nil {
		return nil, errors.New("stack: no layout, nil: want one")
	}
	if err := l.Validate(); err != nil {
		return nil, err
	}
	if err := checkRange(l, from, to); err != nil {
		return nil, err
	}
	names, err := namesOf(name)
	if err != nil {
		return nil, err
	}
	w := &Writer{names: names}
	w.table = newTable(l, from, to)
	w.codec = newCodec(&w.table.layout)
	if err := w.open(); err != nil {
		if w.journal != nil && w.fresh {
			os.Remove(names.journal)
		}
		w.Close()
		return nil, fmt.Errorf("stack: %s: %w", name, err)
	}
	return w, nil
}

// open opens or creates the files.
func (w *Writer) open() (err error) {
	if w.journal, err = os.OpenFile(w.names.journal, os.O_RDWR|os.O_CREATE, 0o666); err != nil {
		return err
	}
	if err := disk.Lock(w.journal); err != nil {
		return err
	}
	text, err := readAll(w.journal)
	if err != nil {
		return err
	}
	w.fresh = len(text) == 0
	found, err := w.adoptTable()
	if err != nil {
		return err
	}
	length, err := w.adoptJournal(text)
	if err != nil {
		return err
	}
	if found = found || length > 0; !found {
		for _, name := range []string{w.names.values, w.names.states} {
			if _, err := os.Lstat(name); !errors.Is(err, os.ErrNotExist) {
				return fmt.Errorf("%s is there already, without a table of frames: want another name, or remove it", name)
			}
		}
	}
	if err := w.begin(length); err != nil {
		return err
	}
	return w.verify()
}

// adoptTable takes the frames that a finished stack holds, and reports whether there is one.
func (w *Writer) adoptTable() (bool, error) {
	text, err := readFile(w.names.table)
	if errors.Is(err, os.ErrNotExist) {
		w.stale = true
		return false, nil
	}
	if err != nil {
		return false, err
	}
	t, err := parseTable(text)
	if err != nil {
		return false, err
	}
	return true, w.adopt(t)
}

// adoptJournal takes the frames of a run that ended early, and returns the length of the text that
// is whole.
func (w *Writer) adoptJournal(text []byte) (int, error) {
	if w.fresh {
		return 0, nil
	}
	t, length, err := parseJournal(text)
	if errors.Is(err, errNoHead) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	w.stale = true
	return length, w.adopt(t)
}

// adopt takes the frames of a table that are done.
func (w *Writer) adopt(t *table) error {
	err := w.table.difference(t)
	if t.from != w.table.from || t.to != w.table.to {
		err = fmt.Errorf("frames from %d to %d: want the range of the stack, %d to %d", w.table.from, w.table.to, t.from, t.to)
	}
	if err != nil {
		return fmt.Errorf("another stack is there already: %w; or another name, or remove the old stack", err)
	}
	for i := range t.entries {
		if t.entries[i].known() {
			w.table.entries[i] = t.entries[i]
		}
	}
	return nil
}

// begin writes a head to the journal, unless the journal has one in its first length bytes. Then it
// opens the arrays.
func (w *Writer) begin(length int) error {
	if err := w.journal.Truncate(int64(length)); err != nil {
		return err
	}
	if _, err := w.journal.Seek(int64(length), io.SeekStart); err != nil {
		return err
	}
	l := &w.table.layout
	if length == 0 {
		text, err := json.Marshal(newHead(w.table))
		if err != nil {
			return err
		}
		if _, err := w.journal.Write(append(text, '\n')); err != nil {
			return err
		}
		w.fresh = false
		// The arrays are known by this head, also after a loss of power.
		if err := errors.Join(w.journal.Sync(), disk.SyncFolder(filepath.Dir(w.names.journal))); err != nil {
			return err
		}
	}
	frames := w.table.to - w.table.from
	values, states := l.headers(frames)
	if err := w.values.create(w.names.values, values, l.frameBytes(), frames); err != nil {
		return err
	}
	if l.FrameStates {
		return w.states.create(w.names.states, states, l.pixels(), frames)
	}
	return w.states.create(w.names.states, append(states, l.stateBytes()...), 0, 0)
}

// verify forgets the frames whose bytes do not have their checksum.
func (w *Writer) verify() error {
	for i := range w.table.entries {
		e := &w.table.entries[i]
		if e.state != Imaged {
			continue
		}
		if err := w.read(i); err != nil {
			return err
		}
		if w.codec.checksum() != e.values {
			*e, w.stale = unknown, true
		}
	}
	return nil
}

// read reads the bytes of a frame.
func (w *Writer) read(i int) error {
	if _, err := w.values.file.ReadAt(w.codec.values, w.values.at(i)); err != nil {
		return err
	}
	if len(w.codec.states) == 0 {
		return nil
	}
	_, err := w.states.file.ReadAt(w.codec.states, w.states.at(i))
	return err
}

// write writes the bytes of a frame.
func (w *Writer) write(i int) error {
	if _, err := w.values.file.WriteAt(w.codec.values, w.values.at(i)); err != nil {
		return err
	}
	if len(w.codec.states) == 0 {
		return nil
	}
	_, err := w.states.file.WriteAt(w.codec.states, w.states.at(i))
	return err
}

// Done reports whether the stack holds the result of a frame: its images, or the reason why it was
// refused. A source may leave out such a frame. A frame beyond the range of the stack is done too.
func (w *Writer) Done(index int) bool {
	i := index - w.table.from
	return i < 0 || i >= len(w.table.entries) || w.table.entries[i].known()
}

// left returns the number of frames that are not done.
func (w *Writer) left() (n int) {
	for i := range w.table.entries {
		if !w.table.entries[i].known() {
			n++
		}
	}
	return n
}

// Put writes a frame: its images, one a view, if its State is [Imaged], or its Reason without
// images if its State is [Refused]. The Index lies within the range of the stack, and the positions
// and the time are finite. They may be NaN or infinite if the frame is refused. Repeats has no
// effect. The images have the grid of the layout and hold amplitudes.
//
// Frames may come in any order. A frame that is done is compared with what the stack holds: another
// position, time or checksum of samples is an error, because the frame is then of another scan.
// Otherwise nothing is written. A frame that is refused leaves the stack as it was. After an error
// of the file system all later calls return the same error. After the first frame Put does not
// allocate.
func (w *Writer) Put(f Frame, images []*tfm.Envelope) error {
	if w.journal == nil {
		return errClosed
	}
	if w.err != nil {
		return w.err
	}
	e := entry{state: f.State, position: f.Position, across: f.Across, time: f.Time, samples: f.Samples, reason: f.Reason}
	if e.state == Refused {
		e.forget()
	}
	if done, err := w.check(f.Index, &e); done || err != nil {
		return err
	}
	if err := w.encode(&e, images); err != nil {
		return fmt.Errorf("stack: frame %d: %w", f.Index, err)
	}
	if w.err = w.put(f.Index-w.table.from, e); w.err != nil {
		w.err = fmt.Errorf("stack: %w", w.err)
	}
	return w.err
}

// check checks a frame, and reports whether it is done.
func (w *Writer) check(index int, e *entry) (done bool, err error) {
	i := index - w.table.from
	if i < 0 || i >= len(w.table.entries) {
		return false, fmt.Errorf("stack: frame %d: want %d to %d, the range of the stack", index, w.table.from, w.table.to-1)
	}
	if !e.known() {
		return false, fmt.Errorf("stack: frame %d with the state %v: want %v or %v", index, e.state, Imaged, Refused)
	}
	if err := e.validate(); err != nil {
		return false, fmt.Errorf("stack: frame %d: %w", index, err)
	}
	held := &w.table.entries[i]
	if !held.known() {
		return false, nil
	}
	return true, held.conflict(index, e)
}

// encode encodes the images of a frame.
func (w *Writer) encode(e *entry, images []*tfm.Envelope) error {
	l := &w.table.layout
	if e.state == Refused {
		if len(images) > 0 {
			return fmt.Errorf("%d images of a refused frame: want none", len(images))
		}
		return nil
	}
	if len(images) != len(l.Views) {
		return fmt.Errorf("%d images: want %d, one a view", len(images), len(l.Views))
	}
	for v, image := range images {
		if err := l.checkImage(v, image); err != nil {
			return fmt.Errorf("view %q: %w", l.Views[v].Name, err)
		}
		w.codec.set(v, image)
	}
	e.values = w.codec.checksum()
	return nil
}

// checkImage reports an image that is not of a view.
func (l *Layout) checkImage(view int, e *tfm.Envelope) error {
	switch {
	case e == nil:
		return errors.New("image nil: want one")
	case e.Grid != l.Grid:
		return fmt.Errorf("image on the grid %+v: want %+v", e.Grid, l.Grid)
	case len(e.Data) != l.Grid.Len():
		return fmt.Errorf("image of %d values: want %d, one a pixel", len(e.Data), l.Grid.Len())
	case e.States != nil && len(e.States) != l.Grid.Len():
		return fmt.Errorf("image with %d states: want %d, one a pixel, or none", len(e.States), l.Grid.Len())
	case e.Quantity != tfm.Amplitude:
		return fmt.Errorf("image of the quantity %v: want %v", e.Quantity, tfm.Amplitude)
	}
	if highestBits(e.Data) >= math.Float32bits(float32(math.Inf(1))) {
		for i, v := range e.Data {
			if !(v >= 0) || v > math.MaxFloat32 {
				return fmt.Errorf("amplitude %v of pixel %d: want a finite value, not negative", v, i)
			}
		}
	}
	held := l.Views[view].States
	if l.FrameStates || slices.Equal(e.States, held) {
		return nil
	}
	for i := range e.Data { // one of them may be nil
		want := tfm.State(0)
		if held != nil {
			want = held[i]
		}
		if s := e.State(i); s != want {
			return fmt.Errorf("state %v of pixel %d: want %v, as in all frames of the layout", s, i, want)
		}
	}
	return nil
}

// highestBits returns the highest representation of a value. The representations of all negative
// values, of infinity and of NaN are above the representations of all others.
func highestBits(values []float32) (highest uint32) {
	for _, v := range values {
		highest = max(highest, math.Float32bits(v))
	}
	return highest
}

// put writes a frame, and then the line that says so.
func (w *Writer) put(i int, e entry) error {
	if e.state == Imaged {
		if err := w.write(i); err != nil {
			return err
		}
	}
	w.line = append(e.appendLine(w.line[:0], w.table.from+i), '\n')
	if _, err := w.journal.Write(w.line); err != nil {
		return err
	}
	w.table.entries[i], w.stale = e, true
	return nil
}

// Finish completes the stack and closes it. Frames that are not done are missing then: the scan has
// no such frames. Everything is brought to the disk before the .json file gets its name. A crash
// leaves a stack that Create goes on with.
func (w *Writer) Finish() error {
	if w.journal == nil {
		return errClosed
	}
	for i := range w.table.entries {
		if e := &w.table.entries[i]; !e.known() {
			e.state = Missing
		}
	}
	return w.commit()
}

// commit completes the stack and closes it. Frames that are not imaged stay so.
func (w *Writer) commit() error {
	defer w.Close()
	if w.err != nil {
		return w.err
	}
	if err := w.finish(); err != nil {
		return fmt.Errorf("stack: %s: %w", w.names.table, err)
	}
	return nil
}

// finish writes what is left to write, and the .json file last.
func (w *Writer) finish() error {
	if w.stale {
		if err := w.complete(); err != nil {
			return err
		}
	}
	err := w.journal.Close()
	w.journal = nil
	return errors.Join(err, os.Remove(w.names.journal))
}

func (w *Writer) complete() error {
	w.codec.fill()
	for i := range w.table.entries {
		if w.table.entries[i].state != Imaged {
			if err := w.write(i); err != nil {
				return err
			}
		}
	}
	if err := errors.Join(w.values.file.Sync(), w.states.file.Sync()); err != nil {
		return err
	}
	temporary := w.names.table + ".tmp"
	f, err := os.Create(temporary)
	if err != nil {
		return err
	}
	_, err = f.Write(appendTable(nil, w.table))
	if err := errors.Join(err, disk.Finish(f)); err != nil {
		return errors.Join(err, os.Remove(temporary))
	}
	folder := filepath.Dir(w.names.table)
	if err := disk.SyncFolder(folder); err != nil { // otherwise the table may reach the disk alone
		return err
	}
	if err := os.Rename(temporary, w.names.table); err != nil {
		return err
	}
	return disk.SyncFolder(folder)
}

// Close closes a stack that is not finished. [Create] goes on with it. After Finish it does
// nothing.
func (w *Writer) Close() error {
	err := errors.Join(w.values.close(), w.states.close())
	if w.journal != nil {
		err = errors.Join(err, w.journal.Close())
		w.journal = nil
	}
	return err
}
