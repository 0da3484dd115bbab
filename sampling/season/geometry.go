package season

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/crs"
)

// geometry is a shape, a line or a point in WGS 84 degrees; at most one of them.
type geometry struct {
	shape crs.LonLatShape
	line  crs.LonLatLine
	point *geo.LonLat
}

func (g geometry) empty() bool { return len(g.shape) == 0 && len(g.line) == 0 && g.point == nil }

// bound is false for a geometry without a vertex.
func (g geometry) bound() (orb.Bound, bool) {
	switch {
	case g.point != nil:
		return orb.Point(*g.point).Bound(), true
	case len(g.line) > 0:
		return orb.LineString(g.line).Bound(), true
	case len(g.shape) > 0:
		return orb.MultiPolygon(g.shape).Bound(), true
	}
	return orb.Bound{}, false
}

// Types of well-known binary.
const (
	wkbPoint        = 1
	wkbLine         = 2
	wkbPolygon      = 3
	wkbMultiPolygon = 6
)

// appendBlob writes a geometry as GeoPackage holds it (clause 2.1.3): a header
// with the system and, but for a point, the bounds, then well-known binary, all
// little-endian. The geometry must not be empty: none is NULL.
func (g geometry) appendBlob(b []byte) []byte {
	le := binary.LittleEndian
	flags := byte(1) // little-endian
	if g.point == nil {
		flags |= 1 << 1 // bounds of x and y
	}
	b = append(b, 'G', 'P', 0, flags)
	b = le.AppendUint32(b, srsID)
	if bound, ok := g.bound(); ok && g.point == nil {
		for _, v := range []float64{bound.Min[0], bound.Max[0], bound.Min[1], bound.Max[1]} {
			b = le.AppendUint64(b, math.Float64bits(v))
		}
	}
	return g.appendWKB(b)
}

func (g geometry) appendWKB(b []byte) []byte {
	le := binary.LittleEndian
	head := func(kind uint32) { b = le.AppendUint32(append(b, 1), kind) }
	path := func(pts []orb.Point) {
		b = le.AppendUint32(b, uint32(len(pts)))
		for _, p := range pts {
			b = appendPosition(b, p)
		}
	}
	switch {
	case g.point != nil:
		head(wkbPoint)
		b = appendPosition(b, orb.Point(*g.point))
	case len(g.line) > 0:
		head(wkbLine)
		path(g.line)
	default:
		head(wkbMultiPolygon)
		b = le.AppendUint32(b, uint32(len(g.shape)))
		for _, polygon := range g.shape {
			head(wkbPolygon)
			b = le.AppendUint32(b, uint32(len(polygon)))
			for _, ring := range polygon {
				path(ring)
			}
		}
	}
	return b
}

func appendPosition(b []byte, p orb.Point) []byte {
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(p[0]))
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(p[1]))
}

var errShort = errors.New("the geometry is cut short")

// parseGeometry reads the blob of a geometry column: points, lines, polygons and
// multipolygons in WGS 84 degrees, in either order of bytes, without heights. An
// empty geometry has no part set. Whatever else is an error.
func parseGeometry(b []byte) (geometry, error) {
	if len(b) < 8 || b[0] != 'G' || b[1] != 'P' {
		return geometry{}, errors.New("the geometry does not begin as one of a GeoPackage")
	}
	flags := b[3]
	if b[2] != 0 || flags&0xE0 != 0 {
		return geometry{}, fmt.Errorf("the geometry is of a kind that is not known (version %d, flags %#x)", b[2], flags)
	}
	if id := int32(order(flags & 1).Uint32(b[4:])); id != srsID {
		return geometry{}, fmt.Errorf("the geometry is in the system %d, not in WGS 84 (4326)", id)
	}
	bounds := int(flags >> 1 & 7)
	if bounds > 4 {
		return geometry{}, errors.New("the bounds of the geometry are of a kind that is not known")
	}
	skip := 8 + []int{0, 32, 48, 48, 64}[bounds]
	if len(b) < skip {
		return geometry{}, errShort
	}
	if flags&0x10 != 0 {
		return geometry{}, nil
	}
	r := wkbReader{b: b[skip:]}
	g, err := r.geometry()
	if err == nil && len(r.b) > 0 {
		err = fmt.Errorf("%d bytes follow the geometry", len(r.b))
	}
	if err != nil {
		return geometry{}, err
	}
	return g, nil
}

