package sampling

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"

	"corewalk/geo"
	"corewalk/geo/plane"
)

// Design is the way in which a field is split into sampling units.
type Design string

const (
	Grid   Design = "grid"   // square cells of one area
	Strata Design = "strata" // compact strata of equal area
	Units  Design = "units"  // one composite for each management unit, or the whole field
)

// Designs lists what Params.Design may be.
func Designs() []Design { return []Design{Grid, Strata, Units} }

// Params are what a plan is made by. Lengths are true metres, areas true square
// metres.
type Params struct {
	Design  Design
	Cell    float64 // area of a grid cell; 0: the field's area over Samples
	Samples int     // composites to a field; 0: the field's area over Cell
	Cores   int     // to a composite
	Spacing float64 // least distance between the cores of a unit
	Setback float64 // from the boundary; the fields were mapped with it
	Depth   Depth
	Seed    uint64
}

// MaxUnits bounds the sampling units of one field, as a guard against a cell
// given in the wrong unit.
const MaxUnits = 20_000

// Validate says what is wrong with the parameters.
func (p Params) Validate() error {
	switch p.Design {
	case Grid, Strata:
		if p.Cell <= 0 && p.Samples <= 0 {
			return fmt.Errorf("design %s needs a cell (such as 2.5ac) or a number of samples", p.Design)
		}
	case Units:
	default:
		return fmt.Errorf("design %q is not known; take grid, strata or units", p.Design)
	}
	if p.Cell != 0 && !(p.Cell >= 1) {
		return fmt.Errorf("a cell of %g m² is too small to walk in; check its unit", p.Cell)
	}
	if p.Samples < 0 || p.Samples > MaxUnits {
		return fmt.Errorf("%d samples to a field are out of range; take 1 to %d", p.Samples, MaxUnits)
	}
	if p.Cores < 1 || p.Cores > 200 {
		return fmt.Errorf("%d cores to a composite are out of range; take 1 to 200 (10 to 20 is common practice)", p.Cores)
	}
	if !(p.Spacing >= 0) || !(p.Setback >= 0) {
		return fmt.Errorf("spacing and setback must not be below zero")
	}
	return nil
}

// Unit is a sampling unit: the ground that one composite stands for.
type Unit struct {
	ID         string
	Number     int // within its field, from 1, in walking order
	Division   int // index into the field's divisions
	Shape      plane.Shape
	Sampleable plane.Shape // the part of it that keeps every setback
	Cores      []Core
	Spacing    float64 // least distance that was held between cores, true metres
	Notes      []string
}

// Core is one plug of soil.
type Core struct {
	Number int // within its unit, from 1, in walking order
	Name   string
	At     geo.XY     // in the field's frame
	LonLat geo.LonLat // to 1e-7 degree, as written; At is this place
}

// FieldPlan is the plan of one field.
type FieldPlan struct {
	Field *geo.Field
	Units []*Unit
	Notes []string
}

// Plan is a season's sampling: units and cores of one or more fields.
type Plan struct {
	Params
	Fields []*FieldPlan
}

// Make plans the fields in the order given. It fails on a field that cannot be
// sampled as asked, and says what would work.
func Make(fields []*geo.Field, p Params) (*Plan, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	plan := &Plan{Params: p}
	most := 0
	for _, f := range fields {
		fp, err := planField(f, p)
		if err != nil {
			return nil, fmt.Errorf("field %s: %w", f.Name, err)
		}
		plan.Fields = append(plan.Fields, fp)
		most = max(most, len(fp.Units))
	}
	plan.number(most)
	return plan, nil
}

// number gives units their ids and cores their names, of one width throughout.
func (p *Plan) number(most int) {
	unitDigits := max(2, len(fmt.Sprint(most)))
	coreDigits := max(2, len(fmt.Sprint(p.Cores)))
	for i, f := range p.Fields {
		for _, u := range f.Units {
			u.ID = sampleID(i, u.Number, unitDigits)
			for k := range u.Cores {
				u.Cores[k].Name = fmt.Sprintf("%s%0*d%0*d", fieldCode(i), unitDigits, u.Number, coreDigits, u.Cores[k].Number)
			}
		}
	}
}

