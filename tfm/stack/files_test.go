// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
)

// text returns the .json file and the journal of an invented stack.
func text(tb testing.TB) (table, journal []byte) {
	l := invented(Int16)
	name := filepath.Join(tb.TempDir(), "a.json")
	w := check.Must(Create(name, l, 1, 6))
	for _, err := range []error{
		w.Put(frame(3), images(l, 3)),
		w.Put(Frame{Index: 2, State: Refused, Reason: `sample "NaN"`, Position: math.Inf(1)}, nil),
	} {
		if err != nil {
			tb.Fatal(err)
		}
	}
	journal = check.Must(os.ReadFile(w.names.journal))
	if err := w.Finish(); err != nil {
		tb.Fatal(err)
	}
	return check.Must(os.ReadFile(name)), journal
}

var sameTable = cmp.Options{cmp.AllowUnexported(table{}, entry{}), cmpopts.EquateNaNs()}

// FuzzTable parses .json files and journals. What is parsed is written and parsed again without a
// change.
func FuzzTable(f *testing.F) {
	table, journal := text(f)
	f.Add(table)
	f.Add(journal)
	f.Add(bytes.Replace(table, []byte(`"to":6`), []byte(`"to":1000001`), 1))
	f.Fuzz(func(t *testing.T, data []byte) {
		if parsed, length, err := parseJournal(data); err == nil && (length > len(data) || len(parsed.entries) != parsed.to-parsed.from) {
			t.Errorf("%d of %d bytes, %d entries from %d to %d", length, len(data), len(parsed.entries), parsed.from, parsed.to)
		}
		parsed, err := parseTable(data)
		if err != nil {
			return
		}
		again, err := parseTable(appendTable(nil, parsed))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(parsed, again, sameTable); diff != "" {
			t.Errorf("parsed again (-want +got):\n%s", diff)
		}
	})
}

// TestBadFiles: each fault of a file is an error that says what is wrong.
func TestBadFiles(t *testing.T) {
	table, _ := text(t)
	replace := func(from, to string) func(names) {
		return func(n names) {
			if !bytes.Contains(table, []byte(from)) {
				t.Fatalf("no %q in the table", from)
			}
			os.WriteFile(n.table, bytes.Replace(table, []byte(from), []byte(to), 1), 0o644)
		}
	}
	cut := func(pick func(names) string, by int64) func(names) {
		return func(n names) { os.Truncate(pick(n), check.Must(os.Stat(pick(n))).Size()-by) }
	}
	values := func(n names) string { return n.values }
	states := func(n names) string { return n.states }
	for _, test := range []struct {
		name   string
		damage func(names)
		words  []string
	}{
		{"format", replace("isochron stack 1", "isochron stack 2"), []string{`"isochron stack 2"`, "want"}},
		{"type", replace("int16 level in 0.01 dB", "float64"), []string{`"float64"`}},
		{"unknown field", replace(`"pitch"`, `"step":1,"pitch"`), []string{"step"}},
		{"range", replace(`"to":6`, `"to":7`), []string{"from 1 to 7"}},
		{"pitch", replace(`"pitch":0.001`, `"pitch":0`), []string{"pitch 0 m"}},
		{"grid", replace(`"cols":7`, `"cols":0`), []string{"grid"}},
		{"cols", replace(`"cols":7`, `"cols":8`), []string{"header"}},
		{"view twice", replace(`"TT-T"`, `"T-T"`), []string{`"T-T"`, "different"}},
		{"reference", replace(`"reference":250`, `"reference":-250`), []string{"-250"}},
		{"states_sum", replace(`"states_sum":"`, `"states_sum":"x`), []string{"checksum"}},
		{"other states_sum", replace(`"states_sum":"`, `"states_sum":"0`), []string{"checksum"}},
		{"index", replace(`{"index": 3`, `{"index": 4`), []string{"index 4", "want 3"}},
		{"line missing", replace("{\"index\": 1, \"state\": \"missing\"},\n", ""), []string{"index 2", "want 1"}},
		{"state", replace(`"refused"`, `"lost"`), []string{`"lost"`}},
		{"reason", replace(`, "reason": "sample \"NaN\""`, ""), []string{"reason"}},
		{"position", replace(`"position": 0.003, `, ""), []string{"position NaN"}},
		{"position of a missing frame", replace(`"missing"}`, `"missing", "position": 1}`), []string{"missing", "want none"}},
		{"values", replace(`"values": "`, `"values": "z`), []string{"checksum"}},
		{"cut", cut(func(n names) string { return n.table }, 5), []string{"list of frames"}},
		{"values cut", cut(values, 1), []string{"a.npy", "bytes: want"}},
		{"states cut", cut(states, 1), []string{"a-states.npy"}},
		{"values missing", func(n names) { os.Remove(n.values) }, []string{"a.npy"}},
		{"states changed", func(n names) {
			b := check.Must(os.ReadFile(n.states))
			b[len(b)-1]++
			os.WriteFile(n.states, b, 0o644)
		}, []string{"a-states.npy", "checksum"}},
		{"no table", func(n names) { os.Remove(n.table) }, []string{"a.json"}},
	} {
		l := invented(Int16)
		name := filepath.Join(t.TempDir(), "a.json")
		w := check.Must(Create(name, l, 1, 6))
		if err := w.Put(frame(3), images(l, 3)); err != nil {
			t.Fatal(err)
		}
		if err := w.Finish(); err != nil {
			t.Fatal(err)
		}
		test.damage(check.Must(namesOf(name)))
		s, err := Open(name)
		if err == nil {
			s.Close()
			t.Errorf("%s: no error", test.name)
			continue
		}
		check.Error(t, err, test.words...)
	}
}

