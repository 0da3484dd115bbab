package plane

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
)

// The parts of a and b put together again are a and b.
func TestOverlayPartition(t *testing.T) {
	rnd := random(40)
	for n := range 200 {
		a := blobShape(rnd, 300)
		b := Shape{{blob(rnd, 431_000+300*rnd.Float64(), 4_651_000+300*rnd.Float64(), 150, 4+rnd.IntN(40))}}.Canonical()
		if n%5 == 0 {
			b = Shape{{reversed(a[0][0])}}.Canonical() // along the same edges
		}
		both, err1 := Intersect(a, b)
		onlyA, err2 := Subtract(a, b)
		onlyB, err3 := Subtract(b, a)
		all, err4 := Union(a, b)
		again, err5 := Union(onlyA, both, onlyB)
		for _, err := range []error{err1, err2, err3, err4, err5} {
			if err != nil {
				t.Fatal(err)
			}
		}
		for _, s := range []Shape{both, onlyA, onlyB, all, again} {
			checkWellFormed(t, s)
		}
		limit := 1e-9 * all.Area()
		if !near(both.Area()+onlyA.Area(), a.Area(), limit) || !near(both.Area()+onlyB.Area(), b.Area(), limit) ||
			!near(all.Area(), both.Area()+onlyA.Area()+onlyB.Area(), limit) || !near(again.Area(), all.Area(), 1e-8*all.Area()) {
			t.Errorf("case %d: a %.4f, b %.4f, both %.4f, only a %.4f, only b %.4f, all %.4f, again %.4f", n, a.Area(), b.Area(), both.Area(), onlyA.Area(), onlyB.Area(), all.Area(), again.Area())
		}
	}
}

func TestOverlayOfTouching(t *testing.T) {
	a := Shape{{rect(0, 0, 10, 10)}}
	for name, c := range map[string]struct {
		b                         Shape
		both, onlyA, all, allHave float64
	}{
		"side by side":  {Shape{{rect(10, 0, 20, 10)}}, 0, 100, 200, 1},
		"at a corner":   {Shape{{rect(10, 10, 20, 20)}}, 0, 100, 200, 2},
		"apart":         {Shape{{rect(30, 0, 40, 10)}}, 0, 100, 200, 2},
		"the same":      {Shape{{rect(0, 0, 10, 10)}}, 100, 0, 100, 1},
		"nested":        {Shape{{rect(4, 4, 6, 6)}}, 4, 96, 100, 1},
		"round it":      {Shape{{rect(-5, -5, 15, 15)}}, 100, 0, 400, 1},
		"in its hole":   {Shape{{rect(-5, -5, 15, 15), reversed(rect(0, 0, 10, 10))}}, 0, 100, 400, 1},
		"by an overlap": {Shape{{rect(10-1e-9, 0, 20, 10)}}, 0, 100, 200, 1},
		"empty":         {nil, 0, 100, 100, 1},
	} {
		both, err1 := Intersect(a, c.b)
		onlyA, err2 := Subtract(a, c.b)
		all, err3 := Union(a, c.b)
		if err1 != nil || err2 != nil || err3 != nil {
			t.Fatalf("%s: %v %v %v", name, err1, err2, err3)
		}
		if !near(both.Area(), c.both, 1e-6) || !near(onlyA.Area(), c.onlyA, 1e-6) || !near(all.Area(), c.all, 1e-6) || len(all) != int(c.allHave) {
			t.Errorf("%s: both %g, only a %g, all %g in %d parts", name, both.Area(), onlyA.Area(), all.Area(), len(all))
		}
		if c.both == 0 && !both.Empty() {
			t.Errorf("%s: %v is no ground", name, both)
		}
	}
	for _, shapes := range [][]Shape{nil, {nil}, {nil, {}}} {
		if s, err := Union(shapes...); err != nil || !s.Empty() {
			t.Errorf("union of nothing: %v %v", s, err)
		}
	}
}

func TestBuffer(t *testing.T) {
	square := Shape{{rect(0, 0, 100, 100)}}
	quarter := 64 / 4 * math.Sin(2*math.Pi/64) / 2 // of a 64-gon in the unit circle
	for _, c := range []struct{ d, area float64 }{
		{0, 1e4}, {-10, 6400}, {-49.999, 0.002 * 0.002}, {-50, 0}, {-60, 0},
		{10, 1e4 + 4*100*10 + 4*quarter*100},
	} {
		s, err := Buffer(square, c.d)
		if err != nil || !near(s.Area(), c.area, 1e-3) || (c.area < crumb) != s.Empty() {
			t.Errorf("%g: area %g, want %g, %v", c.d, s.Area(), c.area, err)
		}
		checkWellFormed(t, s)
	}
	// A field with a neck falls into two, a hole grows.
	neck := Shape{{ring(0, 0, 40, 0, 40, 18, 60, 18, 60, 0, 100, 0, 100, 40, 60, 40, 60, 22, 40, 22, 40, 40, 0, 40)}}
	if s, err := Buffer(neck, -3); err != nil || len(s) != 2 {
		t.Errorf("%d parts, %v", len(s), err)
	}
	holed := Shape{{rect(0, 0, 100, 100), reversed(rect(40, 40, 60, 60))}}
	if s, err := Buffer(holed, -5); err != nil || len(s) != 1 || len(s[0]) != 2 || !near(s.Area(), 8100-400-4*20*5-4*quarter*25, 1e-3) {
		t.Errorf("area %g, %v", s.Area(), err)
	}
	disc, err := BufferPoint(XY{5e5, 4e6}, 10)
	if err != nil || !near(disc.Area(), 4*quarter*100, 1e-6) {
		t.Errorf("disc of %g, %v", disc.Area(), err)
	}
	for name, l := range map[string]Line{"point": {{0, 0}}, "still": {{0, 0}, {0, 0}, {0, 0}}} {
		if s, err := BufferLine(l, 10); err != nil || !near(s.Area(), 4*quarter*100, 1e-6) {
			t.Errorf("%s: %g, %v", name, s.Area(), err)
		}
	}
	if s, err := BufferLine(Line{{0, 0}, {50, 0}}, 10); err != nil || !near(s.Area(), 1000+4*quarter*100, 1e-6) {
		t.Errorf("line: %g, %v", s.Area(), err)
	}
	for _, d := range []float64{0, -1} {
		for _, l := range []Line{nil, {{0, 0}}, {{0, 0}, {5, 5}}} {
			if s, err := BufferLine(l, d); err != nil || !s.Empty() {
				t.Errorf("%v by %g: %v, %v", l, d, s, err)
			}
		}
	}
	for _, d := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300} {
		_, err1 := Buffer(square, d)
		_, err2 := BufferPoint(XY{}, d)
		_, err3 := BufferLine(Line{{0, 0}, {5, 5}}, d)
		if err1 == nil || err2 == nil || err3 == nil && d > 0 {
			t.Errorf("setback %g: %v %v %v", d, err1, err2, err3)
		}
	}
}

