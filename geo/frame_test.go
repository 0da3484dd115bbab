package geo

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/geo/plane"
)

func TestFrameAt(t *testing.T) {
	for _, c := range []struct {
		p    LonLat
		code int
	}{
		{LonLat{-93.6, 42}, 32615}, {LonLat{151, -33.8}, 32756}, {LonLat{30, 0}, 32636}, {LonLat{30, -1e-9}, 32736},
		{LonLat{-180, 10}, 32601}, {LonLat{180, 10}, 32660}, {LonLat{0, 84}, 32631}, {LonLat{0, -80}, 32731},
		{LonLat{5.999999, 50}, 32631}, {LonLat{6, 50}, 32632},
	} {
		f, err := FrameAt(c.p)
		if err != nil || f.EPSG() != c.code || f.Name() == "" || !f.Same(f) {
			t.Errorf("%v: %v, %v", c.p, f, err)
		}
		p, err := f.XY(c.p)
		if err != nil {
			t.Fatal(err)
		}
		back, err := f.LonLat(p)
		if err != nil || !near(math.Remainder(back[0]-c.p[0], 360), 0, 1e-10) || !near(back[1], c.p[1], 1e-10) {
			t.Errorf("%v came back as %v, %v", c.p, back, err)
		}
	}
	for _, p := range []LonLat{{0, 84.001}, {0, -80.001}, {0, math.NaN()}, {math.NaN(), 5}, {181, 5}, {math.Inf(1), 5}, {500000, 4500000}} {
		if _, err := FrameAt(p); err == nil {
			t.Errorf("%v has a frame", p)
		}
	}
	a, _ := FrameAt(LonLat{-93, 42})
	b, _ := FrameAt(LonLat{-93, -42})
	if a.Same(b) {
		t.Error("north and south are one frame")
	}
}

func TestFrameOn(t *testing.T) {
	for code, want := range map[int]bool{32615: true, 26915: true, 2154: true, 4326: false, 3857: false, 2225: false, 5070: false} {
		s, err := crs.FromEPSG(code)
		if err != nil {
			t.Fatalf("%d: %v", code, err)
		}
		if f, ok := FrameOn(s); ok != want || ok && f.EPSG() != code {
			t.Errorf("%d: %v", code, ok)
		}
	}
	if _, ok := FrameOn(nil); ok {
		t.Error("no system serves for a frame")
	}
}

// Geodesic areas, by GeographicLib: checked with its Python binding.
func TestAreaOfCheckPolygons(t *testing.T) {
	for name, c := range map[string]struct {
		ring orb.Ring
		want float64
	}{
		"Iowa":       {orb.Ring{{-93.6, 42}, {-93.59, 42}, {-93.59, 42.007}, {-93.6, 42.007}, {-93.6, 42}}, 644140.5217},
		"Sydney":     {orb.Ring{{151, -33.8}, {151.01, -33.8}, {151.01, -33.79}, {151, -33.79}, {151, -33.8}}, 1027174.9532},
		"on equator": {orb.Ring{{30, 0}, {30.005, 0}, {30.005, 0.005}, {30, 0.005}, {30, 0}}, 307726.8018},
	} {
		f, err := FrameAt(LonLat(c.ring[0]))
		if err != nil {
			t.Fatal(err)
		}
		s, _, err := f.Shape(shapeOf(c.ring))
		if err != nil {
			t.Fatal(err)
		}
		if got := f.Area(s); !near(got, c.want, 1e-7*c.want) {
			t.Errorf("%s: %.4f m², want %.4f (%.2g)", name, got, c.want, got/c.want-1)
		} else {
			t.Logf("%s: off by %.2g", name, got/c.want-1)
		}
	}
}

// The true areas of parts add up to that of the whole, at the rim of a zone
// too; how the rings turn is no matter.
func TestAreaAddsUp(t *testing.T) {
	for _, s := range []site{siteAt(t, -90.01, 42), siteAt(t, -93, 1), siteAt(t, -95.9, -60)} {
		x, y := s.at[0], s.at[1]
		rect := func(x0, y0, x1, y1 float64) orb.Ring {
			return orb.Ring{{x + x0, y + y0}, {x + x1, y + y0}, {x + x1, y + y1}, {x + x0, y + y1}, {x + x0, y + y0}}
		}
		whole := s.frame.Area(plane.Shape{{rect(0, 0, 7000, 7000)}})
		var sum float64
		for i := range 7 {
			for j := range 7 {
				a, b := float64(i)*1000, float64(j)*1000
				sum += s.frame.Area(plane.Shape{{rect(a, b, a+1000, b+1000)}})
			}
		}
		hole := rect(2000, 2000, 3000, 3000)
		holed := s.frame.Area(plane.Shape{{rect(0, 0, 7000, 7000), hole}})
		inner := s.frame.Area(plane.Shape{{hole}})
		hole.Reverse()
		if !near(sum, whole, 1e-9*whole) || !near(holed+inner, whole, 1e-9*whole) ||
			!near(s.frame.Area(plane.Shape{{rect(0, 0, 7000, 7000), hole}}), holed, 1e-12*whole) {
			t.Errorf("%s: whole %.4f, in parts %.4f, hole and rest %.4f", s.frame.Name(), whole, sum, holed+inner)
		}
	}
	s := iowa(t)
	for _, none := range []plane.Shape{nil, {}, {{}}, {{{}}}, {{{{1, 1}}}}, {{{{0, 0}, {5, 5}, {0, 0}}}}, {{{{0, 0}, {5, 0}, {9, 0}, {0, 0}}}}} {
		if got := s.frame.Area(none); got != 0 {
			t.Errorf("%v: %g", none, got)
		}
	}
}

