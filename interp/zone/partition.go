package zone

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// Options are the choices of Partition and Patches. The zero value keeps every
// zone, along the edges of the pixels.
type Options struct {
	// Smallest is the least area in m2. Partition merges smaller zones into their
	// neighbours, Patches drops smaller patches.
	Smallest float64
	// LeastWidth is the least width in metres, that of the machine which is to
	// work the zones: every zone holds a circle of that diameter, unless its
	// division has no room for one where the zone lies. 0 asks for none.
	LeastWidth float64
	// Smooth is the number of chords that lines between classes are drawn with
	// round each corner of a pixel: 0 leaves the corner, 1 cuts it, and more
	// round it, up to 16.
	Smooth int
}

// crumb is the area in m2 under which ground is a matter of rounding: such
// zones are always merged.
const crumb = 1e-4

func (o Options) validate() error {
	switch {
	case !(o.Smallest >= 0) || math.IsInf(o.Smallest, 0):
		return fmt.Errorf("smallest area of %g m2: give one of 0 or more", o.Smallest)
	case !(o.LeastWidth >= 0) || math.IsInf(o.LeastWidth, 0):
		return fmt.Errorf("least width of %g m: give a length of 0 or more", o.LeastWidth)
	case o.Smooth < 0 || o.Smooth > 16:
		return fmt.Errorf("%d chords round a corner: give 0 to 16", o.Smooth)
	}
	return nil
}

// Zone is one connected part of one division in one class.
type Zone struct {
	Class    int32       // -1: without a value
	Division int         // index of the ground
	Shape    plane.Shape // one polygon
	Area     float64     // m2 in the plane
	// Pixels of the raster, in order: those of the division whose middle lies in
	// the zone.
	Pixels []int32
	near   int32 // the pixel that a zone too narrow for a middle has its class from; -1
}

// Zones is what Partition made of the ground.
type Zones struct {
	Zones      []Zone // by division, then class, then from the north, then from the west
	Merged     int    // zones that were merged as too small or too narrow
	MergedArea float64
	// Zones that are all of a connected part of their division, and smaller than
	// Options.Smallest, or without a circle of Options.LeastWidth.
	Small, Narrow int
}

// Figures sums up the values of g, which has the raster's pixels, in the zone:
// those of its Pixels or, if it is too narrow to have one, of the pixel that it
// has its class from.
func (z *Zone) Figures(g *raster.Grid) Figures { return figures(g, z.counted()) }

// counted are the pixels that the figures of the zone are of.
func (z *Zone) counted() []int32 {
	if len(z.Pixels) == 0 && z.near >= 0 {
		return []int32{z.near}
	}
	return z.Pixels
}

// Partition is NewGrounds and Grounds.Partition in one.
func Partition(g raster.Geometry, class []int32, ground []Ground, division []int32, opt Options) (Zones, error) {
	grounds, err := NewGrounds(g, ground, division)
	if err != nil {
		return Zones{}, err
	}
	return grounds.Partition(class, opt)
}

// Partition draws the classes of the pixels, row by row from the north-west, as
// zones; -1 is a class of its own, that of pixels without a value. The zones of
// a division partition its shape. Where zones have a line in common they have
// the same vertices along it, so that the partition outlives a rounding of the
// coordinates; the vertices of the outlines are all there, as they were given.
//
// Pixels of one division and class that share an edge belong together; those
// that touch at a corner do not. A pixel whose middle lies outside a division
// takes, for what the division has of its square, the class of the nearest
// pixel of that division, by the distance of the middles (of equally near ones
// the northern, then the western).
//
// With Options.LeastWidth, the classes are first opened with a disc of that
// diameter: a pixel keeps its class if the disc fits into pixels of its class
// and division so that it covers some of it (with its middle at the middle, a
// corner or the middle of a side of a pixel); other pixels take the class of the
// nearest one of their division that kept its own; that is repeated until
// nothing changes. If no pixel of a division kept its class, all take the one
// that most of them have. Then
// zones smaller than Options.Smallest are merged, the smallest first (of equal
// ones the northern, then the western), each into that neighbour of its
// division with which it has the longest line in common (of equal ones the
// larger, then the northern, then the western), until none is left but such
// as have no neighbour. Zones that hold no circle of the least width are merged
// likewise, those that curves and the outline made so. Zones under 1 cm2
// always are.
//
// With Options.Smooth, lines between classes are quadratic B-splines whose
// control points are the corners of the pixels along them. Places where
// three zones or two corners of one meet, and pixels that the outline passes
// through keep their edges. A piece of such a curve lies in the triangle of a
// corner and the middles of the two edges there; since these triangles do not
// overlap, the curves cross neither each other nor themselves.
//
// No ground gives no zones.
func (g *Grounds) Partition(class []int32, opt Options) (Zones, error) {
	if err := opt.validate(); err != nil {
		return Zones{}, err
	}
	if n := g.frame.Width * g.frame.Height; len(class) != n {
		return Zones{}, fmt.Errorf("surface of %d pixels: classes are given for %d", n, len(class))
	}
	for i, c := range class {
		if c < -1 {
			return Zones{}, fmt.Errorf("row %d, column %d of the surface: %d is no class", i/g.frame.Width, i%g.frame.Width, c)
		}
	}
	if opt.LeastWidth > 0 {
		class = g.open(class, opt.LeastWidth)
	}
	z := g.zoned(g.classes(class))
	var out Zones
	shapes := z.settle(opt, &out)
	pixels := z.pixels()
	for i, shape := range shapes {
		if shape == nil {
			continue
		}
		first := g.cells[z.first[i]]
		out.Zones = append(out.Zones, Zone{Class: z.class[i], Division: int(first.division), Shape: shape, Area: shape.Area(), Pixels: pixels[i], near: first.source})
		if out.Zones[len(out.Zones)-1].Area < opt.Smallest {
			out.Small++
		}
	}
	return out, nil
}

