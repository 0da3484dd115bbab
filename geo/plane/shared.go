package plane

import "math"

// touch is how far apart, in metres, two outlines may run and still be taken
// for one edge: far above the rounding of an overlay, far below a footstep.
const touch = 1e-3

// SharedEdge returns the length in metres along which the outlines of a and b
// run together (within 1 mm). Shapes that touch in points share nothing.
func SharedEdge(a, b Shape) float64 {
	if a.Empty() || b.Empty() || !a.Bound().Pad(touch).Intersects(b.Bound()) {
		return 0
	}
	near := a.Bound().Pad(touch)
	var others []edge
	b.edges(func(p, q XY) {
		if min(p[0], q[0]) <= near.Max[0] && max(p[0], q[0]) >= near.Min[0] &&
			min(p[1], q[1]) <= near.Max[1] && max(p[1], q[1]) >= near.Min[1] {
			others = append(others, edge{p, q})
		}
	})
	var sum float64
	a.edges(func(p, q XY) {
		for _, o := range others {
			sum += overlap(p, q, o.a, o.b)
		}
	})
	return sum
}

// overlap returns the length that the segments pq and ab run together.
func overlap(p, q, a, b XY) float64 {
	length := p.Distance(q)
	if length == 0 {
		return 0
	}
	ux, uy := (q[0]-p[0])/length, (q[1]-p[1])/length
	along := func(r XY) float64 { return (r[0]-p[0])*ux + (r[1]-p[1])*uy }
	off := func(r XY) float64 { return math.Abs((r[1]-p[1])*ux - (r[0]-p[0])*uy) }
	if off(a) > touch || off(b) > touch {
		return 0
	}
	s, t := along(a), along(b)
	return max(0, min(length, max(s, t))-max(0, min(s, t)))
}
