package sampling

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/plane"
)

// maxLattice bounds the squares that are looked at for one division: far-flung
// parts of a field can span many more than lie on ground.
const maxLattice = 1_000_000

// lattice is a grid of squares in the frame of a field, on any bearing.
type lattice struct {
	origin geo.XY // a corner of squares
	u, v   geo.XY // unit vectors along its rows and columns
	side   float64
}

// corner returns the corner at so many sides along u and v. Neighbours must have
// the very same corners, or their union leaves a crack.
func (l lattice) corner(i, j float64) geo.XY {
	a, b := i*l.side, j*l.side
	return geo.XY{l.origin[0] + a*l.u[0] + b*l.v[0], l.origin[1] + a*l.u[1] + b*l.v[1]}
}

// at returns how many sides along u and v a place lies from the origin.
func (l lattice) at(p geo.XY) (i, j float64) {
	dx, dy := p[0]-l.origin[0], p[1]-l.origin[1]
	return (dx*l.u[0] + dy*l.u[1]) / l.side, (dx*l.v[0] + dy*l.v[1]) / l.side
}

// span returns the least and greatest of at over ground.
func (l lattice) span(ground plane.Shape) (low, high [2]float64) {
	low, high = [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for _, polygon := range ground {
		for _, p := range polygon[0] {
			i, j := l.at(geo.XY(p))
			low = [2]float64{min(low[0], i), min(low[1], j)}
			high = [2]float64{max(high[0], i), max(high[1], j)}
		}
	}
	return low, high
}

// lattice returns the grid of a field for cells of a true area. It is that of
// the field whichever of its divisions is cut.
func (fp *FieldPlan) lattice(area float64, p Params) (lattice, error) {
	f := fp.Field
	// A square of the asked true area is this long in the frame.
	l := lattice{side: math.Sqrt(area) * f.Frame.Scale(geo.XY(f.Boundary.Bound().Center()))}
	direction, bearing, err := rows(f, p)
	if err != nil {
		return l, err
	}
	fp.Bearing = &bearing
	l.u, l.v = direction, geo.XY{-direction[1], direction[0]}
	if p.Origin.At != nil {
		if l.origin, err = f.Frame.XY(*p.Origin.At); err != nil {
			return l, fmt.Errorf("origin of the grid: %w", err)
		}
		return l, nil
	}
	l.origin = geo.XY(f.Ground.Bound().Min)
	low, _ := l.span(f.Ground)
	if p.Origin.Random {
		r := stream(p.Seed, f.Name, "origin", 0)
		low[0], low[1] = low[0]-r.Float64(), low[1]-r.Float64()
	}
	l.origin = l.corner(low[0], low[1])
	return l, nil
}

// gridCells cuts ground into cells of the asked true area. They are squares of
// one size in the frame; the scale within a field 1 km wide changes their true
// area by less than 1e-5. Cells clipped under the share for merging join the
// cell with which they share the longest edge. Cells made even are of one area
// instead, see evenCells.
func (fp *FieldPlan) gridCells(ground plane.Shape, p Params) ([]piece, error) {
	f := fp.Field
	area := p.Cell
	if area == 0 {
		area = managedArea(f) / float64(p.Samples)
	}
	whole := f.Frame.Area(f.Ground)
	if larger(area, whole) {
		fp.note("its %s are less than one cell; it is not cut into cells", areaText(whole))
		return []piece{{shape: ground}}, nil
	}
	if whole/area > MaxUnits {
		return nil, fmt.Errorf("cells of %s would make more than %d of them; check the unit of the cell", areaText(area), MaxUnits)
	}
	l, err := fp.lattice(area, p)
	if err != nil {
		return nil, err
	}
	offset := offsets(f.Name, p)
	if p.Even {
		return evenCells(ground, l, offset)
	}
	low, high := l.span(ground)
	west, south := math.Floor(low[0]), math.Floor(low[1])
	columns, rows := math.Floor(high[0])-west+1, math.Floor(high[1])-south+1
	if columns*rows > maxLattice {
		return nil, fmt.Errorf("cells of %s are too small for a field whose parts lie so far apart; take larger cells or plan the parts as fields of their own", areaText(area))
	}
	clip := plane.NewClipper(ground)
	var cells []piece
	for row := range int(rows) {
		for column := range int(columns) {
			i, j := west+float64(column), south+float64(row)
			square := plane.Shape{{orb.Ring{
				orb.Point(l.corner(i, j)), orb.Point(l.corner(i+1, j)), orb.Point(l.corner(i+1, j+1)), orb.Point(l.corner(i, j+1)), orb.Point(l.corner(i, j)),
			}}}
			shape, err := clip.Intersect(square)
			if err != nil {
				return nil, err
			}
			if !shape.Empty() {
				a, b := offset(int(i), int(j))
				point := l.corner(i+a, j+b)
				cells = append(cells, piece{shape: shape, point: &point})
			}
		}
	}
	// A hair short of the share, so that a cell of exactly that stays one
	// whatever the rounding.
	return mergeSlivers(cells, (p.Merge-1e-4)*l.side*l.side)
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
		return fmt.Errorf("field %[1]s: a cell of %[2]s is larger than the field, which has %[3]s; take a cell of up to %[3]s, or design units for one composite", name, areaText(p.Cell), areaText(most))
	}
	return nil
}

// mergeSlivers joins cells under the least area, smallest first, to neighbours
// until none is left or one cell remains.
func mergeSlivers(cells []piece, least float64) ([]piece, error) {
	areas := make([]float64, len(cells))
	for i, c := range cells {
		areas[i] = c.shape.Area()
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
		c := cells[small]
		cells, areas = slices.Delete(cells, small, small+1), slices.Delete(areas, small, small+1)
		k := neighbour(c.shape, len(cells), func(i int) plane.Shape { return cells[i].shape })
		if err := cells[k].join(c); err != nil {
			return nil, err
		}
		areas[k] = cells[k].shape.Area()
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
