package geo

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/tidwall/rtree"

	"corewalk/geo/plane"
)

// HullOf returns an outline for results that come as points without any field
// boundary: their convex hull, widened by half of the median distance between
// neighbours, as the ground that the points can speak for. It fails when they
// all lie at one place.
func HullOf(name string, frame Frame, points []XY) (Outline, error) {
	for i, p := range points {
		if math.IsNaN(p[0]+p[1]) || math.IsInf(p[0]+p[1], 0) {
			return Outline{}, fmt.Errorf("point %d is at %g, %g, which is no place", i+1, p[0], p[1])
		}
	}
	shape, err := hull(points)
	if err != nil {
		return Outline{}, err
	}
	ll, err := frame.LonLatShape(shape)
	if err != nil {
		return Outline{}, err
	}
	return Outline{Name: name, Boundary: ll, Frame: &frame}, nil
}

// hull returns the convex hull of the points, widened by half of the median
// gap between neighbours.
func hull(points []XY) (plane.Shape, error) {
	gap := medianGap(points)
	if gap == 0 {
		return nil, fmt.Errorf("the results lie at one place; give a boundary to map them in")
	}
	corners := plane.Hull(points)
	if len(corners) == 2 {
		return plane.BufferLine(plane.Line{orb.Point(corners[0]), orb.Point(corners[1])}, gap/2)
	}
	ring := make(orb.Ring, len(corners))
	for i, c := range corners {
		ring[i] = orb.Point(c)
	}
	core, _, err := plane.New(orb.MultiPolygon{{ring}})
	if err != nil {
		return nil, err
	}
	return plane.Buffer(core, gap/2)
}

// medianGap returns the median distance in metres from each place to the
// nearest other; several points at one place are one. It is 0 for a single
// place.
func medianGap(points []XY) float64 {
	places := slices.Clone(points)
	slices.SortFunc(places, func(p, q XY) int { return cmp.Or(cmp.Compare(p[0], q[0]), cmp.Compare(p[1], q[1])) })
	places = slices.Compact(places)
	if len(places) < 2 {
		return 0
	}
	var tree rtree.RTreeG[int]
	for i, p := range places {
		tree.Insert(p, p, i)
	}
	gaps := make([]float64, len(places))
	for i, p := range places {
		tree.Nearby(rtree.BoxDist[float64, int](p, p, nil), func(_, _ [2]float64, j int, _ float64) bool {
			gaps[i] = p.Distance(places[j])
			return j == i
		})
	}
	slices.Sort(gaps)
	return gaps[len(gaps)/2]
}
