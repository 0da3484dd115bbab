package zone

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// Ground is a division of the field (a management unit or problem area),
// without its exclusions.
type Ground struct {
	Name  string
	Shape plane.Shape
}

// Grounds is what partitions of the same ground on the same raster have in
// common. It is safe for use by several goroutines.
//
// It holds the ground cut along the sides of the pixels into cells, as a doubly
// connected edge list: every cell has arrows round it, with the cell on their
// left, that know the next one of the cell and their twin across the line. A
// zone is a set of cells, and its outline the arrows whose twin is in none.
type Grounds struct {
	frame  frame
	ground []Ground
	// division has the ground of each pixel of the raster, -1 for none.
	division []int32
	// Nodes that are no corner of a pixel, and which numbers they have.
	points []orb.Point
	nodes  map[orb.Point]int32
	// By node: a vertex of an outline, which is drawn whatever the zones; a place
	// on an outline; a corner between four pixels that lie in one ground.
	fixed, edge, inner []bool
	cells              []cell
	arrows             []arrow
	joins              []join
}

// cell is the ground of a division in one pixel, as far as it hangs together.
type cell struct {
	px       int32 // of the frame
	division int32
	source   int32 // the pixel of the raster that it has the class of; -1: none
	holds    bool  // the middle of that pixel lies in it
	area     float64
}

type arrow struct {
	node int32 // where it begins
	next int32 // arrow round the cell
	twin int32 // -1: outside of the ground
	cell int32
}

// join is a pair of cells that have a side in common.
type join struct{ a, b int32 }

// hair is the length in metres of a side under which the cells on both sides
// don't hang together: above all rounding.
const hair = 1e-6

// NewGrounds prepares partitions of ground, whose shapes do not overlap, on
// rasters of a geometry. division gives for each pixel, row by row from the
// north-west, the index of the ground that its middle lies in, -1 for none. A
// division map that does not fit the ground, and ground that reaches a pixel or
// more beyond the raster are errors.
func NewGrounds(g raster.Geometry, ground []Ground, division []int32) (*Grounds, error) {
	f, err := newFrame(g)
	if err != nil {
		return nil, err
	}
	if len(division) != g.Width*g.Height {
		return nil, fmt.Errorf("surface of %d pixels: divisions are given for %d", g.Width*g.Height, len(division))
	}
	for i, d := range division {
		if d < -1 || int(d) >= len(ground) {
			return nil, fmt.Errorf("row %d, column %d of the surface: there is no division %d", i/g.Width, i%g.Width, d)
		}
	}
	vertices := 0
	for _, gr := range ground {
		for _, polygon := range gr.Shape {
			for _, ring := range polygon {
				for _, p := range ring {
					if !f.holds(p) {
						return nil, fmt.Errorf("ground %q at (%.1f, %.1f) reaches beyond the surface: interpolate over all of the field", gr.Name, p[0], p[1])
					}
				}
				vertices += len(ring)
			}
		}
	}
	if vertices > math.MaxInt32/64 {
		return nil, errors.New("the outlines have too many vertices; simplify them first")
	}
	out := &Grounds{frame: f, ground: ground, division: slices.Clone(division), nodes: map[orb.Point]int32{}}
	out.fixed, out.edge, out.inner = make([]bool, f.corners()), make([]bool, f.corners()), make([]bool, f.corners())
	// Room for whole pixels, and for what an outline of usual length cuts.
	inside := 0
	for _, d := range division {
		if d >= 0 {
			inside++
		}
	}
	out.cells = make([]cell, 0, inside+inside/16+64)
	out.arrows = make([]arrow, 0, 4*cap(out.cells)+4*vertices)
	pixels := f.width * f.height
	touched, open, whole := make([]bool, pixels), make([]bool, pixels), make([]int32, pixels)
	for i := range whole {
		whole[i] = -1
	}
	for i, gr := range fitted(ground) {
		if gr.Shape.Vertices() == 0 {
			continue
		}
		b := &builder{g: out, ground: gr, index: int32(i), touched: touched, open: open, whole: whole}
		if err := b.build(division); err != nil {
			return nil, err
		}
	}
	out.finish()
	return out, nil
}

// crossingNode returns the node of a crossing.
func (g *Grounds) crossingNode(c *crossing) int32 {
	f := &g.frame
	px := int(c.side / 2)
	col, row := px%f.width, px/f.width
	// The nearer end of the side.
	p, ends := orb.Point{f.x[col+1], c.along}, [2]int32{f.corner(col+1, row), f.corner(col+1, row+1)}
	if c.side == level(int32(px)) {
		p, ends = orb.Point{c.along, f.y[row+1]}, [2]int32{f.corner(col, row+1), f.corner(col+1, row+1)}
	}
	for _, n := range ends {
		if p == f.at(n) {
			g.edge[n] = true
			return n
		}
	}
	n := g.node(p)
	g.edge[n] = true
	return n
}

