package walk

import (
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"corewalk/geo/plane"
)

// scatter makes groups of stops: each in a square of its own among many.
func scatter(r *rand.Rand, groups, stops int) [][]plane.XY {
	out := make([][]plane.XY, groups)
	across := int(math.Ceil(math.Sqrt(float64(groups))))
	for g := range out {
		for range stops {
			out[g] = append(out[g], xy(100*(float64(g%across)+r.Float64()), 100*(float64(g/across)+r.Float64())))
		}
	}
	return out
}

// check finds fault with an order as such, and returns the length of the walk
// by the given distances.
func check(t *testing.T, o Order, groups [][]plane.XY, d func(p, q plane.XY) float64, start *plane.XY) float64 {
	t.Helper()
	if !isPermutation(o.Groups, len(groups)) || len(o.Stops) != len(groups) {
		t.Fatalf("groups %v of %d, stops of %d", o.Groups, len(groups), len(o.Stops))
	}
	var sum float64
	last := start
	for _, g := range o.Groups {
		if !isPermutation(o.Stops[g], len(groups[g])) {
			t.Fatalf("stops %v of %d in group %d", o.Stops[g], len(groups[g]), g)
		}
		for _, s := range o.Stops[g] {
			if last != nil {
				sum += d(*last, groups[g][s])
			}
			last = &groups[g][s]
		}
	}
	if math.Abs(sum-o.Metres) > 1e-6*(1+sum) {
		t.Fatalf("%v metres, want %v", o.Metres, sum)
	}
	return sum
}

func isPermutation(list []int, n int) bool {
	sorted := slices.Sorted(slices.Values(list))
	for i, k := range sorted {
		if i != k {
			return false
		}
	}
	return len(list) == n
}

func crow(p, q plane.XY) float64 { return p.Distance(q) }

// Small walks are within 3 % of the shortest there is, and 0.3 % on average.
func TestNearOptimum(t *testing.T) {
	cases := []struct {
		name   string
		groups func(r *rand.Rand) [][]plane.XY
	}{
		{"one group", func(r *rand.Rand) [][]plane.XY { return scatter(r, 1, 1+r.IntN(12)) }},
		{"apart", func(r *rand.Rand) [][]plane.XY {
			k := 2 + r.IntN(4)
			return scatter(r, k, 12/k)
		}},
		{"mingled", func(r *rand.Rand) [][]plane.XY {
			out := make([][]plane.XY, 1+r.IntN(5))
			for range 12 {
				g := r.IntN(len(out))
				out[g] = append(out[g], xy(300*r.Float64(), 300*r.Float64()))
			}
			return out
		}},
		{"of one stop", func(r *rand.Rand) [][]plane.XY { return scatter(r, 11, 1) }},
		{"on a line, some twice", func(r *rand.Rand) [][]plane.XY {
			out := make([][]plane.XY, 3)
			for i := range 12 {
				out[i%3] = append(out[i%3], xy(float64(r.IntN(10)), 0))
			}
			return out
		}},
	}
	for n, c := range cases {
		for _, from := range []bool{true, false} {
			r := random(uint64(100 + n))
			var sum, worst float64
			const many = 200
			for range many {
				groups := c.groups(r)
				var start *plane.XY
				if from {
					p := xy(400*r.Float64()-50, 400*r.Float64()-50)
					start = &p
				}
				stops, group := flat(groups)
				d := straight(start, stops)
				got := check(t, Shortest(nil, start, groups), groups, crow, start)
				want := best(d, group)
				if got < want-1e-6 {
					t.Fatalf("%s: %v m, shorter than the shortest, %v", c.name, got, want)
				}
				excess := 0.0
				if want > 0 {
					excess = got/want - 1
				}
				sum, worst = sum+excess, max(worst, excess)
				first := 0
				if !from {
					first = southWest(stops)
				}
				if near := nearestFirst(d, group, first); got > near+1e-6 {
					t.Errorf("%s: %v m, by nearest first %v", c.name, got, near)
				}
			}
			t.Logf("%s, start %v: %.4f %% over the shortest on average, %.4f %% at most", c.name, from, 100*sum/many, 100*worst)
			if worst > 0.03 || sum/many > 0.003 {
				t.Errorf("%s, start %v: %.3f %% over the shortest on average, %.3f %% at most", c.name, from, 100*sum/many, 100*worst)
			}
		}
	}
}

// southWest is the south-westernmost stop.
func southWest(stops []plane.XY) int {
	k := 0
	for i, p := range stops {
		if (p[0]-east)+(p[1]-north) < (stops[k][0]-east)+(stops[k][1]-north) {
			k = i
		}
	}
	return k
}

