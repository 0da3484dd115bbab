package walk

import (
	"math"
	"testing"

	"corewalk/geo/plane"
	"github.com/paulmach/orb"
)

func TestWayCases(t *testing.T) {
	holed := rect(0, 0, 100, 100)
	holed[0] = append(holed[0], ringOf(40, 40, 40, 60, 60, 60, 60, 40))
	slit := polygon(0, 0, 100, 0, 100, 100, 51, 100, 51, 20, 50, 20, 50, 100, 0, 100) // a creek into a pond
	diagonal := polygon(0, 0, 100, 33, 90, 70, -10, 37)
	onSide := func(t float64) plane.XY { return xy(100*t, 33*t) } // rounded off the side
	var comb []float64
	for i := range 20 { // teeth, all tips on one level
		comb = append(comb, float64(i*10), 0, float64(i*10+5), 100)
	}
	comb = append(comb, 200, -10, 0, -10)
	cases := []struct {
		name  string
		g     []plane.Shape
		a, b  plane.XY
		want  float64 // -1: no way
		bends int
	}{
		{"open ground", nil, xy(0, 0), xy(30, 40), 50, 0},
		{"one place", nil, xy(3, 4), xy(3, 4), 0, 0},
		{"past", []plane.Shape{rect(0, 0, 10, 10)}, xy(-5, 20), xy(20, 20), 25, 0},
		{"round a square", []plane.Shape{rect(0, 0, 100, 100)}, xy(-10, 90), xy(110, 90), 100 + 2*math.Sqrt(200), 2},
		{"corner to corner across", []plane.Shape{rect(0, 0, 100, 100)}, xy(0, 0), xy(100, 100), 200, 1},
		{"along a side", []plane.Shape{rect(0, 0, 100, 100)}, xy(0, 0), xy(100, 0), 100, 0},
		{"along the line of a side", []plane.Shape{rect(0, 0, 100, 100)}, xy(-50, 0), xy(150, 0), 200, 0},
		{"on opposite sides", []plane.Shape{rect(0, 0, 100, 100)}, xy(30, 0), xy(30, 100), 30 + 100 + 30, 2},
		{"on one sloping side", []plane.Shape{diagonal}, onSide(1 / 7.), onSide(6 / 7.), 5 / 7. * math.Hypot(100, 33), 0},
		{"from a sloping side away", []plane.Shape{diagonal}, onSide(1 / 7.), xy(100, 0), onSide(1 / 7.).Distance(xy(100, 0)), 0},
		{"a hair inside a side", []plane.Shape{rect(0, 0, 100, 100)}, xy(30, 1e-8), xy(-10, 0), 40, 0},
		{"inside", []plane.Shape{rect(0, 0, 100, 100)}, xy(50, 50), xy(-10, 0), -1, 0},
		{"both inside", []plane.Shape{rect(0, 0, 100, 100)}, xy(50, 50), xy(51, 50), -1, 0},
		{"one place inside", []plane.Shape{rect(0, 0, 100, 100)}, xy(50, 50), xy(50, 50), -1, 0},
		{"on an island", []plane.Shape{holed}, xy(50, 50), xy(-10, 0), -1, 0},
		{"within an island", []plane.Shape{holed}, xy(41, 41), xy(59, 41), 18, 0},
		{"across an island's shore", []plane.Shape{holed}, xy(40, 40), xy(60, 60), math.Sqrt(800), 0},
		{"ring of four", []plane.Shape{rect(0, 0, 100, 10), rect(90, 5, 100, 100), rect(0, 90, 95, 100), rect(0, 5, 10, 95)}, xy(50, 50), xy(-10, 0), -1, 0},
		{"ring with a gate", []plane.Shape{rect(0, 0, 100, 10), rect(90, 5, 100, 100), rect(0, 90, 95, 100), rect(0, 12, 10, 95)}, xy(5, 11), xy(-10, 11), 15, 0},
		{"up a creek", []plane.Shape{slit}, xy(50.5, 20), xy(50.5, 110), 90, 0},
		{"from creek to side", []plane.Shape{slit}, xy(50, 20), xy(0, 100), 80 + 50, 1},
		{"overlapping", []plane.Shape{rect(0, 0, 60, 10), rect(50, 0, 100, 10)}, xy(55, -10), xy(55, 20), 10 + 2*math.Hypot(45, 10), 2},
		{"seam of two", []plane.Shape{rect(0, 0, 50, 10), rect(50, 0, 100, 10)}, xy(50, -10), xy(50, 20), 10 + 2*math.Hypot(50, 10), 2},
		{"seam of unlike sides", []plane.Shape{rect(0, 0, 50, 10), rect(50, -5, 100, 15)}, xy(50, -10), xy(50, 20), 10 + math.Hypot(50, 10) + math.Hypot(50, 10), 2},
		{"through the point where two touch", []plane.Shape{rect(0, 0, 50, 10), rect(50, 10, 100, 20)}, xy(40, 15), xy(60, 5), 2 * math.Hypot(10, 5), 0},
		{"the same twice", []plane.Shape{rect(0, 0, 100, 100), rect(0, 0, 100, 100)}, xy(-10, 90), xy(110, 90), 100 + 2*math.Sqrt(200), 2},
		{"one in another", []plane.Shape{rect(0, 0, 100, 100), rect(20, 20, 80, 80)}, xy(-10, 90), xy(110, 90), 100 + 2*math.Sqrt(200), 2},
		{"vertices along sides", []plane.Shape{polygon(0, 0, 50, 0, 100, 0, 100, 50, 100, 100, 50, 100, 0, 100, 0, 50)}, xy(-10, 90), xy(110, 90), 100 + 2*math.Sqrt(200), 2},
		{"a vertex twice", []plane.Shape{polygon(0, 0, 100, 0, 100, 0, 100, 100, 0, 100, 0, 100)}, xy(-10, 90), xy(110, 90), 100 + 2*math.Sqrt(200), 2},
		{"clockwise", []plane.Shape{polygon(0, 100, 100, 100, 100, 0, 0, 0)}, xy(-10, 90), xy(110, 90), 100 + 2*math.Sqrt(200), 2},
		{"tips of a comb", []plane.Shape{polygon(comb...)}, xy(5, 100), xy(195, 100), 190, 0},
		{"into a comb", []plane.Shape{polygon(comb...)}, xy(10, 1), xy(190, 1), 170 + 2*math.Hypot(5, 99), 2},
		{"empty shapes", []plane.Shape{{}, {{}}, {{orb.Ring{}}}}, xy(0, 0), xy(1, 0), 1, 0},
		{"not a number", []plane.Shape{polygon(0, 0, math.NaN(), 0, 9, 9)}, xy(0, 0), xy(1, 0), 1, 0},
	}
	for _, c := range cases {
		g := NewGround(c.g)
		for range 2 { // and back
			way, clear := g.Way(c.a, c.b)
			want := c.want
			if want < 0 {
				want = c.a.Distance(c.b)
			}
			if got := length(way); clear != (c.want >= 0) || math.Abs(got-want) > 1e-6 {
				t.Errorf("%s: way %v of %.9f m, clear %v; want %.9f", c.name, way, got, clear, c.want)
			}
			if way[0] != orb.Point(c.a) || way[len(way)-1] != orb.Point(c.b) {
				t.Errorf("%s: ends of %v", c.name, way)
			}
			// Straight corners may be named too, but not in the simplest cases.
			if clear && len(way)-2 < c.bends {
				t.Errorf("%s: %d bends in %v, want %d", c.name, len(way)-2, way, c.bends)
			}
			if got := g.Distance(c.a, c.b); got != length(way) {
				t.Errorf("%s: distance %v, way %v", c.name, got, length(way))
			}
			c.a, c.b = c.b, c.a
		}
	}
}

