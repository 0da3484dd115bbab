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

// TestFitMeuse has figures by R gstat 2.1.0, fit.variogram repeated from its
// own result until nothing moved; the spherical one by N/h^2 is widely printed
// as 0.0507, 0.5906, 897. Its Gaussian fits stop short of the least error, for
// the derivative by the range lacks the factor 2h/a (the figures are by R's optim
// from where gstat stops).
func TestFitMeuse(t *testing.T) {
	lags, err := Experimental(logZinc(t), Classes{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		kind                     Kind
		weights                  Weights
		nugget, sill, reach, sse float64
	}{
		{Spherical, PairsByDistance, 0.05066044008, 0.5906058345, 897.0064223, 9.011194324e-06},
		{Spherical, PairsByGamma, 0.05361860972, 0.5817349423, 892.7291457, 24.22517951},
		{Exponential, PairsByDistance, 0, 0.7186583083, 449.7648988, 1.628327532e-05},
		// gstat weights with another sill here: its error is another scale.
		{Exponential, PairsByGamma, 0, 0.6804656622, 399.8137414, 0},
		{Gaussian, PairsByDistance, 0.124356998, 0.505070742, 411.437866, 1.76155056e-05},
	} {
		f, err := Fit(lags, Fitting{Kinds: []Kind{c.kind}, Weights: c.weights})
		if err != nil || !near(f.Nugget, c.nugget, 1e-4) || !near(f.PartialSill, c.sill, 1e-4) || !near(f.Range, c.reach, 1e-4) || c.sse > 0 && !near(f.SSE, c.sse, 1e-5) {
			t.Errorf("%s, weights %d: %+v, %v, want %+v", c.kind, c.weights, f, err, c)
		}
	}
	f, err := Fit(lags, Fitting{})
	if err != nil || f.Kind != Spherical || !f.Isotropic() || f.Validate() != nil {
		t.Errorf("%+v, %v", f, err)
	}
}

// lagsOf are classes that a model goes through exactly.
func lagsOf(m Model, azimuths ...float64) []Lag {
	var lags []Lag
	for _, a := range azimuths {
		east, north := direction(a)
		for h := 20.0; h <= 400; h += 20 {
			lags = append(lags, Lag{Pairs: 30 + int(h), Distance: h, Gamma: m.Gamma(h*east, h*north), Azimuth: a})
		}
	}
	return lags
}

func TestFitFindsTheModel(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	for _, k := range Kinds() {
		for range 6 {
			m := Model{Kind: k, Nugget: r.Float64(), PartialSill: 0.5 + r.Float64(), Range: 60 + 200*r.Float64()}
			for _, w := range []Weights{PairsByDistance, PairsByGamma} {
				f, err := Fit(lagsOf(m, 0), Fitting{Weights: w})
				if err != nil || f.Kind != k || !near(f.Nugget, m.Nugget, 1e-4) || !near(f.PartialSill, m.PartialSill, 1e-4) || !near(f.Range, m.Range, 1e-4) {
					t.Errorf("%+v, weights %d: %+v, %v", m, w, f, err)
				}
			}
			m.Azimuth, m.Ratio = 180*r.Float64(), 0.2+0.6*r.Float64()
			lags := lagsOf(m, 0, 45, 90, 135)
			f, err := Fit(lags, Fitting{Azimuth: m.Azimuth, Ratio: m.Ratio})
			if err != nil || f.Kind != k || !near(f.Range, m.Range, 1e-4) || f.Azimuth != m.Azimuth || f.Ratio != m.Ratio {
				t.Errorf("%+v: %+v, %v", m, f, err)
			}
			f, err = Fit(lags, Fitting{Detect: true})
			off := math.Abs(math.Mod(f.Azimuth-m.Azimuth+270, 180) - 90)
			if err != nil || f.Kind != k || !near(f.Range, m.Range, 0.01) || !near(f.Ratio, m.Ratio, 0.01) || off > 0.5 {
				t.Errorf("detected %+v: %+v, %v", m, f, err)
			}
		}
	}
}

// TestFitIsLeast: no model drawn at random fits better.
func TestFitIsLeast(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	for round := range 40 {
		lags, err := Experimental(patchy(r, 30+r.IntN(80), 0, 1), Classes{})
		if err != nil {
			t.Fatal(err)
		}
		f, err := Fit(lags, Fitting{})
		if err != nil {
			t.Fatal(err)
		}
		if err := f.Validate(); err != nil {
			t.Fatal(err)
		}
		sse := func(m Model) (s float64) {
			for _, l := range lags {
				s += float64(l.Pairs) / (l.Distance * l.Distance) * math.Pow(l.Gamma-m.Gamma(0, l.Distance), 2)
			}
			return s
		}
		if !near(sse(f.Model), f.SSE, 1e-9) {
			t.Errorf("round %d: error %g said to be %g", round, sse(f.Model), f.SSE)
		}
		for range 3000 {
			m := f.Model
			m.Kind = Kinds()[r.IntN(3)]
			m.Nugget = max(0, m.Nugget*(1+0.3*r.NormFloat64()))
			m.PartialSill = max(0, m.PartialSill*(1+0.3*r.NormFloat64()))
			m.Range = min(m.Range*math.Exp(0.5*r.NormFloat64()), farRange*lags[len(lags)-1].Distance)
			if e := sse(m); e < f.SSE*(1-1e-9) {
				t.Fatalf("round %d: %+v has %g, fitted %+v", round, m, e, f)
			}
		}
	}
}

func TestFitAwkward(t *testing.T) {
	at := func(h, gamma float64) Lag { return Lag{Pairs: 5, Distance: h, Gamma: gamma} }
	for _, c := range []struct {
		name   string
		lags   []Lag
		nugget float64 // of a pure nugget; -1: a structure
	}{
		{"one class", []Lag{at(5, 2)}, 2},
		{"two classes", []Lag{at(5, 2), at(10, 4)}, 2.4},
		{"two equal", []Lag{at(5, 2), at(5, 4)}, 3},
		{"three equal distances", []Lag{at(5, 2), at(5, 4), at(5, 3)}, 3},
		{"level", []Lag{at(5, 3), at(10, 3), at(15, 3), at(20, 3)}, 3},
		{"falling", []Lag{at(5, 9), at(10, 5), at(15, 3), at(20, 2)}, 7.5219},
		{"rising", []Lag{at(5, 5), at(10, 10), at(15, 15), at(20, 20)}, -1},
		{"parabola", []Lag{at(5, 25), at(10, 100), at(15, 225), at(20, 400)}, -1},
		{"zero but the last", []Lag{at(5, 0), at(10, 0), at(15, 0), at(20, 1)}, -1},
		{"zero but the first", []Lag{at(5, 1), at(10, 0), at(15, 0), at(20, 0)}, 0.7024},
		{"tiny", []Lag{at(5, 1e-300), at(10, 2e-300), at(15, 3e-300), at(20, 3e-300)}, -1},
		{"huge", []Lag{at(5, 1e60), at(10, 2e60), at(15, 3e60), at(20, 3e60)}, -1},
		{"with one of distance 0", []Lag{at(0, 77), at(5, 3)}, 3},
	} {
		for _, w := range []Weights{PairsByDistance, PairsByGamma} {
			f, err := Fit(c.lags, Fitting{Weights: w})
			if err != nil || f.Validate() != nil || math.IsNaN(f.SSE) || math.IsInf(f.SSE, 0) {
				t.Errorf("%s: %+v, %v, %v", c.name, f, err, f.Validate())
				continue
			}
			if (c.nugget >= 0) != (f.PartialSill == 0) && w == PairsByDistance {
				t.Errorf("%s: %+v", c.name, f)
			}
			if c.nugget >= 0 && w == PairsByDistance && !near(f.Nugget, c.nugget, 1e-3) {
				t.Errorf("%s: nugget %g, want %g", c.name, f.Nugget, c.nugget)
			}
		}
	}
	for _, c := range []struct {
		lags []Lag
		f    Fitting
		want string
	}{
		{nil, Fitting{}, "no two samples"},
		{[]Lag{at(0, 1)}, Fitting{}, "no two samples"},
		{[]Lag{at(1, 0), at(2, 0), at(3, 0)}, Fitting{}, "nothing varies"},
		{[]Lag{at(1, math.NaN())}, Fitting{}, "gamma NaN"},
		{[]Lag{at(-1, 1)}, Fitting{}, "at -1 m"},
		{[]Lag{{Distance: 1, Gamma: 1}}, Fitting{}, "0 pairs"},
		{[]Lag{at(1, 1)}, Fitting{Kinds: []Kind{"linear"}}, `"linear" is not known`},
		{[]Lag{at(1, 1)}, Fitting{Weights: 3}, "weights 3"},
		{[]Lag{at(1, 1)}, Fitting{Ratio: 2}, "ratio 2"},
		{[]Lag{at(1, 1)}, Fitting{Detect: true}, "three or more"},
	} {
		if f, err := Fit(c.lags, c.f); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v %+v: %+v, %v", c.lags, c.f, f, err)
		}
	}
}

