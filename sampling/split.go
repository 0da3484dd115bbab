package sampling

import (
	"fmt"
	"slices"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/sampling/strata"
)

// split makes the sampling units of one field.
func split(f *geo.Field, p Params) (*FieldPlan, error) {
	fp := &FieldPlan{Field: f}
	healthy, bands, err := fp.parted(p)
	if err != nil {
		return nil, err
	}
	counts, err := fp.allocate(healthy, p)
	if err != nil {
		return nil, err
	}
	sampleable := plane.NewClipper(f.Sampleable)
	for i, d := range f.Divisions {
		cells := []piece{{shape: healthy[i]}}
		switch {
		case healthy[i].Empty():
			fp.note("%s lies within the buffer of a problem area, or beside it where that is compared with; it gets no sample of its own", d.Label())
			continue
		case d.Kind == geo.Problem || p.Design == Units:
		case p.Design == Grid:
			cells, err = fp.gridCells(healthy[i], p)
		case p.Design == Strata:
			var shapes []plane.Shape
			shapes, err = strata.Compact(healthy[i], counts[i], stream(p.Seed, f.Name, "strata", i))
			cells = pieces(shapes)
		}
		if err != nil {
			return nil, err
		}
		if err := fp.addUnits(i, cells, sampleable); err != nil {
			return nil, err
		}
	}
	for _, b := range bands {
		if err := fp.addUnits(b.division, []piece{{shape: b.shape}}, sampleable); err != nil {
			return nil, err
		}
		fp.Units[len(fp.Units)-1].ComparisonOf = b.problem
	}
	if len(fp.Units) == 0 {
		return nil, fmt.Errorf("no unit of it has ground outside the setbacks; make them smaller")
	}
	fp.pair()
	for k, u := range fp.Units {
		u.key, u.Number = k, k+1
		for c := range p.Composites {
			for _, d := range p.Depths {
				u.Samples = append(u.Samples, Sample{Composite: c + 1, Depth: d})
			}
		}
	}
	return fp, nil
}

// note says something of a field once.
func (fp *FieldPlan) note(format string, args ...any) {
	if n := fmt.Sprintf(format, args...); !slices.Contains(fp.Notes, n) {
		fp.Notes = append(fp.Notes, n)
	}
}

// piece is a part of a division on its way to a unit.
type piece struct {
	shape plane.Shape
	point *geo.XY // of a grid cell
	whole float64 // area of what the point belongs to, where cells were merged
}

func pieces(shapes []plane.Shape) []piece {
	out := make([]piece, len(shapes))
	for i, s := range shapes {
		out[i].shape = s
	}
	return out
}

// join adds another piece to one. The larger keeps its point.
func (a *piece) join(b piece) error {
	s, err := plane.Union(a.shape, b.shape)
	if err != nil {
		return err
	}
	if own, other := max(a.whole, a.shape.Area()), max(b.whole, b.shape.Area()); other > own+1e-6 {
		a.point, a.whole = b.point, other
	} else {
		a.whole = own
	}
	a.shape = s
	return nil
}

// allocate shares the samples of a field among its management units by area,
// at least one each, the largest remainders rounded up. Only strata go by it.
func (fp *FieldPlan) allocate(healthy []plane.Shape, p Params) ([]int, error) {
	f := fp.Field
	if p.Design != Strata {
		return nil, nil
	}
	areas := make([]float64, len(f.Divisions))
	managed := 0
	for i, d := range f.Divisions {
		if d.Kind == geo.Management && !healthy[i].Empty() {
			areas[i] = f.Frame.Area(healthy[i])
			managed++
		}
	}
	n := p.Samples
	if n == 0 {
		exact := managedArea(f) / p.Cell
		if exact > MaxUnits {
			return nil, fmt.Errorf("a stratum for each %s would make more than %d of them; check the unit of the cell", areaText(p.Cell), MaxUnits)
		}
		n = max(1, int(exact+0.5))
	}
	if n < managed {
		fp.note("it has %d management units, and each gets a sample; asked for: %d", managed, n)
	}
	return shares(areas, n), nil
}

// addUnits makes units of the pieces of one division. A piece without ground
// outside the setbacks joins the neighbour that it borders most; a division
// without any such ground is left out, and said.
func (fp *FieldPlan) addUnits(division int, cells []piece, sampleable *plane.Clipper) error {
	cells = slices.Clone(cells)
	inside := make([]plane.Shape, len(cells))
	for i, c := range cells {
		var err error
		if inside[i], err = sampleable.Intersect(c.shape); err != nil {
			return err
		}
	}
	joined := 0
	for {
		barren := slices.IndexFunc(inside, func(s plane.Shape) bool { return s.Area() < plane.Sliver })
		if barren < 0 {
			break
		}
		if len(cells) == 1 {
			fp.note("%s has no ground outside the setbacks; it gets no sample", fp.Field.Divisions[division].Label())
			return nil
		}
		c := cells[barren]
		cells, inside = slices.Delete(cells, barren, barren+1), slices.Delete(inside, barren, barren+1)
		k := neighbour(c.shape, len(cells), func(i int) plane.Shape { return cells[i].shape })
		if err := cells[k].join(c); err != nil {
			return err
		}
		var err error
		if inside[k], err = sampleable.Intersect(cells[k].shape); err != nil {
			return err
		}
		joined++
	}
	if joined > 0 {
		fp.note("%d of the units of %s had no ground outside the setbacks and joined their neighbours, which are larger for it", joined, fp.Field.Divisions[division].Label())
	}
	for i, c := range cells {
		fp.Units = append(fp.Units, &Unit{Division: division, Shape: c.shape, Area: fp.Field.Frame.Area(c.shape), Sampleable: inside[i], Point: c.point, ComparisonOf: -1})
	}
	return nil
}
