package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"corewalk/geo"
)

// meanRows writes the means of a field, and in a sentence how they came about.
func meanRows(means []Mean) ([]designRow, string) {
	var rows []designRow
	var methods []string
	confidence := 0.0
	for _, m := range means {
		// As many digits as the standard error bears.
		n := decimals(m.Mean, 3)
		if finite(m.SE) && m.SE > 0 {
			n = min(decimals(m.SE, 1)+1, 4)
		}
		row := designRow{
			Analyte: m.Analyte, Part: m.Part, Mean: fixed(m.Mean, n) + inUnit(m.Unit), Error: fixed(m.SE, n), Interval: dash,
			Composites: strconv.Itoa(m.Composites), Covered: percent(m.Covered),
		}
		if row.Part == "" {
			row.Part = "the field"
		}
		if finite(m.Low) && finite(m.High) {
			row.Interval = fixed(m.Low, n) + " to " + fixed(m.High, n)
			confidence = m.Confidence
		}
		rows = append(rows, row)
		if !slices.Contains(methods, m.Method) {
			methods = append(methods, m.Method)
		}
	}
	if len(rows) == 0 {
		return nil, ""
	}
	how := "Estimated by the design that took the composites, each sampling unit weighted by its area (" + strings.Join(methods, "; ") + "). Problem areas are left out."
	if confidence > 0 {
		how += fmt.Sprintf(" The interval holds the true mean in %s of samplings like this one", percent(confidence))
		if slices.ContainsFunc(methods, func(m string) bool { return strings.Contains(m, "joined") }) {
			how += " or more: with one composite to a unit, neighbouring units are taken together, which makes it too wide where they differ"
		}
		how += "."
	}
	return rows, how
}

// comparedRows writes problem areas beside the healthy ground next to them.
func comparedRows(list []Comparison) []comparedRow {
	var rows []comparedRow
	for _, c := range list {
		n := max(decimals(c.Value, 3), decimals(c.Healthy, 3))
		sign := ""
		if c.Difference > 0 {
			sign = "+"
		}
		rows = append(rows, comparedRow{
			Problem: c.Problem, Analyte: c.Analyte + inUnit(c.Unit), Value: fixed(c.Value, n), Healthy: fixed(c.Healthy, n),
			Difference: sign + fixed(c.Difference, n), Main: fixed(c.Main, n),
			Samples: strings.Join(c.Samples, ", "), With: strings.Join(c.With, ", "),
		})
	}
	return rows
}

func inUnit(unit string) string {
	if unit == "" {
		return ""
	}
	return "\u00a0" + unit
}

// length writes metres in kilometres or miles.
func (measures) length(metres float64) string {
	return Both(fixed(metres/(5280*geo.Foot), 1)+" mi", fixed(metres/1000, 1)+" km")
}

// duration writes seconds in hours and minutes.
func duration(seconds float64) string {
	minutes := int(math.Round(seconds / 60))
	if minutes < 60 {
		return plural(minutes, "minute", "minutes")
	}
	return fmt.Sprintf("%d h %02d min", minutes/60, minutes%60)
}
