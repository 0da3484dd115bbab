package season

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/crs"
)

// features takes the features off a layer that was exported, one by one. It is less
// strict than JSON: what was exported is known by its hash.
type features struct {
	r     *bufio.Reader
	begun bool
	b     []byte
}

var errLayer = errors.New("is not a layer that season export has written, or is cut off")

func newFeatures(r io.Reader) *features { return &features{r: bufio.NewReaderSize(r, 1<<16)} }

// next returns a feature, which is good until the next one; io.EOF after the last.
func (f *features) next() ([]byte, error) {
	if !f.begun {
		f.begun = true
		for _, want := range []string{"{", `"type"`, ":", `"FeatureCollection"`, ",", `"features"`, ":", "["} {
			for i := range len(want) {
				c, err := f.mark(i == 0)
				if err != nil {
					return nil, err
				}
				if c != want[i] {
					return nil, errLayer
				}
			}
		}
		c, err := f.mark(true)
		if err != nil {
			return nil, err
		}
		if c != ']' {
			return f.object(c)
		}
		return f.end()
	}
	switch c, err := f.mark(true); {
	case err != nil:
		return nil, err
	case c == ',':
		if c, err = f.mark(true); err != nil {
			return nil, err
		}
		return f.object(c)
	case c == ']':
		return f.end()
	}
	return nil, errLayer
}

// mark reads a byte, past space where that may be.
func (f *features) mark(space bool) (byte, error) {
	for {
		c, err := f.r.ReadByte()
		if errors.Is(err, io.EOF) {
			err = errLayer
		}
		if err != nil || !space || c != ' ' && c != '\n' && c != '\r' && c != '\t' {
			return c, err
		}
	}
}

// object reads an object that begins with c.
func (f *features) object(c byte) ([]byte, error) {
	if c != '{' {
		return nil, errLayer
	}
	f.b = append(f.b[:0], c)
	quoted, depth := false, 1
	for depth > 0 {
		c, err := f.mark(false)
		if err != nil {
			return nil, err
		}
		f.b = append(f.b, c)
		switch {
		case quoted && c == '\\':
			if c, err = f.mark(false); err != nil {
				return nil, err
			}
			f.b = append(f.b, c)
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '{':
			depth++
		case c == '}':
			depth--
		}
	}
	return f.b, nil
}

// end reads what follows the last feature.
func (f *features) end() ([]byte, error) {
	if c, err := f.mark(true); err != nil || c != '}' {
		return nil, errLayer
	}
	if c, err := f.mark(true); !errors.Is(err, errLayer) || c != 0 {
		return nil, errLayer
	}
	return nil, io.EOF
}

// featureRow returns the season and the plan that a feature of a layer belongs to,
// and the columns of its table.
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

// reader takes things off the front of JSON. Of what is none it makes something, or
// an error.
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
