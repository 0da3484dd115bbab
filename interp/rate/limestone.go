package rate

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// The range of neutralising values in % of calcium carbonate that is taken for a
// figure: magnesium oxide, the highest of all, has 248.3 (from molar masses).
const (
	lowestCCE  = 5.0
	highestCCE = 250.0
)

// Sieve is what passes a sieve.
type Sieve struct {
	Mesh    int     // US mesh number
	Percent float64 // of the stone that passes, by mass
}

// Lime is a liming material.
type Lime struct {
	Name     string
	CCE      float64 // neutralising value in % of calcium carbonate
	Passing  []Sieve // from the coarsest sieve to the finest, all that the rule asks for
	Moisture float64 // % of the material's mass
	Rule     string  // name of a LimeRule
	// ENV is the effective neutralising value in % of calcium carbonate, as the
	// supplier states it under any name (ECCE, RNV, effective CCE); lb per ton
	// over 20. Then CCE, Passing, Moisture and Rule are left away.
	ENV float64
	// PricePerKg in money per kg; a price per US ton over KgPerShortTon.
	PricePerKg float64
}

// LimeRule tells how a state reckons the fineness of a stone: the share of each
// sieve class that acts. What passes none of the sieves' upper limits counts 0.
type LimeRule struct {
	Name     string
	Place    string
	Classes  []SieveClass
	LeastCCE float64 // below it the material fails; 0: no such limit
	Source   string
	Verified string // seen, reprint or memory
}

// SieveClass is the stone that passes the sieve Through (0: all of it) and stays
// on the sieve On (0: to the finest), and the share of it that acts.
type SieveClass struct {
	Through, On int
	Acts        float64
}

// LimeRules returns the rules there are.
func LimeRules() []LimeRule {
	ohio := []SieveClass{{8, 20, 0.2}, {20, 60, 0.6}, {60, 0, 1}}
	half := []SieveClass{{10, 50, 0.5}, {50, 0, 1}}
	return []LimeRule{
		// Iowa counts 0.1, 0.3 and 0.6 of all that passes 4, 8 and 60 mesh.
		{"iowa", "Iowa (ECCE)", []SieveClass{{4, 0, 0.1}, {8, 0, 0.3}, {60, 0, 0.6}}, 0, "example by Sawyer, Iowa State University, in Laboski, University of Wisconsin-Madison", "reprint"},
		{"ohio", "Ohio, Minnesota, Wisconsin, British Columbia", ohio, 0, "British Columbia factsheet 637.200-2, which calls it the Ohio method", "seen"},
		{"new-york", "New York (ENV)", []SieveClass{{20, 60, 0.4}, {60, 100, 0.8}, {100, 0, 1}}, 0, "Cornell University, NRCCA competency area 5, PO 41", "seen"},
		{"mississippi", "Mississippi (RNV)", half, 0, "Oldham, Mississippi State University, P3762", "seen"},
		{"kentucky", "Kentucky (RNV)", half, 80, "University of Kentucky, AGR-106; the formula is from memory: the mean of what passes 10 and 50 mesh", "memory"},
		{"cce", "Pennsylvania and wherever the state counts no fineness", nil, 0, "Penn State Extension: product is the rate × 100 / CCE", "seen"},
	}
}

// FindLimeRule returns the rule of a name, in any case.
func FindLimeRule(name string) (LimeRule, error) {
	var names []string
	for _, r := range LimeRules() {
		if strings.EqualFold(r.Name, name) {
			return r, nil
		}
		names = append(names, r.Name)
	}
	return LimeRule{}, fmt.Errorf("there is no rule %q for the fineness of lime; there are: %s; or give the effective neutralising value itself", name, strings.Join(names, ", "))
}

// Effective is what acts of a liming material.
type Effective struct {
	Percent  float64 // of its mass as spread, as pure calcium carbonate
	LbPerTon float64 // the same in lb per US ton
	Fineness float64 // %; 0 where it isn't counted
	Steps    []Step
	Cautions []string
}