// classes returns the class of each cell.
func (g *Grounds) classes(class []int32) []int32 {
	cells := make([]int32, len(g.cells))
	for i := range g.cells {
		cells[i] = -1
		if s := g.cells[i].source; s >= 0 {
			cells[i] = class[s]
		}
	}
	return cells
}

// settle merges the zones that are too small or too narrow, and draws those
// that are left.
func (z *zoning) settle(opt Options, out *Zones) []plane.Shape {
	least := max(opt.Smallest, crumb)
	small := z.those(func(i int) bool { return z.area[i] < least })
	out.Merged, out.MergedArea = z.merge(small, least)
	for {
		shapes := z.draw(opt.Smooth)
		narrow := make([]bool, len(shapes))
		if opt.LeastWidth > 0 {
			narrow = z.narrow(shapes, opt.LeastWidth)
		}
		// Curves may have taken some of the ground.
		bad := z.those(func(i int) bool { return narrow[i] || opt.Smooth > 0 && shapes[i].Area() < least })
		merged, area := z.merge(bad, least)
		if merged == 0 {
			out.Narrow = len(z.those(func(i int) bool { return narrow[i] }))
			return shapes
		}
		out.Merged += merged
		out.MergedArea += area
	}
}

// those returns the zones for which f holds.
func (z *zoning) those(f func(i int) bool) []int32 {
	var out []int32
	for i := range z.area {
		if f(i) {
			out = append(out, int32(i))
		}
	}
	return out
}

// zoning is a division of the cells into zones.
type zoning struct {
	g    *Grounds
	zone []int32 // of each cell
	// By zone.
	class []int32
	area  []float64
	first []int32 // the cell of the most northern pixel, of those the most western
}

// zoned puts cells of one class that hang together into zones.
func (g *Grounds) zoned(class []int32) *zoning {
	z := &zoning{g: g, zone: make([]int32, len(class))}
	sets := newSets(len(class))
	for _, j := range g.joins {
		if class[j.a] == class[j.b] {
			sets.unite(j.a, j.b)
		}
	}
	z.number(func(cell int32) (int32, int32) { return sets.root(cell), class[cell] })
	return z
}

// number makes zones of the cells with the same set, in order of division,
// class, and first pixel.
func (z *zoning) number(of func(cell int32) (set, class int32)) {
	g := z.g
	// First in the order of the cells.
	var class, first []int32
	var area []float64
	name := make([]int32, len(g.cells))
	for i := range name {
		name[i] = -1
	}
	zone := make([]int32, len(g.cells))
	for i := range g.cells {
		set, c := of(int32(i))
		if name[set] < 0 {
			name[set] = int32(len(class))
			class, first, area = append(class, c), append(first, int32(i)), append(area, 0)
		}
		n := name[set]
		zone[i] = n
		area[n] += g.cells[i].area
		if g.cells[i].px < g.cells[first[n]].px {
			first[n] = int32(i)
		}
	}
	order := make([]int32, len(class))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(i, j int32) int {
		a, b := g.cells[first[i]], g.cells[first[j]]
		return cmp.Or(cmp.Compare(a.division, b.division), cmp.Compare(class[i], class[j]), cmp.Compare(a.px, b.px), cmp.Compare(first[i], first[j]))
	})
	z.class, z.area, z.first = make([]int32, len(order)), make([]float64, len(order)), make([]int32, len(order))
	place := make([]int32, len(order))
	for k, n := range order {
		z.class[k], z.area[k], z.first[k], place[n] = class[n], area[n], first[n], int32(k)
	}
	for i, n := range zone {
		z.zone[i] = place[n]
	}
}

// pixels returns the pixels of the raster whose middle lies in each zone.
func (z *zoning) pixels() [][]int32 {
	out := make([][]int32, len(z.class))
	for i, c := range z.g.cells {
		if c.holds {
			out[z.zone[i]] = append(out[z.zone[i]], c.source)
		}
	}
	for _, list := range out {
		slices.Sort(list)
	}
	return out
}

// sets are disjoint sets of numbers, each with its least member as its root.
type sets []int32

func newSets(n int) sets {
	s := make(sets, n)
	for i := range s {
		s[i] = int32(i)
	}
	return s
}

func (s sets) root(i int32) int32 {
	for s[i] != i {
		s[i] = s[s[i]]
		i = s[i]
	}
	return i
}

// unite makes one set of two, and returns its root.
func (s sets) unite(i, j int32) int32 {
	i, j = s.root(i), s.root(j)
	s[max(i, j)] = min(i, j)
	return min(i, j)
}