// 200 stops are within 8 % of a length that no walk falls short of.
func TestNearLowerBound(t *testing.T) {
	r := random(7)
	for range 5 {
		groups := scatter(r, 1, 200)
		start := xy(-5, -5)
		d := straight(&start, groups[0])
		got := check(t, Shortest(nil, &start, groups), groups, crow, &start)
		least := bound(d, got)
		t.Logf("%.3f %% over the bound", 100*(got/least-1))
		if got < least || got > 1.08*least {
			t.Errorf("%v m, bound %v: %.2f %% over", got, least, 100*(got/least-1))
		}
		if near := nearestFirst(d, make([]int, 200), 0); got > near {
			t.Errorf("%v m, by nearest first %v", got, near)
		}
	}
}

// The bound is one: the dynamic programme never finds a shorter walk.
func TestBoundIsBelowOptimum(t *testing.T) {
	r := random(8)
	for range 50 {
		n := 3 + r.IntN(8)
		start := xy(100*r.Float64(), 100*r.Float64())
		d := straight(&start, scatter(r, 1, n)[0])
		want := best(d, make([]int, n))
		low := bound(d, want)
		if low > want+1e-9 || low < 0.8*want {
			t.Errorf("%d stops: bound %v, optimum %v", n, low, want)
		}
	}
}

func TestOrderRoundObstacles(t *testing.T) {
	r := random(9)
	bent := 0
	for range 25 {
		shapes := scene(r, 2+r.IntN(3))
		ground, o := NewGround(shapes), newSecondOpinion(shapes)
		groups := make([][]plane.XY, 1+r.IntN(4))
		start := xy(-200, -200)
		for n := 0; n < 9; {
			p := xy(1000*r.Float64(), 1000*r.Float64())
			if _, clear := ground.Way(start, p); clear {
				g := r.IntN(len(groups))
				groups[g] = append(groups[g], p)
				n++
			}
		}
		stops, group := flat(groups)
		all := append(slices.Clone(stops), start)
		d := o.distances(all)
		lookUp := func(p, q plane.XY) float64 {
			if p.Distance(q) < d[slices.Index(all, p)][slices.Index(all, q)]-1e-9 {
				bent++
			}
			return d[slices.Index(all, p)][slices.Index(all, q)]
		}
		got := check(t, Shortest(ground, &start, groups), groups, lookUp, &start)
		rows := make([][]float64, len(all))
		for i := range rows {
			rows[i] = d[i][:len(all)]
		}
		if want := best(rows, group); got > 1.03*want || got < want-1e-5 {
			t.Errorf("%v m, shortest %v", got, want)
		}
		if near := nearestFirst(rows, group, 0); got > near+1e-5 {
			t.Errorf("%v m, by nearest first %v", got, near)
		}
	}
	if bent < 30 {
		t.Errorf("only %d legs round obstacles", bent)
	}
}

func TestOrderIsTheSameEveryTime(t *testing.T) {
	r := random(10)
	pond := []plane.Shape{blob(r, 200, 200, 90, 12)}
	for _, c := range []struct{ groups, stops int }{{1, 60}, {40, 15}, {120, 15}} {
		groups := scatter(r, c.groups, c.stops)
		moved, shifted := make([][]plane.XY, len(groups)), [2]float64{4096, -65536}
		for g := range groups {
			for i, p := range groups[g] {
				// On whole 1024ths of a metre, so that nothing is rounded.
				p = plane.XY{math.Round(p[0]*1024) / 1024, math.Round(p[1]*1024) / 1024}
				groups[g][i] = p
				moved[g] = append(moved[g], plane.XY{p[0] + shifted[0], p[1] + shifted[1]})
			}
		}
		one := Shortest(nil, nil, groups)
		if other := Shortest(nil, nil, moved); !reflect.DeepEqual(one, other) {
			t.Errorf("%v: elsewhere %v m, here %v m", c, other.Metres, one.Metres)
		}
		ground := NewGround(pond)
		one = Shortest(ground, nil, groups)
		before := runtime.GOMAXPROCS(1)
		two := Shortest(ground, nil, groups)
		runtime.GOMAXPROCS(before)
		if !reflect.DeepEqual(one, two) {
			t.Errorf("%v: %v m on one processor, else %v m", c, two.Metres, one.Metres)
		}
	}
}

