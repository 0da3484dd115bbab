package lab

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// numberStyle is what a cell's style makes of its number.
type numberStyle byte

const (
	styleNone numberStyle = iota
	styleDate
	stylePercent
)

// builtInStyle knows the formats that a file need not spell out (ECMA-376 part
// 1, 18.8.30; those above 49 depend on the language).
func builtInStyle(n int) numberStyle {
	switch {
	case n == 9, n == 10:
		return stylePercent
	case n >= 14 && n <= 22, n >= 27 && n <= 36, n >= 45 && n <= 47, n >= 50 && n <= 58:
		return styleDate
	}
	return styleNone
}

// formatStyle reads the first section of a number format. Text in quotes, after a
// backslash and in brackets says nothing, but for [h], [m] and [s], which are
// times.
func formatStyle(code string) numberStyle {
	style := styleNone
	for i := 0; i < len(code); i++ {
		switch c := code[i]; c {
		case ';':
			return style
		case '"':
			end := strings.IndexByte(code[i+1:], '"')
			if end < 0 {
				return style
			}
			i += end + 1
		case '\\', '_', '*':
			i++
		case '[':
			end := strings.IndexByte(code[i:], ']')
			if end < 0 {
				return style
			}
			if strings.Trim(strings.ToLower(code[i+1:i+end]), "hms") == "" && end > 1 {
				return styleDate
			}
			i += end
		case '%':
			style = stylePercent
		case 'y', 'Y', 'm', 'M', 'd', 'D', 'h', 'H', 's', 'S':
			return styleDate
		}
	}
	return style
}

// dateText writes a day count as a date, with the time of day if there is one.
// The count from 1900 has a 29 February of that year, which never was. ok is
// false for a number that is no date.
func dateText(serial float64, from1904 bool) (text string, ok bool) {
	if !(serial >= 0 && serial < 2958466) { // the year 10000
		return "", false
	}
	days, part := math.Modf(serial)
	seconds := math.Round(part * 86400)
	base := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	switch {
	case from1904:
		base = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	case days < 61:
		base = base.AddDate(0, 0, 1)
	}
	at := base.AddDate(0, 0, int(days)).Add(time.Duration(seconds) * time.Second)
	switch {
	case days == 0 && !from1904:
		return at.Format(time.TimeOnly), true
	case seconds == 0:
		return at.Format(time.DateOnly), true
	}
	return at.Format(time.DateTime), true
}

// numberText writes a number with a point, without an exponent where it isn't
// far out, and to the 15 digits that a spreadsheet vouches for.
func numberText(x float64) string {
	if y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 15, 64), 64); err == nil {
		x = y
	}
	if x == 0 {
		return "0" // and not -0
	}
	if a := math.Abs(x); a < 1e-9 || a >= 1e21 {
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}
