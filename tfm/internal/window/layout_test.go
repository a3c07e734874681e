// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import (
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"testing"
)

// The formats of both precisions, with the fraction bits of whole delays that a plan would choose.
var (
	narrow = withGeneral(Format16, 11)
	bytes  = withGeneral(FormatBytes, 11)
	wide   = withGeneral(Format32, 20)
	paired = withGeneral(FormatInterleaved, 20)
)

func withGeneral(f Format, bits uint) Format {
	f.General = bits
	return f
}

// randomPath returns delays that begin near sample first in each element and block, and spread
// over the given number of samples.
func randomPath(rng *rand.Rand, elements, blocks int, first, spread float64) *Path {
	p := &Path{Elements: elements, Points: blocks * Pixels, Rate: 1, Reach: 1e4}
	for range elements * blocks {
		begin := first + rng.Float64()
		for range Pixels {
			p.Seconds = append(p.Seconds, float32(begin+spread*rng.Float64()))
		}
	}
	return p
}

// TestInside places images at random fractions of a sample near both ends of a record. No window
// of a block with Inside may cross an end of the record. No pixel may look outside its window.
func TestInside(t *testing.T) {
	const samples, elements, count = 100, 3, 6
	rng := rand.New(rand.NewPCG(1, 1))
	for _, f := range []Format{narrow, bytes, wide, paired} {
		kinds := make(map[Kind]int)
		insides := 0
		for range 400 {
			for _, at := range []float64{-1, samples - 32} {
				// Delays of one path may be negative: half the time of the first sample is
				// subtracted from the delays of each path.
				shift := float64(rng.IntN(20))
				spread := []float64{0, 1, 8, 16, 30, 60, 300}[rng.IntN(7)]
				blocks := make([]Block, count)
				for b := range blocks {
					blocks[b] = Block{First: b * Pixels, Rows: Rows, Cols: Cols}
				}
				l := New(f, blocks, Cols, samples,
					randomPath(rng, elements, count, shift, spread*rng.Float64()),
					randomPath(rng, elements, count, at-shift, spread), 1)
				for b := range blocks {
					kinds[blocks[b].Kind]++
					if blocks[b].Kind < 0 {
						continue
					}
					if blocks[b].Inside {
						insides++
					}
					checkWindows(t, l, b)
				}
			}
		}
		for kind := range Kind(len(f.Windows)) {
			if kinds[kind] == 0 || kinds[General] == 0 || insides == 0 {
				t.Errorf("blocks of kinds %v, %d inside, want all", kinds, insides)
			}
		}
	}
}

// checkWindows checks the windows of block b for each pair.
func checkWindows(t *testing.T, l *Layout, b int) {
	t.Helper()
	var txDelays, rxDelays [Pixels]int64
	samples := l.Windows[l.Blocks[b].Kind].Samples
	for tx := range l.Tx.Elements {
		l.readDelays(&txDelays, 0, b, tx)
		for rx := range l.Rx.Elements {
			l.readDelays(&rxDelays, 1, b, rx)
			for i := range Pixels {
				part := i * l.parts / Pixels
				from := int(l.tables(b)[0].Bases[(b*l.Tx.Elements+tx)*l.parts+part])
				from += int(l.tables(b)[1].Bases[(b*l.Rx.Elements+rx)*l.parts+part])
				if l.Blocks[b].Inside && (from < 0 || from+samples > l.samples) {
					t.Fatalf("window of samples %d to %d of a block inside a record of %d",
						from, from+samples-1, l.samples)
				}
				k := int((txDelays[i]+rxDelays[i])>>l.Fraction) - from
				if k < 0 || k > samples-2 {
					t.Fatalf("pixel %d looks between samples %d and %d of a window of %d",
						i, k, k+1, samples)
				}
			}
		}
	}
}

