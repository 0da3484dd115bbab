package rate

import (
	"fmt"
	"math"
)

const (
	// sameDepth, in inches: depths no further apart are the same (20 cm and 8
	// in, 15 cm and 6 in are).
	sameDepth = 0.25
	// deepest and thinnest layer in inches that a table is for, or that lime is
	// worked into; beyond them it is a slip.
	deepest, thinnest = 24.0, 0.25
)

// sampled checks the layer that was sampled. Lime has its own rule for depth, see
// limeDepth.
func (r *run) sampled() error {
	s, d := r.c.Sample, r.t.Depth
	switch {
	case math.IsNaN(s.From+s.To) || s.From < 0 || s.To > 120 || s != (Layer{}) && s.To-s.From < thinnest:
		return r.refuse(WhyDepth, "the sample's depth runs from %g to %g in; give the upper and the lower limit of the layer", s.From, s.To)
	case s.From > 0:
		return r.refuse(WhyDepth, "the sample is of %g to %g in, and the table is for a layer from the surface down; take the upper layer's figures", s.From, s.To)
	case d.Others == "unstated" || r.t.Kind == KindLime || r.t.Formula.Removal != nil:
	case s.To == 0:
		return r.refuse(WhyDepth, "it is for samples of 0 to %g in, and the depth of the sample isn't known; give it", d.Inches)
	case math.Abs(s.To-d.Inches) > sameDepth:
		return r.refuse(WhyDepth, "it is for samples of 0 to %g in and has no rule for others, and the sample is of 0 to %s in; sample to %g in, or choose another table", d.Inches, number(s.To), d.Inches)
	}
	if d.Others == "unstated" && r.t.Formula.Removal == nil {
		r.caution("The source, as read, names no depth of sample for this table: look whether yours is the one it is for.")
	}
	return nil
}

// limeDepth returns the share of the table's rate for the depth to be limed, nil
// for the whole of it.
func (r *run) limeDepth() (*expr, error) {
	d, limed, sample := r.t.Depth, r.c.LimeDepth, r.c.Sample.To
	if limed != 0 && !(limed >= thinnest && limed <= deepest) {
		return nil, r.refuse(WhyDepth, "the depth to be limed is %g in; give one of %g to %g", limed, thinnest, deepest)
	}
	if d.Others == "unstated" {
		if limed > 0 || r.c.NoTill {
			return nil, r.refuse(WhyDepth, "it names no depth, so that its rate can't be turned into one for another depth or for no-till; choose another table")
		}
		return nil, nil
	}
	if r.c.NoTill && limed == 0 {
		switch {
		case d.NoTill == 0:
			return nil, r.refuse(WhyDepth, "it has no rule for lime that stays on the surface; give the depth of soil that the lime is for")
		case sample == 0 || math.Abs(sample-d.Inches) > sameDepth:
			return nil, r.refuse(WhyDepth, "its rule for lime that stays on the surface goes by samples of 0 to %g in; give the depth of soil that the lime is for", d.Inches)
		}
		return r.steps.do("share of the rate for lime that stays on the surface", "", num(d.NoTill)), nil
	}
	if limed == 0 {
		limed = sample
	}
	switch {
	case limed == 0:
		return nil, r.refuse(WhyDepth, "its rates are for %g in of soil, and neither the depth of the sample nor the depth to be limed is known; give one", d.Inches)
	case math.Abs(limed-d.Inches) <= sameDepth:
		return nil, nil
	case d.Others != "linear":
		return nil, r.refuse(WhyDepth, "its rates are for %g in of soil and it has no rule for %s in; choose another table", d.Inches, number(limed))
	}
	if sample > 0 && limed > sample+sameDepth {
		r.caution(fmt.Sprintf("Lime for %s in of soil, but the sample is of %s in: nothing is known of the soil below.", number(limed), number(sample)))
	}
	return r.steps.do(fmt.Sprintf("share of the rate, for %s in of soil instead of %s", number(limed), number(d.Inches)), "", div(num(limed), num(d.Inches))), nil
}
