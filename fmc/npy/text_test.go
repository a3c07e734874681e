// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
)

// hostile are texts that act on a terminal, or that look like other texts.
var hostile = []struct{ name, text string }{
	{"escape sequence", "t\x1b]0;owned\x07"},
	{"NUL", "a.npy\x00.txt"},
	{"backspace", "bad\b\b\bgood"},
	{"carriage return", "rejected\raccepted"},
	{"line break", "a\nb"},
	{"tab", "a\tb"},
	{"DEL", "a\x7f"},
	{"C1 control sequence introducer", "a\u009b2J"},
	{"right-to-left override", "a\u202eyna"},
	{"bidirectional isolate", "a\u2066b"},
	{"right-to-left mark", "a\u200fb"},
	{"line separator", "a\u2028b"},
	{"paragraph separator", "a\u2029b"},
	{"zero width space", "a\u200bb"},
	{"byte order mark", "\ufeffa"},
	{"tag characters", "a\U000e0041"},
	{"damaged text", "a\ufffd"},
	{"too long", strings.Repeat("x", maxText+1)},
}

// TestHostileTexts puts each hostile text into every text of a set-up, and of a record that is to
// be written. The text is refused, with an error that is short and visible.
func TestHostileTexts(t *testing.T) {
	fields := []struct{ name, field string }{
		{"title", `"title": "t"`},
		{"file", `"file": "a.npy"`},
		{"order", `"order": "pair, sample"`},
		{"name of the coupling", `"name": "water"`},
		{"name of the part", `"name": "steel"`},
		{"shape", `"shape": "plane"`},
		{"note", `"notes": {"a": "text"}`},
	}
	setup := withNotes(`{"a": "text"}`)
	check := func(name string, err error) {
		t.Helper()
		wantFault(t, err, ErrSetup, "")
		if text := err.Error(); !visible(text) || len(text) > 2000 {
			t.Errorf("%s: error of %d bytes, %.200q: want a short one that is visible", name,
				len(text), text)
		}
	}
	for _, h := range hostile {
		escaped := strings.Trim(strconv.QuoteToASCII(h.text), `"`)
		raw, err := json.Marshal(h.text)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range fields {
			name, _, _ := strings.Cut(f.field, ": ")
			changed := name + ": " + string(raw)
			if f.name == "note" {
				changed = `"notes": {"a": ` + string(raw) + `}`
			}
			if !strings.Contains(setup, f.field) {
				t.Fatalf("%s: nothing to replace", f.name)
			}
			_, err := read(strings.Replace(setup, f.field, changed, 1), plainFile())
			check(f.name+", "+h.name+", "+escaped, err)
		}
		_, err = read(withNotes(`{`+string(raw)+`: 1}`), plainFile())
		check("name of a note, "+h.name, err)
		_, err = read(strings.Replace(plain, `"title"`, string(raw)+`: 1, "title"`, 1), plainFile())
		check("unknown field, "+h.name, err)
		_, err = read(strings.Replace(plain, `"x_m"`, string(raw)+`: 1, "x_m"`, 1), plainFile())
		check("unknown field inside, "+h.name, err)

		for place, change := range map[string]func(*Record){
			"title":     func(r *Record) { r.Title = h.text },
			"note":      func(r *Record) { r.Notes = map[string]any{"a": h.text} },
			"note name": func(r *Record) { r.Notes = map[string]any{h.text: 1.0} },
			"coupling":  func(r *Record) { r.Coupling.Name = h.text },
			"part":      func(r *Record) { r.Part.Name = h.text },
		} {
			r := invented(t, fmc.HalfPairs(3))
			change(r)
			check("written "+place+", "+h.name,
				Write(new(bytes.Buffer), new(bytes.Buffer), "a.npy", r, Int16))
		}
		check("written file, "+h.name,
			Write(new(bytes.Buffer), new(bytes.Buffer), h.text, invented(t, fmc.HalfPairs(3)),
				Int16))
		if !strings.Contains(h.text, "\x00") { // no file system takes NUL
			dir := t.TempDir()
			check("written path, "+h.name,
				WriteFile(filepath.Join(dir, h.text+".json"), invented(t, fmc.HalfPairs(3)), Int16))
			wantFiles(t, dir)
		}
	}
}
