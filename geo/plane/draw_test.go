package plane

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
)

// turned turns a shape about the origin and moves it into a UTM zone.
func turned(s Shape, angle float64) Shape {
	sin, cos := math.Sincos(angle)
	out := make(Shape, len(s))
	for i, p := range s {
		for _, r := range p {
			var q orb.Ring
			for _, c := range r {
				q = append(q, orb.Point{5e5 + c[0]*cos - c[1]*sin, 4e6 + c[0]*sin + c[1]*cos})
			}
			out[i] = append(out[i], q)
		}
	}
	return out
}

// Draws from an L with a hole, level and slanted, counted in bins of equal
// area. The limit is the 0.999 point of chi-square by Wilson and Hilferty
// (1931), doi:10.1073/pnas.17.12.684.
func TestDrawUniform(t *testing.T) {
	const bin = 2.5
	ell := Shape{{ring(0, 0, 30, 0, 30, 10, 10, 10, 10, 30, 0, 30), reversed(rect(2.5, 2.5, 7.5, 7.5))}}
	for seed, angle := range []float64{0, 0.3, math.Pi / 2, 2.5} {
		d := NewDrawer(turned(ell, angle))
		sin, cos := math.Sincos(-angle)
		rnd := random(uint64(20 + seed))
		count := map[[2]int]int{}
		const n = 100_000
		for range n {
			p, ok := d.Draw(rnd)
			if !ok {
				t.Fatal("no draw")
			}
			x, y := p[0]-5e5, p[1]-4e6
			count[[2]int{int(math.Floor((x*cos-y*sin)/bin + 1e-9)), int(math.Floor((x*sin+y*cos)/bin + 1e-9))}]++
		}
		const bins = (500 - 25) / (bin * bin)
		if len(count) != bins {
			t.Fatalf("angle %g: draws in %d bins, want %g", angle, len(count), bins)
		}
		chi := 0.0
		for _, k := range count {
			chi += (float64(k) - n/bins) * (float64(k) - n/bins) / (n / bins)
		}
		const dof = bins - 1
		limit := dof * math.Pow(1-2/(9.0*dof)+3.0902*math.Sqrt(2/(9.0*dof)), 3)
		if chi > limit {
			t.Errorf("angle %g: chi-square %.1f over %.1f at %g degrees of freedom", angle, chi, limit, dof)
		}
	}
}

func TestDrawInside(t *testing.T) {
	rnd := random(30)
	for range 100 {
		s := append(blobShape(rnd, 300), Shape{{ring(6e5, 4e6, 6e5+1, 4e6+300, 6e5+1.001, 4e6+300)}}...)
		d := NewDrawer(s)
		if !near(d.Area(), s.Area(), 1e-9*s.Area()) {
			t.Fatalf("area %.6f, of the shape %.6f", d.Area(), s.Area())
		}
		if len(d.traps) > 2*s.Vertices() {
			t.Fatalf("%d trapezoids of %d vertices", len(d.traps), s.Vertices())
		}
		l := NewLocator(s)
		var e Edges
		e.AddShape(s)
		for range 300 {
			p, ok := d.Draw(rnd)
			if !ok || !l.Contains(p) && !e.Within(p, 1e-8) {
				t.Fatalf("%v lies outside", p)
			}
		}
	}
}

// However rings are written, touch or lie in each other, the area is theirs.
func TestDrawerAnyWriting(t *testing.T) {
	for name, s := range map[string]Shape{
		"clockwise":           {{reversed(rect(0, 0, 10, 10))}},
		"hole before":         {{rect(4, 4, 6, 6), rect(0, 0, 10, 10)}},
		"parts at one corner": {{rect(0, 0, 10, 10)}, {rect(10, 10, 20, 20)}},
		"holes at one corner": {{rect(0, 0, 30, 30), rect(5, 5, 10, 10), rect(10, 10, 15, 15), rect(10, 5, 15, 10)}},
		"diamonds":            {{ring(0, 0, 5, -5, 10, 0, 5, 5)}, {ring(10, 0, 15, -5, 20, 0, 15, 5)}},
		"stairs":              {{ring(0, 0, 30, 0, 30, 30, 20, 30, 20, 20, 10, 20, 10, 10, 0, 10)}},
		"comb":                {{ring(0, 0, 50, 0, 50, 9, 40, 1, 30, 9, 20, 1, 10, 9)}},
	} {
		want := 0.0
		for _, p := range s {
			shell := 0.0
			for _, r := range p {
				shell = max(shell, math.Abs(SignedArea(r)))
			}
			want += 2 * shell
			for _, r := range p {
				want -= math.Abs(SignedArea(r))
			}
		}
		if got := NewDrawer(s).Area(); !near(got, want, 1e-9) {
			t.Errorf("%s: %g, want %g", name, got, want)
		}
	}
}

func TestDrawNothing(t *testing.T) {
	for _, s := range []Shape{nil, {}, {{}}, {{{}}}, {{{{1, 1}}}}, {{ring(0, 0, 5, 5, 10, 10)}}, {{ring(0, 0, 5, 0, 10, 0)}}} {
		a, b := random(1), random(1)
		if p, ok := NewDrawer(s).Draw(a); ok {
			t.Errorf("%v: drew %v", s, p)
		}
		for range 3 {
			b.Float64()
		}
		if a.Uint64() != b.Uint64() {
			t.Error("a draw without place took other than three numbers")
		}
	}
}
