package plane

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// XY is a position in metres in the frame of one field: easting, northing.
type XY orb.Point

// X returns the easting in metres.
func (p XY) X() float64 { return p[0] }

// Y returns the northing in metres.
func (p XY) Y() float64 { return p[1] }

// Distance returns the distance in metres between p and q.
func (p XY) Distance(q XY) float64 { return math.Hypot(p[0]-q[0], p[1]-q[1]) }

// Shape is a set of polygons in metres. A Shape made by this package is valid:
// rings are closed and simple, shells turn counter-clockwise and holes
// clockwise, and no two polygons share more than single points. The zero value
// is the empty shape.
type Shape orb.MultiPolygon

// Line is a line in metres.
type Line orb.LineString

// Empty reports whether s has no polygon.
func (s Shape) Empty() bool { return len(s) == 0 }

// Bound returns the smallest upright rectangle round s. The empty shape has
// orb's empty bound, whose minimum lies above its maximum.
func (s Shape) Bound() orb.Bound { return orb.MultiPolygon(s).Bound() }

// Area returns the area in square metres on the plane, holes taken off.
func (s Shape) Area() float64 {
	var sum float64
	for _, polygon := range s {
		for i, ring := range polygon {
			a := math.Abs(SignedArea(ring))
			if i > 0 {
				a = -a
			}
			sum += a
		}
	}
	return sum
}

// Perimeter returns the length in metres of all rings, holes included.
func (s Shape) Perimeter() float64 {
	var sum float64
	s.edges(func(a, b XY) { sum += a.Distance(b) })
	return sum
}

// Centroid returns the centre of gravity, and false for the empty shape and for
// rings that cancel each other, as the lobes of a bow-tie do. It can lie outside
// a bent shape.
func (s Shape) Centroid() (XY, bool) {
	var area, sx, sy float64
	if s.Empty() || len(s[0]) == 0 || len(s[0][0]) == 0 {
		return XY{}, false
	}
	// Taken about a vertex of the shape: eastings and northings in the
	// millions would otherwise cost half of the digits.
	o := s[0][0][0]
	s.edges(func(a, b XY) {
		ax, ay, bx, by := a[0]-o[0], a[1]-o[1], b[0]-o[0], b[1]-o[1]
		cross := ax*by - bx*ay
		area += cross
		sx += (ax + bx) * cross
		sy += (ay + by) * cross
	})
	c := XY{o[0] + sx/(3*area), o[1] + sy/(3*area)}
	b := s.Bound()
	slack := 1e-3 * max(b.Max[0]-b.Min[0], b.Max[1]-b.Min[1])
	if area == 0 || !b.Pad(slack).Contains(orb.Point(c)) {
		return XY{}, false
	}
	return c, true
}

// Vertices returns the number of vertices, the closing ones not counted.
func (s Shape) Vertices() int {
	n := 0
	for _, polygon := range s {
		for _, ring := range polygon {
			n += max(len(ring)-1, 0)
		}
	}
	return n
}

// Canonical returns s written in the one way that does not depend on the file
// it came from: each ring begins at its lowest-leftmost vertex and turns the
// right way (shells counter-clockwise, holes clockwise); holes and polygons
// stand in order of their vertices. Polygons without rings are left out. s
// itself is left as it is.
func (s Shape) Canonical() Shape {
	out := make(Shape, 0, len(s))
	for _, polygon := range s {
		if len(polygon) == 0 {
			continue
		}
		q := make(orb.Polygon, len(polygon))
		for i, ring := range polygon {
			q[i] = canonicalRing(ring, i == 0)
		}
		if len(q) > 1 {
			slices.SortStableFunc(q[1:], compareRings)
		}
		out = append(out, q)
	}
	slices.SortStableFunc(out, func(a, b orb.Polygon) int { return compareRings(a[0], b[0]) })
	return out
}

func canonicalRing(ring orb.Ring, ccw bool) orb.Ring {
	n := len(ring) - 1
	if n < 1 {
		return slices.Clone(ring)
	}
	first := 0
	for i := range n {
		if comparePoints(ring[i], ring[first]) < 0 {
			first = i
		}
	}
	out := make(orb.Ring, 0, len(ring))
	for i := range n {
		out = append(out, ring[(first+i)%n])
	}
	if (SignedArea(ring) > 0) != ccw {
		slices.Reverse(out[1:])
	}
	return append(out, out[0])
}

func comparePoints(a, b orb.Point) int {
	return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1]))
}

// compareRings orders rings by their vertices, the first difference deciding.
func compareRings(a, b orb.Ring) int { return slices.CompareFunc(a, b, comparePoints) }

// SignedArea returns the area of a closed ring in square metres, positive when
// it turns counter-clockwise. A ring of fewer than three places has none.
func SignedArea(ring orb.Ring) float64 {
	if len(ring) < 4 {
		return 0
	}
	// About the first vertex, for the sake of the digits.
	o := ring[0]
	var sum float64
	for i := 1; i < len(ring); i++ {
		a, b := ring[i-1], ring[i]
		sum += (a[0]-o[0])*(b[1]-o[1]) - (b[0]-o[0])*(a[1]-o[1])
	}
	return sum / 2
}

// edges calls f with every edge of every ring, in order.
func (s Shape) edges(f func(a, b XY)) {
	for _, polygon := range s {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				f(XY(ring[i-1]), XY(ring[i]))
			}
		}
	}
}

// WithoutSlivers returns s without polygons and holes under Sliver, and how
// many those were. The largest polygon stays, however small.
func (s Shape) WithoutSlivers() (Shape, int) {
	largest := 0
	area := func(p orb.Polygon) float64 { return Shape{p}.Area() }
	for i := range s {
		if area(s[i]) > area(s[largest]) {
			largest = i
		}
	}
	var out Shape
	dropped := 0
	for i, polygon := range s {
		if len(polygon) == 0 {
			continue
		}
		if i != largest && area(polygon) < Sliver {
			dropped++
			continue
		}
		kept := orb.Polygon{polygon[0]}
		for _, hole := range polygon[1:] {
			if math.Abs(SignedArea(hole)) < Sliver {
				dropped++
				continue
			}
			kept = append(kept, hole)
		}
		out = append(out, kept)
	}
	return out, dropped
}
