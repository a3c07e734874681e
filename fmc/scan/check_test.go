// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/internal/check"
)

// made is a scan that a test makes. All its values are invented: frames 1 mm apart, 20 a second,
// with a back-wall echo 30 dB above the noise.
type made struct {
	rng    *rand.Rand
	frames []fmc.Frame
	gain   []float64 // dB, of the echo of each frame
	change []func(*fmc.Capture)
	like   *fmc.Capture
	noise  float64 // root mean square
	steps  int     // of the plan
}

const (
	madeStep    = 1e-3
	madeEcho    = 44.7 // amplitude, 30 dB above the noise
	madeScatter = 0.7  // dB, of the echo from frame to frame
	madeJitter  = 0.05 // of a step, of the position
)

// madeGate holds the echo.
var madeGate = Gate{Name: "back wall", Gate: health.Gate{From: 5e-6, To: 6.15e-6}}

// makeScan returns a scan of n sound frames.
func makeScan(seed uint64, n int) *made {
	m := &made{rng: rand.New(rand.NewPCG(seed, 77)), noise: 1}
	array := check.Must(fmc.LinearArray(3, 1e-3,
		fmc.Array{Width: 0.8e-3, CentreFrequency: 5e6, Bandwidth: 0.7}))
	m.like = check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.HalfPairs(3), Samples: 160,
		SampleRate: 20e6}))
	for i := range n {
		m.frames = append(m.frames, fmc.Frame{
			Index:    i,
			Time:     0.05*float64(i) + 0.002*m.rng.Float64(),
			Position: madeStep * (float64(i) + madeJitter*m.rng.NormFloat64()),
		})
		m.gain = append(m.gain, madeScatter*m.rng.NormFloat64())
		m.change = append(m.change, nil)
	}
	return m
}

// grid is the plan of the scan.
func (m *made) grid() Grid {
	return Grid{Along: Axis{Step: madeStep, Steps: len(m.frames)}}
}

// next makes the samples of each frame when it is asked for.
func (m *made) next() fmc.FrameSource {
	i := 0
	data := make([]float32, len(m.like.Pairs)*m.like.Samples)
	return func(context.Context) (fmc.Frame, error) {
		if i == len(m.frames) {
			return fmc.Frame{}, io.EOF
		}
		for k := range data {
			data[k] = float32(m.noise * m.rng.NormFloat64())
		}
		c := *m.like
		c.Data = data
		amplitude := madeEcho * math.Pow(10, m.gain[i]/20)
		for p := range c.Pairs {
			for k, from := range c.Trace(p)[100:124] {
				c.Trace(p)[100+k] = from + float32(amplitude*math.Sin(math.Pi/2*float64(k)))
			}
		}
		if m.change[i] != nil {
			m.change[i](&c)
		}
		frame := m.frames[i]
		frame.Capture = &c
		i++
		return frame, nil
	}
}

// options are the options for the scan.
func (m *made) options() *Options {
	return &Options{Grid: m.grid(), Gates: []Gate{madeGate}}
}

// drop removes frame i from the scan. Its index stays a gap.
func (m *made) drop(i int) {
	m.frames = slices.Delete(m.frames, i, i+1)
	m.gain = slices.Delete(m.gain, i, i+1)
	m.change = slices.Delete(m.change, i, i+1)
}

func lines(findings []Finding) []string {
	var text []string
	for _, f := range findings {
		text = append(text, f.String())
	}
	return text
}