// Ways among random obstacles are as long as the second opinion's.
func TestWayIsShortest(t *testing.T) {
	rnd := random(1)
	blocked, none := 0, 0
	for n := range 60 {
		shapes := scene(rnd, 1+rnd.IntN(6))
		g, o := NewGround(shapes), newSecondOpinion(shapes)
		var stops []plane.XY
		for range 8 {
			stops = append(stops, xy(1200*rnd.Float64()-100, 1200*rnd.Float64()-100))
		}
		stops = append(stops, o.places[0], o.places[len(o.places)-1])
		s := o.sides[rnd.IntN(len(o.sides))]
		f := rnd.Float64()
		stops = append(stops, plane.XY{s[0][0] + f*(s[1][0]-s[0][0]), s[0][1] + f*(s[1][1]-s[0][1])})
		d := o.distances(stops)
		for i, a := range stops {
			for j, b := range stops {
				way, clear := g.Way(a, b)
				want := d[i][j]
				if i == j {
					continue
				}
				if clear == math.IsInf(want, 1) {
					t.Fatalf("scene %d: from %v to %v: clear %v, want %v", n, a, b, clear, want)
				}
				if !clear {
					none++
					continue
				}
				if len(way) > 2 {
					blocked++
				}
				if got := length(way); math.Abs(got-want) > 1e-6 {
					t.Fatalf("scene %d: from %v to %v: %.9f m, want %.9f", n, a, b, got, want)
				}
			}
		}
	}
	if blocked < 500 || none < 100 {
		t.Errorf("only %d ways with bends and %d pairs without a way", blocked, none)
	}
}

