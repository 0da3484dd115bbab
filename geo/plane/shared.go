package plane

import (
	"math"
	"slices"

	"github.com/tidwall/rtree"
)

// touch is how far apart, in metres, two outlines may run and still be taken
// for one edge: far above the rounding of an overlay, far below a footstep.
const touch = 1e-3

// SharedEdge returns the length in metres along which the outlines of a and b
// run together (within 1 mm). Shapes that touch in points share nothing.
func SharedEdge(a, b Shape) float64 {
	if a.Empty() || b.Empty() || !a.Bound().Pad(touch).Intersects(b.Bound()) {
		return 0
	}
	// Only edges of b that come near a can share with it, and each edge of a
	// looks only at those near itself.
	near := a.Bound().Pad(touch)
	var others rtree.RTreeG[edge]
	b.edges(func(p, q XY) {
		e := edge{p, q}
		if box := e.bound(); box.Intersects(near) {
			others.Insert(box.Min, box.Max, e)
		}
	})
	var sum float64
	a.edges(func(p, q XY) {
		e := edge{p, q}
		box := e.bound().Pad(touch)
		var found []float64
		others.Search(box.Min, box.Max, func(_, _ [2]float64, o edge) bool {
			if l := overlap(e, o); l > 0 {
				found = append(found, l)
			}
			return true
		})
		// In an order of their own: that of the tree is no promise.
		slices.Sort(found)
		for _, l := range found {
			sum += l
		}
	})
	return sum
}

// overlap returns the length that two segments run together. It is measured
// along the longer one, since a short edge gives no direction for a long one.
func overlap(e, o edge) float64 {
	if e.a.Distance(e.b) < o.a.Distance(o.b) {
		e, o = o, e
	}
	length := e.a.Distance(e.b)
	if length == 0 {
		return 0
	}
	ux, uy := (e.b[0]-e.a[0])/length, (e.b[1]-e.a[1])/length
	along := func(r XY) float64 { return (r[0]-e.a[0])*ux + (r[1]-e.a[1])*uy }
	off := func(r XY) float64 { return math.Abs((r[1]-e.a[1])*ux - (r[0]-e.a[0])*uy) }
	if off(o.a) > touch || off(o.b) > touch {
		return 0
	}
	s, t := along(o.a), along(o.b)
	return max(0, min(length, max(s, t))-max(0, min(s, t)))
}
