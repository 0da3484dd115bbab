package main

import (
	"strings"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/geo/raster"
	"corewalk/geo/vector"
	"corewalk/interp"
	"corewalk/interp/zone"
	"corewalk/sampling"
)

// patches draws what lies beyond a limit in the field.
func (m *zoneMaker) patches(b *base, a sampling.Analyte, l zone.Limit) (patchSet, error) {
	set := patchSet{field: m.field, analyte: a, limit: l, basis: b.basis}
	result, err := b.on.zones.Patches(b.grid, l, zone.Options{Smallest: m.Smallest / b.on.scale, LeastWidth: m.LeastWidth, Smooth: chords(m.Smooth)})
	if err != nil {
		return set, err
	}
	set.dropped = result.Dropped
	beyond := m.chances(b, l)
	var sum float64
	n := 0
	for i, d := range b.on.division {
		if v := b.grid.Data[i]; d >= 0 && v != raster.NoData {
			sum, n = sum+float64(v), n+1
		}
	}
	taken := make([]bool, len(b.units))
	for _, p := range result.Patches {
		r := patchRecord{division: b.on.field.Divisions[p.Division], shape: p.Shape, figures: figuresOf(p.Figures, p.Area*b.on.scale)}
		if r.samples, err = b.inside(&r.figures, p.Shape, p.Division, taken); err != nil {
			return set, err
		}
		if beyond != nil {
			chance := 0.0
			for _, px := range p.Cells {
				chance += beyond(px)
			}
			chance /= float64(len(p.Cells))
			r.chance = &chance
		}
		if left := n - p.Pixels; left > 0 {
			without := (sum - p.Mean*float64(p.Pixels)) / float64(left)
			r.without = &without
		}
		set.patches = append(set.patches, r)
	}
	set.rests = result.Rest.Shapes
	set.rest = figuresOf(result.Rest.Figures, result.Rest.Area*b.on.scale)
	for i, u := range b.units {
		if !taken[i] {
			set.rest.composites++
			set.rest.compositesMean += u.Value
		}
	}
	if set.rest.composites > 0 {
		set.rest.compositesMean /= float64(set.rest.composites)
	}
	return set, nil
}

// chances returns what tells the chance that the ground of a pixel is beyond
// the limit: by the standard error of kriging, if the surface has it, else by
// the errors that leaving out composites showed. On sampling units there is
// none: nothing is predicted there.
func (m *zoneMaker) chances(b *base, l zone.Limit) func(px int32) float64 {
	if b.basis != onSurface {
		return nil
	}
	if len(b.grid.More) > 0 {
		errors := b.grid.More[0].Data
		return func(px int32) float64 {
			return interp.NormalChance(float64(b.grid.Data[px]), float64(errors[px]), l.Value, l.Low())
		}
	}
	e := interp.NewErrors(m.residuals[surfaceKey{m.field.Name, b.record.Analyte}])
	if e.Empty() {
		return nil
	}
	return func(px int32) float64 { return e.Chance(float64(b.grid.Data[px]), l.Value, l.Low()) }
}

// meet finds the ground that patches of two analytes share.
func (m *zoneMaker) meet(z *fieldZones) error {
	for i, a := range z.sets {
		for k, b := range z.sets[:i] {
			if a.analyte.Name == b.analyte.Name {
				continue
			}
			for p, x := range a.patches {
				for q, y := range b.patches {
					if !x.shape.Bound().Intersects(y.shape.Bound()) {
						continue
					}
					shared, err := plane.Intersect(x.shape, y.shape)
					if err != nil {
						return err
					}
					if area := m.field.Frame.Area(shared); area >= 1 {
						z.meetings = append(z.meetings, meeting{
							Field: m.field.Name, AreaHa: decimals(area/geo.Hectare, 4), of: [2]patchAt{{k, q}, {i, p}},
						})
					}
				}
			}
		}
	}
	return nil
}

