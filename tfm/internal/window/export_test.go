// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

// withoutVNNI holds the kernels that this processor could run, but does not select.
var withoutVNNI []Assembly

// WithoutVNNI returns the kernels that this processor can run but does not select, because it has
// VPDPWSSD.
func WithoutVNNI() []Assembly { return withoutVNNI }

// TablesOf returns the tables that hold block b of l.
func TablesOf(l *Layout, b int) (tx, rx *Table) { return l.tables(b)[0], l.tables(b)[1] }
