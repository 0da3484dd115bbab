package plane

import "github.com/paulmach/orb"

// XY is a position in metres in the frame of one field: easting, northing.
type XY orb.Point

// X returns the easting in metres.
func (p XY) X() float64 { return p[0] }

// Y returns the northing in metres.
func (p XY) Y() float64 { return p[1] }

// Shape is a set of polygons in metres. A Shape made by this package is valid:
// rings are closed and simple, shells turn counter-clockwise and holes
// clockwise, and no two polygons share more than single points. The zero value
// is the empty shape.
type Shape orb.MultiPolygon

// Line is a line in metres.
type Line orb.LineString
