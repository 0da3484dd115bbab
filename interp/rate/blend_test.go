package rate

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func product(t *testing.T, name, analysis string, price float64) Product {
	t.Helper()
	a, err := ParseAnalysis(analysis)
	if err != nil {
		t.Fatal(err)
	}
	return Product{Name: name, Analysis: a, PricePerKg: price}
}

func TestBlend(t *testing.T) {
	dap, mapp, urea := product(t, "DAP", "18-46-0", 0.8), product(t, "MAP", "11-52-0", 0.7), product(t, "urea", "46-0-0", 0.5)
	potash, npk := product(t, "potash", "0-0-60", 0.4), product(t, "NPK", "10-26-26", 0.6)
	for _, c := range []struct {
		name     string
		needs    []Need
		products []Product
		want     []float64
		short    float64 // of the first need
	}{
		{"MAP and potash", []Need{{"P2O5", 52, true}, {"K2O", 90, true}}, []Product{mapp, potash}, []float64{100, 150}, 0},
		{"nitrogen of MAP counts", []Need{{"P2O5", 52, true}, {"K2O", 60, false}, {"N", 57, false}}, []Product{mapp, potash, urea}, []float64{100, 100, 100}, 0},
		{"two of two", []Need{{"P2O5", 62, true}, {"K2O", 26, true}, {"N", 21.2, true}}, []Product{npk, mapp}, []float64{100, 36 / .52}, 0},
		{"N limited holds MAP back", []Need{{"P2O5", 52, true}, {"N", 5.5, true}}, []Product{mapp}, []float64{50}, 26},
		{"no N at all", []Need{{"P2O5", 52, true}, {"N", 0, true}}, []Product{mapp}, []float64{0}, 52},
		{"N in surplus", []Need{{"P2O5", 52, true}, {"N", 5.5, false}}, []Product{mapp}, []float64{100}, 0},
		{"the cheaper one", []Need{{"P2O5", 46, true}}, []Product{dap, mapp}, []float64{0, 46 / .52}, 0}, // 0.0174/% against 0.0135/%
		{"needs in order: P short by nothing", []Need{{"P2O5", 26, true}, {"K2O", 50, true}}, []Product{npk}, []float64{100}, 0},
		{"limit of the second holds the first", []Need{{"P2O5", 26, true}, {"K2O", 13, true}}, []Product{npk}, []float64{50}, 13},
		{"nothing needed", []Need{{"P2O5", 0, true}, {"K2O", 0, true}}, []Product{mapp, potash}, []float64{0, 0}, 0},
	} {
		m, err := Blend(c.needs, c.products)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		for j, want := range c.want {
			if !near(m.Amounts[j].Rate, want, 1e-6) {
				t.Errorf("%s: %+v", c.name, m.Amounts)
			}
		}
		if !near(m.Supplies[0].Short, c.short, 1e-6) {
			t.Errorf("%s: short by %v", c.name, m.Supplies[0].Short)
		}
	}
	m, err := Blend([]Need{{"P2O5", 52, true}, {"K2O", 60, true}}, []Product{mapp, potash})
	if err != nil || !near(m.Cost, 100*0.7+100*0.4, 1e-9) || m.Supplies[2].Of != "N" || !near(m.Supplies[2].Surplus, 11, 1e-9) {
		t.Errorf("%+v, %v", m, err)
	}
	if m.Steps[0].String() != "P2O5 from MAP: 100 × 0.52 = 52 kg/ha" {
		t.Errorf("%s", m.Steps[0])
	}
}

// Ohioline ANR-74 (seen): 210 lb MAP, 240 lb DAP, 180 lb 0-0-60 for what corn and
// soybean take off; recomputed 109.2, 110.4 and 108.0 lb.
func TestContents(t *testing.T) {
	for _, c := range []struct {
		of, analysis string
		need, want   float64
	}{{"P2O5", "11-52-0", 109.2, 210}, {"P2O5", "18-46-0", 110.4, 240}, {"K2O", "0-0-60", 108, 180}} {
		m, err := Blend([]Need{{c.of, c.need, true}}, []Product{product(t, "it", c.analysis, 0)})
		if err != nil || !near(m.Amounts[0].Rate, c.want, 1e-7) {
			t.Errorf("%+v: %+v, %v", c, m.Amounts, err)
		}
	}
	// As P: 22.7 % of it is 52 % of P2O5, by 2.2914.
	m, err := Blend([]Need{{"P2O5", 52, true}}, []Product{{Name: "it", Analysis: []Share{{"P", 22.7}}}})
	if err != nil || !near(m.Amounts[0].Rate, 5200/(22.7*2.2914), 1e-6) {
		t.Errorf("%+v, %v", m, err)
	}
}

