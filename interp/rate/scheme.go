package rate

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Material is what a spreader is filled with: a liming material or a fertiliser.
type Material struct {
	Name       string
	Lime       *Lime    // a liming material; nil for a fertiliser
	Analysis   []Share  // of a fertiliser
	PricePerKg float64  // money per kg; 0: not known
	Density    float64  // kg/m³ in bulk; 0: not known
	Spreader   Spreader // in kg/ha of the material
}

// Scheme is what has to be worked out together: tables, and the materials that
// bring what they ask for. Without materials the rates stay those of the tables,
// of pure calcium carbonate or of the nutrient.
type Scheme struct {
	Tables    []Table
	Materials []Material
	effective Effective // of the liming material
}

// Schemes sorts tables and materials into schemes that have no material in
// common, in the order of the tables. Two tables for the same nutrient, two
// liming materials, a material that no table asks for and one that can't be
// (a neutralising value of 0) are errors. A liming material without a largest
// dressing has LargestLimeDressing.
func Schemes(tables []Table, materials []Material) ([]Scheme, error) {
	group := make([]int, len(tables)) // of each table, the first one that it goes with
	for i, t := range tables {
		group[i] = i
		for _, o := range tables[:i] {
			switch {
			case strings.EqualFold(o.Name, t.Name):
				return nil, fmt.Errorf("table %s is there twice", t.Name)
			case t.Kind != KindSufficiency && o.Out.Of == t.Out.Of:
				return nil, fmt.Errorf("the tables %s and %s are both for %s; use one of them", o.Name, t.Name, t.Out.Of)
			}
		}
	}
	effective := Effective{}
	serves := make([][]int, len(materials)) // tables that a material brings something for
	lime := ""
	for m, x := range materials {
		if slices.ContainsFunc(materials[:m], func(o Material) bool { return strings.EqualFold(o.Name, x.Name) }) {
			return nil, fmt.Errorf("there are two products %s; give each its own name", x.Name)
		}
		if !(x.PricePerKg >= 0) || math.IsInf(x.PricePerKg, 0) || !(x.Density >= 0) || math.IsInf(x.Density, 0) {
			return nil, fmt.Errorf("product %s: its price is %g and its density %g; neither is below 0", x.Name, x.PricePerKg, x.Density)
		}
		if _, err := x.Spreader.Dress(0, ""); err != nil {
			return nil, fmt.Errorf("product %s: %w", x.Name, err)
		}
		var shares map[string]float64
		var err error
		if x.Lime != nil {
			if lime != "" {
				return nil, fmt.Errorf("%s and %s both are liming materials; take one of them", lime, x.Name)
			}
			lime = x.Name
			effective, err = x.Lime.Effective()
		} else {
			shares, err = x.product().shares()
		}
		if err != nil {
			return nil, err
		}
		for i, t := range tables {
			if t.Kind == KindLime && x.Lime != nil || t.Kind == KindNutrient && shares[t.Out.Of] > 0 {
				serves[m] = append(serves[m], i)
			}
		}
		if len(serves[m]) == 0 {
			return nil, fmt.Errorf("product %s has nothing that a table asks for; use a table for it, or leave it away", x.Name)
		}
		first := group[serves[m][0]]
		for _, i := range serves[m] {
			first = min(first, group[i])
		}
		for _, i := range serves[m] {
			old := group[i]
			for k := range group {
				if group[k] == old {
					group[k] = first
				}
			}
		}
	}
	var out []Scheme
	for i := range tables {
		if group[i] != i {
			continue
		}
		s := Scheme{effective: effective}
		for k, t := range tables {
			if group[k] == i {
				s.Tables = append(s.Tables, t)
			}
		}
		for m, x := range materials {
			if group[serves[m][0]] != i {
				continue
			}
			if x.Lime != nil && x.Spreader.Largest == 0 {
				x.Spreader.Largest = LargestLimeDressing
			}
			s.Materials = append(s.Materials, x)
		}
		out = append(out, s)
	}
	return out, nil
}

func (m Material) product() Product {
	return Product{Name: m.Name, Analysis: m.Analysis, PricePerKg: m.PricePerKg}
}

// Answer is what one table says.
type Answer struct {
	Recommendation
	Refused *Refusal // then there is no recommendation
}

// Dose is what is spread of one material.
type Dose struct {
	Of    string  // the material, or what the table counts, as "pure CaCO3"
	Asked float64 // kg/ha, before the spreader's limits
	// Dressing is in kg/ha, each a whole multiple of 0.01, which is what machines
	// are told (1 mg/m²).
	Dressing
}

// Advice is what a scheme says for one piece of ground.
type Advice struct {
	Answers []Answer // by table
	// Doses are by material, or the one dose of what the table counts where the
	// scheme has no material. There are none where every table refuses, nor of
	// classes without a rate.
	Doses []Dose
	steps []string // from the answers to the doses
}

// Advise works out what to spread on one piece of ground. Of what a table refuses
// none is spread, not even with another nutrient.
func (s *Scheme) Advise(f Figures, c Conditions) (Advice, error) {
	answers, err := s.Answers(f, c)
	if err != nil {
		return Advice{}, err
	}
	return s.Meet(answers)
}

// Answers asks every table.
func (s *Scheme) Answers(f Figures, c Conditions) ([]Answer, error) {
	answers := make([]Answer, len(s.Tables))
	for i := range s.Tables {
		rec, err := s.Tables[i].Recommend(f, c)
		var refusal *Refusal
		if err != nil && !errors.As(err, &refusal) {
			return nil, err
		}
		answers[i] = Answer{rec, refusal}
	}
	return answers, nil
}

