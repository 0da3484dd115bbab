package vector

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

// decoder builds a layer in two steps: the file's own coordinates first, then,
// when its system is known, longitude and latitude.
type decoder struct {
	layer Layer
	notes *notices
	raw   []rawFeature
	room  int // what is left of maxSize
}

// rawFeature is a feature in the coordinates of its file.
type rawFeature struct {
	place    string // "feature 3" or "record 3"
	polygons [][]rawRing
	lines    []orb.LineString
	points   []orb.Point
	values   []any
	index    int
	seen     int // polygons met so far, for numbering
	id       string
}

// rawRing is a ring with its place in the file. polygon is 0 where a file does
// not number polygons.
type rawRing struct {
	polygon, ring int
	points        []orb.Point
}

func (r rawRing) place() string {
	if r.polygon == 0 {
		return fmt.Sprintf("ring %d", r.ring)
	}
	return fmt.Sprintf("polygon %d, ring %d", r.polygon, r.ring)
}

func newDecoder(name string) *decoder {
	return &decoder{notes: newNotices(name), room: maxSize}
}

// grow counts towards maxSize.
func (d *decoder) grow(parts, vertices int) error {
	if d.room -= 16*parts + vertices; d.room < 0 {
		return errors.New("too many features or vertices to read; split the file")
	}
	return nil
}

// closeRing returns r closed, and false when it has fewer than three distinct
// points and so no inside.
func (d *decoder) closeRing(feature string, r rawRing) (rawRing, bool) {
	pts := r.points
	distinct := 0
	var first, second orb.Point
	for _, p := range pts {
		switch {
		case distinct == 0:
			first, distinct = p, 1
		case distinct == 1 && p != first:
			second, distinct = p, 2
		case distinct == 2 && p != first && p != second:
			distinct = 3
		}
		if distinct == 3 {
			break
		}
	}
	if distinct < 3 {
		d.notes.add(feature+", "+r.place(), "fewer than three different points; left out")
		return r, false
	}
	if pts[0] != pts[len(pts)-1] {
		d.notes.add(feature+", "+r.place(), "not closed; closed it")
		r.points = append(pts[:len(pts):len(pts)], pts[0])
	}
	return r, true
}

// maxCoordinate is beyond every place on earth in any unit of length in use:
// the earth is 4e7 m around, or 1.6e9 inches.
const maxCoordinate = 1e10

// vertices visits every vertex of the raw features until fn fails.
func (d *decoder) vertices(fn func(p orb.Point) error) error {
	for i := range d.raw {
		f := &d.raw[i]
		for _, polygon := range f.polygons {
			for _, r := range polygon {
				for n, p := range r.points {
					if err := fn(p); err != nil {
						return fmt.Errorf("%s, %s, vertex %d: %w", f.place, r.place(), n+1, err)
					}
				}
			}
		}
		for k, line := range f.lines {
			for n, p := range line {
				if err := fn(p); err != nil {
					return fmt.Errorf("%s, line %d, vertex %d: %w", f.place, k+1, n+1, err)
				}
			}
		}
		for n, p := range f.points {
			if err := fn(p); err != nil {
				return fmt.Errorf("%s, point %d: %w", f.place, n+1, err)
			}
		}
	}
	return nil
}

// fits reports whether every vertex could be a longitude and latitude, and
// whether every one could be when its two numbers change places.
func (d *decoder) fits() (asIs, swapped bool) {
	asIs, swapped = true, true
	_ = d.vertices(func(p orb.Point) error {
		asIs = asIs && inDegrees(p)
		swapped = swapped && math.Abs(p[1]) > 90 && inDegrees(orb.Point{p[1], p[0]})
		return nil
	})
	return asIs, swapped
}

func inDegrees(p orb.Point) bool { return math.Abs(p[0]) <= 180 && math.Abs(p[1]) <= 90 }

