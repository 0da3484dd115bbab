package lab

import (
	"fmt"
	"math"
	"slices"
)

// How far sums may be off: 10 % of the CEC for bases, 10 % and one point for
// saturations, 2 points for texture. Choices of this program, no source.
const (
	basesOff   = 0.10
	shareOff   = 0.10
	pointsOff  = 1.0
	textureOff = 2.0
)

// figureOf returns the figure of an analyte in its canonical unit, if the result
// has one and no other that contradicts it, with its column.
func (e *examination) figureOf(res Result, analyte string) (x float64, col int, ok bool) {
	canonical, _ := CanonicalUnit(analyte)
	for _, m := range res.Values {
		if m.Analyte != analyte || m.Unit != canonical || m.Censored == ">" {
			continue
		}
		if ok && math.Abs(m.Value-x) > 0.05*math.Abs(x) {
			return 0, 0, false
		}
		if !ok {
			col = slices.IndexFunc(e.columns, func(c Column) bool { return c.Name == m.Column })
			x, ok = m.Value, col >= 0
		}
	}
	return x, col, ok
}

// charge is the charge of a cation in meq/100 g.
func (e *examination) charge(res Result, cation string) (float64, int, bool) {
	x, col, ok := e.figureOf(res, cation)
	if cation != "H" {
		x /= meqWeight(cation)
	}
	return x, col, ok
}

// bases compares the cations of a result with its CEC, and with their shares of
// it.
func (e *examination) bases(res Result) {
	cec, at, ok := e.figureOf(res, "CEC")
	if !ok || cec <= 0 {
		return
	}
	e.shares(res, cec)
	sum, names, all := 0.0, "", true
	for _, cation := range []string{"Ca", "Mg", "K", "Na", "H"} {
		x, _, ok := e.charge(res, cation)
		if !ok {
			all = all && (cation == "Na" || cation == "H")
			continue
		}
		sum += x
		if names != "" {
			names += ", "
		}
		names += cation
	}
	if !all {
		return
	}
	_, _, withH := e.figureOf(res, "H")
	row := res.Rows[0]
	e.ratios["CEC"] = append(e.ratios["CEC"], sum/cec)
	switch {
	case sum > (1+basesOff)*cec:
		e.flag(at, "the bases are more than the CEC", row, "%s add up to %s meq/100 g, more than the CEC of %s: %s", names, number(sum), number(cec), e.excuse(res))
	case withH && sum < (1-basesOff)*cec:
		e.flag(at, "the cations are less than the CEC", row, "%s add up to %s meq/100 g, less than the CEC of %s: look at the units", names, number(sum), number(cec))
	}
}

// excuse says what may make the bases more than the CEC.
func (e *examination) excuse(res Result) string {
	const limy = 7.3 // about where free lime begins; from memory
	pH, _, ok := e.figureOf(res, "pH")
	switch {
	case !ok:
		return "look at the units; in a calcareous soil free lime counts as Ca"
	case pH >= limy:
		return fmt.Sprintf("at pH %s free lime may count as Ca; else look at the units", number(pH))
	}
	return fmt.Sprintf("look at the units; pH %s is too low for free lime", number(pH))
}

// shares compares each cation with its saturation, and their sum with 100.
func (e *examination) shares(res Result, cec float64) {
	total, last := 0.0, -1
	for _, cation := range []string{"Ca", "Mg", "K", "Na", "H"} {
		share, col, ok := e.figureOf(res, cation+" saturation")
		if !ok {
			continue
		}
		total, last = total+share, col
		x, from, ok := e.charge(res, cation)
		if !ok || x <= 0 {
			continue
		}
		is := 100 * x / cec
		if share > 0 {
			key := "share " + cation
			e.ratios[key] = append(e.ratios[key], is/share)
		}
		if off := math.Abs(is - share); off > shareOff*share && off > pointsOff {
			e.flag(col, "the saturation is another than the amount gives", res.Rows[0], "%s of the CEC, but %s gives %s %%", figureShare(share), show(e.columns[from].Name), number(rounded(is)))
		}
	}
	if total > 105 {
		e.flag(last, "the saturations are more than 100 %", res.Rows[0], "the saturations add up to %s %%", number(total))
	}
}

func figureShare(x float64) string { return number(x) + " %" }

// baseColumns names the slip behind a ratio that all results have.
func (e *examination) baseColumns() {
	ratio, constant := steady(e.ratios["CEC"])
	if slip := slipOf("", ratio); constant && slip != "" {
		e.flag(slices.IndexFunc(e.columns, func(c Column) bool { return c.Analyte == "CEC" }), "", 0,
			"the bases are %.2g times the CEC in every row: %s, or the CEC in another unit?", ratio, slip)
	}
	for _, cation := range []string{"Ca", "Mg", "K", "Na", "H"} {
		ratio := median(e.ratios["share "+cation])
		col := slices.IndexFunc(e.columns, func(c Column) bool { return c.Role == RoleAnalyte && c.Analyte == cation })
		if len(e.ratios["share "+cation]) < fewest || col < 0 || math.Abs(ratio-1) <= shareOff {
			continue
		}
		text := fmt.Sprintf("the amounts are %.2g times what the saturation and the CEC give", ratio)
		if slip := slipOf(cation, ratio); slip != "" {
			text += ": " + slip + "?"
		}
		e.flag(col, "", 0, "%s", text)
	}
}

// texture sees that sand, silt and clay add up to 100.
func (e *examination) texture(res Result) {
	sum, at := 0.0, -1
	for _, part := range []string{"sand", "silt", "clay"} {
		x, col, ok := e.figureOf(res, part)
		if !ok {
			return
		}
		sum, at = sum+x, col
	}
	if math.Abs(trim(sum-100)) > textureOff {
		e.flag(at, "the texture doesn't add up to 100 %", res.Rows[0], "sand, silt and clay add up to %s %%", number(sum))
	}
}
