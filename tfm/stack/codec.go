// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"encoding/binary"
	"hash/crc32"
	"math"
	"slices"
	"sync"
	"unsafe"

	"github.com/isochron-imaging/isochron/internal/vector"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/internal/pixel"
)

// The codes of [Int16].
const (
	noValue = math.MinInt16
	below   = math.MinInt16 + 1
	above   = math.MaxInt16

	perLevel = 100                                // codes in a decibel
	lowest   = float32(below+1) / perLevel        // the lowest level with a code of its own, in dB
	bottom   = float32(float64(below) / perLevel) // the level that stands for below
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// sum returns the CRC-32C of the bytes that gave sum before, and b.
func sum(before uint32, b []byte) uint32 { return crc32.Update(before, castagnoli, b) }

// codec turns envelopes into the bytes of a file. Its memory is used again.
type codec struct {
	layout *Layout
	levels []float32 // of a view in dB
	codes  []int16   // of a view
	buffer []byte
	values []byte // of a frame
	states []byte // of a frame; empty without Layout.FrameStates
}

func newCodec(l *Layout) *codec {
	c := &codec{layout: l, values: make([]byte, l.frameBytes())}
	if l.Values == Int16 {
		c.levels, c.codes = make([]float32, l.Grid.Len()), make([]int16, l.Grid.Len())
	}
	if l.FrameStates {
		c.states = make([]byte, l.pixels())
	}
	return c
}

// set encodes an envelope as a view of the frame.
func (c *codec) set(view int, e *tfm.Envelope) {
	n := c.layout.Grid.Len()
	if c.layout.FrameStates {
		setStates(c.states[view*n:(view+1)*n], e.States)
	}
	size := c.layout.Values.size()
	dst := c.values[view*n*size : (view+1)*n*size]
	if c.layout.Values == Float32 {
		copy(dst, littleEndian(e.Data, &c.buffer))
	} else {
		c.setLevels(dst, e.Data, c.layout.Views[view].Reference)
	}
	for i, s := range e.States {
		if s&tfm.Blank != 0 {
			c.layout.Values.fill(dst[size*i : size*(i+1)])
		}
	}
}

// setLevels encodes amplitudes as codes.
func (c *codec) setLevels(dst []byte, amplitudes []float32, reference float64) {
	pixel.Decibels(c.levels, amplitudes, pixel.Levels{
		Scale:     1 / reference,
		Threshold: float32(reference * math.Pow(10, float64(bottom)/20)),
		Floor:     bottom,
	})
	const highest = float32(above) / perLevel
	if vector.Peak(c.levels) > -bottom {
		for i, level := range c.levels {
			c.levels[i] = min(level, highest)
		}
	}
	vector.Pack(c.codes, c.levels, perLevel)
	copy(dst, littleEndian(c.codes, &c.buffer))
}

// littleEndian returns numbers as little-endian bytes: without a copy if the machine holds them so,
// otherwise in a buffer.
func littleEndian[T int16 | float32](numbers []T, buffer *[]byte) []byte {
	size := int(unsafe.Sizeof(T(0)))
	b := unsafe.Slice((*byte)(unsafe.Pointer(unsafe.SliceData(numbers))), len(numbers)*size)
	if binary.NativeEndian.Uint16([]byte{1, 0}) == 1 {
		return b
	}
	*buffer = append((*buffer)[:0], b...)
	for number := range slices.Chunk(*buffer, size) {
		slices.Reverse(number)
	}
	return *buffer
}

// setStates writes the states of pixels, or of pixels without states.
func setStates(dst []byte, states []tfm.State) {
	clear(dst)
	for i, s := range states {
		dst[i] = byte(s)
	}
}

// fill encodes values that are none.
func (v Values) fill(dst []byte) {
	for i := 0; i < len(dst); i += v.size() {
		if v == Float32 {
			binary.LittleEndian.PutUint32(dst[i:], math.Float32bits(float32(math.NaN())))
		} else {
			binary.LittleEndian.PutUint16(dst[i:], 1<<15)
		}
	}
}

// fill encodes a frame without images.
func (c *codec) fill() {
	c.layout.Values.fill(c.values)
	clear(c.states)
}

// checksum returns the checksum of the frame.
func (c *codec) checksum() uint32 { return sum(sum(0, c.values), c.states) }

// amplitudes holds the amplitude, relative to the reference, of each code of [Int16], at the code
// plus 32768. The amplitudes of no value and of below are 0.
var amplitudes = sync.OnceValue(func() *[1 << 16]float32 {
	var a [1 << 16]float32
	for code := below + 1; code <= above; code++ {
		a[code+1<<15] = float32(math.Pow(10, float64(code)/perLevel/20))
	}
	return &a
})

// decodeAmplitudes writes the amplitudes of a view to dst. No value is 0, because an envelope holds
// finite values only: the state of such a pixel is Blank.
func (l *Layout) decodeAmplitudes(dst []float32, view int, values []byte) {
	if l.Values == Float32 {
		for i := range dst {
			v := math.Float32frombits(binary.LittleEndian.Uint32(values[4*i:]))
			if !(v > 0) {
				v = 0
			}
			dst[i] = v
		}
		return
	}
	relative, reference := amplitudes(), float32(l.Views[view].Reference)
	for i := range dst {
		dst[i] = relative[binary.LittleEndian.Uint16(values[2*i:])^1<<15] * reference
	}
}

// decodeLevels writes the levels of a view in dB relative to its reference to dst, one a pixel. An
// amplitude of 0 has the level bottom, and no value is NaN.
func (v *leveller) decodeLevels(dst []float32, values []byte) {
	if v.layout.Values == Int16 {
		for i := range dst {
			code := int16(binary.LittleEndian.Uint16(values[2*i:]))
			dst[i] = float32(float32(code)*(1./perLevel)) + v.offset
			if code == noValue {
				dst[i] = float32(math.NaN())
			}
		}
	} else {
		v.amplitudeLevels(dst, values)
	}
	for i, offset := range v.offsets {
		dst[i] += offset
	}
}

// amplitudeLevels is decodeLevels for Float32, without the offsets.
func (v *leveller) amplitudeLevels(dst []float32, values []byte) {
	v.layout.decodeAmplitudes(dst, v.view, values)
	pixel.Decibels(dst, dst, pixel.Levels{
		Scale:     v.scale,
		Threshold: float32(math.Pow(10, float64(bottom)/20) / v.scale),
		Floor:     bottom,
	})
	for i := range dst {
		if amplitude := math.Float32frombits(binary.LittleEndian.Uint32(values[4*i:])); amplitude != amplitude {
			dst[i] = amplitude
		}
	}
}
