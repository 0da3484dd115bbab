package rate

import (
	"math"
	"testing"
)

func sieves(p ...float64) []Sieve {
	var out []Sieve
	for i := 0; i < len(p); i += 2 {
		out = append(out, Sieve{int(p[i]), p[i+1]})
	}
	return out
}

func TestEffective(t *testing.T) {
	iowa := Lime{CCE: 92, Moisture: 2, Rule: "iowa", Passing: sieves(4, 100, 8, 90, 60, 55)}
	for _, c := range []struct {
		name              string
		lime              Lime
		fineness, percent float64
	}{
		// Sawyer in Laboski (reprint): 1260 lb/ton and 63 % printed; exact figures.
		{"Iowa", iowa, 70, 63.112},
		// BC 637.200-2 (seen). Stone A's fractions add to 99.0; stone B's printed
		// 94.46 is a misprint of 94.40, and not matched.
		{"stone A", Lime{CCE: 100, Rule: "Ohio", Passing: sieves(8, 78.8+10+2.4, 20, 88.8, 60, 78.8)}, 85.28, 85.28},
		{"stone B", Lime{CCE: 100, Rule: "ohio", Passing: sieves(8, 100, 20, 96, 60, 90)}, 94.40, 94.40},
		// Rules seen, numbers constructed.
		{"New York", Lime{CCE: 90, Rule: "new-york", Passing: sieves(20, 95, 60, 70, 100, 60)}, 78, 70.2}, // 0.4·25 + 0.8·10 + 60
		{"Mississippi", Lime{CCE: 90, Rule: "mississippi", Passing: sieves(10, 90, 50, 50)}, 70, 63},
		{"Kentucky", Lime{CCE: 90, Rule: "kentucky", Passing: sieves(10, 90, 50, 50)}, 70, 63}, // formula from memory
		{"burnt lime", Lime{CCE: 178.5, Rule: "cce"}, 0, 178.5},
		{"stated", Lime{ENV: 65}, 0, 65},
	} {
		e, err := c.lime.Effective()
		if err != nil || !near(e.Fineness, c.fineness, 1e-9) || !near(e.Percent, c.percent, 1e-9) || !near(e.LbPerTon, 20*c.percent, 1e-7) {
			t.Errorf("%s: %+v, %v", c.name, e, err)
		}
	}
	e, _ := iowa.Effective()
	if math.Round(e.Percent) != 63 || !near(e.LbPerTon, 1262.24, 1e-9) {
		t.Errorf("%+v", e)
	}
	// 3500 lb with that stone: 2.773 tons/ac (constructed).
	if tons, err := ByContent(3500, e.LbPerTon); err != nil || !near(tons, 2.773, 0.0005) {
		t.Errorf("%v, %v", tons, err)
	}
	rec := recommend(t, table(t, "iowa-2002-lime"), ph(5.5, 6.4, "SMP"), Conditions{Sample: Layer{0, 6}, TargetPH: 6.5})
	if kg, _ := e.Product(rec.KgPerHa, "kg/ha"); !near(kg, 2.773*2241.702312, 1.2) {
		t.Errorf("%v kg/ha", kg)
	}
}

func TestProduct(t *testing.T) {
	product := func(l Lime, need float64) float64 {
		e, err := l.Effective()
		if err != nil {
			t.Fatal(err)
		}
		x, _ := e.Product(need, "lb")
		return x
	}
	// Penn State (seen): 5 lb/100 ft2 with CCE 70 is 7; exact 7.143.
	if x := product(Lime{CCE: 70, Rule: "cce"}, 5); !near(x, 7.143, 0.0005) {
		t.Errorf("%v", x)
	}
	// Missouri (seen): ENM of 1600 with a stone of 400 to the ton is 4 tons/ac.
	if x, err := ByContent(1600, 400); x != 4 || err != nil {
		t.Errorf("%v, %v", x, err)
	}
	// A basis of ECCE 80 and a stone of 65: × 1.23 (reprint, printed 1.2).
	if x := product(Lime{ENV: 65}, 0.80); !near(x, 1.23, 0.005) {
		t.Errorf("%v", x)
	}
	// Tri-State (rule seen, numbers constructed): 4 tons of 90 % with a stone of 80.
	if x := product(Lime{CCE: 80, Rule: "cce"}, 4*0.90); !near(x, 4.5, 1e-12) {
		t.Errorf("%v", x)
	}
	// Ohio: 2 tons of base material, 2000 lb of ENP to the ton, with one of 1600.
	if x, err := ByContent(2*2000, 1600); x != 2.5 || err != nil {
		t.Errorf("%v, %v", x, err)
	}
	for _, c := range [][2]float64{{-1, 400}, {1600, 0}, {math.NaN(), 400}, {1600, math.Inf(1)}} {
		if _, err := ByContent(c[0], c[1]); err == nil {
			t.Errorf("%v is taken", c)
		}
	}
}

func TestLimeOfNoUse(t *testing.T) {
	good := sieves(4, 100, 8, 90, 60, 55)
	for i, l := range []Lime{
		{CCE: 0, Rule: "iowa", Passing: good},
		{CCE: 400, Rule: "iowa", Passing: good},
		{CCE: math.NaN(), Rule: "iowa", Passing: good},
		{CCE: 92, Rule: "iowa", Passing: sieves(4, 101, 8, 90, 60, 55)},
		{CCE: 92, Rule: "iowa", Passing: sieves(4, 100, 8, 90, 60, 91)},
		{CCE: 92, Rule: "iowa", Passing: sieves(4, 100, 8, -1, 60, -2)},
		{CCE: 92, Rule: "iowa", Passing: sieves(60, 55, 8, 90, 4, 100)},
		{CCE: 92, Rule: "iowa", Passing: sieves(4, 100, 60, 55)},
		{CCE: 92, Rule: "iowa", Passing: sieves(4, 0, 8, 0, 60, 0)},
		{CCE: 92, Rule: "iowa", Passing: sieves(4, 100, 8, math.NaN(), 60, 55)},
		{CCE: 92, Rule: "iowa", Passing: good, Moisture: 100},
		{CCE: 92, Rule: "atlantis", Passing: good},
		{CCE: 92, Passing: good},
		{CCE: 79, Rule: "kentucky", Passing: sieves(10, 90, 50, 50)}, // AGR-106 (seen)
		{ENV: 65, CCE: 92},
		{ENV: 1262}, // lb/ton for %
		{ENV: -1},
		{},
	} {
		if e, err := l.Effective(); err == nil || e.Percent != 0 {
			t.Errorf("%d is taken: %+v", i, e)
		}
	}
	if _, err := (Lime{CCE: 92, Rule: "ohio", Passing: sieves(8, 100, 20, 96, 60, 90)}).Effective(); err != nil {
		t.Error(err)
	}
}

func TestLimeRulesAreSound(t *testing.T) {
	for _, r := range LimeRules() {
		if r.Source == "" || r.Place == "" || r.Verified == "" {
			t.Errorf("%+v", r)
		}
		// Dust acts in full by every rule.
		l := Lime{CCE: 100, Rule: r.Name, Passing: sieves(4, 100, 8, 100, 10, 100, 20, 100, 50, 100, 60, 100, 100, 100)}
		if e, err := l.Effective(); err != nil || !near(e.Percent, 100, 1e-9) {
			t.Errorf("%s: %v, %v", r.Name, e.Percent, err)
		}
	}
}
