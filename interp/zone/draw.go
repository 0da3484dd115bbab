package zone

import (
	"github.com/paulmach/orb"

	"corewalk/geo/plane"
)

// drawer draws the outlines of zones.
type drawer struct {
	z      *zoning
	smooth int
	border []bool  // by arrow: another zone, or none, is on its right
	lines  []uint8 // by node: the lines between zones that end there, up to 255
	at     []int32 // by node: its place in the path at hand, plus one
	ring   []orb.Point
	spots  []spot
}

// draw returns the outline of each zone as a polygon, nil for one that rounding
// leaves no extent.
//
// It follows the arrows round each zone. Where the way comes back to a node,
// what lies between is a ring of its own: so zones that touch themselves fall
// apart into simple rings, of which one goes counter-clockwise, because zones
// are connected; the others are holes.
func (z *zoning) draw(smooth int) []plane.Shape {
	g := z.g
	d := &drawer{z: z, smooth: smooth, border: make([]bool, len(g.arrows)), lines: make([]uint8, len(g.fixed)), at: make([]int32, len(g.fixed))}
	for i := range g.arrows {
		a := &g.arrows[i]
		if a.twin < 0 {
			d.border[i] = true
		} else if z.zone[a.cell] != z.zone[g.arrows[a.twin].cell] {
			d.border[i] = true
			if l := &d.lines[a.node]; *l < 255 {
				*l++
			}
		}
	}
	rings := make([]orb.Polygon, len(z.class))
	done := make([]bool, len(g.arrows))
	var path []int32
	for start := range g.arrows {
		if !d.border[start] || done[start] {
			continue
		}
		zone := z.zone[g.arrows[start].cell]
		for i := int32(start); !done[i]; {
			done[i] = true
			n := g.arrows[i].node
			if k := d.at[n]; k > 0 {
				rings[zone] = d.add(rings[zone], path[k-1:])
				path = path[:k-1]
			}
			path = append(path, n)
			d.at[n] = int32(len(path))
			for i = g.arrows[i].next; !d.border[i]; {
				i = g.arrows[g.arrows[i].twin].next
			}
		}
		rings[zone] = d.add(rings[zone], path)
		path = path[:0]
	}
	out := make([]plane.Shape, len(rings))
	for i, r := range rings {
		if len(r) > 0 {
			out[i] = plane.Shape{shellFirst(r)}
		}
	}
	return out
}

// shellFirst puts the ring that goes counter-clockwise first.
func shellFirst(rings orb.Polygon) orb.Polygon {
	shell, most := 0, 0.0
	for i, r := range rings {
		if a := plane.SignedArea(r); a > most {
			shell, most = i, a
		}
	}
	rings[0], rings[shell] = rings[shell], rings[0]
	return rings
}

// add draws a ring of nodes, and clears their places in the path.
func (d *drawer) add(rings orb.Polygon, nodes []int32) orb.Polygon {
	for _, n := range nodes {
		d.at[n] = 0
	}
	if len(nodes) < 3 {
		return rings
	}
	d.ring = d.ring[:0]
	if d.smooth > 0 {
		d.curve(nodes)
	} else {
		g := d.z.g
		for k, n := range nodes {
			if d.vertex(n) || !g.edge[n] && d.turns(nodes, k) {
				d.ring = append(d.ring, g.point(n))
			}
		}
	}
	if len(d.ring) < 3 {
		return rings
	}
	out := make(orb.Ring, 0, len(d.ring)+1)
	return append(rings, append(append(out, d.ring...), d.ring[0]))
}

// vertex reports whether a node is drawn, even if lines go straight on there: a
// vertex of an outline, a place where a line between zones ends at the outline,
// or where three zones or two corners of one meet.
func (d *drawer) vertex(n int32) bool {
	if d.z.g.edge[n] {
		return d.z.g.fixed[n] || d.lines[n] > 0
	}
	return d.lines[n] > 2
}

// turns reports whether a line along sides of pixels turns at its k-th node.
func (d *drawer) turns(nodes []int32, k int) bool {
	g := d.z.g
	a, b, c := g.point(nodes[(k+len(nodes)-1)%len(nodes)]), g.point(nodes[k]), g.point(nodes[(k+1)%len(nodes)])
	return !(a[0] == b[0] && b[0] == c[0] || a[1] == b[1] && b[1] == c[1])
}

// spot is a vertex to be drawn: a node that stays, or a place on a lattice of
// whole numbers, which tells exactly whether lines go straight on.
type spot struct {
	node int32 // -1: a place on a curve, drawn only where the line turns
	x, y int64
}

// curve draws a ring with smooth lines. It depends on the nodes before and after
// each alone, and not on the way that the ring goes, so that both zones along a
// line draw it alike.
func (d *drawer) curve(nodes []int32) {
	g, n := d.z.g, int64(d.smooth)
	scale := 2 * n * n // lattice steps to the pixel
	wide := int64(g.frame.width + 1)
	d.spots = d.spots[:0]
	add := func(s spot) {
		if k := len(d.spots); k == 0 || d.spots[k-1] != s {
			d.spots = append(d.spots, s)
		}
	}
	for k, at := range nodes {
		x, y := int64(at)%wide, int64(at)/wide
		switch {
		case g.edge[at]:
			if d.vertex(at) {
				add(spot{node: at, x: -1})
			}
		case d.vertex(at) || d.turns(nodes, k) && !g.inner[at]:
			add(spot{node: at, x: x * scale, y: y * scale})
		case d.turns(nodes, k):
			a, c := int64(nodes[(k+len(nodes)-1)%len(nodes)]), int64(nodes[(k+1)%len(nodes)])
			along := func(a, b, c, t int64) int64 { return (n-t)*(n-t)*(a+b) + 4*t*(n-t)*b + t*t*(b+c) }
			for t := range n + 1 {
				add(spot{node: -1, x: along(a%wide, x, c%wide, t), y: along(a/wide, y, c/wide, t)})
			}
		}
	}
	if k := len(d.spots); k > 1 && d.spots[0] == d.spots[k-1] {
		d.spots = d.spots[:k-1]
	}
	for k, s := range d.spots {
		if s.node >= 0 {
			d.ring = append(d.ring, g.point(s.node))
			continue
		}
		a, c := d.spots[(k+len(d.spots)-1)%len(d.spots)], d.spots[(k+1)%len(d.spots)]
		if a.x >= 0 && c.x >= 0 && (s.x-a.x)*(c.y-s.y) == (c.x-s.x)*(s.y-a.y) {
			continue
		}
		d.ring = append(d.ring, orb.Point{
			g.frame.x[s.x/scale] + float64(float64(s.x%scale)*g.frame.Pixel)/float64(scale),
			g.frame.y[s.y/scale] - float64(float64(s.y%scale)*g.frame.Pixel)/float64(scale),
		})
	}
}
