package vector

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"

	"corewalk/geo/crs"
)

// maxNesting is how deep geometry collections may lie in each other.
const maxNesting = 8

// maxColumns bounds the different property names of a file.
const maxColumns = 1024

// geoJSON reads a FeatureCollection, a Feature or a bare geometry.
func (d *decoder) geoJSON(text []byte) error {
	if err := checkJSON(text); err != nil {
		return err
	}
	top := text[skipSpace(text, 0):]
	m, err := members(top)
	if err != nil {
		return err
	}
	kind, err := typeOf(m)
	if err != nil {
		return err
	}
	if err := d.geoJSONSystem(m["crs"]); err != nil {
		return err
	}
	t := &properties{place: map[string]int{}}
	switch kind {
	case "FeatureCollection":
		features, ok := m["features"]
		if !ok || !isArray(features) {
			return errors.New(`a FeatureCollection needs "features", a list`)
		}
		err = eachElement(features, func(n int, value []byte) error {
			return d.geoJSONFeature(n, value, t)
		})
		if err == nil {
			err = d.foreign(top)
		}
	case "Feature":
		err = d.geoJSONFeature(1, top, t)
	default:
		raw := rawFeature{index: 1, place: "feature 1"}
		err = d.geometry(&raw, m, kind, 0)
		d.raw = append(d.raw, raw)
	}
	if err != nil {
		return err
	}
	d.layer.Columns = t.columns
	if len(t.columns)*len(d.raw) > maxCells {
		return fmt.Errorf("%d features with %d property names make too large a table", len(d.raw), len(t.columns))
	}
	for i := range d.raw {
		row := make([]any, len(t.columns))
		copy(row, d.raw[i].values)
		d.raw[i].values = row
	}
	return d.finish(d.layer.CRSFrom == fromRFC)
}

const fromRFC = "GeoJSON (RFC 7946)"

// members takes from an object the members that this package goes by. Of two
// of one name the last counts.
func members(object []byte) (map[string][]byte, error) {
	m := map[string][]byte{}
	err := eachMember(object, func(name string, value []byte) error {
		switch name {
		case "type", "features", "id", "properties", "geometry", "geometries", "coordinates", "crs", "name", "code":
			m[name] = value
		}
		return nil
	})
	return m, err
}

func typeOf(m map[string][]byte) (string, error) {
	t, ok := m["type"]
	if !ok {
		return "", errors.New(`no "type": not GeoJSON`)
	}
	return stringOf(t)
}

// foreign keeps the members of a collection that RFC 7946 does not define.
func (d *decoder) foreign(collection []byte) error {
	return eachMember(collection, func(name string, value []byte) error {
		switch name {
		case "type", "features", "crs", "bbox":
			return nil
		}
		if d.layer.Foreign == nil {
			d.layer.Foreign = map[string]json.RawMessage{}
		}
		d.layer.Foreign[name] = bytes.Clone(value)
		if len(d.layer.Foreign) > maxColumns {
			return fmt.Errorf("more than %d members beside the features", maxColumns)
		}
		return nil
	})
}

// geoJSONFeature reads element n of a collection.
func (d *decoder) geoJSONFeature(n int, text []byte, t *properties) error {
	raw := rawFeature{index: n, place: fmt.Sprintf("feature %d", n)}
	if err := d.grow(1, 0); err != nil {
		return err
	}
	if err := d.featureInto(&raw, text, t); err != nil {
		return fmt.Errorf("%s: %w", raw.place, err)
	}
	d.raw = append(d.raw, raw)
	return nil
}

