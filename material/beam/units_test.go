// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import "math"

func degrees(radians float64) float64    { return radians * 180 / math.Pi }
func radians(degrees float64) float64    { return degrees * math.Pi / 180 }
func decibels(amplitude float64) float64 { return 20 * math.Log10(math.Abs(amplitude)) }