// TestNewWorkers checks that a layout does not depend on the number of goroutines. It has blocks
// of all kinds, of which more than one task lays out some.
func TestNewWorkers(t *testing.T) {
	const elements, count, samples = 3, 5*run + 7, 100
	rng := rand.New(rand.NewPCG(4, 4))
	p := randomPath(rng, elements, 0, 0, 0)
	p.Points = count * Pixels
	for range elements {
		for b := range count {
			part := randomPath(rng, 1, 1, float64(b%9*20), []float64{3, 12, 20, 200}[b/9%4])
			p.Seconds = append(p.Seconds, part.Seconds...)
		}
	}
	lay := func(f Format, receive *Path, limit int) *Layout {
		blocks := make([]Block, count)
		for b := range blocks {
			blocks[b] = Block{First: b * Pixels, Rows: uint8(1 + b%Rows), Cols: uint8(1 + b%Cols)}
		}
		return New(f, blocks, Cols, samples, p, receive, limit)
	}
	for _, f := range []Format{narrow, bytes, wide, paired} {
		for _, receive := range []*Path{nil, p} {
			want := lay(f, receive, 1)
			kinds := make(map[Kind]int)
			for _, b := range want.Blocks {
				kinds[b.Kind]++
			}
			if kinds[General] == 0 || kinds[Empty] == 0 || kinds[0] == 0 {
				t.Errorf("blocks of kinds %v, want all", kinds)
			}
			for _, limit := range []int{0, 2, 7} {
				if got := lay(f, receive, limit); !reflect.DeepEqual(got, want) {
					t.Errorf("%d goroutines give another layout than one", limit)
				}
			}
		}
	}
}

func TestRoundShift(t *testing.T) {
	for _, test := range []struct {
		name string
		v    int64
		n    uint
		want int64
	}{
		{"no bits to lose", 7, 0, 7},
		{"half of one bit: up", 7, 1, 4},
		{"less than half", 9, 2, 2},
		{"half", 10, 2, 3},
		{"more than half", 11, 2, 3},
		{"whole", 12, 2, 3},
		{"negative, less than half from above", -9, 2, -2},
		{"negative half: up", -10, 2, -2},
		{"negative, more than half", -11, 2, -3},
		{"beyond 32 bits", 1<<40 + 1<<12, 13, 1<<27 + 1},
	} {
		if got := roundShift(test.v, test.n); got != test.want {
			t.Errorf("%s: roundShift(%d, %d) = %d, want %d",
				test.name, test.v, test.n, got, test.want)
		}
	}
}

// TestWholeDelays checks the delays of blocks that no window holds, on both sides of zero. They
// must be the nearest numbers with their fraction bits. More than one task lays out the blocks.
func TestWholeDelays(t *testing.T) {
	const elements, count = 3, 2*run + 5
	rng := rand.New(rand.NewPCG(3, 3))
	path := randomPath(rng, elements, count, -200, 400)
	for _, f := range []Format{narrow, bytes, wide, paired, withGeneral(Format32, 3)} {
		blocks := make([]Block, count)
		for b := range blocks {
			blocks[b] = Block{First: b * Pixels, Rows: Rows, Cols: Cols}
		}
		l := New(f, blocks, Cols, 100, path, nil, 2)
		var delays [Pixels]int64
		for k := range elements * count {
			b, e := k/elements, k%elements
			if blocks[b].Kind != General {
				t.Fatalf("a block of kind %d, want %d", blocks[b].Kind, General)
			}
			l.readDelays(&delays, 0, b, e)
			for i, got := range delays {
				want := float64(path.Seconds[e*path.Points+b*Pixels+rowMajor(i)]) * float64(int(1)<<f.General)
				// The delay is rounded to the bits of the offsets before.
				tolerance := 0.5
				if f.General < f.Fraction {
					tolerance += 0.5 / float64(int(1)<<(f.Fraction-f.General))
				}
				if !(math.Abs(float64(got)-want) <= tolerance) {
					t.Fatalf("%d bits: block %d, element %d, pixel %d: %d units, want %v",
						f.General, b, e, i, got, want)
				}
			}
		}
	}
}

