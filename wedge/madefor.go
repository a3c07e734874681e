// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"iter"
	"math"
	"reflect"

	"gonum.org/v1/gonum/spatial/r3"
)

// MadeFor says what a table of times was made for. The zero value says nothing.
type MadeFor struct {
	Elements, Points Places
	// Path is how the times were found: a [*Path], or any value that identifies a path of
	// another solver. Two paths are equal if reflect.DeepEqual finds them equal. Nil stands
	// for an unknown path.
	Path any
}

// Equal reports whether m and o name the same elements, points and path. Tables whose
// paths are not nil then hold the same times.
func (m MadeFor) Equal(o MadeFor) bool {
	return m.Elements == o.Elements && m.Points == o.Points && reflect.DeepEqual(m.Path, o.Path)
}

// Places identifies a list of places, such as the points of a grid, in little memory. Two values
// are equal (==) if their places are the same.
//
// Coordinates are compared after they are rounded to 2^-30 m, about a nanometre. So the same
// places are recognised although another computation gave them other rounding errors. The
// exception is a coordinate within its rounding error of the middle between two such steps.
type Places struct {
	Count       int
	First, Last r3.Vec            // rounded, m
	Hash        [sha256.Size]byte // the SHA-256 sum of all rounded coordinates in their order
}

// PlacesOf returns the identity of places with coordinates in m.
func PlacesOf(places iter.Seq[r3.Vec]) Places {
	const coordinate, vector = 8, 24
	var block [128 * vector]byte
	var id Places
	hash := sha256.New()
	n := 0
	for p := range places {
		id.Last = p
		if id.Count == 0 {
			id.First = p
		}
		id.Count++
		for i, v := range [...]float64{p.X, p.Y, p.Z} {
			binary.LittleEndian.PutUint64(block[n+i*coordinate:], math.Float64bits(steps(v)))
		}
		if n += vector; n == len(block) {
			hash.Write(block[:])
			n = 0
		}
	}
	hash.Write(block[:n])
	hash.Sum(id.Hash[:0])
	id.First, id.Last = rounded(id.First), rounded(id.Last)
	return id
}

const stepsPerMetre = 1 << 30

// steps returns a coordinate in m as a whole number of steps. It returns 0 for -0.
func steps(v float64) float64 { return math.RoundToEven(v*stepsPerMetre) + 0 }

// rounded returns p with coordinates that are rounded to whole steps, in m.
func rounded(p r3.Vec) r3.Vec {
	return r3.Vec{X: steps(p.X) / stepsPerMetre, Y: steps(p.Y) / stepsPerMetre, Z: steps(p.Z) / stepsPerMetre}
}

// String returns the number of places, the first and the last one in m, and the beginning
// of their hash.
func (p Places) String() string {
	return fmt.Sprintf("%d from (%.6g, %.6g, %.6g) to (%.6g, %.6g, %.6g) m, hash %x",
		p.Count, p.First.X, p.First.Y, p.First.Z, p.Last.X, p.Last.Y, p.Last.Z, p.Hash[:4])
}
