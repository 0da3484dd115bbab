package interp

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"corewalk/geo/plane"
)

// scattered draws n places in a field of 800 by 800 m with the given figures.
func scattered(r *rand.Rand, n int, figure func(x, y float64) float64) []Sample {
	var out []Sample
	for i := range n {
		x, y := 800*r.Float64(), 800*r.Float64()
		out = append(out, Sample{ID: fmt.Sprint(i), At: plane.XY{500000 + x, 4600000 + y}, Value: figure(x, y)})
	}
	return out
}

// lattice draws a grid of 5 by 5 composites 160 m apart.
func lattice(r *rand.Rand, figure func(x, y float64) float64) []Sample {
	var out []Sample
	for i := range 25 {
		x, y := 80+160*float64(i%5)+20*r.Float64(), 80+160*float64(i/5)+20*r.Float64()
		out = append(out, Sample{ID: fmt.Sprint(i), At: plane.XY{500000 + x, 4600000 + y}, Value: figure(x, y)})
	}
	return out
}

var everything = Choice{Power: true, Near: true, Radius: true}

func TestNoiseIsNotSupported(t *testing.T) {
	sets := map[string]func(*rand.Rand, func(x, y float64) float64) []Sample{
		"grid of 25":   lattice,
		"60 scattered": func(r *rand.Rand, f func(x, y float64) float64) []Sample { return scattered(r, 60, f) },
	}
	for name, draw := range sets {
		for _, choice := range []Choice{{}, everything} {
			r := rand.New(rand.NewPCG(7, 1))
			noise, trend := 0, 0
			for range 100 {
				for _, strong := range []bool{false, true} {
					samples := draw(r, func(x, y float64) float64 {
						v := 6.2 + 0.3*r.NormFloat64()
						if strong {
							v += (x - 0.5*y) / 400
						}
						return v
					})
					m, err := NewChosenModel(samples, IDW{Power: 2, Near: 12}, choice)
					if err != nil {
						t.Fatal(err)
					}
					switch supported := m.CrossValidate().Supported(); {
					case strong && supported:
						trend++
					case !strong && !supported:
						noise++
					}
				}
			}
			t.Logf("%s, chosen %t: of 100 sets of noise %d not supported, of 100 with a trend %d supported", name, choice.Any(), noise, trend)
			if noise < 90 || trend < 100 {
				t.Errorf("%s, chosen %t: of 100 sets of noise only %d are not supported, of 100 with a trend only %d are", name, choice.Any(), noise, trend)
			}
		}
	}
}

// The share of pure noise that passes at a level is the level, whatever the
// settings were chosen from.
func TestStructureHoldsItsLevel(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 9))
	const sets = 400
	for _, choice := range []Choice{{}, everything} {
		passed := 0
		for range sets {
			m, err := NewChosenModel(scattered(r, 20, func(x, y float64) float64 { return r.NormFloat64() }), IDW{Power: 2}, choice)
			if err != nil {
				t.Fatal(err)
			}
			if m.CrossValidate().Structure.P <= Level {
				passed++
			}
		}
		// 400 draws at a share of 0.025: 10, with a standard deviation of 3.1.
		if passed < 1 || passed > 22 {
			t.Errorf("chosen %t: %d of %d sets of noise show structure at the level %g", choice.Any(), passed, sets, Level)
		}
	}
}

func TestChosenIsTheBest(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 4))
	sets := map[string][]Sample{
		"pH of Oxford": oxford(t, "PH1"), "zinc of the Meuse": meuse(t, "zinc"), "Isaaks and Srivastava": isaaks,
		"a trend": scattered(r, 40, func(x, y float64) float64 { return x + y }),
	}
	for name, samples := range sets {
		m, err := NewChosenModel(samples, IDW{Power: 2}, Choice{Power: true, Near: true})
		if err != nil {
			t.Fatal(err)
		}
		got := m.CrossValidate().RMSE
		for _, power := range []float64{1, 1.5, 2, 2.5, 3, 4} {
			for _, near := range []int{4, 6, 8, 12, 16, 24, 0} {
				c := model(t, samples, IDW{Power: power, Near: near}).CrossValidate()
				if c.RMSE < got*(1-1e-9) {
					t.Errorf("%s: chosen %s with RMSE %g, but power %g and %d nearest have %g", name, m.Settings(), got, power, near, c.RMSE)
				}
			}
		}
		t.Logf("%s: %s", name, m.Settings())
	}
}