// Effective works out what acts of a material by its rule. Figures that are out
// of range, sieves that are missing and fractions that don't descend are errors.
func (l Lime) Effective() (Effective, error) {
	var s steps
	if l.ENV != 0 {
		switch {
		case l.CCE != 0 || len(l.Passing) > 0 || l.Moisture != 0 || l.Rule != "":
			return Effective{}, l.wrong("it has an effective neutralising value and figures to reckon one from; give one or the other")
		case !(l.ENV >= lowestCCE && l.ENV <= highestCCE):
			return Effective{}, l.wrong(fmt.Sprintf("its effective neutralising value is %g %%; give %g to %g, where lb per ton over 20 is %%", l.ENV, lowestCCE, highestCCE))
		}
		env := s.do("effective neutralising value", "%", num(l.ENV))
		return effective(s, env, nil, nil), nil
	}
	rule, err := FindLimeRule(l.Rule)
	if err == nil {
		err = l.check(rule)
	}
	if err != nil {
		return Effective{}, l.wrong(err.Error())
	}
	env := s.do("neutralising value (CCE)", "%", num(l.CCE))
	var fineness *expr
	if len(rule.Classes) > 0 {
		var terms []*expr
		for _, c := range rule.Classes {
			part := num(l.passes(c.Through))
			if c.On != 0 {
				part = sub(part, num(l.passes(c.On)))
			}
			terms = append(terms, mul(num(c.Acts), part))
		}
		fineness = s.do("fineness by the rule of "+rule.Place, "%", sum(terms...))
		env = s.do("of it fine enough to act", "%", div(mul(env, fineness), num(100)))
	}
	if l.Moisture > 0 {
		env = s.do("of the moist material", "%", div(mul(env, sub(num(100), num(l.Moisture))), num(100)))
	}
	var cautions []string
	if rule.Verified == "memory" {
		cautions = append(cautions, "The rule "+rule.Name+" for the fineness of lime is from memory: check it against its source.")
	}
	if env.value <= 0 {
		return Effective{}, l.wrong("nothing of it is fine enough to act")
	}
	return effective(s, env, fineness, cautions), nil
}

func effective(s steps, env, fineness *expr, cautions []string) Effective {
	perTon := s.do("effective neutralising value in lb per US ton", "lb/ton", mul(env, num(20)))
	e := Effective{Percent: env.value, LbPerTon: perTon.value, Steps: s, Cautions: cautions}
	if fineness != nil {
		e.Fineness = fineness.value
	}
	return e
}

func (l Lime) wrong(what string) error {
	name := l.Name
	if name == "" {
		name = "without a name"
	}
	return fmt.Errorf("lime %s: %s", name, what)
}

func (l Lime) check(rule LimeRule) error {
	switch {
	case !(l.CCE >= lowestCCE && l.CCE <= highestCCE):
		return fmt.Errorf("its neutralising value (CCE) is %g %%; give %g to %g, from the label or the lab", l.CCE, lowestCCE, highestCCE)
	case l.CCE < rule.LeastCCE:
		return fmt.Errorf("its neutralising value (CCE) is %g %%, and %s passes none below %g", l.CCE, rule.Place, rule.LeastCCE)
	case !(l.Moisture >= 0 && l.Moisture < 100):
		return fmt.Errorf("its moisture is %g %%; give 0 to less than 100", l.Moisture)
	}
	for i, s := range l.Passing {
		switch {
		case !(s.Percent >= 0 && s.Percent <= 100):
			return fmt.Errorf("%g %% pass %d mesh; give 0 to 100", s.Percent, s.Mesh)
		case s.Mesh <= 0 || i > 0 && s.Mesh <= l.Passing[i-1].Mesh:
			return errors.New("give the sieves from the coarsest to the finest, each once: mesh numbers ascend")
		case i > 0 && s.Percent > l.Passing[i-1].Percent:
			return fmt.Errorf("%g %% pass %d mesh, but only %g %% the coarser %d; give what passes each sieve, not what stays on it", s.Percent, s.Mesh, l.Passing[i-1].Percent, l.Passing[i-1].Mesh)
		}
	}
	for _, c := range rule.Classes {
		for _, mesh := range []int{c.Through, c.On} {
			if mesh != 0 && math.IsNaN(l.passes(mesh)) {
				return fmt.Errorf("the rule %s needs what passes %d mesh", rule.Name, mesh)
			}
		}
	}
	return nil
}

// passes is the share that passes a sieve in %, NaN where it isn't given.
func (l Lime) passes(mesh int) float64 {
	for _, s := range l.Passing {
		if s.Mesh == mesh {
			return s.Percent
		}
	}
	return math.NaN()
}

// Product returns how much of the material as spread meets a need of pure calcium
// carbonate, in the unit of the need (kg/ha, as Recommendation.KgPerHa, or any
// other), with the step of it in that unit.
func (e Effective) Product(need float64, unit string) (float64, Step) {
	var s steps
	product := s.do("material for "+number(need)+" "+unit+" of pure calcium carbonate", unit, div(mul(num(need), num(100)), num(e.Percent)))
	return product.value, s[0]
}

// ByContent returns the US tons per acre of a material that meet a need in lb/ac
// of what the material has so many lb of per ton: Missouri's ENM, Ohio's ENP.
// Neither may be below 0, and the content is above 0.
func ByContent(needPerAcre, lbPerTon float64) (float64, error) {
	if !(needPerAcre >= 0) || !(lbPerTon > 0) || math.IsInf(needPerAcre, 0) || math.IsInf(lbPerTon, 0) {
		return 0, fmt.Errorf("a need of %g lb/ac and %g lb to the ton give no rate; the content is above 0", needPerAcre, lbPerTon)
	}
	return rounded(needPerAcre / lbPerTon), nil
}
