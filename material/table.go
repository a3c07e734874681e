// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	_ "embed"
	"fmt"
	"iter"
	"strings"
	"sync"
)

// A Table is a list of published entries on materials. [Handbook] is the table of this package,
// [ReadTable] reads a table of the user, and [Table.Merge] joins two tables. The zero Table is
// empty. A Table does not change after it is made, and goroutines may share it. The returned
// entries are copies.
type Table struct {
	entries []Entry
	byName  map[string][]int // indices by folded name, then by folded alias, each ascending
}

// Handbook returns the table of published values that belongs to this package: metals, wedge
// plastics, glasses, a ceramic and couplants, each entry with its source. It has no composite and
// no change of a plastic's speed with temperature, because no source for these values was
// available.
//
// Handbook values serve for planning. For an examination, measure the speeds on a sample of the
// part and on the wedge in use, as the procedure requires.
func Handbook() Table { return handbook() }

//go:embed handbook.csv
var handbookText string

var handbook = sync.OnceValue(func() Table {
	t, err := ReadTable(strings.NewReader(handbookText))
	if err != nil {
		panic(err) // a fault of the embedded file; every test of Handbook would show it
	}
	return t
})

// newTable returns a table that keeps the slice entries.
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

// plainText returns s with one blank between words and none at its ends.
func plainText(s string) string { return strings.Join(strings.Fields(s), " ") }

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

// Lookup returns the entries with that name, then the entries with that alias. Each group is in the
// order of the table, where the preferred source comes first. Upper and lower case and the number
// of blanks do not matter. The result is nil for a name that t does not have.
func (t Table) Lookup(name string) []Entry {
	var found []Entry
	for _, i := range t.byName[foldName(name)] {
		found = append(found, t.entries[i].clone())
	}
	return found
}

// Find returns the preferred entry of that name, the first entry that [Table.Lookup] returns. The
// error names a material that t does not have.
func (t Table) Find(name string) (Entry, error) {
	indices := t.byName[foldName(name)]
	if len(indices) == 0 {
		return Entry{}, fmt.Errorf("material: no material %q in the table", name)
	}
	return t.entries[indices[0]].clone(), nil
}

// Merge returns a table with the entries of preferred, then the entries of t. For a name in both
// tables, Lookup returns the preferred entries first.
func (t Table) Merge(preferred Table) Table {
	entries := make([]Entry, 0, len(preferred.entries)+len(t.entries))
	return newTable(append(append(entries, preferred.entries...), t.entries...))
}
