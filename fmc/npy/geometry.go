// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Geometry returns the media and the surfaces of s in the form that package wedge traces rays
// through. A set-up with a field out of range is an error that wraps [ErrSetup].
func (s Setup) Geometry() (*wedge.Setup, error) {
	if err := s.validate(); err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	part := s.Part.isotropic()
	var coupling *material.Isotropic
	if s.Coupling != nil {
		medium := s.Coupling.isotropic()
		coupling = &medium
	}
	switch s.Surface.String() {
	case plane:
		return wedge.NewPlate(coupling, part, s.Part.Thickness)
	case cylinder:
		return wedge.NewPipe(coupling, part, s.Surface.Radius, s.Part.Thickness)
	}
	entry, err := wedge.NewProfile(s.Surface.Points)
	if err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	back, err := wedge.HorizontalPlane(s.Part.Thickness)
	if err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	return &wedge.Setup{Coupling: coupling, Part: part, Entry: entry, Back: back}, nil
}

func (m Medium) isotropic() material.Isotropic {
	return material.Isotropic{
		Density: m.Density, Longitudinal: m.Longitudinal, Transverse: m.Transverse,
	}
}