func TestEstimate(t *testing.T) {
	two := []Point{{Value: 1}, {At: plane.XY{30, 40}, Value: 3}}
	f, lags, err := Estimate(two, Classes{Cutoff: 50}, Fitting{})
	if err != nil || f.Nugget != 2 || f.PartialSill != 0 || len(lags) != 1 {
		t.Errorf("two points: %+v, %v, %v", f, lags, err)
	}
	level := patchy(rand.New(rand.NewPCG(1, 1)), 30, 0, 1)
	for i := range level {
		level[i].Value = 0.1
	}
	if _, _, err := Estimate(level, Classes{}, Fitting{Detect: true}); !errors.Is(err, ErrFlat) {
		t.Errorf("all equal: %v", err)
	}
	if _, _, err := Estimate(nil, Classes{}, Fitting{}); !errors.Is(err, ErrNoPairs) {
		t.Errorf("none: %v", err)
	}
}

// TestDetect: an anisotropy of 1 to 4 is found in most of the fields that have
// one, and in few of those that have none.
func TestDetect(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	const rounds = 24
	right, wrong := 0, 0
	for range rounds {
		f, _, err := Estimate(patchy(r, 150, 60, 4), Classes{}, Fitting{Detect: true})
		if err != nil || f.Validate() != nil {
			t.Fatal(f, err)
		}
		if !f.Isotropic() && math.Abs(f.Azimuth-60) < 20 {
			right++
		}
		f, _, err = Estimate(patchy(r, 150, 0, 1), Classes{}, Fitting{Detect: true})
		if err != nil {
			t.Fatal(err)
		}
		if !f.Isotropic() {
			wrong++
		}
	}
	t.Logf("of %d: found %d, found in none %d", rounds, right, wrong)
	if right < rounds*3/4 || wrong > rounds*2/5 {
		t.Errorf("of %d: found %d, found in none %d", rounds, right, wrong)
	}
}

func TestFitDoesNotDependOnOrder(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 16))
	points := patchy(r, 70, 20, 2)
	want, _, err := Estimate(points, Classes{}, Fitting{Detect: true})
	if err != nil {
		t.Fatal(err)
	}
	for range 3 {
		r.Shuffle(len(points), func(i, j int) { points[i], points[j] = points[j], points[i] })
		if got, _, err := Estimate(points, Classes{}, Fitting{Detect: true}); err != nil || got != want {
			t.Errorf("%+v, want %+v, %v", got, want, err)
		}
	}
	lags, _ := Experimental(points, Classes{})
	kept := slices.Clone(lags)
	if _, err := Fit(lags, Fitting{}); err != nil || !slices.Equal(lags, kept) {
		t.Error("the classes were changed")
	}
}

func BenchmarkEstimate(b *testing.B) {
	points := logZinc(b)
	for _, c := range []struct {
		name string
		f    Fitting
	}{{"distance", Fitting{}}, {"gamma", Fitting{Weights: PairsByGamma}}, {"detect", Fitting{Detect: true}}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := Estimate(points, Classes{}, c.f); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
