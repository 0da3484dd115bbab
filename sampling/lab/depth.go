package lab

import (
	"math"
	"strconv"
	"strings"
)

// depthRange is a sampling depth; unit is "in", "cm" or "" where not said.
type depthRange struct {
	top, bottom float64
	unit        string
}

var depthSpelling = strings.NewReplacer(" ", "", "–", "-", "—", "-", "to", "-", "inches", "in", "inch", "in", `"`, "in", "in.", "in", ",", ".")

// parseDepth reads "0-8", "0 to 20 cm", `0-6"` or "8in" (from 0). ok is false
// for anything else.
func parseDepth(text, unit string) (d depthRange, ok bool) {
	s := strings.ToLower(tidy(text))
	if len(s) > 40 {
		return d, false
	}
	s = depthSpelling.Replace(s)
	if unit == "in" || unit == "cm" {
		d.unit = unit
	}
	for _, u := range []string{"in", "cm"} {
		if strings.Contains(s, u) {
			d.unit, s = u, strings.ReplaceAll(s, u, "")
		}
	}
	from, to, two := strings.Cut(s, "-")
	if !two {
		from, to = "0", s
	}
	var err1, err2 error
	d.top, err1 = depthNumber(from)
	d.bottom, err2 = depthNumber(to)
	return d, err1 == nil && err2 == nil && d.top < d.bottom
}

func depthNumber(s string) (float64, error) {
	if !allDigits(strings.Replace(s, ".", "", 1)) {
		return 0, errNotNumber
	}
	return strconv.ParseFloat(s, 64)
}

// same tells whether two depths are the same layer. Inches and centimetres are
// compared to 1 cm, since labs round one into the other; where a unit isn't
// known, the figures are compared as they stand.
func (d depthRange) same(o depthRange) bool {
	slack, f, g := 0.01, 1.0, 1.0
	if d.unit != "" && o.unit != "" && d.unit != o.unit {
		slack = 1
		if d.unit == "in" {
			f = 2.54
		} else {
			g = 2.54
		}
	}
	return math.Abs(d.top*f-o.top*g) <= slack && math.Abs(d.bottom*f-o.bottom*g) <= slack
}

// thickness is that of the layer in inches, 0 where its unit isn't known.
func (d depthRange) thickness() float64 {
	switch d.unit {
	case "in":
		return d.bottom - d.top
	case "cm":
		return (d.bottom - d.top) / 2.54
	}
	return 0
}
