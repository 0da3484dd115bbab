package lab

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// decimals is what the cells of a table say about its decimal mark.
type decimals struct {
	commas  bool // a comma may be a decimal mark: the delimiter is another one
	byComma bool // some number can only be read with a decimal comma
	byPoint bool // some number can only be read with a decimal point
}

// largest is far above any figure of a lab and keeps sums finite.
const largest = 1e15

var errNotNumber = errors.New("is not a number")

// tidy takes spaces of every kind off the ends and makes the minus sign plain.
func tidy(s string) string {
	for s != "" && (s[0] == ' ' || s[0] >= '\t' && s[0] <= '\r') {
		s = s[1:]
	}
	for s != "" && (s[len(s)-1] == ' ' || s[len(s)-1] >= '\t' && s[len(s)-1] <= '\r') {
		s = s[:len(s)-1]
	}
	if ascii(s) {
		return s // nearly every cell, and ten times as fast
	}
	s = strings.Trim(s, " \t\r\n\v\f\u00a0\u2007\u202f\u2009\u200b\ufeff\u3000")
	return strings.ReplaceAll(s, "\u2212", "-")
}

func ascii(s string) bool {
	for i := range len(s) {
		if s[i] >= utf8.RuneSelf {
			return false
		}
	}
	return true
}

// parseNumber reads a tidied number: digits with an optional sign, decimal mark
// and exponent, in groups of three if the groups can't be mistaken. It knows no
// NaN, Inf, hexadecimal or underscore.
func parseNumber(s string, d decimals) (float64, error) {
	if point, ok := bareNumber(s); !ok || point && d.byComma {
		sign, body, exp, ok := cutNumber(s)
		if !ok {
			return 0, errNotNumber
		}
		plain, err := plainDecimal(body, d)
		if err != nil {
			return 0, err
		}
		s = sign + plain + exp
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || v > largest || v < -largest {
		return 0, errors.New("is out of all range")
	}
	return v, nil
}

// bareNumber tells whether s is digits with one decimal point at most, and
// whether it has the point.
func bareNumber(s string) (point, ok bool) {
	digits := 0
	for i := range len(s) {
		switch {
		case s[i] >= '0' && s[i] <= '9':
			digits++
		case s[i] == '.' && !point:
			point = true
		default:
			return false, false
		}
	}
	return point, digits > 0
}

// cutNumber cuts s into sign, body and exponent. The body holds digits and
// marks only, with at least one digit.
func cutNumber(s string) (sign, body, exp string, ok bool) {
	if s != "" && (s[0] == '-' || s[0] == '+') {
		sign, s = s[:1], s[1:]
	}
	if i := strings.IndexAny(s, "eE"); i >= 0 {
		digits := strings.TrimLeft(s[i+1:], "+-")
		if len(s)-i-1-len(digits) > 1 || len(digits) > 3 || !allDigits(digits) {
			return "", "", "", false
		}
		s, exp = s[:i], s[i:]
	}
	digits := 0
	for _, r := range s {
		switch {
		case r >= '0' && r <= '9':
			digits++
		case r != '.' && r != ',' && r != '\u00a0' && r != '\u202f':
			return "", "", "", false
		}
	}
	return sign, s, exp, digits > 0
}

func allDigits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}

// plainDecimal turns the body of a number into digits with a decimal point.
func plainDecimal(body string, d decimals) (string, error) {
	points, commas := strings.Count(body, "."), strings.Count(body, ",")
	hardSpaces := strings.ContainsAny(body, "\u00a0\u202f")
	switch {
	case hardSpaces:
		whole, frac, mark := body, "", ""
		if i := strings.LastIndexAny(body, ".,"); i >= 0 {
			whole, mark, frac = body[:i], body[i:i+1], body[i+1:]
		}
		digits, ok := ungroup(strings.ReplaceAll(whole, "\u202f", "\u00a0"), "\u00a0")
		if !ok || (frac != "" && !allDigits(frac)) {
			return "", errNotNumber
		}
		if mark == "," && !d.commas {
			return "", errors.New("has a decimal comma in a comma-separated file: write it with a point")
		}
		return digits + "." + frac, nil
	case points == 0 && commas == 0:
		return body, nil
	case points == 1 && commas == 0:
		if d.byComma && looksGrouped(body, ".") {
			return "", fmt.Errorf("is ambiguous in a table with decimal commas: write %s or %s", strings.Replace(body, ".", "", 1), strings.Replace(body, ".", ",", 1))
		}
		return body, nil
	case points == 0 && commas == 1:
		if looksGrouped(body, ",") && !(d.commas && d.byComma && !d.byPoint) {
			return "", fmt.Errorf("is ambiguous: write %s or %s", strings.Replace(body, ",", "", 1), strings.Replace(body, ",", ".", 1))
		}
		if !d.commas {
			return "", fmt.Errorf("has a decimal comma in a comma-separated file: write %s", strings.Replace(body, ",", ".", 1))
		}
		return strings.Replace(body, ",", ".", 1), nil
	case points == 1 && strings.LastIndexByte(body, ',') < strings.IndexByte(body, '.'):
		whole, frac, _ := strings.Cut(body, ".")
		if digits, ok := ungroup(whole, ","); ok {
			return digits + "." + frac, nil
		}
	case commas == 1 && strings.LastIndexByte(body, '.') < strings.IndexByte(body, ',') && d.commas:
		whole, frac, _ := strings.Cut(body, ",")
		if digits, ok := ungroup(whole, "."); ok {
			return digits + "." + frac, nil
		}
	case points == 0:
		if digits, ok := ungroup(body, ","); ok {
			return digits, nil
		}
	case commas == 0 && d.byComma:
		if digits, ok := ungroup(body, "."); ok {
			return digits, nil
		}
	}
	return "", errNotNumber
}

// looksGrouped tells whether a body with one mark could be thousands: "1,234",
// but neither "0,234" nor "1234,567".
func looksGrouped(body, mark string) bool {
	whole, rest, _ := strings.Cut(body, mark)
	return len(whole) >= 1 && len(whole) <= 3 && whole[0] != '0' && len(rest) == 3
}

// ungroup takes the separators out of digits in groups of three.
func ungroup(s, mark string) (string, bool) {
	groups := strings.Split(s, mark)
	for i, g := range groups {
		if !allDigits(g) || len(g) > 3 || (i > 0 && len(g) != 3) || (i == 0 && len(groups) > 1 && g[0] == '0') {
			return "", false
		}
	}
	return strings.Join(groups, ""), true
}

// learn adds what one cell says about the decimal mark.
func (d *decimals) learn(cell string) {
	s := tidy(cell)
	if point, ok := bareNumber(s); ok {
		d.byPoint = d.byPoint || point && !looksGrouped(s, ".")
		return
	}
	s = strings.TrimLeft(s, "<>=≤≥ ")
	_, body, _, ok := cutNumber(s)
	if !ok || strings.ContainsAny(body, "\u00a0\u202f") {
		return
	}
	points, commas := strings.Count(body, "."), strings.Count(body, ",")
	switch {
	case points == 1 && commas == 0:
		d.byPoint = d.byPoint || !looksGrouped(body, ".")
	case points == 0 && commas == 1:
		d.byComma = d.byComma || (d.commas && !looksGrouped(body, ","))
	case points == 1 && commas > 0 && strings.IndexByte(body, '.') > strings.LastIndexByte(body, ','):
		d.byPoint = true
	case commas == 1 && points > 0 && d.commas:
		d.byComma = true
	}
}
