// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.
//go:build purego

package guard

// Assembly says whether this build uses the assembly that there is for its architecture:
// the tag purego leaves it out.
const Assembly = false
