package vector

import (
	"errors"
	"fmt"

	"corewalk/geo/crs"
)

// Collection is what WriteGeoJSON writes.
type Collection struct {
	Features []OutFeature
	// Members are foreign members of the collection, written in this order
	// before the features.
	Members []Member
}

// Member is a foreign member. Value is anything that encoding/json can write.
type Member struct {
	Name  string
	Value any
}

// OutFeature is a feature to be written. At most one of the geometries is set;
// with none the feature has no geometry.
type OutFeature struct {
	ID         string // "" for none
	Shape      crs.LonLatShape
	Line       crs.LonLatLine
	Point      *crs.LonLat
	Points     []crs.LonLat
	Properties []Property
}

// Property is an attribute. Value is a string, a bool, a whole number, a
// float64 or nil; WriteGeoJSON takes besides anything that encoding/json can
// write.
type Property struct {
	Name  string
	Value any
}

// geometryKind tells which geometry of an OutFeature is set.
type geometryKind int

const (
	noGeometry geometryKind = iota
	shapeGeometry
	lineGeometry
	pointGeometry
	pointsGeometry
)

func (f *OutFeature) kind() (geometryKind, error) {
	kind, set := noGeometry, 0
	for _, g := range [...]struct {
		kind geometryKind
		set  bool
	}{
		{shapeGeometry, len(f.Shape) > 0}, {lineGeometry, len(f.Line) > 0}, {pointGeometry, f.Point != nil}, {pointsGeometry, len(f.Points) > 0},
	} {
		if g.set {
			kind = g.kind
			set++
		}
	}
	if set > 1 {
		return noGeometry, errors.New("more than one geometry is set")
	}
	return kind, nil
}

// checkNames refuses two properties of one name.
func (f *OutFeature) checkNames() error {
	if len(f.Properties) > fewNames {
		seen := make(map[string]bool, len(f.Properties))
		for _, p := range f.Properties {
			if seen[p.Name] {
				return fmt.Errorf("two properties are called %q", p.Name)
			}
			seen[p.Name] = true
		}
		return nil
	}
	for i, p := range f.Properties {
		for _, q := range f.Properties[:i] {
			if q.Name == p.Name {
				return fmt.Errorf("two properties are called %q", p.Name)
			}
		}
	}
	return nil
}

// fewNames are quicker compared each with each than put into a table.
const fewNames = 20
