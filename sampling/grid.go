package sampling

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/plane"
)

// sliverShare is the share of a full cell under which a clipped one joins a
// neighbour. It is taken a hair short of a quarter, so that a cell of exactly a
// quarter stays one whatever the rounding.
const sliverShare = 0.25 - 1e-4

// maxLattice bounds the squares that are looked at for one division: far-flung
// parts of a field can span many more than lie on ground.
const maxLattice = 1_000_000

// gridCells cuts ground into square cells of the asked true area, laid along
// the axes of the frame from the south-west corner of the field. They are of
// one size in the frame; the scale within a field 1 km wide changes their true
// area by less than 1e-5. Cells clipped under a quarter join the cell with
// which they share the longest edge.
func (fp *FieldPlan) gridCells(ground plane.Shape, p Params) ([]plane.Shape, error) {
	f := fp.Field
	area := p.Cell
	if area == 0 {
		area = managedArea(f) / float64(p.Samples)
	}
	whole := f.Frame.Area(f.Ground)
	if larger(area, whole) {
		note := fmt.Sprintf("its %s are less than one cell; it is not cut into cells", areaText(whole))
		if !slices.Contains(fp.Notes, note) {
			fp.Notes = append(fp.Notes, note)
		}
		return []plane.Shape{ground}, nil
	}
	if whole/area > MaxUnits {
		return nil, fmt.Errorf("cells of %s would make more than %d of them; check the unit of the cell", areaText(area), MaxUnits)
	}
	// A square of the asked true area is this long in the frame.
	side := math.Sqrt(area) * f.Frame.Scale(geo.XY(f.Boundary.Bound().Center()))
	origin := f.Ground.Bound().Min
	bound := ground.Bound()
	// The lattice is that of the field whichever of its divisions is cut.
	index := func(at float64, axis int) float64 { return math.Floor((at - origin[axis]) / side) }
	west, south := index(bound.Min[0], 0), index(bound.Min[1], 1)
	columns, rows := index(bound.Max[0], 0)-west+1, index(bound.Max[1], 1)-south+1
	if columns*rows > maxLattice {
		return nil, fmt.Errorf("cells of %s are too small for a field whose parts lie so far apart; take larger cells or plan the parts as fields of their own", areaText(area))
	}
	// Neighbours must have the very same line between them, or their union
	// leaves a crack.
	line := func(axis int, first float64, n int) float64 { return origin[axis] + (first+float64(n))*side }
	clip := newClipper(ground)
	var cells []plane.Shape
	for row := range int(rows) {
		for column := range int(columns) {
			w, e := line(0, west, column), line(0, west, column+1)
			s, n := line(1, south, row), line(1, south, row+1)
			square := plane.Shape{{orb.Ring{{w, s}, {e, s}, {e, n}, {w, n}, {w, s}}}}
			piece, err := clip.intersect(square)
			if err != nil {
				return nil, err
			}
			if !piece.Empty() {
				cells = append(cells, piece)
			}
		}
	}
	return mergeSlivers(cells, sliverShare*side*side)
}

// clipper intersects many shapes with one, and quickly those that its outline
// does not come near.
type clipper struct {
	shape  plane.Shape
	inside *plane.Locator
	edges  plane.Edges
}

func newClipper(s plane.Shape) *clipper {
	c := &clipper{shape: s, inside: plane.NewLocator(s)}
	c.edges.AddShape(s)
	return c
}

func (c *clipper) intersect(s plane.Shape) (plane.Shape, error) {
	if s.Empty() {
		return nil, nil
	}
	b := s.Bound()
	middle := geo.XY(b.Center())
	if !c.edges.Within(middle, 1e-6+math.Hypot(b.Max[0]-b.Min[0], b.Max[1]-b.Min[1])/2) {
		if c.inside.Contains(middle) {
			return s, nil
		}
		return nil, nil
	}
	return plane.Intersect(c.shape, s)
}

// larger compares a cell with a field, rounding aside.
func larger(cell, field float64) bool { return cell > field*(1+1e-6) }

