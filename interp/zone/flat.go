package zone

import (
	"cmp"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
)

// A vertex on the north or west side of a pixel lies in the pixel. So where the
// outline runs along such a side, with the ground beyond it, there is a cell
// without width between the two, or a part of a cell. Rounding makes others.
// Here they are taken away.

// cutPixel is a pixel with cells that were cut, its first cell and arrow, and
// those after the last.
type cutPixel struct{ px, firstCell, firstArrow, endCell, endArrow int32 }

// flatten makes the cells of a cut pixel anew if there is ground without width in
// it, or places that they come by more than once. What merely touches falls apart
// there.
func (b *builder) flatten(c cutPixel) error {
	g := b.g
	live := b.live(c)
	gone := int(c.endArrow-c.firstArrow) > len(live)
	for k := 1; k < len(live) && !gone; k++ {
		gone = g.arrows[live[k]].node == g.arrows[live[k-1]].node
	}
	if !gone {
		return nil
	}
	// An arrow that comes in at a node goes on in the first one clockwise.
	ends := make([]int32, len(live))
	for k, in := range live {
		ends[k] = g.end(in)
	}
	taken := make([]bool, len(live))
	for k, in := range live {
		node := ends[k]
		best := -1
		for o, _ := slices.BinarySearchFunc(live, node, func(i, node int32) int { return cmp.Compare(g.arrows[i].node, node) }); o < len(live) && g.arrows[live[o]].node == node; o++ {
			if !taken[o] && (best < 0 || g.clockwise(node, g.arrows[in].node, ends[o], ends[best])) {
				best = o
			}
		}
		if best < 0 {
			return b.crossed()
		}
		taken[best] = true
		g.arrows[in].next = live[best]
	}
	var outer, holes []int32
	done := make([]bool, c.endArrow-c.firstArrow)
	for _, i := range live {
		if done[i-c.firstArrow] {
			continue
		}
		for at := i; !done[at-c.firstArrow]; at = g.arrows[at].next {
			done[at-c.firstArrow] = true
		}
		if g.doubleArea(g.nodesFrom(i)) > 0 {
			outer = append(outer, i)
		} else {
			holes = append(holes, i)
		}
	}
	return b.recell(c, outer, holes)
}

// live returns the arrows of a cut pixel, in the order of their nodes, without
// those that have no length and those that lie on each other in pairs. What is
// across such an arrow has an outline there.
func (b *builder) live(c cutPixel) []int32 {
	g := b.g
	live := make([]int32, 0, c.endArrow-c.firstArrow)
	for i := c.firstArrow; i < c.endArrow; i++ {
		live = append(live, i)
	}
	slices.SortFunc(live, func(i, j int32) int {
		return cmp.Or(cmp.Compare(g.arrows[i].node, g.arrows[j].node), cmp.Compare(i, j))
	})
	drop := func(i int32) {
		g.arrows[i].cell = -1
		if twin := g.arrows[i].twin; twin >= 0 {
			g.arrows[twin].twin, g.arrows[i].twin = -1, -1
		}
	}
	for _, i := range live {
		node, end := g.arrows[i].node, g.end(i)
		if node == end {
			drop(i)
		}
		if g.arrows[i].cell < 0 || node > end {
			continue
		}
		for o, _ := slices.BinarySearchFunc(live, end, func(i, node int32) int { return cmp.Compare(g.arrows[i].node, node) }); o < len(live) && g.arrows[live[o]].node == end; o++ {
			if back := live[o]; g.arrows[back].cell >= 0 && g.end(back) == node {
				drop(i)
				drop(back)
				break
			}
		}
	}
	return slices.DeleteFunc(live, func(i int32) bool { return g.arrows[i].cell < 0 })
}

// clockwise reports whether, seen from the node at, and turning clockwise from
// one node, p comes before q.
func (g *Grounds) clockwise(at, from, p, q int32) bool {
	o, r := plane.XY(g.point(at)), plane.XY(g.point(from))
	quarter := func(n int32) int {
		v := plane.XY(g.point(n))
		switch turn := plane.Orient(o, r, v); {
		case turn < 0:
			return 0
		case turn > 0:
			return 2
		case (r[0]-o[0])*(v[0]-o[0]) < 0 || (r[1]-o[1])*(v[1]-o[1]) < 0:
			return 1
		}
		return 3
	}
	if a, b := quarter(p), quarter(q); a != b {
		return a < b
	}
	return plane.Orient(o, plane.XY(g.point(p)), plane.XY(g.point(q))) < 0
}

// recell makes cells of the rings of a pixel, given by an arrow of each.
func (b *builder) recell(c cutPixel, outer, holes []int32) error {
	g := b.g
	holds := false
	for i := c.firstCell; i < c.endCell; i++ {
		holds = holds || g.cells[i].holds
		g.cells[i] = cell{px: c.px, division: b.index}
	}
	give := func(arrow, cell int32) {
		nodes := g.nodesFrom(arrow)
		g.cells[cell].area += g.doubleArea(nodes) / 2
		for range nodes {
			g.arrows[arrow].cell = cell
			arrow = g.arrows[arrow].next
		}
	}
	ids := make([]int32, len(outer))
	for j, arrow := range outer {
		ids[j] = c.firstCell + int32(j)
		if ids[j] >= c.endCell {
			ids[j] = int32(len(g.cells))
			g.cells = append(g.cells, cell{px: c.px, division: b.index})
		}
		give(arrow, ids[j])
	}
	for _, arrow := range holes {
		j := g.around(outer, g.off(c.px, g.nodesFrom(arrow)))
		if j < 0 {
			return b.crossed()
		}
		give(arrow, ids[j])
	}
	if holds && len(outer) > 0 {
		g.cells[ids[max(g.around(outer, g.middle(c.px)), 0)]].holds = true
	}
	return nil
}

// middle returns that of a pixel.
func (g *Grounds) middle(px int32) orb.Point {
	x, y := g.frame.Center(int(px)%g.frame.width-margin, int(px)/g.frame.width-margin)
	return orb.Point{x, y}
}

// off returns the middle of that edge of a ring in a pixel that lies furthest
// from the north and west sides: other edges may lie along these.
func (g *Grounds) off(px int32, nodes []int32) orb.Point {
	f := &g.frame
	x, y := f.x[int(px)%f.width], f.y[int(px)/f.width]
	var best orb.Point
	most := -1.0
	for i, n := range nodes {
		p, q := g.point(n), g.point(nodes[(i+1)%len(nodes)])
		middle := orb.Point{p[0] + (q[0]-p[0])/2, p[1] + (q[1]-p[1])/2}
		if d := min(middle[0]-x, y-middle[1]); d > most {
			best, most = middle, d
		}
	}
	return best
}
