package plane

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"
)

// crumb is the area in square metres under which a polygon or hole left by an
// overlay is rounding dust and not ground: a strip 100 m long and 1 micrometre
// wide.
const crumb = 1e-4

// maxBufferVertices bounds Buffer, whose time and memory grow with the square
// of the vertices of a jagged outline.
const maxBufferVertices = 50_000

// Union returns the ground in any of the shapes. No shapes, or empty ones, give
// the empty shape.
func Union(shapes ...Shape) (Shape, error) {
	gs := make([]geom.Geometry, 0, len(shapes))
	for _, s := range shapes {
		if !s.Empty() {
			gs = append(gs, toGeom(s))
		}
	}
	if len(gs) == 0 {
		return nil, nil
	}
	g, err := geom.UnionMany(gs)
	return result("union", g, err)
}

// Intersect returns the ground in both a and b. Shapes that only touch share no
// ground.
func Intersect(a, b Shape) (Shape, error) {
	if a.Empty() || b.Empty() || !a.Bound().Intersects(b.Bound()) {
		return nil, nil
	}
	if out, ok := intersectClean(newOutline(a), newOutline(b)); ok {
		return out, nil
	}
	return intersect(a, b)
}

// intersect is the general overlay.
func intersect(a, b Shape) (Shape, error) {
	g, err := geom.Intersection(toGeom(a), toGeom(b))
	return result("intersection", g, err)
}

// Subtract returns the ground in a and not in b.
func Subtract(a, b Shape) (Shape, error) {
	if a.Empty() || b.Empty() || !a.Bound().Intersects(b.Bound()) {
		return a, nil
	}
	g, err := geom.Difference(toGeom(a), toGeom(b))
	return result("difference", g, err)
}

// Buffer returns the ground within d metres of s; with d below zero, the ground
// of s that lies further than -d from everything outside. Round corners are
// drawn with about 16 chords to the quarter circle, which cut them short by at
// most 0.28 % of d; where that matters, Edges.Within is exact. It fails on an outline
// of more than 50,000 vertices after thinning it to a tenth of d.
func Buffer(s Shape, d float64) (Shape, error) {
	if s.Empty() || d == 0 {
		return s, nil
	}
	return buffer(toGeom(s), s.Vertices(), d, func() geom.Geometry { return toGeom(s.thin(0.1 * math.Abs(d))) })
}

// BufferLine returns the ground within d metres (above zero) of a line.
func BufferLine(l Line, d float64) (Shape, error) {
	if len(l) == 0 || d <= 0 {
		return nil, nil
	}
	if len(l) == 1 || l.still() {
		return BufferPoint(XY(l[0]), d)
	}
	flat := make([]float64, 0, 2*len(l))
	for _, p := range l {
		flat = append(flat, p[0], p[1])
	}
	g := geom.NewLineString(geom.NewSequence(flat, geom.DimXY)).AsGeometry()
	return buffer(g, len(l), d, func() geom.Geometry { return g })
}

// BufferPoint returns the disc of radius d metres (above zero) round p.
func BufferPoint(p XY, d float64) (Shape, error) {
	g := geom.XY{X: p[0], Y: p[1]}.AsPoint().AsGeometry()
	return buffer(g, 1, d, func() geom.Geometry { return g })
}

// still reports whether a line stays at one place.
func (l Line) still() bool {
	for _, p := range l {
		if p != l[0] {
			return false
		}
	}
	return true
}

