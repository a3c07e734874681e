// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/tfm"
)

// Find returns the indications of env, strongest first; peaks of equal amplitude
// are in the order of their pixels. An envelope of zeros has none.
//
// The drop area of a pixel holds the pixels that are connected to it, along sides or corners,
// through pixels that lie no more than the drop below it. A pixel is the peak of an indication if
// it is the highest pixel of its drop area. So a maximum inside the area of a stronger maximum
// belongs to the stronger maximum. So does a maximum that is connected to a stronger maximum by a
// ridge which lies less than the drop below the weaker maximum. A weaker maximum behind a deeper
// saddle is another indication. Of equal pixels the pixel with the lowest index counts as the
// highest. Areas of different indications never overlap.
//
// The peak is then placed between pixels (see the package documentation). The contour lies the
// drop below the peak.
//
// An envelope that holds no amplitudes is an error, because its drops are not drops of amplitude,
// unless Options.Amplitudes holds the amplitudes to measure on. Then the peaks are found in env,
// above the floor relative to the highest value of env, and Options.Reference, the levels and the
// contours are of Amplitudes. The highest of the peaks found is then the reference by default.
//
// The envelope must be one section (see [tfm.Envelope.Section]) of finite amplitudes, none of them
// negative. Find does not change env. Calls may run at the same time. It takes O(n log n) time for
// the n pixels above the floor minus one and a half drops.
func Find(env *tfm.Envelope, options *Options) ([]Indication, error) {
	opt, err := options.withDefaults()
	if err != nil {
		return nil, err
	}
	highest, err := checkSection(env)
	if err != nil {
		return nil, err
	}
	if opt.Amplitudes == nil {
		if err := checkQuantity(env); err != nil {
			return nil, err
		}
	}
	if highest == 0 {
		return nil, nil
	}
	reference := cmp.Or(opt.Reference, highest)
	amplitudes := env
	if opt.Amplitudes != nil {
		amplitudes = opt.Amplitudes
		reference = highest // Reference is in the unit of the amplitudes
	}
	noise, err := EstimateNoise(amplitudes)
	if err != nil {
		return nil, err
	}
	if opt.Floor == 0 {
		opt.Floor = smallFloor
		if opt.Amplitudes == nil {
			opt.Floor = noise.defaultFloor(reference)
		}
	}
	m := newMeasurer(amplitudes, Ratio(-opt.Drop))
	found, err := opt.locate(env, m, reference, mergedDip*noise.Level)
	if err != nil {
		return nil, err
	}
	return opt.measure(found, m, noise)
}

// locate returns the peaks of env above the floor, which is relative to the reference, from the
// highest one down. If the amplitudes to measure on are another envelope, the peaks are the peaks
// of the amplitudes that they lead to. A dip of the amplitude separates merged peaks.
func (o *Options) locate(env *tfm.Envelope, m *measurer, reference, dip float64) ([]Indication, error) {
	lowest := reference * Ratio(o.Floor) * math.Sqrt(m.ratio) // the fit of a peak may raise it by half the drop
	f := newFlood(env, lowest, m.ratio, dip)
	peaks := f.peaks()
	if o.Amplitudes != nil {
		var err error
		if peaks, err = climbed(o.Amplitudes, env, peaks); err != nil {
			return nil, err
		}
		f = newFlood(o.Amplitudes, lowestOf(o.Amplitudes, peaks), m.ratio, dip)
		f.peaks()
	}
	var found []Indication
	for _, p := range peaks {
		in := m.locate(p)
		// A peak in the drop area of a higher peak is not among the peaks of the flood.
		_, highest := slices.BinarySearch(f.found, p)
		in.Merged = f.merged[p] || !highest
		found = append(found, in)
	}
	slices.SortFunc(found, func(a, b Indication) int {
		return cmp.Or(cmp.Compare(b.Amplitude, a.Amplitude), cmp.Compare(a.Pixel, b.Pixel))
	})
	return found, nil
}

