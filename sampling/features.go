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
// to the same field to the last bit; where an outline had to be mended, its new
// corners are first rounded to the 1e-7 degree that files are written in.
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
		{Name: "setback_m", Value: f.Setback},
	}}}
	if f.Beds {
		out[0].Properties = append(out[0].Properties, vector.Property{Name: "beds", Value: true})
	}
	for _, e := range f.Exclusions {
		properties := []vector.Property{
			{Name: "kind", Value: KindExclusion},
			{Name: "name", Value: e.Name},
			{Name: "field", Value: f.Name},
			{Name: "setback_m", Value: e.Setback},
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

// ReadFields maps the fields of a plan or results file anew. Names of fields
// must differ, and every part must name a field of the file.
func ReadFields(l *vector.Layer) ([]*geo.Field, error) {
	outlines, err := ReadOutlines(l)
	if err != nil {
		return nil, err
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

// ReadOutlines reads what a plan or results file says of its fields, without
// mapping them.
func ReadOutlines(l *vector.Layer) ([]geo.Outline, error) {
	table := newTable(l)
	var outlines []geo.Outline
	byName := map[string]int{}
	for i := range l.Features {
		r := table.record(i)
		if r.text("kind") != KindField {
			continue
		}
		o, err := r.outline()
		if err != nil {
			return nil, r.wrap(err)
		}
		if _, twice := byName[o.Name]; twice {
			return nil, r.wrap(fmt.Errorf("a field named %q stands in the file twice; give each a name of its own", o.Name))
		}
		byName[o.Name] = len(outlines)
		outlines = append(outlines, o)
	}
	if len(outlines) == 0 {
		return nil, fmt.Errorf("%s holds no feature of kind field; is it a plan or a results file of corewalk?", l.Path)
	}
	for i := range l.Features {
		r := table.record(i)
		kind := r.text("kind")
		if kind != KindExclusion && kind != KindManagement && kind != KindProblem {
			continue
		}
		k, ok := byName[r.text("field")]
		if !ok {
			return nil, r.wrap(fmt.Errorf("its field %q is not in the file", r.text("field")))
		}
		setback, err := r.setback()
		if err != nil {
			return nil, r.wrap(err)
		}
		part := geo.Part{
			Name: r.text("name"), Where: fmt.Sprintf("%s: feature %d", l.Path, r.f.Index),
			Shape: r.f.Shape, Lines: r.f.Lines, Points: r.f.Points, Setback: setback,
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
	return outlines, nil
}

// ReadStarts returns where the walks of fields begin, by the names of the fields;
// a field without a start is left out.
func ReadStarts(l *vector.Layer) (map[string]geo.LonLat, error) {
	table := newTable(l)
	out := map[string]geo.LonLat{}
	for i := range l.Features {
		r := table.record(i)
		if r.text("kind") != KindField {
			continue
		}
		lon, hasLon, err := r.number("start_lon")
		if err != nil {
			return nil, r.wrap(err)
		}
		lat, hasLat, err := r.number("start_lat")
		if err != nil {
			return nil, r.wrap(err)
		}
		if !hasLon || !hasLat {
			continue
		}
		if !(math.Abs(lon) <= 180 && math.Abs(lat) <= 90) {
			return nil, r.wrap(fmt.Errorf("its start_lon and start_lat, %g and %g, are no place on the earth", lon, lat))
		}
		out[r.text("name")] = geo.LonLat{lon, lat}
	}
	return out, nil
}

// table finds the properties of the project's own files. Unlike those of a
// stranger's file, their names count to the letter: beside "x", a coordinate,
// there may be an analyte "X".
type table struct {
	l     *vector.Layer
	place map[string]int
}

func newTable(l *vector.Layer) table {
	t := table{l, map[string]int{}}
	for i, c := range l.Columns {
		if _, known := t.place[c.Name]; !known {
			t.place[c.Name] = i
		}
	}
	return t
}

func (t table) record(i int) record { return record{t, &t.l.Features[i]} }

// record reads the properties of one feature.
type record struct {
	table
	f *vector.Feature
}

// text returns a property as text, empty when there is none.
func (r record) text(column string) string {
	i, ok := r.place[column]
	if !ok {
		return ""
	}
	s, _ := r.l.Text(r.f, r.l.Columns[i].Name)
	return s
}

// number returns a property as a number, and false when there is none. It fails
// on what is not a number.
func (r record) number(column string) (float64, bool, error) {
	i, ok := r.place[column]
	if !ok || i >= len(r.f.Values) || r.f.Values[i] == nil {
		return 0, false, nil
	}
	switch v := r.f.Values[i].(type) {
	case float64:
		return v, true, nil
	case int64:
		return float64(v), true, nil
	}
	return 0, false, fmt.Errorf("its %s is %q, not a number", column, r.text(column))
}

// setback returns the setback, 0 when there is none.
func (r record) setback() (float64, error) {
	v, _, err := r.number("setback_m")
	if err == nil && !(v >= 0 && v <= 1e6) {
		err = fmt.Errorf("its setback_m of %g is out of range", v)
	}
	return v, err
}

// outline returns a feature of kind field.
func (r record) outline() (geo.Outline, error) {
	o := geo.Outline{Name: r.text("name"), Boundary: r.f.Shape, Beds: r.text("beds") == "true"}
	if o.Name == "" {
		return o, fmt.Errorf("the field has no name")
	}
	if len(o.Boundary) == 0 {
		return o, fmt.Errorf("the field %s has no polygon", o.Name)
	}
	text := r.text("crs")
	if text == "" {
		return o, fmt.Errorf("the field %s has no crs, which names its frame as in EPSG:32615", o.Name)
	}
	system, err := crs.FromText(text)
	if err != nil {
		return o, err
	}
	frame, ok := geo.FrameOn(system)
	if !ok {
		return o, fmt.Errorf("its crs %s cannot serve as a frame in metres", text)
	}
	o.Frame = &frame
	o.Setback, err = r.setback()
	return o, err
}

func (r record) wrap(err error) error {
	return fmt.Errorf("%s: feature %d: %w", r.l.Path, r.f.Index, err)
}

// round keeps figures in files to the decimals that they deserve.
func round(v float64, decimals int) float64 {
	p := math.Pow(10, float64(decimals))
	return math.Round(v*p) / p
}
