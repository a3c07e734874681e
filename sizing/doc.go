// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package sizing finds the indications of a focused picture and measures them:
// position, level, and size by the drop of the amplitude.
package sizing