// planField splits one field and places its cores.
func planField(f *geo.Field, p Params) (*FieldPlan, error) {
	fp := &FieldPlan{Field: f}
	counts := fp.allocate(p)
	for i, d := range f.Divisions {
		var shapes []plane.Shape
		var err error
		switch {
		case d.Kind == geo.Problem || p.Design == Units:
			shapes = []plane.Shape{d.Shape}
		case p.Design == Grid:
			shapes, err = fp.gridCells(d.Shape, p)
		case p.Design == Strata:
			shapes, err = strata(d.Shape, counts[i], stream(p.Seed, f.Name, "strata", i))
		}
		if err != nil {
			return nil, err
		}
		if err := fp.addUnits(i, shapes); err != nil {
			return nil, err
		}
	}
	if len(fp.Units) == 0 {
		return nil, fmt.Errorf("no unit of it has ground outside the setbacks; make them smaller")
	}
	orderUnits(fp.Units)
	start := fp.Units[0].middle()
	for i, u := range fp.Units {
		u.Number = i + 1
		if err := fp.place(u, p, stream(p.Seed, f.Name, "cores", u.Number)); err != nil {
			return nil, fmt.Errorf("unit %d: %w", u.Number, err)
		}
		start = orderCores(u.Cores, start)
	}
	return fp, nil
}

// stream returns the random numbers of one purpose: the same for the same seed,
// field and purpose whatever else is in the plan.
func stream(seed uint64, field, purpose string, n int) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprintf(h, "%s\x00%s\x00%d", field, purpose, n)
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// allocate shares the samples of a field among its management units by area,
// at least one each, the largest remainders rounded up.
func (fp *FieldPlan) allocate(p Params) []int {
	f := fp.Field
	var total float64
	areas := make([]float64, len(f.Divisions))
	for i, d := range f.Divisions {
		if d.Kind == geo.Management {
			areas[i] = f.Frame.Area(d.Shape)
			total += areas[i]
		}
	}
	n := p.Samples
	if n == 0 && p.Cell > 0 {
		n = max(1, int(total/p.Cell+0.5))
	}
	return shares(areas, n)
}

// addUnits makes units of the shapes of one division. A shape without ground
// outside the setbacks joins the neighbour that it borders most; a division
// without any such ground is left out, and said.
func (fp *FieldPlan) addUnits(division int, shapes []plane.Shape) error {
	f := fp.Field
	var units []*Unit
	for _, s := range shapes {
		inside, err := plane.Intersect(s, f.Sampleable)
		if err != nil {
			return err
		}
		units = append(units, &Unit{Division: division, Shape: s, Sampleable: inside})
	}
	for {
		barren := -1
		for i, u := range units {
			if u.Sampleable.Area() < plane.Sliver {
				barren = i
				break
			}
		}
		if barren < 0 {
			break
		}
		if len(units) == 1 {
			fp.Notes = append(fp.Notes, fmt.Sprintf("%s has no ground outside the setbacks; it gets no sample", f.Divisions[division].Label()))
			return nil
		}
		u := units[barren]
		units = append(units[:barren:barren], units[barren+1:]...)
		k := neighbour(u.Shape, len(units), func(i int) plane.Shape { return units[i].Shape })
		var err error
		if units[k].Shape, err = plane.Union(units[k].Shape, u.Shape); err != nil {
			return err
		}
		if units[k].Sampleable, err = plane.Intersect(units[k].Shape, f.Sampleable); err != nil {
			return err
		}
	}
	fp.Units = append(fp.Units, units...)
	return nil
}

func (u *Unit) middle() geo.XY {
	c, ok := u.Shape.Centroid()
	if !ok {
		return geo.XY{}
	}
	return c
}
