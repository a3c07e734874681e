// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
)

// spots returns an image of Gaussian spots at columns 30 and 70 of a section of 0.1 mm pixels, 2 mm
// wide at half of the amplitude. The coherence is the square of a narrower spot.
func spots() *tfm.Image {
	g := check.Must(tfm.NewSection(0, 10e-3, 0, 6e-3, 0.1e-3))
	im := tfm.NewImage(g)
	im.Coherence = make([]float32, g.Len())
	for i := range im.Data {
		p := g.Point(i)
		for _, spot := range []struct{ x, amplitude float64 }{{3e-3, 1}, {7e-3, 0.6}} {
			square := (p.X-spot.x)*(p.X-spot.x) + (p.Z-3e-3)*(p.Z-3e-3)
			im.Data[i] += complex(float32(spot.amplitude*math.Exp(-square*math.Ln2/1e-6)), 0)
			im.Coherence[i] += float32(math.Exp(-square / 0.5e-6))
		}
	}
	return im
}

// TestFindWeighted checks that a weighted envelope is not sized by itself, and that the amplitudes
// at the peaks that it shows are sized as without a weight.
func TestFindWeighted(t *testing.T) {
	im := spots()
	plain := im.Envelope(nil)
	weighted := check.Must(im.WeightedEnvelope(nil, 1))
	alone := check.Must(im.CoherenceEnvelope(nil))
	want := check.Must(Find(plain, nil))
	if len(want) != 2 || !(math.Abs(want[0].Length-2e-3) <= 0.1e-3) {
		t.Fatalf("%d indications, want 2, of 2 mm", len(want))
	}
	for name, env := range map[string]*tfm.Envelope{"weighted": weighted, "alone": alone} {
		_, err := Find(env, nil)
		check.Error(t, err, env.Quantity.String(), "Options.Amplitudes")
		if diff := cmp.Diff(want, check.Must(Find(env, &Options{Amplitudes: plain}))); diff != "" {
			t.Errorf("%s: the amplitudes at the peaks are not sized as they are alone: %s", name, diff)
		}
	}
	// The same contour on the weighted envelope would be about half as long: what the error
	// prevents.
	cheat := *weighted
	cheat.Quantity = tfm.Amplitude
	if found := check.Must(Find(&cheat, nil)); !(found[0].Length < 0.7*want[0].Length) {
		t.Errorf("the weight changes the length from %v m to %v m only", want[0].Length, found[0].Length)
	}
	// The reference is in the unit of the amplitudes, and the coherence has none.
	loud := *plain
	loud.Data = slices.Clone(plain.Data)
	for i := range loud.Data {
		loud.Data[i] *= 1000
	}
	found := check.Must(Find(alone, &Options{Amplitudes: &loud, Reference: 2000}))
	if len(found) != 2 {
		t.Fatalf("%d indications, want 2", len(found))
	}
	check.Within(t, "level to a reference", found[0].LevelDB, LevelDB(want[0].Amplitude, 2), 1e-6)
}

func TestBadFindWeighted(t *testing.T) {
	im := spots()
	weighted := check.Must(im.WeightedEnvelope(nil, 1))
	other := im.Envelope(nil)
	other.Origin.X++
	bad := im.Envelope(nil)
	bad.Data[7] = float32(math.NaN())
	for _, test := range []struct {
		name       string
		amplitudes *tfm.Envelope
		words      []string
	}{
		{"weighted", weighted, []string{"weighted amplitude"}},
		{"another grid", other, []string{"Amplitudes on the grid"}},
		{"NaN", bad, []string{"NaN at pixel 7"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := Find(weighted, &Options{Amplitudes: test.amplitudes})
			check.Error(t, err, test.words...)
		})
	}
	_, _, err := Profile(weighted, weighted.Point(0), weighted.Point(50), 5)
	check.Error(t, err, "weighted amplitude")
	weighted.Data = make([]float32, len(weighted.Data))
	_, err = Find(weighted, nil)
	check.Error(t, err, "weighted amplitude")
}
