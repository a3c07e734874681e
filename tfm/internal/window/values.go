// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import "unsafe"

// WriteValues writes one value a pixel of the blocks first to last-1 to an image whose rows have
// cols pixels. The values of a block stand in the order of its accumulators: [Pixels] values a
// block.
func (l *Layout) WriteValues(image []float32, cols, first, last int, values []float32) {
	for first < last {
		n := 0
		if rowsInAssembly {
			n = l.besides(first, last)
		}
		if n == 0 {
			l.Blocks[first].writeValues(image, cols, values)
			n = 1
		} else {
			at := l.Blocks[first].First
			_, _ = image[at+(Rows-1)*cols+n*Cols-1], values[n*Pixels-1]
			writeValues(&image[at], uintptr(cols)*unsafe.Sizeof(image[0]), &values[0], n)
		}
		values = values[n*Pixels:]
		first += n
	}
}

// besides returns how many blocks from first on, before last, stand beside each other with all
// pixels in the image.
func (l *Layout) besides(first, last int) (n int) {
	for first+n < last {
		b := l.Blocks[first+n]
		if b.Rows < Rows || b.Cols < Cols || b.First != l.Blocks[first].First+n*Cols {
			break
		}
		n++
	}
	return n
}

// writeValues writes the values of b.
func (b Block) writeValues(image []float32, cols int, values []float32) {
	for r := range int(b.Rows) {
		row := image[b.First+r*cols:][:b.Cols]
		for c := range row {
			row[c] = values[c/4*half+r*4+c%4]
		}
	}
}