// A pond of many vertices, smooth or jagged, is walked round in good time.
func TestWayRoundManyVertices(t *testing.T) {
	const n, r = 10_000, 200.0
	var smooth, jagged []float64
	rnd := random(2)
	for i := range n {
		a := 2 * math.Pi * float64(i) / n
		smooth = append(smooth, r*math.Cos(a), r*math.Sin(a))
		q := r * (0.7 + 0.3*rnd.Float64())
		jagged = append(jagged, q*math.Cos(a), q*math.Sin(a))
	}
	g := NewGround([]plane.Shape{polygon(smooth...)})
	a, b := xy(-300, 0), xy(300, 0)
	tangent := math.Sqrt(300*300 - r*r)
	if got, want := g.Distance(a, b), 2*tangent+r*(math.Pi-2*math.Acos(r/300)); math.Abs(got-want) > 1e-4*want {
		t.Errorf("round a circle: %v m, want about %v", got, want)
	}
	g = NewGround([]plane.Shape{polygon(jagged...)})
	hull := plane.Hull(append([]plane.XY{a, b}, toXY(polygon(jagged...))...))
	if got, want := g.Distance(a, b), shorterSide(hull, a, b); math.Abs(got-want) > 1e-6*want {
		t.Errorf("round a jagged outline: %v m, want %v", got, want)
	}
	// From the bottom of one bay to that of another, and an island in it.
	s := polygon(jagged...)
	s[0] = append(s[0], blob(rnd, 0, 0, 100, 200)[0][0])
	g = NewGround([]plane.Shape{s})
	if _, clear := g.Way(xy(0, 0), a); clear {
		t.Error("a way from an island")
	}
	p, q := toXY(s)[17], toXY(s)[n/2]
	if _, clear := g.Way(p, q); !clear {
		t.Error("no way between two vertices of the shore")
	}
}

func toXY(s plane.Shape) []plane.XY {
	var out []plane.XY
	for _, p := range s[0][0] {
		out = append(out, plane.XY(p))
	}
	return out
}

// shorterSide walks round a hull from a to b both ways.
func shorterSide(hull []plane.XY, a, b plane.XY) float64 {
	var halves [2]float64
	n := len(hull)
	for i, p := range hull {
		if p == a {
			k := 0
			for j := i; ; j = (j + 1) % n {
				if hull[j] == b {
					k = 1
				}
				if k == 1 && hull[j] == a {
					break
				}
				halves[k] += hull[j].Distance(hull[(j+1)%n])
			}
		}
	}
	return min(halves[0], halves[1])
}

func BenchmarkDistance(b *testing.B) {
	r := random(14)
	var ponds []plane.Shape
	for range 1000 {
		ponds = append(ponds, blob(r, 10_000*r.Float64(), 10_000*r.Float64(), 60, 30))
	}
	g := NewGround(append(ponds, blob(r, -1000, 0, 200, 10_000)))
	for _, c := range []struct {
		name string
		a, b plane.XY
	}{
		{"open", xy(-500, 20), xy(-500, 50)},
		{"round=10000vertices", xy(-1300, 0), xy(-700, 0)},
		{"across=10km", xy(-100, -100), xy(9000, 9000)},
	} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				g.Distance(c.a, c.b)
			}
		})
	}
}
