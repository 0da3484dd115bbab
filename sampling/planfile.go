package sampling

import (
	"fmt"
	"strings"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/vector"
)

// Features writes the plan for plan.geojson: for each field the field itself,
// its exclusions and divisions, then its units and their cores in walking
// order.
func (p *Plan) Features() ([]vector.OutFeature, error) {
	var out []vector.OutFeature
	for _, fp := range p.Fields {
		features, err := FieldFeatures(fp.Field)
		if err != nil {
			return nil, fmt.Errorf("field %s: %w", fp.Field.Name, err)
		}
		if notes := append(append([]string{}, fp.Field.Notices...), fp.Notes...); len(notes) > 0 {
			features[0].Properties = append(features[0].Properties, vector.Property{Name: "notes", Value: strings.Join(notes, "; ")})
		}
		out = append(out, features...)
		for _, u := range fp.Units {
			shape, err := fp.Field.Frame.LonLatShape(u.Shape)
			if err != nil {
				return nil, fmt.Errorf("field %s, unit %d: %w", fp.Field.Name, u.Number, err)
			}
			area := fp.Field.Frame.Area(u.Shape)
			properties := []vector.Property{
				{Name: "kind", Value: KindUnit},
				{Name: "id", Value: u.ID},
				{Name: "field", Value: fp.Field.Name},
				{Name: "unit", Value: u.Number},
			}
			properties = append(properties, fp.Division(u)...)
			properties = append(properties,
				vector.Property{Name: "area_ha", Value: round(area/geo.Hectare, 4)},
				vector.Property{Name: "area_ac", Value: round(area/geo.Acre, 3)},
				vector.Property{Name: "sampleable_ha", Value: round(fp.Field.Frame.Area(u.Sampleable)/geo.Hectare, 4)},
				vector.Property{Name: "cores", Value: len(u.Cores)},
				vector.Property{Name: "depth", Value: p.Depth.String()},
				vector.Property{Name: "spacing_m", Value: round(u.Spacing, 4)},
			)
			if len(u.Notes) > 0 {
				properties = append(properties, vector.Property{Name: "notes", Value: strings.Join(u.Notes, "; ")})
			}
			out = append(out, vector.OutFeature{Shape: shape, Properties: properties})
		}
		for _, u := range fp.Units {
			for _, c := range u.Cores {
				at := c.LonLat
				out = append(out, vector.OutFeature{Point: &at, Properties: []vector.Property{
					{Name: "kind", Value: KindCore},
					{Name: "name", Value: c.Name},
					{Name: "sample", Value: u.ID},
					{Name: "core", Value: c.Number},
					{Name: "field", Value: fp.Field.Name},
					{Name: "unit", Value: u.Number},
					{Name: "depth", Value: p.Depth.String()},
				}})
			}
		}
	}
	return out, nil
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

// PlannedUnit is a sampling unit as a plan file has it.
type PlannedUnit struct {
	ID, Field           string
	Management, Problem string
	Depth               string
	Shape               crs.LonLatShape
	Cores               []geo.LonLat
	Notes               []string
}

// At returns the place that the composite stands for: the mean of its cores.
func (u PlannedUnit) At() geo.LonLat {
	var sum geo.LonLat
	for _, c := range u.Cores {
		sum[0] += c[0]
		sum[1] += c[1]
	}
	n := float64(max(len(u.Cores), 1))
	return geo.Round7(geo.LonLat{sum[0] / n, sum[1] / n})
}

// ReadUnits returns the units of a plan file with their cores, in the order of
// the file. Every unit must have a sample id of its own, a polygon and a core.
func ReadUnits(l *vector.Layer) ([]PlannedUnit, error) {
	table := newTable(l)
	var units []PlannedUnit
	byID := map[string]int{}
	for i := range l.Features {
		r := table.record(i)
		if r.text("kind") != KindUnit {
			continue
		}
		id := r.text("id")
		if id == "" {
			return nil, r.wrap(fmt.Errorf("the unit has no sample id"))
		}
		if _, twice := byID[id]; twice {
			return nil, r.wrap(fmt.Errorf("its sample id %s stands in the file twice", id))
		}
		if len(r.f.Shape) == 0 {
			return nil, r.wrap(fmt.Errorf("the unit %s has no polygon", id))
		}
		byID[id] = len(units)
		units = append(units, PlannedUnit{
			ID: id, Field: r.text("field"), Management: r.text("management"), Problem: r.text("problem"),
			Depth: r.text("depth"), Shape: r.f.Shape, Notes: r.notes(),
		})
	}
	if len(units) == 0 {
		return nil, fmt.Errorf("%s holds no feature of kind unit; is it a plan of corewalk?", l.Path)
	}
	for i := range l.Features {
		r := table.record(i)
		if r.text("kind") != KindCore {
			continue
		}
		k, ok := byID[r.text("sample")]
		if !ok {
			return nil, r.wrap(fmt.Errorf("the core is of sample %q, which is not in the file", r.text("sample")))
		}
		if len(r.f.Points) != 1 {
			return nil, r.wrap(fmt.Errorf("the core of sample %s is not one point", units[k].ID))
		}
		units[k].Cores = append(units[k].Cores, r.f.Points[0])
	}
	for _, u := range units {
		if len(u.Cores) == 0 {
			return nil, fmt.Errorf("%s: sample %s has no cores", l.Path, u.ID)
		}
	}
	return units, nil
}

// notes are written in one property, parted by semicolons.
func (r record) notes() []string {
	if n := r.text("notes"); n != "" {
		return strings.Split(n, "; ")
	}
	return nil
}
