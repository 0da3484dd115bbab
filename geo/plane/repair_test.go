package plane

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"
)

func TestNewLeavesValid(t *testing.T) {
	rnd := random(3)
	for range 300 {
		s := blobShape(rnd, 300)
		got, mended, err := New(orb.MultiPolygon(s))
		if err != nil || mended.Crossing || mended.Slivers != 0 || mended.Before != mended.After || !reflect.DeepEqual(got, s) {
			t.Fatalf("%+v %v", mended, err)
		}
	}
	for name, s := range map[string]Shape{
		"hole touching its shell at a corner":       {{rect(0, 0, 30, 30), reversed(ring(0, 0, 10, 5, 5, 10))}},
		"hole touching its shell along the way":     {{rect(0, 0, 30, 30), reversed(ring(15, 0, 20, 5, 10, 5))}},
		"two holes touching":                        {{rect(0, 0, 30, 30), reversed(rect(5, 5, 10, 10)), reversed(rect(10, 10, 15, 15))}},
		"two parts touching at a corner":            {{rect(0, 0, 10, 10)}, {rect(10, 10, 20, 20)}},
		"a part in the hole of another":             {{rect(0, 0, 30, 30), reversed(rect(5, 5, 25, 25))}, {rect(10, 10, 20, 20)}},
		"a part that fills a corner of a hole":      {{rect(0, 0, 30, 30), reversed(rect(5, 5, 25, 25))}, {ring(5, 15, 15, 10, 15, 20)}},
		"a sliver of its own":                       {{ring(0, 0, 100, 0.001, 200, 0)}},
		"corners on one line":                       {{ring(0, 0, 5, 0, 10, 0, 10, 10, 0, 10, 0, 5)}},
		"steep corners on a line that no axis has":  {{ring(0, 0, 1, 3, 2, 6, 3, 9, -50, 20)}},
		"coordinates of a plain number of its size": {{ring(0.1, 0.7, 100.3, 0.1, 50.2, 80.9)}},
	} {
		got, mended, err := New(orb.MultiPolygon(s))
		if err != nil || mended.Crossing || !reflect.DeepEqual(got, s.Canonical()) {
			t.Errorf("%s: %+v %v %v", name, mended, got, err)
		}
		checkWellFormed(t, got)
	}
}

