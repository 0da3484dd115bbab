package zone

import (
	"slices"

	"github.com/paulmach/orb"
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
	var cells []int32
	for _, f := range b.flat {
		side, line := f[0], f[1]
		cells = append(cells, g.arrows[side].cell)
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
	slices.Sort(cells)
	return b.sever(slices.Compact(cells), first)
}

// sever makes cells of their own of the parts of those cells that were held
// together by ground without width.
func (b *builder) sever(cells []int32, first int32) error {
	g := b.g
	if len(cells) == 0 {
		return nil
	}
	outer, holes := make([][]int32, len(cells)), make([][]int32, len(cells))
	done := make([]bool, int32(len(g.arrows))-first)
	for i := first; i < int32(len(g.arrows)); i++ {
		k, found := slices.BinarySearch(cells, g.arrows[i].cell)
		if !found || done[i-first] {
			continue
		}
		for at := i; !done[at-first]; at = g.arrows[at].next {
			done[at-first] = true
		}
		if g.doubleArea(g.nodesFrom(i)) >= 0 {
			outer[k] = append(outer[k], i)
		} else {
			holes[k] = append(holes[k], i)
		}
	}
	for k, id := range cells {
		if len(outer[k]) < 2 {
			continue
		}
		whole := g.cells[id]
		ids := make([]int32, len(outer[k]))
		give := func(arrow, cell int32) {
			nodes := g.nodesFrom(arrow)
			g.cells[cell].area += g.doubleArea(nodes) / 2
			for range nodes {
				g.arrows[arrow].cell = cell
				arrow = g.arrows[arrow].next
			}
		}
		for j, arrow := range outer[k] {
			ids[j] = id
			part := cell{px: whole.px, division: whole.division}
			if j == 0 {
				g.cells[id] = part
			} else {
				ids[j] = int32(len(g.cells))
				g.cells = append(g.cells, part)
			}
			give(arrow, ids[j])
		}
		for _, arrow := range holes[k] {
			j := g.around(outer[k], g.off(whole.px, g.nodesFrom(arrow)))
			if j < 0 {
				return b.crossed()
			}
			give(arrow, ids[j])
		}
		if whole.holds {
			g.cells[ids[max(g.around(outer[k], g.middle(whole.px)), 0)]].holds = true
		}
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
