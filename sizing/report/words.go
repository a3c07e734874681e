// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/tfm"
)

// word is a word of the table of flaws with its meaning.
type word struct{ Name, Meaning string }

// meanings are the words in the order in which the page explains them.
var meanings = []struct {
	word
	used func(f *flaw.Flaw) bool
}{
	{word{"planar", "echoes like a crack or a lack of fusion: tips, a corner or a face."}, func(f *flaw.Flaw) bool { return f.Kind == flaw.Planar }},
	{word{"point", "echoes like a small or round reflector. Its place is the place of its near side."}, func(f *flaw.Flaw) bool { return f.Kind == flaw.Point }},
	{word{"geometry", "an echo of a surface or of a known shape of the part."}, func(f *flaw.Flaw) bool { return f.Kind == flaw.Geometry }},
	{word{"unknown", "too little evidence for another kind."}, func(f *flaw.Flaw) bool { return f.Kind == flaw.Unknown }},
	{word{"at least", "the picture shows a part of the flaw. The flaw may be longer, up to any length."}, func(f *flaw.Flaw) bool { return f.Kind != flaw.Geometry && f.LengthIs == tips.LowerBound }},
	{word{"not resolved", "the picture is not larger than the picture of a point. A smooth flaw that mirrors the sound away may have any length, and so may a flaw of which one tip shows."}, func(f *flaw.Flaw) bool { return f.Kind != flaw.Geometry && f.LengthIs == tips.Unresolved }},
	{word{"tips", "the length is the distance of the echoes of both tips."}, func(f *flaw.Flaw) bool { return f.Method == flaw.FromTips }},
	{word{"tip and wall", "the length is the distance from the echo of the tip to the foot on the back wall."}, func(f *flaw.Flaw) bool { return f.Method == flaw.FromTipAndWall }},
	{word{"drop", "the length is the length of the contour in the picture, at a drop below the peak."}, func(f *flaw.Flaw) bool { return f.Kind != flaw.Geometry && f.Method == flaw.FromDrop }},
}

// wordsOf returns the words that a list uses.
func wordsOf(flaws []flaw.Flaw) (words []word) {
	for _, m := range meanings {
		for i := range flaws {
			if m.used(&flaws[i]) {
				words = append(words, m.word)
				break
			}
		}
	}
	return words
}

// reason says what a state of pixels means, by its name in package tfm.
func reason(state string) string {
	for _, s := range []struct {
		state tfm.State
		text  string
	}{
		{tfm.NoRay, "no ray reaches some pixels"},
		{tfm.BeforeRecord, "the record begins after the echo of some pixels"},
		{tfm.AfterRecord, "the record ends before the echo of some pixels"},
		{tfm.Blank, "no trace adds to some pixels"},
		{tfm.CoarseGrid, "the pixels lie too far apart"},
		{tfm.Clipped, "the receiver clipped"},
		{tfm.GainLimited, "the gain is limited"},
		{tfm.PartlyInsonified, "some waves do not reach the pixels"},
	} {
		if s.state.String() == state {
			return s.text
		}
	}
	return state
}