func order(little byte) binary.ByteOrder {
	if little == 1 {
		return binary.LittleEndian
	}
	return binary.BigEndian
}

// wkbReader takes well-known binary off the front of b.
type wkbReader struct {
	b     []byte
	order binary.ByteOrder
}

func (r *wkbReader) head() (uint32, error) {
	if len(r.b) < 5 {
		return 0, errShort
	}
	if r.b[0] > 1 {
		return 0, fmt.Errorf("the geometry has the order of bytes %d", r.b[0])
	}
	r.order = order(r.b[0])
	kind := r.order.Uint32(r.b[1:])
	r.b = r.b[5:]
	return kind, nil
}

// count reads how many things follow, each of at least size bytes.
func (r *wkbReader) count(size int) (int, error) {
	if len(r.b) < 4 {
		return 0, errShort
	}
	n := r.order.Uint32(r.b)
	r.b = r.b[4:]
	if int64(n)*int64(size) > int64(len(r.b)) {
		return 0, errShort
	}
	return int(n), nil
}

func (r *wkbReader) position() (orb.Point, error) {
	if len(r.b) < 16 {
		return orb.Point{}, errShort
	}
	p := orb.Point{math.Float64frombits(r.order.Uint64(r.b)), math.Float64frombits(r.order.Uint64(r.b[8:]))}
	r.b = r.b[16:]
	if !(math.Abs(p[0]) <= 180 && math.Abs(p[1]) <= 90) {
		return p, fmt.Errorf("the geometry has a vertex at %g, %g, which is no place in degrees", p[0], p[1])
	}
	return p, nil
}

func (r *wkbReader) path() ([]orb.Point, error) {
	n, err := r.count(16)
	if err != nil {
		return nil, err
	}
	out := make([]orb.Point, n)
	for i := range out {
		if out[i], err = r.position(); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (r *wkbReader) polygon() (orb.Polygon, error) {
	n, err := r.count(4)
	if err != nil {
		return nil, err
	}
	out := make(orb.Polygon, n)
	for i := range out {
		ring, err := r.path()
		if err != nil {
			return nil, err
		}
		if len(ring) < 4 || ring[0] != ring[len(ring)-1] {
			return nil, errors.New("the geometry has a ring that is not closed or of fewer than three corners")
		}
		out[i] = ring
	}
	return out, nil
}

func (r *wkbReader) geometry() (g geometry, err error) {
	kind, err := r.head()
	if err != nil {
		return g, err
	}
	switch kind {
	case wkbPoint:
		p, err := r.position()
		if err != nil {
			return g, err
		}
		at := geo.LonLat(p)
		g.point = &at
	case wkbLine:
		line, err := r.path()
		if err != nil {
			return g, err
		}
		if len(line) < 2 {
			return g, errors.New("the geometry is a line of fewer than two points")
		}
		g.line = line
	case wkbPolygon:
		polygon, err := r.polygon()
		if err != nil {
			return g, err
		}
		if len(polygon) > 0 {
			g.shape = crs.LonLatShape{polygon}
		}
	case wkbMultiPolygon:
		n, err := r.count(9)
		if err != nil {
			return g, err
		}
		for range n {
			if kind, err = r.head(); err != nil {
				return g, err
			}
			if kind != wkbPolygon {
				return g, fmt.Errorf("the multipolygon has a part of type %d", kind)
			}
			polygon, err := r.polygon()
			if err != nil {
				return g, err
			}
			if len(polygon) > 0 {
				g.shape = append(g.shape, polygon)
			}
		}
	default:
		return g, fmt.Errorf("the geometry is of type %d; points, lines and polygons without heights are read", kind)
	}
	return g, nil
}
