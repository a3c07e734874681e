// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// scene returns a seeded picture of some hills and a little speckle, the outer
// frame of which is zero. Its numbers are invented.
func scene(t *testing.T, seed uint64, cols, rows int) *tfm.Envelope {
	rng := rand.New(rand.NewPCG(seed, 3))
	var blobs []blob
	for range 8 {
		blobs = append(blobs, blob{
			x: 20 + rng.Float64()*40, z: 20 + rng.Float64()*30, height: 0.3 + rng.Float64(),
			length: 8 + 12*rng.Float64(), width: 4 + 4*rng.Float64(), tilt: 3 * (rng.Float64() - 0.5),
		})
	}
	env := draw(t, cols, rows, 1, blobs...)
	for i := range env.Data {
		env.Data[i] += float32(0.01 * rng.Float64())
		if c, r := i%cols, i/cols; c < 5 || r < 5 || c >= cols-5 || r >= rows-5 {
			env.Data[i] = 0
		}
	}
	return env
}

// mapped returns env with its pixel (c, r) moved to where to says, on a grid of
// cols × rows.
func mapped(t *testing.T, env *tfm.Envelope, cols, rows int, to func(c, r int) (int, int)) *tfm.Envelope {
	moved := draw(t, cols, rows, 1)
	for i, v := range env.Data {
		if c, r := to(i%env.Cols, i/env.Cols); c >= 0 && c < cols && r >= 0 && r < rows {
			moved.Data[r*cols+c] = v
		}
	}
	return moved
}

func TestFindInvariance(t *testing.T) {
	const cols, rows = 80, 70
	vertical := func(tilt float64) float64 { // the tilt of the mirrored axis
		if tilt == math.Pi/2 {
			return tilt
		}
		return -tilt
	}
	for _, test := range []struct {
		name  string
		image func(*tfm.Envelope) *tfm.Envelope
		want  func(*sizing.Indication) // what becomes of an indication
	}{
		{
			"translation", func(e *tfm.Envelope) *tfm.Envelope {
				return mapped(t, e, cols, rows, func(c, r int) (int, int) { return c + 4, r - 3 })
			},
			func(in *sizing.Indication) {
				in.X += 4
				in.Z -= 3
				in.ExtentX = [2]float64{in.ExtentX[0] + 4, in.ExtentX[1] + 4}
				in.ExtentZ = [2]float64{in.ExtentZ[0] - 3, in.ExtentZ[1] - 3}
			},
		},
		{
			"amplitude", func(e *tfm.Envelope) *tfm.Envelope {
				e = mapped(t, e, cols, rows, func(c, r int) (int, int) { return c, r })
				for i := range e.Data {
					e.Data[i] *= 1 << 12
				}
				return e
			},
			func(in *sizing.Indication) { in.Amplitude *= 1 << 12 },
		},
		{
			"mirror in x", func(e *tfm.Envelope) *tfm.Envelope {
				return mapped(t, e, cols, rows, func(c, r int) (int, int) { return cols - 1 - c, r })
			},
			func(in *sizing.Indication) {
				in.X = cols - 1 - in.X
				in.ExtentX = [2]float64{cols - 1 - in.ExtentX[1], cols - 1 - in.ExtentX[0]}
				in.Tilt = vertical(in.Tilt)
			},
		},
		{
			"x and z exchanged", func(e *tfm.Envelope) *tfm.Envelope {
				return mapped(t, e, rows, cols, func(c, r int) (int, int) { return r, c })
			},
			func(in *sizing.Indication) {
				in.X, in.Z = in.Z, in.X
				in.ExtentX, in.ExtentZ = in.ExtentZ, in.ExtentX
				if !in.Round {
					in.Tilt = math.Copysign(math.Pi/2, in.Tilt) - in.Tilt
				}
			},
		},
	} {
		t.Run(test.name, func(t *testing.T) {
			total := 0
			for seed := range uint64(20) {
				env := scene(t, seed, cols, rows)
				want := find(t, env, &sizing.Options{Floor: -30})
				for i := range want {
					test.want(&want[i])
				}
				got := find(t, test.image(env), &sizing.Options{Floor: -30})
				total += len(want)
				if diff := cmp.Diff(want, got, cmpopts.IgnoreFields(sizing.Indication{}, "Pixel", "Contour"), cmpopts.EquateApprox(0, 1e-9)); diff != "" {
					t.Fatalf("seed %d: %s", seed, diff)
				}
			}
			if total < 40 {
				t.Errorf("%d indications in all scenes, want enough to mean something", total)
			}
		})
	}
}

// A higher floor cuts the list short and changes nothing else.
func TestFindFloorCuts(t *testing.T) {
	env := scene(t, 5, 80, 70)
	all := find(t, env, &sizing.Options{Floor: -60})
	if len(all) < 5 {
		t.Fatalf("%d indications, want a list to cut", len(all))
	}
	for n, in := range all {
		if n == 0 {
			continue
		}
		cut := find(t, env, &sizing.Options{Floor: in.LevelDB + 1e-9})
		if diff := cmp.Diff(all[:n], cut); diff != "" {
			t.Errorf("floor above indication %d: %s", in.ID, diff)
		}
	}
}

// A reference moves the levels and nothing else.
func TestFindReferenceMovesLevels(t *testing.T) {
	env := scene(t, 6, 80, 70)
	want := find(t, env, nil)
	reference := 2 * want[0].Amplitude
	for i := range want {
		want[i].LevelDB -= sizing.SixDB
	}
	got := find(t, env, &sizing.Options{Reference: reference, Floor: -20 - sizing.SixDB})
	if diff := cmp.Diff(want, got, cmpopts.EquateApprox(0, 1e-12)); diff != "" {
		t.Error(diff)
	}
}