func (d *decoder) featureInto(raw *rawFeature, text []byte, t *properties) error {
	if !isObject(text) {
		return fmt.Errorf("%s is not a feature", excerpt(text))
	}
	m, err := members(text)
	if err != nil {
		return err
	}
	kind, err := typeOf(m)
	if err != nil {
		return err
	}
	if kind != "Feature" {
		return fmt.Errorf("type is %q, not Feature", kind)
	}
	switch id := m["id"]; {
	case isNull(id):
	case isNumber(id):
		raw.id = string(id)
	default:
		if raw.id, err = stringOf(id); err != nil {
			return fmt.Errorf("id: %w", err)
		}
	}
	if err := t.read(raw, m["properties"]); err != nil {
		return err
	}
	g, ok := m["geometry"]
	switch {
	case !ok:
		return errors.New(`no "geometry"`)
	case isNull(g):
		return nil
	case !isObject(g):
		return fmt.Errorf("geometry: %s is not an object", excerpt(g))
	}
	gm, err := members(g)
	if err != nil {
		return err
	}
	gkind, err := typeOf(gm)
	if err != nil {
		return fmt.Errorf("geometry: %w", err)
	}
	return d.geometry(raw, gm, gkind, 0)
}

// properties gathers the columns of a GeoJSON file, in the order in which
// their names are met.
type properties struct {
	columns []Column
	typed   []bool // whether a value that is not null was met
	place   map[string]int
}

// read puts the properties of one feature into raw.values.
func (t *properties) read(raw *rawFeature, text []byte) error {
	if isNull(text) {
		return nil
	}
	if !isObject(text) {
		return fmt.Errorf("properties: %s is not an object", excerpt(text))
	}
	return eachMember(text, func(name string, value []byte) error {
		v, kind, err := propertyValue(value)
		if err != nil {
			return fmt.Errorf("property %q: %w", name, err)
		}
		i, ok := t.place[name]
		if !ok {
			if len(t.columns) == maxColumns {
				return fmt.Errorf("more than %d different property names in the file", maxColumns)
			}
			i = len(t.columns)
			t.place[name] = i
			t.columns = append(t.columns, Column{Name: name})
			t.typed = append(t.typed, false)
		}
		for len(raw.values) <= i {
			raw.values = append(raw.values, nil)
		}
		raw.values[i] = v
		if v == nil {
			return nil
		}
		c := &t.columns[i]
		switch {
		case !t.typed[i]:
			c.Type, t.typed[i] = kind, true
		case c.Type == kind:
		case c.Type == Int && kind == Float || c.Type == Float && kind == Int:
			c.Type = Float
		default:
			c.Type = Text
		}
		return nil
	})
}

func propertyValue(b []byte) (any, Type, error) {
	switch {
	case isNull(b):
		return nil, Text, nil
	case b[0] == 't' || b[0] == 'f':
		return b[0] == 't', Bool, nil
	case b[0] == '"':
		s, err := stringOf(b)
		return s, Text, err
	case !isNumber(b):
		var compact bytes.Buffer
		if err := json.Compact(&compact, b); err != nil {
			return nil, Text, err
		}
		return compact.String(), Text, nil
	}
	if !bytes.ContainsAny(b, ".eE") {
		i, err := strconv.ParseInt(string(b), 10, 64)
		if err != nil {
			return string(b), Text, nil // beyond int64: its digits are kept
		}
		return i, Int, nil
	}
	f, err := strconv.ParseFloat(string(b), 64)
	if err != nil {
		return nil, Text, fmt.Errorf("number %s is out of range", excerpt(b))
	}
	return f, Float, nil
}

// geoJSONSystem settles the coordinate system: as given, by the crs member of
// the format's first version, else WGS 84 longitude and latitude.
func (d *decoder) geoJSONSystem(member []byte) error {
	if d.layer.CRS != nil {
		return nil
	}
	name, from := "EPSG:4326", fromRFC
	if !isNull(member) {
		var err error
		if name, err = crsMember(member); err != nil {
			return fmt.Errorf("crs member: %w; give --crs", err)
		}
		from = "crs member"
	}
	sys, err := crs.FromText(name)
	if err != nil {
		return fmt.Errorf("%s: %w", from, err)
	}
	d.layer.CRS, d.layer.CRSFrom = sys, from
	return nil
}