// measure numbers and sizes indications, which are in the order of their amplitudes. It leaves out
// indications below the floor.
func (o *Options) measure(found []Indication, m *measurer, noise Noise) ([]Indication, error) {
	reference := o.Reference
	if reference == 0 && len(found) > 0 {
		reference = found[0].Amplitude
	}
	for i := range found {
		in := &found[i]
		in.ID = i + 1
		in.LevelDB = LevelDB(in.Amplitude, reference)
		if in.LevelDB < o.Floor {
			return found[:i:i], nil
		}
		m.size(in)
		in.SNRDB = noise.ratioDB(in.Amplitude)
		if o.Spread != nil {
			if err := in.resolve(o.Spread, o.Drop); err != nil {
				return nil, err
			}
		}
	}
	return found, nil
}

// checkQuantity refuses an envelope whose values a drop does not size. A weight narrows echoes and
// lowers weak echoes, and a fused envelope joins echoes of several beams.
func checkQuantity(env *tfm.Envelope) error {
	if env.Quantity != tfm.Amplitude {
		return fmt.Errorf("sizing: envelope of %v, in which a drop of amplitude has no meaning: want amplitudes; Find measures on Options.Amplitudes", env.Quantity)
	}
	return nil
}

// lowestOf returns the lowest amplitude of some pixels.
func lowestOf(env *tfm.Envelope, pixels []int32) float64 {
	lowest := math.Inf(1)
	for _, p := range pixels {
		lowest = min(lowest, float64(env.Data[p]))
	}
	return lowest
}

// climbed returns the peaks of amplitudes that the peaks of env lead to, each once: from each peak
// the highest neighbour, and so on.
func climbed(amplitudes, env *tfm.Envelope, own []int32) (tops []int32, err error) {
	highest, err := checkSection(amplitudes)
	if err != nil {
		return nil, err
	}
	if amplitudes.Grid != env.Grid {
		return nil, fmt.Errorf("sizing: Amplitudes on the grid %+v: want the grid of the envelope, %+v", amplitudes.Grid, env.Grid)
	}
	if err := checkQuantity(amplitudes); err != nil || highest == 0 {
		return nil, err
	}
	for _, p := range own {
		for {
			top := p
			for q := range neighbours(env.Grid, int(p)) {
				if amplitudes.Data[q] > amplitudes.Data[top] {
					top = int32(q)
				}
			}
			if top == p {
				break
			}
			p = top
		}
		if !slices.Contains(tops, p) {
			tops = append(tops, p)
		}
	}
	return tops, nil
}

// checkSection returns the highest amplitude of env, or an error if env is not valid.
func checkSection(env *tfm.Envelope) (highest float64, err error) {
	if err := checkGrid(env); err != nil {
		return 0, err
	}
	for i, v := range env.Data {
		if err := checkAmplitude(env, i); err != nil {
			return 0, err
		}
		highest = max(highest, float64(v))
	}
	return highest, nil
}

// checkGrid returns the fault of env, apart from faults of amplitudes.
func checkGrid(env *tfm.Envelope) error {
	if env == nil {
		return errors.New("sizing: envelope nil: want an envelope")
	}
	if err := env.Validate(); err != nil {
		return fmt.Errorf("sizing: grid of the envelope: %w", err)
	}
	if env.Slices != 1 {
		return fmt.Errorf("sizing: envelope of %d slices: want one section, as Envelope.Section returns", env.Slices)
	}
	if len(env.Data) != env.Len() {
		return fmt.Errorf("sizing: envelope of %d amplitudes: want %d, one a pixel", len(env.Data), env.Len())
	}
	if env.States != nil && len(env.States) != env.Len() {
		return fmt.Errorf("sizing: envelope of %d states: want %d, one a pixel, or none", len(env.States), env.Len())
	}
	return nil
}

// checkAmplitude reports an amplitude of pixel i that is out of range.
func checkAmplitude(env *tfm.Envelope, i int) error {
	v := env.Data[i]
	if !(v >= 0) || v > math.MaxFloat32 {
		return fmt.Errorf("sizing: amplitude %v at pixel %d: want a finite value, not negative", v, i)
	}
	return nil
}

