package plane

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
)

// degenerate shapes are such as no function of this package makes. They must
// not make one panic or hang; an error or nonsense in return is all right.
func degenerate() map[string]Shape {
	nan, inf := math.NaN(), math.Inf(1)
	return map[string]Shape{
		"nil": nil, "no polygons": {}, "nil polygon": {nil}, "no rings": {{}}, "nil ring": {{nil}}, "empty ring": {{{}}},
		"empty hole": {{rect(0, 0, 9, 9), {}}}, "one corner": {{{{1, 1}}}}, "one corner closed": {{{{1, 1}, {1, 1}}}},
		"two corners": {{{{0, 0}, {5, 5}, {0, 0}}}}, "unclosed": {{{{0, 0}, {9, 0}, {9, 9}}}}, "on one line": {{ring(0, 0, 5, 5, 9, 9)}},
		"level": {{ring(0, 0, 5, 0, 9, 0)}}, "one place": {{{{3, 3}, {3, 3}, {3, 3}, {3, 3}}}},
		"bow-tie": {{ring(0, 0, 9, 9, 9, 0, 0, 9)}}, "spike": {{ring(0, 0, 9, 0, 9, 5, 30, 5, 9, 5, 9, 9, 0, 9)}},
		"twice": {{rect(0, 0, 9, 9)}, {rect(0, 0, 9, 9)}}, "hole outside": {{rect(0, 0, 9, 9), rect(20, 20, 29, 29)}},
		"overlap": {{rect(0, 0, 9, 9)}, {rect(5, 5, 15, 15)}}, "sliver": {{ring(0, 0, 1e6, 1e-9, 2e6, 0)}},
		"NaN x": {{ring(0, 0, nan, 0, 5, 5)}}, "NaN y": {{ring(0, 0, 5, nan, 5, 5)}}, "all NaN": {{ring(nan, nan, nan, nan, nan, nan)}},
		"infinite x": {{ring(0, 0, inf, 0, 5, 5)}}, "infinite y": {{ring(0, 0, 5, -inf, 5, 5)}}, "infinite": {{ring(-inf, -inf, inf, -inf, inf, inf)}},
		"huge": {{rect(-1e300, -1e300, 1e300, 1e300)}}, "tiny": {{rect(0, 0, 5e-324, 5e-324)}}, "close": {{ring(1, 1, math.Nextafter(1, 2), 1, 1, math.Nextafter(1, 2))}},
		"right": {{rect(0, 0, 9, 9)}},
	}
}

func TestDegenerate(t *testing.T) {
	rnd := random(50)
	all := degenerate()
	for name, s := range all {
		func() {
			defer func() {
				if p := recover(); p != nil {
					t.Errorf("%s: %v", name, p)
				}
			}()
			s.Empty()
			s.Bound()
			s.Area()
			s.Perimeter()
			s.Centroid()
			s.Vertices()
			s.Canonical()
			s.WithoutSlivers()
			if out, _, err := New(orb.MultiPolygon(s)); err == nil {
				checkWellFormed(t, out)
			}
			OnLattice(s, 1)
			for _, d := range []float64{0, 1, -1, math.NaN(), math.Inf(1)} {
				Buffer(s, d)
				BufferPoint(XY{d, d}, 1)
				for _, p := range s {
					for _, r := range p {
						BufferLine(Line(r), d)
						SignedArea(r)
					}
				}
			}
			d := NewDrawer(s)
			d.Area()
			d.Draw(rnd)
			l := NewLocator(s)
			var e Edges
			e.AddShape(s)
			for _, x := range []float64{0, 5, math.NaN(), math.Inf(1), math.Inf(-1)} {
				for _, y := range []float64{0, 5, math.NaN(), math.Inf(1), math.Inf(-1)} {
					l.Contains(XY{x, y})
					e.Within(XY{x, y}, 3)
					e.Distance(XY{x, y}, 3)
				}
			}
			for _, other := range all {
				Intersect(s, other)
				Subtract(s, other)
				Union(s, other)
				SharedEdge(s, other)
			}
		}()
	}
}
