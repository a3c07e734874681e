// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// brute finds indications by their definition, followed word for word and pixel by pixel.
type brute struct {
	env *tfm.Envelope
}

// area returns the pixels of at least least that are connected to p.
func (b brute) area(p int, least float64) map[int]bool {
	area := map[int]bool{p: true}
	for grown := true; grown; {
		grown = false
		for q := range b.env.Data {
			if area[q] || float64(b.env.Data[q]) < least {
				continue
			}
			for r := range area {
				if max(abs(q%b.env.Cols-r%b.env.Cols), abs(q/b.env.Cols-r/b.env.Cols)) == 1 {
					area[q], grown = true, true
					break
				}
			}
		}
	}
	return area
}

func abs(i int) int { return max(i, -i) }

// peaks returns the pixels above 0 that are the highest of their own drop area.
func (b brute) peaks(drop float64) map[int]bool {
	own := map[int]bool{}
	for p, v := range b.env.Data {
		if v == 0 {
			continue
		}
		highest := true
		for q := range b.area(p, float64(v)*sizing.Ratio(-drop)) {
			if b.env.Data[q] > v || b.env.Data[q] == v && q < p {
				highest = false
			}
		}
		if highest {
			own[p] = true
		}
	}
	return own
}

// extents returns the ends of an area whose contour is at level, along x and along z.
func (b brute) extents(area map[int]bool, level float64) (x, z [2]float64) {
	x = [2]float64{math.Inf(1), math.Inf(-1)}
	z = x
	for p := range area {
		at := b.env.Point(p)
		v := float64(b.env.Data[p])
		x[0], x[1] = min(x[0], at.X), max(x[1], at.X)
		z[0], z[1] = min(z[0], at.Z), max(z[1], at.Z)
		for q := range b.env.Data {
			dx, dz := q%b.env.Cols-p%b.env.Cols, q/b.env.Cols-p/b.env.Cols
			if area[q] || abs(dx)+abs(dz) != 1 {
				continue
			}
			t := (v - level) / (v - float64(b.env.Data[q]))
			cx, cz := at.X+t*float64(dx)*b.env.Step.X, at.Z+t*float64(dz)*b.env.Step.Z
			x[0], x[1] = min(x[0], cx), max(x[1], cx)
			z[0], z[1] = min(z[0], cz), max(z[1], cz)
		}
	}
	return x, z
}

// check compares Find with the definition on env.
func (b brute) check(t *testing.T, drop float64) {
	t.Helper()
	found, err := sizing.Find(b.env, &sizing.Options{Drop: drop, Floor: -1000})
	if err != nil {
		t.Fatal(err)
	}
	own := b.peaks(drop)
	taken := map[int]bool{}
	for i, in := range found {
		if in.ID != i+1 {
			t.Errorf("indication %d has ID %d", i+1, in.ID)
		}
		if !own[in.Pixel] {
			t.Errorf("indication %d at pixel %d: is not the highest of its drop area", in.ID, in.Pixel)
		}
		if i > 0 && !(in.Amplitude <= found[i-1].Amplitude) {
			t.Errorf("indication %d of amplitude %v follows one of %v", in.ID, in.Amplitude, found[i-1].Amplitude)
		}
		level := in.Amplitude * sizing.Ratio(-drop)
		area := b.area(in.Pixel, level)
		edge := false
		for p := range area {
			if taken[p] {
				t.Errorf("indication %d: pixel %d is another one's too", in.ID, p)
			}
			taken[p] = true
			c, r := p%b.env.Cols, p/b.env.Cols
			edge = edge || c == 0 || r == 0 || c == b.env.Cols-1 || r == b.env.Rows-1
		}
		if in.Edge != edge {
			t.Errorf("indication %d: edge %v, want %v", in.ID, in.Edge, edge)
		}
		x, z := b.extents(area, level)
		if !near(in.ExtentX, x) || !near(in.ExtentZ, z) {
			t.Errorf("indication %d: extents %v and %v, want %v and %v", in.ID, in.ExtentX, in.ExtentZ, x, z)
		}
		checkSane(t, in)
		delete(own, in.Pixel)
	}
	for p := range own {
		t.Errorf("pixel %d, the highest of its drop area, is missing", p)
	}
	if t.Failed() {
		t.Logf("%d × %d: %v", b.env.Cols, b.env.Rows, b.env.Data)
	}
}

func near(got, want [2]float64) bool {
	return math.Abs(got[0]-want[0]) <= 1e-9 && math.Abs(got[1]-want[1]) <= 1e-9
}

// checkSane checks what holds for every indication.
func checkSane(t *testing.T, in sizing.Indication) {
	t.Helper()
	for name, v := range map[string]float64{
		"x": in.X, "z": in.Z, "level": in.LevelDB, "amplitude": in.Amplitude, "area": in.Area,
		"extent x": in.ExtentX[1] - in.ExtentX[0], "extent z": in.ExtentZ[1] - in.ExtentZ[0],
	} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Errorf("indication %d: %s %v, want finite", in.ID, name, v)
		}
	}
	if !(in.Width >= 0 && in.Length >= in.Width && in.Length <= math.Hypot(in.ExtentX[1]-in.ExtentX[0], in.ExtentZ[1]-in.ExtentZ[0])*(1+1e-9)) {
		t.Errorf("indication %d: length %v, width %v, want the length between the width and the diagonal of %v and %v",
			in.ID, in.Length, in.Width, in.ExtentX, in.ExtentZ)
	}
	if !(in.Tilt > -math.Pi/2 && in.Tilt <= math.Pi/2) || in.Round && in.Tilt != 0 || in.Round != (in.Length <= 1.1*in.Width) {
		t.Errorf("indication %d: tilt %v, round %v, length %v, width %v", in.ID, in.Tilt, in.Round, in.Length, in.Width)
	}
	if !(in.Area >= 0 && in.Area <= in.Length*in.Width*(1+1e-9)) {
		t.Errorf("indication %d: area %v, want at most length × width, %v", in.ID, in.Area, in.Length*in.Width)
	}
}

func TestFindFollowsItsDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(20, 26))
	for range 400 {
		env := draw(t, 1+rng.IntN(10), 1+rng.IntN(10), 1)
		drop := sizing.SixDB
		kind := rng.IntN(3)
		for i := range env.Data {
			switch kind {
			case 0: // few levels: equal peaks, flat tops, saddles at the drop itself
				env.Data[i] = float32(rng.IntN(5))
			case 1: // sparse
				env.Data[i] = float32(max(0, rng.NormFloat64()-0.5))
			case 2: // any level, any drop
				env.Data[i] = float32(math.Exp(3 * rng.NormFloat64()))
				drop = 0.5 + 20*rng.Float64()
			}
		}
		brute{env}.check(t, drop)
		if t.Failed() {
			return
		}
	}
}

// FuzzFind compares Find with the definition on any picture of bytes.
func FuzzFind(f *testing.F) {
	f.Add([]byte{0, 9, 0, 0, 4, 8, 0, 0, 5}, uint8(3), uint8(60))
	f.Add([]byte{7, 7, 7, 7}, uint8(2), uint8(200))
	f.Add([]byte{1, 0, 1, 0, 1, 0}, uint8(1), uint8(1))
	f.Fuzz(func(t *testing.T, pixels []byte, cols, tenths uint8) {
		n := int(cols)%12 + 1
		rows := len(pixels) / n
		if rows < 1 || rows > 12 || tenths == 0 {
			return
		}
		env := draw(t, n, rows, 1)
		for i := range env.Data {
			env.Data[i] = float32(pixels[i])
		}
		brute{env}.check(t, float64(tenths)/10)
	})
}
