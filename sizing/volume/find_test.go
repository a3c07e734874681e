// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package volume

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/stack"
)

// TestLengths compares the lengths of strips with the convolution model. The measured lengths in
// widths of the beam were computed independently, as in the documentation of package sizing.
func TestLengths(t *testing.T) {
	const w = 5e-3
	for _, c := range []struct{ length, measured float64 }{
		{0, 1}, {0.5, 1.0591154}, {1, 1.2493707}, {2, 2.0197258}, {3, 3.0004386}, {5, 5},
	} {
		for _, pitch := range []float64{0.5e-3, 1e-3, 2e-3} {
			from := 30.3e-3
			m := invented(pitch, int(100e-3/pitch), strip{from, from + c.length*w, 0.5, w, fixed(1.1e-3, 9.3e-3), nil})
			found := check.Must(Find(context.Background(), m, &Options{Floor: -30, Beam: gaussian(w)}))
			if len(found) != 1 {
				t.Fatalf("length %v w, pitch %v: %d indications, want 1", c.length, pitch, len(found))
			}
			in := found[0]
			check.Within(t, "length of the 6 dB drop", in.Drop.Length(), c.measured*w, 0.2*pitch)
			check.Within(t, "middle", (in.Drop.From+in.Drop.To)/2, from+c.length*w/2, 0.1*pitch)
			check.Within(t, "middle of the tips", (in.Tips.From+in.Tips.To)/2, from+c.length*w/2, 0.1*pitch)
			check.Within(t, "x", in.X, 1.1e-3, 0.01e-3)
			check.Within(t, "z", in.Z, 9.3e-3, 0.01e-3)
			if c.length >= 2 {
				check.Within(t, "length of a flaw of two widths or more", in.Drop.Length(), c.length*w, pitch+0.05*c.length*w)
				check.Within(t, "length of the tips", in.Tips.Length(), c.length*w, 0.05*w+0.2*pitch)
				check.Within(t, "level", in.LevelDB, 20*math.Log10(0.5*math.Erf(c.length*math.Sqrt(math.Ln2))), 0.05)
			}
			if c.length == 0 {
				check.Within(t, "s of the peak of a point", in.S, from, 0.01e-3)
				beam := check.Must(sizing.GaussianBeam(w))
				before, behind := beam.Point(30 + in.LevelDB)
				check.Within(t, "full drop of a point", in.Full.Length(), before+behind, 0.4*pitch)
			}
			want := tips.Measured
			if c.length < 1 {
				want = tips.Unresolved
			}
			if in.LengthIs != want && c.length != 1 { // which depends on the pitch
				t.Errorf("length %v w: %v, want %v", c.length, in.LengthIs, want)
			}
			if !(in.Least <= c.length*w && c.length*w <= in.Most) {
				t.Errorf("length %v w = %v outside %v to %v", c.length, c.length*w, in.Least, in.Most)
			}
			if !in.Complete() || in.Merged {
				t.Errorf("length %v w: complete %v, merged %v", c.length, in.Complete(), in.Merged)
			}
		}
	}
}

// TestPeaks compares the peaks of random volumes with the definition: a pixel is a peak if it is the
// highest of its drop area.
func TestPeaks(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	several := 0
	for range 60 {
		env := noiseOf(rng, 5, 6, 7)
		floor := 0.3 + 0.4*rng.Float64()
		o := &Options{Floor: sizing.LevelDB(floor, 1), Reference: 1}
		found := check.Must(Find(context.Background(), check.Must(NewBlock(env)), o))
		got := map[int]bool{}
		for _, in := range found {
			// The highest value of the profile inside the area is the peak.
			got[peakOf(env, in)] = true
		}
		want := peaksBySearch(env, floor)
		if diff := gocmp.Diff(want, got); diff != "" {
			t.Fatalf("peaks (-want +got):\n%s", diff)
		}
		if len(want) > 1 {
			several++
		}
	}
	if several < 25 {
		t.Errorf("%d volumes with several peaks, want more", several)
	}
}

