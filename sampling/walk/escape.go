package walk

import (
	"slices"

	"corewalk/geo/plane"
)

// escapes reports whether a way leads from a place to another, or out of the
// square of twice the given side about it. The shortest way to a side of the
// square bends at corners within and ends at right angles to the side, so it is
// enough to look straight at the sides from each corner that is reached. The
// effort of finding that a place is shut in is that of its surroundings.
func (g *Ground) escapes(from, to plane.XY, reach float64) bool {
	square := box{from[0] - reach, from[1] - reach, from[0] + reach, from[1] + reach}
	var nodes []int32
	g.places.search(func(b *box) bool { return b.meets(square) }, func(first, last int32) bool {
		for _, i := range g.byPlace[first:last] {
			c := &g.corners[i]
			if !square.holds(boxOf(c.at, c.at)) {
				continue
			}
			// The way may end in a bay that the side of the square cuts.
			if g.serves(c, from, to) || !square.holds(g.bays[c.bay].box) {
				nodes = append(nodes, i)
			}
		}
		return true
	})
	slices.Sort(nodes)
	s := newSearch(g, from, to, nodes, true)
	for node := int32(begin); node != none; node = s.next() {
		if node == goal {
			return true
		}
		p := s.place(node)
		for _, foot := range [4]plane.XY{{square.x0, p[1]}, {square.x1, p[1]}, {p[0], square.y0}, {p[0], square.y1}} {
			if g.open(p, foot) {
				return true
			}
		}
	}
	return false
}

// holds reports whether a box lies in b, sides included.
func (b *box) holds(c box) bool {
	return b.x0 <= c.x0 && b.y0 <= c.y0 && c.x1 <= b.x1 && c.y1 <= b.y1
}
