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

// exportedFeature is a feature of a layer that was exported.
type exportedFeature struct {
	Properties map[string]json.RawMessage
	Geometry   *struct {
		Type        string
		Coordinates json.RawMessage
	}
}

// row returns the season and the plan that a feature belongs to, and the columns
// of its table.
func (f *exportedFeature) row(t table, version int) (season string, plan int, row []any, err error) {
	if season, err = jsonText(f.Properties["season"]); err != nil {
		return "", 0, nil, errors.New("it has no season")
	}
	if version > 2 {
		if plan, err = strconv.Atoi(string(f.Properties["plan"])); err != nil {
			return "", 0, nil, errors.New("it has no plan")
		}
	}
	row = make([]any, len(t.columns))
	for i, c := range t.columns {
		var err error
		switch raw := f.Properties[c.name]; {
		case c.kind == shape:
			g := geometry{}
			if f.Geometry != nil {
				g, err = parseJSON(f.Geometry.Type, f.Geometry.Coordinates)
			}
			row[i] = g
		case len(raw) == 0 || string(raw) == "null":
		case c.kind == text:
			row[i], err = jsonText(raw)
		default:
			row[i], err = parsed(c, string(raw))
		}
		if err != nil {
			return "", 0, nil, fmt.Errorf("%s: %w", c.name, err)
		}
	}
	return season, plan, row, nil
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
	r := positions{b: raw}
	switch kind {
	case "Point":
		var p orb.Point
		p, err = r.position()
		at := geo.LonLat(p)
		g.point = &at
	case "LineString":
		g.line, err = listOf(&r, (*positions).position)
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

// positions takes coordinates off the front of valid JSON.
type positions struct{ b []byte }

// next takes a mark, with the space round it.
func (r *positions) next(mark byte) bool {
	r.space()
	if len(r.b) == 0 || r.b[0] != mark {
		return false
	}
	r.b = r.b[1:]
	r.space()
	return true
}

func (r *positions) space() {
	for len(r.b) > 0 && (r.b[0] == ' ' || r.b[0] == '\n' || r.b[0] == '\r' || r.b[0] == '\t') {
		r.b = r.b[1:]
	}
}

func (r *positions) number() (float64, error) {
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

func (r *positions) position() (p orb.Point, err error) {
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

func (r *positions) shape() (crs.LonLatShape, error) {
	polygons, err := listOf(r, func(r *positions) (orb.Polygon, error) {
		return listOf(r, func(r *positions) (orb.Ring, error) { return listOf(r, (*positions).position) })
	})
	return crs.LonLatShape(polygons), err
}

// listOf reads an array of things.
func listOf[T any](r *positions, one func(*positions) (T, error)) ([]T, error) {
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
