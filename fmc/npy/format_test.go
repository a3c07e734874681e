// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// TestFormat: FORMAT.md describes the fields that are written, and no others.
func TestFormat(t *testing.T) {
	text := string(check.Must(os.ReadFile("FORMAT.md")))
	_, table, _ := strings.Cut(text, "| field | value |")
	table, _, _ = strings.Cut(table, "Sample k of a trace")
	described := map[string]bool{}
	for _, row := range strings.Split(table, "\n") {
		cells := strings.Split(row, "|")
		if len(cells) < 3 {
			continue
		}
		for _, name := range regexp.MustCompile("`([^`]+)`").FindAllStringSubmatch(cells[1], -1) {
			described[name[1]] = true
		}
	}
	written := map[string]bool{}
	for _, r := range variants(t) {
		r.Notes = nil // which have any names
		var setup bytes.Buffer
		frames := []fmc.Frame{{Across: 1, Count: 1}}
		if err := writeDescription(&setup, r, "a.npy", frames); err != nil {
			t.Fatal(err)
		}
		var tree any
		if err := json.Unmarshal(setup.Bytes(), &tree); err != nil {
			t.Fatal(err)
		}
		names(tree, written)
	}
	for name := range written {
		if !described[name] {
			t.Errorf("FORMAT.md does not describe the field %s", name)
		}
	}
	for name := range described {
		if !written[name] && name != "notes" {
			t.Errorf("FORMAT.md describes the field %s, which is never written", name)
		}
	}
}

// names adds the names of all fields in a tree of JSON to a set.
func names(tree any, set map[string]bool) {
	switch v := tree.(type) {
	case []any:
		for _, element := range v {
			names(element, set)
		}
	case map[string]any:
		for name, member := range v {
			set[name] = true
			names(member, set)
		}
	}
}
