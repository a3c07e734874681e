// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package quality

import (
	"errors"
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
)

// Averaging is the noise that is left in averages of frames.
type Averaging struct {
	Frames int     // number of frames in an average
	Noise  float64 // rms of the noise of the average, in the unit of the samples
	// GainDB is how far this noise lies below the noise of one frame, in dB. IdealDB is
	// 10·log10(Frames), the gain if the noise of the frames is independent. A gain below the ideal
	// gain shows noise that lasts longer than a frame, such as drift or
	// interference. GainDB is NaN if the frames have no noise.
	GainDB, IdealDB float64
}

// AveragingGain returns the noise in averages of 1, 2, 4 … consecutive frames, up to half of the
// frames. The frames, at least two, are repeated captures of the same set-up.
//
// The noise is the two-sample deviation: half of the mean square of the difference between averages
// that follow each other is the variance of one average (D. W. Allan, Proc. IEEE 54 (1966) 221,
// from memory). So echoes cancel. Noise that is equal in all frames cancels too and is not seen:
// noise of the grain, and interference in step with the trigger.
func AveragingGain(frames []*fmc.Capture) ([]Averaging, error) {
	if len(frames) < 2 {
		return nil, fmt.Errorf("quality: %d frames: want at least 2", len(frames))
	}
	for i, f := range frames {
		if f == nil {
			return nil, fmt.Errorf("quality: frame %d is nil: want a capture", i)
		}
		if len(f.Data) != len(frames[0].Data) {
			return nil, fmt.Errorf("quality: frame %d of %d samples: want %d, as the first frame has", i, len(f.Data), len(frames[0].Data))
		}
		if err := f.CheckSamples(); err != nil {
			return nil, fmt.Errorf("quality: frame %d: %w", i, err)
		}
	}
	if len(frames[0].Data) == 0 {
		return nil, errors.New("quality: frames without samples: want at least one")
	}
	var out []Averaging
	for n := 1; 2*n <= len(frames); n *= 2 {
		a := Averaging{Frames: n, Noise: averageNoise(frames, n), IdealDB: 10 * math.Log10(float64(n))}
		if n > 1 {
			a.GainDB = 20 * math.Log10(out[0].Noise/a.Noise)
		}
		out = append(out, a)
	}
	return out, nil
}

// averageNoise returns the two-sample deviation of averages of n frames.
func averageNoise(frames []*fmc.Capture, n int) float64 {
	blocks := len(frames) / n
	sum := 0.0
	for k := range frames[0].Data {
		previous := 0.0
		for b := range blocks {
			mean := 0.0
			for _, f := range frames[b*n : (b+1)*n] {
				mean += float64(f.Data[k])
			}
			mean /= float64(n)
			if d := mean - previous; b > 0 {
				sum += d * d
			}
			previous = mean
		}
	}
	return math.Sqrt(sum / 2 / float64((blocks-1)*len(frames[0].Data)))
}