// TestCheck: planted faults, and what the report says of them. Without jitter and scatter, and with
// little noise, the values are known. Each row was worked by hand.
func TestCheck(t *testing.T) {
	tests := []struct {
		name  string
		plant func(m *made, o *Options)
		want  []string
	}{
		{"sound", func(*made, *Options) {}, nil},
		{"wrong shape", func(m *made, _ *Options) {
			m.change[7] = func(c *fmc.Capture) { c.FirstSample = 1e-6 }
			m.change[8] = func(c *fmc.Capture) { c.Data = c.Data[1:] }
		}, []string{"wrong shape: frames 7 to 8, 7 to 8 mm: 2, limit 0"}},
		{"not finite", func(m *made, _ *Options) {
			m.change[7] = func(c *fmc.Capture) {
				c.Data[3], c.Data[5] = float32(math.NaN()), float32(math.Inf(-1))
			}
		}, []string{"not finite: frame 7, 7 mm: 2, limit 0"}},
		{"stuck", func(m *made, _ *Options) {
			var kept []float32
			m.change[7] = func(c *fmc.Capture) { kept = slices.Clone(c.Data) }
			for i := 8; i < 11; i++ {
				m.change[i] = func(c *fmc.Capture) { copy(c.Data, kept) }
			}
		}, []string{"stuck: frames 8 to 10, 8 to 10 mm: 3, limit 0"}},
		{"an old frame comes again", func(m *made, _ *Options) {
			var kept []float32
			m.change[7] = func(c *fmc.Capture) { kept = slices.Clone(c.Data) }
			m.change[30] = func(c *fmc.Capture) { copy(c.Data, kept) }
		}, []string{"stuck: frame 30, 30 mm: 1, limit 0"}},
		{"indices fall back", func(m *made, _ *Options) {
			for i := 20; i < 40; i++ {
				m.frames[i].Index -= 5
			}
		}, []string{"disorder: frames 19 to 15, 19 to 20 mm: 5, limit 0"}},
		{"clock", func(m *made, _ *Options) { m.frames[9].Time = m.frames[8].Time - 0.25 },
			[]string{"clock: frames 8 to 9, 8 to 9 mm: 0.25 s, limit 0 s"}},
		{"lost frames", func(m *made, _ *Options) { m.drop(12); m.drop(12); m.drop(12) }, []string{
			"lost frames: frames 12 to 14, 11 to 15 mm: 3, limit 0",
			"missing steps: 12 to 14 mm: 3, limit 0"}},
		{"lost frames while the array stands still lose no step", func(m *made, _ *Options) {
			for i := 12; i < 40; i++ {
				m.frames[i].Index += 6
			}
		}, []string{"lost frames: frames 12 to 17, 11 to 12 mm: 6, limit 0"}},
		{"unfinished", func(m *made, o *Options) { o.Grid.Along.Steps = 60 },
			[]string{"missing steps: 40 to 59 mm: 20, limit 0"}},
		{"too sparse", func(m *made, _ *Options) {
			for i := 30; i < 40; i++ {
				m.frames[i].Position += 2e-3
			}
		}, []string{"missing steps: 30 to 31 mm: 2, limit 0",
			"stray: frames 38 to 39, 40 to 41 mm: 2 mm, limit 0.5 mm",
			"too sparse: frames 29 to 30, 29 to 32 mm: 3 mm, limit 1.5 mm"}},
		{"glitch of the encoder", func(m *made, _ *Options) { m.frames[10].Position += 20.2e-3 },
			[]string{"missing steps: 10 mm: 1, limit 0",
				"repeated: frames 10 to 30, 30 mm: 2, limit 1",
				"encoder jump: frames 9 to 11, 9 to 11 mm: 21.2 mm, limit 5 mm"}},
		{"glitch beyond the end", func(m *made, _ *Options) { m.frames[10].Position = -0.3 },
			[]string{"missing steps: 10 mm: 1, limit 0",
				"stray: frame 10, -300 mm: 300 mm, limit 0.5 mm",
				"encoder jump: frames 9 to 11, 9 to 11 mm: 311 mm, limit 5 mm"}},
		{"reversal", func(m *made, _ *Options) {
			for i := 20; i < 40; i++ {
				m.frames[i].Position -= 4e-3
			}
		}, []string{"missing steps: 36 to 39 mm: 4, limit 0",
			"repeated: frames 16 to 23, 16 to 19 mm: 2, limit 1",
			"reversal: frames 19 to 20, 19 to 16 mm: 3 mm, limit 0.5 mm",
			"too sparse: frames 19 to 20, 19 to 16 mm: 3 mm, limit 1.5 mm"}},
		{"off the step", func(m *made, o *Options) {
			o.Tolerance = 0.2e-3
			m.frames[4].Position += 0.3e-3
		}, []string{"missing steps: 4 mm: 1, limit 0", "stray: frame 4, 4.3 mm: 0.3 mm, limit 0.2 mm"}},
		{"too fast", func(m *made, o *Options) {
			o.Limits.Speed = 50e-3
			m.frames[4].Time = m.frames[5].Time - 0.01
		}, []string{"too fast: frames 4 to 5, 4 to 5 mm: 100 mm/s, limit 50 mm/s"}},
		{"coupling", func(m *made, _ *Options) { m.gain[5], m.gain[6], m.gain[7] = -8, -20, -9 },
			[]string{"coupling loss of back wall: frames 5 to 7, 5 to 7 mm: 20 dB, limit 6 dB"}},
		{"coupling lost in most frames, with a reference", func(m *made, o *Options) {
			o.Gates[0].Reference = madeEcho / math.Sqrt2
			for i := range 30 {
				m.gain[i] = -12
			}
		}, []string{"coupling loss of back wall: frames 0 to 29, 0 to 29 mm: 12 dB, limit 6 dB"}},
		{"no signal at all", func(m *made, _ *Options) {
			m.change[5] = func(c *fmc.Capture) { clear(c.Data) }
		}, []string{"coupling loss of back wall: frame 5, 5 mm: 120 dB, limit 6 dB"}},
		{"gain drift", func(m *made, _ *Options) {
			for i := range m.gain {
				m.gain[i] = -5 * float64(i) / 39
			}
		}, []string{"gain drift of back wall: frames 0 to 39, 0 to 39 mm: 4.49 dB, limit 2 dB"}},
		{"a step of the gain", func(m *made, _ *Options) {
			for i := range m.gain {
				m.gain[i] = 2e-3 * float64(i)
				if i >= 20 {
					m.gain[i] += 4
				}
			}
		}, []string{"gain drift of back wall: frames 0 to 39, 0 to 39 mm: 4.07 dB, limit 2 dB"}},
		{"saturated", func(m *made, o *Options) {
			m.change[5] = func(c *fmc.Capture) { copy(c.Data[100:], []float32{99, 99, 99, 99}) }
		}, []string{"saturated: frame 5, 5 mm: 0.0048, limit 1e-09"}},
		{"saturated, full scale known", func(m *made, o *Options) {
			o.FullScale = 500
			m.change[5] = func(c *fmc.Capture) { c.Data[100] = -500 }
		}, []string{"saturated: frame 5, 5 mm: 0.0012, limit 1e-09"}},
		{"a clipped initial pulse is no fault", func(m *made, o *Options) {
			m.change[5] = func(c *fmc.Capture) { copy(c.Data[2:], []float32{99, 99, 99, 99}) }
		}, nil},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			m := makeScan(1, 40)
			for i := range m.frames {
				m.frames[i].Position, m.frames[i].Time = madeStep*float64(i), 0.05*float64(i)
				m.gain[i] = 0
			}
			m.noise = 1e-3
			o := m.options()
			test.plant(m, o)
			report, err := Check(t.Context(), m.next(), o)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(test.want, lines(report.Findings)); diff != "" {
				t.Errorf("findings (-want +got):\n%s", diff)
			}
		})
	}
}

