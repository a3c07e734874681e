// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"io"
	"math"
	"path/filepath"
	"strings"

	"github.com/isochron-imaging/isochron/fmc/npy"
)

// identify returns the identity and the set-up of a capture with a name.
func identify(name string, input *npy.Record) (Capture, json.RawMessage, error) {
	var text bytes.Buffer
	if err := npy.Write(&text, io.Discard, name+".npy", input, npy.Float32); err != nil {
		return Capture{}, nil, fmt.Errorf("report: capture: %w", err)
	}
	var setup bytes.Buffer
	if err := json.Compact(&setup, text.Bytes()); err != nil {
		return Capture{}, nil, fmt.Errorf("report: set-up: %w", err)
	}
	return Capture{Name: name, Samples: hashFloats(input.Capture.Data), Setup: hashBytes(setup.Bytes())},
		setup.Bytes(), nil
}

// hashBytes returns the SHA-256 of data in hexadecimal digits.
func hashBytes(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// hashFloats returns the SHA-256 of values as little-endian float32.
func hashFloats(values []float32) string {
	h := sha256.New()
	var block [4096]byte
	for len(values) > 0 {
		n := min(len(values), len(block)/4)
		writeFloats(h, block[:4*n], values[:n])
		values = values[n:]
	}
	return hex.EncodeToString(h.Sum(nil))
}

// writeFloats writes values to h by way of a block of their size.
func writeFloats(h hash.Hash, block []byte, values []float32) {
	for i, v := range values {
		binary.LittleEndian.PutUint32(block[4*i:], math.Float32bits(v))
	}
	h.Write(block)
}

// NewFile returns the entry of a picture or an A-scan with its content.
func NewFile(name, caption, alternative string, content []byte) File {
	return File{name, caption, alternative, hashBytes(content)}
}

// checkName returns an error for a name that is not the name of a file in the same folder.
func checkName(what, name string) error {
	if name == "" || name != filepath.Base(name) || strings.ContainsAny(name, `/\`) || name == "." || name == ".." {
		return fmt.Errorf("report: %s %q: want a name without a folder", what, name)
	}
	return nil
}