// TestOffsets checks that the fraction of a delay has all its bits at any place of any record: the
// base takes the whole samples.
func TestOffsets(t *testing.T) {
	const elements = 3
	for _, f := range []Format{narrow, bytes, wide, paired} {
		for _, first := range []float64{-8e6, -1, 0, 2_000, 8e6} {
			rng := rand.New(rand.NewPCG(4, 4))
			path := randomPath(rng, elements, 1, 0, 5)
			path.Offset, path.Reach = -first, 1e7
			l := New(f, []Block{{Rows: Rows, Cols: Cols}}, Cols, 1<<24, path, &Path{
				Elements: 1, Points: path.Points, Seconds: make([]float32, path.Points), Rate: 1, Reach: 1e7, Offset: first - 20,
			}, 1)
			if l.Blocks[0].Kind != 0 {
				t.Fatalf("a block of kind %d, want the first", l.Blocks[0].Kind)
			}
			var delays [Pixels]int64
			for e := range elements {
				l.readDelays(&delays, 0, 0, e)
				for i, got := range delays {
					unit := float64(int64(1) << f.Fraction)
					want := (float64(path.Seconds[e*Pixels+rowMajor(i)]) + first) * unit
					if !(math.Abs(float64(got)-want) <= 0.5) {
						t.Fatalf("%+v, from sample %v: element %d, pixel %d: %d units, want %v", f, first, e, i, got, want)
					}
				}
			}
		}
	}
}

