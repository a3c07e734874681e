// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"encoding/binary"
	"encoding/json"
	"math"
	"net/http"
)

// answer is what the server sends to the page: a head as JSON, and numbers. In bytes,
// little-endian:
//
//	4 bytes      length n of the head, a multiple of 4
//	n bytes      the head as JSON, filled up with spaces
//	4 bytes each the numbers as float32
type answer struct {
	head    any
	numbers []float32
	timing  string // of the header Server-Timing, "" for none
}

// bytes returns the answer as it is sent.
func (a *answer) bytes() ([]byte, error) {
	head, err := json.Marshal(a.head)
	if err != nil {
		return nil, err
	}
	for len(head)%4 != 0 {
		head = append(head, ' ')
	}
	all := make([]byte, 0, 4+len(head)+4*len(a.numbers))
	all = binary.LittleEndian.AppendUint32(all, uint32(len(head)))
	all = append(all, head...)
	for _, v := range a.numbers {
		all = binary.LittleEndian.AppendUint32(all, math.Float32bits(v))
	}
	return all, nil
}

// send sends the answer.
func (a *answer) send(w http.ResponseWriter) error {
	all, err := a.bytes()
	if err != nil {
		return err
	}
	if a.timing != "" {
		w.Header().Set("Server-Timing", a.timing)
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	_, err = w.Write(all)
	return err
}
