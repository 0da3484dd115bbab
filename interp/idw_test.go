package interp

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"corewalk/geo/plane"
)

// isaaks is the seven-point example of Isaaks & Srivastava, Applied
// Geostatistics (1989), pages 295-315.
var isaaks = []Sample{
	{"1", plane.XY{61, 139}, 477, 0}, {"2", plane.XY{63, 140}, 696, 0}, {"3", plane.XY{64, 129}, 227, 0},
	{"4", plane.XY{68, 128}, 646, 0}, {"5", plane.XY{71, 140}, 606, 0}, {"6", plane.XY{73, 141}, 791, 0},
	{"7", plane.XY{75, 128}, 783, 0},
}

// TestIsaaks has the book's figure for power 1 (594); the others are by hand
// from the weights, those for powers 1 to 3 also by R gstat 2.1.0.
func TestIsaaks(t *testing.T) {
	for _, c := range []struct {
		power  float64
		near   int
		radius float64
		at     plane.XY
		want   float64
		tol    float64
	}{
		{1e-9, 0, 0, plane.XY{65, 137}, 603.7143, 5e-5}, // the mean, as the power goes to 0
		{0.2, 0, 0, plane.XY{65, 137}, 600.6109, 5e-5},
		{0.5, 0, 0, plane.XY{65, 137}, 597.0171, 5e-5},
		{1, 0, 0, plane.XY{65, 137}, 593.953671, 5e-7},
		{2, 0, 0, plane.XY{65, 137}, 597.620376, 5e-7},
		{3, 0, 0, plane.XY{65, 137}, 609.259585, 5e-7},
		{5, 0, 0, plane.XY{65, 137}, 635.3748, 5e-5},
		{10, 0, 0, plane.XY{65, 137}, 672.9934, 5e-5},
		{2, 3, 0, plane.XY{65, 137}, 609.171920, 5e-7},
		{2, 4, 0, plane.XY{65, 137}, 573.436364, 5e-7},
		{2, 7, 0, plane.XY{65, 137}, 597.620376, 5e-7},
		{2, 99, 0, plane.XY{65, 137}, 597.620376, 5e-7},
		{2, 0, 7, plane.XY{65, 137}, 609.171920, 5e-7}, // the three nearest
		{2, 5, 7, plane.XY{65, 137}, 609.171920, 5e-7},
		{2, 1, 0, plane.XY{65, 137}, 696, 0},
		{2, 0, 0, plane.XY{63, 140}, 696, 0},
		{2, 3, 0, plane.XY{63, 140}, 696, 0},
	} {
		got, ok := model(t, isaaks, IDW{Power: c.power, Near: c.near, Radius: c.radius}).At(c.at, 0)
		if !ok || math.Abs(got-c.want) > c.tol {
			t.Errorf("power %g, %d nearest within %g, at %v: %.6f, want %.6f", c.power, c.near, c.radius, c.at, got, c.want)
		}
	}
}

func line(pairs ...float64) []Sample {
	var out []Sample
	for i := 0; i < len(pairs); i += 2 {
		out = append(out, Sample{ID: fmt.Sprint(i / 2), At: plane.XY{pairs[i], 0}, Value: pairs[i+1]})
	}
	return out
}

func TestByHand(t *testing.T) {
	// K. Chang, Introduction to Geographic Information Systems, box on IDW. The
	// book prints 15.158 for power 2, from rounded sums; this is the exact one.
	chang := line(18, 20.82, 20.88, 10.91, 32.31, 10.38, 36.056, 14.6, 47.202, 10.56)
	three := line(1, 10, 2, 20, 4, 30)
	for _, c := range []struct {
		name    string
		samples []Sample
		power   float64
		want    float64
	}{
		{"chang", chang, 2, 15.245583},
		{"chang", chang, 1, 14.341609},
		{"chang", chang, 3, 16.055919},
		{"three", three, 1, 15.714286},
		{"three", three, 2, 12.857143},
		{"three", three, 3, 11.369863}, // 830/73
		{"nearer to one of two on the spot", line(-0.0004, 10, 0.0007, 20, 5, 30), 2, 10},
		{"two places equally near", line(-0.00075, 10, 0.00075, 20, 5, 30), 2, 15},
		{"the samples of one place", line(0, 10, 0.0009, 20, 0, 60, 5, 1), 2, 30},
		{"one sample", line(70, 4), 2, 4},
	} {
		if got, ok := model(t, c.samples, IDW{Power: c.power}).At(plane.XY{}, 0); !ok || math.Abs(got-c.want) > 5e-7 {
			t.Errorf("%s, power %g: %.6f, want %.6f", c.name, c.power, got, c.want)
		}
	}
}