// TestNewMemory checks that New allocates little more memory for blocks of whole delays than it
// keeps.
func TestNewMemory(t *testing.T) {
	const elements, count = 8, 500
	rng := rand.New(rand.NewPCG(2, 2))
	path := randomPath(rng, elements, count, 0, 90)
	blocks := make([]Block, count)
	for b := range blocks {
		blocks[b] = Block{First: b * Pixels, Rows: Rows, Cols: Cols}
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	l := New(Format32, blocks, Cols, 100, path, nil, 1)
	runtime.ReadMemStats(&after)
	if len(l.whole[0]) != count {
		t.Fatalf("%d blocks of whole delays, want %d", len(l.whole[0]), count)
	}
	if got, want := after.TotalAlloc-before.TotalAlloc, uint64(l.Bytes()); got > want+want/5 {
		t.Errorf("%d bytes to make tables of %d", got, want)
	}
}

// TestSharedTables lays out one path together with paths of different slopes, which need different
// windows. Layouts that share the tables of the path have the delays and kinds of layouts with
// tables of their own, and their offsets stay in the window. A block is stored twice only where a
// partner is so steep that it leaves no room in the window for a base of 32 pixels.
func TestSharedTables(t *testing.T) {
	const elements, count, samples = 3, 40, 400
	sloping := func(slope func(block int) float64) *Path {
		p := &Path{Elements: elements, Points: count * Pixels, Rate: 1, Reach: 1e4}
		for e := range elements {
			for b := range count {
				for i := range Pixels {
					p.Seconds = append(p.Seconds, float32(40.3+float64(e)+slope(b)*float64(i%Cols)))
				}
			}
		}
		return p
	}
	constant := func(slope float64) *Path { return sloping(func(int) float64 { return slope }) }
	steep := func(odd int, slope float64) *Path { // in each other block
		return sloping(func(b int) float64 { return 0.1 + float64((b+odd+1)%2)*slope })
	}
	partners := []*Path{constant(0.1), steep(0, 5), steep(1, 8.5), constant(0.2), constant(100), nil}
	for _, test := range []struct {
		format Format
		twice  int // blocks of the path
	}{{Format16, count / 2}, {FormatBytes, 0}, {Format32, count / 2}, {FormatInterleaved, 0}} {
		f, shared, lone := test.format, constant(1), constant(1)
		shared.Tables = new(Tables)
		for i, partner := range partners {
			blocks := func() []Block {
				blocks := make([]Block, count)
				for b := range blocks {
					blocks[b] = Block{First: b * Pixels, Rows: Rows, Cols: Cols}
				}
				return blocks
			}
			got := New(f, blocks(), Cols, samples, shared, partner, 2)
			want := New(f, blocks(), Cols, samples, lone, partner, 2)
			for b := range got.Blocks {
				if got.Blocks[b].Kind != want.Blocks[b].Kind {
					t.Fatalf("partner %d: block %d of kind %d, want %d", i, b, got.Blocks[b].Kind, want.Blocks[b].Kind)
				}
				if got.Blocks[b].Kind == Empty {
					continue
				}
				reach := int64(0) // of the offsets of both paths
				for path := range 2 {
					var delays, others [Pixels]int64
					if got.Blocks[b].Kind != General {
						reach += largestOffset(got, path, b)
					}
					for e := range elements {
						got.readDelays(&delays, path, b, e)
						want.readDelays(&others, path, b, e)
						if delays != others {
							t.Fatalf("partner %d: other delays in block %d", i, b)
						}
					}
				}
				if kind := got.Blocks[b].Kind; kind != General && reach >= f.Windows[kind].room(f.Fraction) {
					t.Errorf("partner %d: offsets beyond the window in block %d", i, b)
				}
			}
			if i == len(partners)-1 && got.Rx != shared.Tables {
				t.Error("a layout of one path with two tables")
			}
		}
		twice := 0
		for b := 0; b < count && len(shared.Tables.all) > 1; b++ {
			if shared.Tables.all[1].shared[b] > 0 {
				twice++
			}
		}
		if twice != test.twice {
			t.Errorf("%d blocks stored twice in windows of %v, want %d", twice, f.Windows, test.twice)
		}
	}
}

// largestOffset returns the largest offset of a path in block b.
func largestOffset(l *Layout, path, b int) (largest int64) {
	t := l.tables(b)[path]
	for e := range t.Elements {
		at := t.at(b, t.Slot(e)) * Pixels
		for i := at; i < at+Pixels; i++ {
			if t.Narrow != nil {
				largest = max(largest, int64(t.Narrow[i]))
			} else {
				largest = max(largest, int64(t.Wide[i]))
			}
		}
	}
	return largest
}

// TestReadsOfRuns compares the first and the last delay of each pair with a search of all blocks,
// for several runs of blocks whose delays rise and fall at random.
func TestReadsOfRuns(t *testing.T) {
	const elements, count, samples = 12, 3*run + 5, 4000
	rng := rand.New(rand.NewPCG(7, 7))
	path := func() *Path {
		p := &Path{Elements: elements, Points: count * Pixels, Rate: 1, Reach: samples}
		for range elements * count {
			delay := float32(rng.IntN(samples / 2))
			if rng.IntN(20) == 0 {
				delay = float32(math.NaN())
			}
			p.Seconds = append(p.Seconds, slices.Repeat([]float32{delay}, Pixels)...)
		}
		return p
	}
	var blocks []Block
	for b := range count {
		blocks = append(blocks, Block{First: b * Pixels, Rows: Rows, Cols: Cols})
	}
	l := New(narrow, blocks, Cols, samples, path(), path(), 1)
	for i := range elements {
		for j := range elements {
			sent, received := l.bounds[0].of(i, count), l.bounds[1].of(j, count)
			first, last := int64(math.MaxInt64), int64(math.MinInt64)
			for b := range count {
				first = min(first, int64(sent.first[b])+int64(received.first[b]))
				last = max(last, int64(sent.last[b])+int64(received.last[b]))
			}
			if l.earliest(i, j) != first || l.latest(i, j) != last {
				t.Errorf("pair %d, %d: %d to %d, want %d to %d", i, j, l.earliest(i, j), l.latest(i, j), first, last)
			}
		}
	}
}

// TestReads compares the samples that each pair may read with the delays themselves. The delay of
// each element in each block is a number of its own, so that a wrong index shows.
func TestReads(t *testing.T) {
	const txElements, rxElements, count, samples, cut = 2, 3, 4, 400, 1e4
	delay := func(block, element int, step float64) float64 {
		begin := []float64{-30, 10, 55, 195}[block] + 0.6*float64(block)
		return begin + step*float64(element*element+1)
	}
	path := func(elements int, step float64) *Path {
		p := &Path{Elements: elements, Points: count * Pixels, Rate: 1, Reach: cut}
		for e := range elements {
			for i := range count * Pixels {
				p.Seconds = append(p.Seconds, float32(delay(i/Pixels, e, step)))
			}
		}
		return p
	}
	blocks := make([]Block, count)
	for b := range blocks {
		blocks[b] = Block{First: b * Pixels, Rows: Rows, Cols: Cols}
	}
	tx, rx := path(txElements, 3.7), path(rxElements, -5.3)
	for p := range Pixels { // no ray from the second element in block 2
		tx.Seconds[tx.Points+2*Pixels+p] = cut + 1
	}
	for _, test := range []struct {
		name   string
		blocks []int // of the layout
	}{
		{"all blocks", []int{0, 1, 2, 3}},
		{"a block before the record", []int{0}},
		{"a block in the record", []int{1}},
		{"a block without a ray of one element", []int{2}},
		{"a block behind the record", []int{3}},
	} {
		t.Run(test.name, func(t *testing.T) {
			var some []Block
			for _, b := range test.blocks {
				some = append(some, blocks[b])
			}
			l := New(narrow, some, Cols, samples, tx, rx, 1)
			for i := range txElements {
				for j := range rxElements {
					from, to := math.MaxInt, math.MinInt
					for n, b := range test.blocks {
						if l.Blocks[n].Kind != Empty && (b != 2 || i != 1) {
							k := int(math.Floor(delay(b, i, 3.7) + delay(b, j, -5.3)))
							from, to = min(from, k), max(to, k+2)
						}
					}
					// Fractions and rounding may add a sample before, and two behind.
					atLeast := Range{max(from, 0), min(to, samples)}
					atMost := Range{max(from-1, 0), min(to+2, samples)}
					got := l.Reads(i, j)
					if from > to || atMost.From >= atMost.To {
						if got != (Range{}) {
							t.Errorf("pair %d, %d: reads %v, want nothing", i, j, got)
						}
						continue
					}
					enough := got.From <= atLeast.From && got.To >= atLeast.To
					if !enough || got.From < atMost.From || got.To > atMost.To {
						t.Errorf("pair %d, %d: reads %v, want %v to %v", i, j, got, atLeast, atMost)
					}
				}
			}
		})
	}
	l := New(narrow, blocks, Cols, samples, rx, nil, 1)
	for i := range rxElements {
		for j := range rxElements {
			if got, want := l.Reads(i, j), l.Reads(j, i); got != want {
				t.Errorf("pair %d, %d of one path: reads %v, and %v for %d, %d", i, j, got, want, j, i)
			}
		}
	}
}

// TestOrder checks that the elements of tables have places of their own, and that the elements of a
// group stand together in each block, block after block.
func TestOrder(t *testing.T) {
	const blocks = 7
	for elements := 1; elements <= 5*maxGroup; elements++ {
		o := newOrder(elements, blocks)
		if o.group > maxGroup || o.places() >= (elements+elements/maxGroup+1)*blocks {
			t.Fatalf("%d elements: groups of %d, %d places", elements, o.group, o.places())
		}
		used := make([]bool, o.places())
		for e := range elements {
			if got := o.element(o.Slot(e)); got != e {
				t.Fatalf("%d elements: slot %d of element %d is of element %d", elements, o.Slot(e), e, got)
			}
			for b := range blocks {
				at := o.at(b, o.Slot(e))
				if used[at] {
					t.Fatalf("%d elements: element %d in block %d stands where another does", elements, e, b)
				}
				used[at] = true
				first := o.at(0, o.Slot(o.Group(e)*o.group)) // of the group
				if want := first + b*o.group + e%o.group; at != want {
					t.Fatalf("%d elements: element %d in block %d at %d, want %d", elements, e, b, at, want)
				}
			}
		}
	}
}
