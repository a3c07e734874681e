// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
)

func TestReadNotes(t *testing.T) {
	tests := []struct {
		name, json string
		want       map[string]any
	}{
		{"none", `{}`, nil},
		{"text and number", `{"operator": "N. N.", "gain_db": -1.5e1}`,
			map[string]any{"operator": "N. N.", "gain_db": -15.0}},
		{"names of other scripts and in capitals", `{"Prüfer": "", "探头": "é", "a b": 1}`,
			map[string]any{"Prüfer": "", "探头": "é", "a b": 1.0}},
		{"names of fields", `{"title": "x", "scan": 0, "notes": "y"}`,
			map[string]any{"title": "x", "scan": 0.0, "notes": "y"}},
		{"escapes", `{"\u0061\"": "\u00e9\\\/ \ud83d\ude00"}`, map[string]any{`a"`: `é\/ 😀`}},
		{"longest",
			fmt.Sprintf(`{"%s": "%s"}`, strings.Repeat("n", maxName), strings.Repeat("x", maxText)),
			map[string]any{strings.Repeat("n", maxName): strings.Repeat("x", maxText)}},
	}
	for _, test := range tests {
		r, err := read(withNotes(test.json), plainFile())
		if err != nil {
			t.Errorf("%s: %v", test.name, err)
			continue
		}
		if diff := cmp.Diff(test.want, r.Notes); diff != "" {
			t.Errorf("%s: notes (-want +got):\n%s", test.name, diff)
		}
	}
}

func TestNoteFaults(t *testing.T) {
	many := make([]string, maxNotes+1)
	for i := range many {
		many[i] = fmt.Sprintf(`"%d": %d`, i, i)
	}
	tests := []struct{ name, notes, want string }{
		{"text", `"a"`, "notes"},
		{"list", `[]`, "notes"},
		{"null", `null`, "notes"},
		{"null inside", `{"a": null}`, `notes["a"]`},
		{"truth value", `{"a": true}`, `notes["a"]`},
		{"object inside", `{"a": {"b": 1}}`, `notes["a"]`},
		{"list inside", `{"a": [1]}`, `notes["a"]`},
		{"too many", "{" + strings.Join(many, ",") + "}", "want 100 at most"},
		{"twice", `{"a": 1, "a": 1}`, `"a" is repeated`},
		{"twice, once by an escape", `{"a": 1, "\u0061": 1}`, `"a" is repeated`},
		{"number beyond float64", `{"a": 1e999}`, "1e999"},
		{"empty name", `{"": 1}`, "want a name for every note"},
		{"long name", `{"` + strings.Repeat("n", maxName+1) + `": 1}`,
			"of 256 bytes: want 255 bytes at most"},
		{"long text", `{"a": "` + strings.Repeat("x", maxText+1) + `"}`,
			`notes["a"] of 1001 bytes: want 1000 bytes at most`},
		{"line break in a text", `{"a": "b\nc"}`,
			`notes["a"] "b\nc": want one line of visible text without the character U+000A`},
		{"escape character in a name", `{"a\u001b[2J": 1}`, `"a\x1b[2J"`},
		{"half a surrogate pair", `{"a": "\ud800"}`, `notes["a"]`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, err := read(withNotes(test.notes), plainFile())
			wantFault(t, err, ErrSetup, test.want)
		})
	}
}

// TestUnknownFieldsNameNotes: the error of an unknown field names the notes, where such a field
// belongs.
func TestUnknownFieldsNameNotes(t *testing.T) {
	for _, field := range []string{`"gain_db": 1, `, `"Gain": 1, `} {
		for _, before := range []string{`"title"`, `"file"`, `"name": "water"`, `"x_m"`} {
			setup := strings.Replace(plain, before, field+before, 1)
			_, err := read(setup, plainFile())
			wantFault(t, err, ErrSetup, "unknown field")
			wantFault(t, err, ErrSetup, "of your own go into the object notes")
		}
	}
}

func TestWriteNotesRefuses(t *testing.T) {
	for _, test := range []struct {
		name string
		note any
		want string
	}{
		{"int", 32, `notes["gain"] of type int: want a text (string) or a number (float64)`},
		{"nil", nil, `notes["gain"] of type <nil>`},
		{"NaN", math.NaN(), `notes["gain"] NaN: want a finite number`},
		{"Inf", math.Inf(-1), `notes["gain"] -Inf`},
		{"not UTF-8", "\xff", `notes["gain"] "\xff": want UTF-8`},
		{"tab", "a\tb", `without the character U+0009`},
	} {
		r := invented(t, fmc.HalfPairs(3))
		r.Notes = map[string]any{"gain": test.note, "ok": 1.0}
		var setup, array bytes.Buffer
		wantFault(t, Write(&setup, &array, "a.npy", r, Int16), ErrSetup, test.want)
		wantFault(t, r.Validate(), ErrSetup, test.want)
	}
}