func TestNewMends(t *testing.T) {
	for _, c := range []struct {
		name         string
		polygons     orb.MultiPolygon
		area         float64
		parts, holes int
		at           XY
		slivers      int
	}{
		{"bow-tie", orb.MultiPolygon{{ring(0, 0, 10, 10, 10, 0, 0, 10)}}, 50, 2, 0, XY{5, 5}, 0},
		{"figure of eight with uneven lobes", orb.MultiPolygon{{ring(0, 0, 10, 0, 0, 30, 10, 30)}}, 150, 2, 0, XY{5, 15}, 0},
		{"overlapping parts", orb.MultiPolygon{{rect(0, 0, 10, 10)}, {rect(5, 5, 15, 15)}}, 150, 2, 0, XY{5, 10}, 0},
		{"parts side by side", orb.MultiPolygon{{rect(0, 0, 10, 10)}, {rect(10, 0, 20, 10)}}, 200, 1, 0, XY{10, 0}, 0},
		{"parts side by side, of two lengths", orb.MultiPolygon{{rect(0, 0, 10, 10)}, {rect(10, 2, 20, 8)}}, 160, 1, 0, XY{10, 2}, 0},
		{"hole crossing its shell", orb.MultiPolygon{{rect(0, 0, 10, 10), rect(8, 4, 12, 6)}}, 96 + 4, 2, 0, XY{10, 4}, 0},
		{"hole outside its shell", orb.MultiPolygon{{rect(0, 0, 10, 10), rect(20, 0, 25, 5)}}, 125, 2, 0, XY{0, 0}, 0},
		{"hole as large as its shell and a part", orb.MultiPolygon{{rect(0, 0, 10, 10), rect(0, 0, 10, 10)}, {rect(20, 0, 30, 10)}}, 100, 1, 0, XY{0, 0}, 0},
		{"one ring three times", orb.MultiPolygon{{rect(0, 0, 10, 10)}, {rect(0, 0, 10, 10)}, {rect(0, 0, 10, 10)}}, 100, 1, 0, XY{0, 0}, 0},
		{"spike out", orb.MultiPolygon{{ring(0, 0, 10, 0, 10, 5, 30, 5, 10, 5, 10, 10, 0, 10)}}, 100, 1, 0, XY{10, 5}, 0},
		{"spike in", orb.MultiPolygon{{ring(0, 0, 10, 0, 10, 5, 3, 5, 10, 5, 10, 10, 0, 10)}}, 100, 1, 0, XY{3, 5}, 0},
		{"spike along an edge", orb.MultiPolygon{{ring(0, 0, 14, 0, 10, 0, 10, 10, 0, 10)}}, 100, 1, 0, XY{10, 0}, 0},
		{"ring touching itself at a corner", orb.MultiPolygon{{ring(0, 0, 10, 10, 20, 0, 20, 20, 10, 10, 0, 20)}}, 200, 2, 0, XY{0, 0}, 0},
		{"ring that goes round a hole by itself", orb.MultiPolygon{{ring(0, 0, 30, 0, 30, 30, 0, 30, 0, 0, 10, 5, 20, 20, 5, 10)}}, 900 - 100, 1, 1, XY{0, 0}, 0},
		{"keyhole", orb.MultiPolygon{{ring(0, 0, 30, 0, 30, 30, 0, 30, 0, 15, 10, 15, 10, 20, 20, 20, 20, 10, 10, 10, 10, 15, 0, 15)}}, 800, 1, 1, XY{0, 15}, 0},
		{"hole that touches its shell twice", orb.MultiPolygon{{rect(0, 0, 20, 20), ring(10, 0, 12, 10, 10, 20, 8, 10)}}, 360, 2, 0, XY{10, 0}, 0},
		{"shell in a shell", orb.MultiPolygon{{rect(0, 0, 30, 30)}, {rect(10, 10, 20, 20)}}, 800, 1, 1, XY{0, 0}, 0},
		{"hole in a hole", orb.MultiPolygon{{rect(0, 0, 30, 30), rect(5, 5, 25, 25), rect(10, 10, 20, 20)}}, 600, 2, 1, XY{0, 0}, 0},
		{"island in a lake on an island, all as shells", orb.MultiPolygon{{rect(0, 0, 70, 70)}, {rect(10, 10, 60, 60)}, {rect(20, 20, 50, 50)}, {rect(30, 30, 40, 40)}}, 4900 - 2500 + 900 - 100, 2, 2, XY{0, 0}, 0},
		{"lobe under 1 m²", orb.MultiPolygon{{ring(0, 0, 10.5, 10.5, 9.5, 10.5, 20, 0)}}, 100, 1, 0, XY{10, 10}, 1},
		{"small holes that cross", orb.MultiPolygon{{rect(0, 0, 10, 10), rect(5, 5, 5.5, 5.5), rect(5.2, 5.2, 5.7, 5.7)}}, 100, 1, 0, XY{5.2, 5.5}, 2},
	} {
		for turn := range 4 {
			// Whichever way the rings turn and wherever they begin.
			polygons := make(orb.MultiPolygon, len(c.polygons))
			for i, p := range c.polygons {
				for _, r := range p {
					if turn%2 == 1 {
						r = reversed(r)
					}
					if turn/2 == 1 {
						r = append(append(orb.Ring{}, r[2:]...), r[1:3]...)
					}
					polygons[i] = append(polygons[i], r)
				}
			}
			s, mended, err := New(polygons)
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
				continue
			}
			holes := 0
			for _, p := range s {
				holes += len(p) - 1
			}
			if !near(s.Area(), c.area, 1e-4) || len(s) != c.parts || holes != c.holes || !mended.Crossing || mended.Slivers != c.slivers || mended.After != s.Area() {
				t.Errorf("%s, turn %d: %d parts, %d holes, area %g, %+v", c.name, turn, len(s), holes, s.Area(), mended)
			}
			if turn == 0 && mended.At.Distance(c.at) > 1e-5 {
				t.Errorf("%s: found at %v", c.name, mended.At)
			}
			checkWellFormed(t, s)
			if again, m, err := New(orb.MultiPolygon(s)); err != nil || m.Crossing || !reflect.DeepEqual(again, s) {
				t.Errorf("%s: what was mended is mended again", c.name)
			}
		}
	}
}

