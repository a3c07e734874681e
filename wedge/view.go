// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"iter"
	"slices"
	"strings"

	"github.com/isochron-imaging/isochron/material"
)

// View names the waves of an image: the mode of each leg in the part, on the transmitting and on
// the receiving path. Both paths are in order of travel, so the receiving path runs from the image
// point to the array.
type View struct {
	Transmit, Receive []material.Mode
}

// ParseView reads a view: the transmitting path, a hyphen, the receiving path, with one letter L or
// T for each leg. In "TT-T" a transverse wave goes down, skips once off the back wall as a
// transverse wave, and returns directly as a transverse wave.
func ParseView(name string) (View, error) {
	transmit, receive, found := strings.Cut(name, "-")
	if !found {
		return View{}, fmt.Errorf("wedge: view %q: want a transmit path, a hyphen and a receive path, such as T-T or TT-T",
			name)
	}
	tx, ok1 := parseModes(transmit)
	rx, ok2 := parseModes(receive)
	if !ok1 || !ok2 {
		return View{}, fmt.Errorf("wedge: view %q: want at least one letter L or T on each side of the hyphen, such as T-T or TT-T",
			name)
	}
	return View{Transmit: tx, Receive: rx}, nil
}

func parseModes(letters string) (modes []material.Mode, ok bool) {
	for _, letter := range letters {
		switch letter {
		case 'L':
			modes = append(modes, material.L)
		case 'T':
			modes = append(modes, material.T)
		default:
			return nil, false
		}
	}
	return modes, len(modes) > 0
}

// String returns the name of v, such as "TT-T".
func (v View) String() string { return modeNames(v.Transmit) + "-" + modeNames(v.Receive) }

func modeNames(modes []material.Mode) string {
	var b strings.Builder
	for _, m := range modes {
		b.WriteString(m.String())
	}
	return b.String()
}

// Symmetric reports whether the receiving path of v is the reversed transmitting path.
func (v View) Symmetric() bool { return slices.Equal(v.Transmit, v.outbound()) }

// skips returns the number of skips of both paths of v: 0 for a direct view, 1 for a half-skip view
// and 2 for a full-skip view, if neither path skips more than once.
func (v View) skips() int { return max(0, len(v.Transmit)-1) + max(0, len(v.Receive)-1) }

// Reciprocal returns the view with the two paths of v exchanged, each in the other direction. If
// every element transmits and receives, it shows the same image as v.
func (v View) Reciprocal() View {
	transmit := slices.Clone(v.Transmit)
	slices.Reverse(transmit)
	return View{Transmit: v.outbound(), Receive: transmit}
}

// Views yields the views whose paths skip up to the given number of times each, in every
// combination of L and T. Of two reciprocal views it yields the view with at least as many skips on
// transmit. A negative number yields no view, 0 yields 3 direct views. The number 1 yields the 21
// views of all pairs of six paths, as multi-view imaging uses them (common practice, no source):
//
//   - direct: L-L, T-L, T-T;
//   - half-skip: LL-L, LL-T, LT-L, LT-T, TL-L, TL-T, TT-L, TT-T;
//   - full-skip: LL-LL, LT-LL, LT-TL, TL-LL, TL-LT, TL-TL ... TT-TT.
//
// They are in ascending order of the number of skips, then of the skips on transmit.
func Views(skips int) iter.Seq[View] {
	return func(yield func(View) bool) {
		// The paths from the array with each number of legs, L before T.
		var paths [][]material.Mode
		last := [][]material.Mode{nil}
		for range skips + 1 {
			var longer [][]material.Mode
			for _, path := range last {
				longer = append(longer, extended(path, material.L), extended(path, material.T))
			}
			paths = append(paths, longer...)
			last = longer
		}
		for total := range 2*skips + 1 {
			for i, out := range paths {
				for _, back := range paths[:i+1] {
					if len(out)+len(back)-2 != total {
						continue
					}
					v := View{Transmit: slices.Clone(out), Receive: back}
					v.Receive = v.outbound() // a receive path is read towards the array
					if !yield(v) {
						return
					}
				}
			}
		}
	}
}

func extended(path []material.Mode, mode material.Mode) []material.Mode {
	return append(slices.Clone(path), mode)
}

// outbound returns the legs of the receiving path in order from the array.
func (v View) outbound() []material.Mode {
	modes := slices.Clone(v.Receive)
	slices.Reverse(modes)
	return modes
}
