package zone

import (
	"cmp"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
)

// A vertex on the north or west side of a pixel lies in the pixel. So where the
// outline runs along such a side, with the ground beyond it, there is a cell
// without width between the two, or a part of a cell. Here they are taken away.

// findFlat looks for such pieces of the sides of a pixel, whose arrows begin
// with the given one.
func (b *builder) findFlat(sides []piece, first int32) {
	g := b.g
	for _, s := range sides {
		from, to := g.arrows[s.arrow].node, g.end(s.arrow)
		if from == to || !g.edge[from] || !g.edge[to] {
			continue
		}
		for i := first; i < int32(len(g.arrows)); i++ {
			if g.arrows[i].node == to && g.end(i) == from && g.arrows[i].cell == g.arrows[s.arrow].cell {
				b.flat = append(b.flat, [2]int32{s.arrow, i})
			}
		}
	}
}

// flatten takes these away, and arrows without length, from the arrows of the
// ground, which begin with the given one.
func (b *builder) flatten(first int32) error {
	g := b.g
	before := make([]int32, int32(len(g.arrows))-first)
	for i := first; i < int32(len(g.arrows)); i++ {
		before[g.arrows[i].next-first] = i
	}
	follow := func(i, j int32) {
		g.arrows[i].next = j
		before[j-first] = i
	}
	gone := func(i int32) { g.arrows[i].cell = -1 }
	for _, f := range b.flat {
		side, line := f[0], f[1]
		if twin := g.arrows[side].twin; twin >= 0 {
			g.arrows[twin].twin = -1
		}
		a, c := before[side-first], before[line-first]
		p, q := g.arrows[side].next, g.arrows[line].next
		follow(a, q)
		follow(c, p)
		follow(side, line)
		follow(line, side)
		gone(side)
		gone(line)
	}
	for i := first; i < int32(len(g.arrows)); i++ {
		if g.arrows[i].cell >= 0 && g.arrows[i].node == g.end(i) {
			follow(before[i-first], g.arrows[i].next)
			gone(i)
		}
	}
	for _, c := range b.cuts {
		if err := b.sever(c); err != nil {
			return err
		}
	}
	return nil
}

// cutPixel is a pixel that the outline passes through, with its first cell and
// arrow, and those after the last.
type cutPixel struct{ px, firstCell, firstArrow, endCell, endArrow int32 }

// sever makes the cells of a pixel anew where they come by a place more than
// once: where outlines touch each other, or ground without width was taken away.
// What merely touches falls apart there.
func (b *builder) sever(c cutPixel) error {
	g := b.g
	var live []int32
	for i := c.firstArrow; i < c.endArrow; i++ {
		if g.arrows[i].cell >= 0 {
			live = append(live, i)
		}
	}
	slices.SortFunc(live, func(i, j int32) int {
		return cmp.Or(cmp.Compare(g.arrows[i].node, g.arrows[j].node), cmp.Compare(i, j))
	})
	shared := false
	for k := 1; k < len(live); k++ {
		shared = shared || g.arrows[live[k]].node == g.arrows[live[k-1]].node
	}
	if !shared && !b.flattened(c) {
		return nil
	}
	// The arrow that comes in at a node goes on in the first one clockwise.
	next := make([]int32, c.endArrow-c.firstArrow)
	for _, in := range live {
		node := g.end(in)
		k, _ := slices.BinarySearchFunc(live, node, func(i, node int32) int { return cmp.Compare(g.arrows[i].node, node) })
		if k == len(live) || g.arrows[live[k]].node != node {
			return b.crossed()
		}
		best := live[k]
		for _, out := range live[k+1:] {
			if g.arrows[out].node != node {
				break
			}
			if g.clockwise(node, g.arrows[in].node, g.end(out), g.end(best)) {
				best = out
			}
		}
		next[in-c.firstArrow] = best
	}
	taken := make([]bool, len(next))
	for _, in := range live {
		out := next[in-c.firstArrow]
		if taken[out-c.firstArrow] {
			return b.crossed()
		}
		taken[out-c.firstArrow] = true
		g.arrows[in].next = out
	}
	var outer, holes []int32
	done := make([]bool, len(next))
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

// flattened reports whether ground without width was taken away in a pixel.
func (b *builder) flattened(c cutPixel) bool {
	// They were found in the order of the pixels.
	k, _ := slices.BinarySearchFunc(b.flat, c.firstArrow, func(f [2]int32, arrow int32) int { return cmp.Compare(f[0], arrow) })
	return k < len(b.flat) && b.flat[k][0] < c.endArrow
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
			if g.doubleArea(g.nodesFrom(arrow)) < 0 {
				return b.crossed()
			}
			// There and back again.
			nodes := g.nodesFrom(arrow)
			for range nodes {
				g.arrows[arrow].cell = -1
				if twin := g.arrows[arrow].twin; twin >= 0 {
					g.arrows[twin].twin = -1
				}
				arrow = g.arrows[arrow].next
			}
			continue
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
