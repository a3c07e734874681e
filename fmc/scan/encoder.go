// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"fmt"
	"math"
)

// Encoder converts counts into positions.
type Encoder struct {
	// CountsPerMetre is finite and not 0, from 1 to 1e12 in modulus. It is negative if the counts
	// fall while the position grows.
	CountsPerMetre float64
	// Zero is the count at position 0.
	Zero int64
	// Backlash is the play of the encoder in m, from 0 on and at most 1e6 m. It is the way of the
	// array after a reversal before the count changes.
	Backlash float64
}

func (e Encoder) validate() error {
	if size := math.Abs(e.CountsPerMetre); !(size >= 1 && size <= 1e12) {
		return fmt.Errorf("scan: %v counts per metre: want a modulus of 1 to 1e12", e.CountsPerMetre)
	}
	if !(e.Backlash >= 0 && e.Backlash <= maxLength) {
		return fmt.Errorf("scan: backlash %v m: want 0 to %g m", e.Backlash, float64(maxLength))
	}
	return nil
}

// maxCount bounds the distance of a count from zero. Up to here a float64 holds whole numbers.
const maxCount = 1 << 53

// position returns the position of a count in m, without regard to backlash.
func (e Encoder) position(count int64) (float64, error) {
	distance := float64(count) - float64(e.Zero)
	position := distance / e.CountsPerMetre
	if !(math.Abs(distance) <= maxCount && math.Abs(position) <= maxLength) {
		return 0, fmt.Errorf("scan: count %d, %v counts from zero: want a position within ±%g m", count,
			distance, float64(maxLength))
	}
	return position, nil
}

// Positions returns the positions in m of counts that were read one after the other.
//
// While the count moves in one direction, the encoder follows the array. After a reversal the array
// moves by the backlash before the count changes. Positions therefore subtracts the backlash where
// the last change of the count was opposite to the first change. Between the last count in one
// direction and the first count in the other, the position is uncertain by the backlash.
func (e Encoder) Positions(counts []int64) ([]float64, error) {
	if err := e.validate(); err != nil {
		return nil, err
	}
	positions := make([]float64, len(counts))
	first, direction := 0.0, 0.0
	for i, count := range counts {
		p, err := e.position(count)
		if err != nil {
			return nil, fmt.Errorf("%w, in reading %d", err, i)
		}
		if i > 0 && count != counts[i-1] {
			direction = math.Copysign(1, float64(count)-float64(counts[i-1]))
			if e.CountsPerMetre < 0 {
				direction = -direction
			}
			if first == 0 {
				first = direction
			}
		}
		if direction != first {
			p += direction * e.Backlash
		}
		positions[i] = p
	}
	return positions, nil
}
