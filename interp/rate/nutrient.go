package rate

import "math"

// nutrient works out the rate of a nutrient in the unit of the table; nil for
// classes without a rate.
func (r *run) nutrient() (*expr, error) {
	f := r.t.Formula
	if f.Removal != nil {
		return r.removal()
	}
	x, err := r.checked(r.t.By)
	if err != nil {
		return nil, err
	}
	var cec *expr
	for _, in := range r.t.Inputs {
		if in.Analyte == r.t.By {
			continue
		}
		y, err := r.checked(in.Analyte)
		if err != nil {
			return nil, err
		}
		if in.Analyte == "CEC" {
			cec = y
		}
	}
	var rate *expr
	switch {
	case f.Classes != nil:
		rate = r.classes(x)
	case f.BuildUp != nil:
		rate, err = r.buildUp(x, cec)
	case f.Sufficiency != nil:
		rate, err = r.sufficiency(x)
	default:
		return nil, r.refuse(WhyTable, "it has no formula")
	}
	if err != nil {
		return nil, err
	}
	if limit := r.t.NoneAbove; rate != nil && limit > 0 && x.value > rounded(limit) {
		return r.zero("%s %s %s is above %s, over which none is to be spread", r.t.By, number(x.value), r.t.input(r.t.By).Unit, number(limit)), nil
	}
	return rate, nil
}

// yield takes the yield goal.
func (r *run) yield() (*expr, error) {
	y, c := r.c.Yield, r.crop
	switch {
	case y == 0:
		return nil, r.refuse(WhyMissing, "it needs a yield goal of %s, in %s", c.Name, c.Yield)
	case r.c.YieldUnit != c.Yield:
		return nil, r.refuse(WhyUnit, "the yield goal is in %q; give it in %s", r.c.YieldUnit, c.Yield)
	case !(y > 0 && y <= c.Highest):
		return nil, r.refuse(WhyRange, "a yield goal of %g %s of %s is out of reach; up to %s is taken for a figure", y, c.Yield, c.Name, number(c.Highest))
	}
	return r.steps.do("yield goal of "+c.Name, c.Yield, num(y)), nil
}

// removal is what the crop takes off.
func (r *run) removal() (*expr, error) {
	y, err := r.yield()
	if err != nil {
		return nil, err
	}
	return r.steps.do("taken off by "+r.crop.Name, r.t.Out.Unit, mul(y, num(r.crop.Removal))), nil
}

// buildUp is the rule of build-up, maintenance and drawdown.
func (r *run) buildUp(x, cec *expr) (*expr, error) {
	f, unit := r.t.Formula.BuildUp, r.t.Out.Unit
	var band *Band
	for i := range f.Bands {
		b := &f.Bands[i]
		if fits(b.Crops, r.crop.Name) && (b.CECBelow == 0 || cec != nil && cec.value < b.CECBelow) {
			band = b
			break
		}
	}
	if band == nil {
		return nil, r.refuse(WhyTable, "it has no levels for %s", r.crop.Name)
	}
	maintenance, err := r.removal()
	if err != nil {
		return nil, err
	}
	if f.Add != 0 {
		maintenance = r.steps.do("maintenance", unit, add(maintenance, num(f.Add)))
	}
	testUnit := r.t.input(r.t.By).Unit
	critical := num(band.Critical)
	if band.CriticalCEC != 0 {
		critical = sum(num(band.Critical), mul(num(band.CriticalCEC), cec))
	}
	critical = r.steps.do("critical level", testUnit, critical)
	limit := r.steps.do("upper limit of maintenance", testUnit, sum(critical, num(band.Maintenance)))
	switch {
	case x.value < critical.value:
		r.rec.Class = "build-up"
		per := num(f.PerUnit)
		if f.PerUnitCEC != 0 {
			per = sum(num(f.PerUnit), mul(num(f.PerUnitCEC), cec))
		}
		build := r.steps.do("build-up", unit, mul(sub(critical, x), per))
		return r.steps.do("rate: build-up and maintenance", unit, add(build, maintenance)), nil
	case x.value <= limit.value:
		r.rec.Class = "maintenance"
		return r.steps.do("rate: maintenance", unit, maintenance), nil
	case x.value < rounded(limit.value+band.Drawdown):
		r.rec.Class = "drawdown"
		share := r.steps.do("share of maintenance", "", sub(num(1), div(sub(x, limit), num(band.Drawdown))))
		return r.steps.do("rate: drawdown", unit, mul(maintenance, share)), nil
	}
	r.rec.Class = "above the limit"
	return r.zero("%s %s %s is above %s, from where the soil has enough", r.t.By, number(x.value), testUnit, number(limit.value+band.Drawdown)), nil
}

// sufficiency is the linear rule of yield and soil test.
func (r *run) sufficiency(x *expr) (*expr, error) {
	f := r.t.Formula.Sufficiency
	terms := []*expr{num(f.A)}
	times := func(c float64, e *expr) {
		if c != 0 {
			terms = append(terms, mul(num(c), e))
		}
	}
	if f.B == 0 && f.D == 0 {
		times(f.C, x)
	} else {
		y, err := r.yield()
		if err != nil {
			return nil, err
		}
		times(f.B, y)
		times(f.C, x)
		times(f.D, mul(x, y))
	}
	rate := r.steps.do("rate", r.t.Out.Unit, sum(terms...))
	if rate.value <= 0 {
		return r.zero("the soil has enough: the formula gives %s", number(rate.value)), nil
	}
	return rate, nil
}

// classes finds the class, and its rate if there is one.
func (r *run) classes(x *expr) *expr {
	f := r.t.Formula.Classes
	for _, set := range f.Sets {
		if !fits(set.Crops, r.crop.Name) {
			continue
		}
		at := 0
		for at < len(set.Limits) && x.value >= rounded(set.Limits[at]) {
			at++
		}
		r.rec.Class = f.Names[at]
		if f.Rates == nil {
			return nil
		}
		if f.Rates[at] == 0 {
			return r.zero("the class is %s", f.Names[at])
		}
		return r.steps.do("rate of the class "+f.Names[at], r.t.Out.Unit, num(f.Rates[at]))
	}
	return num(math.NaN()) // finish refuses it
}
