package plane

import (
	"math"
	"testing"
)

func TestLocator(t *testing.T) {
	rnd := random(10)
	for range 100 {
		s := blobShape(rnd, 300)
		b := s.Bound().Pad(20)
		l := NewLocator(s)
		for range 500 {
			p := XY{b.Min[0] + rnd.Float64()*(b.Max[0]-b.Min[0]), b.Min[1] + rnd.Float64()*(b.Max[1]-b.Min[1])}
			if l.Contains(p) != evenOddInside(s, p) {
				t.Fatalf("%v in %v: %v", p, s, l.Contains(p))
			}
		}
		s.edges(func(a, _ XY) {
			if !l.Contains(a) {
				t.Fatalf("the vertex %v does not belong to the shape", a)
			}
		})
	}
	//  y
	//  4 +-------+
	//  3 |  +-+  |    the outline belongs to the shape,
	//  1 |  +-+  |    that of the hole too
	//  0 +-------+
	//    0  1 3  4 x
	l := NewLocator(Shape{{rect(0, 0, 4, 4), reversed(rect(1, 1, 3, 3))}})
	for p, want := range map[XY]bool{
		{0, 0}: true, {4, 4}: true, {2, 0}: true, {0, 2}: true, {4, 2}: true, {2, 4}: true,
		{1, 1}: true, {3, 3}: true, {1, 2}: true, {2, 1}: true, {3, 2}: true, {2, 3}: true,
		{0.5, 1}: true, {0.5, 3}: true, {3.5, 1}: true, {2, 2}: false, {1.0001, 1.0001}: false,
		{-1, 0}: false, {5, 0}: false, {-1, 4}: false, {5, 4}: false, {2, 4.0001}: false, {2, -0.0001}: false,
		{math.NaN(), 2}: false, {2, math.Inf(1)}: false,
	} {
		if l.Contains(p) != want {
			t.Errorf("%v: %v", p, !want)
		}
	}
	if NewLocator(nil).Contains(XY{}) {
		t.Error("the empty shape holds a place")
	}
}

func TestEdges(t *testing.T) {
	rnd := random(11)
	for range 40 {
		s := blobShape(rnd, 100)
		var e Edges
		e.AddShape(s)
		b := s.Bound()
		for range 20 {
			p := XY{b.Min[0] + rnd.Float64()*200, b.Min[1] + rnd.Float64()*200}
			d := bruteDistance(s, p) // never too small, too great by 1e-4 or so
			got := e.Distance(p, 1000)
			if got > d+1e-9 || got < d-0.01 {
				t.Fatalf("%v: %g, by steps %g", p, got, d)
			}
			if e.Within(p, got) || !e.Within(p, got+1e-6) || (got > 1e-6 && e.Within(p, got-1e-6)) {
				t.Fatalf("within %g", got)
			}
			if r := got / 2; e.Distance(p, r) != r {
				t.Fatalf("beyond its reach: %g", e.Distance(p, r))
			}
		}
	}
	var e Edges
	if e.Within(XY{}, 10) || e.Distance(XY{}, 10) != 10 {
		t.Error("nothing is near")
	}
	e.AddLine(Line{{0, 0}})
	e.AddLine(Line{{10, 0}, {10, 0}})
	e.AddLine(Line{{20, 0}, {30, 0}})
	e.AddLine(nil)
	e.AddPoint(XY{0, 40})
	for p, want := range map[XY]float64{{0, 3}: 3, {10, 2}: 2, {25, 4}: 4, {33, 4}: 5, {0, 38}: 2, {20, 0}: 0} {
		if got := e.Distance(p, 100); !near(got, want, 1e-12) {
			t.Errorf("%v: %g, want %g", p, got, want)
		}
	}
}
