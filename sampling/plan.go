package sampling

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"

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
	Samples int     // composites to a field, of a grid about; 0: the field's area over Cell
	Cores   int     // to a composite
	Spacing float64 // least distance between the cores of a unit
	Setback float64 // from the boundary; the fields were mapped with it
	Depth   Depth
	Seed    uint64
}

// MaxUnits bounds the sampling units of one field, as a guard against a cell
// given in the wrong unit.
const MaxUnits = 20_000

// MaxCores bounds the cores of a plan.
const MaxCores = 500_000

// longestName is what handhelds show of the name of a waypoint (common
// practice, no source).
const longestName = 10

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
	if !(p.Spacing >= 0 && p.Spacing <= 1000) {
		return fmt.Errorf("a spacing of %g m is out of range; take 0 to 1000 m", p.Spacing)
	}
	if !(p.Setback >= 0 && p.Setback <= 1000) {
		return fmt.Errorf("a setback of %g m is out of range; take 0 to 1000 m", p.Setback)
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

// Make plans the fields in the order given, which must have different names. It
// fails on a field that cannot be sampled as asked, and says what would work.
func Make(fields []*geo.Field, p Params) (*Plan, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if len(fields) == 0 {
		return nil, fmt.Errorf("there is no field to plan")
	}
	if err := cellFits(fields, p); err != nil {
		return nil, err
	}
	plan := &Plan{Params: p}
	names := map[string]bool{}
	most, units := 0, 0
	for _, f := range fields {
		if names[f.Name] {
			return nil, fmt.Errorf("two fields are named %s; give each a name of its own", f.Name)
		}
		names[f.Name] = true
		fp, err := split(f, p)
		if err != nil {
			return nil, fmt.Errorf("field %s: %w", f.Name, err)
		}
		plan.Fields = append(plan.Fields, fp)
		most = max(most, len(fp.Units))
		units += len(fp.Units)
		if units*p.Cores > MaxCores {
			return nil, fmt.Errorf("more than %d cores are too many for one plan; take larger cells, fewer cores or fewer fields", MaxCores)
		}
	}
	for _, fp := range plan.Fields {
		if err := fp.placeAll(p); err != nil {
			return nil, fmt.Errorf("field %s: %w", fp.Field.Name, err)
		}
	}
	return plan, plan.number(most)
}

// number gives units their ids and cores their names, of one width throughout.
func (p *Plan) number(most int) error {
	unitDigits := max(2, len(fmt.Sprint(most)))
	coreDigits := max(2, len(fmt.Sprint(p.Cores)))
	if n := len(fieldCode(len(p.Fields)-1)) + unitDigits + coreDigits; n > longestName {
		return fmt.Errorf("%d fields of up to %d units with %d cores each would need waypoint names of %d characters, more than the %d that handhelds show; plan fewer fields at a time", len(p.Fields), most, p.Cores, n, longestName)
	}
	for i, f := range p.Fields {
		for _, u := range f.Units {
			var err error
			if u.ID, err = sampleID(i, u.Number, unitDigits); err != nil {
				return err
			}
			for k := range u.Cores {
				u.Cores[k].Name = fmt.Sprintf("%s%0*d%0*d", fieldCode(i), unitDigits, u.Number, coreDigits, u.Cores[k].Number)
			}
		}
	}
	return nil
}

// split makes the sampling units of one field, in walking order.
func split(f *geo.Field, p Params) (*FieldPlan, error) {
	fp := &FieldPlan{Field: f}
	counts, err := fp.allocate(p)
	if err != nil {
		return nil, err
	}
	sampleable := newClipper(f.Sampleable)
	for i, d := range f.Divisions {
		var shapes []plane.Shape
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
		if err := fp.addUnits(i, shapes, sampleable); err != nil {
			return nil, err
		}
	}
	if len(fp.Units) == 0 {
		return nil, fmt.Errorf("no unit of it has ground outside the setbacks; make them smaller")
	}
	orderUnits(fp.Units)
	for i, u := range fp.Units {
		u.Number = i + 1
	}
	return fp, nil
}

// placeAll places the cores of all units and puts them in walking order.
func (fp *FieldPlan) placeAll(p Params) error {
	start := fp.Units[0].middle()
	for _, u := range fp.Units {
		if err := fp.place(u, p, stream(p.Seed, fp.Field.Name, "cores", u.Number)); err != nil {
			return fmt.Errorf("unit %d: %w", u.Number, err)
		}
		start = orderCores(u.Cores, start)
	}
	return nil
}

// stream returns the random numbers of one purpose: the same for the same seed,
// field and purpose whatever else is in the plan.
func stream(seed uint64, field, purpose string, n int) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprintf(h, "%s\x00%s\x00%d", field, purpose, n)
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// allocate shares the samples of a field among its management units by area,
// at least one each, the largest remainders rounded up. Only strata go by it.
func (fp *FieldPlan) allocate(p Params) ([]int, error) {
	f := fp.Field
	if p.Design != Strata {
		return nil, nil
	}
	areas := make([]float64, len(f.Divisions))
	managed := 0
	for i, d := range f.Divisions {
		if d.Kind == geo.Management {
			areas[i] = f.Frame.Area(d.Shape)
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
		fp.Notes = append(fp.Notes, fmt.Sprintf("it has %d management units, and each gets a sample; asked for: %d", managed, n))
	}
	return shares(areas, n), nil
}

// addUnits makes units of the shapes of one division. A shape without ground
// outside the setbacks joins the neighbour that it borders most; a division
// without any such ground is left out, and said.
func (fp *FieldPlan) addUnits(division int, shapes []plane.Shape, sampleable *clipper) error {
	var units []*Unit
	for _, s := range shapes {
		inside, err := sampleable.intersect(s)
		if err != nil {
			return err
		}
		units = append(units, &Unit{Division: division, Shape: s, Sampleable: inside})
	}
	joined := 0
	for {
		barren := slices.IndexFunc(units, func(u *Unit) bool { return u.Sampleable.Area() < plane.Sliver })
		if barren < 0 {
			break
		}
		if len(units) == 1 {
			fp.Notes = append(fp.Notes, fmt.Sprintf("%s has no ground outside the setbacks; it gets no sample", fp.Field.Divisions[division].Label()))
			return nil
		}
		u := units[barren]
		units = slices.Delete(units, barren, barren+1)
		k := neighbour(u.Shape, len(units), func(i int) plane.Shape { return units[i].Shape })
		var err error
		if units[k].Shape, err = plane.Union(units[k].Shape, u.Shape); err != nil {
			return err
		}
		if units[k].Sampleable, err = sampleable.intersect(units[k].Shape); err != nil {
			return err
		}
		joined++
	}
	if joined > 0 {
		fp.Notes = append(fp.Notes, fmt.Sprintf("%d of the units of %s had no ground outside the setbacks and joined their neighbours, which are larger for it", joined, fp.Field.Divisions[division].Label()))
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
