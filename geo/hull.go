package geo

import (
	"fmt"

	"github.com/paulmach/orb"
	"github.com/twpayne/go-geom"
	"github.com/twpayne/go-geom/xy"

	"corewalk/geo/plane"
)

// hull returns the convex hull of the points, widened by half of the median
// gap between neighbours.
func hull(points []XY) (plane.Shape, error) {
	flat := make([]float64, 0, 2*len(points))
	for _, p := range points {
		flat = append(flat, p[0], p[1])
	}
	gap := medianGap(points)
	if gap == 0 {
		return nil, fmt.Errorf("the results lie at one place; give a boundary to map them in")
	}
	ring := orb.Ring{}
	switch h := xy.ConvexHullFlat(geom.XY, flat).(type) {
	case *geom.Polygon:
		for _, c := range h.Coords()[0] {
			ring = append(ring, orb.Point{c[0], c[1]})
		}
	case *geom.LineString:
		line := plane.Line{}
		for _, c := range h.Coords() {
			line = append(line, orb.Point{c[0], c[1]})
		}
		return plane.BufferLine(line, gap/2)
	}
	core, _, err := plane.New(orb.MultiPolygon{{ring}})
	if err != nil {
		return nil, err
	}
	return plane.Buffer(core, gap/2)
}