// A rough outline is thinned: what comes out is the setback to a tenth of it.
func TestBufferThins(t *testing.T) {
	rnd := random(41)
	rough := func(n int) Shape {
		var r orb.Ring
		for i := range n {
			a := 2 * math.Pi * float64(i) / float64(n)
			at := 400 + rnd.Float64()*0.3
			r = append(r, orb.Point{at * math.Cos(a), at * math.Sin(a)})
		}
		return Shape{{append(r, r[0])}}
	}
	s := rough(20_000)
	inner, err := Buffer(s, -15)
	if err != nil || !near(inner.Area(), math.Pi*385*385, 0.005*inner.Area()) {
		t.Errorf("area %g, %v", inner.Area(), err)
	}
	var e Edges
	e.AddShape(s)
	l := NewLocator(s)
	inner.edges(func(a, _ XY) {
		if d := e.Distance(a, 100); !l.Contains(a) || d < 13.5 || d > 16.5 {
			t.Fatalf("%v is %g m from the outline", a, d)
		}
	})
	if _, err := Buffer(rough(60_000), 0.01); err == nil {
		t.Error("60,000 rough vertices went through")
	}
	small := Shape{{rect(0, 0, 1, 1), reversed(rect(0.4, 0.4, 0.6, 0.6))}}
	if got := small.thin(50); got.Vertices() != 8 {
		t.Errorf("small rings vanished: %v", got)
	}
	if got := rough(2000).thin(10); got.Vertices() > 260 || got.Vertices() < 200 {
		t.Errorf("%d vertices left of a ring of 2.5 km at 10 m", got.Vertices())
	}
}

func TestSharedEdge(t *testing.T) {
	a := Shape{{rect(0, 0, 10, 10)}}
	for name, c := range map[string]struct {
		b    Shape
		want float64
	}{
		"side by side":            {Shape{{rect(10, 0, 20, 10)}}, 10},
		"half":                    {Shape{{rect(10, 5, 20, 15)}}, 5},
		"half a millimetre off":   {Shape{{rect(10.0005, 0, 20, 10)}}, 10},
		"two millimetres off":     {Shape{{rect(10.002, 0, 20, 10)}}, 0},
		"at a corner":             {Shape{{rect(10, 10, 20, 20)}}, 0},
		"apart":                   {Shape{{rect(11, 0, 20, 10)}}, 0},
		"the same":                {a, 40},
		"round it":                {Shape{{rect(-5, -5, 15, 15), reversed(rect(0, 0, 10, 10))}}, 40},
		"crossing":                {Shape{{rect(5, -5, 6, 15)}}, 0},
		"two parts":               {Shape{{rect(10, 0, 20, 4)}, {rect(10, 6, 20, 10)}}, 8},
		"short beside a long one": {Shape{{rect(10, -1e5, 20, 1e5)}}, 10},
		"empty":                   {nil, 0},
	} {
		if got, back := SharedEdge(a, c.b), SharedEdge(c.b, a); !near(got, c.want, 1e-6) || !near(back, c.want, 1e-6) {
			t.Errorf("%s: %g, %g the other way, want %g", name, got, back, c.want)
		}
	}
	// A field cut by a slanted line: both parts border along it.
	rnd := random(42)
	for range 100 {
		s := blobShape(rnd, 300)
		x, slant := 431_000+100*rnd.Float64(), 400*(rnd.Float64()-0.5)
		half := Shape{{ring(x-slant, 4.65e6, x+slant, 4.652e6, 4.4e5, 4.652e6, 4.4e5, 4.65e6)}}.Canonical()
		in, err := Intersect(s, half)
		if err != nil {
			t.Fatal(err)
		}
		out, err := Subtract(s, half)
		if err != nil {
			t.Fatal(err)
		}
		want := (in.Perimeter() + out.Perimeter() - s.Perimeter()) / 2
		if got := SharedEdge(in, out); !near(got, want, 0.01) {
			t.Fatalf("%g m, want %g", got, want)
		}
	}
}