// noiseOf returns a random volume, with equal amplitudes here and there.
func noiseOf(rng *rand.Rand, slices, rows, cols int) *tfm.Envelope {
	grid := tfm.Grid{Slices: slices, Rows: rows, Cols: cols, Step: r3.Vec{X: 1e-3, Y: 1e-3, Z: 1e-3}}
	env := &tfm.Envelope{Grid: grid, Data: make([]float32, grid.Len())}
	for p := range env.Data {
		env.Data[p] = float32(math.Round(20*math.Pow(rng.Float64(), 4)) / 20)
	}
	return env
}

// peakOf returns the pixel of the peak of an indication: the first pixel of its section with the
// amplitude of the peak, within half a pixel of its place in x and z.
func peakOf(env *tfm.Envelope, in Indication) int {
	n := env.Rows * env.Cols
	best, least := -1, math.Inf(1)
	for p := in.Section * n; p < (in.Section+1)*n; p++ {
		at := env.Point(p)
		if d := math.Hypot(at.X-in.X, at.Z-in.Z); d < least {
			best, least = p, d
		}
	}
	return best
}

// peaksBySearch returns the pixels not below floor that are the highest of their drop area.
func peaksBySearch(env *tfm.Envelope, floor float64) map[int]bool {
	peaks := map[int]bool{}
	n := env.Rows * env.Cols
	for p, top := range env.Data {
		if float64(top) < floor {
			continue
		}
		seen, list, highest := map[int]bool{p: true}, []int{p}, true
		for len(list) > 0 && highest {
			q := list[0]
			list = list[1:]
			for other, a := range env.Data {
				near := func(a, b int) bool { return a-b <= 1 && b-a <= 1 }
				if seen[other] || float64(a) < float64(top)/2 || !near(other/n, q/n) ||
					!near(other%n/env.Cols, q%n/env.Cols) || !near(other%env.Cols, q%env.Cols) {
					continue
				}
				seen[other], list = true, append(list, other)
				highest = highest && !(a > top || a == top && other < p)
			}
		}
		if highest {
			peaks[p] = true
		}
	}
	return peaks
}

