package vector

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"unicode/utf8"

	"github.com/paulmach/orb"
)

// Decimals are those of degrees that WriteGeoJSON writes: 7 are 1 cm.
const Decimals = 7

// WriteGeoJSON writes c as an RFC 7946 FeatureCollection: longitude and
// latitude on WGS 84 with 7 decimals (1 cm), shells counter-clockwise and holes
// clockwise, one feature to a line. The same collection gives the same bytes.
//
// Vertices that fall together when rounded are written once; a ring that
// collapses is left out, and a feature of which nothing is left has a null
// geometry. Numbers that are not finite, and positions outside 180 degrees of
// longitude or 90 of latitude, are errors that name the feature, counted from
// 1.
func WriteGeoJSON(w io.Writer, c Collection) error {
	out, err := NewStream(w, c.Members)
	if err != nil {
		return err
	}
	var lines []byte
	for i := range c.Features {
		if lines, err = AppendFeature(lines[:0], &c.Features[i], Decimals); err != nil {
			return fmt.Errorf("feature %d: %w", i+1, err)
		}
		out.Write(lines)
	}
	return out.Close()
}

// Stream is a collection on the way, written as WriteGeoJSON does, but not held
// in memory.
type Stream struct {
	out  *bufio.Writer
	some bool
}

// NewStream begins a collection with its foreign members.
func NewStream(w io.Writer, members []Member) (*Stream, error) {
	out := bufio.NewWriter(w)
	out.WriteString("{\"type\":\"FeatureCollection\",\n")
	taken := map[string]bool{"type": true, "features": true, "crs": true, "bbox": true,
		"geometry": true, "coordinates": true, "geometries": true, "properties": true}
	for _, m := range members {
		if taken[m.Name] {
			return nil, fmt.Errorf("member %q: the name is taken", m.Name)
		}
		taken[m.Name] = true
		b, err := appendMember(nil, m.Name, m.Value)
		if err != nil {
			return nil, err
		}
		out.Write(b)
		out.WriteString(",\n")
	}
	out.WriteString("\"features\":[")
	return &Stream{out: out}, nil
}

// Write adds features that AppendFeature made, one after another. An error
// comes with Close.
func (g *Stream) Write(features []byte) {
	if len(features) == 0 {
		return
	}
	if !g.some {
		features = features[1:] // its comma
	}
	g.some = true
	g.out.Write(features)
}

// Close ends the collection; w stays open.
func (g *Stream) Close() error {
	g.out.WriteString("\n]}\n")
	return g.out.Flush()
}

// AppendFeature appends a feature as GeoJSON takes it, with so many decimals of
// a degree, 0 to 13.
func AppendFeature(b []byte, f *OutFeature, decimals int) ([]byte, error) {
	kind, err := f.kind()
	if err != nil {
		return nil, err
	}
	if err := f.checkNames(); err != nil {
		return nil, err
	}
	b = append(b, ",\n"+`{"type":"Feature",`...)
	if f.ID != "" {
		if b, err = appendMember(b, "id", f.ID); err != nil {
			return nil, err
		}
		b = append(b, ',')
	}
	b = append(b, `"properties":{`...)
	for i, p := range f.Properties {
		if i > 0 {
			b = append(b, ',')
		}
		if b, err = appendMember(b, p.Name, p.Value); err != nil {
			return nil, err
		}
	}
	b = append(b, `},"geometry":`...)
	if b, err = newGrid(decimals).appendGeometry(b, f, kind); err != nil {
		return nil, err
	}
	return append(b, '}'), nil
}

// appendMember writes "name":value.
func appendMember(b []byte, name string, value any) ([]byte, error) {
	b, err := appendValue(b, name)
	if err == nil {
		b, err = appendValue(append(b, ':'), value)
	}
	if err != nil {
		return nil, fmt.Errorf("%q: %w", name, err)
	}
	return b, nil
}

// appendValue writes what encoding/json would, without it where that is plain:
// most of a file are names and numbers.
func appendValue(b []byte, value any) ([]byte, error) {
	switch v := value.(type) {
	case string:
		if plain(v) {
			return append(append(append(b, '"'), v...), '"'), nil
		}
	case int:
		return strconv.AppendInt(b, int64(v), 10), nil
	case float64:
		if v == 0 {
			return append(b, '0'), nil // not -0
		}
		if a := math.Abs(v); a >= 1e-6 && a < 1e21 {
			return strconv.AppendFloat(b, v, 'f', -1, 64), nil
		}
	}
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(value); err != nil {
		return nil, err
	}
	return append(b, bytes.TrimRight(buf.Bytes(), "\n")...), nil
}

// plain reports whether a text stands in JSON as it is.
func plain(s string) bool {
	for _, r := range s {
		if r < ' ' || r == '"' || r == '\\' || r == utf8.RuneError || r == '\u2028' || r == '\u2029' {
			return false
		}
	}
	return true
}

func (g grid) appendGeometry(b []byte, f *OutFeature, kind geometryKind) ([]byte, error) {
	switch kind {
	case pointGeometry:
		p, err := g.toGrid(orb.Point(*f.Point))
		if err != nil {
			return nil, err
		}
		b = append(b, `{"type":"Point","coordinates":`...)
		return append(g.append(b, p), '}'), nil
	case pointsGeometry:
		pts := make([]gridPoint, len(f.Points))
		for i, p := range f.Points {
			var err error
			if pts[i], err = g.toGrid(orb.Point(p)); err != nil {
				return nil, fmt.Errorf("point %d: %w", i+1, err)
			}
		}
		b = append(b, `{"type":"MultiPoint","coordinates":`...)
		return append(g.appendPath(b, pts), '}'), nil
	case lineGeometry:
		pts, err := g.toGridPath(f.Line)
		if err != nil {
			return nil, err
		}
		if len(pts) < 2 {
			return append(b, "null"...), nil
		}
		b = append(b, `{"type":"LineString","coordinates":`...)
		return append(g.appendPath(b, pts), '}'), nil
	case shapeGeometry:
		return g.appendShape(b, orb.MultiPolygon(f.Shape))
	}
	return append(b, "null"...), nil
}

