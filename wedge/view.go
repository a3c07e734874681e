// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"slices"
	"strings"

	"github.com/isochron-imaging/isochron/material"
)

// View names how a picture is made: the wave on each leg inside the part, on
// the way in and on the way out. Both are in order of travel, so the receiving
// path runs from the image point back to the array.
type View struct {
	Transmit, Receive []material.Mode
}

// ParseView reads a view: a letter L or T a leg, the transmit path, a hyphen,
// the receive path. "TT-T" goes down as a transverse wave, skips once off the
// back wall as a transverse wave, and returns directly as one.
func ParseView(name string) (View, error) {
	transmit, receive, found := strings.Cut(name, "-")
	if !found {
		return View{}, fmt.Errorf("wedge: view %q: want a transmit path, a hyphen and a receive path, such as T-T or TT-T", name)
	}
	tx, ok1 := parseModes(transmit)
	rx, ok2 := parseModes(receive)
	if !ok1 || !ok2 {
		return View{}, fmt.Errorf("wedge: view %q: want at least one letter L or T on each side of the hyphen, such as T-T or TT-T", name)
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

// Symmetric reports whether the way out of v is the way in, reversed.
func (v View) Symmetric() bool { return slices.Equal(v.Transmit, v.outbound()) }

// outbound returns the legs of the receiving path in order from the array.
func (v View) outbound() []material.Mode {
	modes := slices.Clone(v.Receive)
	slices.Reverse(modes)
	return modes
}
