// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"os"
	"runtime"
	"strings"
)

// machine returns one line on what measures: Go, the system, its cores, and what Linux says of the
// processor.
func machine() string {
	line := fmt.Sprintf("%s, %s/%s, cores in use: %d", runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.GOMAXPROCS(0))
	text, err := os.ReadFile("/proc/cpuinfo")
	if err != nil {
		return line // another system
	}
	return line + processorName(string(text))
}

// processorName returns the name, the family and the model of the first processor in a text like
// /proc/cpuinfo.
func processorName(text string) (name string) {
	core, _, _ := strings.Cut(text, "\n\n")
	values := make(map[string]string)
	for line := range strings.Lines(core) {
		if label, value, found := strings.Cut(line, ":"); found {
			values[strings.TrimSpace(label)] = strings.TrimSpace(value)
		}
	}
	for _, label := range []string{"model name", "cpu family", "model"} {
		if value := values[label]; value != "" {
			name += ", " + strings.TrimPrefix(label+" ", "model name ") + value
		}
	}
	return name
}