func TestTiesAreAllTaken(t *testing.T) {
	samples := line(1, 10, -1, 20, 3, 90)
	// Off by no more than rounding.
	samples = append(samples, Sample{ID: "t", At: plane.XY{0, 1 + 1e-11}, Value: 60})
	for _, near := range []int{1, 2, 3} {
		if got, _ := model(t, samples, IDW{Power: 2, Near: near}).At(plane.XY{}, 0); math.Abs(got-30) > 1e-6 {
			t.Errorf("%d nearest of three equally near: %g, want 30", near, got)
		}
	}
}

func TestDivisionsAreHardEdges(t *testing.T) {
	samples := append(line(0, 5, 10, 7), Sample{ID: "x", At: plane.XY{5, 0}, Value: 1000, Division: 3})
	m := model(t, samples, IDW{Power: 2})
	if got, ok := m.At(plane.XY{5, 0}, 0); !ok || got != 6 {
		t.Errorf("on a sample of another division: %g, %v, want 6", got, ok)
	}
	if got, ok := m.At(plane.XY{0, 0}, 3); !ok || got != 1000 {
		t.Errorf("in the division of one sample: %g, %v, want 1000", got, ok)
	}
	for _, d := range []int{-1, 1, 2, 4, math.MaxInt} {
		if got, ok := m.At(plane.XY{0, 0}, d); ok {
			t.Errorf("division %d has no sample, but %g", d, got)
		}
	}
	for _, p := range []plane.XY{{math.NaN(), 0}, {0, math.Inf(1)}, {-1e300, 0}} {
		if got, ok := m.At(p, 0); ok {
			t.Errorf("%v is nowhere, but has %g", p, got)
		}
	}
}

// powers has the ones with a short cut and others.
var powers = []float64{0.01, 0.5, 1, 1.5, 2, 3, 4, 7.3, 20}

// TestProperties: within the range of the samples, the same bits in any order,
// the same to rounding after a move, and finite however far or near.
func TestProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for round := range 300 {
		samples := make([]Sample, 1+r.IntN(40))
		scale := math.Pow(10, float64(r.IntN(9)-3))
		snap := r.IntN(2) == 0 // a grid: many equal distances
		for i := range samples {
			p := plane.XY{r.Float64() * scale, r.Float64() * scale}
			if snap {
				p = plane.XY{float64(r.IntN(8)), float64(r.IntN(8))}
			}
			samples[i] = Sample{ID: fmt.Sprint(i), At: p, Value: r.NormFloat64() * scale, Division: r.IntN(3)}
		}
		idw := IDW{Power: powers[round%len(powers)], Near: r.IntN(7)}
		m := model(t, samples, idw)
		mixed := slices.Clone(samples)
		r.Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
		n := model(t, mixed, idw)
		for range 20 {
			p, d := plane.XY{r.Float64() * scale * 2, r.Float64() * scale * 2}, r.IntN(3)
			if snap {
				p = plane.XY{float64(r.IntN(17)) / 2, float64(r.IntN(17)) / 2}
			}
			least, largest, any := math.Inf(1), math.Inf(-1), false
			for _, s := range samples {
				if s.Division == d {
					least, largest, any = min(least, s.Value), max(largest, s.Value), true
				}
			}
			got, ok := m.At(p, d)
			if ok != any || ok && !(got >= least && got <= largest) {
				t.Fatalf("round %d: %g, %v is not within %g to %g", round, got, ok, least, largest)
			}
			if other, _ := n.At(p, d); other != got {
				t.Fatalf("round %d: %g, and %g in another order", round, got, other)
			}
		}
		if a, b := fmt.Sprint(m.CrossValidate()), fmt.Sprint(n.CrossValidate()); a != b {
			t.Fatalf("round %d: cross-validation in another order\n%s\n%s", round, a, b)
		}
	}
}

