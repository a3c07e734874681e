// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"context"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/scan"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
)

// made returns an open stack. positions holds the position of each frame, NaN for a missing frame.
// amplitude returns the amplitude of a pixel, NaN for a blank one.
func made(t *testing.T, l *Layout, positions []float64, amplitude func(frame, view int, x, z float64) float64) *Stack {
	t.Helper()
	l.Frames, l.FrameStates = len(positions), true
	for i := range l.Views {
		l.Views[i].States = nil
	}
	name := filepath.Join(t.TempDir(), "a.json")
	w := check.Must(Create(name, l, 0, l.Frames))
	for i, position := range positions {
		if math.IsNaN(position) {
			continue
		}
		var images []*tfm.Envelope
		for v := range l.Views {
			e := tfm.NewImage(l.Grid).Envelope(nil)
			e.States = make([]tfm.State, l.Grid.Len())
			for p := range e.Data {
				q := l.Grid.Point(p)
				a := amplitude(i, v, q.X, q.Z)
				if math.IsNaN(a) {
					e.States[p] = tfm.Blank
					continue
				}
				e.Data[p] = float32(a)
				e.States[p] = tfm.State(p%2) * tfm.Clipped
			}
			images = append(images, e)
		}
		if err := w.Put(Frame{Index: i, State: Imaged, Position: position}, images); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Finish(); err != nil {
		t.Fatal(err)
	}
	s := check.Must(Open(name))
	t.Cleanup(func() { s.Close() })
	return s
}

// slow is Project as its documentation says, cell by cell. It leaves no limit of time.
func slow(sources []Source, x, s, z Axis) *Projection {
	p := newProjection(x, s, z)
	in := func(a Axis, at float64) bool {
		return at >= a.At(0)-a.Step/2-1e-12 && at <= a.At(a.Cells-1)+a.Step/2+1e-12
	}
	fills := func(a Axis, at, half float64) (cells []int) {
		nearest, least := 0, math.Inf(1)
		for i := range a.Cells {
			d := math.Abs(a.At(i) - at)
			if d <= half+1e-12 {
				cells = append(cells, i)
			}
			if d < least {
				nearest, least = i, d
			}
		}
		if cells == nil {
			cells = []int{nearest}
		}
		return cells
	}
	for n, source := range sources {
		l := source.Stack.Layout()
		for i := range l.Frames {
			if source.Stack.Frame(i).State != Imaged {
				continue
			}
			pose, _ := source.pose(source.Stack.Frame(i))
			sin, cos := math.Sincos(pose.Skew)
			took := false
			for _, v := range source.views() {
				e, _ := source.Stack.Envelope(nil, i, v)
				for pixel, a := range e.Data {
					q := l.Grid.Point(pixel)
					at := r3.Vec{X: pose.X + q.X*cos, Y: pose.S + q.X*sin, Z: q.Z}
					if !in(x, at.X) || !in(s, at.Y) || !in(z, at.Z) {
						continue
					}
					took = true
					xs := fills(x, at.X, (math.Abs(cos)*l.Grid.Step.X+math.Abs(sin)*l.Pitch)/2)
					ss := fills(s, at.Y, (math.Abs(sin)*l.Grid.Step.X+math.Abs(cos)*l.Pitch)/2)
					zs := fills(z, at.Z, l.Grid.Step.Z/2)
					for _, k := range ss {
						p.Plan.Missing[k], p.Side.Missing[k] = false, false
					}
					level := 20 * math.Log10(float64(a)/l.Views[v].Reference)
					if source.References != nil {
						r := source.References[v]
						level = 20 * math.Log10(float64(a)/float64(r.Amplitude))
						if r.Map != nil {
							level -= 20 * math.Log10(float64(r.Map[pixel]))
						}
						if r.Map != nil && !(r.Map[pixel] > 0) {
							continue
						}
					}
					if e.State(pixel)&tfm.Blank != 0 {
						continue
					}
					f := found{float32(max(level, -327.67)), Place{int32(n), int32(v), int32(i), int32(pixel)}, e.State(pixel)}
					for _, k := range ss {
						for _, j := range xs {
							p.Plan.add(j*s.Cells+k, f)
						}
						for _, j := range zs {
							p.Side.add(j*s.Cells+k, f)
						}
					}
					for _, k := range xs {
						for _, j := range zs {
							p.End.add(j*x.Cells+k, f)
						}
					}
				}
			}
			if took {
				p.Frames++
			}
		}
	}
	return p
}

// TestProject compares with the slow way: random levels, all kinds of poses, axes finer and coarser
// than the pixels, zones, several sources, references, missing frames and blank pixels.
func TestProject(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	random := func(frame, view int, x, z float64) float64 {
		if rng.IntN(20) == 0 {
			return math.NaN()
		}
		return 1000 * math.Exp(2*rng.NormFloat64())
	}
	l := invented(Float32)
	positions := []float64{0, 1e-3, math.NaN(), 3.1e-3, 3.9e-3, 5e-3, 2.2e-3}
	a := made(t, l, positions, random)
	l.Values = Int16
	b := made(t, l, positions[:5], random)
	byPixel := make([]float32, l.Grid.Len())
	for i := range byPixel {
		byPixel[i] = float32(i%5) / 2
	}
	references := []tfm.Reference{{Amplitude: 500, Map: byPixel}, {Amplitude: 100}}
	back := func(f Frame) (Pose, error) { return Pose{X: 9.3e-3, S: f.Position + 0.4e-3, Skew: math.Pi}, nil }
	oblique := func(f Frame) (Pose, error) { return Pose{S: f.Position, Skew: 0.4}, nil }
	turning := func(f Frame) (Pose, error) {
		return Pose{S: f.Position, X: 0.3e-3 * float64(f.Index), Skew: 0.1 * float64(f.Index)}, nil
	}
	axis := func(first, last, step float64) Axis { return check.Must(NewAxis(first, last, step)) }
	for _, test := range []struct {
		name    string
		sources []Source
		x, s, z Axis
	}{
		{"as the pixels", []Source{{Stack: a}}, axis(1e-3, 7e-3, 1e-3), axis(0, 5e-3, 1e-3), axis(2e-3, 6e-3, 1e-3)},
		{"finer", []Source{{Stack: a}}, axis(1e-3, 7e-3, 0.3e-3), axis(0, 5e-3, 0.21e-3), axis(2e-3, 6e-3, 0.4e-3)},
		{"coarser", []Source{{Stack: a}}, axis(1e-3, 7e-3, 2.3e-3), axis(0, 5e-3, 1.7e-3), axis(2e-3, 6e-3, 3e-3)},
		{"zone", []Source{{Stack: a}}, axis(3e-3, 5e-3, 1e-3), axis(1e-3, 3e-3, 1e-3), axis(4e-3, 4e-3, 1e-3)},
		{"one view", []Source{{Stack: b, Views: []int{1}}}, axis(1e-3, 7e-3, 1e-3), axis(0, 5e-3, 1e-3), axis(2e-3, 6e-3, 1e-3)},
		{"two sides", []Source{{Stack: a}, {Stack: b, Pose: back}}, axis(1e-3, 9e-3, 1e-3), axis(0, 5e-3, 1e-3), axis(2e-3, 6e-3, 1e-3)},
		{"references", []Source{{Stack: a, References: references}, {Stack: b, References: references, Pose: back}}, axis(1e-3, 9e-3, 0.7e-3), axis(0, 6e-3, 0.5e-3), axis(2e-3, 6e-3, 1e-3)},
		{"oblique", []Source{{Stack: a, Pose: oblique}}, axis(1e-3, 7e-3, 0.9e-3), axis(0, 6e-3, 1e-3), axis(2e-3, 6e-3, 1e-3)},
		{"turning", []Source{{Stack: b, Pose: turning}}, axis(1e-3, 7e-3, 0.9e-3), axis(0, 6e-3, 0.8e-3), axis(3e-3, 6e-3, 1e-3)},
		{"beside the part", []Source{{Stack: a}}, axis(20e-3, 21e-3, 1e-3), axis(0, 5e-3, 1e-3), axis(2e-3, 6e-3, 1e-3)},
	} {
		want := slow(test.sources, test.x, test.s, test.z)
		for _, workers := range []int{1, 3} {
			got := check.Must(Project(background, test.sources, &ProjectOptions{X: test.x, S: test.s, Z: test.z, Workers: workers}))
			if got.Frames != want.Frames {
				t.Errorf("%s: %d frames, want %d", test.name, got.Frames, want.Frames)
			}
			for i, pair := range [][2]*Map{{&got.Plan, &want.Plan}, {&got.Side, &want.Side}, {&got.End, &want.End}} {
				wantMap(t, test.name+[]string{", plan", ", side", ", end"}[i], pair[0], pair[1])
			}
		}
	}
}

// wantMap compares maps. Levels of int16 differ from levels of amplitudes by rounding, and so do
// the places of equal levels.
func wantMap(t *testing.T, name string, got, want *Map) {
	t.Helper()
	if !slices.Equal(got.Missing, want.Missing) {
		t.Errorf("%s: missing %v, want %v", name, got.Missing, want.Missing)
	}
	for i, level := range want.Levels {
		if math.IsNaN(float64(level)) != math.IsNaN(float64(got.Levels[i])) || math.Abs(float64(level-got.Levels[i])) > 1e-3 {
			t.Errorf("%s: level %v of cell %d, want %v", name, got.Levels[i], i, level)
		}
		if got.Places[i] != want.Places[i] {
			t.Errorf("%s: place %+v of cell %d, want %+v", name, got.Places[i], i, want.Places[i])
		}
		state := tfm.State(0)
		if got.States != nil {
			state = got.States[i]
		}
		if state != want.States[i] {
			t.Errorf("%s: state %v of cell %d, want %v", name, state, i, want.States[i])
		}
	}
	if t.Failed() {
		t.FailNow()
	}
}

// TestProjectDefaults: the default axes hold all pixels of all frames.
func TestProjectDefaults(t *testing.T) {
	l := invented(Float32)
	s := made(t, l, []float64{0.1, 0.1023, 0.098}, func(int, int, float64, float64) float64 { return 10 })
	p := check.Must(Project(background, []Source{{Stack: s}}, nil))
	near := cmpopts.EquateApprox(0, 1e-12)
	if diff := cmp.Diff([]Axis{{1e-3, 1e-3, 7}, {0.098, 1e-3, 6}, {2e-3, 1e-3, 5}}, []Axis{p.End.Across, p.Plan.Across, p.End.Down}, near); diff != "" {
		t.Errorf("axes x, s, z (-want +got):\n%s", diff)
	}
	if want := []bool{false, true, false, true, false, true}; !slices.Equal(p.Plan.Missing, want) {
		t.Errorf("missing %v, want %v", p.Plan.Missing, want)
	}
	for i, level := range p.Plan.Levels {
		if missing := p.Plan.Missing[i%6]; missing != math.IsNaN(float64(level)) {
			t.Errorf("level %v in a column that is missing: %v", level, missing)
		}
	}
}

// TestBothSides: two scans of one reflector from both sides of a weld show it at one place, which
// follows from the set-up alone. The scene is invented.
func TestBothSides(t *testing.T) {
	at := r3.Vec{X: 1.2e-3, Y: 4e-3, Z: 4e-3} // in the part
	near, far := scan.Line{X: -3e-3}, scan.Line{X: 5e-3, Skew: math.Pi}
	positions := []float64{0, 1e-3, 2e-3, 3e-3, 4e-3, 5e-3, 6e-3}
	view := func(line scan.Line, peak float64) *Stack {
		return made(t, invented(Int16), positions, func(frame, _ int, x, z float64) float64 {
			q := check.Must(check.Must(line.Pose(positions[frame], 0)).Part(x, z))
			d := r3.Norm(r3.Sub(q, at))
			return peak * math.Exp(-d*d/1e-6)
		})
	}
	sources := []Source{{Stack: view(near, 900), Pose: Along(near)}, {Stack: view(far, 1000), Pose: Along(far), Views: []int{0}}}
	x := check.Must(NewAxis(-2e-3, 4e-3, 0.2e-3))
	p := check.Must(Project(background, sources, &ProjectOptions{X: x}))
	for name, m := range map[string]*Map{"plan": &p.Plan, "side": &p.Side, "end": &p.End} {
		_, cell := m.Peak()
		place := m.Places[cell]
		q := check.Must(sources[place.Source].Point(place))
		// The pixels lie 1 mm apart.
		check.Within(t, name+": distance from the reflector", r3.Norm(r3.Sub(q, at)), 0, 0.3e-3)
		// The cell is one of those that the pixel fills.
		along := map[bool]float64{true: q.Y, false: q.X}[m.AcrossLabel == "s"]
		check.Within(t, name+": across", m.Across.At(cell%m.Across.Cells), along, 0.51e-3)
	}
	for _, bad := range []Place{none, {Frame: 99}, {Pixel: 35}} {
		if _, err := sources[0].Point(bad); err == nil {
			t.Errorf("%+v: no error", bad)
		}
	}
	// The view with the reference 250 counts, though the other side has the higher amplitude.
	if _, cell := p.Plan.Peak(); p.Plan.Places[cell].View != 1 || p.Plan.Places[cell].Source != 0 {
		t.Errorf("peak from %+v, want view 1 of source 0", p.Plan.Places[cell])
	}
}

// TestAlong compares poses with the points of package scan.
func TestAlong(t *testing.T) {
	for _, test := range []struct {
		name string
		path scan.Path
	}{
		{"line", scan.Line{X: 3, Y: -1, Heading: 0.3, Skew: 2}},
		{"round", scan.Round{Pipe: scan.Pipe{Radius: 0.2}, X: 0.1, Arc: 0.3}},
		{"round, inside and back", scan.Round{Pipe: scan.Pipe{Radius: 0.2, Inside: true}, X: 0.1, Backward: true, Skew: math.Pi}},
		{"lengthwise", scan.Lengthwise{Pipe: scan.Pipe{Radius: 0.2}, X: 0.1, Arc: 0.3}},
		{"lengthwise, back", scan.Lengthwise{Pipe: scan.Pipe{Radius: 0.2}, Arc: 0.3, Backward: true, Skew: math.Pi}},
	} {
		f := Frame{Position: 0.11, Across: 0.05}
		pose := check.Must(Along(test.path)(f))
		const x, z = 0.02, 0.01
		q := check.Must(check.Must(test.path.Pose(f.Position, f.Across)).Part(x, z))
		partX, s, depth := q.X, q.Y, q.Z
		if pipe, ok := map[string]scan.Pipe{"round": {Radius: 0.2}, "round, inside and back": {Radius: 0.2, Inside: true}, "lengthwise": {Radius: 0.2}, "lengthwise, back": {Radius: 0.2}}[test.name]; ok {
			side := 1.0 // the axis of the pipe lies below the surface, or above it
			if pipe.Inside {
				side = -1
			}
			angle := math.Atan2(q.Y, side*(pipe.Radius*side-q.Z))
			s = math.Mod(angle+2*math.Pi, 2*math.Pi) * pipe.Radius
			depth = side * (pipe.Radius - math.Hypot(q.Y, pipe.Radius*side-q.Z))
		}
		check.Within(t, test.name+": x", pose.X+x*math.Cos(pose.Skew), partX, 1e-12)
		check.Within(t, test.name+": s", pose.S+x*math.Sin(pose.Skew), s, 1e-12)
		check.Within(t, test.name+": depth", z, depth, 1e-12)
	}
	for _, path := range []scan.Path{
		scan.Round{Pipe: scan.Pipe{Radius: 0.2}, Skew: 0.1}, scan.Lengthwise{Pipe: scan.Pipe{Radius: 0.2}, Skew: math.Pi / 2}, nil,
		scan.Round{}, scan.Lengthwise{},
	} {
		if _, err := Along(path)(Frame{}); err == nil {
			t.Errorf("%#v: no error", path)
		}
	}
}

// TestProjectErrors names what is out of range.
func TestProjectErrors(t *testing.T) {
	s := made(t, invented(Float32), []float64{0, 1e-3}, func(int, int, float64, float64) float64 { return 1 })
	empty := made(t, invented(Float32), []float64{math.NaN()}, nil)
	far := made(t, invented(Float32), []float64{-1e308, 1e308}, func(int, int, float64, float64) float64 { return 1 })
	for _, test := range []struct {
		name    string
		sources []Source
		options *ProjectOptions
		words   []string
	}{
		{"no sources", nil, nil, []string{"no sources"}},
		{"no stack", []Source{{}}, nil, []string{"without a stack", "source 0"}},
		{"view", []Source{{Stack: s}, {Stack: s, Views: []int{2}}}, nil, []string{"view 2", "0 to 1", "source 1"}},
		{"view twice", []Source{{Stack: s, Views: []int{1, 1}}}, nil, []string{"view 1", "different"}},
		{"references", []Source{{Stack: s, References: make([]tfm.Reference, 1)}}, nil, []string{"1 references", "want 2"}},
		{"reference", []Source{{Stack: s, References: make([]tfm.Reference, 2)}}, nil, []string{"amplitude 0"}},
		{"map", []Source{{Stack: s, References: []tfm.Reference{{Amplitude: 1}, {Amplitude: 1, Map: make([]float32, 3)}}}}, nil, []string{"length 3", "want 35"}},
		{"map of -1", []Source{{Stack: s, References: []tfm.Reference{{Amplitude: 1, Map: slices.Repeat([]float32{-1}, 35)}, {Amplitude: 1}}}}, nil, []string{"value -1"}},
		{"pose", []Source{{Stack: s, Pose: func(Frame) (Pose, error) { return Pose{X: math.NaN()}, nil }}}, nil, []string{"X:NaN", "frame 0"}},
		{"step", []Source{{Stack: s}}, &ProjectOptions{X: Axis{0, -1, 3}}, []string{"axis X", "-1 m"}},
		{"cells", []Source{{Stack: s}}, &ProjectOptions{S: Axis{0, 1, 1 << 24}, Z: Axis{0, 1, 1 << 23}}, []string{"16777216 by"}},
		{"positions", []Source{{Stack: far}}, nil, []string{"S from -1e+308 to 1e+308 m", "16777216 cells"}},
		{"poses", []Source{{Stack: s, Pose: func(f Frame) (Pose, error) { return Pose{X: 1e9 * float64(f.Index)}, nil }}}, nil, []string{"X from ", "e+09 m"}},
		{"no frames", []Source{{Stack: empty}}, nil, []string{"no imaged frame", "want at least one"}},
	} {
		_, err := Project(background, test.sources, test.options)
		if err == nil {
			t.Errorf("%s: no error", test.name)
			continue
		}
		check.Error(t, err, test.words...)
	}
	ctx, cancel := context.WithCancel(background)
	cancel()
	_, err := Project(ctx, []Source{{Stack: s}}, nil)
	check.Error(t, err, "canceled")
	_, err = NewAxis(1, 0, 1)
	check.Error(t, err, "from 1 to 0")
	if level, cell := (&Map{Levels: []float32{float32(math.NaN())}}).Peak(); !math.IsNaN(float64(level)) || cell != -1 {
		t.Errorf("peak %v, %d of a map without levels", level, cell)
	}
}

// TestSlice: amplitudes that are linear in x, s and z are interpolated exactly, on planes in any
// direction, from both sides, and NaN where a frame or a pixel is missing.
func TestSlice(t *testing.T) {
	truth := func(q r3.Vec) float64 { return 1000 + 2e4*q.X - 3e4*q.Y + 5e4*q.Z }
	positions := []float64{3e-3, 0, 1e-3, 2.2e-3, math.NaN(), 5e-3, 6e-3, 2.1e-3}
	line := scan.Line{X: 8e-3, Y: 1e-3, Skew: math.Pi}
	s := made(t, invented(Float32), positions, func(frame, view int, x, z float64) float64 {
		q := check.Must(check.Must(line.Pose(positions[frame], 0)).Part(x, z))
		if view == 1 {
			return truth(q) / 8 // half as high, relative to the reference
		}
		if frame == 7 {
			return 1e6 // it repeats another frame
		}
		if q.X > 6.9e-3 && q.Z > 5.9e-3 {
			return math.NaN()
		}
		return truth(q)
	})
	rng := rand.New(rand.NewPCG(4, 4))
	for n := range 30 {
		unit := r3.Unit(r3.Vec{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()})
		other := r3.Unit(r3.Cross(unit, r3.Vec{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}))
		plane := Plane{Origin: r3.Vec{X: 4e-3, Y: 3e-3, Z: 4e-3}, Across: r3.Scale(0.3e-3, unit), Down: r3.Scale(0.2e-3, other), Cols: 30, Rows: 40}
		if n == 0 {
			plane = Plane{Origin: r3.Vec{X: 1e-3, Y: 0, Z: 4.5e-3}, Across: r3.Vec{Y: 0.25e-3}, Down: r3.Vec{X: 0.5e-3}, Cols: 33, Rows: 13}
		}
		m := check.Must(Slice(background, []Source{{Stack: s, Pose: Along(line)}}, plane))
		data := 0
		for i, level := range m.Levels {
			q := plane.at(i%plane.Cols, i/plane.Cols)
			inside := q.X >= 1e-3-1e-9 && q.X <= 7e-3+1e-9 && q.Z >= 2e-3-1e-9 && q.Z <= 6e-3+1e-9
			gap := q.Y > 4e-3+1e-9 && q.Y < 6e-3-1e-9 || q.Y < 1e-3-1e-9 || q.Y > 7e-3+1e-9
			want := truth(q) / 1000
			if q.X > 6e-3+1e-9 && q.Z > 5e-3+1e-9 {
				want /= 2 // the first view has no value
			}
			if !inside || gap {
				want = math.NaN()
			} else {
				data++
			}
			got := math.Pow(10, float64(level)/20)
			if math.IsNaN(want) != math.IsNaN(got) || math.Abs(got-want) > 1e-5 {
				t.Fatalf("plane %+v: amplitude %v at %v, want %v", plane, got, q, want)
			}
			if n == 0 && m.Missing[i%plane.Cols] != gap {
				t.Errorf("missing %v at %v, want %v", m.Missing[i%plane.Cols], q, gap)
			}
		}
		if data == 0 {
			t.Errorf("plane %+v: no data", plane)
		}
		if n == 0 && (m.AcrossLabel != "s" || m.DownLabel != "x" || m.Across != (Axis{0, 0.25e-3, 33}) || m.Down != (Axis{1e-3, 0.5e-3, 13})) {
			t.Errorf("axes %q %v and %q %v", m.AcrossLabel, m.Across, m.DownLabel, m.Down)
		}
	}
}

// TestSliceErrors names what is out of range.
func TestSliceErrors(t *testing.T) {
	s := made(t, invented(Float32), []float64{0, 1e-3}, func(int, int, float64, float64) float64 { return 1 })
	good := Plane{Across: r3.Vec{X: 1}, Down: r3.Vec{Y: 1}, Cols: 1, Rows: 1}
	edit := func(f func(p *Plane)) Plane {
		p := good
		f(&p)
		return p
	}
	skewed := func(f Frame) (Pose, error) { return Pose{Skew: 0.1}, nil }
	moving := func(f Frame) (Pose, error) { return Pose{X: f.Position}, nil }
	for _, test := range []struct {
		name    string
		sources []Source
		plane   Plane
		words   []string
	}{
		{"no sources", nil, good, []string{"no sources"}},
		{"origin", []Source{{Stack: s}}, edit(func(p *Plane) { p.Origin.X = math.NaN() }), []string{"finite"}},
		{"step 0", []Source{{Stack: s}}, edit(func(p *Plane) { p.Down = r3.Vec{} }), []string{"right angles, not 0"}},
		{"angle", []Source{{Stack: s}}, edit(func(p *Plane) { p.Down.X = 1 }), []string{"right angles"}},
		{"cells", []Source{{Stack: s}}, edit(func(p *Plane) { p.Rows = 0 }), []string{"1 by 0 cells"}},
		{"skew", []Source{{Stack: s, Pose: skewed}}, good, []string{"skew", "multiple of π", "source 0"}},
		{"x", []Source{{Stack: s, Pose: moving}}, good, []string{"one x"}},
		{"source", []Source{{Stack: s}, {}}, good, []string{"source 1"}},
	} {
		_, err := Slice(background, test.sources, test.plane)
		if err == nil {
			t.Errorf("%s: no error", test.name)
			continue
		}
		check.Error(t, err, test.words...)
	}
}
