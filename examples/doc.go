// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package examples holds a course of small programs, tools and studies. README.md in this folder
// lists them.
//
// # For contributors
//
// A program of the course has one idea and one file, main.go, of fewer than 120 lines. It prints
// numbers beside a closed form or the truth, and writes one picture. Its comment explains both,
// and names the limits and the invented data. It takes at most 1.5 s of one core. Code that
// several programs need belongs in a package of the library, with documentation and tests.
//
// README.md of this folder gives the order. The tests build all programs, run them, and compare
// the printed text with output.txt: words are equal, and numbers agree within two units of their
// last digit. Look at the picture, and keep a new output with
//
//	go test ./examples -run Course -renew
package examples
