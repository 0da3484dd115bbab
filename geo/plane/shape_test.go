package plane

import (
	"math"
	"reflect"
	"testing"

	"github.com/paulmach/orb"
)

func TestFigures(t *testing.T) {
	ell := ring(0, 0, 30, 0, 30, 10, 10, 10, 10, 30, 0, 30)
	for _, c := range []struct {
		name                    string
		s                       Shape
		area, perimeter, cx, cy float64
		vertices                int
	}{
		{"square", Shape{{rect(0, 0, 10, 10)}}, 100, 40, 5, 5, 4},
		{"clockwise", Shape{{reversed(rect(0, 0, 10, 10))}}, 100, 40, 5, 5, 4},
		{"L", Shape{{ell}}, 500, 120, 11, 11, 6},
		{"hole", Shape{{rect(0, 0, 10, 10), reversed(rect(6, 4, 8, 6))}}, 96, 48, (500 - 28) / 96.0, 5, 8},
		{"two parts", Shape{{rect(0, 0, 10, 10)}, {rect(20, 0, 30, 20)}}, 300, 100, (100*5 + 200*25) / 300.0, (500 + 2000) / 300.0, 8},
		{"far off", Shape{{rect(5e6, 9e6, 5e6+10, 9e6+10)}}, 100, 40, 5e6 + 5, 9e6 + 5, 4},
	} {
		at, ok := c.s.Centroid()
		if !near(c.s.Area(), c.area, 1e-9) || !near(c.s.Perimeter(), c.perimeter, 1e-9) || !ok ||
			at.Distance(XY{c.cx, c.cy}) > 1e-9 || c.s.Vertices() != c.vertices {
			t.Errorf("%s: area %g, perimeter %g, centroid %v %v, %d vertices", c.name, c.s.Area(), c.s.Perimeter(), at, ok, c.s.Vertices())
		}
	}
	if at, ok := (Shape{{ring(0, 0, 10, 10, 10, 0, 0, 10.001)}}).Centroid(); ok {
		t.Errorf("the centre of a bow-tie lies at %v", at)
	}
	var empty Shape
	if _, ok := empty.Centroid(); ok || !empty.Empty() || empty.Area() != 0 || empty.Perimeter() != 0 || !empty.Bound().IsEmpty() {
		t.Error("the empty shape has figures")
	}
}

// The canonical form forgets where rings begin, which way they turn and in
// which order holes and polygons stand, and it leaves its input as it was.
func TestCanonical(t *testing.T) {
	rnd := random(1)
	for range 200 {
		var s Shape
		for k := range 1 + rnd.IntN(3) {
			q := orb.Polygon{blob(rnd, float64(k)*300, 0, 100, 4+rnd.IntN(9))}
			for h := range rnd.IntN(4) {
				q = append(q, blob(rnd, float64(k)*300-20+float64(h)*15, 0, 5, 3+rnd.IntN(5)))
			}
			s = append(s, q)
		}
		want := s.Canonical()
		var mixed Shape
		for _, i := range rnd.Perm(len(s)) {
			q := orb.Polygon{}
			for _, r := range s[i] {
				n := rnd.IntN(len(r) - 1)
				turned := append(append(orb.Ring{}, r[n:len(r)-1]...), r[:n]...)
				turned = append(turned, turned[0])
				if rnd.IntN(2) == 0 {
					turned = reversed(turned)
				}
				q = append(q, turned)
			}
			rnd.Shuffle(len(q)-1, func(a, b int) { q[a+1], q[b+1] = q[b+1], q[a+1] })
			mixed = append(mixed, q)
		}
		before := mixed[0][0][0]
		if got := mixed.Canonical(); !reflect.DeepEqual(got, want) {
			t.Fatalf("%v\n%v", got, want)
		}
		if mixed[0][0][0] != before || !reflect.DeepEqual(want.Canonical(), want) {
			t.Fatal("input changed, or a second writing differs")
		}
		if a, b := mixed.Area(), want.Area(); !near(a, b, 1e-9*b) {
			t.Fatalf("area %g, %g", a, b)
		}
	}
	// Rings that share their lowest-leftmost corner are told apart by the rest.
	a, b := orb.Polygon{ring(0, 0, 5, 0, 5, 5)}, orb.Polygon{ring(0, 0, -1, 5, 0, 9)}
	if !reflect.DeepEqual(Shape{a, b}.Canonical(), Shape{b, a}.Canonical()) {
		t.Error("the order of polygons with one corner depends on the file")
	}
}

func TestWithoutSlivers(t *testing.T) {
	large, crumb := rect(0, 0, 10, 10), rect(20, 20, 20.5, 20.5)
	for name, c := range map[string]struct {
		s, want Shape
		dropped int
	}{
		"part":                {Shape{{crumb}, {large}}, Shape{{large}}, 1},
		"hole":                {Shape{{large, rect(5, 5, 5.5, 5.5), rect(7, 7, 9, 9)}}, Shape{{large, rect(7, 7, 9, 9)}}, 1},
		"nothing but a crumb": {Shape{{crumb}}, Shape{{crumb}}, 0},
		"no rings":            {Shape{{}}, nil, 0},
		"empty":               {nil, nil, 0},
	} {
		if got, dropped := c.s.WithoutSlivers(); !reflect.DeepEqual(got, c.want) || dropped != c.dropped {
			t.Errorf("%s: %v, %d", name, got, dropped)
		}
	}
}

func TestSignedArea(t *testing.T) {
	for _, c := range []struct {
		r    orb.Ring
		want float64
	}{
		{nil, 0}, {orb.Ring{{1, 1}}, 0}, {orb.Ring{{0, 0}, {1, 1}, {0, 0}}, 0},
		{rect(0, 0, 3, 2), 6}, {reversed(rect(0, 0, 3, 2)), -6}, {ring(0, 0, 5, 5, 10, 10), 0},
	} {
		if got := SignedArea(c.r); got != c.want {
			t.Errorf("%v: %g, want %g", c.r, got, c.want)
		}
	}
}

// orient is exact where doubles run out: places off a line by less than their
// rounding, and on lines that no axis follows.
func TestOrient(t *testing.T) {
	rnd := random(2)
	for range 2000 {
		a := XY{rnd.Float64() * 1e6, rnd.Float64() * 1e7}
		d := XY{float64(rnd.IntN(1000) + 1), float64(rnd.IntN(1000) + 1)}
		a = XY{math.Floor(a[0]), math.Floor(a[1])}
		b, c := XY{a[0] + d[0], a[1] + d[1]}, XY{a[0] + 3*d[0], a[1] + 3*d[1]}
		if Orient(a, b, c) != 0 {
			t.Fatalf("%v %v %v are on one line", a, b, c)
		}
		up := XY{c[0], math.Nextafter(c[1], math.Inf(1))}
		if Orient(a, b, up) != 1 || Orient(b, a, up) != -1 || Orient(b, up, a) != 1 {
			t.Fatalf("%v %v %v", a, b, up)
		}
	}
	if Orient(XY{math.NaN(), 0}, XY{1, 1}, XY{2, 0}) != 0 {
		t.Error("a turn through no place")
	}
}
