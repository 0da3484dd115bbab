package season

import (
	"encoding/json"
	"errors"
	"fmt"
	"strconv"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/crs"
)

// featureRow returns the season and the plan that a feature of a layer belongs to,
// and the columns of its table. The text is valid JSON.
func featureRow(feature []byte, t table, version int) (season string, plan int, row []any, err error) {
	row = make([]any, len(t.columns))
	kind, coordinates := "", []byte(nil)
	r := reader{feature}
	err = r.object(func(name string, value []byte) error {
		switch name {
		case "properties":
			return (&reader{value}).object(func(name string, value []byte) (err error) {
				switch name {
				case "season":
					season, err = jsonText(value)
					return err
				case "plan":
					plan, err = strconv.Atoi(string(value))
					return err
				}
				i := t.at(name)
				switch {
				case i < 0 || t.columns[i].kind == shape:
					return fmt.Errorf("%s is no column of it", name)
				case string(value) == "null":
				case t.columns[i].kind == text:
					row[i], err = jsonText(value)
				default:
					row[i], err = parsed(t.columns[i], string(value))
				}
				if err != nil {
					return fmt.Errorf("%s: %w", name, err)
				}
				return nil
			})
		case "geometry":
			if string(value) == "null" {
				return nil
			}
			return (&reader{value}).object(func(name string, value []byte) (err error) {
				switch name {
				case "type":
					kind, err = jsonText(value)
				case "coordinates":
					coordinates = value
				}
				return err
			})
		}
		return nil
	})
	if i := t.at(geometryColumn); err == nil {
		g := geometry{}
		if kind != "" {
			g, err = parseJSON(kind, coordinates)
		}
		row[i] = g
	}
	switch {
	case err != nil:
	case season == "":
		err = errors.New("it has no season")
	case version > 2 && plan == 0:
		err = errors.New("it has no plan")
	}
	return season, plan, row, err
}

func jsonText(raw json.RawMessage) (string, error) {
	if n := len(raw); n >= 2 && raw[0] == '"' && raw[n-1] == '"' && plainText(string(raw[1:n-1])) {
		return string(raw[1 : n-1]), nil
	}
	var s string
	err := json.Unmarshal(raw, &s)
	return s, err
}

// parseJSON reads coordinates, and checks them as those of a blob.
func parseJSON(kind string, raw json.RawMessage) (geometry, error) {
	var g geometry
	var err error
	r := reader{raw}
	switch kind {
	case "Point":
		var p orb.Point
		p, err = r.position()
		at := geo.LonLat(p)
		g.point = &at
	case "LineString":
		g.line, err = listOf(&r, (*reader).position)
	case "MultiPolygon":
		g.shape, err = r.shape()
	default:
		err = fmt.Errorf("a geometry of type %q", kind)
	}
	if err == nil && len(r.b) > 0 {
		err = errCoordinates
	}
	if err != nil || g.empty() {
		return geometry{}, err
	}
	return parseGeometry(g.appendBlob(nil))
}

var errCoordinates = errors.New("its coordinates are none")

// reader takes things off the front of JSON that is known to be valid.
type reader struct{ b []byte }

var errObject = errors.New("it has something else where an object should stand")

// object gives the members of an object to a function.
func (r *reader) object(member func(name string, value []byte) error) error {
	if !r.next('{') {
		return errObject
	}
	for first := true; !r.next('}'); first = false {
		if !first && !r.next(',') {
			return errObject
		}
		name, err := jsonText(r.value())
		if err != nil || !r.next(':') {
			return errObject
		}
		if err := member(name, r.value()); err != nil {
			return err
		}
	}
	return nil
}

// value takes a value of any kind.
func (r *reader) value() []byte {
	depth, quoted := 0, false
	for i := 0; i < len(r.b); i++ {
		c := r.b[i]
		switch {
		case quoted:
			switch c {
			case '\\':
				i++
			case '"':
				quoted = false
			}
			continue
		case c == '"':
			quoted = true
			continue
		case c == '{' || c == '[':
			depth++
			continue
		case c == '}' || c == ']':
			depth--
		case c != ',' && c != ':' && c > ' ':
			continue
		}
		// The value ends before a mark outside of it, and with the bracket that ends it.
		if depth < 0 || depth == 0 && c != '}' && c != ']' {
			v := r.b[:i]
			r.b = r.b[i:]
			return v
		}
		if depth == 0 {
			v := r.b[:i+1]
			r.b = r.b[i+1:]
			return v
		}
	}
	v := r.b
	r.b = nil
	return v
}

// next takes a mark, with the space round it.
func (r *reader) next(mark byte) bool {
	r.space()
	if len(r.b) == 0 || r.b[0] != mark {
		return false
	}
	r.b = r.b[1:]
	r.space()
	return true
}

func (r *reader) space() {
	for len(r.b) > 0 && (r.b[0] == ' ' || r.b[0] == '\n' || r.b[0] == '\r' || r.b[0] == '\t') {
		r.b = r.b[1:]
	}
}

func (r *reader) number() (float64, error) {
	n := 0
	for n < len(r.b) && (r.b[n] >= '0' && r.b[n] <= '9' || r.b[n] == '-' || r.b[n] == '+' || r.b[n] == '.' || r.b[n] == 'e' || r.b[n] == 'E') {
		n++
	}
	v, err := strconv.ParseFloat(string(r.b[:n]), 64)
	if err != nil {
		return 0, errCoordinates
	}
	r.b = r.b[n:]
	return v, nil
}

func (r *reader) position() (p orb.Point, err error) {
	if !r.next('[') {
		return p, errCoordinates
	}
	if p[0], err = r.number(); err != nil {
		return p, err
	}
	if !r.next(',') {
		return p, errCoordinates
	}
	if p[1], err = r.number(); err != nil {
		return p, err
	}
	if !r.next(']') {
		return p, errCoordinates
	}
	return p, nil
}

func (r *reader) shape() (crs.LonLatShape, error) {
	polygons, err := listOf(r, func(r *reader) (orb.Polygon, error) {
		return listOf(r, func(r *reader) (orb.Ring, error) { return listOf(r, (*reader).position) })
	})
	return crs.LonLatShape(polygons), err
}

// listOf reads an array of things.
func listOf[T any](r *reader, one func(*reader) (T, error)) ([]T, error) {
	if !r.next('[') {
		return nil, errCoordinates
	}
	var out []T
	for !r.next(']') {
		if len(out) > 0 && !r.next(',') {
			return nil, errCoordinates
		}
		x, err := one(r)
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}
