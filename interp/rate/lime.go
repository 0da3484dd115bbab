package rate

import (
	"math"
	"strings"
)

// lime works out the rate of lime in the unit of the table. Where pH is at the
// target no other figure is needed, as labs give no buffer pH there.
func (r *run) lime() (*expr, error) {
	target, err := r.target()
	if err != nil {
		return nil, err
	}
	ph, err := r.figure("pH")
	if err != nil {
		return nil, err
	}
	if ph.value > 14 {
		return nil, r.refuse(WhyRange, "pH is %s; look at the figure", number(ph.value))
	}
	r.steps.do("target pH", "", num(target))
	switch {
	case ph.value >= rounded(target):
		return r.zero("pH %s is at or above the target of %s", told(ph.value), number(target)), nil
	case ph.value > rounded(target-r.t.Trigger):
		return r.zero("pH %s is less than %s below the target of %s", told(ph.value), number(r.t.Trigger), number(target)), nil
	}
	x, err := ph, r.inRange("pH", ph)
	if err == nil && r.t.By != "pH" {
		x, err = r.checked(r.t.By)
	}
	if err != nil {
		return nil, err
	}
	for _, in := range r.t.Inputs { // those that only limit what the table is for
		if in.Analyte != "pH" && in.Analyte != r.t.By {
			if _, err := r.checked(in.Analyte); err != nil {
				return nil, err
			}
		}
	}
	share, err := r.limeDepth()
	if err != nil {
		return nil, err
	}
	if from := r.t.ZeroFrom; from > 0 && x.value >= rounded(from) {
		return r.zero("%s %s is at or above %s, from where the table has no lime", r.t.By, told(x.value), number(from)), nil
	}
	rate, err := r.limeRate(ph, x, target)
	if err != nil {
		return nil, err
	}
	if rate.value <= 0 {
		return r.zero("the table has no lime for %s %s and a target of %s", r.t.By, told(x.value), number(target)), nil
	}
	if share != nil {
		rate = r.steps.do("rate for that depth", r.t.Out.Unit, mul(rate, share))
	}
	return rate, nil
}

// target finds the target pH, and refuses one that the table doesn't reach.
func (r *run) target() (float64, error) {
	t, want := r.t, r.c.TargetPH
	var all []string
	for _, x := range t.Targets {
		all = append(all, number(x))
		if !t.TargetAny && x == want {
			return want, nil
		}
	}
	switch {
	case math.IsNaN(want) || want < 0:
		return 0, r.refuse(WhyTarget, "the target pH is %g", want)
	case want == 0 && len(t.Targets) == 1:
		return t.Targets[0], nil
	case want == 0 && t.TargetAny:
		return 0, r.refuse(WhyMissing, "it needs a target pH, of %s to %s", all[0], all[1])
	case want == 0:
		return 0, r.refuse(WhyMissing, "it needs a target pH, one of: %s", strings.Join(all, ", "))
	case !t.TargetAny:
		return 0, r.refuse(WhyTarget, "it has no figures for a target pH of %s; it has them for: %s", number(want), strings.Join(all, ", "))
	case want > t.Targets[1]:
		return 0, r.refuse(WhyTarget, "a target pH of %s is above what its buffer can tell of, %s at the highest; choose a lower target or another table", number(want), all[1])
	case want < t.Targets[0]:
		return 0, r.refuse(WhyTarget, "a target pH of %s is below the table's lowest, %s", number(want), all[0])
	}
	return want, nil
}