func TestNewTellsCrossings(t *testing.T) {
	// A zigzag over a straight line.
	s, mended, err := New(orb.MultiPolygon{{ring(0, 0, 10, 10, 20, -10, 30, 10, 40, -10, 50, 0)}})
	want := []XY{{15, 0}, {25, 0}, {35, 0}}
	if err != nil || len(s) != 4 || len(mended.Crossings) != len(want) {
		t.Fatalf("%+v, %v", mended, err)
	}
	for i, p := range want {
		if mended.Crossings[i].Distance(p) > 1e-5 {
			t.Errorf("%v, want %v", mended.Crossings[i], p)
		}
	}
	if mended.At != mended.Crossings[0] {
		t.Errorf("at %v", mended.At)
	}
}

func TestNewTidies(t *testing.T) {
	want := Shape{{rect(0, 0, 10, 10)}}.Canonical()
	for name, r := range map[string]orb.Ring{
		"unclosed":             {{0, 0}, {10, 0}, {10, 10}, {0, 10}},
		"doubled":              {{0, 0}, {0, 0}, {10, 0}, {10, 0}, {10, 0}, {10, 10}, {0, 10}, {0, 10}, {0, 0}},
		"closed several times": {{0, 0}, {10, 0}, {10, 10}, {0, 10}, {0, 0}, {0, 0}, {0, 0}},
	} {
		s, mended, err := New(orb.MultiPolygon{{r}})
		if err != nil || mended.Crossing || !reflect.DeepEqual(s, want) {
			t.Errorf("%s: %v %+v %v", name, s, mended, err)
		}
	}
	// Rings without three corners: a hole is left out, a shell takes its polygon along.
	s, _, err := New(orb.MultiPolygon{{rect(0, 0, 10, 10), {{1, 1}, {2, 2}, {1, 1}}}, {{{50, 50}}, rect(50, 50, 60, 60)}, {}})
	if err != nil || !reflect.DeepEqual(s, want) {
		t.Errorf("%v %v", s, err)
	}
}

func TestNewRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name     string
		polygons orb.MultiPolygon
		says     string
	}{
		{"nothing", nil, "three different corners"},
		{"no rings", orb.MultiPolygon{{}, nil}, "three different corners"},
		{"two corners", orb.MultiPolygon{{{{0, 0}, {5, 5}, {0, 0}}}}, "three different corners"},
		{"corners on one line", orb.MultiPolygon{{ring(0, 0, 5, 5, 10, 10)}}, "no ground of 1 m²"},
		{"a ring twice", orb.MultiPolygon{{rect(0, 0, 9, 9)}, {rect(0, 0, 9, 9)}}, "no ground of 1 m²"},
		{"a bow-tie under 1 m²", orb.MultiPolygon{{ring(0, 0, 1, 1, 1, 0, 0, 1)}}, "no ground of 1 m²"},
		{"NaN", orb.MultiPolygon{{ring(0, 0, 5, nan, 5, 5)}}, "polygon 1, ring 1, vertex 2"},
		{"NaN in a hole", orb.MultiPolygon{{rect(0, 0, 9, 9), ring(nan, 1, 5, 1, 5, 5)}}, "polygon 1, ring 2, vertex 1"},
		{"infinite", orb.MultiPolygon{{rect(0, 0, 9, 9)}, {ring(0, 0, inf, 0, 5, 5)}}, "polygon 2, ring 1, vertex 2"},
		{"out of the world", orb.MultiPolygon{{ring(0, 0, 1e300, 0, 5, 5)}}, "no place"},
	} {
		if s, _, err := New(c.polygons); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, %v", c.name, s, err)
		}
	}
}

// Tangles are mended or refused in bounded time.
func TestNewBoundsItsWork(t *testing.T) {
	rnd := random(4)
	tangle := func(n int) orb.MultiPolygon {
		var r orb.Ring
		for range n {
			r = append(r, orb.Point{1000 * rnd.Float64(), 1000 * rnd.Float64()})
		}
		return orb.MultiPolygon{{r}}
	}
	if s, _, err := New(tangle(300)); err != nil || !(s.Area() > 3e5 && s.Area() < 6e5) {
		t.Errorf("300 edges: area %g, %v", s.Area(), err)
	}
	if _, _, err := New(tangle(100_000)); err == nil || !strings.Contains(err.Error(), "cross each other at more than") {
		t.Errorf("100,000 edges: %v", err)
	}
	many := make(orb.Ring, 2_000_001)
	for i := range many {
		a := 2 * math.Pi * float64(i) / float64(len(many))
		many[i] = orb.Point{1e4 * math.Cos(a), 1e4 * math.Sin(a)}
	}
	if _, _, err := New(orb.MultiPolygon{{many}}); err == nil || !strings.Contains(err.Error(), "2,000,000") {
		t.Errorf("too many vertices: %v", err)
	}
}