func (g grid) appendShape(b []byte, shape orb.MultiPolygon) ([]byte, error) {
	var polygons [][][]gridPoint
	for i, polygon := range shape {
		rings, err := g.gridPolygon(polygon)
		if err != nil {
			return nil, fmt.Errorf("polygon %d, %w", i+1, err)
		}
		if len(rings) > 0 {
			polygons = append(polygons, rings)
		}
	}
	switch len(polygons) {
	case 0:
		return append(b, "null"...), nil
	case 1:
		b = append(b, `{"type":"Polygon","coordinates":`...)
		return append(g.appendRings(b, polygons[0]), '}'), nil
	}
	b = append(b, `{"type":"MultiPolygon","coordinates":[`...)
	for i, rings := range polygons {
		if i > 0 {
			b = append(b, ',')
		}
		b = g.appendRings(b, rings)
	}
	return append(b, "]}"...), nil
}

// gridPolygon rounds the rings of a polygon and turns them as RFC 7946 section
// 3.1.6 asks. It is empty when the shell collapses.
func (g grid) gridPolygon(polygon orb.Polygon) ([][]gridPoint, error) {
	var rings [][]gridPoint
	for k, ring := range polygon {
		pts, err := g.toGridPath(orb.LineString(ring))
		if err != nil {
			return nil, fmt.Errorf("ring %d, %w", k+1, err)
		}
		if n := len(pts); n > 1 && pts[0] == pts[n-1] {
			pts = pts[:n-1]
		}
		area := gridArea(pts)
		if len(pts) < 3 || area == 0 {
			if k == 0 {
				return nil, nil
			}
			continue
		}
		if (area > 0) != (k == 0) {
			for i, j := 1, len(pts)-1; i < j; i, j = i+1, j-1 {
				pts[i], pts[j] = pts[j], pts[i]
			}
		}
		rings = append(rings, append(pts, pts[0]))
	}
	return rings, nil
}

// grid is the number of steps to a degree that positions are rounded to.
type grid int64

func newGrid(decimals int) grid {
	g := grid(1)
	for range min(max(decimals, 0), 13) {
		g *= 10
	}
	return g
}

// gridPoint is a position in steps of the grid.
type gridPoint [2]int64

func (g grid) toGrid(p orb.Point) (gridPoint, error) {
	if !inDegrees(p) { // NaN is not either
		return gridPoint{}, fmt.Errorf("longitude %g, latitude %g is no place on earth", p[0], p[1])
	}
	return gridPoint{int64(math.Round(p[0] * float64(g))), int64(math.Round(p[1] * float64(g)))}, nil
}

// toGridPath rounds a line and drops a vertex that falls on the one before.
func (g grid) toGridPath(line []orb.Point) ([]gridPoint, error) {
	pts := make([]gridPoint, 0, len(line)+1)
	for i, p := range line {
		q, err := g.toGrid(p)
		if err != nil {
			return nil, fmt.Errorf("vertex %d: %w", i+1, err)
		}
		if len(pts) == 0 || q != pts[len(pts)-1] {
			pts = append(pts, q)
		}
	}
	return pts, nil
}

// gridArea is twice the signed area of an open ring, positive where it turns
// counter-clockwise. With 7 decimals it is exact for rings
// below 0.7 degree across.
func gridArea(pts []gridPoint) float64 {
	sum := 0.0
	for i := range pts {
		a, b := pts[i], pts[(i+1)%len(pts)]
		ax, ay := float64(a[0]-pts[0][0]), float64(a[1]-pts[0][1])
		bx, by := float64(b[0]-pts[0][0]), float64(b[1]-pts[0][1])
		sum += ax*by - bx*ay
	}
	return sum
}

func (g grid) appendRings(b []byte, rings [][]gridPoint) []byte {
	b = append(b, '[')
	for i, ring := range rings {
		if i > 0 {
			b = append(b, ',')
		}
		b = g.appendPath(b, ring)
	}
	return append(b, ']')
}

func (g grid) appendPath(b []byte, pts []gridPoint) []byte {
	b = append(b, '[')
	for i, p := range pts {
		if i > 0 {
			b = append(b, ',')
		}
		b = g.append(b, p)
	}
	return append(b, ']')
}

func (g grid) append(b []byte, p gridPoint) []byte {
	b = append(b, '[')
	b = g.appendSteps(b, p[0])
	b = append(b, ',')
	b = g.appendSteps(b, p[1])
	return append(b, ']')
}

// appendSteps writes steps as a decimal without trailing zeros.
func (g grid) appendSteps(b []byte, v int64) []byte {
	if v < 0 {
		b = append(b, '-')
		v = -v
	}
	b = strconv.AppendInt(b, v/int64(g), 10)
	if v %= int64(g); v == 0 {
		return b
	}
	var room [24]byte
	digits := strconv.AppendInt(room[:0], int64(g)+v, 10)[1:]
	return append(append(b, '.'), bytes.TrimRight(digits, "0")...)
}