// TestStates checks the states of indications that are cut.
func TestStates(t *testing.T) {
	const w = 4e-3
	face := strip{20e-3, 40e-3, 1, w, fixed(0, 10e-3), nil}
	without := func(m *model, from, to int) { m.positions = slices.Delete(m.positions, from, to) }
	for _, c := range []struct {
		name    string
		change  func(m *model, o *Options)
		lengths []float64 // of the drop, mm, in the order of s
		is      tips.Reading
		ends    [][2]End
		bridged int
		edge    bool
	}{
		{"whole", func(*model, *Options) {}, []float64{20}, tips.Measured, [][2]End{{Falls, Falls}}, 0, false},
		{"a gap", func(m *model, _ *Options) { without(m, 28, 31) }, []float64{7, 9}, tips.LowerBound, [][2]End{{Falls, AtGap}, {AtGap, Falls}}, 0, false},
		{"a gap of one section", func(m *model, _ *Options) { without(m, 30, 31) }, []float64{9, 9}, tips.LowerBound, [][2]End{{Falls, AtGap}, {AtGap, Falls}}, 0, false},
		{"a bridge", func(m *model, o *Options) { without(m, 28, 31); o.Bridge = 3 }, []float64{20}, tips.Measured, [][2]End{{Falls, Falls}}, 3, false},
		{"a bridge too short", func(m *model, o *Options) { without(m, 28, 31); o.Bridge = 2 }, []float64{7, 9}, tips.LowerBound, [][2]End{{Falls, AtGap}, {AtGap, Falls}}, 0, false},
		{"a bridge at the end", func(m *model, o *Options) { without(m, 39, 42); o.Bridge = 3 }, []float64{20}, tips.Measured, [][2]End{{Falls, Falls}}, 0, false},
		{"the start of the scan", func(m *model, _ *Options) { without(m, 0, 30) }, []float64{10}, tips.LowerBound, [][2]End{{AtScanEnd, Falls}}, 0, false},
		{"the end of the scan", func(m *model, _ *Options) { without(m, 30, 80) }, []float64{9}, tips.LowerBound, [][2]End{{Falls, AtScanEnd}}, 0, false},
		{"uneven positions", func(m *model, _ *Options) {
			for i := range m.positions {
				m.positions[i] += 0.2e-3 * math.Sin(float64(7*i))
			}
		}, []float64{20}, tips.Measured, [][2]End{{Falls, Falls}}, 0, false},
		{"the edge of the image", func(m *model, _ *Options) { m.strips[0].at = fixed(-6e-3, 10e-3) }, []float64{20}, tips.LowerBound, [][2]End{{Falls, Falls}}, 0, true},
		{"the edge of the zone", func(_ *model, o *Options) { o.Z = [2]float64{9.9e-3, 20e-3} }, []float64{20}, tips.LowerBound, [][2]End{{Falls, Falls}}, 0, true},
		{"pixels with a state", func(m *model, _ *Options) {
			m.states = make([]tfm.State, m.grid.Len())
			m.states[15*m.grid.Cols+15] = tfm.NoRay
		}, []float64{20}, tips.LowerBound, [][2]End{{Falls, Falls}}, 0, false},
		{"states beside", func(m *model, _ *Options) {
			m.states = make([]tfm.State, m.grid.Len())
			m.states[16*m.grid.Cols+15] = tfm.NoRay
		}, []float64{20}, tips.Measured, [][2]End{{Falls, Falls}}, 0, false},
		{"states elsewhere", func(m *model, _ *Options) {
			m.states = make([]tfm.State, m.grid.Len())
			m.states[3] = tfm.NoRay
		}, []float64{20}, tips.Measured, [][2]End{{Falls, Falls}}, 0, false},
		{"no beam", func(_ *model, o *Options) { o.Beam = nil }, []float64{20}, tips.Unresolved, [][2]End{{Falls, Falls}}, 0, false},
		{"outside of the zone", func(_ *model, o *Options) { o.X = [2]float64{3e-3, 6e-3} }, nil, "", nil, 0, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := invented(1e-3, 80, face)
			o := &Options{Floor: -20, Beam: gaussian(w)}
			c.change(m, o)
			found := check.Must(Find(context.Background(), m, o))
			slices.SortFunc(found, func(a, b Indication) int { return cmp.Compare(a.Drop.From, b.Drop.From) })
			if len(found) != len(c.lengths) {
				t.Fatalf("%d indications, want %d", len(found), len(c.lengths))
			}
			for i, in := range found {
				check.Within(t, "length in mm", in.Drop.Length()*1e3, c.lengths[i], 0.15)
				if in.LengthIs != c.is || in.Drop.Ends != c.ends[i] || in.Bridged != c.bridged || in.Edge != c.edge {
					t.Errorf("%v, ends %v, bridged %d, edge %v", in.LengthIs, in.Drop.Ends, in.Bridged, in.Edge)
				}
				if whole := c.is != tips.LowerBound && m.states == nil || c.name == "states elsewhere"; in.Complete() != whole {
					t.Errorf("complete %v, want %v", in.Complete(), whole)
				}
				if open := math.IsInf(in.Most, 1); open != (c.is == tips.LowerBound || o.Beam == nil) {
					t.Errorf("most %v", in.Most)
				}
			}
		})
	}
}

