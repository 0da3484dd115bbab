package sampling

import (
	"fmt"
	"math"
	"strconv"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/vector"
)

// Kinds of features in the project's files.
const (
	KindField      = "field"
	KindExclusion  = "exclusion"
	KindManagement = "management"
	KindProblem    = "problem"
	KindUnit       = "unit"
	KindCore       = "core"
)

// FieldFeatures writes a field for a file: the field itself, its exclusions,
// its management units and problem areas as drawn. ReadFields brings them back
// to the same field.
func FieldFeatures(f *geo.Field) ([]vector.OutFeature, error) {
	boundary, err := f.Frame.LonLatShape(f.Boundary)
	if err != nil {
		return nil, err
	}
	area := f.Frame.Area(f.Boundary)
	sampleable := f.Frame.Area(f.Sampleable)
	out := []vector.OutFeature{{Shape: boundary, Properties: []vector.Property{
		{Name: "kind", Value: KindField},
		{Name: "name", Value: f.Name},
		{Name: "crs", Value: "EPSG:" + strconv.Itoa(f.Frame.EPSG())},
		{Name: "area_ha", Value: round(area/geo.Hectare, 4)},
		{Name: "area_ac", Value: round(area/geo.Acre, 3)},
		{Name: "sampleable_ha", Value: round(sampleable/geo.Hectare, 4)},
		{Name: "sampleable_ac", Value: round(sampleable/geo.Acre, 3)},
		{Name: "setback_m", Value: round(f.Setback, 4)},
	}}}
	for _, e := range f.Exclusions {
		properties := []vector.Property{
			{Name: "kind", Value: KindExclusion},
			{Name: "name", Value: e.Name},
			{Name: "field", Value: f.Name},
			{Name: "setback_m", Value: round(e.Setback, 4)},
		}
		shape, err := f.Frame.LonLatShape(e.Shape)
		if err != nil {
			return nil, err
		}
		if len(shape) > 0 {
			out = append(out, vector.OutFeature{Shape: shape, Properties: properties})
		}
		for _, l := range e.Lines {
			line := make(crs.LonLatLine, len(l))
			for i, p := range l {
				ll, err := f.Frame.LonLat(geo.XY(p))
				if err != nil {
					return nil, err
				}
				line[i] = [2]float64(ll)
			}
			out = append(out, vector.OutFeature{Line: line, Properties: properties})
		}
		for _, p := range e.Points {
			ll, err := f.Frame.LonLat(p)
			if err != nil {
				return nil, err
			}
			out = append(out, vector.OutFeature{Point: &ll, Properties: properties})
		}
	}
	for _, d := range f.Drawn {
		shape, err := f.Frame.LonLatShape(d.Shape)
		if err != nil {
			return nil, err
		}
		kind := KindManagement
		if d.Kind == geo.Problem {
			kind = KindProblem
		}
		out = append(out, vector.OutFeature{Shape: shape, Properties: []vector.Property{
			{Name: "kind", Value: kind}, {Name: "name", Value: d.Name}, {Name: "field", Value: f.Name},
		}})
	}
	return out, nil
}

// ReadFields maps the fields of a plan or results file anew.
func ReadFields(l *vector.Layer) ([]*geo.Field, error) {
	var outlines []geo.Outline
	byName := map[string]int{}
	for i := range l.Features {
		r := record{l, &l.Features[i]}
		if r.text("kind") != KindField {
			continue
		}
		system, err := crs.FromText(r.text("crs"))
		if err != nil {
			return nil, r.wrap(err)
		}
		frame, ok := geo.FrameOn(system)
		if !ok {
			return nil, r.wrap(fmt.Errorf("its crs %s cannot serve as a frame in metres", r.text("crs")))
		}
		name := r.text("name")
		byName[name] = len(outlines)
		outlines = append(outlines, geo.Outline{Name: name, Boundary: r.f.Shape, Setback: r.number("setback_m"), Frame: &frame})
	}
	if len(outlines) == 0 {
		return nil, fmt.Errorf("%s holds no feature of kind field; is it a plan or a results file of corewalk?", l.Path)
	}
	for i := range l.Features {
		r := record{l, &l.Features[i]}
		kind := r.text("kind")
		if kind != KindExclusion && kind != KindManagement && kind != KindProblem {
			continue
		}
		k, ok := byName[r.text("field")]
		if !ok {
			return nil, r.wrap(fmt.Errorf("its field %q is not in the file", r.text("field")))
		}
		part := geo.Part{
			Name: r.text("name"), Where: fmt.Sprintf("%s: feature %d", l.Path, r.f.Index),
			Shape: r.f.Shape, Lines: r.f.Lines, Points: r.f.Points, Setback: r.number("setback_m"),
		}
		switch o := &outlines[k]; kind {
		case KindExclusion:
			o.Exclusions = append(o.Exclusions, part)
		case KindManagement:
			o.Management = append(o.Management, part)
		default:
			o.Problems = append(o.Problems, part)
		}
	}
	fields := make([]*geo.Field, len(outlines))
	for i, o := range outlines {
		f, err := geo.Map(o)
		if err != nil {
			return nil, fmt.Errorf("%s: field %s: %w", l.Path, o.Name, err)
		}
		fields[i] = f
	}
	return fields, nil
}

// record reads the properties of one feature.
type record struct {
	l *vector.Layer
	f *vector.Feature
}

func (r record) text(column string) string {
	s, _ := r.l.Text(r.f, column)
	return s
}

// number returns a property as a number, 0 when it is absent or none.
func (r record) number(column string) float64 {
	v, _ := r.float(column)
	return v
}

func (r record) float(column string) (float64, bool) {
	i := r.l.Column(column)
	if i < 0 {
		return 0, false
	}
	switch v := r.f.Values[i].(type) {
	case float64:
		return v, true
	case int64:
		return float64(v), true
	}
	return 0, false
}

func (r record) wrap(err error) error {
	return fmt.Errorf("%s: feature %d: %w", r.l.Path, r.f.Index, err)
}

// round keeps figures in files to the decimals that they deserve.
func round(v float64, decimals int) float64 {
	p := math.Pow(10, float64(decimals))
	return math.Round(v*p) / p
}