// TestCheckWithoutPlan: without a grid the step is the median distance, and no step is missing.
func TestCheckWithoutPlan(t *testing.T) {
	m := makeScan(2, 40)
	m.frames[10].Position = m.frames[9].Position
	m.frames[11].Position = m.frames[9].Position
	report := check.Must(Check(t.Context(), m.next(), nil))
	want := []Kind{Repeated, TooSparse}
	var got []Kind
	for _, f := range report.Findings {
		got = append(got, f.Kind)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("kinds (-want +got):\n%s", diff)
	}
	check.Within(t, "step", float64(report.Step), 1e-3, 0.05e-3)
	check.Within(t, "interval", float64(report.Interval), 0.05, 0.002)
	check.Within(t, "speed", float64(report.Speed), 20e-3, 1e-3)
	if report.Places != 0 || report.Frames != 40 || len(report.Readings) != 40 {
		t.Errorf("%d places, %d frames, %d readings", report.Places, report.Frames, len(report.Readings))
	}
}

// TestCheckRaster: back and forth over three lines, the last of them unfinished, is no reversal and
// no jump.
func TestCheckRaster(t *testing.T) {
	for _, plan := range []bool{true, false} {
		m := makeScan(3, 55)
		for i := range m.frames {
			line, step := i/20, i%20
			if line == 1 {
				step = 19 - step
			}
			m.frames[i].Position = madeStep * float64(step)
			m.frames[i].Across = 5e-3*float64(line) + 0.02e-3*m.rng.Float64()
		}
		o := m.options()
		o.Grid = Grid{}
		var want []string
		if plan {
			o.Grid = Grid{Along: Axis{Step: madeStep, Steps: 20}, Across: Axis{Step: 5e-3, Steps: 3}}
			want = []string{"missing steps: 15 to 19 mm: 5, limit 0"}
		}
		report := check.Must(Check(t.Context(), m.next(), o))
		if diff := cmp.Diff(want, lines(report.Findings)); diff != "" {
			t.Errorf("plan %v: findings (-want +got):\n%s", plan, diff)
		}
	}
}

