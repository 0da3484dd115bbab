package strata

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
)

// ring closes a ring of corners given about an easting and northing such as a
// field has.
func ring(corners ...float64) orb.Ring {
	var r orb.Ring
	for i := 0; i+1 < len(corners); i += 2 {
		r = append(r, orb.Point{450_000 + corners[i], 4_650_000 + corners[i+1]})
	}
	return append(r, r[0])
}

func mustShape(t testing.TB, polygons ...orb.Polygon) plane.Shape {
	t.Helper()
	s, _, err := plane.New(orb.MultiPolygon(polygons))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// star is a ring of n corners about a middle, between half and the whole of a
// radius away from it.
func star(r *rand.Rand, x, y, radius float64, n int) orb.Ring {
	var c []float64
	for i := range n {
		a := (float64(i) + 0.7*r.Float64()) * 2 * math.Pi / float64(n)
		d := radius * (0.5 + 0.5*r.Float64())
		c = append(c, x+d*math.Cos(a), y+d*math.Sin(a))
	}
	return ring(c...)
}

func turned(s plane.Shape, angle float64) plane.Shape {
	sin, cos := math.Sincos(angle)
	out := plane.Shape{}
	for _, polygon := range s {
		var q orb.Polygon
		for _, r := range polygon {
			var u orb.Ring
			for _, p := range r {
				x, y := p[0]-450_000, p[1]-4_650_000
				u = append(u, orb.Point{450_000 + cos*x - sin*y, 4_650_000 + sin*x + cos*y})
			}
			q = append(q, u)
		}
		out = append(out, q)
	}
	return out.Canonical()
}

// grounds are shapes of every kind that strata must come to terms with.
func grounds(t testing.TB) map[string]plane.Shape {
	r := rand.New(rand.NewPCG(3, 14))
	out := map[string]plane.Shape{
		"square": mustShape(t, orb.Polygon{ring(0, 0, 400, 0, 400, 400, 0, 400)}),
		"L":      mustShape(t, orb.Polygon{ring(0, 0, 800, 0, 800, 120, 120, 120, 120, 700, 0, 700)}),
		"U":      mustShape(t, orb.Polygon{ring(0, 0, 600, 0, 600, 500, 500, 500, 500, 80, 100, 80, 100, 500, 0, 500)}),
		"strip":  mustShape(t, orb.Polygon{ring(0, 0, 2000, 0, 2000, 18, 0, 18)}),
		"slanting strip": turned(mustShape(t, orb.Polygon{ring(0, 0, 2000, 0, 2000, 12, 0, 12)}),
			0.6),
		"holes": mustShape(t, orb.Polygon{ring(0, 0, 700, 0, 700, 500, 0, 500),
			ring(50, 50, 50, 450, 300, 450, 300, 50), ring(350, 100, 650, 100, 650, 300, 350, 300)}),
		"ring": mustShape(t, orb.Polygon{ring(0, 0, 500, 0, 500, 500, 0, 500), ring(30, 30, 30, 470, 470, 470, 470, 30)}),
		"far parts": mustShape(t, orb.Polygon{ring(0, 0, 310, 0, 310, 200, 0, 200)},
			orb.Polygon{ring(3000, 500, 3170, 500, 3170, 690, 3000, 690)}, orb.Polygon{ring(-900, 1500, -870, 1500, -870, 1530, -900, 1530)}),
		"crumbs": mustShape(t, orb.Polygon{ring(0, 0, 20, 0, 20, 20, 0, 20)}, orb.Polygon{ring(100, 0, 120, 0, 120, 20, 100, 20)},
			orb.Polygon{ring(0, 100, 21, 100, 21, 120, 0, 120)}, orb.Polygon{ring(100, 100, 120, 100, 120, 119, 100, 119)},
			orb.Polygon{ring(300, 100, 320, 100, 320, 119, 300, 119)}),
		"wedge": mustShape(t, orb.Polygon{ring(0, 0, 900, 0, 900, 160)}),
		"comb": mustShape(t, orb.Polygon{ring(0, 0, 300, 0, 300, 300, 280, 300, 280, 20, 220, 20, 220, 300, 200, 300, 200, 20,
			140, 20, 140, 300, 120, 300, 120, 20, 20, 20, 20, 300, 0, 300)}),
	}
	for i := range 12 {
		n := 5 + r.IntN(60)
		s := mustShape(t, orb.Polygon{star(r, 0, 0, 450, n)})
		if i%3 == 1 {
			hole := mustShape(t, orb.Polygon{star(r, 60, -40, 150, 9)})
			var err error
			if s, err = plane.Subtract(s, hole); err != nil {
				t.Fatal(err)
			}
		}
		if i%3 == 2 {
			more := mustShape(t, orb.Polygon{star(r, 1100, 300, 200, 7)})
			s = append(s, more...).Canonical()
		}
		out[fmt.Sprintf("rough %d", i)] = s
	}
	return out
}

// checkStrata holds strata against what strata promises and returns the share
// by which the areas differ.
func checkStrata(t *testing.T, ground plane.Shape, n int, got []plane.Shape) float64 {
	t.Helper()
	if len(got) != n {
		t.Fatalf("%d Compact, want %d", len(got), n)
	}
	least, most, sum := math.Inf(1), 0.0, 0.0
	for _, s := range got {
		least, most = min(least, s.Area()), max(most, s.Area())
		sum += s.Area()
	}
	whole, err := plane.Union(got...)
	if err != nil {
		t.Fatal(err)
	}
	over, err := plane.Subtract(whole, ground)
	if err != nil {
		t.Fatal(err)
	}
	gap, err := plane.Subtract(ground, whole)
	if err != nil {
		t.Fatal(err)
	}
	if a := ground.Area(); math.Abs(sum-a) > 1e-6*a+1e-3 || over.Area() > 1e-3 || gap.Area() > 1e-3 {
		t.Errorf("strata of %.6f m² do not partition ground of %.6f m²: %.6f m² beyond it, %.6f m² left", sum, a, over.Area(), gap.Area())
	}
	return (most - least) / (ground.Area() / float64(n))
}

func TestStrataAreEqualAndPartition(t *testing.T) { strataAreEqual(t, 3, 11) }

// strataAreEqual splits grounds of every kind into so many strata.
func strataAreEqual(t *testing.T, counts ...int) {
	for name, ground := range grounds(t) {
		t.Run(name, func(t *testing.T) {
			for _, n := range counts {
				got, err := Compact(ground, n, rand.New(rand.NewPCG(uint64(n), 1)))
				if err != nil {
					t.Errorf("n=%d: %v", n, err)
					continue
				}
				if off := checkStrata(t, ground, n, got); off > 0.005 {
					t.Errorf("n=%d: areas differ by %.3f %%", n, 100*off)
				}
			}
		})
	}
}

func TestRoughGroundIsSplit(t *testing.T) { roughIsSplit(t, 6) }

// roughIsSplit splits so many grounds with up to two holes and up to four parts,
// near to each other and far apart, by every effort.
func roughIsSplit(t *testing.T, count int) {
	r := rand.New(rand.NewPCG(99, 14))
	for i := range count {
		ground := mustShape(t, orb.Polygon{star(r, 0, 0, 450, 5+r.IntN(60))})
		for range r.IntN(3) {
			hole := mustShape(t, orb.Polygon{star(r, 300*r.Float64()-150, 300*r.Float64()-150, 50+120*r.Float64(), 9)})
			var err error
			if ground, err = plane.Subtract(ground, hole); err != nil {
				t.Fatal(err)
			}
		}
		for k := range r.IntN(4) {
			ground = append(ground, mustShape(t, orb.Polygon{star(r, 1100*float64(k+1), 300, 30+200*r.Float64(), 7)})...).Canonical()
		}
		n := 2 + r.IntN(50)
		for name, split := range map[string]splitter{"strata": Compact, "Quick": Quick} {
			got, err := split(ground, n, rand.New(rand.NewPCG(uint64(i), 1)))
			if err != nil {
				t.Errorf("%s of ground %d, n=%d: %v", name, i, n, err)
			} else if off := checkStrata(t, ground, n, got); off > 0.005 {
				t.Errorf("%s of ground %d, n=%d: areas differ by %.3f %%", name, i, n, 100*off)
			}
		}
	}
}

func TestStrataAreDeterministic(t *testing.T) {
	ground := grounds(t)["rough 4"]
	make := func(seed uint64) []plane.Shape {
		s, err := Compact(ground, 17, rand.New(rand.NewPCG(seed, 1)))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	if a, b := make(5), make(5); !reflect.DeepEqual(a, b) {
		t.Error("one seed gave different strata")
	}
	if a, b := make(5), make(6); reflect.DeepEqual(a, b) {
		t.Error("two seeds gave the same strata")
	}
}

func TestStrataRefused(t *testing.T) {
	small := mustShape(t, orb.Polygon{ring(0, 0, 5, 0, 5, 5, 0, 5)})
	large := mustShape(t, orb.Polygon{ring(0, 0, 500, 0, 500, 500, 0, 500)})
	if _, err := Compact(large, Most+1, rand.New(rand.NewPCG(1, 1))); err == nil || !strings.Contains(err.Error(), "more than can be formed (300)") {
		t.Errorf("one stratum too many: %v", err)
	}
	for _, n := range []int{26, Most + 1, 1 << 30} {
		if got, err := Compact(small, n, rand.New(rand.NewPCG(1, 1))); err == nil {
			t.Errorf("%d strata of 25 m² were formed: %d", n, len(got))
		}
	}
	if got, err := Compact(nil, 3, rand.New(rand.NewPCG(1, 1))); err != nil || len(got) != 1 {
		t.Errorf("empty ground gave %v, %v", got, err)
	}
}

// spreadOf is the mean squared distance to the middle of its stratum, m².
func spreadOf(strata []plane.Shape) float64 {
	var square, area float64
	for _, s := range strata {
		middle, _ := s.Centroid()
		m := moments{about: middle}
		for _, polygon := range s {
			for _, ring := range polygon {
				for i := 1; i < len(ring); i++ {
					m.add(plane.XY(ring[i-1]), plane.XY(ring[i]))
				}
			}
		}
		square += m.square - (m.x*m.x+m.y*m.y)/m.area
		area += m.area
	}
	return square / area
}

func TestSpread(t *testing.T) {
	// Of a rectangle a by b it is (a² + b²) / 12.
	two := []plane.Shape{mustShape(t, orb.Polygon{ring(0, 0, 60, 0, 60, 30, 0, 30)}),
		mustShape(t, orb.Polygon{ring(60, 0, 80, 0, 80, 90, 60, 90)})}
	if got, want := spreadOf(two), (375+8500.0/12)/2; math.Abs(got-want) > 1e-6 {
		t.Errorf("spread %.6f m², want %.6f", got, want)
	}
}

// fields are grounds of the forms that fields have.
func fields(t testing.TB) (names []string, out map[string]plane.Shape) {
	out = map[string]plane.Shape{}
	for _, aspect := range []float64{1, 1.3, 2, 5, 20} {
		name, h := fmt.Sprintf("1:%g", aspect), math.Sqrt(65*1e4/aspect)
		names = append(names, name)
		out[name] = mustShape(t, orb.Polygon{ring(0, 0, aspect*h, 0, aspect*h, h, 0, h)})
	}
	names = append(names, "stout L")
	out["stout L"] = mustShape(t, orb.Polygon{ring(0, 0, 900, 0, 900, 400, 500, 400, 500, 1000, 0, 1000)})
	all := grounds(t)
	// Of the rough ones 1 and 4 have a hole, 2 has two parts.
	for _, name := range []string{"L", "holes", "rough 1", "rough 4", "rough 2", "far parts"} {
		names = append(names, name)
		out[name] = all[name]
	}
	return names, out
}

type splitter func(plane.Shape, int, *rand.Rand) ([]plane.Shape, error)

// areCompact fails when among runs, one for each seed, is one whose strata are
// less compact than the best by more than a share, or not equal.
func areCompact(t *testing.T, split splitter, ground plane.Shape, n, runs int, share float64) {
	t.Helper()
	spreads := make([]float64, runs)
	var off float64
	for i := range spreads {
		got, err := split(ground, n, rand.New(rand.NewPCG(uint64(i), 5)))
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range got {
			off = max(off, math.Abs(s.Area()*float64(n)/ground.Area()-1))
		}
		spreads[i] = spreadOf(got)
	}
	best, worst, mean := slices.Min(spreads), slices.Max(spreads), 0.0
	for _, s := range spreads {
		mean += s / float64(runs)
	}
	t.Logf("mean squared distance %.1f m² at best of %d runs; on average %.2f %% above, at worst %.2f %%; areas off by %.4f %% at most",
		best, runs, 100*(mean/best-1), 100*(worst/best-1), 100*off)
	if worst > (1+share)*best {
		t.Errorf("mean squared distance %.1f m², of the best of %d runs %.1f", worst, runs, best)
	}
	if off > 0.01 {
		t.Errorf("areas are off by %.3f %%", 100*off)
	}
}

func TestStrataAreCompact(t *testing.T) {
	_, all := fields(t)
	for _, name := range []string{"1:1.3", "L", "rough 1", "rough 2"} {
		for _, n := range []int{5, 20} {
			t.Run(fmt.Sprintf("%s/n=%d", name, n), func(t *testing.T) { areCompact(t, Compact, all[name], n, 6, 0.01) })
		}
	}
}

func TestQuickStrataAreCompact(t *testing.T) {
	_, all := fields(t)
	for _, name := range []string{"1:1", "1:2", "stout L", "rough 4"} {
		t.Run(name, func(t *testing.T) { areCompact(t, Quick, all[name], 15, 20, 0.03) })
	}
}

func BenchmarkStrata(b *testing.B) {
	r := rand.New(rand.NewPCG(8, 8))
	for _, c := range []struct{ corners, n int }{{40, 40}, {400, 40}, {5000, 40}, {400, 200}, {400, Most}} {
		ground := mustShape(b, orb.Polygon{star(r, 0, 0, 1, c.corners)})
		// 65 ha.
		grow := math.Sqrt(65 * 1e4 / ground.Area())
		for _, p := range ground[0] {
			for i := range p {
				p[i] = orb.Point{450_000 + (p[i][0]-450_000)*grow, 4_650_000 + (p[i][1]-4_650_000)*grow}
			}
		}
		b.Run(fmt.Sprintf("corners=%d/n=%d", c.corners, c.n), func(b *testing.B) {
			for b.Loop() {
				if _, err := Compact(ground, c.n, rand.New(rand.NewPCG(1, 1))); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// A square of 1 ha into 15 is what a plan asks for most often.
func BenchmarkQuickStrata(b *testing.B) {
	r := rand.New(rand.NewPCG(8, 8))
	square := mustShape(b, orb.Polygon{ring(0, 0, 100, 0, 100, 100, 0, 100)})
	for _, c := range []struct {
		name   string
		ground plane.Shape
	}{
		{"square", square},
		{"rough", mustShape(b, orb.Polygon{star(r, 0, 0, 75, 40)})},
	} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := Quick(c.ground, 15, rand.New(rand.NewPCG(1, 1))); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
