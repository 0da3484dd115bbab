package sampling

import (
	"fmt"
	"math"

	"corewalk/geo"
)

// Prices are what sampling costs, in any currency.
type Prices struct {
	Sample float64 // of the laboratory, a sample
	Hour   float64 // of walking and coring
}

// Cost is what a plan costs. The walk counts only where the plan has cores.
func (p *Plan) Cost(prices Prices) float64 {
	var samples int
	var seconds float64
	for _, fp := range p.Fields {
		samples += fp.Samples()
		seconds += fp.Time
	}
	return float64(samples)*prices.Sample + seconds/3600*prices.Hour
}

// Samples is the number of samples of a plan.
func (p *Plan) Samples() (n int) {
	for _, fp := range p.Fields {
		n += fp.Samples()
	}
	return n
}

// Densest returns p with the smallest cell whose plan a budget pays for, in
// whole hundredths of step (an area such as an acre or a hectare), and what that
// plan costs. It fails when the budget pays for no plan at all, and says what
// the cheapest one costs.
func Densest(fields []*geo.Field, p Params, prices Prices, budget, step float64) (Params, float64, error) {
	if !(prices.Sample > 0) && !(prices.Hour > 0) {
		return p, 0, fmt.Errorf("a budget needs a price of a sample")
	}
	cost := func(cell float64) (float64, error) {
		p.Cell, p.Samples = cell, 0
		make := Make
		if prices.Hour == 0 {
			make = Split
		}
		plan, err := make(fields, p)
		if err != nil {
			return 0, err
		}
		return plan.Cost(prices), nil
	}
	if p.Design == Units {
		c, err := cost(p.Cell)
		if err == nil && c > budget {
			err = fmt.Errorf("a budget of %g does not pay for one composite to each management unit, which costs %.2f; raise it, or plan fewer composites, depth layers or fields", budget, c)
		}
		return p, c, err
	}
	var largest, whole float64
	for _, f := range fields {
		a := f.Frame.Area(f.Ground)
		largest, whole = math.Max(largest, a), whole+a
	}
	unit := step / 100
	most := max(1, int(math.Floor(largest/unit)))
	// No cell is larger than two full ones, so cells under half of the ground's
	// share for one sample are certain to be too many.
	least := 1
	if prices.Sample > 0 {
		least = min(most, max(1, int(whole*prices.Sample/budget/2/unit)))
	}
	c, err := cost(float64(most) * unit)
	if err != nil {
		return p, 0, err
	}
	if c > budget {
		return p, 0, fmt.Errorf("a budget of %g does not pay for the fewest samples there can be, which cost %.2f; raise it, or plan fewer composites, depth layers or fields", budget, c)
	}
	// Samples fall with the size of the cell, though not at every step: where
	// they jump to and fro by one or two, this is one of the sizes where they
	// begin to fit.
	best, bestCost := most, c
	for least < best {
		middle := int(math.Sqrt(float64(least) * float64(best)))
		c, err := cost(float64(middle) * unit)
		switch {
		case err != nil || c > budget:
			least = middle + 1
		default:
			best, bestCost = middle, c
		}
	}
	p.Cell, p.Samples = float64(best)*unit, 0
	return p, bestCost, nil
}
