// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package picture draws images of a part, sections in lines, and curves, as PNG or SVG:
//
//	peak, _ := envelope.Peak()
//	levels, err := envelope.Decibels(nil, peak, -30) // the colours show -30 to 0 dB
//	found, err := sizing.Find(envelope, nil)
//	s := picture.Section{
//		Title:      "weld 7, view T-T",
//		Caption:    "T 3230 m/s, pixels of 0.1 mm",
//		Levels:     levels,
//		Part:       [][]r2.Vec{{{X: 0, Y: 16e-3}, {X: 40e-3, Y: 16e-3}}}, // the back wall
//		Reflectors: [][]r2.Vec{picture.Circle(20e-3, 9e-3, 0.75e-3)},     // known to be there
//		Marks:      picture.Marks(found),
//	}
//	err = picture.WriteFile("weld7.png", &s)
//
// A [Section] shows levels in decibels as colours, with a colour bar. Its axes are x and the depth
// z in millimetres, with the same scale. A [Drawing] shows lines on the same axes without levels.
// A [Map] shows a quantity over a surface. A [Chart] shows curves over any two axes.
// [LevelMap] draws the projections and slices of a scan (package tfm/stack) as a Map, and
// [ThicknessMap] a wall (package sizing/thickness). [Reflectors] and [Surfaces] return what is
// known of a part, to draw it over an image. [Panels] puts pictures beside each other, and
// [WriteFile] writes a picture to a file. [Waterfall] makes lines of traces.
//
// # Units
//
// Points are (x, z) in metres: X of an r2.Vec is x, and Y is the depth z, which runs down in the
// picture. Only the points of a Chart are in the units of its axes. Widths of lines are in points
// of 1/72 inch. A picture is at most 24 cm wide and 17 cm high, panels together 34 cm and 18 cm,
// not counting titles, keys and captions. A PNG has 110 dots an inch. An SVG file contains its
// fonts.
//
// # Text
//
// Titles and captions are broken into lines that fit. Characters that control a terminal or
// a printer are left out. The fonts have the Latin, Greek and Cyrillic letters.
//
// # Errors, concurrency, cost
//
// The methods change nothing and may be called at the same time. An error names the field and the
// allowed range. If there is an error, nothing is written. An error of the writer is returned as
// it is.
//
// This is the only package of the library that imports gonum plot. A program that does not
// import this package links none of it.
package picture