// cellFits refuses a cell that is larger than every field: among others, a small
// field is one unit.
func cellFits(fields []*geo.Field, p Params) error {
	if p.Design != Grid || p.Cell == 0 {
		return nil
	}
	most, name := 0.0, ""
	for _, f := range fields {
		if a := f.Frame.Area(f.Ground); a > most {
			most, name = a, f.Name
		}
	}
	if larger(p.Cell, most) {
		return fmt.Errorf("field %s: a cell of %s is larger than the field, which has %s; take a smaller cell, or design units for one composite", name, areaText(p.Cell), areaText(most))
	}
	return nil
}

// mergeSlivers joins cells under the least area, smallest first, to neighbours
// until none is left or one cell remains.
func mergeSlivers(cells []plane.Shape, least float64) ([]plane.Shape, error) {
	areas := make([]float64, len(cells))
	for i, c := range cells {
		areas[i] = c.Area()
	}
	for len(cells) > 1 {
		small := 0
		for i, a := range areas {
			if a < areas[small]-1e-6 {
				small = i
			}
		}
		if areas[small] >= least {
			break
		}
		s := cells[small]
		cells, areas = slices.Delete(cells, small, small+1), slices.Delete(areas, small, small+1)
		k := neighbour(s, len(cells), func(i int) plane.Shape { return cells[i] })
		joined, err := plane.Union(cells[k], s)
		if err != nil {
			return nil, err
		}
		cells[k], areas[k] = joined, joined.Area()
	}
	return cells, nil
}

// neighbour returns which of n shapes shares the longest edge with s; when none
// shares any, the one whose middle is nearest. Edges equal within a centimetre
// go to the first.
func neighbour(s plane.Shape, n int, shape func(int) plane.Shape) int {
	best, longest := -1, 0.0
	for i := range n {
		if l := plane.SharedEdge(s, shape(i)); l > longest+0.01 {
			best, longest = i, l
		}
	}
	if best >= 0 {
		return best
	}
	best = 0
	middle, _ := s.Centroid()
	nearest := math.Inf(1)
	for i := range n {
		if c, ok := shape(i).Centroid(); ok && c.Distance(middle) < nearest-0.01 {
			best, nearest = i, c.Distance(middle)
		}
	}
	return best
}

// managedArea is the true area of the field outside its problem areas.
func managedArea(f *geo.Field) float64 {
	var sum float64
	for _, d := range f.Divisions {
		if d.Kind == geo.Management {
			sum += f.Frame.Area(d.Shape)
		}
	}
	return sum
}

func areaText(m2 float64) string {
	if m2 < 100 {
		return fmt.Sprintf("%.2f m²", m2)
	}
	return fmt.Sprintf("%.2f ha (%.2f ac)", m2/geo.Hectare, m2/geo.Acre)
}

// shares splits n among parts by size: at least one to each part that has any
// size, and beyond that by the largest remainders. They add up to n, or to the
// number of such parts where n is less.
func shares(sizes []float64, n int) []int {
	out := make([]int, len(sizes))
	var parts []int // that are not yet settled
	for i, s := range sizes {
		if s > 0 {
			parts = append(parts, i)
		}
	}
	exact := make([]float64, len(sizes))
	for {
		var total float64
		for _, i := range parts {
			total += sizes[i]
		}
		for _, i := range parts {
			exact[i] = float64(n) * sizes[i] / total
		}
		// Parts too small for one get it, and the others share the rest.
		small := func(i int) bool { return exact[i] < 1 }
		if !slices.ContainsFunc(parts, small) {
			break
		}
		for _, i := range parts {
			if small(i) {
				out[i] = 1
				n--
			}
		}
		parts = slices.DeleteFunc(parts, small)
	}
	for _, i := range parts {
		out[i] = int(exact[i] + 1e-9)
		n -= out[i]
	}
	slices.SortStableFunc(parts, func(a, b int) int {
		p, q := exact[a]-float64(out[a]), exact[b]-float64(out[b])
		switch {
		case p > q+1e-9:
			return -1
		case q > p+1e-9:
			return 1
		}
		return a - b
	})
	for _, i := range parts[:min(max(n, 0), len(parts))] {
		out[i]++
	}
	return out
}
