package plane

import (
	"math"
	"math/big"
	"reflect"
	"testing"
)

// Where it answers, intersectClean has the very bytes of the general overlay: on
// blobs with holes, squares of a grid on any bearing, and shapes that such
// overlays made, which touch and share edges as well.
func TestCleanIsGeneral(t *testing.T) {
	r := random(61)
	const x, y = 431_000, 4_651_000
	square := func(side float64) Shape {
		a := 2 * math.Pi * r.Float64()
		if r.IntN(4) == 0 {
			a = 0
		}
		px, py, ux, uy := x+300*(r.Float64()-0.5), y+300*(r.Float64()-0.5), side*math.Cos(a), side*math.Sin(a)
		if r.IntN(4) == 0 {
			px, py = math.Round(px), math.Round(py)
		}
		return Shape{{ring(px, py, px+ux, py+uy, px+ux-uy, py+uy+ux, px-uy, py+ux)}}
	}
	kinds := []func() Shape{
		func() Shape { return blobShape(r, 200) },
		func() Shape { return square(30 + 200*r.Float64()) },
		func() Shape { // of several polygons
			s, err := Subtract(blobShape(r, 200), square(400))
			if err != nil {
				t.Fatal(err)
			}
			return s
		},
		func() Shape { // touches what it was cut from
			s, err := intersect(blobShape(r, 200), square(100))
			if err != nil {
				t.Fatal(err)
			}
			return s
		},
	}
	tried, answered, empty, parts, holes := 0, 0, 0, 0, 0
	check := func(a, b Shape) Shape {
		tried++
		want, err := intersect(a, b)
		if err != nil {
			t.Fatal(err)
		}
		got, ok := intersectClean(newOutline(a), newOutline(b))
		if !ok {
			return want
		}
		answered++
		switch {
		case len(got) == 0:
			empty++
		case len(got) > 1:
			parts++
		case len(got[0]) > 1:
			holes++
		}
		if len(got)+len(want) > 0 && !reflect.DeepEqual(got, want) {
			t.Errorf("%v and %v: got %v, want %v", a, b, got, want)
		}
		return want
	}
	for range 1500 {
		a, b := kinds[r.IntN(len(kinds))](), kinds[r.IntN(len(kinds))]()
		if a.Empty() || b.Empty() {
			continue
		}
		common := check(a, b)
		if r.IntN(3) == 0 && !common.Empty() {
			check(common, a)
			check(b, common)
			if wide, err := Buffer(a, -5); err == nil && !wide.Empty() {
				check(wide, common)
			}
		}
	}
	t.Logf("%d of %d answered, %d of them empty, %d in parts, %d with holes", answered, tried, empty, parts, holes)
	if answered < tried/2 || empty < 20 || parts < 50 || holes < 50 || answered == tried {
		t.Errorf("%d of %d answered, %d of them empty, %d in parts, %d with holes", answered, tried, empty, parts, holes)
	}
}

// What touches, runs along or is not written as shapes are is left to the
// general overlay.
func TestCleanRefuses(t *testing.T) {
	a := Shape{{rect(0, 0, 10, 10)}}
	for _, c := range []struct {
		name string
		a, b Shape
	}{
		{"the same", a, a},
		{"a common side", a, Shape{{rect(10, 0, 20, 10)}}},
		{"a corner on a side", a, Shape{{ring(5, 10, 8, 20, 2, 20)}}},
		{"a corner on a side, across", a, Shape{{ring(5, 10, 8, 5, 20, 20)}}},
		{"a corner in a corner", a, Shape{{rect(10, 10, 20, 20)}}},
		{"a corner nearly on a side", a, Shape{{ring(5, 10+1e-7, 8, 20, 2, 20)}}},
		{"a side nearly along a side", a, Shape{{rect(-5, 3, 10-1e-8, 5)}}},
		{"the wrong way round", a, Shape{{reversed(rect(5, 5, 20, 20))}}},
		{"a place twice", a, Shape{{ring(5, 5, 20, 5, 20, 5, 20, 20)}}},
		{"no number", a, Shape{{ring(5, 5, 20, 5, 20, math.NaN())}}},
		{"out of reach", a, Shape{{rect(5, 5, 3e7, 20)}}},
		{"rings that touch", Shape{{rect(0, 0, 10, 10), reversed(ring(5, 0, 7, 3, 3, 3))}}, Shape{{rect(-1, -1, 20, 2)}}},
		{"crossings too near each other", a, Shape{{ring(9, 2, 20, 5-1e-7, 20, 5+1e-7, 9, 8, 10-1e-9, 5)}}},
	} {
		for _, turned := range []bool{false, true} {
			if turned {
				c.a, c.b = c.b, c.a
			}
			if got, ok := intersectClean(newOutline(c.a), newOutline(c.b)); ok {
				t.Errorf("%s: %v", c.name, got)
			}
		}
	}
}

// A crossing is rounded once: it is the float next to the true place.
func TestCrossingAt(t *testing.T) {
	r := random(62)
	exact := func(v float64) *big.Float { return new(big.Float).SetPrec(2000).SetFloat64(v) }
	op := func() *big.Float { return new(big.Float).SetPrec(2000) }
	for range 2000 {
		place := func() XY { return XY{431_000 + 300*r.Float64(), 4_651_000 + 300*r.Float64()} }
		e, f := edge{place(), place()}, edge{place(), place()}
		if (e.left(f.a) > 0) == (e.left(f.b) > 0) || (f.left(e.a) > 0) == (f.left(e.b) > 0) {
			continue
		}
		sub := func(p, q float64) *big.Float { return op().Sub(exact(p), exact(q)) }
		cross := func(ax, ay, bx, by *big.Float) *big.Float { return op().Sub(op().Mul(ax, by), op().Mul(ay, bx)) }
		dx, dy, fx, fy := sub(e.b[0], e.a[0]), sub(e.b[1], e.a[1]), sub(f.b[0], f.a[0]), sub(f.b[1], f.a[1])
		share := op().Quo(cross(sub(f.a[0], e.a[0]), sub(f.a[1], e.a[1]), fx, fy), cross(dx, dy, fx, fy))
		wantX, _ := op().Add(exact(e.a[0]), op().Mul(share, dx)).Float64()
		wantY, _ := op().Add(exact(e.a[1]), op().Mul(share, dy)).Float64()
		want := XY{wantX, wantY}
		for _, got := range []XY{crossingAt(e, f), crossingAt(f, e), crossingAt(edge{e.b, e.a}, f)} {
			if got != want {
				t.Errorf("%v and %v: %v, want %v", e, f, got, want)
			}
		}
	}
	if got := crossingAt(edge{XY{0, 0}, XY{10, 0}}, edge{XY{5, -1}, XY{5, 1}}); got != (XY{5, 0}) {
		t.Errorf("%v", got)
	}
}
