package rate

import "fmt"

// buildUpYears is the time over which tables with a rule of build-up spread it,
// so that four times its yearly part raises the soil test by one unit (Tri-State
// Fertilizer Recommendations: 20 lb of P2O5 to the mg/kg, seen in extension
// pages of Ohio State).
const buildUpYears = 4

// Drift returns by how much the soil test of a table with a rule of build-up
// falls in a year in which a crop is harvested and nothing is given: what it takes
// off over what raises the test by one unit. cec is in meq/100 g, for tables whose
// rule depends on it. It fails where the table has no such rule or does not know the
// crop, its yield unit or what it takes off.
func (t *Table) Drift(crop string, yield float64, yieldUnit string, cec float64) (float64, error) {
	b := t.Formula.BuildUp
	if b == nil {
		return 0, fmt.Errorf("table %s has no rule of build-up that a drift could come from; take tri-state-2020-p or tri-state-2020-k", t.Name)
	}
	per := b.PerUnit
	if b.PerUnitCEC != 0 {
		if !(cec >= 0) {
			return 0, fmt.Errorf("table %s needs the exchange capacity (CEC) of the soil", t.Name)
		}
		per += b.PerUnitCEC * cec
	}
	for _, c := range t.Crops {
		if c.Name != crop {
			continue
		}
		switch {
		case c.Removal == 0:
			return 0, fmt.Errorf("table %s does not say what %s takes off", t.Name, crop)
		case c.Yield != yieldUnit || !(yield > 0 && yield <= c.Highest):
			return 0, fmt.Errorf("table %s takes the yield of %s in %s, up to %g", t.Name, crop, c.Yield, c.Highest)
		}
		return yield * c.Removal / (buildUpYears * per), nil
	}
	return 0, fmt.Errorf("table %s does not know the crop %q", t.Name, crop)
}