// TestCheckTurn: the encoder returns to 0 at the seam of a pipe, and the scan goes on for some steps.
func TestCheckTurn(t *testing.T) {
	axis := check.Must(Pipe{Radius: 6e-3}.Axis(madeStep)) // 38 steps
	m := makeScan(4, axis.Steps+3)
	for i := range m.frames {
		m.frames[i].Position = axis.Position(i % axis.Steps)
	}
	o := m.options()
	o.Grid = Grid{Along: axis}
	report := check.Must(Check(t.Context(), m.next(), o))
	want := []string{"repeated: frames 0 to 40, 0 to 1.984 mm: 2, limit 1"}
	if diff := cmp.Diff(want, lines(report.Findings)); diff != "" {
		t.Errorf("findings (-want +got):\n%s", diff)
	}
	if report.Places != 38 || report.Covered != 38 {
		t.Errorf("%d of %d places covered, want 38 of 38", report.Covered, report.Places)
	}
}

// TestCheckPairs: Reach selects the pairs of a gate.
func TestCheckPairs(t *testing.T) {
	m := makeScan(5, 1)
	for reach, want := range []int{3, 5, 6, 6} {
		if got := len(within(m.like, reach)); got != want {
			t.Errorf("reach %d: %d pairs, want %d", reach, got, want)
		}
	}
	far := *m.like
	far.Pairs = []fmc.Pair{{Tx: 0, Rx: 2}}
	if got := len(within(&far, 0)); got != 1 {
		t.Errorf("%d pairs where none is close, want all", got)
	}
	m.like.Events = []fmc.Event{{}}
	if got := len(within(m.like, 0)); got != 6 {
		t.Errorf("%d pairs of events, want all", got)
	}
}

// TestAmplitude: the root mean square of a sine is its amplitude over √2, with any offset.
func TestAmplitude(t *testing.T) {
	m := makeScan(6, 1)
	c := *m.like
	c.Data = make([]float32, 6*160)
	for i := range c.Data {
		c.Data[i] = float32(300 + 10*math.Sin(math.Pi/2*float64(i)))
	}
	check.Within(t, "amplitude", amplitude(&c, []int{0, 2}, span{20, 60}), 10/math.Sqrt2, 1e-4)
}

// TestReportJSON: the report survives JSON, with null for what is not known.
func TestReportJSON(t *testing.T) {
	m := makeScan(7, 40)
	m.gain[4] = -20
	m.change[9] = func(c *fmc.Capture) { c.Data[0] = float32(math.NaN()) }
	for i := range m.frames {
		m.frames[i].Time = 3 // not recorded
	}
	report := check.Must(Check(t.Context(), m.next(), m.options()))
	text := check.Must(json.Marshal(report))
	var back Report
	if err := json.Unmarshal(text, &back); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(report, &back, sameNumber); diff != "" {
		t.Errorf("report (-want +got):\n%s", diff)
	}
	for _, want := range []string{`"interval_s":null`, `"speed_m_s":-1`, `"kind":"coupling loss"`,
		`"levels_db":[null]`} {
		if !strings.Contains(string(text), want) {
			t.Errorf("no %s in %s", want, text)
		}
	}
}

// sameNumber compares numbers, and takes all numbers that are not known as equal.
var sameNumber = cmp.Comparer(func(a, b health.Number) bool {
	return a == b || !a.Known() && !b.Known()
})

