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
	var set []geometryKind
	if len(f.Shape) > 0 {
		set = append(set, shapeGeometry)
	}
	if len(f.Line) > 0 {
		set = append(set, lineGeometry)
	}
	if f.Point != nil {
		set = append(set, pointGeometry)
	}
	if len(f.Points) > 0 {
		set = append(set, pointsGeometry)
	}
	switch len(set) {
	case 0:
		return noGeometry, nil
	case 1:
		return set[0], nil
	}
	return noGeometry, errors.New("more than one geometry is set")
}

// checkNames refuses two properties of one name.
func (f *OutFeature) checkNames() error {
	seen := make(map[string]bool, len(f.Properties))
	for _, p := range f.Properties {
		if seen[p.Name] {
			return fmt.Errorf("two properties are called %q", p.Name)
		}
		seen[p.Name] = true
	}
	return nil
}