func buffer(g geom.Geometry, vertices int, d float64, thinned func() geom.Geometry) (Shape, error) {
	if e := g.Envelope(); !(math.Abs(d) <= farthest) || !e.IsEmpty() && !(e.Width() <= farthest && e.Height() <= farthest) {
		return nil, fmt.Errorf("a setback of %g m cannot be drawn round an outline of %g by %g m", d, e.Width(), e.Height())
	}
	// By itself JTS first simplifies by a hundredth of d, and the outline comes
	// nearer than asked for.
	options := []geom.BufferOption{geom.BufferQuadSegments(16), geom.BufferSimplifyFactor(0)}
	if vertices > 2000 {
		g = thinned()
		options = append(options, geom.BufferSimplifyFactor(0.1))
		if n := g.DumpCoordinates().Length(); n > maxBufferVertices {
			return nil, fmt.Errorf("an outline of %d vertices is too rough for a setback of %g m; simplify it first", n, math.Abs(d))
		}
	}
	out, err := geom.Buffer(g, d, options...)
	return result("setback", out, err)
}

// thin drops vertices that lie nearer than d to the last one kept. A ring that
// would fall under three places is kept whole.
func (s Shape) thin(d float64) Shape {
	out := make(Shape, len(s))
	for i, polygon := range s {
		for _, ring := range polygon {
			if len(ring) < 4 {
				continue
			}
			kept := orb.Ring{ring[0]}
			for _, p := range ring[1 : len(ring)-1] {
				if XY(p).Distance(XY(kept[len(kept)-1])) >= d {
					kept = append(kept, p)
				}
			}
			if len(kept) < 3 {
				out[i] = append(out[i], ring)
				continue
			}
			out[i] = append(out[i], append(kept, kept[0]))
		}
	}
	return out
}

// toGeom hands a shape to simplefeatures without validating it again.
func toGeom(s Shape) geom.Geometry {
	polygons := make([]geom.Polygon, 0, len(s))
	for _, polygon := range s {
		rings := make([]geom.LineString, 0, len(polygon))
		for _, ring := range polygon {
			flat := make([]float64, 0, 2*len(ring))
			for _, p := range ring {
				flat = append(flat, p[0], p[1])
			}
			rings = append(rings, geom.NewLineString(geom.NewSequence(flat, geom.DimXY)))
		}
		polygons = append(polygons, geom.NewPolygon(rings))
	}
	if len(polygons) == 1 {
		return polygons[0].AsGeometry()
	}
	return geom.NewMultiPolygon(polygons).AsGeometry()
}

// result keeps the polygons of an overlay (shapes that touch leave lines and
// points as well) and writes them in the canonical way.
func result(what string, g geom.Geometry, err error) (Shape, error) {
	if err != nil {
		return nil, fmt.Errorf("%s: the outlines cannot be overlaid (%w); check the file for rings that cross or overlap", what, err)
	}
	var out Shape
	collect(g, &out)
	return out.Canonical(), nil
}

func collect(g geom.Geometry, out *Shape) {
	switch g.Type() {
	case geom.TypePolygon:
		if p := fromPolygon(g.MustAsPolygon()); p != nil {
			*out = append(*out, p)
		}
	case geom.TypeMultiPolygon:
		m := g.MustAsMultiPolygon()
		for i := range m.NumPolygons() {
			if p := fromPolygon(m.PolygonN(i)); p != nil {
				*out = append(*out, p)
			}
		}
	case geom.TypeGeometryCollection:
		c := g.MustAsGeometryCollection()
		for i := range c.NumGeometries() {
			collect(c.GeometryN(i), out)
		}
	}
}

func fromPolygon(p geom.Polygon) orb.Polygon {
	if p.IsEmpty() {
		return nil
	}
	shell := fromRing(p.ExteriorRing())
	if math.Abs(SignedArea(shell)) < crumb {
		return nil
	}
	out := orb.Polygon{shell}
	for i := range p.NumInteriorRings() {
		if hole := fromRing(p.InteriorRingN(i)); math.Abs(SignedArea(hole)) >= crumb {
			out = append(out, hole)
		}
	}
	return out
}

func fromRing(l geom.LineString) orb.Ring {
	seq := l.Coordinates()
	out := make(orb.Ring, seq.Length())
	for i := range out {
		xy := seq.GetXY(i)
		out[i] = orb.Point{xy.X, xy.Y}
	}
	return out
}
