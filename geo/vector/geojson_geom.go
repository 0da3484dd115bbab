package vector

import (
	"errors"
	"fmt"
	"strconv"

	"github.com/paulmach/orb"
)

// geometry adds a GeoJSON geometry to f.
func (d *decoder) geometry(f *rawFeature, m map[string][]byte, kind string, depth int) error {
	if kind == "GeometryCollection" {
		return d.collection(f, m["geometries"], depth)
	}
	c, ok := m["coordinates"]
	if !ok || !isArray(c) {
		return fmt.Errorf(`%s needs "coordinates", a list`, excerpt([]byte(kind)))
	}
	switch kind {
	case "Polygon":
		return d.polygon(f, c)
	case "MultiPolygon":
		return eachElement(c, func(n int, v []byte) error {
			return d.polygon(f, v)
		})
	case "LineString":
		return d.line(f, c)
	case "MultiLineString":
		return eachElement(c, func(n int, v []byte) error {
			return d.line(f, v)
		})
	case "Point":
		if skipSpace(c, 1) == len(c)-1 {
			return nil // an empty point, as some tools write it
		}
		p, err := position(c)
		if err != nil {
			return fmt.Errorf("point %d: %w", len(f.points)+1, err)
		}
		f.points = append(f.points, p)
		return nil
	case "MultiPoint":
		return eachElement(c, func(n int, v []byte) error {
			p, err := position(v)
			if err != nil {
				return fmt.Errorf("point %d: %w", len(f.points)+1, err)
			}
			f.points = append(f.points, p)
			return d.grow(0, 1)
		})
	}
	return fmt.Errorf("%q is not a type of GeoJSON", excerpt([]byte(kind)))
}

func (d *decoder) collection(f *rawFeature, list []byte, depth int) error {
	if !isArray(list) {
		return errors.New(`GeometryCollection needs "geometries", a list`)
	}
	if depth == maxNesting {
		return fmt.Errorf("geometry collections lie more than %d deep in each other", maxNesting)
	}
	return eachElement(list, func(n int, v []byte) error {
		if !isObject(v) {
			return fmt.Errorf("geometry %d of the collection: %s is not an object", n, excerpt(v))
		}
		m, err := members(v)
		if err != nil {
			return err
		}
		kind, err := typeOf(m)
		if err != nil {
			return fmt.Errorf("geometry %d of the collection: %w", n, err)
		}
		return d.geometry(f, m, kind, depth+1)
	})
}

// polygon adds the rings of one polygon. Polygons are numbered as they stand
// in the file, those that are left out too, so that a message finds its place.
func (d *decoder) polygon(f *rawFeature, list []byte) error {
	f.seen++
	number := f.seen
	if !isArray(list) {
		return fmt.Errorf("polygon %d: %s is not a list of rings", number, excerpt(list))
	}
	var rings []rawRing
	lost := false
	err := eachElement(list, func(n int, v []byte) error {
		r := rawRing{polygon: number, ring: n}
		var err error
		if r.points, err = d.positions(v); err != nil {
			return fmt.Errorf("%s: %w", r.place(), err)
		}
		r, ok := d.closeRing(f.place, r)
		switch {
		case ok && !lost:
			rings = append(rings, r)
		case n == 1:
			lost = true // a polygon does not outlive its shell
		}
		return nil
	})
	if err == nil && len(rings) > 0 {
		f.polygons = append(f.polygons, rings)
	}
	return err
}

func (d *decoder) line(f *rawFeature, list []byte) error {
	pts, err := d.positions(list)
	if err != nil {
		return fmt.Errorf("line %d: %w", len(f.lines)+1, err)
	}
	if len(pts) < 2 {
		d.notes.add(f.place, "line of fewer than two points; left out")
		return nil
	}
	f.lines = append(f.lines, pts)
	return nil
}

func (d *decoder) positions(list []byte) ([]orb.Point, error) {
	if err := d.grow(1, 0); err != nil {
		return nil, err
	}
	if !isArray(list) {
		return nil, fmt.Errorf("%s is not a list of positions", excerpt(list))
	}
	var pts []orb.Point
	err := eachElement(list, func(n int, v []byte) error {
		p, err := position(v)
		if err != nil {
			return fmt.Errorf("vertex %d: %w", n, err)
		}
		pts = append(pts, p)
		return d.grow(0, 1)
	})
	return pts, err
}

// position reads [x, y]. Height and whatever follows are let go.
func position(v []byte) (orb.Point, error) {
	var p orb.Point
	if !isArray(v) {
		return p, fmt.Errorf("%s is not a position", excerpt(v))
	}
	count := 0
	err := eachElement(v, func(n int, v []byte) error {
		count = n
		if n > 2 {
			return nil
		}
		if !isNumber(v) {
			return fmt.Errorf("coordinate %d is %s, not a number", n, excerpt(v))
		}
		x, err := strconv.ParseFloat(string(v), 64)
		if err != nil {
			return fmt.Errorf("coordinate %d, %s, is too large", n, excerpt(v))
		}
		p[n-1] = x
		return nil
	})
	if err == nil && count < 2 {
		err = fmt.Errorf("%s has %d coordinates; two are needed", excerpt(v), count)
	}
	return p, err
}