// Edges that run nearly on each other, at any distance from exactly to a
// millimetre, are mended to the same ground.
func TestNewNearCoincident(t *testing.T) {
	for _, gap := range []float64{0, 1e-12, 1e-9, 1e-7, 5e-7, 1e-6, 1.5e-6, 1e-5, 1e-3} {
		a := ring(0, 0, 100.1, 33.3, 70, 90)
		b := ring(100.1, 33.3, 0, 0+gap, 30, -80)
		s, mended, err := New(orb.MultiPolygon{{a}, {b}})
		want := math.Abs(SignedArea(a)) + math.Abs(SignedArea(b))
		if err != nil || !near(s.Area(), want, 200*gap+1e-3) {
			t.Errorf("gap %g: area %g, want %g (%+v, %v)", gap, s.Area(), want, mended, err)
		}
		checkWellFormed(t, s)
	}
}

// Random closed lines: what is kept is the ground inside an odd number of
// rings, tried at random places, and is a valid shape.
func TestNewEvenOdd(t *testing.T) {
	rnd := random(5)
	for range 200 {
		var polygons orb.MultiPolygon
		var flat Shape
		for range 1 + rnd.IntN(3) {
			var r orb.Ring
			for range 3 + rnd.IntN(12) {
				r = append(r, orb.Point{5e5 + math.Round(300*rnd.Float64()), 4e6 + math.Round(300*rnd.Float64())})
			}
			polygons = append(polygons, orb.Polygon{r})
			flat = append(flat, orb.Polygon{append(append(orb.Ring{}, r...), r[0])})
		}
		s, _, err := New(polygons)
		if err != nil {
			t.Fatal(err)
		}
		checkWellFormed(t, s)
		l := NewLocator(s)
		wrong := 0
		for range 300 {
			p := XY{5e5 + 300*rnd.Float64(), 4e6 + 300*rnd.Float64()}
			if l.Contains(p) != evenOddInside(flat, p) {
				wrong++
			}
		}
		if wrong > 1 { // a sliver may have been dropped
			t.Errorf("%d of 300 places differ", wrong)
		}
	}
}

func TestOnLattice(t *testing.T) {
	rnd := random(6)
	for range 300 {
		// Narrow gaps: holes close to the shell and to each other.
		p := orb.Polygon{blob(rnd, 0, 0, 40, 5+rnd.IntN(40))}
		for range 4 {
			a := rnd.Float64() * 2 * math.Pi
			p = append(p, reversed(blob(rnd, 12*math.Cos(a), 12*math.Sin(a), 9, 3+rnd.IntN(30))))
		}
		s, _, err := New(orb.MultiPolygon{p})
		if err != nil {
			t.Fatal(err)
		}
		out, err := OnLattice(s, 1)
		if err != nil {
			t.Fatal(err)
		}
		checkWellFormed(t, out)
		out.edges(func(a, _ XY) {
			if a[0] != math.Round(a[0]) || a[1] != math.Round(a[1]) {
				t.Fatalf("%v is off the lattice", a)
			}
		})
		// No vertex moves by more than one and a half steps or so.
		if !near(out.Area(), s.Area(), 1.5*s.Perimeter()) {
			t.Errorf("area %g became %g", s.Area(), out.Area())
		}
		again, err := OnLattice(out, 1)
		if err != nil || !reflect.DeepEqual(again, out) {
			t.Fatalf("a shape on the lattice is moved: %v", err)
		}
	}
	for _, s := range []Shape{nil, {{ring(0, 0, 0.2, 0, 0.2, 0.2)}}, {{ring(0, 0, 50, 0.1, 100, 0)}}} {
		if out, err := OnLattice(s, 1); err != nil || !out.Empty() {
			t.Errorf("%v: %v, %v", s, out, err)
		}
	}
	wide := Shape{{ring(0, 0, 1e9, 1e9, 1e9, 0, 0, 1e9)}}
	if _, err := OnLattice(wide, 1); err == nil || !strings.Contains(err.Error(), "too wide") {
		t.Errorf("%v", err)
	}
}
