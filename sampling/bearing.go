package sampling

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/paulmach/orb/simplify"

	"corewalk/geo"
	"corewalk/geo/plane"
)

// rows returns the direction of the rows of a grid, a unit vector in the frame
// of the field, and its bearing in degrees clockwise from true north, 0 to 180.
func rows(f *geo.Field, p Params) (geo.XY, float64, error) {
	center := geo.XY(f.Boundary.Bound().Center())
	north, err := f.Frame.North(center)
	if err != nil {
		return geo.XY{}, 0, err
	}
	direction := geo.XY{1, 0}
	switch {
	case p.Bearing != nil:
		a := north - *p.Bearing*math.Pi/180
		direction = geo.XY{math.Cos(a), math.Sin(a)}
	case p.LongSide:
		direction = longSide(f.Boundary)
	}
	bearing := math.Mod((north-math.Atan2(direction[1], direction[0]))*180/math.Pi+720, 180)
	return direction, bearing, nil
}

// longSide returns the direction of the longest side of an outline, as a unit
// vector pointing east or, of a side from south to north, north. A side may
// bend within a hundredth of the size of the outline, as hand-drawn ones do.
func longSide(s plane.Shape) geo.XY {
	const bend = 0.01
	best, longest := geo.XY{1, 0}, 0.0
	for _, polygon := range s {
		ring := corners(polygon[0], bend*math.Sqrt(math.Abs(planar.Area(polygon[0]))))
		for i := 1; i < len(ring); i++ {
			dx, dy := ring[i][0]-ring[i-1][0], ring[i][1]-ring[i-1][1]
			// The first of equal ones, which the canonical order of corners
			// settles.
			if d := math.Hypot(dx, dy); d > longest+0.01 {
				longest = d
				if dx < -1e-9 || math.Abs(dx) <= 1e-9 && dy < 0 {
					dx, dy = -dx, -dy
				}
				best = geo.XY{dx / d, dy / d}
			}
		}
	}
	return best
}

// corners simplifies a ring (Douglas and Peucker 1973). It begins at a place
// that is a corner for certain, the one farthest from the middle, lest the
// first vertex, which may lie within a side, is kept as one.
func corners(ring orb.Ring, tolerance float64) orb.Ring {
	open := ring[:len(ring)-1]
	middle := ring.Bound().Center()
	first := 0
	for i, p := range open {
		if planar.DistanceSquared(p, middle) > planar.DistanceSquared(open[first], middle)+1e-6 {
			first = i
		}
	}
	turned := make(orb.LineString, 0, len(ring))
	turned = append(turned, open[first:]...)
	turned = append(turned, open[:first+1]...)
	return orb.Ring(simplify.DouglasPeucker(tolerance).LineString(turned))
}
