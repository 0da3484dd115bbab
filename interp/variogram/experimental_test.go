package variogram

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"corewalk/geo/plane"
)

// TestByHand has four places in a row, 1 m apart, with the figures 0, 1, 3, 7.
func TestByHand(t *testing.T) {
	var points []Point
	for i, v := range []float64{0, 1, 3, 7} {
		points = append(points, Point{At: plane.XY{float64(i), 5}, Value: v})
	}
	lags, err := Experimental(points, Classes{Cutoff: 3, Width: 1})
	want := []Lag{
		{Pairs: 3, Distance: 1, Gamma: (1 + 4 + 16) / 6.},
		{Pairs: 2, Distance: 2, Gamma: (9 + 36) / 4.},
		{Pairs: 1, Distance: 3, Gamma: 49 / 2.},
	}
	if err != nil || !slices.Equal(lags, want) {
		t.Errorf("%v, %v", lags, err)
	}
	// Cressie & Hawkins: ((1+sqrt(2)+2)/3)^4 / (0.457 + 0.494/3) / 2.
	lags, err = Experimental(points, Classes{Cutoff: 1, Width: 1, Estimator: CressieHawkins})
	if err != nil || len(lags) != 1 || !near(lags[0].Gamma, math.Pow((3+math.Sqrt2)/3, 4)/(0.457+0.494/3)/2, 1e-14) {
		t.Errorf("%v, %v", lags, err)
	}
	// All lie to the east; nothing to the north.
	if lags, err = Experimental(points, Classes{Cutoff: 3, Width: 1, Azimuth: 90, Tolerance: 10}); err != nil || len(lags) != 3 || lags[0].Azimuth != 90 {
		t.Errorf("%v, %v", lags, err)
	}
	if _, err = Experimental(points, Classes{Cutoff: 3, Width: 1, Tolerance: 89}); !errors.Is(err, ErrNoPairs) {
		t.Error(err)
	}
	// On the edge of the tolerance counts.
	points[1].At[1], points[2].At[1], points[3].At[1] = 6, 7, 8
	if lags, err = Experimental(points, Classes{Cutoff: 5, Width: 5, Tolerance: 45}); err != nil || len(lags) != 1 || lags[0].Pairs != 6 {
		t.Errorf("%v, %v", lags, err)
	}
}

// TestMeuse has figures by R gstat 2.1.0: variogram(log(zinc) ~ 1, meuse).
func TestMeuse(t *testing.T) {
	lags, err := Experimental(logZinc(t), Classes{})
	if err != nil || len(lags) != 15 {
		t.Fatal(lags, err)
	}
	for i, want := range []Lag{
		{Pairs: 57, Distance: 79.2924374558, Gamma: 0.123447934906},
		{Pairs: 299, Distance: 163.9736655589, Gamma: 0.216218485297},
		{Pairs: 419, Distance: 267.3648276703, Gamma: 0.302785875595},
		{Pairs: 457, Distance: 372.7354223908, Gamma: 0.412144760382},
		{Pairs: 547, Distance: 478.4766950471, Gamma: 0.463412786178},
	} {
		if l := lags[i]; l.Pairs != want.Pairs || !near(l.Distance, want.Distance, 1e-11) || !near(l.Gamma, want.Gamma, 1e-11) {
			t.Errorf("class %d: %+v, want %+v", i, l, want)
		}
	}
}

func TestDivisionsAreNotCompared(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	a, b := patchy(r, 60, 0, 1), patchy(r, 50, 0, 1)
	c := Classes{Cutoff: 200, Width: 20}
	la, _ := Experimental(a, c)
	lb, _ := Experimental(b, c)
	for i := range b {
		b[i].Division, b[i].Value = 1, b[i].Value+1e6
	}
	both, err := Experimental(append(slices.Clone(a), b...), c)
	if err != nil || len(both) != 10 {
		t.Fatal(both, err)
	}
	for i := range both {
		p, q := float64(la[i].Pairs), float64(lb[i].Pairs)
		if both[i].Pairs != la[i].Pairs+lb[i].Pairs || !near(both[i].Gamma, (p*la[i].Gamma+q*lb[i].Gamma)/(p+q), 1e-8) {
			t.Errorf("class %d: %+v of %+v and %+v", i, both[i], la[i], lb[i])
		}
	}
}

