package sampling

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/vector"
)

// Features writes the plan for plan.geojson: for each field the field itself,
// its exclusions and divisions, then its units and their cores in walking
// order. A unit with several samples (depth layers, composites) stands there
// once for each; a core names all the samples that it goes into.
func (p *Plan) Features() ([]vector.OutFeature, error) {
	var out []vector.OutFeature
	for _, fp := range p.Fields {
		features, err := FieldFeatures(fp.Field)
		if err != nil {
			return nil, fmt.Errorf("field %s: %w", fp.Field.Name, err)
		}
		if features[0].Properties, err = fp.describe(features[0].Properties); err != nil {
			return nil, fmt.Errorf("field %s: %w", fp.Field.Name, err)
		}
		out = append(slices.Grow(out, len(features)+fp.Samples()+fp.Cores()), features...)
		for _, u := range fp.Units {
			units, err := fp.unitFeatures(u)
			if err != nil {
				return nil, fmt.Errorf("field %s, unit %d: %w", fp.Field.Name, u.Number, err)
			}
			out = append(out, units...)
		}
		for _, u := range fp.Units {
			for _, c := range u.Cores {
				out = append(out, fp.CoreFeature(u, c))
			}
		}
	}
	return out, nil
}

// describe adds what the plan says of a field to its properties.
func (fp *FieldPlan) describe(properties []vector.Property) ([]vector.Property, error) {
	add := func(name string, value any) {
		properties = append(properties, vector.Property{Name: name, Value: value})
	}
	if fp.Bearing != nil {
		add("grid_bearing_deg", round(*fp.Bearing, 2))
	}
	if fp.Start != nil {
		ll, err := fp.Field.Frame.LonLat(*fp.Start)
		if err != nil {
			return nil, err
		}
		ll = geo.Round7(ll)
		add("start_lon", ll.Lon())
		add("start_lat", ll.Lat())
	}
	add("walk_m", round(fp.Walk, 1))
	add("walk_and_core_min", round(fp.Time/60, 1))
	if notes := append(append([]string{}, fp.Field.Notices...), fp.Notes...); len(notes) > 0 {
		add("notes", strings.Join(notes, "; "))
	}
	return properties, nil
}

// unitFeatures writes a unit, once for each of its samples.
func (fp *FieldPlan) unitFeatures(u *Unit) ([]vector.OutFeature, error) {
	shape, err := fp.Field.Frame.LonLatShape(u.Shape)
	if err != nil {
		return nil, err
	}
	sampleable := fp.Field.Frame.Area(u.Sampleable)
	var out []vector.OutFeature
	for k, s := range u.Samples {
		properties := []vector.Property{
			{Name: "kind", Value: KindUnit},
			{Name: "id", Value: s.ID},
			{Name: "field", Value: fp.Field.Name},
			{Name: "unit", Value: u.Number},
		}
		add := func(name string, value any) {
			properties = append(properties, vector.Property{Name: name, Value: value})
		}
		if len(u.Samples) > 1 {
			add("composite", s.Composite)
		}
		properties = append(properties, fp.Division(u)...)
		if u.ComparisonOf >= 0 {
			add("comparison_of", fp.Field.Divisions[u.ComparisonOf].Name)
		}
		if u.CompareWith != nil {
			add("compare_with", u.CompareWith.Samples[min(k, len(u.CompareWith.Samples)-1)].ID)
		}
		add("area_ha", round(u.Area/geo.Hectare, 4))
		add("area_ac", round(u.Area/geo.Acre, 3))
		add("sampleable_ha", round(sampleable/geo.Hectare, 4))
		add("cores", u.CoresOf(s))
		add("depth", s.Depth.String())
		add("spacing_m", round(u.Spacing, 4))
		if u.Point != nil {
			ll, err := fp.Field.Frame.LonLat(*u.Point)
			if err != nil {
				return nil, err
			}
			ll = geo.Round7(ll)
			add("point_lon", ll.Lon())
			add("point_lat", ll.Lat())
		}
		if len(u.Notes) > 0 {
			add("notes", strings.Join(u.Notes, "; "))
		}
		out = append(out, vector.OutFeature{Shape: shape, Properties: properties})
	}
	return out, nil
}

// CoreFeature writes a core, in the plan as in the waypoints.
func (fp *FieldPlan) CoreFeature(u *Unit, c Core) vector.OutFeature {
	at := c.LonLat
	var ids []string
	var depths []Depth
	for _, s := range u.Samples {
		if s.Composite == c.Composite {
			ids, depths = append(ids, s.ID), append(depths, s.Depth)
		}
	}
	properties := make([]vector.Property, 0, 9) // one to spare
	properties = append(properties,
		vector.Property{Name: "kind", Value: KindCore},
		vector.Property{Name: "name", Value: c.Name},
		vector.Property{Name: "sample", Value: ids[0]},
	)
	if len(ids) > 1 {
		properties = append(properties, vector.Property{Name: "samples", Value: strings.Join(ids, " ")})
	}
	properties = append(properties,
		vector.Property{Name: "core", Value: c.Number},
		vector.Property{Name: "field", Value: fp.Field.Name},
		vector.Property{Name: "unit", Value: u.Number},
		vector.Property{Name: "depth", Value: DepthsText(depths)},
	)
	return vector.OutFeature{Point: &at, Properties: properties}
}

