package plane

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"
	"github.com/tidwall/rtree"
)

// Sliver is the area in square metres under which a part that a repair leaves
// behind is dropped.
const Sliver = 1.0

// Repaired says what New had to do.
type Repaired struct {
	Crossing bool // rings crossed, touched along edges or overlapped
	At       XY   // a place where they do
	Before   float64
	// Before and After are areas in square metres: of the rings as they were
	// drawn (shells less holes), and of the shape that came out.
	After   float64
	Slivers int // parts under Sliver that were dropped
}

// New makes a shape of polygons as a file has them, and says what it mended.
// Valid polygons pass unchanged but for their canonical writing. Others are
// mended by one rule: all rings are noded where they meet, and the ground that
// lies inside an odd number of them is kept (the even-odd rule); parts under
// 1 m² are dropped. An error means that no ground is left, or that the rings
// are beyond mending.
func New(polygons orb.MultiPolygon) (Shape, Repaired, error) {
	var s Shape
	for _, polygon := range polygons {
		var q orb.Polygon
		for i, ring := range polygon {
			r := tidy(ring)
			if len(r) < 4 {
				if i == 0 {
					q = nil
					break
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
		return nil, Repaired{}, fmt.Errorf("no ring has three different corners")
	}
	if s.Vertices() > 2_000_000 {
		return nil, Repaired{}, fmt.Errorf("%d vertices are more than one field can have (2,000,000)", s.Vertices())
	}
	report := Repaired{Before: s.Area()}
	if toGeom(s).Validate() == nil {
		report.After = report.Before
		return s.Canonical(), report, nil
	}
	report.Crossing = true
	out, at, slivers, err := evenOdd(s)
	if err != nil {
		return nil, report, err
	}
	report.At, report.Slivers, report.After = at, slivers, out.Area()
	if out.Empty() {
		return nil, report, fmt.Errorf("its rings cross so that no ground of 1 m² is left; redraw it")
	}
	return out, report, nil
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

// evenOdd nodes the rings of s and returns the ground inside an odd number of
// them, with one place where rings cross.
//
// An edge of the noded lines borders that ground exactly when an odd number of
// the original rings run along it: crossing it flips the count. So the borders
// are found without a single inside test, and linked into rings.
func evenOdd(s Shape) (Shape, XY, int, error) {
	var lines []geom.LineString
	var original rtree.RTreeG[edge]
	corners := map[XY]bool{}
	s.edges(func(a, b XY) {
		lines = append(lines, geom.NewLineStringXY(a[0], a[1], b[0], b[1]))
		original.Insert([2]float64{min(a[0], b[0]), min(a[1], b[1])}, [2]float64{max(a[0], b[0]), max(a[1], b[1])}, edge{a, b})
		corners[a] = true
	})
	noded, err := geom.UnaryUnion(geom.NewMultiLineString(lines).AsGeometry())
	if err != nil {
		return nil, XY{}, 0, fmt.Errorf("its rings cannot be noded (%w); redraw it", err)
	}
	var borders []edge
	var crossing []XY
	addLine := func(l geom.LineString) {
		seq := l.Coordinates()
		for i := 1; i < seq.Length(); i++ {
			p, q := seq.GetXY(i-1), seq.GetXY(i)
			e := edge{XY{p.X, p.Y}, XY{q.X, q.Y}}
			for _, end := range []XY{e.a, e.b} {
				if !corners[end] {
					crossing = append(crossing, end)
				}
			}
			if runs(&original, e)%2 == 1 {
				borders = append(borders, e)
			}
		}
	}
	switch noded.Type() {
	case geom.TypeLineString:
		addLine(noded.MustAsLineString())
	case geom.TypeMultiLineString:
		m := noded.MustAsMultiLineString()
		for i := range m.NumLineStrings() {
			addLine(m.LineStringN(i))
		}
	}
	at := XY(s[0][0][0])
	if len(crossing) > 0 {
		at = slices.MinFunc(crossing, func(p, q XY) int { return comparePoints(orb.Point(p), orb.Point(q)) })
	}
	out, slivers := polygons(borders)
	if g := toGeom(out); !out.Empty() && g.Validate() != nil {
		return nil, at, 0, fmt.Errorf("its rings cross in a way that cannot be mended (%w); redraw it", g.Validate())
	}
	return out, at, slivers, nil
}

// runs counts the original edges that a noded edge lies on.
func runs(original *rtree.RTreeG[edge], e edge) int {
	const slack = 1e-6
	mid := XY{(e.a[0] + e.b[0]) / 2, (e.a[1] + e.b[1]) / 2}
	n := 0
	original.Search([2]float64{mid[0] - slack, mid[1] - slack}, [2]float64{mid[0] + slack, mid[1] + slack},
		func(_, _ [2]float64, o edge) bool {
			// Both ends count, since an edge that merely crosses here is near
			// the middle too.
			if segmentDistance(mid, o.a, o.b) < slack && segmentDistance(e.a, o.a, o.b) < slack && segmentDistance(e.b, o.a, o.b) < slack {
				n++
			}
			return true
		})
	return n
}

// polygons links border edges, which meet only at their ends and evenly at
// every node, into polygons, and drops parts under Sliver.
func polygons(borders []edge) (Shape, int) {
	inside := leftInside(borders)
	// Every border edge once, directed so that the ground lies on its left.
	from := map[XY][]int{}
	for i, e := range borders {
		if !inside[i] {
			borders[i] = edge{e.b, e.a}
		}
		from[borders[i].a] = append(from[borders[i].a], i)
	}
	used := make([]bool, len(borders))
	var shells, holes []orb.Ring
	slivers := 0
	keep := func(ring orb.Ring) {
		switch a := SignedArea(ring); {
		case math.Abs(a) < Sliver:
			slivers++
		case a > 0:
			shells = append(shells, ring)
		default:
			holes = append(holes, ring)
		}
	}
	order := make([]int, len(borders))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		return cmp.Or(comparePoints(orb.Point(borders[i].a), orb.Point(borders[j].a)), comparePoints(orb.Point(borders[i].b), orb.Point(borders[j].b)))
	})
	for _, start := range order {
		// Walk on until a node comes up again; what lies between is a ring, so
		// that outlines which touch themselves fall apart into simple rings.
		var path []int
		for e := start; e >= 0 && !used[e]; {
			used[e] = true
			path = append(path, e)
			node := borders[e].b
			for k := len(path) - 1; k >= 0; k-- {
				if borders[path[k]].a == node {
					ring := orb.Ring{}
					for _, i := range path[k:] {
						ring = append(ring, orb.Point(borders[i].a))
					}
					keep(append(ring, ring[0]))
					path = path[:k]
					break
				}
			}
			e = sharpestLeft(borders, used, from[node], borders[e])
		}
	}
	return assemble(shells, holes), slivers
}

// sharpestLeft picks, of the unused edges that leave the end of e, the one
// that turns most to the left: it keeps the traced ground on one side.
func sharpestLeft(borders []edge, used []bool, leaving []int, e edge) int {
	best, bestTurn := -1, math.Inf(-1)
	back := math.Atan2(e.b[1]-e.a[1], e.b[0]-e.a[0])
	for _, i := range leaving {
		if used[i] {
			continue
		}
		o := borders[i]
		turn := math.Remainder(math.Atan2(o.b[1]-o.a[1], o.b[0]-o.a[0])-back, 2*math.Pi)
		if turn > bestTurn {
			best, bestTurn = i, turn
		}
	}
	return best
}

// leftInside tells for every border edge whether the ground lies on its left,
// by counting the borders west of its middle (or south, for a level edge).
func leftInside(borders []edge) []bool {
	var tree rtree.RTreeG[int]
	bound := orb.Bound{Min: orb.Point{math.Inf(1), math.Inf(1)}, Max: orb.Point{math.Inf(-1), math.Inf(-1)}}
	for i, e := range borders {
		lo := [2]float64{min(e.a[0], e.b[0]), min(e.a[1], e.b[1])}
		hi := [2]float64{max(e.a[0], e.b[0]), max(e.a[1], e.b[1])}
		tree.Insert(lo, hi, i)
		bound = bound.Extend(orb.Point(e.a)).Extend(orb.Point(e.b))
	}
	out := make([]bool, len(borders))
	for i, e := range borders {
		mid := XY{(e.a[0] + e.b[0]) / 2, (e.a[1] + e.b[1]) / 2}
		level := math.Abs(e.b[1]-e.a[1]) < math.Abs(e.b[0]-e.a[0])
		axis, other := 0, 1
		if level {
			axis, other = 1, 0
		}
		lo, hi := [2]float64(mid), [2]float64(mid)
		lo[axis] = bound.Min[axis]
		count := 0
		tree.Search(lo, hi, func(_, _ [2]float64, j int) bool {
			if j == i {
				return true
			}
			a, b := borders[j].a, borders[j].b
			if a[other] > b[other] {
				a, b = b, a
			}
			if a[other] <= mid[other] && mid[other] < b[other] {
				at := a[axis] + (b[axis]-a[axis])*(mid[other]-a[other])/(b[other]-a[other])
				if at < mid[axis] {
					count++
				}
			}
			return true
		})
		low := count%2 == 1 // the ground lies west (or south) of the middle
		if level {
			out[i] = low == (e.b[0] < e.a[0])
		} else {
			out[i] = low == (e.b[1] > e.a[1])
		}
	}
	return out
}

// assemble gives each hole to the smallest shell that holds it.
func assemble(shells, holes []orb.Ring) Shape {
	slices.SortStableFunc(shells, func(a, b orb.Ring) int { return cmp.Compare(SignedArea(a), SignedArea(b)) })
	out := make(Shape, len(shells))
	locators := make([]*Locator, len(shells))
	for i, ring := range shells {
		out[i] = orb.Polygon{ring}
		locators[i] = NewLocator(Shape{{ring}})
	}
	for _, hole := range holes {
		size := -SignedArea(hole)
		for i := range out {
			if SignedArea(shells[i]) > size && holds(locators[i], hole) {
				out[i] = append(out[i], hole)
				break
			}
		}
	}
	return out.Canonical()
}

// holds reports whether most of a ring's edges have their middles in the shell:
// a hole may touch the shell at vertices, but no edge of it lies outside.
func holds(l *Locator, ring orb.Ring) bool {
	in := 0
	for i := 1; i < len(ring); i++ {
		if l.Contains(XY{(ring[i-1][0] + ring[i][0]) / 2, (ring[i-1][1] + ring[i][1]) / 2}) {
			in++
		}
	}
	return 2*in > len(ring)-1
}
