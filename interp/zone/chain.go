package zone

import (
	"cmp"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
)

// crossing is a place where the outline of a ground goes from one pixel of the
// frame into the next; or where a vertex of it lies on the line between two: then
// a and b are that vertex, and from and to -1.
type crossing struct {
	side         int32 // of a pixel, as upright and level number them
	from, to     int32 // pixels
	ends, begins int32 // the chords before and after it
	a, b         orb.Point
	along        float64 // the northing on an upright side, the easting on a level one
	node         int32
	place        int // among the nodes round the pixel at hand
}

// chord is a piece of the outline within one pixel, with the ground on its
// left. It has the nodes between two crossings; a loop has none of those.
type chord struct {
	px    int32
	first int32 // crossing, -1 for a loop
	last  int32
	nodes []int32
	hole  bool // a loop round ground that is left out
}

// East and south sides have the numbers 2 px + 1 and 2 px; west and north ones
// are those of the neighbours.
func upright(px int32) int32 { return 2*px + 1 }
func level(px int32) int32   { return 2 * px }

// chain cuts a ring, which has the ground on its left, at the sides of pixels.
func (b *builder) chain(ring orb.Ring, hole bool) {
	f := &b.g.frame
	n := len(ring) - 1
	col, row := f.cell(ring[0])
	began := len(b.chords)
	now := chord{px: b.px(col, row), first: -1, last: -1, hole: hole}
	for i := range n {
		from, to := ring[i], ring[i+1]
		now.nodes = append(now.nodes, b.vertex(from, col, row))
		endCol, endRow := f.cell(to)
		east, north := 1, 1
		if endCol < col {
			east = -1
		}
		if endRow > row {
			north = -1
		}
		for col != endCol || row != endRow {
			across := col != endCol
			if across && row != endRow {
				// The corner ahead, on one side of the edge, tells which line the edge
				// meets first. If it lies on the edge, it counts as lying to the west.
				corner := plane.XY{f.x[max(col, col+east)], f.y[min(row+1, row+1-north)]}
				turn := plane.Orient(plane.XY(from), plane.XY(to), corner)
				if turn == 0 {
					turn = north
				}
				across = turn == east*north
			}
			c := crossing{from: b.px(col, row), a: from, b: to, ends: int32(len(b.chords)), begins: int32(len(b.chords) + 1)}
			if across {
				c.side = upright(b.px(min(col, col+east), row))
				c.along = min(max(meet(from, to, 0, f.x[max(col, col+east)]), f.y[row+1]), f.y[row])
				col += east
			} else {
				c.side = level(b.px(col, min(row, row-north)))
				c.along = min(max(meet(from, to, 1, f.y[max(row, row-north)]), f.x[col]), f.x[col+1])
				row -= north
			}
			c.to = b.px(col, row)
			now.last = int32(len(b.crossings))
			b.chords = append(b.chords, now)
			now = chord{px: c.to, first: now.last, last: -1}
			b.crossings = append(b.crossings, c)
		}
	}
	if now.first < 0 {
		b.chords = append(b.chords, now)
		return
	}
	// The last chord goes on in the first.
	head := &b.chords[began]
	head.first, head.nodes = now.first, append(now.nodes, head.nodes...)
	b.crossings[now.first].begins = int32(began)
}

// vertex returns the node of a vertex in a pixel.
func (b *builder) vertex(p orb.Point, col, row int) int32 {
	f, g := &b.g.frame, b.g
	n := f.corner(col, row)
	if p != f.at(n) {
		n = g.node(p)
		c := crossing{from: -1, to: -1, a: p, b: p, node: n}
		switch {
		case p[0] == f.x[col]:
			c.side, c.along = upright(b.px(col-1, row)), p[1]
			b.crossings = append(b.crossings, c)
		case p[1] == f.y[row]:
			c.side, c.along = level(b.px(col, row-1)), p[0]
			b.crossings = append(b.crossings, c)
		}
	}
	g.fixed[n], g.edge[n] = true, true
	return n
}

