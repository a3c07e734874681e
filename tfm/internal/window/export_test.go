// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

// slower holds the kernels that this processor can run, but does not select because it has better
// instructions.
var slower []Assembly

// Slower returns the kernels that this processor can run, but does not select because it has better
// instructions. Their names say which ones.
func Slower() []Assembly { return slower }

// TablesOf returns the tables that hold block b of l.
func TablesOf(l *Layout, b int) (tx, rx *Table) { return l.tables(b)[0], l.tables(b)[1] }
