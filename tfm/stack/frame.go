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
	Position float64 // of the encoder along the scan in m; NaN if it is not known
	Across   float64 // of the encoder across the scan in m: the line of a raster; NaN if it is not known
	Time     float64 // since the start of the scan in s; NaN if it is not known
	// Repeats is the lowest index, below Index, of an imaged frame at the same Across that lies
	// closer than half the pitch of the layout. Otherwise it is -1. So a frame that repeats another
	// is imaged and kept, and it is known.
	Repeats int
	// Reason says why the frame was refused.
	Reason string
	// Samples is the CRC-32C (Castagnoli) of the samples as they came, in little-endian bytes. It
	// is 0 if no samples are known.
	Samples uint32
}

// entry is a frame in the table of a stack.
type entry struct {
	state                  FrameState
	position, across, time float64
	samples                uint32 // checksum of the samples
	values                 uint32 // checksum of the values and states in the files
	reason                 string
}

// unknown is a frame of which nothing is known.
var unknown = entry{position: math.NaN(), across: math.NaN(), time: math.NaN()}

// known reports whether a frame has come.
func (e *entry) known() bool { return e.state == Imaged || e.state == Refused }

const maxReason = 500

// line is an entry as the table of a file holds it.
type line struct {
	Index    int      `json:"index"`
	State    string   `json:"state"`
	Position *float64 `json:"position,omitempty"`
	Across   *float64 `json:"across,omitempty"`
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
		b = appendNumber(b, `, "position": `, e.position)
		b = appendNumber(b, `, "across": `, e.across)
		b = appendNumber(b, `, "time": `, e.time)
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

// appendNumber appends a field with a number. JSON has no NaN and no infinity: the field is left
// out then.
func appendNumber(b []byte, field string, v float64) []byte {
	if !number.Finite(v) {
		return b
	}
	return strconv.AppendFloat(append(b, field...), v, 'g', -1, 64)
}

// appendSum appends a checksum in 8 hexadecimal digits, and a quote.
func appendSum(b []byte, sum uint32) []byte {
	for shift := 28; shift >= 0; shift -= 4 {
		b = append(b, "0123456789abcdef"[sum>>shift&15])
	}
	return append(b, '"')
}

// entry returns the entry that a line holds.
func (l *line) entry() (entry, error) {
	e := unknown
	state := slices.Index(frameStateNames[:], l.State)
	if state < 0 {
		return e, fmt.Errorf("state %.50q: want one of %q", l.State, frameStateNames)
	}
	e.state, e.reason = FrameState(state), l.Reason
	numbers := 0
	for _, field := range []struct{ from, to *float64 }{{l.Position, &e.position}, {l.Across, &e.across}, {l.Time, &e.time}} {
		if field.from != nil {
			*field.to = *field.from
			numbers++
		}
	}
	var err error
	if e.known() {
		e.samples, err = parseSum(l.Samples)
	}
	if err == nil && e.state == Imaged {
		e.values, err = parseSum(l.Values)
	}
	if err != nil {
		return e, err
	}
	if !e.known() && (numbers > 0 || l.Samples != "") || e.state != Imaged && l.Values != "" {
		return e, fmt.Errorf("position, time, samples or values of a frame that is %v: want none", e.state)
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

// validate reports the first field that does not suit the state.
func (e *entry) validate() error {
	if bad := e.notFinite(); bad != "" && e.state == Imaged {
		return fmt.Errorf("%s: want a finite value", bad)
	}
	if (e.reason == "") != (e.state != Refused) || !printable(e.reason, maxReason) {
		return fmt.Errorf("reason %.50q of a frame that is %v: want 1 to %d bytes of printable UTF-8 for a refused frame only", e.reason, e.state, maxReason)
	}
	return nil
}

// notFinite names the first number that is NaN or infinite, with its value and unit. It returns ""
// if there is none.
func (e *entry) notFinite() string {
	switch {
	case !number.Finite(e.position):
		return fmt.Sprintf("position %v m", e.position)
	case !number.Finite(e.across):
		return fmt.Sprintf("position across %v m", e.across)
	case !number.Finite(e.time):
		return fmt.Sprintf("time %v s", e.time)
	}
	return ""
}

// forget turns numbers that are infinite into NaN: a file does not hold them.
func (e *entry) forget() {
	for _, v := range []*float64{&e.position, &e.across, &e.time} {
		if !number.Finite(*v) {
			*v = math.NaN()
		}
	}
}

// conflict reports a frame that came again and differs from the frame that is held.
func (e *entry) conflict(index int, again *entry) error {
	for _, field := range []struct {
		name       string
		held, came float64
	}{{"position in m", e.position, again.position}, {"position across in m", e.across, again.across}, {"time in s", e.time, again.time}} {
		if field.held != field.came && !(math.IsNaN(field.held) && math.IsNaN(field.came)) {
			return fmt.Errorf("stack: frame %d with the %s %v: the stack holds %v; want the same scan", index, field.name, field.came, field.held)
		}
	}
	if e.samples != again.samples {
		return fmt.Errorf("stack: frame %d with the checksum of samples %08x: the stack holds %08x; want the same scan", index, again.samples, e.samples)
	}
	return nil
}