func TestMoved(t *testing.T) {
	const east, north = 512_000, 5_400_000
	moved := meuse(t, "zinc")
	for i := range moved {
		moved[i].At[0] += east
		moved[i].At[1] += north
	}
	for _, idw := range []IDW{{Power: 2, Near: 0}, {Power: 1, Near: 8}, {Power: 4.5, Near: 12}} {
		a, b := model(t, meuse(t, "zinc"), idw), model(t, moved, idw)
		for x := 178600.; x < 181400; x += 97 {
			u, _ := a.At(plane.XY{x, x + 152000}, 0)
			v, _ := b.At(plane.XY{x + east, x + 152000 + north}, 0)
			if math.Abs(u-v) > 1e-9*u {
				t.Fatalf("%v at %g: %g, moved %g", idw, x, u, v)
			}
		}
	}
}

func TestMergedPlacesDoNotHangOnOrder(t *testing.T) {
	// A chain of samples, each within a millimetre of the next.
	var chain []Sample
	for i := range 50 {
		chain = append(chain, Sample{ID: fmt.Sprintf("%02d", i), At: plane.XY{float64(i) * 0.0004, 0}, Value: float64(i)})
	}
	want := merge(slices.Clone(chain))
	for i, p := range want {
		if i > 0 && p.x-want[i-1].x < samePlace {
			t.Errorf("places at %g and %g are one", want[i-1].x, p.x)
		}
	}
	if got := want[0].id(); got != "00+01+02" {
		t.Errorf("first place holds %s", got)
	}
	// The third is near to both of the others, which are two places.
	two := merge([]Sample{{ID: "a", At: plane.XY{0, 0}}, {ID: "b", At: plane.XY{0.0003, 0.00098}}, {ID: "c", At: plane.XY{0.0005, 0.0005}}})
	if len(two) != 2 || two[0].id() != "a+c" || two[1].id() != "b" {
		t.Errorf("a sample near to two places: %v", two)
	}
	slices.Reverse(chain)
	if got := merge(chain); fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("reversed:\n%v\nwant\n%v", got, want)
	}
}

func TestRefused(t *testing.T) {
	ok := Sample{ID: "a", Value: 1}
	with := func(change func(*Sample)) []Sample {
		s := Sample{ID: "b7", Value: 1}
		change(&s)
		return []Sample{ok, s}
	}
	for _, c := range []struct {
		samples []Sample
		idw     IDW
		want    string
	}{
		{[]Sample{ok}, IDW{Power: 0}, "power 0: give a number above 0"},
		{[]Sample{ok}, IDW{Power: -1}, "power -1"},
		{[]Sample{ok}, IDW{Power: 20.5}, "at most 20"},
		{[]Sample{ok}, IDW{Power: math.NaN()}, "power NaN"},
		{[]Sample{ok}, IDW{Power: math.Inf(1)}, "power +Inf"},
		{[]Sample{ok}, IDW{Power: 2, Near: -1}, "-1 neighbours"},
		{nil, IDW{Power: 2}, "no sample"},
		{with(func(s *Sample) { s.Value = math.NaN() }), IDW{Power: 2}, `"b7": NaN is not a figure`},
		{with(func(s *Sample) { s.Value = math.Inf(-1) }), IDW{Power: 2}, "-Inf is not a figure"},
		{with(func(s *Sample) { s.Value = 1e31 }), IDW{Power: 2}, "not a figure"},
		{with(func(s *Sample) { s.Value = -9999 }), IDW{Power: 2}, "marks a missing figure"},
		{with(func(s *Sample) { s.At[0] = math.NaN() }), IDW{Power: 2}, "not in metres"},
		{with(func(s *Sample) { s.At[1] = 1e9 }), IDW{Power: 2}, "not in metres"},
		{with(func(s *Sample) { s.Division = -1 }), IDW{Power: 2}, "no division"},
	} {
		_, err := NewModel(c.samples, c.idw)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v %v: %v, want %q", c.samples, c.idw, err, c.want)
		}
	}
	if _, err := NewModel(nil, IDW{Power: 2}); !errors.Is(err, ErrNoSamples) {
		t.Errorf("no samples: %v", err)
	}
}