// flood finds the peaks of a section.
type flood struct {
	env           *tfm.Envelope
	lowest, ratio float64 // of peaks; of the drop
	dip           float64 // smallest depth of a saddle between peaks that count as two
	parent        []int32 // the forest of the components; a root is the highest pixel
	merged        []bool  // of a root: whether it was joined with another peak that counts
	found         []int32
}

func newFlood(env *tfm.Envelope, lowest, ratio, dip float64) *flood {
	f := &flood{env: env, lowest: lowest, ratio: ratio, dip: dip}
	f.parent, f.merged = make([]int32, len(env.Data)), make([]bool, len(env.Data))
	for i := range f.parent {
		f.parent[i] = dry
	}
	return f
}

// peaks returns the pixels that are not below lowest and are the highest of their drop area, in
// ascending order. It
// adds pixels in order of falling amplitude, and joins each pixel to the components of its
// neighbours. The pixel at which two components meet is the saddle of the weaker component.
func (f *flood) peaks() []int32 {
	order := descending(f.env.Data, f.lowest*f.ratio)
	for _, key := range order {
		p := pixelOf(key)
		f.parent[p] = p
		for q := range neighbours(f.env.Grid, int(p)) {
			if f.parent[q] == dry {
				continue
			}
			if a, b := root(f.parent, p), root(f.parent, int32(q)); a != b {
				f.join(a, b, p)
			}
		}
	}
	// If a component has met no stronger component, its saddle lies below all pixels of order.
	for _, key := range order {
		if p := pixelOf(key); f.parent[p] == p {
			f.keep(p)
		}
	}
	slices.Sort(f.found)
	return f.found
}

// keep adds a peak that is not below lowest.
func (f *flood) keep(p int32) {
	if float64(f.env.Data[p]) >= f.lowest {
		f.found = append(f.found, p)
	}
}

// join joins two components, given by their roots, at their saddle.
func (f *flood) join(a, b, saddle int32) {
	data := f.env.Data
	if data[a] < data[b] || data[a] == data[b] && a > b {
		a, b = b, a
	}
	f.parent[b] = a
	low, high := float64(data[saddle]), float64(data[b])
	if low < high*f.ratio {
		f.keep(b)
		return
	}
	if high < float64(data[a])*f.ratio {
		return // too weak to change the contour of a
	}
	two := low < high*mergedRatio && high-low > f.dip
	f.merged[a] = f.merged[a] || two // if b has merged, the saddle counts too
}

// A saddle counts between two peaks if it lies at least 1.5 dB below the weaker peak, and at least
// mergedDip times the level of the noise. Both were chosen on the even trials of TestMerged.
const (
	mergedRatio = 0.8413951416451951 // 10^(-1.5/20)
	mergedDip   = 3
)

// dry marks a pixel that the flood has not reached.
const dry = -1

// root returns the root of p's component, and shortens the way to it.
func root(parent []int32, p int32) int32 {
	for parent[p] != p {
		parent[p] = parent[parent[p]]
		p = parent[p]
	}
	return p
}

// descending returns a key for each pixel above 0 and not below least, in order of falling
// amplitude, then of rising index. Non-negative floats have the same order as their bit patterns.
// So the high half of a key is the inverted bits of the amplitude, and the low half is the index.
func descending(data []float32, least float64) []uint64 {
	var keys []uint64
	for i, v := range data {
		if v > 0 && float64(v) >= least {
			keys = append(keys, uint64(^math.Float32bits(v))<<32|uint64(i))
		}
	}
	slices.Sort(keys)
	return keys
}

// pixelOf returns the index of the pixel of a key of descending.
func pixelOf(key uint64) int32 { return int32(uint32(key)) }

// neighbours yields the pixels of section g that touch pixel p, by corners
// included, and p itself.
func neighbours(g tfm.Grid, p int) func(yield func(int) bool) {
	r, c := p/g.Cols, p%g.Cols
	return func(yield func(int) bool) {
		for i := max(r-1, 0); i <= min(r+1, g.Rows-1); i++ {
			for j := max(c-1, 0); j <= min(c+1, g.Cols-1); j++ {
				if !yield(i*g.Cols + j) {
					return
				}
			}
		}
	}
}
