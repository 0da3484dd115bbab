package rate

import (
	"math"
	"slices"
	"strings"
	"testing"
)

func schemes(t *testing.T, tables []string, materials ...Material) []Scheme {
	t.Helper()
	var list []Table
	for _, name := range tables {
		list = append(list, *table(t, name))
	}
	out, err := Schemes(list, materials)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func within(t *testing.T, what string, got, want, by float64) {
	t.Helper()
	if !near(got, want, by) {
		t.Errorf("%s: got %.10g, want %.10g", what, got, want)
	}
}

// 4 tons of lime of 90 % neutralising value are 4.5 of a stone of 80 % (the rule
// of Vitosh, Johnson and Mengel 1995, E-2567, seen; the numbers are made up).
func TestSchemeTurnsStateLimeIntoStone(t *testing.T) {
	s := schemes(t, []string{"tri-state-1995-lime"}, Material{Name: "stone", Lime: &Lime{Name: "stone", CCE: 80, Rule: "cce"}, Spreader: Spreader{Largest: 1e6}})[0]
	ton, _ := KgPerHa("ton/ac")
	a, err := s.Meet([]Answer{{Recommendation: Recommendation{Of: "CaCO3", Rate: 4, Unit: "ton/ac", Material: 90, KgPerHa: 4 * 0.9 * ton}}})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "tons", a.Doses[0].Total/ton, 4.5, 0.005/ton)
}

// Iowa's worked example carried on: buffer pH 6.4, 3500 lb/ac, a stone of ECCE
// 1262.24 lb/ton, 2.773 tons/ac in two dressings of at most 2.
func TestSchemeSplitsAndKeepsTheMass(t *testing.T) {
	stone := Lime{Name: "stone", CCE: 92, Passing: []Sieve{{4, 100}, {8, 90}, {60, 55}}, Moisture: 2, Rule: "iowa"}
	s := schemes(t, []string{"iowa-2002-lime"}, Material{Name: "stone", Lime: &stone})[0]
	a, err := s.Advise(Figures{"pH": {Value: 5.6}, "buffer pH": {Value: 6.4, Method: "SMP"}}, Conditions{TargetPH: 6.5, Sample: Layer{0, 6}})
	if err != nil {
		t.Fatal(err)
	}
	ton, _ := KgPerHa("ton/ac")
	d := a.Doses[0]
	if d.Times != 2 {
		t.Errorf("%d dressings, want 2", d.Times)
	}
	within(t, "tons/ac", d.Total/ton, 3500/1262.24, 1e-5)
	if got := math.Round(d.Each*100) / 100; got != d.Each {
		t.Errorf("each dressing of %v kg/ha is no multiple of 0.01", d.Each)
	}
	text := strings.Join(a.Explain("ton/ac"), "\n")
	for _, want := range []string{"fineness by the rule of Iowa (ECCE): 0.1 × 100 + 0.3 × 90 + 0.6 × 55 = 70 %", "2 dressings", CautionAdvice} {
		if !strings.Contains(text, want) {
			t.Errorf("the explanation lacks %q:\n%s", want, text)
		}
	}
}