func TestExperimentalIsInvariant(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	points := patchy(r, 90, 30, 2)
	// A lattice, so that many pairs lie on the limits of the classes.
	for i := range points {
		points[i].At = plane.XY{float64(i%10) * 25, float64(i/10) * 25}
	}
	c := Classes{Cutoff: 150, Width: 25, Azimuth: 30, Tolerance: 22.5}
	want, err := Experimental(points, c)
	if err != nil {
		t.Fatal(err)
	}
	for round := range 20 {
		moved := slices.Clone(points)
		r.Shuffle(len(moved), func(i, j int) { moved[i], moved[j] = moved[j], moved[i] })
		if got, _ := Experimental(moved, c); !slices.Equal(got, want) {
			t.Fatalf("another order, another variogram: %v", got)
		}
		turn := 360 * r.Float64()
		s, cs := direction(turn)
		dx, dy := 500000+1000*r.Float64(), 5e6+1000*r.Float64()
		for i, p := range moved {
			moved[i].At = plane.XY{p.At[0]*cs + p.At[1]*s + dx, p.At[1]*cs - p.At[0]*s + dy}
		}
		d := c
		d.Azimuth = math.Mod(c.Azimuth+turn, 360)
		got, err := Experimental(moved, d)
		if err != nil || len(got) != len(want) {
			t.Fatalf("round %d: %v, %v", round, got, err)
		}
		for i := range got {
			if got[i].Pairs != want[i].Pairs || !near(got[i].Gamma, want[i].Gamma, 1e-9) || !near(got[i].Distance, want[i].Distance, 1e-9) {
				t.Errorf("turned by %g: %+v, want %+v", turn, got[i], want[i])
			}
		}
	}
}

func TestDirectionsTakeEveryPair(t *testing.T) {
	points := patchy(rand.New(rand.NewPCG(5, 6)), 80, 0, 1)
	all, _ := Experimental(points, Classes{})
	count := func(lags []Lag) (n int) {
		for _, l := range lags {
			n += l.Pairs
		}
		return n
	}
	for _, n := range []int{1, 2, 4, 7} {
		lags, err := Directions(points, Classes{Azimuth: 10}, n)
		if err != nil || count(lags) != count(all) {
			t.Errorf("%d directions: %d pairs of %d, %v", n, count(lags), count(all), err)
		}
	}
}

func TestExperimentalRefused(t *testing.T) {
	two := []Point{{At: plane.XY{0, 0}, Value: 1}, {At: plane.XY{1, 0}, Value: 2}}
	for _, c := range []struct {
		points  []Point
		classes Classes
		want    string
	}{
		{nil, Classes{}, "no two samples"},
		{two[:1], Classes{}, "no two samples"},
		{two, Classes{}, "no two samples"}, // farther than a third of the diagonal
		{[]Point{two[0], {At: plane.XY{0.1, 0}, Division: 1}}, Classes{Cutoff: 9}, "no two samples"},
		{two, Classes{Cutoff: math.NaN()}, "cutoff of NaN"},
		{two, Classes{Width: -1}, "width of -1"},
		{two, Classes{Cutoff: 1, Width: 1e-9}, "more than 10000"},
		{two, Classes{Tolerance: 91}, "tolerance of 91"},
		{two, Classes{Azimuth: -1}, "azimuth of -1"},
		{two, Classes{Estimator: 7}, "estimator 7"},
		{[]Point{{Value: math.NaN()}, two[0]}, Classes{}, "NaN at (0, 0)"},
		{[]Point{{At: plane.XY{math.Inf(1), 0}}, two[0]}, Classes{}, "(+Inf, 0)"},
	} {
		if lags, err := Experimental(c.points, c.classes); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v %+v: %v, %v", c.points, c.classes, lags, err)
		}
	}
	if _, err := Directions(two, Classes{Cutoff: 2}, 0); err == nil {
		t.Error("0 directions taken")
	}
	// Two samples of one place are a pair.
	same := []Point{two[0], {Value: 4}}
	if lags, err := Experimental(same, Classes{Cutoff: 1}); err != nil || !slices.Equal(lags, []Lag{{Pairs: 1, Gamma: 4.5}}) {
		t.Errorf("%v, %v", lags, err)
	}
}