// TestBadBytes: a frame whose bytes have changed is an error, and so is a file that is cut short
// while it is open.
func TestBadBytes(t *testing.T) {
	l := invented(Float32)
	name := filepath.Join(t.TempDir(), "a.json")
	w := check.Must(Create(name, l, 0, 6))
	for i := range 6 {
		if err := w.Put(frame(i), images(l, i)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Finish(); err != nil {
		t.Fatal(err)
	}
	values := check.Must(namesOf(name)).values
	b := check.Must(os.ReadFile(values))
	b[len(b)-3]++
	if err := os.WriteFile(values, b, 0o644); err != nil {
		t.Fatal(err)
	}
	s := check.Must(Open(name))
	defer s.Close()
	check.Must(s.Envelope(nil, 4, 1))
	_, err := s.Envelope(nil, 5, 0)
	check.Error(t, err, "frame 5", "checksum")
	_, err = Project(background, []Source{{Stack: s}}, nil)
	check.Error(t, err, "frame 5", "checksum")
	_, err = s.Envelope(nil, 4, 2)
	check.Error(t, err, "view 2", "0 to 1")
	if err := os.Truncate(values, 200); err != nil {
		t.Skip("a file that is open cannot be cut on this system")
	}
	if _, err := s.Envelope(nil, 5, 0); err == nil {
		t.Error("no error for a file that was cut short")
	}
	s.Close()
	_, err = s.Envelope(nil, 4, 1)
	check.Error(t, err, "closed")
}

// TestBadPuts names what is wrong with a frame or an image, and leaves the stack as it was.
func TestBadPuts(t *testing.T) {
	l := invented(Int16)
	w := check.Must(Create(filepath.Join(t.TempDir(), "a.json"), l, 1, 6))
	edited := func(edit func(e *tfm.Envelope)) []*tfm.Envelope {
		all := images(l, 1)
		edit(all[1])
		return all
	}
	at := func(edit func(f *Frame)) Frame {
		f := frame(1)
		edit(&f)
		return f
	}
	for _, test := range []struct {
		name   string
		frame  Frame
		images []*tfm.Envelope
		words  []string
	}{
		{"index", frame(0), images(l, 1), []string{"frame 0", "1 to 5"}},
		{"state", at(func(f *Frame) { f.State = Missing }), images(l, 1), []string{"missing"}},
		{"position", at(func(f *Frame) { f.Position = math.NaN() }), images(l, 1), []string{"position NaN m"}},
		{"across", at(func(f *Frame) { f.Across = math.Inf(1) }), images(l, 1), []string{"position across +Inf m"}},
		{"time", at(func(f *Frame) { f.Time = math.NaN() }), images(l, 1), []string{"time NaN s"}},
		{"reason of an image", at(func(f *Frame) { f.Reason = "x" }), images(l, 1), []string{"reason"}},
		{"no reason", at(func(f *Frame) { f.State = Refused }), nil, []string{"reason"}},
		{"images of a refused frame", at(func(f *Frame) { f.State, f.Reason = Refused, "x" }), images(l, 1), []string{"want none"}},
		{"views", frame(1), images(l, 1)[:1], []string{"1 images: want 2"}},
		{"no image", frame(1), make([]*tfm.Envelope, 2), []string{"nil"}},
		{"grid", frame(1), edited(func(e *tfm.Envelope) { e.Cols-- }), []string{"grid", "TT-T"}},
		{"values", frame(1), edited(func(e *tfm.Envelope) { e.Data = e.Data[1:] }), []string{"34 values"}},
		{"NaN", frame(1), edited(func(e *tfm.Envelope) { e.Data[4] = float32(math.NaN()) }), []string{"amplitude NaN of pixel 4"}},
		{"infinite", frame(1), edited(func(e *tfm.Envelope) { e.Data[4] = float32(math.Inf(1)) }), []string{"amplitude +Inf of pixel 4"}},
		{"negative", frame(1), edited(func(e *tfm.Envelope) { e.Data[4] = -1 }), []string{"amplitude -1 of pixel 4"}},
		{"states", frame(1), edited(func(e *tfm.Envelope) { e.States = e.States[1:] }), []string{"34 states"}},
		{"no states", frame(1), edited(func(e *tfm.Envelope) { e.States = nil }), []string{"state complete of pixel 3: want no ray"}},
		{"quantity", frame(1), edited(func(e *tfm.Envelope) { e.Quantity = tfm.WeightedAmplitude }), []string{"weighted amplitude"}},
	} {
		err := w.Put(test.frame, test.images)
		if err == nil {
			t.Errorf("%s: no error", test.name)
			continue
		}
		check.Error(t, err, test.words...)
	}
	for i := range 6 {
		if done := w.Done(i); done != (i == 0) {
			t.Errorf("frame %d done: %v", i, done)
		}
	}
	if err := w.Put(frame(1), images(l, 1)); err != nil {
		t.Fatal(err)
	}
	before := check.Must(os.ReadFile(w.names.journal))
	if err := w.Put(frame(1), nil); err != nil || !bytes.Equal(before, check.Must(os.ReadFile(w.names.journal))) {
		t.Errorf("a frame that is done was written again, or %v", err)
	}
	w.Close()
	if err := w.Put(frame(1), images(l, 1)); err == nil {
		t.Error("no error after Close")
	}
	if err := w.Finish(); err == nil {
		t.Error("no error after Close")
	}
}

// TestCodes writes amplitudes at the ends of the codes of Int16.
func TestCodes(t *testing.T) {
	l := &Layout{
		Grid:  check.Must(tfm.NewSection(0, 6e-3, 0, 0, 1e-3)),
		Views: []View{{Name: "v", Reference: 2}}, Frames: 1, Pitch: 1, Values: Int16,
	}
	e := tfm.NewImage(l.Grid).Envelope(nil)
	copy(e.Data, []float32{0, 2, 1, 2e-17, 1e-16, 2e16, 3e38})
	name := filepath.Join(t.TempDir(), "a.json")
	w := check.Must(Create(name, l, 0, 1))
	if err := w.Put(Frame{State: Imaged}, []*tfm.Envelope{e}); err != nil {
		t.Fatal(err)
	}
	if err := w.Finish(); err != nil {
		t.Fatal(err)
	}
	b := check.Must(os.ReadFile(check.Must(namesOf(name)).values))
	b = b[len(b)-2*7:]
	// 20·log10(1/2) is -6.0206 dB; 1e-16/2 is -326.02 dB; 1e16 is 320 dB.
	for i, want := range []int16{below, 0, -602, below, -32602, 32000, above} {
		if got := int16(uint16(b[2*i]) | uint16(b[2*i+1])<<8); got != want {
			t.Errorf("amplitude %v has the code %d, want %d", e.Data[i], got, want)
		}
	}
}