func (g *Grounds) node(p orb.Point) int32 {
	n, known := g.nodes[p]
	if !known {
		n = int32(len(g.fixed))
		g.nodes[p] = n
		g.points = append(g.points, p)
		g.fixed, g.edge, g.inner = append(g.fixed, false), append(g.edge, false), append(g.inner, false)
	}
	return n
}

// point returns where a node lies.
func (g *Grounds) point(n int32) orb.Point {
	if k := int(n) - g.frame.corners(); k >= 0 {
		return g.points[k]
	}
	return g.frame.at(n)
}

// arrow adds an arrow from a node.
func (g *Grounds) arrow(node, cell int32) int32 {
	g.arrows = append(g.arrows, arrow{node: node, twin: -1, cell: cell})
	return int32(len(g.arrows) - 1)
}

// link makes a ring of the arrows from one on.
func (g *Grounds) link(from int32) {
	for i := from; i < int32(len(g.arrows)); i++ {
		g.arrows[i].next = i + 1
	}
	g.arrows[len(g.arrows)-1].next = from
}

// end returns the node at the tip of an arrow.
func (g *Grounds) end(i int32) int32 { return g.arrows[g.arrows[i].next].node }

// length returns that of an arrow in metres. Sides of pixels are all alike,
// whatever rounding makes of them, so that equal ones can be told.
func (g *Grounds) length(i int32) float64 {
	from, to := g.arrows[i].node, g.end(i)
	if n := int32(g.frame.corners()); from < n && to < n && from != to && g.arrows[i].twin >= 0 {
		return g.frame.Pixel
	}
	return plane.XY(g.point(from)).Distance(plane.XY(g.point(to)))
}

// ring makes a ring of the arrows from one on, and adds what lies on their left
// to their cell. It returns the first arrow.
func (g *Grounds) ring(from int32) int32 {
	g.link(from)
	o := g.point(g.arrows[from].node)
	for i := from; i < int32(len(g.arrows)); i++ {
		p, q := g.point(g.arrows[i].node), g.point(g.end(i))
		g.cells[g.arrows[i].cell].area += (float64((p[0]-o[0])*(q[1]-o[1])) - float64((q[0]-o[0])*(p[1]-o[1]))) / 2
	}
	return from
}

// doubleArea returns twice the area within a ring of nodes, counter-clockwise
// positive.
func (g *Grounds) doubleArea(nodes []int32) float64 {
	o := g.point(nodes[0])
	var sum float64
	for i, n := range nodes {
		p, q := g.point(n), g.point(nodes[(i+1)%len(nodes)])
		sum += float64((p[0]-o[0])*(q[1]-o[1])) - float64((q[0]-o[0])*(p[1]-o[1]))
	}
	return sum
}

// nodesFrom returns the nodes of the ring that an arrow is in.
func (g *Grounds) nodesFrom(arrow int32) []int32 {
	nodes := []int32{g.arrows[arrow].node}
	for i := g.arrows[arrow].next; i != arrow; i = g.arrows[i].next {
		nodes = append(nodes, g.arrows[i].node)
	}
	return nodes
}

// around returns the smallest of the rings, each given by an arrow of it, that a
// place lies in, -1 for none.
func (g *Grounds) around(rings []int32, p orb.Point) int {
	best, least := -1, 0.0
	for k, r := range rings {
		nodes := g.nodesFrom(r)
		inside := false
		for i, n := range nodes {
			a, b := g.point(n), g.point(nodes[(i+1)%len(nodes)])
			if (a[1] <= p[1]) != (b[1] <= p[1]) && (plane.Orient(plane.XY(a), plane.XY(b), plane.XY(p)) > 0) == (a[1] <= p[1]) {
				inside = !inside
			}
		}
		if area := g.doubleArea(nodes); inside && (best < 0 || area < least) {
			best, least = k, area
		}
	}
	return best
}

// finish leaves out the arrows and cells that are gone, and finds which cells
// hang together.
func (g *Grounds) finish() {
	g.nodes = nil
	arrows, cells := make([]int32, len(g.arrows)), make([]int32, len(g.cells))
	for i := range cells {
		cells[i] = -1
	}
	n := int32(0)
	for i := range g.arrows {
		if g.arrows[i].cell >= 0 {
			cells[g.arrows[i].cell] = 0
			arrows[i] = n
			n++
		}
	}
	kept := g.cells[:0]
	for i, c := range g.cells {
		if cells[i] == 0 {
			cells[i] = int32(len(kept))
			kept = append(kept, c)
		}
	}
	g.cells = kept
	for i, a := range g.arrows {
		if a.cell < 0 {
			continue
		}
		a.cell, a.next = cells[a.cell], arrows[a.next]
		if a.twin >= 0 {
			a.twin = arrows[a.twin]
		}
		g.arrows[arrows[i]] = a
	}
	g.arrows = g.arrows[:n]
	g.joins = make([]join, 0, n/2)
	for i := range g.arrows {
		a := &g.arrows[i]
		if a.twin > int32(i) && g.length(int32(i)) > hair {
			g.joins = append(g.joins, join{a.cell, g.arrows[a.twin].cell})
		}
	}
}