// TestNeighbours checks that two flaws behind a deep saddle are two, that a shallow saddle marks one
// as merged, and that the rules of the caller join them.
func TestNeighbours(t *testing.T) {
	const w = 4e-3
	for _, c := range []struct {
		name   string
		gap    float64 // mm
		count  int
		merged bool
	}{{"apart", 6, 2, false}, {"close", 2, 1, true}, {"touching", 0.5, 1, false}} {
		a := strip{20e-3, 32e-3, 1, w, fixed(0, 10e-3), nil}
		b := strip{32e-3 + c.gap*1e-3, 50e-3, 0.9, w, fixed(0, 10e-3), nil}
		found := check.Must(Find(context.Background(), invented(1e-3, 80, a, b), &Options{Floor: -20, Beam: gaussian(w)}))
		if len(found) != c.count || found[0].Merged != c.merged {
			t.Fatalf("%s: %d indications, merged %v", c.name, len(found), found[0].Merged)
		}
		if c.count != 2 {
			continue
		}
		var flaws []flaw.Flaw
		for _, in := range found {
			flaws = append(flaws, in.Flaw())
		}
		if groups := check.Must(flaw.Interact(flaws, flaw.Rule{})); len(groups) != 2 {
			t.Errorf("%d groups, want 2", len(groups))
		}
		groups := check.Must(flaw.Interact(flaws, flaw.Rule{S: flaw.Gap{Distance: 7e-3}}))
		if len(groups) != 1 {
			t.Fatalf("%d groups, want 1", len(groups))
		}
		check.Within(t, "start of the group", groups[0].ExtentS[0], 20e-3, 0.1e-3)
		check.Within(t, "end of the group", groups[0].ExtentS[1], 50e-3, 0.1e-3)
	}
}

// TestUneven checks that the tips find the ends of a face whose weak half lies more than 6 dB below
// the strong one, where the drop does not.
func TestUneven(t *testing.T) {
	const w = 4e-3
	face := strip{20e-3, 60e-3, 1, w, fixed(0, 10e-3), func(s float64) float64 {
		if s < 40e-3 {
			return 1
		}
		return 0.4
	}}
	in := check.Must(Find(context.Background(), invented(1e-3, 90, face), &Options{Floor: -20, Beam: gaussian(w)}))[0]
	check.Within(t, "start of the drop", in.Drop.From, 20e-3, 0.1e-3)
	if !(in.Drop.To < 43e-3) {
		t.Errorf("the drop ends at %v m, want the end of the strong half", in.Drop.To)
	}
	check.Within(t, "start of the tips", in.Tips.From, 20e-3, 0.3e-3)
	check.Within(t, "end of the tips", in.Tips.To, 60e-3, 0.3e-3)
}

// TestCurve checks the line through a flaw that climbs by 1 in 2 along the scan, and its length.
func TestCurve(t *testing.T) {
	const w = 4e-3
	climb := func(s float64) (x, z float64) { return (s - 30e-3) / 4, 12e-3 - (s-20e-3)/2*0.9 }
	face := strip{22e-3, 34e-3, 1, w, climb, nil}
	for _, noise := range []float64{0, 0.01} {
		m := invented(0.5e-3, 120, face)
		m.noise, m.seed = noise, 3
		in := check.Must(Find(context.Background(), m, &Options{Floor: -20, Beam: gaussian(w)}))[0]
		for _, at := range in.Centre {
			if at.Y < 24e-3 || at.Y > 32e-3 {
				continue
			}
			x, z := climb(at.Y)
			check.Within(t, "x of the centre", at.X, x, 0.1e-3)
			check.Within(t, "z of the centre", at.Z, z, 0.1e-3)
		}
		want := 12e-3 * math.Sqrt(1+0.25*0.25+0.45*0.45)
		check.Within(t, "length of the curve", in.CurveLength, want, 0.3e-3)
	}
}

// TestNoise checks that volumes of noise alone have no indications, and that a weak echo is marked.
func TestNoise(t *testing.T) {
	for seed := range uint64(8) {
		m := invented(1e-3, 40)
		m.noise, m.seed = 0.1, seed
		if found := check.Must(Find(context.Background(), m, &Options{Beam: gaussian(4e-3)})); len(found) != 0 {
			t.Errorf("seed %d: %d indications in noise, level %v dB, ratio %v dB", seed, len(found), found[0].LevelDB, found[0].SNRDB)
		}
		m.strips = []strip{{15e-3, 27e-3, 0.55, 4e-3, fixed(0, 10e-3), nil}}
		found := check.Must(Find(context.Background(), m, &Options{Beam: gaussian(4e-3)}))
		if len(found) != 1 {
			t.Fatalf("seed %d: %d indications, want 1", seed, len(found))
		}
		check.Within(t, "ratio to the noise in dB", found[0].SNRDB, 20*math.Log10(0.55/0.1), 3.5) // the peak of many values in noise
	}
	m := invented(1e-3, 40, strip{15e-3, 27e-3, 0.4, 4e-3, fixed(0, 10e-3), nil})
	m.noise = 0.1
	if in := check.Must(Find(context.Background(), m, &Options{Floor: -10}))[0]; !in.NoiseLimited {
		t.Errorf("an echo %v dB above the noise is not marked", in.SNRDB)
	}
}