// patchFeatures encodes the patches and, for each limit, the rest of the field;
// own are the patches alone.
func (z *fieldZones) patchFeatures(s *zoneSummary) (lines, own []byte, err error) {
	meets := map[string][]string{}
	for _, m := range z.meetings {
		meets[m.Patches[0]] = append(meets[m.Patches[0]], m.Patches[1])
		meets[m.Patches[1]] = append(meets[m.Patches[1]], m.Patches[0])
	}
	for _, set := range z.sets {
		for _, p := range set.patches {
			sum := set.summary(p.id, p.figures)
			sum.Chance, sum.Without = p.chance, p.without
			s.Patches = append(s.Patches, sum)
			properties := append([]vector.Property{{Name: "kind", Value: kindPatch}, {Name: "id", Value: p.id}}, place(set.field, p.division)...)
			properties = append(properties, set.properties(p.figures)...)
			properties = append(properties, vector.Property{Name: "chance", Value: orNil(p.chance)}, vector.Property{Name: "mean_without", Value: orNil(p.without)})
			if len(p.samples) > 0 {
				properties = append(properties, vector.Property{Name: "samples", Value: strings.Join(p.samples, ", ")})
			}
			if with := meets[p.id]; len(with) > 0 {
				properties = append(properties, vector.Property{Name: "meets", Value: strings.Join(with, ", ")})
			}
			f := vector.OutFeature{Properties: properties}
			if f.Shape, err = set.field.Frame.LonLatVertices(p.shape); err != nil {
				return nil, nil, err
			}
			at := len(lines)
			if lines, err = vector.AppendFeature(lines, &f, zoneDecimals); err != nil {
				return nil, nil, err
			}
			own = append(own, lines[at:]...)
		}
		s.Rest = append(s.Rest, set.summary("", set.rest))
		// Divisions share edges, which the parts of one shape must not; so each
		// has a feature. The figures are of the field.
		for _, rest := range set.rests {
			if rest.Empty() {
				continue
			}
			f := vector.OutFeature{Properties: append([]vector.Property{{Name: "kind", Value: kindZone}, {Name: "field", Value: set.field.Name}}, set.properties(set.rest)...)}
			if f.Shape, err = set.field.Frame.LonLatVertices(rest); err != nil {
				return nil, nil, err
			}
			if lines, err = vector.AppendFeature(lines, &f, zoneDecimals); err != nil {
				return nil, nil, err
			}
		}
	}
	return lines, own, nil
}

func orNil(v *float64) any {
	if v == nil {
		return nil
	}
	return *v
}

// place names the field and the division.
func place(f *geo.Field, d geo.Division) []vector.Property {
	out := []vector.Property{{Name: "field", Value: f.Name}}
	if d.Name != "" {
		column := "management"
		if d.Kind == geo.Problem {
			column = "problem"
		}
		out = append(out, vector.Property{Name: column, Value: d.Name})
	}
	return out
}

func (set *patchSet) summary(id string, x figures) patchSummary {
	sum := patchSummary{
		ID: id, Field: set.field.Name, Limit: set.limit.String(), Basis: set.basis, Composites: x.composites,
		AreaHa: decimals(x.area/geo.Hectare, 4), AreaAc: decimals(x.area/geo.Acre, 3),
	}
	if x.pixels > 0 {
		sum.Mean, sum.Least, sum.Greatest = &x.mean, &x.least, &x.greatest
	}
	return sum
}

// properties are those that patches and the rest have alike.
func (set *patchSet) properties(x figures) []vector.Property {
	out := []vector.Property{
		{Name: "analyte", Value: set.analyte.Name}, {Name: "limit", Value: set.limit.String()}, {Name: "basis", Value: set.basis},
	}
	return append(out, x.properties(set.analyte.Unit)...)
}

// properties are the figures of some ground.
func (x figures) properties(unit string) []vector.Property {
	mean, least, greatest, composites := any(nil), any(nil), any(nil), any(nil)
	if x.pixels > 0 {
		mean, least, greatest = x.mean, x.least, x.greatest
	}
	if x.composites > 0 {
		composites = x.compositesMean
	}
	out := []vector.Property{
		{Name: "area_ha", Value: decimals(x.area/geo.Hectare, 4)}, {Name: "area_ac", Value: decimals(x.area/geo.Acre, 3)},
		{Name: "mean", Value: mean}, {Name: "least", Value: least}, {Name: "greatest", Value: greatest},
		{Name: "composites", Value: x.composites}, {Name: "composites_mean", Value: composites},
	}
	if unit != "" {
		out = append(out, vector.Property{Name: "value_unit", Value: unit})
	}
	return out
}

// features appends the zones of one analyte.
func (set *zoneSet) features(b []byte) ([]byte, error) {
	for _, r := range set.zones {
		bound := func(i int) any {
			if r.class < 0 || i < 0 || i >= len(set.limits) {
				return nil
			}
			return set.limits[i]
		}
		properties := append([]vector.Property{{Name: "kind", Value: kindZone}, {Name: "id", Value: r.id}}, place(set.field, r.division)...)
		properties = append(properties,
			vector.Property{Name: "analyte", Value: set.analyte.Name}, vector.Property{Name: "class", Value: r.class + 1},
			vector.Property{Name: "class_name", Value: className(set.limits, set.names, r.class)},
			vector.Property{Name: "from", Value: bound(r.class - 1)}, vector.Property{Name: "below", Value: bound(r.class)},
			vector.Property{Name: "basis", Value: set.basis},
		)
		if set.source != "" {
			properties = append(properties, vector.Property{Name: "source", Value: set.source})
		}
		f := vector.OutFeature{Properties: append(properties, r.figures.properties(set.classing.analyte.Unit)...)}
		var err error
		if f.Shape, err = set.field.Frame.LonLatVertices(r.shape); err != nil {
			return nil, err
		}
		if b, err = vector.AppendFeature(b, &f, zoneDecimals); err != nil {
			return nil, err
		}
	}
	return b, nil
}