// TestReportValidates: what no check reports is refused.
func TestReportValidates(t *testing.T) {
	m := makeScan(7, 40)
	m.gain[4] = -20
	for name, test := range map[string]struct {
		change func(*Report)
		want   string
	}{
		"frames":     {func(r *Report) { r.Frames = -1 }, "-1 frames"},
		"covered":    {func(r *Report) { r.Covered = 41 }, "41 of 40 places"},
		"below none": {func(r *Report) { r.Covered = -1 }, "-1 of 40 places"},
		"limit":      {func(r *Report) { r.Limits.Loss = math.NaN() }, "limit loss NaN"},
		"no limits":  {func(r *Report) { r.Limits = Limits{} }, "want all of them"},
		"kind":       {func(r *Report) { r.Findings[0].Kind = "good" }, `kind "good"`},
		"unit":       {func(r *Report) { r.Findings[0].Unit = "m" }, `the unit "m"`},
		"value":      {func(r *Report) { r.Findings[0].Value = 6 }, "value 6 of finding 0"},
		"value NaN":  {func(r *Report) { r.Findings[0].Value = math.NaN() }, "value NaN"},
		"readings":   {func(r *Report) { r.Readings = r.Readings[1:] }, "39 readings of 40 frames"},
		"levels":     {func(r *Report) { r.Readings[3].Levels = nil }, "0 levels of reading 3"},
	} {
		m.rng = rand.New(rand.NewPCG(7, 7))
		report := check.Must(Check(t.Context(), m.next(), m.options()))
		if err := report.Validate(); err != nil {
			t.Fatal(err)
		}
		test.change(report)
		if err := report.Validate(); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: error %v, want %q", name, err, test.want)
		}
	}
	report := check.Must(Check(t.Context(), m.next(), m.options()))
	report.Readings = nil
	if err := report.Validate(); err != nil {
		t.Errorf("without readings: %v", err)
	}
}

// TestCheckOfNothing: a scan without frames is never a scan without findings.
func TestCheckOfNothing(t *testing.T) {
	planned := makeScan(8, 40).options()
	for _, test := range []struct {
		name    string
		options *Options
		want    []string
	}{
		{"a plan", planned, []string{"empty scan: no frame", "missing steps: 0 to 39 mm: 40, limit 0"}},
		{"gates and no plan", &Options{Gates: planned.Gates}, []string{"empty scan: no frame"}},
		{"no options", nil, []string{"empty scan: no frame"}},
	} {
		nothing := func(context.Context) (fmc.Frame, error) { return fmc.Frame{}, io.EOF }
		report := check.Must(Check(t.Context(), nothing, test.options))
		if diff := cmp.Diff(test.want, lines(report.Findings)); diff != "" {
			t.Errorf("%s: findings (-want +got):\n%s", test.name, diff)
		}
		if _, err := json.Marshal(report); err != nil {
			t.Errorf("%s: %v", test.name, err)
		}
		if err := report.Validate(); err != nil {
			t.Errorf("%s: %v", test.name, err)
		}
	}
}

// FuzzCheck: any positions, times and samples give a report that is valid, the same each time, and
// that JSON can hold.
func FuzzCheck(f *testing.F) {
	f.Add([]byte{}, 1e-3, true, 0.5, 3.0)
	seed := make([]byte, 0, 200)
	for i := range 10 {
		seed = binary.LittleEndian.AppendUint64(seed, math.Float64bits(1e-3*float64(i)))
		seed = append(seed, byte(i), byte(i*i), byte(3*i))
	}
	f.Add(seed, 1e-3, false, 0.0, 0.0)
	f.Fuzz(func(t *testing.T, data []byte, step float64, closed bool, spacing, loss float64) {
		m := makeScan(1, 1)
		o := m.options()
		o.Grid = Grid{Along: Axis{Step: step, Steps: 50, Closed: closed}}
		if step == 0 {
			o.Grid = Grid{}
		}
		o.Limits = Limits{Spacing: spacing, Loss: loss, Speed: spacing}
		checker, err := NewChecker(o)
		if err != nil {
			return
		}
		c := *m.like
		c.Data = make([]float32, len(c.Pairs)*c.Samples)
		for ; len(data) >= 11; data = data[11:] {
			c.Data[100+int(data[10])%24] = math.Float32frombits(uint32(data[8])<<24 | uint32(data[9])<<16)
			v := math.Float64frombits(binary.LittleEndian.Uint64(data))
			_ = checker.Add(fmc.Frame{Index: int(int8(data[8])), Time: v * float64(data[9]),
				Position: v, Across: float64(data[10] % 2), Capture: &c})
		}
		report := checker.Report()
		if err := report.Validate(); err != nil {
			t.Error(err)
		}
		if _, err := json.Marshal(report); err != nil {
			t.Error(err)
		}
		if diff := cmp.Diff(report, checker.Report(), sameNumber); diff != "" {
			t.Errorf("first and second report differ:\n%s", diff)
		}
	})
}

// TestCheckerKeepsNoCapture: neither samples nor captures stay in memory.
func TestCheckerKeepsNoCapture(t *testing.T) {
	m := makeScan(11, 3)
	source := m.next()
	checker := check.Must(NewChecker(m.options()))
	for range m.frames {
		if err := checker.Add(check.Must(source(t.Context()))); err != nil {
			t.Fatal(err)
		}
	}
	for _, r := range checker.readings {
		if r.frame.Capture != nil {
			t.Errorf("frame %d keeps its capture", r.frame.Index)
		}
	}
	if checker.like.Data != nil {
		t.Error("the samples of the first frame are kept")
	}
}

