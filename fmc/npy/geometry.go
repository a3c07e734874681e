// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Geometry returns the materials and the surfaces of r as a set-up of package wedge. The capture
// may be nil. A field out of range is an error that wraps [ErrSetup].
func (r *Record) Geometry() (*wedge.Setup, error) {
	if err := r.validateSetup(); err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	part := r.Part.isotropic()
	var coupling *material.Isotropic
	if r.Coupling != nil {
		coupling = new(r.Coupling.isotropic())
	}
	switch r.Surface.String() {
	case plane:
		return wedge.NewPlate(coupling, part, r.Thickness)
	case cylinder:
		return wedge.NewPipe(coupling, part, r.Surface.Radius, r.Thickness)
	}
	entry, err := wedge.NewProfile(r.Surface.Points)
	if err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	back, err := wedge.HorizontalPlane(r.Thickness)
	if err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	return &wedge.Setup{Coupling: coupling, Part: part, Entry: entry, Back: back}, nil
}

func (m Material) isotropic() material.Isotropic {
	return material.Isotropic{
		Density: m.Density, Longitudinal: m.Longitudinal, Transverse: m.Transverse,
	}
}