func TestSchemesGoTogetherByProducts(t *testing.T) {
	tables := []string{"iowa-2002-lime", "tri-state-2020-p", "tri-state-2020-k", "iowa-2003-p"}
	count := func(s []Scheme) (n []int) {
		for _, x := range s {
			n = append(n, len(x.Tables))
		}
		return n
	}
	npk, tsp := Material{Name: "npk", Analysis: []Share{{"P2O5", 20}, {"K2O", 20}}}, Material{Name: "tsp", Analysis: []Share{{"P2O5", 46}}}
	if got := count(schemes(t, tables, tsp)); !slices.Equal(got, []int{1, 1, 1, 1}) {
		t.Errorf("with a product for P alone: schemes of %v tables", got)
	}
	if got := count(schemes(t, tables, tsp, npk)); !slices.Equal(got, []int{1, 2, 1}) {
		t.Errorf("with a product for P and K: schemes of %v tables", got)
	}
	var list []Table
	for _, name := range tables {
		list = append(list, *table(t, name))
	}
	lime := Material{Name: "lime", Lime: &Lime{ENV: 60}}
	for what, materials := range map[string][]Material{
		"twice":                  {tsp, tsp},
		"liming materials":       {lime, {Name: "other", Lime: &Lime{ENV: 70}}},
		"nothing that a table":   {{Name: "urea", Analysis: []Share{{"N", 46}}}},
		"no rate is a multiple":  {{Name: "tsp", Analysis: tsp.Analysis, Spreader: Spreader{Largest: 10, Step: 100}}},
		"its price is":           {{Name: "tsp", Analysis: tsp.Analysis, PricePerKg: math.Inf(1)}},
		"neutralising value":     {{Name: "dust", Lime: &Lime{CCE: 400, Rule: "cce"}}},
		"effective neutralising": {{Name: "dust", Lime: &Lime{ENV: 400}}},
	} {
		if _, err := Schemes(list, materials); err == nil || what != "twice" && !strings.Contains(err.Error(), what) {
			t.Errorf("%s: got %v", what, err)
		}
	}
	if _, err := Schemes(append(list, *table(t, "tri-state-1995-p")), nil); err == nil || !strings.Contains(err.Error(), "both for P2O5") {
		t.Errorf("two tables for P2O5: %v", err)
	}
}

// What a table refuses is not spread with another nutrient either.
func TestSchemeSpreadsNothingOfWhatIsRefused(t *testing.T) {
	s := schemes(t, []string{"tri-state-2020-p", "tri-state-2020-k"},
		Material{Name: "npk", Analysis: []Share{{"P2O5", 20}, {"K2O", 20}}}, Material{Name: "potash", Analysis: []Share{{"K2O", 60}}})[0]
	f := Figures{"P": {Value: 10, Unit: "mg/kg", Method: "Olsen"}, "K": {Value: 90, Unit: "mg/kg", Method: "Mehlich-3"}, "CEC": {Value: 10, Unit: "meq/100 g"}}
	a, err := s.Advise(f, Conditions{Crop: "corn", Yield: 180, YieldUnit: "bu/ac", Sample: Layer{0, 8}})
	if err != nil {
		t.Fatal(err)
	}
	if r := a.Answers[0].Refused; r == nil || r.Why != WhyMethod {
		t.Fatalf("P by Olsen: %v", a.Answers[0].Refused)
	}
	if a.Doses[0].Total != 0 {
		t.Errorf("%v kg/ha of the product with P, though P has no rate", a.Doses[0].Total)
	}
	lb, _ := KgPerHa("lb/ac") // (120 - 90) × 1.5 + 36 + 20 = 101 lb of K2O
	within(t, "potash", a.Doses[1].Total, 101*lb/0.6, 0.005)
	f["K"] = Figure{Value: 90, Unit: "mg/kg", Method: "ammonium acetate"}
	if a, err = s.Advise(f, Conditions{Crop: "corn", Yield: 180, YieldUnit: "bu/ac", Sample: Layer{0, 8}}); err != nil || a.Doses != nil {
		t.Errorf("all refused: doses %v, %v", a.Doses, err)
	}
}

func TestBalanceAddsUp(t *testing.T) {
	var b Balance
	dose := func(v float64) *Dose { return &Dose{Dressing: Dressing{Total: v}} }
	b.Add(20000, dose(1000), dose(600)) // 2 ha: 400 kg/ha too little
	b.Add(30000, dose(0), dose(600))    // 3 ha: 600 too much
	b.Add(10000, dose(610), dose(600))  // near
	b.Add(5000, nil, dose(600))
	want := Balance{Area: 60000, NoRate: 5000, Mass: 2610, Uniform: 3600, Over: 1800, Under: 810, OverArea: 30000, UnderArea: 20000, Compared: true}
	if b != want {
		t.Errorf("got %+v, want %+v", b, want)
	}
	within(t, "over less under", b.Over-b.Under, b.Uniform-b.Mass, 1e-9)
	b.Add(1, dose(1), nil)
	if b.Compared {
		t.Error("compared though there is ground without one rate")
	}
}
