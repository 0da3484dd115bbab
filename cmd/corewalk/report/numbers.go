package report

import (
	"math"
	"strconv"
	"strings"

	"corewalk/geo"
)

// dash stands where there is no figure.
const dash = "–"

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// fixed writes v with so many decimals, and a dash where there is no figure.
func fixed(v float64, decimals int) string {
	if !finite(v) {
		return dash
	}
	s := strconv.FormatFloat(v, 'f', max(decimals, 0), 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}

// decimals returns how many decimals write v with so many significant digits;
// none from 10^digits on.
func decimals(v float64, digits int) int {
	v = math.Abs(v)
	if v == 0 || !finite(v) {
		return 0
	}
	return min(max(digits-1-int(math.Floor(math.Log10(v))), 0), 9)
}

// significant writes v with so many significant digits.
func significant(v float64, digits int) string { return fixed(v, decimals(v, digits)) }

// neededDecimals returns how many decimals v has, up to most.
func neededDecimals(v float64, most int) int {
	if !finite(v) {
		return 0
	}
	s := strconv.FormatFloat(v, 'f', most, 64)
	_, fraction, _ := strings.Cut(s, ".")
	return len(strings.TrimRight(fraction, "0"))
}

// percent writes a share as a whole percentage.
func percent(share float64) string {
	if !finite(share) {
		return dash
	}
	if share > 0 && share < 0.005 {
		return "less than 1\u00a0%"
	}
	return fixed(100*share, 0) + "\u00a0%"
}

// chance writes a probability; never one of none or of all.
func chance(v float64) string {
	if v > 0.995 {
		return "over 99\u00a0%"
	}
	if v < 0.005 {
		return "under 1\u00a0%"
	}
	return percent(v)
}

// plural writes a count with its noun.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// list joins words as a sentence does.
func list(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
}

// measures writes areas, lengths, rates and masses in the units of either reader.
type measures struct{}

// area writes square metres in acres or hectares, small ones in square feet or
// square metres.
func (measures) area(m2 float64) string { return Both(acres(m2), hectares(m2)) }

// areaInWords is area, with hectares in brackets after acres.
func (measures) areaInWords(m2 float64) string {
	if !finite(m2) {
		return dash
	}
	return Both(acres(m2)+" ("+hectares(m2)+")", hectares(m2))
}

func acres(m2 float64) string { return areaIn(m2, geo.Acre, "ac", geo.Foot*geo.Foot, "sq ft") }

func hectares(m2 float64) string { return areaIn(m2, geo.Hectare, "ha", 1, "m²") }

func areaIn(m2, large float64, largeName string, small float64, smallName string) string {
	switch v := m2 / large; {
	case !finite(v):
		return dash
	case v >= 100:
		return fixed(v, 0) + " " + largeName
	case v >= 10:
		return fixed(v, 1) + " " + largeName
	case v >= 0.095:
		return fixed(v, 2) + " " + largeName
	default:
		return fixed(m2/small, 0) + " " + smallName
	}
}
