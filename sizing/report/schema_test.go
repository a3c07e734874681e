// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report_test

import (
	"os"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/report"
)

// paths returns the fields of a type as SCHEMA.md names them.
func paths(prefix string, t reflect.Type) (out []string) {
	switch {
	case t.Kind() == reflect.Struct:
		for i := range t.NumField() {
			f := t.Field(i)
			name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			switch {
			case name == "-":
			case f.Anonymous && name == "":
				out = append(out, paths(prefix, f.Type)...)
			default:
				out = append(out, paths(strings.TrimPrefix(prefix+"."+name, "."), f.Type)...)
			}
		}
		return out
	case t.Kind() == reflect.Pointer:
		return paths(prefix, t.Elem())
	case t.Kind() == reflect.Slice && (t.Elem().Kind() == reflect.Struct || t.Elem().Kind() == reflect.Pointer):
		return paths(prefix+"[]", t.Elem())
	}
	return []string{prefix}
}

// TestSchema checks that SCHEMA.md has a row for each field, in the order of the fields, and no
// other row.
func TestSchema(t *testing.T) {
	text := string(check.Must(os.ReadFile("SCHEMA.md")))
	var rows []string
	for _, m := range regexp.MustCompile("(?m)^\\| `([^`]+)` \\|").FindAllStringSubmatch(text, -1) {
		rows = append(rows, m[1])
	}
	if diff := cmp.Diff(paths("", reflect.TypeFor[report.Record]()), rows); diff != "" {
		t.Errorf("fields of the record and rows of SCHEMA.md: %s", diff)
	}
	if !strings.Contains(text, report.Schema) {
		t.Errorf("SCHEMA.md does not name the schema %q", report.Schema)
	}
}
