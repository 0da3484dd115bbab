package sampling

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"sync/atomic"

	"corewalk/geo"
	"corewalk/geo/plane"
)

// Unit is a sampling unit: the ground that its samples stand for.
type Unit struct {
	Number     int // within its field, from 1, in walking order when the plan was first made
	Division   int // index into the field's divisions
	Shape      plane.Shape
	Area       float64     // of Shape, true square metres
	Sampleable plane.Shape // the part of it that keeps every setback
	Point      *geo.XY     // that the cores are taken round, with AtPoint
	Samples    []Sample    // the composites, and of each the layers from the surface down
	Cores      []Core
	Spacing    float64 // least distance that was held between cores, true metres
	Notes      []string

	// Of healthy ground that is sampled to compare a problem area with: the
	// index of that division; -1 of any other unit.
	ComparisonOf int
	// Of a problem area: the unit to compare it with; nil when there is none.
	CompareWith *Unit

	key int // of its random numbers
}

// Sample is one bag: a composite of cores from one layer.
type Sample struct {
	ID        string
	Composite int // from 1
	Depth     Depth
}

// Core is one hole, whose layers go into as many samples.
type Core struct {
	Number    int // within its unit, from 1, in walking order
	Composite int // of its unit, from 1
	Name      string
	At        geo.XY     // in the field's frame
	LonLat    geo.LonLat // to 1e-7 degree, as written; At is this place
}

// ID returns the id of the unit's first sample, which names the unit.
func (u *Unit) ID() string { return u.Samples[0].ID }

// CoresOf returns how many cores a sample is mixed from.
func (u *Unit) CoresOf(s Sample) (n int) {
	for _, c := range u.Cores {
		if c.Composite == s.Composite {
			n++
		}
	}
	return n
}

// SamplesOf returns the samples that a core goes into.
func (u *Unit) SamplesOf(c Core) (out []Sample) {
	for _, s := range u.Samples {
		if s.Composite == c.Composite {
			out = append(out, s)
		}
	}
	return out
}

// FieldPlan is the plan of one field, its units in walking order.
type FieldPlan struct {
	Field *geo.Field
	Units []*Unit
	Notes []string
	Start *geo.XY // where the walk begins; nil: at the first core
	Walk  float64 // true metres from the start to the last core, round the exclusions
	Time  float64 // seconds for the walk and the cores
	// Bearing of the rows of its grid, degrees clockwise from true north; nil
	// without a grid.
	Bearing *float64
}

// Samples returns the number of samples of a field.
func (fp *FieldPlan) Samples() (n int) {
	for _, u := range fp.Units {
		n += len(u.Samples)
	}
	return n
}

// Cores returns the number of cores of a field.
func (fp *FieldPlan) Cores() (n int) {
	for _, u := range fp.Units {
		n += len(u.Cores)
	}
	return n
}

// Plan is a season's sampling: units and cores of one or more fields.
type Plan struct {
	Params
	Fields []*FieldPlan

	first int // place in the farm of the first of the fields, from 0
}

// Make plans the fields in the order given, which must have different names. It
// fails on a field that cannot be sampled as asked, and says what would work.
func Make(fields []*geo.Field, p Params) (*Plan, error) {
	plan, err := Split(fields, p)
	if err != nil {
		return nil, err
	}
	if err := plan.make(); err != nil {
		return nil, err
	}
	return plan, plan.StartsServe()
}

// MakeOne plans one field of a farm whose other fields are planned elsewhere. Its
// place in the farm, from 0, gives its sample ids and core names the letters that
// set them apart from those of all other places; they are those that Make gives
// where no field has more than 99 units or a unit more than 99 cores. It has no
// random number in common with another field, and where its walk begins far from
// all of the starts, it begins at a core.
func MakeOne(f *geo.Field, place int, p Params) (*Plan, error) {
	plan, err := Split([]*geo.Field{f}, p)
	if err != nil {
		return nil, err
	}
	plan.first = place
	return plan, plan.make()
}

// make places the cores of a split plan, and puts everything in order.
func (plan *Plan) make() error {
	if err := eachField(len(plan.Fields), func(i int) error {
		fp := plan.Fields[i]
		if err := fp.placeAll(plan.Params); err != nil {
			return fmt.Errorf("field %s: %w", fp.Field.Name, err)
		}
		return nil
	}); err != nil {
		return err
	}
	if plan.KeepSpacing {
		if err := plan.spacingHeld(); err != nil {
			return err
		}
	}
	if err := plan.route(); err != nil {
		return err
	}
	for _, fp := range plan.Fields {
		for i, u := range fp.Units {
			u.Number = i + 1
		}
	}
	return plan.number()
}

// Split makes the sampling units of the fields without their cores, as a count
// of the samples that a design costs.
func Split(fields []*geo.Field, p Params) (*Plan, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if len(fields) == 0 {
		return nil, fmt.Errorf("there is no field to plan")
	}
	if err := cellFits(fields, p); err != nil {
		return nil, err
	}
	p = p.complete()
	plan := &Plan{Params: p}
	names := map[string]bool{}
	for _, f := range fields {
		if names[f.Name] {
			return nil, fmt.Errorf("two fields are named %s; give each a name of its own", f.Name)
		}
		names[f.Name] = true
	}
	plan.Fields = make([]*FieldPlan, len(fields))
	var units atomic.Int64
	err := eachField(len(fields), func(i int) (err error) {
		if plan.Fields[i], err = split(fields[i], p); err != nil {
			return fmt.Errorf("field %s: %w", fields[i].Name, err)
		}
		if int(units.Add(int64(len(plan.Fields[i].Units))))*p.Cores*p.Composites > MaxCores {
			return fmt.Errorf("more than %d cores are too many for one plan; take larger cells or fewer cores, or plan the fields one by one", MaxCores)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return plan, nil
}

// number gives samples their ids and cores their names, of one width throughout.
func (p *Plan) number() error {
	mostUnits, mostCores, mostSamples := 1, 1, 1
	for _, f := range p.Fields {
		mostUnits = max(mostUnits, len(f.Units))
		for _, u := range f.Units {
			mostCores = max(mostCores, len(u.Cores))
			mostSamples = max(mostSamples, len(u.Samples))
		}
	}
	unitDigits, coreDigits := digits(mostUnits), digits(mostCores)
	if n := len(fieldCode(p.first+len(p.Fields)-1)) + unitDigits + coreDigits; n > longestName {
		return fmt.Errorf("%d fields of up to %d units with %d cores each would need waypoint names of %d characters, more than the %d that handhelds show; plan fewer fields at a time", len(p.Fields), mostUnits, mostCores, n, longestName)
	}
	for i, f := range p.Fields {
		for _, u := range f.Units {
			for k := range u.Samples {
				var err error
				if u.Samples[k].ID, err = sampleID(p.first+i, u.Number, unitDigits, k, mostSamples); err != nil {
					return err
				}
			}
			for k := range u.Cores {
				u.Cores[k].Name = fmt.Sprintf("%s%0*d%0*d", fieldCode(p.first+i), unitDigits, u.Number, coreDigits, u.Cores[k].Number)
			}
		}
	}
	return nil
}

func digits(most int) int { return max(2, len(fmt.Sprint(most))) }

// stream returns the random numbers of one purpose: the same for the same seed,
// field and purpose whatever else is in the plan.
func stream(seed uint64, field, purpose string, n int) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprintf(h, "%s\x00%s\x00%d", field, purpose, n)
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}
