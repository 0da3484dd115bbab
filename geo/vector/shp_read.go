package vector

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/jonas-p/go-shp"
	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

// maxNote is the most bytes that a .prj file may have.
const maxNote = 64 << 10

// shapefile reads a .shp file and the files beside it.
func (d *decoder) shapefile(src source, opt Options) error {
	kind, records, err := shpRecords(src.data, d.notes)
	if err != nil {
		return err
	}
	if err := d.grow(len(records), 0); err != nil {
		return err
	}
	name, index, err := src.sidecar(".shx")
	if err != nil {
		return err
	}
	if name != "" {
		if err := checkIndex(index, records); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	plain, err := plainStream(src.data, kind, records)
	if err != nil {
		return err
	}
	all, err := shapes(plain, len(records))
	if err != nil {
		return err
	}
	t, err := d.shapefileTable(src, opt, len(records))
	if err != nil {
		return err
	}
	for i, s := range all {
		var values []any
		if t != nil {
			if t.deleted[i] {
				d.notes.add(fmt.Sprintf("record %d", i+1), "marked as deleted in the table; left out")
				continue
			}
			values = t.rows[i]
		}
		raw := rawFeature{index: i + 1, place: fmt.Sprintf("record %d", i+1), values: values}
		if err := d.shape(&raw, s); err != nil {
			return fmt.Errorf("%s: %w", raw.place, err)
		}
		d.raw = append(d.raw, raw)
	}
	if err := d.shapefileSystem(src); err != nil {
		return err
	}
	return d.finish(false)
}

// shapefileTable reads the .dbf file, or returns nil when there is none.
func (d *decoder) shapefileTable(src source, opt Options, count int) (*table, error) {
	name, data, err := src.sidecar(".dbf")
	if err != nil {
		return nil, err
	}
	if name == "" {
		d.notes.add("", "no .dbf file beside it; the features have no attributes")
		return nil, nil
	}
	_, page, err := src.sidecar(".cpg")
	if err != nil {
		return nil, err
	}
	t, err := readTable(data, count, opt.Encoding, string(page), func(place, what string) {
		d.notes.add(strings.TrimSuffix(name+", "+place, ", "), what)
	})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	d.layer.Columns = t.columns
	return t, nil
}

// shapefileSystem settles the coordinate system: as given, or by the .prj file.
func (d *decoder) shapefileSystem(src source) error {
	if d.layer.CRS != nil {
		return nil
	}
	name, text, err := src.sidecar(".prj")
	if err != nil {
		return err
	}
	if name == "" || len(strings.TrimSpace(string(text))) == 0 {
		msg := "no .prj file beside it; give --crs, as in --crs EPSG:26915"
		if ok, _ := d.fits(); ok && len(d.raw) > 0 {
			msg += "; the numbers would fit longitude and latitude, --crs EPSG:4326"
		}
		return errors.New(msg)
	}
	if len(text) > maxNote {
		return fmt.Errorf("%s: %d bytes are too long for a .prj file", name, len(text))
	}
	sys, err := crs.FromWKT(strings.TrimPrefix(string(text), "\ufeff"))
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	d.layer.CRS, d.layer.CRSFrom = sys, name
	return nil
}

// shape adds one record's geometry to raw.
func (d *decoder) shape(raw *rawFeature, s shp.Shape) error {
	switch s := s.(type) {
	case *shp.Null:
	case *shp.Point:
		raw.points = []orb.Point{{s.X, s.Y}}
	case *shp.MultiPoint:
		raw.points = toPoints(s.Points)
	case *shp.PolyLine:
		for _, part := range toParts(s.Parts, s.Points) {
			if len(part) < 2 {
				d.notes.add(raw.place, "line of fewer than two points; left out")
				continue
			}
			raw.lines = append(raw.lines, part)
		}
	case *shp.Polygon:
		var rings []rawRing
		for i, part := range toParts(s.Parts, s.Points) {
			for _, p := range part {
				// Containment needs numbers that compare; not so NaN.
				if !(math.Abs(p[0]) <= maxCoordinate && math.Abs(p[1]) <= maxCoordinate) {
					return fmt.Errorf("ring %d: coordinate (%g, %g) is no place on earth", i+1, p[0], p[1])
				}
			}
			if r, ok := d.closeRing(raw.place, rawRing{ring: i + 1, points: part}); ok {
				rings = append(rings, r)
			}
		}
		polygons, notes, err := groupRings(rings, ringWork)
		if err != nil {
			return err
		}
		for _, n := range notes {
			d.notes.add(raw.place, n)
		}
		raw.polygons = polygons
	default:
		return fmt.Errorf("records of type %T are not read", s)
	}
	return nil
}

func toPoints(pts []shp.Point) []orb.Point {
	out := make([]orb.Point, len(pts))
	for i, p := range pts {
		out[i] = orb.Point{p.X, p.Y}
	}
	return out
}

func toParts(starts []int32, pts []shp.Point) []orb.LineString {
	all := toPoints(pts)
	out := make([]orb.LineString, len(starts))
	for i, start := range starts {
		end := len(all)
		if i+1 < len(starts) {
			end = int(starts[i+1])
		}
		out[i] = all[start:end:end]
	}
	return out
}

// isShapefile reports whether data starts as a .shp or .shx file does.
func isShapefile(data []byte) bool {
	return len(data) >= 4 && binary.BigEndian.Uint32(data) == shpMagic
}
