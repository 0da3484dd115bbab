package rate

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
)

// pocket works out a printed formula as a calculator would: + - × / ( ) sqrt.
type pocket struct{ rest string }

func (p *pocket) take(s string) bool {
	p.rest = strings.TrimLeft(p.rest, " ")
	if !strings.HasPrefix(p.rest, s) {
		return false
	}
	p.rest = p.rest[len(s):]
	return true
}

func (p *pocket) sum() float64 {
	x := p.product()
	for {
		switch {
		case p.take("+"):
			x += p.product()
		case p.take("-"):
			x -= p.product()
		default:
			return x
		}
	}
}

func (p *pocket) product() float64 {
	x := p.atom()
	for {
		switch {
		case p.take("×"):
			x *= p.atom()
		case p.take("/"):
			x /= p.atom()
		default:
			return x
		}
	}
}

func (p *pocket) atom() float64 {
	root := p.take("sqrt")
	if p.take("(") {
		x := p.sum()
		if !p.take(")") {
			panic("a bracket is open: " + p.rest)
		}
		if root {
			return math.Sqrt(x)
		}
		return x
	}
	sign := 1.0
	if p.take("-") {
		sign = -1
	}
	end := strings.IndexFunc(p.rest, func(r rune) bool { return (r < '0' || r > '9') && r != '.' })
	if end < 0 {
		end = len(p.rest)
	}
	x, err := strconv.ParseFloat(p.rest[:end], 64)
	if err != nil {
		panic(err)
	}
	p.rest = p.rest[end:]
	return sign * x
}

// followed redoes every step from its printed line, and returns the last figure.
func followed(t *testing.T, steps []Step) float64 {
	t.Helper()
	last := 0.0
	for _, s := range steps {
		line := s.String()
		_, line, _ = strings.Cut(line, s.Text+": ")
		formula, result, has := strings.Cut(line, " = ")
		if !has {
			result, formula = formula, ""
		}
		p := pocket{result}
		last = p.atom()
		if formula == "" {
			continue
		}
		p = pocket{formula}
		if redone := p.sum(); number(redone) != number(last) || strings.TrimSpace(p.rest) != "" {
			t.Errorf("%s: redone, %s", s, number(redone))
		}
		for _, word := range strings.FieldsFunc(formula, func(r rune) bool { return strings.ContainsRune("+-×/() sqrt", r) }) {
			if len(strings.Trim(strings.ReplaceAll(word, ".", ""), "0")) > digits {
				t.Errorf("%s: %s has too many digits", s, word)
			}
		}
	}
	return last
}

func TestExplainCanBeFollowed(t *testing.T) {
	third := 1.0 / 3
	f := func(x, buffer float64, method string) Figures {
		f := ph(x, buffer, method)
		f["CEC"] = Figure{Value: 4 + third, Unit: "meq/100 g"}
		return f
	}
	lime := func(inches, target float64) Conditions {
		return Conditions{Sample: Layer{0, inches}, TargetPH: target, LimeDepth: 0}
	}
	turf := lime(6, 6.5)
	turf.Crop = "turf"
	for _, c := range []struct {
		table string
		f     Figures
		c     Conditions
	}{
		{"north-carolina-lime", f(4.9+third/10, 5.9+third/10, "Mehlich"), lime(6, 6.3)},
		{"iowa-2002-lime", f(5+third, 6+third, "SMP"), lime(5, 6.5)},
		{"tri-state-1995-lime", f(5+third, 6+third, "SMP"), lime(7, 6.5)},
		{"adams-evans-lime", f(5+third, 7+third, "Adams-Evans"), lime(7, 6.5)},
		{"adams-evans-lime", f(4.1, 7+third, "Adams-Evans"), lime(7, 6.5)},
		{"pennsylvania-lime", acid(5, 10+third), lime(6, 6.5)},
		{"pennsylvania-turf-lime", acid(5, 10+third), turf},
		{"tri-state-1995-p", phosphorus(35+third, "Bray-1"), corn(150+third, 8)},
		{"tri-state-1995-k", potash(50+third, 7+third, "ammonium acetate"), corn(150, 8)},
		{"tri-state-1995-k", potash(137+third, 10+third, "ammonium acetate"), corn(150, 8)},
		{"kansas-corn-p", phosphorus(10+third, "Bray-1"), corn(150+third, 8)},
		{"south-dakota-corn-k", potash(10+third, 0, "ammonium acetate"), corn(150+third, 8)},
		{"tri-state-1995-p", Figures{"P": {Value: 10 + third, Unit: "lb/ac", Method: "Bray-1"}}, corn(150, 20/2.54)},
	} {
		r := recommend(t, table(t, c.table), c.f, c.c)
		if last := followed(t, r.Steps); last != r.KgPerHa || r.Rate <= 0 {
			t.Errorf("%s: the last figure is %v, and the rate %v kg/ha", c.table, last, r.KgPerHa)
		}
	}
	e, err := Lime{CCE: 92 + third, Moisture: third, Rule: "new-york", Passing: sieves(20, 95+third, 60, 70, 100, 60)}.Effective()
	if last := followed(t, e.Steps); err != nil || last != e.LbPerTon {
		t.Errorf("%v, %v", last, err)
	}
	x, step := e.Product(1234+third, "kg/ha")
	if last := followed(t, []Step{step}); last != x {
		t.Errorf("%v, %v", last, x)
	}
	m, err := Blend([]Need{{"P2O5", 50 + third, true}, {"K2O", 70, true}}, []Product{product(t, "MAP", "11-52-0", 0), product(t, "NPK", "10-26-26", 0)})
	if followed(t, m.Steps); err != nil {
		t.Error(err)
	}
}

func TestExplain(t *testing.T) {
	tab := table(t, "north-carolina-lime")
	rec := recommend(t, tab, ph(5.0, 6.3, "Mehlich"), Conditions{TargetPH: 6.0})
	want := `table north-carolina-lime: NCDA&CS Agronomic Division, lime requirement by the Mehlich buffer, bufftab1, North Carolina; figures verified: seen
pH: 5
target pH: 6
buffer pH by Mehlich: 6.3
acidity: (6.6 - 6.3) × 4 = 1.2 meq/100 cm3
share of it up to the target: (6 - 5) / (6.6 - 5) = 0.625
rate: 1.2 × 0.625 = 0.75 ton/ac
rate in kg/ha: 0.75 × 2241.702312 = 1681.276734 kg/ha of CaCO3
rate: 0.75 ton/ac of CaCO3
`
	got := strings.Join(Explain(rec), "\n")
	if !strings.HasPrefix(got, want) {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	for _, c := range []string{CautionAdvice, CautionRules, CautionPlan, CautionDust} {
		if !strings.Contains(got, "caution: "+c) {
			t.Errorf("no %q", c)
		}
	}
	p := strings.Join(Explain(recommend(t, table(t, "tri-state-1995-p"), phosphorus(45, "Bray-1"), corn(150, 8))), "\n")
	for _, part := range []string{CautionRunoff, CautionMemory, "rate: 0 lb/ac of P2O5: P 45 mg/kg is above 40", "class: above the limit"} {
		if !strings.Contains(p, part) {
			t.Errorf("no %q in\n%s", part, p)
		}
	}
	ninety := recommend(t, table(t, "tri-state-1995-lime"), ph(5, 6.5, "SMP"), Conditions{Sample: Layer{0, 8}, TargetPH: 6.8})
	if text := fmt.Sprint(Explain(ninety)); !strings.Contains(text, "rate: 4.45 ton/ac of lime of 90 % neutralising value") {
		t.Error(text)
	}
}
