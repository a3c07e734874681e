// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestViews lists the 21 views of up to one skip per path. The number 21 is common practice, no
// source; it is 6·7/2 for 6 paths.
func TestViews(t *testing.T) {
	var got []string
	skips := map[int]int{}
	for v := range Views(1) {
		got = append(got, v.String())
		skips[v.skips()]++
	}
	want := []string{
		"L-L", "T-L", "T-T",
		"LL-L", "LL-T", "LT-L", "LT-T", "TL-L", "TL-T", "TT-L", "TT-T",
		"LL-LL", "LT-LL", "LT-TL", "TL-LL", "TL-TL", "TL-LT", "TT-LL", "TT-TL", "TT-LT", "TT-TT",
	}
	if !cmp.Equal(got, want) {
		t.Errorf("views differ (-want +got):\n%s", cmp.Diff(want, got))
	}
	if want := map[int]int{0: 3, 1: 8, 2: 10}; !cmp.Equal(skips, want) {
		t.Errorf("%v views by skips, want %v", skips, want)
	}
}

// TestViewsUnique checks for more skips that no view comes twice, that no view comes with its
// reciprocal view, and that all combinations come.
func TestViewsUnique(t *testing.T) {
	for skips := -1; skips <= 3; skips++ {
		seen := map[string]bool{}
		count := 0
		for v := range Views(skips) {
			count++
			if seen[v.String()] {
				t.Errorf("%v comes twice", v)
			}
			seen[v.String()] = true
			seen[v.Reciprocal().String()] = true
			if back := v.Reciprocal().Reciprocal(); !cmp.Equal(back, v) {
				t.Errorf("%v, exchanged twice, is %v", v, back)
			}
			if same := v.Reciprocal().String() == v.String(); same != v.Symmetric() {
				t.Errorf("%v is its own reciprocal: %v, symmetric: %v", v, same, v.Symmetric())
			}
			if len(v.Transmit) < len(v.Receive) {
				t.Errorf("%v skips more on receive", v)
			}
		}
		paths := 1<<(skips+2) - 2 // 2 + 4 + ...
		if want := paths * (paths + 1) / 2; count != want {
			t.Errorf("%d views of up to %d skips, want %d", count, skips, want)
		}
		if len(seen) != paths*paths {
			t.Errorf("%d views and reciprocals of up to %d skips, want %d",
				len(seen), skips, paths*paths)
		}
	}
	for v := range Views(1) {
		if v.skips() > 0 {
			break // the sequence must bear it
		}
	}
}

// The views in which a point below the array is seen directly or by one skip.
func ExampleViews() {
	for v := range Views(1) {
		if v.skips() == 1 {
			fmt.Print(v, " ")
		}
	}
	// Output: LL-L LL-T LT-L LT-T TL-L TL-T TT-L TT-T
}
