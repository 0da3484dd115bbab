package plane

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// Sliver is the area in square metres under which a part that a repair leaves
// behind is dropped.
const Sliver = 1.0

const (
	maxVertices = 2_000_000
	// farthest is the greatest coordinate taken: beyond any projection in
	// metres, and beyond 180 degrees in steps of 1e-7.
	farthest = 4e9
	// maxLooks bounds how often a check may compare two edges: some seconds.
	maxLooks = 200_000_000
)

// Repaired says what New had to do.
type Repaired struct {
	Crossing  bool // rings crossed, touched along edges, were nested wrongly or overlapped
	At        XY   // a place where they do
	Crossings []XY // all places where edges crossed between their ends, from west to east
	Before    float64
	// Before and After are areas in square metres: of the rings as they were
	// drawn (shells less holes), and of the shape that came out.
	After   float64
	Slivers int // parts and holes under Sliver that were dropped
}

// New makes a shape of polygons as a file has them, and says what it mended.
// Valid polygons pass unchanged but for their canonical writing. Others are
// mended by one rule: all rings are noded where they meet, and the ground that
// lies inside an odd number of them is kept (the even-odd rule); parts and
// holes under 1 m² are dropped. Mending moves places by at most a few
// millionths of a metre (a few 2^-28 of the extent above 256 m). An error means
// that a coordinate is no number, that no ground is left, or that the rings are
// beyond mending.
func New(polygons orb.MultiPolygon) (Shape, Repaired, error) {
	s, err := closed(polygons)
	if err != nil {
		return nil, Repaired{}, err
	}
	report := Repaired{Before: s.Area()}
	ok, err := valid(s)
	if err != nil {
		return nil, report, err
	}
	if ok {
		report.After = report.Before
		return s.Canonical(), report, nil
	}
	report.Crossing, report.At = true, XY(s[0][0][0])
	out, err := evenOdd(s, finest(s), Sliver, &report)
	if err != nil {
		return nil, report, err
	}
	report.After = out.Area()
	if out.Empty() {
		return nil, report, fmt.Errorf("its rings cross so that no ground of 1 m² is left; redraw it")
	}
	return out, report, nil
}

// OnLattice returns s with every vertex on a whole multiple of step, as valid
// as a Shape is: where the rounding makes rings touch or cross, they are noded
// on the lattice and the even-odd rule decides. What is thinner than a step may
// vanish; the result can be the empty shape. An error means that s is more than
// 2^28 steps wide, or beyond mending.
func OnLattice(s Shape, step float64) (Shape, error) {
	rounded := make(orb.MultiPolygon, len(s))
	for i, polygon := range s {
		rounded[i] = make(orb.Polygon, len(polygon))
		for j, ring := range polygon {
			rounded[i][j] = make(orb.Ring, len(ring))
			for k, p := range ring {
				rounded[i][j][k] = orb.Point{math.Round(p[0]/step) * step, math.Round(p[1]/step) * step}
			}
		}
	}
	tidied, err := closed(rounded)
	if err == errNoCorners {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	ok, err := valid(tidied)
	if err != nil {
		return nil, err
	}
	if ok {
		return tidied.Canonical(), nil
	}
	return evenOdd(tidied, step, 0, &Repaired{})
}

var errNoCorners = fmt.Errorf("no ring has three different corners")

// closed tidies all rings, leaves out those without three corners, and refuses
// what is no place.
func closed(polygons orb.MultiPolygon) (Shape, error) {
	var s Shape
	for i, polygon := range polygons {
		var q orb.Polygon
		for j, ring := range polygon {
			for k, p := range ring {
				if !(math.Abs(p[0]) <= farthest && math.Abs(p[1]) <= farthest) {
					return nil, fmt.Errorf("polygon %d, ring %d, vertex %d is at %g, %g, which is no place; correct it", i+1, j+1, k+1, p[0], p[1])
				}
			}
			r := tidy(ring)
			if len(r) < 4 {
				if j == 0 {
					break // without a shell the rest is nothing
				}
				continue
			}
			q = append(q, r)
		}
		if q != nil {
			s = append(s, q)
		}
	}
	if s.Empty() {
		return nil, errNoCorners
	}
	if n := s.Vertices(); n > maxVertices {
		return nil, fmt.Errorf("%d vertices are more than one field can have (2,000,000); simplify it", n)
	}
	return s, nil
}

// tidy closes a ring and drops vertices that repeat the one before.
func tidy(ring orb.Ring) orb.Ring {
	out := make(orb.Ring, 0, len(ring)+1)
	for _, p := range ring {
		if len(out) == 0 || out[len(out)-1] != p {
			out = append(out, p)
		}
	}
	for len(out) > 1 && out[0] == out[len(out)-1] {
		out = out[:len(out)-1]
	}
	if len(out) == 0 {
		return out
	}
	return append(out, out[0])
}