func (c *crossing) touches() bool { return c.from < 0 }

func (b *builder) px(col, row int) int32 { return int32(row*b.g.frame.width + col) }

// meet returns the other coordinate of where an edge meets a line on which the
// coordinate of that axis is fixed: the same from both sides of the edge.
func meet(a, b orb.Point, axis int, line float64) float64 {
	if c := cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])); c > 0 {
		a, b = b, a
	}
	other := 1 - axis
	switch line {
	case a[axis]:
		return a[other]
	case b[axis]:
		return b[other]
	}
	t := (line - a[axis]) / (b[axis] - a[axis])
	v := a[other] + float64(t*(b[other]-a[other]))
	return min(max(v, min(a[other], b[other])), max(a[other], b[other]))
}

// sortCrossings orders the crossings by side, and on a side from the west or
// south, and gives them their nodes.
func (b *builder) sortCrossings() {
	b.order = make([]int32, len(b.crossings))
	for i := range b.order {
		b.order[i] = int32(i)
	}
	slices.SortFunc(b.order, func(i, j int32) int {
		p, q := &b.crossings[i], &b.crossings[j]
		return cmp.Or(cmp.Compare(p.side, q.side), compareAlong(p, q), cmp.Compare(i, j))
	})
	// Rounding must not change the order.
	for k := len(b.order) - 1; k > 0; k-- {
		c, after := &b.crossings[b.order[k-1]], &b.crossings[b.order[k]]
		if c.side == after.side && !c.touches() {
			c.along = min(c.along, after.along)
		}
	}
	for k, i := range b.order {
		c := &b.crossings[i]
		if c.touches() {
			continue
		}
		if k > 0 {
			if before := &b.crossings[b.order[k-1]]; before.side == c.side {
				c.along = max(c.along, before.along)
			}
		}
		c.node = b.g.crossingNode(c)
	}
}

// near is how far apart, in metres, two crossings have to lie for their
// rounded places to tell the order: rounding is far below, even at the pole.
const near = 1e-6

// compareAlong orders two crossings of one side. Close ones are told apart
// without rounding: as outlines do not cross each other, the edges have the
// same order wherever both are, and so at an end of one beside the other.
func compareAlong(p, q *crossing) int {
	if d := p.along - q.along; d > near || d < -near || p.touches() && q.touches() {
		return cmp.Compare(p.along, q.along)
	}
	axis := int(1 - p.side%2)
	up := func(c *crossing) (low, high plane.XY) {
		if c.a[axis] < c.b[axis] {
			return plane.XY(c.a), plane.XY(c.b)
		}
		return plane.XY(c.b), plane.XY(c.a)
	}
	a, b := up(p)
	c, d := up(q)
	// Left of an edge that goes east is further north, of one that goes north
	// further west.
	left := 1 - 2*axis
	side := func(of bool, at plane.XY) int {
		if of {
			return -left * plane.Orient(a, b, at)
		}
		return left * plane.Orient(c, d, at)
	}
	// A vertex that an edge crosses at stands after the edge.
	switch {
	case p.touches():
		return cmp.Or(side(false, a), 1)
	case q.touches():
		return cmp.Or(side(true, c), -1)
	}
	first, last := side(true, c), side(true, d)
	if a[axis] >= c[axis] {
		first = side(false, a)
	}
	if b[axis] <= d[axis] {
		last = side(false, b)
	}
	return cmp.Or(first, last)
}

// on returns the crossings of a side, in order.
func (b *builder) on(side int32) []int32 {
	compare := func(i, side int32) int { return cmp.Compare(b.crossings[i].side, side) }
	lo, _ := slices.BinarySearchFunc(b.order, side, compare)
	hi := lo
	for hi < len(b.order) && b.crossings[b.order[hi]].side == side {
		hi++
	}
	return b.order[lo:hi]
}