func TestTiesGoToTheSmoother(t *testing.T) {
	var flat []Sample
	for i := range 30 {
		flat = append(flat, Sample{ID: fmt.Sprint(i), At: plane.XY{float64(i * 31 % 17), float64(i * 13 % 19)}, Value: 6.5})
	}
	m, err := NewChosenModel(flat, IDW{Power: 4, Near: 3, Radius: 1}, everything)
	if err != nil {
		t.Fatal(err)
	}
	if want := (IDW{Power: 1}); m.Settings() != want {
		t.Errorf("of equal figures %v is chosen, not %v", m.Settings(), want)
	}
	// What is not left to choice stays.
	m, err = NewChosenModel(flat, IDW{Power: 4, Near: 3}, Choice{Power: true})
	if err != nil {
		t.Fatal(err)
	}
	if want := (IDW{Power: 1, Near: 3}); m.Settings() != want {
		t.Errorf("%v is chosen, not %v", m.Settings(), want)
	}
}

// A chosen radius leaves no place without neighbours.
func TestChosenRadius(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	for range 20 {
		samples := scattered(r, 30, func(x, y float64) float64 {
			if x < 400 {
				return 5 + 0.01*r.NormFloat64()
			}
			return 7 + 0.01*r.NormFloat64()
		})
		m, err := NewChosenModel(samples, IDW{Power: 2}, Choice{Radius: true})
		if err != nil {
			t.Fatal(err)
		}
		if c := m.CrossValidate(); c.N != len(samples) || c.LeftOut != 0 {
			t.Errorf("%s: %d places compared, %d left out", m.Settings(), c.N, c.LeftOut)
		}
	}
}

func TestChoiceIgnoresOrder(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 8))
	samples := oxford(t, "PH1")
	a, err := NewChosenModel(samples, IDW{Power: 2}, everything)
	if err != nil {
		t.Fatal(err)
	}
	shuffled := slices.Clone(samples)
	r.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
	b, err := NewChosenModel(shuffled, IDW{Power: 2}, everything)
	if err != nil {
		t.Fatal(err)
	}
	x, y := a.CrossValidate(), b.CrossValidate()
	if a.Settings() != b.Settings() || x.RMSE != y.RMSE || x.Structure != y.Structure {
		t.Errorf("%v %v %v in one order, %v %v %v in another", a.Settings(), x.RMSE, x.Structure, b.Settings(), y.RMSE, y.Structure)
	}
}

// Leaving out by weights is leaving out by prediction.
func TestWeightsPredict(t *testing.T) {
	samples := meuse(t, "zinc")
	for i := range samples {
		samples[i].Division = i % 3
	}
	for _, idw := range []IDW{{Power: 2}, {Power: 1.5, Near: 8}, {Power: 3, Near: 12, Radius: 300}, {Power: 2, Radius: 250}} {
		m := model(t, samples, idw)
		c := m.CrossValidate()
		var values [][]float64
		for i := range m.divisions {
			values = append(values, m.divisions[i].value)
		}
		want := c.RMSE * c.RMSE * float64(c.N)
		narrow, wide := idw, idw
		narrow.Near, wide.Radius = 3, 1000
		got := make([]float64, 3)
		newLeftOut(m.divisions, m.neighbours(), []IDW{narrow, idw, wide}).sse(values, got)
		if math.Abs(got[1]-want) > 1e-9*want {
			t.Errorf("%v: sum of squares %g, by prediction %g", idw, got[1], want)
		}
	}
}