// TestBounded checks that only pixels of open components are held, and that the limit is kept.
func TestBounded(t *testing.T) {
	var many []strip
	for i := range 40 {
		many = append(many, strip{float64(20*i+5) * 1e-3, float64(20*i+10) * 1e-3, 1, 3e-3, fixed(0, 10e-3), nil})
	}
	// One strip has about 8 by 8 pixels in 12 sections above the floor less 6 dB.
	o := &Options{Floor: -12, Voxels: 1500}
	m := invented(1e-3, 800, many...)
	if found := check.Must(Find(context.Background(), m, o)); len(found) != 40 {
		t.Errorf("%d indications, want 40", len(found))
	}
	if m.reads != 3*800 {
		t.Errorf("%d sections were read, want 3 times 800", m.reads)
	}
	o.Voxels = 100
	if _, err := Find(context.Background(), m, o); err == nil || !strings.Contains(err.Error(), "more than 100 pixels") {
		t.Errorf("error %v, want one of the limit", err)
	}
}

// TestOptions checks the errors.
func TestOptions(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		want string
		o    Options
	}{
		{"floor NaN dB", Options{Floor: nan}},
		{"level +Inf dB", Options{Level: inf}},
		{"reference amplitude -1", Options{Reference: -1}},
		{"drop of tips 7 dB", Options{TipDrop: 7, Beam: gaussian(1)}},
		{"-1 missing sections", Options{Bridge: -1}},
		{"limits 2 to 1 m", Options{X: [2]float64{2, 1}}},
		{"-3 voxels", Options{Voxels: -3}},
		{"width of the beam -1 m", Options{Floor: -20, Beam: gaussian(-1)}},
		{"beam without a profile", Options{Floor: -20, Beam: func(r3.Vec) (sizing.Beam, error) { return sizing.Beam{}, nil }}},
	} {
		m := invented(1e-3, 20, strip{5e-3, 15e-3, 1, 4e-3, fixed(0, 10e-3), nil})
		if _, err := Find(context.Background(), m, &c.o); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error %v, want %q", err, c.want)
		}
	}
	for _, c := range []struct {
		want   string
		change func(m *model)
	}{
		{"0 sections", func(m *model) { m.positions = nil }},
		{"pitch 0 m", func(m *model) { m.pitch = 0 }},
		{"position 0.001 m of section 2", func(m *model) { m.positions[2] = 1e-3 }},
		{"position NaN m of section 2", func(m *model) { m.positions[2] = nan }},
		{"amplitude NaN", func(m *model) { m.strips[0].amplitude = nan }},
		{"not one slice", func(m *model) { m.states = make([]tfm.State, 3) }},
	} {
		m := invented(1e-3, 20, strip{5e-3, 15e-3, 1, 4e-3, fixed(0, 10e-3), nil})
		c.change(m)
		if _, err := Find(context.Background(), m, nil); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error %v, want %q", err, c.want)
		}
	}
	if _, err := Find(context.Background(), nil, nil); err == nil {
		t.Error("no error for no sections")
	}
	done, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Find(done, invented(1e-3, 20), nil); err != context.Canceled {
		t.Errorf("error %v, want that the context ended", err)
	}
}

