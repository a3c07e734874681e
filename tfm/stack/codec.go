// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"encoding/binary"
	"hash/crc32"
	"math"
	"sync"

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
	values []byte    // of a frame
	states []byte    // of a frame; empty without Layout.FrameStates
}

func newCodec(l *Layout) *codec {
	c := &codec{layout: l, values: make([]byte, l.frameBytes())}
	if l.Values == Int16 {
		c.levels = make([]float32, l.Grid.Len())
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
	dst := c.values[view*n*c.layout.Values.size():]
	if c.layout.Values == Float32 {
		for i, v := range e.Data {
			if e.State(i)&tfm.Blank != 0 {
				v = float32(math.NaN())
			}
			binary.LittleEndian.PutUint32(dst[4*i:], math.Float32bits(v))
		}
		return
	}
	reference := c.layout.Views[view].Reference
	pixel.Decibels(c.levels, e.Data, pixel.Levels{
		Scale:     1 / reference,
		Threshold: float32(reference * math.Pow(10, float64(bottom)/20)),
		Floor:     bottom,
	})
	for i, level := range c.levels {
		code := codeOf(level)
		if e.State(i)&tfm.Blank != 0 {
			code = noValue
		}
		binary.LittleEndian.PutUint16(dst[2*i:], uint16(code))
	}
}

// setStates writes the states of pixels, or of pixels without states.
func setStates(dst []byte, states []tfm.State) {
	clear(dst)
	for i, s := range states {
		dst[i] = byte(s)
	}
}

// codeOf returns the code of a level in dB of at least bottom.
func codeOf(level float32) int16 {
	return int16(min(max(math.Floor(float64(level*perLevel)+0.5), below), above))
}

// fill encodes a frame without images.
func (c *codec) fill() {
	for i := range c.layout.pixels() {
		if c.layout.Values == Float32 {
			binary.LittleEndian.PutUint32(c.values[4*i:], math.Float32bits(float32(math.NaN())))
		} else {
			binary.LittleEndian.PutUint16(c.values[2*i:], 1<<15)
		}
	}
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