// limeRate is the formula: of pH, of the figure x that the table goes by, and of
// the target.
func (r *run) limeRate(ph, x *expr, target float64) (*expr, error) {
	unit, f := r.t.Out.Unit, r.t.Formula
	switch {
	case f.Lines != nil:
		if f.Lines.Scale != 1 {
			x = r.steps.do(f.Lines.Scaled, "", mul(num(f.Lines.Scale), x))
		}
		for _, line := range f.Lines.Targets {
			if line.Target == target {
				return r.steps.do("rate", unit, sub(num(line.Intercept), mul(num(line.Fall), x))), nil
			}
		}
	case f.Lookup != nil:
		return r.lookup(x, target)
	case f.Acidity != nil:
		a := f.Acidity
		acidity := r.steps.do("acidity", a.Unit, mul(sub(num(a.Buffer), x), num(a.Factor)))
		share := r.steps.do("share of it up to the target", "", div(sub(num(target), ph), sub(num(a.Buffer), ph)))
		return r.steps.do("rate", unit, mul(acidity, share)), nil
	case f.Multiples != nil:
		for _, m := range f.Multiples.Targets {
			if m.Target != target {
				continue
			}
			if x.value > m.Above {
				return r.steps.do("rate", unit, mul(x, num(m.Times))), nil
			}
			if m.Above > 0 && x.value == m.Above {
				r.caution("The source has a rule for an acidity above " + number(m.Above) + " and one for below; just that is taken as below.")
			}
			return r.steps.do("rate, flat for an acidity not above "+number(m.Above), unit, num(m.Else)), nil
		}
	case f.Saturation != nil:
		return r.saturation(ph, x, target), nil
	}
	return nil, r.refuse(WhyTable, "it has no formula for a target pH of %s", number(target))
}

// lookup reads the printed table, whose rows ascend.
func (r *run) lookup(x *expr, target float64) (*expr, error) {
	l, column, unit := r.t.Formula.Lookup, 0, r.t.Out.Unit
	for i, t := range r.t.Targets {
		if t == target {
			column = i
		}
	}
	above := 0 // the first row at x or beyond; there is one, as x is in range
	for above < len(l.Rows)-1 && rounded(l.Rows[above].At) < x.value {
		above++
	}
	high := l.Rows[above]
	low := high
	if rounded(high.At) != x.value && above > 0 {
		low = l.Rows[above-1]
	}
	a, b := low.Rates[column], high.Rates[column]
	if a == nil || b == nil {
		return nil, r.refuse(WhyTable, "its figure near %s %s for a target of %s is left blank, because the print can't be trusted there; choose another target or table", r.t.By, number(x.value), number(target))
	}
	exact := func(row LookupRow, rate *float64) *expr {
		return r.steps.do("rate, of the row "+r.t.By+" "+number(row.At), unit, num(*rate))
	}
	if low.At == high.At {
		return exact(high, b), nil
	}
	if l.Between == "nearest" {
		toLow, toHigh := rounded(x.value-low.At), rounded(high.At-x.value)
		if toLow < toHigh || toLow == toHigh && *a > *b {
			return exact(low, a), nil
		}
		return exact(high, b), nil
	}
	way := r.steps.do("way from the row "+number(low.At)+" to the row "+number(high.At), "", div(sub(x, num(low.At)), sub(num(high.At), num(low.At))))
	return r.steps.do("rate, in a straight line between the rows", unit, add(num(*a), mul(way, sub(num(*b), num(*a))))), nil
}

// saturation is the Adams-Evans rule.
func (r *run) saturation(ph, buffer *expr, target float64) *expr {
	s := r.t.Formula.Saturation
	h := func(text string, ph *expr) *expr {
		inside := sub(mul(num(s.B), num(s.B)), mul(mul(num(4), num(s.C)), sub(num(s.A), ph)))
		e := div(sub(num(s.B), squareRoot(inside)), mul(num(2), num(s.C)))
		if !(e.value <= 1) { // beyond the curve's foot there is no root at all
			return r.steps.do(text+", which the curve puts above 1", "", num(1))
		}
		return r.steps.do(text, "", e)
	}
	h1 := h("acid share of the exchange capacity at the soil's pH", ph)
	h2 := h("acid share of the exchange capacity at the target", num(target))
	return r.steps.do("rate", r.t.Out.Unit, mul(mul(div(mul(num(s.Factor), sub(num(s.Buffer), buffer)), h1), sub(h1, h2)), num(s.Safety)))
}