// Whatever runs close, what is written is valid, on the grid of 1e-7 degree,
// and reads back as the same bytes.
func TestLonLatShapeIsValid(t *testing.T) {
	rnd := random(1)
	for n := range 200 {
		s := siteAt(t, 360*rnd.Float64()-180, 120*rnd.Float64()-60)
		if math.Abs(s.place(0, 0).Lon()) > 179.9 {
			continue
		}
		// Strips parallel to a slanted side, from nothing to 3 cm apart, and
		// points that nearly touch.
		slant := 200 * (rnd.Float64() - 0.5)
		var drawn orb.MultiPolygon
		x := s.at[0]
		for range 6 {
			w := 0.5 + rnd.Float64()
			drawn = append(drawn, orb.Polygon{{
				{x, s.at[1]}, {x + w, s.at[1]}, {x + w/2 + slant/2, s.at[1] + 50 + 0.01*rnd.Float64()}, {x + w + slant, s.at[1] + 100}, {x + slant, s.at[1] + 100}, {x, s.at[1]},
			}})
			x += w + 0.03*rnd.Float64()
		}
		shape, _, err := plane.New(drawn)
		if err != nil {
			t.Fatal(err)
		}
		ll, err := s.frame.LonLatShape(shape)
		if err != nil {
			t.Fatalf("case %d: %v", n, err)
		}
		lattice := make(orb.MultiPolygon, len(ll))
		for i, p := range ll {
			lattice[i] = make(orb.Polygon, len(p))
			for j, r := range p {
				for _, q := range r {
					if q != orb.Point(Round7(LonLat(q))) {
						t.Fatalf("%v is not rounded", q)
					}
					lattice[i][j] = append(lattice[i][j], orb.Point{math.Round(q[0] * 1e7), math.Round(q[1] * 1e7)})
				}
			}
		}
		if _, mended, err := plane.New(lattice); err != nil || mended.Crossing {
			t.Errorf("case %d: what is written is not valid: %+v, %v", n, mended, err)
		}
		if !near(s.frame.Area(shape), s.frame.Area(reads(t, s.frame, ll)), 0.012*shape.Perimeter()) {
			t.Errorf("case %d: the area changed", n)
		}
		again, err := s.frame.LonLatShape(reads(t, s.frame, ll))
		if err != nil || len(again) != len(ll) {
			t.Fatal(err)
		}
		for i := range ll {
			for j := range ll[i] {
				for k := range ll[i][j] {
					if again[i][j][k] != ll[i][j][k] {
						t.Fatalf("case %d: %v became %v", n, ll[i][j][k], again[i][j][k])
					}
				}
			}
		}
	}
}

func TestLonLatShapeOfCrumbs(t *testing.T) {
	s := iowa(t)
	x, y := s.at[0], s.at[1]
	crumb := plane.Shape{{{{x, y}, {x + 0.001, y}, {x, y + 0.001}, {x, y}}}}
	if ll, err := s.frame.LonLatShape(crumb); err != nil || len(ll) != 0 {
		t.Errorf("%v, %v", ll, err)
	}
	if ll, err := s.frame.LonLatShape(nil); err != nil || len(ll) != 0 {
		t.Errorf("%v, %v", ll, err)
	}
	if _, err := s.frame.LonLatShape(plane.Shape{{{{1e8, 0}, {2e8, 0}, {0, 1e8}, {1e8, 0}}}}); err == nil {
		t.Error("places off the earth were written")
	}
}

func TestRound7(t *testing.T) {
	for in, want := range map[LonLat]LonLat{
		{-93.12345678, 42.00000004}: {-93.1234568, 42},
		{0.00000005, -0.00000016}:   {0.0000001, -0.0000002},
		{180, -90}:                  {180, -90},
	} {
		if got := Round7(in); got != want || Round7(got) != got {
			t.Errorf("%v: %v, want %v", in, got, want)
		}
	}
}

func TestFrameErrorsSayWhere(t *testing.T) {
	s := iowa(t)
	if _, _, err := s.frame.Shape(crs.LonLatShape{{{{0, 0}, {1, 0}, {1, 95}, {0, 0}}}}); err == nil {
		t.Error("latitude 95 went through")
	}
	if _, err := s.frame.Line(crs.LonLatLine{{-93, 42}, {-93, math.NaN()}}); err == nil {
		t.Error("NaN went through")
	}
}
