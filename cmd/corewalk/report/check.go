package report

import (
	"fmt"
	"math"
	"strconv"

	"corewalk/interp"
)

// doubtOf says in few words why a surface is not supported.
func doubtOf(a *Analyte) string {
	switch c := a.CrossValidation; {
	case c.N < interp.FewestCompared:
		return fmt.Sprintf("only %d could be compared", c.N)
	case !(c.Skill > 0):
		return "skill " + fixed(c.Skill, 2)
	case !(c.SkillWithin > 0):
		return "skill within the parts of the field " + fixed(c.SkillWithin, 2)
	case c.Structure.P > interp.Level:
		return fmt.Sprintf("skill %s, but figures dealt out at random do as well in %s of cases", fixed(c.Skill, 2), percent(c.Structure.P))
	default:
		return "skill " + fixed(c.Skill, 2) + "; no surface"
	}
}

// unmapped tells that nobody asked for a surface: there is nothing to doubt.
func (a *Analyte) unmapped() bool {
	c := a.CrossValidation
	return a.Grid == nil && !a.Supported && c.N == 0 && c.LeftOut == 0
}

// checkInWords says what the cross-validation found: what everybody should read,
// and what one looks up.
func checkInWords(a *Analyte) (first, more []string) {
	c := a.CrossValidation
	places := decimals(c.MAE, 2)
	off := fixed(c.MAE, places)
	if a.Unit != "" {
		off += " " + a.Unit
	}
	if a.unmapped() {
		return nil, nil
	}
	if c.N == 0 {
		first = append(first, "Nothing could be checked: no composite has another one in its own part of the field to be predicted from.")
	} else {
		s := fmt.Sprintf("Predicting each of %s from the others in its own part of the field is off by %s on average (RMSE %s)",
			plural(c.N, "composite", "composites"), off, fixed(c.RMSE, places))
		bias := fixed(math.Abs(c.Bias), places)
		switch {
		case bias == fixed(0, places) || !finite(c.Bias):
			s += "."
		case c.Bias > 0:
			s += ", on balance " + bias + " too low."
		default:
			s += ", on balance " + bias + " too high."
		}
		first = append(first, s)
		if s := dealsInWords(c.Structure); s != "" {
			first = append(first, s)
		}
		more = append(more, "Its squared error is "+against(c.Skill)+" that of taking the plain mean of the other composites (skill "+fixed(c.Skill, 2)+").")
		if math.Abs(c.Skill-c.SkillWithin) >= 0.005 {
			more = append(more, fmt.Sprintf("Within the management units and problem areas, it is %s that of the mean of the composite’s own part (skill %s).",
				against(c.SkillWithin), fixed(c.SkillWithin, 2)))
		}
	}
	if c.LeftOut > 0 {
		more = append(more, plural(c.LeftOut, "composite stands", "composites stand each")+" alone in its part of the field and could not be checked.")
	}
	return first, more
}

// dealsInWords tells of the permutation test.
func dealsInWords(s interp.Structure) string {
	if s.Deals < 1 || !finite(s.P) {
		return ""
	}
	as := max(int(math.Round(s.P*float64(s.Deals+1)))-1, 0) // the true map counts, too
	count := strconv.Itoa(as) + " were"
	switch as {
	case 0:
		count = "none was"
	case 1:
		count = "1 was"
	}
	return fmt.Sprintf("Of %s with the same figures dealt out at random over the same places, %s predicted as well. More than 1 in %.0f is taken as chance.",
		plural(s.Deals, "map", "maps"), count, 1/interp.Level)
}

// madeInWords says how the surface was made.
func madeInWords(a *Analyte) []string {
	var out []string
	if a.How != "" {
		out = append(out, "Made by "+a.How+".")
	}
	if len(a.Chosen) > 0 {
		out = append(out, "Found by leaving out composites, one at a time: "+list(a.Chosen)+".")
	}
	if a.Masked > 0 {
		out = append(out, "Too far from the composites, and therefore without a value: "+percent(a.Masked)+" of the ground.")
	}
	return out
}

func against(skill float64) string {
	switch share := math.Abs(skill); {
	case !finite(skill):
		return "not comparable with"
	case share < 0.005:
		return "the same as"
	case skill > 0:
		return percent(share) + " less than"
	default:
		return percent(share) + " more than"
	}
}

func verdict(a *Analyte) string {
	c := a.CrossValidation
	switch {
	case a.unmapped():
		return "No surface was made: each figure stands for its own composite."
	case a.Supported && c.Skill < 0.3:
		return "The surface knows more than the mean, but not much: read it for the broad pattern only."
	case a.Supported:
		return "The surface knows more than the mean."
	case c.N < interp.FewestCompared:
		return fmt.Sprintf("Fewer than %d composites could be compared: too few to tell whether a surface knows anything. It is NOT supported.", interp.FewestCompared)
	case !(c.Skill > 0):
		return "The surface knows no more than the plain mean of the field. It is NOT supported: the figures of the composites stand, and nothing is known of the ground between them."
	case !(c.SkillWithin > 0):
		return "The surface knows that the parts of the field differ, but within them no more than their means. It is NOT supported: go by the parts of the field."
	case c.Structure.P > interp.Level:
		return "What looks like a pattern may be chance: the same figures, dealt out at random over the same places, are too often predicted as well. The surface is NOT supported: the figures of the composites stand, and nothing is known of the ground between them."
	default:
		return "No surface was made, or none is relied on."
	}
}
