// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.
//go:build purego

package guard

// Assembly says whether this build uses assembly. The tag purego leaves assembly out.
const Assembly = false
