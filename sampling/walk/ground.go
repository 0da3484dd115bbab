package walk

import (
	"math"
	"slices"

	"corewalk/geo/plane"
	"github.com/paulmach/orb"
)

// slack is the distance in metres within which a place counts as lying on an
// outline. It is far above the rounding of coordinates in the millions and far
// below anything a foot can feel.
const slack = 1e-4

// Ground is where a person walks: anywhere but across the interiors of
// obstacles. Outlines may be walked along and touched. It does not change once
// made and is safe for use by several goroutines. A nil Ground has no
// obstacles.
//
// What lies within 0.1 mm of an outline counts as on it, so a way may cut 0.2 mm
// into an obstacle, and a gap of less than that between two obstacles is shut,
// as is the seam along an edge they share. Obstacles that touch in one point
// let a way pass there. An obstacle less than a millimetre wide may be missed
// where its vertices lie as close together as that.
type Ground struct {
	edges   []edge
	around  index // of edges
	corners []corner
	byPlace []int32 // numbers of corners in the order of places
	places  index
	bays    []bay
	solids  []solid
	bulk    index // of solids
}

// solid is one polygon of an obstacle.
type solid struct {
	box
	edges  []edge
	around index
}

// edge is a side of an obstacle, which lies to its left.
type edge struct {
	from, to plane.XY
	polygon  int32
}

// NewGround prepares obstacles in metres. They may touch and overlap; holes in
// them are islands that no way leads to. Polygons with a coordinate that is no
// finite number are left out. No obstacles give open ground.
func NewGround(obstacles []plane.Shape) *Ground {
	g := &Ground{}
	count := int32(0)
	bound := func(e *edge) box { return boxOf(e.from, e.to) }
	for _, s := range obstacles {
		for _, polygon := range s.Canonical() {
			if !finite(polygon) {
				continue
			}
			first := len(g.edges)
			for i, ring := range polygon {
				g.addRing(ring, count, i > 0)
			}
			if edges := slices.Clone(g.edges[first:]); len(edges) > 0 {
				around := newIndex(edges, bound)
				g.solids = append(g.solids, solid{around.nodes[0].box, edges, around})
			}
			count++
		}
	}
	g.around = newIndex(g.edges, bound)
	g.byPlace = make([]int32, len(g.corners))
	for i := range g.byPlace {
		g.byPlace[i] = int32(i)
	}
	g.places = newIndex(g.byPlace, func(i *int32) box { return boxOf(g.corners[*i].at, g.corners[*i].at) })
	g.bulk = newIndex(g.solids, func(s *solid) box { return s.box })
	g.openBays()
	return g
}

func finite(polygon orb.Polygon) bool {
	for _, ring := range polygon {
		for _, p := range ring {
			if d := p[0] - p[0] + p[1] - p[1]; d != 0 {
				return false
			}
		}
	}
	return true
}

// cross is twice the area of the triangle, above zero when c lies to the left
// of the way from a to b. The conversions keep a processor from fusing the
// products into sums, which would change the last digits.
func cross(a, b, c plane.XY) float64 {
	return float64((b[0]-a[0])*(c[1]-a[1])) - float64((b[1]-a[1])*(c[0]-a[0]))
}

// Distance returns the length in metres of the shortest way between a and b
// that crosses no obstacle's interior. Where there is none (see Way), it is the
// length of the straight line.
func (g *Ground) Distance(a, b plane.XY) float64 {
	if g.open(a, b) {
		return a.Distance(b)
	}
	way, _ := g.round(a, b)
	return length(way)
}

// Way returns the shortest way from a to b with the corners where it bends; a
// and b are its ends, also where they are the same place. clear is false, and
// the way the straight line, where an end lies inside an obstacle or is shut in
// by obstacles away from the other.
func (g *Ground) Way(a, b plane.XY) (way plane.Line, clear bool) {
	if g.open(a, b) {
		return plane.Line{orb.Point(a), orb.Point(b)}, true
	}
	return g.round(a, b)
}

func length(l plane.Line) float64 {
	var sum float64
	for i := 1; i < len(l); i++ {
		sum += math.Hypot(l[i][0]-l[i-1][0], l[i][1]-l[i-1][1])
	}
	return sum
}

// inside reports whether p lies in an obstacle; on an outline the answer may be
// either.
func (g *Ground) inside(p plane.XY) (in bool) {
	at := boxOf(p, p)
	g.bulk.search(func(b *box) bool { return b.meets(at) }, func(first, last int32) bool {
		for i := first; i < last && !in; i++ {
			in = g.solids[i].meets(at) && g.solids[i].contains(p)
		}
		return !in
	})
	return in
}

// contains reports whether the outline winds about p.
func (s *solid) contains(p plane.XY) bool {
	wound := 0
	s.around.search(
		func(b *box) bool { return b.y0 <= p[1] && p[1] <= b.y1 && b.x1 >= p[0] },
		func(first, last int32) bool {
			for i := first; i < last; i++ {
				e := &s.edges[i]
				if up := e.from[1] <= p[1]; up != (e.to[1] <= p[1]) {
					if side := cross(e.from, e.to, p); up && side > 0 {
						wound++
					} else if !up && side < 0 {
						wound--
					}
				}
			}
			return true
		})
	return wound > 0
}

// buried reports whether p lies in an obstacle with no outline at hand that it
// could count as lying on.
func (g *Ground) buried(p plane.XY) bool {
	if !g.inside(p) {
		return false
	}
	near := false
	about := around(p)
	g.around.search(
		func(b *box) bool { return b.meets(about) },
		func(first, last int32) bool {
			for i := first; i < last && !near; i++ {
				e := boxOf(g.edges[i].from, g.edges[i].to)
				near = e.meets(about)
			}
			return !near
		})
	return !near
}