// finish turns the raw features into the layer's, in longitude and latitude.
// unstated says that degrees are the file format's rule, not the file's word.
func (d *decoder) finish(unstated bool) error {
	sys := d.layer.CRS
	degrees := unstated
	if sys.Geographic() {
		name, _ := sys.Unit()
		degrees = degrees || strings.EqualFold(name, "degree")
	}
	err := d.vertices(func(p orb.Point) error {
		switch {
		case math.IsNaN(p[0]) || math.IsNaN(p[1]):
			return errors.New("a coordinate is not a number")
		case math.Abs(p[0]) > maxCoordinate || math.Abs(p[1]) > maxCoordinate:
			return fmt.Errorf("coordinate (%g, %g) is too large for a place on earth", p[0], p[1])
		case degrees && !inDegrees(p):
			return d.notDegrees(p, unstated)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if err := d.contradicted(); err != nil {
		return err
	}
	d.layer.Features = make([]Feature, 0, len(d.raw))
	for i := range d.raw {
		f, err := d.convert(&d.raw[i])
		if err != nil {
			return err
		}
		d.layer.Features = append(d.layer.Features, f)
	}
	d.raw = nil
	return nil
}

// contradicted refuses outlines and lines in degrees under a projected system:
// all of them would lie within 200 m of its origin. Points do not tell, since
// surveys in local metres exist; nor is the user's own word gone against.
func (d *decoder) contradicted() error {
	if d.layer.CRS.Geographic() || d.layer.CRSFrom == "given" {
		return nil
	}
	for i := range d.raw {
		if len(d.raw[i].polygons)+len(d.raw[i].lines) == 0 {
			continue
		}
		if asIs, _ := d.fits(); asIs {
			return fmt.Errorf("its numbers are those of longitude and latitude, but %s says %s; if they are degrees give --crs EPSG:4326", d.layer.CRSFrom, d.layer.CRS.Name())
		}
		return nil
	}
	return nil
}

// notDegrees is the error for a coordinate that is no longitude and latitude.
func (d *decoder) notDegrees(p orb.Point, unstated bool) error {
	if _, swapped := d.fits(); swapped {
		return fmt.Errorf("latitude %g is beyond 90 degrees, as every latitude in the file; longitude and latitude look swapped", p[1])
	}
	if unstated {
		return fmt.Errorf("coordinate (%g, %g) is not in degrees; it looks projected; give --crs", p[0], p[1])
	}
	return fmt.Errorf("coordinate (%g, %g) is beyond 180 degrees of longitude or 90 of latitude, but the layer is in degrees (%s: %s); give --crs",
		p[0], p[1], d.layer.CRSFrom, d.layer.CRS.Name())
}

// convert turns one feature into longitude and latitude.
func (d *decoder) convert(raw *rawFeature) (Feature, error) {
	f := Feature{Index: raw.index, ID: raw.id, Values: raw.values}
	if len(raw.polygons)+len(raw.lines)+len(raw.points) == 0 {
		d.notes.add(raw.place, "no geometry")
	}
	for _, polygon := range raw.polygons {
		rings := make(orb.Polygon, 0, len(polygon))
		for _, r := range polygon {
			ring, err := d.path(raw.place+", "+r.place(), r.points)
			if err != nil {
				return f, err
			}
			rings = append(rings, orb.Ring(ring))
		}
		f.Shape = append(f.Shape, rings)
	}
	for k, line := range raw.lines {
		path, err := d.path(fmt.Sprintf("%s, line %d", raw.place, k+1), line)
		if err != nil {
			return f, err
		}
		f.Lines = append(f.Lines, crs.LonLatLine(path))
	}
	for k, p := range raw.points {
		q, err := d.lonLat(p)
		if err != nil {
			return f, fmt.Errorf("%s, point %d: %w", raw.place, k+1, err)
		}
		f.Points = append(f.Points, q)
	}
	f.Native = raw.points
	return f, nil
}

// path converts the vertices of a line or ring.
func (d *decoder) path(place string, pts []orb.Point) (orb.LineString, error) {
	out := make(orb.LineString, len(pts))
	for i, p := range pts {
		q, err := d.lonLat(p)
		if err != nil {
			return nil, fmt.Errorf("%s, vertex %d: %w", place, i+1, err)
		}
		out[i] = orb.Point(q)
		if i > 0 && math.Abs(out[i][0]-out[i-1][0]) > 180 {
			return nil, fmt.Errorf("%s: the line from vertex %d to %d spans more than 180 degrees of longitude; split it at the 180 degree meridian", place, i, i+1)
		}
	}
	return out, nil
}

func (d *decoder) lonLat(p orb.Point) (crs.LonLat, error) {
	q, err := d.layer.CRS.Inverse(p[0], p[1])
	if err != nil {
		return q, err
	}
	// Written so that NaN fails too.
	if !(math.Abs(q[0]) <= 180 && math.Abs(q[1]) <= 90) {
		return q, fmt.Errorf("(%g, %g) is no place on earth in %s", p[0], p[1], d.layer.CRS.Name())
	}
	return q, nil
}