// TestLine checks the order of the frames of a stack, and which frames take part.
func TestLine(t *testing.T) {
	m := invented(1e-3, 40, strip{12e-3, 24e-3, 2, 4e-3, fixed(0, 10e-3), nil})
	name := filepath.Join(t.TempDir(), "line.json")
	layout := &stack.Layout{Grid: m.grid, Views: []stack.View{{Name: "L-L", Reference: 4}}, Frames: 42, Pitch: 1e-3}
	w := check.Must(stack.Create(name, layout, 0, 42))
	put := func(index, section int, across float64) {
		env := check.Must(m.Section(nil, section))
		f := stack.Frame{Index: index, State: stack.Imaged, Position: m.positions[section], Across: across}
		if err := w.Put(f, []*tfm.Envelope{env}); err != nil {
			t.Fatal(err)
		}
	}
	for i := range 40 {
		if i != 18 { // is missing
			put(i, 39-i, 0)
		}
	}
	put(40, 20, 0) // again
	put(41, 5, 3e-3)
	if err := w.Finish(); err != nil {
		t.Fatal(err)
	}
	s := check.Must(stack.Open(name))
	defer s.Close()
	if _, err := NewLine(s, 0, nil); err == nil || !strings.Contains(err.Error(), "want one line") {
		t.Errorf("error %v, want that there are two lines", err)
	}
	if _, err := NewLine(s, 1, nil); err == nil {
		t.Error("no error for view 1")
	}
	line := check.Must(NewLine(s, 0, func(f stack.Frame) bool { return f.Across == 0 }))
	if line.Len() != 39 || line.Frame(0).Index != 39 || line.Frame(38).Index != 0 {
		t.Errorf("%d frames from %d to %d", line.Len(), line.Frame(0).Index, line.Frame(38).Index)
	}
	o := &Options{Floor: -30, Beam: gaussian(4e-3)}
	if found := check.Must(Find(context.Background(), line, o)); len(found) != 2 {
		t.Errorf("%d indications at both sides of the missing frame, want 2", len(found))
	}
	o.Bridge = 1
	found := check.Must(Find(context.Background(), line, o))
	if len(found) != 1 || found[0].Bridged != 1 {
		t.Fatalf("%d indications over the missing frame, want 1", len(found))
	}
	check.Within(t, "length", found[0].Drop.Length(), 12e-3, 0.1e-3)
	check.Within(t, "level relative to the reference of the view", found[0].LevelDB, sizing.LevelDB(2, 4), 0.05)
	if i := found[0].Best(3)[0]; math.Abs(line.Position(i)-18e-3) > 4e-3 {
		t.Errorf("the best section lies at %v m", line.Position(i))
	}
	if none := check.Must(Heights(line, &found[0], 3, &sizing.Options{Reference: 100, Floor: -1})); len(none) != 0 {
		t.Errorf("%d heights above a floor that no section reaches, want none", len(none))
	}
	heights := check.Must(Heights(line, &found[0], 3, nil))
	if len(heights) != 3 {
		t.Fatalf("%d heights, want 3", len(heights))
	}
	for _, h := range heights {
		check.Within(t, "height", h.ExtentZ[1]-h.ExtentZ[0], spot, 0.05*spot)
	}
}

// TestElementBeam compares the beam with its far field, sinc², and with its symmetry.
func TestElementBeam(t *testing.T) {
	const length, hertz = 2e-3, 5e6
	q := 5920 * 0.2
	beam := check.Must(ElementBeam(length, hertz, q))
	far := check.Must(sizing.SincBeam(0.8858929 * q / (hertz * length)))
	for _, drop := range []float64{3, sizing.SixDB, 12, 20} {
		from, to := beam.Point(drop)
		want, _ := far.Point(drop)
		check.Within(t, "half width before", from, want, 2e-3*want)
		check.Within(t, "half width behind", to, want, 2e-3*want)
	}
	for _, c := range [][3]float64{{0, 1, 1}, {1, math.NaN(), 1}, {1, 1, -1}, {1, 1e6, 1}} {
		if _, err := ElementBeam(c[0], c[1], c[2]); err == nil {
			t.Errorf("no error for %v", c)
		}
	}
}
