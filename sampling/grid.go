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

// gridCells cuts ground into square cells of the asked area, laid along the
// axes of the frame from the south-west corner of the field. Cells clipped
// under a quarter join the cell with which they share the longest edge.
func (fp *FieldPlan) gridCells(ground plane.Shape, p Params) ([]plane.Shape, error) {
	f := fp.Field
	area := p.Cell
	if area == 0 {
		area = managedArea(f) / float64(p.Samples)
	}
	if whole := f.Frame.Area(f.Ground); area > whole*(1+1e-6) {
		return nil, fmt.Errorf("a cell of %s is larger than the field, which has %s; take a smaller cell, or design units for one composite", areaText(area), areaText(whole))
	}
	// A square of the asked true area is this long in the frame.
	side := math.Sqrt(area) * f.Frame.Scale(geo.XY(f.Boundary.Bound().Center()))
	bound := f.Ground.Bound()
	columns := int(math.Ceil((bound.Max[0] - bound.Min[0]) / side))
	rows := int(math.Ceil((bound.Max[1] - bound.Min[1]) / side))
	if float64(columns)*float64(rows) > MaxUnits {
		return nil, fmt.Errorf("cells of %s would make more than %d of them; check the unit of the cell", areaText(area), MaxUnits)
	}
	var cells []plane.Shape
	// Neighbours must have the very same line between them, or their union
	// leaves a crack.
	line := func(origin float64, n int) float64 { return origin + float64(n)*side }
	for row := range rows {
		for column := range columns {
			w, e := line(bound.Min[0], column), line(bound.Min[0], column+1)
			s, n := line(bound.Min[1], row), line(bound.Min[1], row+1)
			square := plane.Shape{{orb.Ring{{w, s}, {e, s}, {e, n}, {w, n}, {w, s}}}}
			piece, err := plane.Intersect(ground, square)
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

// mergeSlivers joins cells under the least area, smallest first, to neighbours
// until none is left or one cell remains.
func mergeSlivers(cells []plane.Shape, least float64) ([]plane.Shape, error) {
	for len(cells) > 1 {
		small := 0
		for i := range cells {
			if cells[i].Area() < cells[small].Area()-1e-6 {
				small = i
			}
		}
		if cells[small].Area() >= least {
			break
		}
		s := cells[small]
		cells = slices.Delete(cells, small, small+1)
		k := neighbour(s, len(cells), func(i int) plane.Shape { return cells[i] })
		joined, err := plane.Union(cells[k], s)
		if err != nil {
			return nil, err
		}
		cells[k] = joined
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

// shares splits n among parts by size: at least one to each part that has any,
// the largest remainders rounded up.
func shares(sizes []float64, n int) []int {
	out := make([]int, len(sizes))
	var total float64
	var parts []int
	for i, s := range sizes {
		if s > 0 {
			total += s
			parts = append(parts, i)
		}
	}
	left := n
	remainder := make([]float64, len(sizes))
	for _, i := range parts {
		exact := float64(n) * sizes[i] / total
		out[i] = max(1, int(exact))
		remainder[i] = exact - float64(out[i])
		left -= out[i]
	}
	slices.SortStableFunc(parts, func(a, b int) int {
		switch {
		case remainder[a] > remainder[b]+1e-9:
			return -1
		case remainder[b] > remainder[a]+1e-9:
			return 1
		}
		return a - b
	})
	for _, i := range parts {
		if left <= 0 {
			break
		}
		out[i]++
		left--
	}
	return out
}