// Division returns the properties that name the management unit or problem
// area of a unit; none where the field is not divided.
func (fp *FieldPlan) Division(u *Unit) []vector.Property {
	d := fp.Field.Divisions[u.Division]
	switch {
	case d.Kind == geo.Problem:
		return []vector.Property{{Name: "problem", Value: d.Name}}
	case d.Name != "":
		return []vector.Property{{Name: "management", Value: d.Name}}
	}
	return nil
}

// PlannedUnit is a sample of a sampling unit as a plan file has it.
type PlannedUnit struct {
	ID, Field           string
	Unit                int // number of the unit; several samples may be of one
	Composite           int // of the unit, from 1
	Management, Problem string
	ComparisonOf        string // name of the problem area that its healthy ground lies beside
	CompareWith         string // of a problem area: id of the sample to compare it with
	Depth               string
	Shape               crs.LonLatShape
	Spacing             float64 // least between its cores, metres
	Point               *geo.LonLat
	Cores               []PlannedCore
	Notes               []string
}

// PlannedCore is a core as a plan file has it.
type PlannedCore struct {
	Name   string
	Number int
	At     geo.LonLat
}

// At returns the place that the composite stands for: the mean of its cores.
func (u PlannedUnit) At() geo.LonLat {
	var sum geo.LonLat
	for _, c := range u.Cores {
		sum[0] += c.At[0]
		sum[1] += c.At[1]
	}
	n := float64(max(len(u.Cores), 1))
	return geo.Round7(geo.LonLat{sum[0] / n, sum[1] / n})
}

// ReadUnits returns the samples of a plan file with their cores, in the order of
// the file. Every one must have an id of its own, a polygon and a core.
func ReadUnits(l *vector.Layer) ([]PlannedUnit, error) {
	table := newTable(l)
	var units []PlannedUnit
	byID := map[string]int{}
	for i := range l.Features {
		r := table.record(i)
		if r.text("kind") != KindUnit {
			continue
		}
		u, err := r.plannedUnit()
		if err != nil {
			return nil, r.wrap(err)
		}
		if _, twice := byID[u.ID]; twice {
			return nil, r.wrap(fmt.Errorf("its sample id %s stands in the file twice", u.ID))
		}
		byID[u.ID] = len(units)
		units = append(units, u)
	}
	if len(units) == 0 {
		return nil, fmt.Errorf("%s holds no feature of kind unit; is it a plan of corewalk?", l.Path)
	}
	for i := range l.Features {
		r := table.record(i)
		if r.text("kind") != KindCore {
			continue
		}
		ids := strings.Fields(r.text("samples"))
		if len(ids) == 0 {
			ids = []string{r.text("sample")}
		}
		if len(r.f.Points) != 1 {
			return nil, r.wrap(fmt.Errorf("the core of sample %s is not one point", ids[0]))
		}
		number, _, err := r.whole("core")
		if err != nil {
			return nil, r.wrap(err)
		}
		for _, id := range ids {
			k, ok := byID[id]
			if !ok {
				return nil, r.wrap(fmt.Errorf("the core is of sample %q, which is not in the file", id))
			}
			units[k].Cores = append(units[k].Cores, PlannedCore{r.text("name"), number, r.f.Points[0]})
		}
	}
	for _, u := range units {
		if len(u.Cores) == 0 {
			return nil, fmt.Errorf("%s: sample %s has no cores", l.Path, u.ID)
		}
	}
	return units, nil
}

// plannedUnit reads a feature of kind unit.
func (r record) plannedUnit() (PlannedUnit, error) {
	u := PlannedUnit{
		ID: r.text("id"), Field: r.text("field"), Management: r.text("management"), Problem: r.text("problem"),
		ComparisonOf: r.text("comparison_of"), CompareWith: r.text("compare_with"),
		Depth: r.text("depth"), Shape: r.f.Shape, Notes: r.notes(),
	}
	if u.ID == "" {
		return u, fmt.Errorf("the unit has no sample id")
	}
	if len(u.Shape) == 0 {
		return u, fmt.Errorf("the unit %s has no polygon", u.ID)
	}
	var err error
	if u.Unit, _, err = r.whole("unit"); err != nil {
		return u, err
	}
	var composite bool
	if u.Composite, composite, err = r.whole("composite"); err != nil {
		return u, err
	}
	if !composite {
		u.Composite = 1
	}
	if u.Spacing, _, err = r.number("spacing_m"); err != nil {
		return u, err
	}
	lon, hasLon, err := r.number("point_lon")
	if err != nil {
		return u, err
	}
	lat, hasLat, err := r.number("point_lat")
	if err != nil {
		return u, err
	}
	if hasLon && hasLat {
		u.Point = &geo.LonLat{lon, lat}
	}
	return u, nil
}

// whole returns a property as a whole number from 1 up, and false when there is
// none.
func (r record) whole(column string) (int, bool, error) {
	v, ok, err := r.number(column)
	if err == nil && ok && !(v >= 1 && v <= 1e9 && v == math.Trunc(v)) {
		err = fmt.Errorf("its %s is %s, not a whole number from 1 up", column, r.text(column))
	}
	return int(v), ok, err
}

// notes are written in one property, parted by semicolons.
func (r record) notes() []string {
	if n := r.text("notes"); n != "" {
		return strings.Split(n, "; ")
	}
	return nil
}