// Meet works out what to spread to meet what the tables say.
func (s *Scheme) Meet(answers []Answer) (Advice, error) {
	a := Advice{Answers: answers}
	refused := 0
	for _, x := range answers {
		if x.Refused != nil {
			refused++
		}
	}
	if refused == len(answers) || s.Tables[0].Kind == KindSufficiency {
		return a, nil
	}
	if len(s.Materials) == 0 {
		return a, a.dose(Spreader{}, "pure "+s.Tables[0].Out.Of, answers[0].KgPerHa)
	}
	if s.Tables[0].Kind == KindLime {
		for _, step := range s.effective.Steps {
			a.steps = append(a.steps, step.String())
		}
		need, step := s.effective.Product(answers[0].KgPerHa, "kg/ha")
		m := s.Materials[0]
		if need > 0 {
			a.steps = append(a.steps, step.String())
		}
		return a, a.dose(m.Spreader, m.Name, need)
	}
	var needs []Need
	var products []Product
	for i, t := range s.Tables {
		// Phosphorus is never above what is asked for, but for the rounding of the
		// spreader: it runs off.
		needs = append(needs, Need{t.Out.Of, answers[i].KgPerHa, t.Out.Of == "P2O5" || answers[i].Refused != nil})
	}
	for _, m := range s.Materials {
		products = append(products, m.product())
	}
	mix, err := Blend(needs, products)
	if err != nil {
		return a, err
	}
	for j, m := range s.Materials {
		a.steps = append(a.steps, m.Name+": "+number(mix.Amounts[j].Rate)+" kg/ha")
		if err := a.dose(m.Spreader, m.Name, mix.Amounts[j].Rate); err != nil {
			return a, err
		}
	}
	b := blend{needs: needs, products: products}
	if err := b.read(); err != nil {
		return a, err
	}
	spread := make([]float64, len(a.Doses))
	for j, d := range a.Doses {
		spread[j] = d.Total
	}
	_, brought := b.supplies(spread)
	a.steps = append(a.steps, lines(brought)...)
	return a, nil
}

// dose puts down the dose of a material.
func (a *Advice) dose(by Spreader, name string, need float64) error {
	d, err := by.Dress(need, "kg/ha")
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	for _, note := range d.Notes {
		a.steps = append(a.steps, name+": "+note)
	}
	each := math.Round(d.Each*100) / 100
	if each != d.Each {
		a.steps = append(a.steps, fmt.Sprintf("%s: %s kg/ha, to the 0.01 that machines are told", name, number(each)))
		d.Each, d.Total = each, float64(d.Times)*each
		if each == 0 {
			d.Times = 0
		}
		d.Change = rounded(d.Total - need)
	}
	a.Doses = append(a.Doses, Dose{name, need, d})
	return nil
}

// Cautions are those of all answers, each once.
func (a *Advice) Cautions() []string {
	var out []string
	for _, x := range a.Answers {
		for _, c := range x.Cautions {
			if !slices.Contains(out, c) {
				out = append(out, c)
			}
		}
	}
	return out
}

// Explain writes the advice as lines that can be followed with a pocket
// calculator, as the function Explain does, and on from the tables' rates to
// what is spread, in kg/ha and then in the unit of rates given, which is one that
// KgPerHa knows.
func (a *Advice) Explain(unit string) []string {
	var out []string
	for _, x := range a.Answers {
		if x.Refused != nil {
			out = append(out, x.Refused.Error())
			continue
		}
		rec := x.Recommendation
		rec.Cautions = nil
		out = append(out, Explain(rec)...)
	}
	out = append(out, a.steps...)
	per, _ := KgPerHa(unit)
	for _, d := range a.Doses {
		text := "spread of " + d.Of + ", in one dressing"
		switch {
		case d.Times == 0:
			out = append(out, "spread of "+d.Of+": none")
			continue
		case d.Times > 1:
			text = fmt.Sprintf("spread of %s, in each of %d dressings", d.Of, d.Times)
		}
		var own steps
		own.do(text, unit, div(num(d.Each), num(per)))
		out = append(out, lines(own)...)
	}
	for _, c := range a.Cautions() {
		out = append(out, "caution: "+c)
	}
	return out
}

// Balance holds what is spread of one material by ground against one rate for
// all of it. Areas are in m², masses in kg.
type Balance struct {
	Area, NoRate        float64 // ground with a rate by ground, and without one
	Mass, Uniform       float64 // kg
	Over, Under         float64 // kg that the one rate puts above, and below, what is spread by ground
	OverArea, UnderArea float64 // where it does so by more than a twentieth
	Compared            bool    // there is one rate wherever there is a rate by ground
}

// Add counts a piece of ground of an area in m². dose is nil where there is no
// rate, uniform where there is no one rate.
func (b *Balance) Add(area float64, dose, uniform *Dose) {
	if dose == nil {
		b.NoRate += area
		return
	}
	if b.Area == 0 {
		b.Compared = true
	}
	ha := area / 1e4
	b.Area += area
	b.Mass += dose.Total * ha
	if uniform == nil {
		b.Compared = false
		return
	}
	b.Uniform += uniform.Total * ha
	d := uniform.Total - dose.Total
	near := math.Abs(d) <= max(uniform.Total, dose.Total)/20
	if d > 0 {
		b.Over += d * ha
		if !near {
			b.OverArea += area
		}
	} else {
		b.Under -= d * ha
		if !near {
			b.UnderArea += area
		}
	}
}