// TestCheckEnds: a source that fails leaves the report of the frames before.
func TestCheckEnds(t *testing.T) {
	m := makeScan(9, 10)
	broken := errors.New("cable out")
	inner, n := m.next(), 0
	source := func(ctx context.Context) (fmc.Frame, error) {
		if n++; n > 4 {
			return fmc.Frame{}, broken
		}
		return inner(ctx)
	}
	report, err := Check(t.Context(), source, nil)
	if !errors.Is(err, broken) || report == nil || report.Frames != 4 {
		t.Errorf("report %+v and error %v, want 4 frames and %v", report, err, broken)
	}
}

func TestCheckRefuses(t *testing.T) {
	nan := math.NaN()
	options := []struct {
		name   string
		change func(*Options)
		want   []string
	}{
		{"grid", func(o *Options) { o.Grid.Along.Step = nan }, []string{"step of the axis along NaN"}},
		{"tolerance", func(o *Options) { o.Tolerance = -1 }, []string{"tolerance -1 m"}},
		{"full scale", func(o *Options) { o.FullScale = math.Inf(1) }, []string{"full scale +Inf"}},
		{"gate without a name", func(o *Options) { o.Gates[0].Name = "" }, []string{`name "" of gate 0`}},
		{"gate twice", func(o *Options) { o.Gates = append(o.Gates, o.Gates[0]) }, []string{"gate 1"}},
		{"reach", func(o *Options) { o.Gates[0].Reach = -1 }, []string{"reach -1", "back wall"}},
		{"reference", func(o *Options) { o.Gates[0].Reference = nan }, []string{"reference NaN"}},
		{"limit", func(o *Options) { o.Limits.Loss = nan }, []string{"limit loss NaN"}},
		{"limit below 0", func(o *Options) { o.Limits.Drift = -2 }, []string{"limit drift -2"}},
		{"infinite limit", func(o *Options) { o.Limits.Speed = math.Inf(1) }, []string{"limit speed"}},
		{"spacing", func(o *Options) { o.Limits.Spacing = 1 }, []string{"limit spacing 1", "above 1"}},
		{"jump", func(o *Options) { o.Limits.Jump = 1.2 }, []string{"limit jump 1.2 steps"}},
	}
	for _, test := range options {
		o := makeScan(10, 5).options()
		test.change(o)
		_, err := NewChecker(o)
		check.Error(t, err, test.want...)
		_, err = Check(t.Context(), makeScan(10, 5).next(), o)
		check.Error(t, err, test.want...)
	}
	frames := []struct {
		name   string
		change func(*Options, *fmc.Frame)
		want   []string
	}{
		{"position", func(_ *Options, f *fmc.Frame) { f.Position = 2e6 }, []string{"position along", "frame 3"}},
		{"across", func(_ *Options, f *fmc.Frame) { f.Across = nan }, []string{"position across", "frame 3"}},
		{"time", func(_ *Options, f *fmc.Frame) { f.Time = nan }, []string{"time NaN s of frame 3"}},
		{"no capture", func(_ *Options, f *fmc.Frame) { f.Capture = nil }, []string{"frame 3 without a capture"}},
		{"first capture", func(_ *Options, f *fmc.Frame) { f.Capture = &fmc.Capture{} }, []string{"frame 3"}},
		{"gate beyond the record", func(o *Options, _ *fmc.Frame) { o.Gates[0].From = 1; o.Gates[0].To = 2 },
			[]string{`gate "back wall" from 1 to 2 s`}},
		{"gate turned round", func(o *Options, _ *fmc.Frame) { o.Gates[0].To = 1e-6 },
			[]string{"want from < to"}},
		{"window", func(o *Options, _ *fmc.Frame) { o.Window = health.Gate{From: 1, To: 2} },
			[]string{`gate "window"`}},
	}
	for _, test := range frames {
		m := makeScan(10, 5)
		o := m.options()
		c := *m.like
		f := fmc.Frame{Index: 3, Capture: &c}
		test.change(o, &f)
		checker := check.Must(NewChecker(o))
		check.Error(t, checker.Add(f), test.want...)
		if n := checker.Report().Frames; n != 0 {
			t.Errorf("%s: %d frames after an error", test.name, n)
		}
	}
}
