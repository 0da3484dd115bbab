package walk

import (
	"corewalk/geo/plane"
	"github.com/paulmach/orb"
)

// corner is a vertex where an obstacle sticks out, with its neighbours. Only
// there can a shortest way bend; where outlines of two obstacles cross, what
// they cover together has no corner that sticks out.
type corner struct {
	at, before, after plane.XY
	toBefore, toAfter float64
	bay               int32 // -1 on the hull
	first, last       int32 // on the hull: the corners of that hull, which stand in order
}

// bay is what lies between an outline and one side of its hull, or in a hole.
// A way that neither begins nor ends in a bay gains nothing by turning into it,
// unless another obstacle stands in its mouth; so most corners of a winding
// shore need never be looked at.
type bay struct {
	box
	polygon int32
	hole    bool
	always  bool // another obstacle is near
}

// addRing adds a ring that has the obstacle on its left.
func (g *Ground) addRing(ring orb.Ring, polygon int32, hole bool) {
	var r []plane.XY
	for _, p := range ring {
		if len(r) == 0 || r[len(r)-1] != plane.XY(p) {
			r = append(r, plane.XY(p))
		}
	}
	for len(r) > 1 && r[0] == r[len(r)-1] {
		r = r[:len(r)-1]
	}
	n := len(r)
	if n < 3 {
		return
	}
	for i, p := range r {
		g.edges = append(g.edges, edge{p, r[(i+1)%n], polygon})
	}
	hull := hullOf(r)
	if hole || hull == nil {
		b := bay{boxOf(r[0], r[0]), polygon, hole, !hole}
		for i := range r {
			b.box = b.with(boxOf(r[i], r[i]))
			g.addCorner(r, i)
		}
		g.bays = append(g.bays, b)
		return
	}
	first := int32(len(g.corners))
	last := first + int32(len(hull))
	for _, i := range hull {
		g.corners = append(g.corners, newCorner(r, i))
		c := &g.corners[len(g.corners)-1]
		c.bay, c.first, c.last = -1, first, last
	}
	for k, i := range hull {
		end := hull[(k+1)%len(hull)]
		b := bay{box: boxOf(r[i], r[end]), polygon: polygon}
		found := len(g.corners)
		for i = (i + 1) % n; i != end; i = (i + 1) % n {
			b.box = b.with(boxOf(r[i], r[i]))
			g.addCorner(r, i)
		}
		if len(g.corners) > found {
			g.bays = append(g.bays, b)
		}
	}
}

// hullOf returns the places in a ring of its hull's vertices, in the order of
// the ring; none if that is not the order of the hull, as in a ring that
// crosses itself.
func hullOf(r []plane.XY) []int {
	hull := plane.Hull(r)
	if len(hull) < 3 {
		return nil
	}
	from := 0
	for r[from] != hull[0] {
		from++
	}
	var out []int
	for i := range r {
		if at := (from + i) % len(r); len(out) < len(hull) && r[at] == hull[len(out)] {
			out = append(out, at)
		}
	}
	if len(out) < len(hull) {
		return nil
	}
	return out
}

func newCorner(r []plane.XY, i int) corner {
	n := len(r)
	p, before, after := r[i], r[(i+n-1)%n], r[(i+1)%n]
	return corner{at: p, before: before, after: after, toBefore: p.Distance(before), toAfter: p.Distance(after)}
}

// addCorner adds a vertex of the bay that is added next, if it sticks out.
func (g *Ground) addCorner(r []plane.XY, i int) {
	c := newCorner(r, i)
	c.bay = int32(len(g.bays))
	if cross(c.before, c.at, c.after) > 0 {
		g.corners = append(g.corners, c)
	}
}

// openBays finds the bays near which other obstacles are.
func (g *Ground) openBays() {
	for i := range g.bays {
		b := &g.bays[i]
		if b.hole || b.always {
			continue
		}
		g.around.search(func(o *box) bool { return o.meets(b.box) }, func(first, last int32) bool {
			for k := first; k < last && !b.always; k++ {
				e := &g.edges[k]
				o := boxOf(e.from, e.to)
				b.always = e.polygon != b.polygon && o.meets(b.box)
			}
			return !b.always
		})
	}
}

// serves reports whether a way from a to b can have a use for the corner.
func (g *Ground) serves(c *corner, a, b plane.XY) bool {
	if c.bay < 0 {
		return true
	}
	y := &g.bays[c.bay]
	return y.always || y.meets(around(a)) || y.meets(around(b))
}

// around is the square about a place in which things count as near it.
func around(p plane.XY) box {
	return box{p[0] - 4*slack, p[1] - 4*slack, p[0] + 4*slack, p[1] + 4*slack}
}

// passes reports whether a line between the corner and a place at distance d
// leaves the obstacle to one side.
func (c *corner) passes(p plane.XY, d float64) bool {
	return c.side(c.before, c.toBefore, p, d)*c.side(c.after, c.toAfter, p, d) >= 0
}

// side tells on which side of the line from the corner to p, at distance d, its
// neighbour lies: 1 left, -1 right, 0 where that cannot be told.
func (c *corner) side(neighbour plane.XY, toNeighbour float64, p plane.XY, d float64) int {
	return sign(cross(c.at, p, neighbour), max(d, toNeighbour))
}

// sign is the sign of a cross product of two lines, the longer of which is
// given, 0 when the end of either lies within slack of the other.
func sign(cross, longer float64) int {
	switch {
	case cross > slack*longer:
		return 1
	case cross < -slack*longer:
		return -1
	}
	return 0
}
