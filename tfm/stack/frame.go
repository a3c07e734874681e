// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"

	"github.com/isochron-imaging/isochron/internal/number"
)

// FrameState is what a stack knows of a frame.
type FrameState uint8

const (
	// NotImaged: the frame was not imaged yet, or lies beyond the range of a part.
	NotImaged FrameState = iota
	// Imaged: the stack holds the images of the frame.
	Imaged
	// Missing: the scan has no such frame. It was lost while the scan was recorded.
	Missing
	// Refused: the frame came, but it cannot be imaged. [Frame].Reason says why.
	Refused
)

var frameStateNames = [...]string{"not imaged", "imaged", "missing", "refused"}

// String returns the name of s, such as "not imaged".
func (s FrameState) String() string {
	if int(s) < len(frameStateNames) {
		return frameStateNames[s]
	}
	return fmt.Sprintf("FrameState(%d)", uint8(s))
}

// Frame is what a stack knows of one frame, without its images.
type Frame struct {
	Index    int
	State    FrameState
	Position float64 // of the encoder along the scan in m; NaN if the frame is missing or not imaged
	Time     float64 // since the start of the scan in s; NaN as Position
	// Repeats is the lowest index of an imaged frame that lies closer than half the pitch of the
	// layout, if that index is below Index. Otherwise it is -1. So a frame that repeats another is
	// imaged and kept, and it is known.
	Repeats int
	// Reason says why the frame was refused.
	Reason string
	// Samples is the CRC-32C (Castagnoli) of the samples as they came, in little-endian bytes. It is
	// 0 if no samples are known.
	Samples uint32
}

// entry is a frame in the table of a stack.
type entry struct {
	state          FrameState
	position, time float64
	samples        uint32 // checksum of the samples
	values         uint32 // checksum of the values and states in the files
	reason         string
}

// unknown is a frame of which nothing is known.
var unknown = entry{position: math.NaN(), time: math.NaN()}

// known reports whether the entry has a position.
func (e *entry) known() bool { return e.state == Imaged || e.state == Refused }

const maxReason = 500

// line is an entry as the table of a file holds it.
type line struct {
	Index    int      `json:"index"`
	State    string   `json:"state"`
	Position *float64 `json:"position,omitempty"`
	Time     *float64 `json:"time,omitempty"`
	Samples  string   `json:"samples,omitempty"`
	Values   string   `json:"values,omitempty"`
	Reason   string   `json:"reason,omitempty"`
}

// appendLine appends the line of an entry, without a newline. It allocates nothing unless the frame
// was refused.
func (e *entry) appendLine(b []byte, index int) []byte {
	b = append(b, `{"index": `...)
	b = strconv.AppendInt(b, int64(index), 10)
	b = append(b, `, "state": "`...)
	b = append(b, e.state.String()...)
	b = append(b, '"')
	if e.known() {
		b = append(b, `, "position": `...)
		b = strconv.AppendFloat(b, e.position, 'g', -1, 64)
		b = append(b, `, "time": `...)
		b = strconv.AppendFloat(b, e.time, 'g', -1, 64)
		b = appendSum(append(b, `, "samples": "`...), e.samples)
	}
	if e.state == Imaged {
		b = appendSum(append(b, `, "values": "`...), e.values)
	}
	if e.state == Refused {
		reason, _ := json.Marshal(e.reason) // a string has no error
		b = append(append(b, `, "reason": `...), reason...)
	}
	return append(b, '}')
}

// appendSum appends a checksum in 8 hexadecimal digits, and a quote.
func appendSum(b []byte, sum uint32) []byte {
	for shift := 28; shift >= 0; shift -= 4 {
		b = append(b, "0123456789abcdef"[sum>>shift&15])
	}
	return append(b, '"')
}

// entry returns the entry that a line holds.
func (l *line) entry() (e entry, err error) {
	state := slices.Index(frameStateNames[:], l.State)
	if state < 0 {
		return e, fmt.Errorf("state %.50q: want one of %q", l.State, frameStateNames)
	}
	e = entry{state: FrameState(state), position: math.NaN(), time: math.NaN(), reason: l.Reason}
	if has := l.Position != nil && l.Time != nil && l.Samples != ""; has != e.known() || has != (l.Position != nil) {
		return e, fmt.Errorf("state %q with or without position, time and samples: want them for imaged and refused frames only", l.State)
	}
	if (l.Values != "") != (e.state == Imaged) || (l.Reason != "") != (e.state == Refused) {
		return e, fmt.Errorf("state %q with values %.20q and reason %.20q: want values for imaged frames, a reason for refused frames", l.State, l.Values, l.Reason)
	}
	if !e.known() {
		return e, nil
	}
	e.position, e.time = *l.Position, *l.Time
	if e.samples, err = parseSum(l.Samples); err == nil && e.state == Imaged {
		e.values, err = parseSum(l.Values)
	}
	if err != nil {
		return e, err
	}
	return e, e.validate()
}

func parseSum(text string) (uint32, error) {
	sum, err := strconv.ParseUint(text, 16, 32)
	if err != nil || len(text) != 8 {
		return 0, fmt.Errorf("checksum %.20q: want 8 hexadecimal digits", text)
	}
	return uint32(sum), nil
}

// validate checks the fields of an entry that has a position.
func (e *entry) validate() error {
	if !number.Finite(e.position) {
		return fmt.Errorf("position %v m: want a finite value", e.position)
	}
	if !number.Finite(e.time) {
		return fmt.Errorf("time %v s: want a finite value", e.time)
	}
	if (e.reason == "") != (e.state != Refused) || !printable(e.reason, maxReason) {
		return fmt.Errorf("reason %.50q of a frame that is %v: want 1 to %d bytes of printable UTF-8 for a refused frame only", e.reason, e.state, maxReason)
	}
	return nil
}
