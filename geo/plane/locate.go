package plane

import (
	"math"

	"github.com/tidwall/rtree"
)

// Locator answers quickly whether places lie in one shape. It is safe for use
// by several goroutines.
type Locator struct {
	minX, maxX, minY, maxY float64
	strips                 strips
	edges                  []edge // in the order of the strips' items
}

type edge struct{ a, b XY }

// NewLocator prepares s, in time and memory that grow with its vertices.
func NewLocator(s Shape) *Locator {
	l := &Locator{minX: 1}
	if s.Vertices() == 0 {
		return l
	}
	b := s.Bound()
	l.minX, l.minY, l.maxX, l.maxY = b.Min[0], b.Min[1], b.Max[0], b.Max[1]
	var edges []edge
	var order []int32
	s.edges(func(a, b XY) {
		order = append(order, int32(len(edges)))
		if a[1] > b[1] {
			a, b = b, a
		}
		edges = append(edges, edge{a, b})
	})
	// Up to 8 MB for speed, whatever the shape; beyond that by its size.
	l.strips = newStrips(order, 8+(1<<18)/float64(len(order)), func(i int32) (float64, float64) { return edges[i].a[1], edges[i].b[1] })
	l.edges = make([]edge, len(l.strips.item))
	for k, i := range l.strips.item {
		l.edges[k] = edges[i]
	}
	l.strips.item = nil
	return l
}

// Contains reports whether p lies in the shape. The outline belongs to the
// shape, that of holes too.
func (l *Locator) Contains(p XY) bool {
	if !(p[0] >= l.minX && p[0] <= l.maxX && p[1] >= l.minY && p[1] <= l.maxY) {
		return false
	}
	inside := false
	k := l.strips.at(p[1])
	for _, e := range l.edges[l.strips.start[k]:l.strips.start[k+1]] {
		a, b := e.a, e.b // upward, or level
		if p[1] < a[1] || p[1] > b[1] {
			continue
		}
		// cross is above zero when p lies left of the upward edge.
		cross := (b[0]-a[0])*(p[1]-a[1]) - (p[0]-a[0])*(b[1]-a[1])
		if cross == 0 && p[0] >= min(a[0], b[0]) && p[0] <= max(a[0], b[0]) {
			return true
		}
		if p[1] < b[1] && cross > 0 {
			inside = !inside
		}
	}
	return inside
}

// Edges measures exact distances to outlines and lines, by segment. It is safe
// for use by several goroutines once built.
type Edges struct{ tree rtree.RTreeG[edge] }

// AddShape adds the rings of s.
func (e *Edges) AddShape(s Shape) { s.edges(e.add) }

// AddLine adds the segments of a line; a line of one vertex is a point.
func (e *Edges) AddLine(l Line) {
	if len(l) == 1 {
		e.AddPoint(XY(l[0]))
	}
	for i := 1; i < len(l); i++ {
		e.add(XY(l[i-1]), XY(l[i]))
	}
}

// AddPoint adds a single place.
func (e *Edges) AddPoint(p XY) { e.add(p, p) }

func (e *Edges) add(a, b XY) {
	e.tree.Insert(
		[2]float64{min(a[0], b[0]), min(a[1], b[1])},
		[2]float64{max(a[0], b[0]), max(a[1], b[1])}, edge{a, b})
}

// Within reports whether any segment lies nearer to p than d metres.
func (e *Edges) Within(p XY, d float64) bool {
	found := false
	e.tree.Search([2]float64{p[0] - d, p[1] - d}, [2]float64{p[0] + d, p[1] + d},
		func(_, _ [2]float64, s edge) bool {
			found = segmentDistance(p, s.a, s.b) < d
			return !found
		})
	return found
}

// Distance returns the distance in metres from p to the nearest segment, or
// reach when none lies nearer than that.
func (e *Edges) Distance(p XY, reach float64) float64 {
	e.tree.Search([2]float64{p[0] - reach, p[1] - reach}, [2]float64{p[0] + reach, p[1] + reach},
		func(_, _ [2]float64, s edge) bool {
			reach = min(reach, segmentDistance(p, s.a, s.b))
			return true
		})
	return reach
}

// segmentDistance returns the distance in metres from p to the segment ab.
func segmentDistance(p, a, b XY) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	length2 := dx*dx + dy*dy
	if length2 == 0 {
		return p.Distance(a)
	}
	t := ((p[0]-a[0])*dx + (p[1]-a[1])*dy) / length2
	t = math.Max(0, math.Min(1, t))
	return p.Distance(XY{a[0] + t*dx, a[1] + t*dy})
}