func TestOrderOfFew(t *testing.T) {
	a, b, start := xy(0, 0), xy(30, 40), xy(-30, -40)
	cases := []struct {
		name   string
		start  *plane.XY
		groups [][]plane.XY
		want   Order
	}{
		{"nothing", nil, nil, Order{[]int{}, [][]int{}, 0}},
		{"nothing from a start", &start, [][]plane.XY{{}, nil}, Order{[]int{0, 1}, [][]int{{}, {}}, 0}},
		{"one stop", nil, [][]plane.XY{{a}}, Order{[]int{0}, [][]int{{0}}, 0}},
		{"one stop from a start", &start, [][]plane.XY{{a}}, Order{[]int{0}, [][]int{{0}}, 50}},
		{"two stops", &start, [][]plane.XY{{b, a}}, Order{[]int{0}, [][]int{{1, 0}}, 100}},
		{"two groups and empty ones", &start, [][]plane.XY{{}, {b}, nil, {a}}, Order{[]int{3, 1, 0, 2}, [][]int{{}, {0}, {}, {0}}, 100}},
		{"at the start", &start, [][]plane.XY{{start, start}}, Order{[]int{0}, [][]int{{0, 1}}, 0}},
	}
	for _, c := range cases {
		if got := Shortest(nil, c.start, c.groups); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// Many stops at one or two places, in a row, and in few large groups are done
// in good time.
func TestOrderLimits(t *testing.T) {
	r := random(11)
	place := func(k int) plane.XY { return xy(float64(k%2)*1e6, 0) }
	var same, two, row, wide []plane.XY
	for k := range 20_000 {
		same, two = append(same, place(0)), append(two, place(k))
		row = append(row, xy(float64(k*7919%20_000), 0))
		wide = append(wide, xy(1000*r.Float64(), 1000*r.Float64()))
	}
	wide = append(wide, xy(1e7, 1e7))
	for _, c := range []struct {
		name   string
		groups [][]plane.XY
		want   float64
	}{
		{"one place", [][]plane.XY{same}, 0},
		{"one place, two groups", [][]plane.XY{same, same}, 0},
		{"two places", [][]plane.XY{two}, 1e6},
		{"a row", [][]plane.XY{row}, 19_999},
		{"an outlier", [][]plane.XY{wide[:10_000], wide[10_000:]}, 0},
	} {
		got := check(t, Shortest(nil, nil, c.groups), c.groups, crow, nil)
		if c.want > 0 && got != c.want || c.name[:3] == "one" && got != 0 {
			t.Errorf("%s: %v m, want %v", c.name, got, c.want)
		}
	}
	odd := [][]plane.XY{{xy(0, 0), {math.NaN(), 0}, {math.Inf(1), 3}, xy(1, 1)}, {{math.NaN(), math.NaN()}}}
	if o := Shortest(NewGround([]plane.Shape{rect(0, 0, 1, 1)}), nil, odd); !isPermutation(o.Groups, 2) {
		t.Errorf("of places that are none: %v", o)
	}
}

// Among more stops than all distances are kept of, what is near as the crow flies
// may be far on foot; a change must not count as a gain on the crow's word.
func TestManyStopsRoundObstacles(t *testing.T) {
	r := random(14)
	var ponds []plane.Shape
	for len(ponds) < 80 {
		ponds = append(ponds, blob(r, 1500*r.Float64(), 1500*r.Float64(), 60, 9))
	}
	ground := NewGround(ponds)
	groups := make([][]plane.XY, 180)
	stops := 0
	for g := range groups {
		x, y := 1500*r.Float64(), 1500*r.Float64()
		for len(groups[g]) < 10 {
			if p := xy(x+100*r.Float64(), y+100*r.Float64()); !ground.buried(p) {
				groups[g] = append(groups[g], p)
				stops++
			} else if r.IntN(50) == 0 {
				x, y = 1500*r.Float64(), 1500*r.Float64()
			}
		}
	}
	if stops <= tableStops {
		t.Fatalf("%d stops are too few to tell", stops)
	}
	o := Shortest(ground, nil, groups)
	got := check(t, o, groups, ground.Distance, nil)
	plain := newTour(ground, nil, groups)
	plain.nearest()
	var near float64
	for _, l := range plain.legs {
		near += l
	}
	if got > 0.9*near {
		t.Errorf("%v m, by nearest first %v", got, near)
	}
}

func BenchmarkShortest(b *testing.B) {
	var ponds []plane.Shape
	for r := random(12); len(ponds) < 5000; {
		ponds = append(ponds, blob(r, 14_000*r.Float64(), 14_000*r.Float64(), 60, 30))
		if len(ponds) < 30 { // and where the small cases are
			ponds = append(ponds, blob(r, 700*r.Float64(), 700*r.Float64(), 30, 30))
		}
	}
	pond := NewGround(ponds)
	for _, c := range []struct {
		name          string
		ground        *Ground
		groups, stops int
	}{
		{"stops=60", nil, 1, 60}, {"stops=60/ponds", pond, 1, 60}, {"stops=500", nil, 1, 500},
		{"units=40x15", nil, 40, 15}, {"units=40x15/ponds", pond, 40, 15},
		{"units=20000x15", nil, 20_000, 15}, {"units=20000x15/ponds", pond, 20_000, 15}, {"stops=300000", nil, 1, 300_000},
	} {
		groups := scatter(random(13), c.groups, c.stops)
		for g := range groups {
			groups[g] = slices.DeleteFunc(groups[g], func(p plane.XY) bool { return c.ground != nil && c.ground.buried(p) })
		}
		b.Run(c.name, func(b *testing.B) {
			var metres float64
			for b.Loop() {
				metres = Shortest(c.ground, nil, groups).Metres
			}
			b.ReportMetric(metres, "m")
		})
	}
}
