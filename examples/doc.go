// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package examples holds a course of small programs, tools and studies. README.md in this folder
// lists them.
package examples
