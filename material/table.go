// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	_ "embed"
	"errors"
	"fmt"
	"iter"
	"strings"
	"sync"
)

// ErrUnknown is the error of a name that a table does not have.
var ErrUnknown = errors.New("material: not in the table")

// A Table is a list of published entries on materials. [Handbook] is the one
// that comes with this package, [ReadTable] reads the user's own, and
// [Table.Merge] joins two. The zero Table is empty. A Table is immutable and may
// be shared between goroutines; the entries that it returns are copies.
type Table struct {
	entries []Entry
	byName  map[string][]int // by folded name, then by folded alias, each in the table's order
}

// Handbook returns the table of published values that comes with this package:
// metals, wedge plastics, glasses, a ceramic and couplants, each entry with its
// source. It states no composite, and no change of a plastic's speed with
// temperature, because no source for them was at hand.
//
// Handbook values serve for planning. For an examination, measure the speeds on
// a sample of the part and the wedge in use, as the procedure says.
func Handbook() Table { return handbook() }

//go:embed handbook.csv
var handbookText string

var handbook = sync.OnceValue(func() Table {
	t, err := ReadTable(strings.NewReader(handbookText))
	if err != nil {
		panic(err) // a fault of the embedded file, which the tests would have shown
	}
	return t
})

// newTable returns a table of entries, which it keeps.
func newTable(entries []Entry) Table {
	t := Table{entries: entries, byName: make(map[string][]int)}
	for i, e := range entries {
		key := foldName(e.Name)
		t.byName[key] = append(t.byName[key], i)
	}
	for i, e := range entries {
		seen := map[string]bool{foldName(e.Name): true}
		for _, alias := range e.Aliases {
			if key := foldName(alias); !seen[key] {
				seen[key] = true
				t.byName[key] = append(t.byName[key], i)
			}
		}
	}
	return t
}

// foldName returns the form in which names are compared.
func foldName(name string) string { return strings.ToLower(plainText(name)) }

// plainText returns s with single blanks between words and none around them.
func plainText(s string) string { return strings.Join(strings.Fields(s), " ") }

// Len returns the number of entries.
func (t Table) Len() int { return len(t.entries) }

// All yields every entry in the order of the table.
func (t Table) All() iter.Seq[Entry] {
	return func(yield func(Entry) bool) {
		for _, e := range t.entries {
			if !yield(e.clone()) {
				return
			}
		}
	}
}

// Lookup returns the entries of that name, then those that have it as an alias,
// each in the order of the table, which puts the preferred source first. Upper
// and lower case and the width of blanks do not matter. It returns nil for a
// name that t does not have.
func (t Table) Lookup(name string) []Entry {
	var found []Entry
	for _, i := range t.byName[foldName(name)] {
		found = append(found, t.entries[i].clone())
	}
	return found
}

// Find returns the first entry that [Table.Lookup] would. The error wraps
// [ErrUnknown].
func (t Table) Find(name string) (Entry, error) {
	indices := t.byName[foldName(name)]
	if len(indices) == 0 {
		return Entry{}, fmt.Errorf("%w: %q", ErrUnknown, name)
	}
	return t.entries[indices[0]].clone(), nil
}

// Merge returns a table with the entries of preferred, then those of t. A name
// that both have finds the preferred entries first, and the others after them.
func (t Table) Merge(preferred Table) Table {
	entries := make([]Entry, 0, len(preferred.entries)+len(t.entries))
	return newTable(append(append(entries, preferred.entries...), t.entries...))
}