func TestBlendRefused(t *testing.T) {
	one := []Product{{Name: "a", Analysis: []Share{{"N", 46}}}}
	for i, c := range []struct {
		needs    []Need
		products []Product
		want     string
	}{
		{nil, one, "0 needs"},
		{[]Need{{"N", 1, false}}, nil, "0 products"},
		{[]Need{{"N", 1, false}}, make([]Product, 9), "9 products"},
		{[]Need{{"P", 1, false}}, one, `need 1 is of "P"`},
		{[]Need{{"N", 1, false}, {"N", 2, false}}, one, "twice"},
		{[]Need{{"N", math.NaN(), false}}, one, "NaN"},
		{[]Need{{"N", -1, false}}, one, "-1 kg/ha"},
		{[]Need{{"K2O", 1, false}}, one, "no product has K2O"},
		{[]Need{{"N", 1, false}}, append(one, one...), "twice"},
		{[]Need{{"N", 1, false}}, []Product{{Name: "a", Analysis: []Share{{"N", 146}}}}, "146 %"},
		{[]Need{{"N", 1, false}}, []Product{{Name: "a", Analysis: []Share{{"N", 60}, {"S", 60}}}}, "adds to 120"},
		{[]Need{{"N", 1, false}}, []Product{{Name: "a", Analysis: []Share{{"Mg", 6}, {"MgO", 6}}}}, "Mg twice"},
		{[]Need{{"N", 1, false}}, []Product{{Name: "a", Analysis: []Share{{"Xe", 6}}}}, "no nutrient"},
		{[]Need{{"N", 1, false}}, []Product{{Name: "a", Analysis: []Share{{"N", 6}}, PricePerKg: math.Inf(1)}}, "price"},
	} {
		if _, err := Blend(c.needs, c.products); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%d: %v; want %q", i, err, c.want)
		}
	}
	for _, text := range []string{"", "11-52", "11-52-x", "11-52-0-5", "1e2-0-0", "-1-2-3", "101-0-0", "60-60-0", "11-52-0-5Q", "1.2.3-0-0", "NaN-0-0", "0-0-0-5S-6S"} {
		if a, err := ParseAnalysis(text); err == nil {
			t.Errorf("%q is taken: %v", text, a)
		}
	}
	if a, err := ParseAnalysis(" 12-40-0-10S-1Zn"); err != nil || len(a) != 4 || a[3] != (Share{"Zn", 1}) {
		t.Errorf("%v, %v", a, err)
	}
}

// No limited nutrient above its need, no amount below 0, and where a simple search
// over a grid of mixes finds a mix, none that is better.
func TestBlendIsTheBest(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	names := []string{"P2O5", "K2O", "N"}
	for range 60 {
		var needs []Need
		for _, n := range names {
			needs = append(needs, Need{n, math.Round(r.Float64() * 100), r.IntN(2) == 0})
		}
		var products []Product
		for j := range 3 {
			p := Product{Name: string(rune('a' + j))}
			for _, n := range names {
				p.Analysis = append(p.Analysis, Share{n, math.Round(r.Float64() * 30)})
			}
			p.Analysis[j].Percent += 1
			products = append(products, p)
		}
		b := blend{needs: needs, products: products}
		if err := b.read(); err != nil {
			t.Fatal(err)
		}
		b.search()
		if !b.allowed(b.best) {
			t.Fatalf("%v %v: %v", needs, products, b.best)
		}
		for i := range 21 * 21 * 21 {
			x := []float64{float64(i%21) * 15, float64(i/21%21) * 15, float64(i/441) * 15}
			if b.allowed(x) && b.less(b.ranked(x), b.rank) {
				t.Fatalf("%v %v: %v is better than %v", needs, products, x, b.best)
			}
		}
	}
}
