package geo

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Square metres in the units that areas are written in, and metres in those of
// lengths. The foot is the international one, 0.3048 m exactly, and the acre
// 43,560 square feet of it.
const (
	Acre    = 43560 * Foot * Foot
	Hectare = 10000.0
	Foot    = 0.3048
)

var lengthUnits = map[string]float64{
	"m": 1, "metre": 1, "metres": 1, "meter": 1, "meters": 1,
	"km": 1000, "cm": 0.01, "mm": 0.001,
	"ft": Foot, "foot": Foot, "feet": Foot,
	"in": Foot / 12, "yd": 3 * Foot, "mi": 5280 * Foot,
}

var areaUnits = map[string]float64{
	"m2": 1, "m²": 1, "ha": Hectare, "ac": Acre, "acre": Acre, "acres": Acre,
	"ft2": Foot * Foot, "ft²": Foot * Foot, "km2": 1e6, "km²": 1e6,
}

// ParseLength reads a length written with its unit (30ft, 10 m) and returns
// metres. A bare number is refused, except 0.
func ParseLength(s string) (float64, error) {
	return parseMeasure(s, lengthUnits, "length", "10m or 30ft")
}

// ParseArea reads an area written with its unit (2.5ac, 1 ha) and returns
// square metres. A bare number is refused, except 0.
func ParseArea(s string) (float64, error) {
	return parseMeasure(s, areaUnits, "area", "2.5ac or 1ha")
}

func parseMeasure(s string, units map[string]float64, what, example string) (float64, error) {
	t := strings.TrimSpace(s)
	end := strings.IndexFunc(t, func(r rune) bool { return !strings.ContainsRune("0123456789.+-", r) })
	number, unit := t, ""
	if end >= 0 {
		number, unit = t[:end], strings.ToLower(strings.TrimSpace(t[end:]))
	}
	v, err := strconv.ParseFloat(number, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is not a %s; write it with its unit, as in %s", s, what, example)
	}
	if v < 0 {
		return 0, fmt.Errorf("%q is below zero; a %s must not be", s, what)
	}
	factor, ok := units[unit]
	switch {
	case unit == "" && v == 0:
		return 0, nil
	case unit == "":
		return 0, fmt.Errorf("%q has no unit; write %s", s, example)
	case !ok:
		return 0, fmt.Errorf("%q has the unit %q, which is not known for a %s; write %s", s, unit, what, example)
	}
	if v *= factor; math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is too large for a %s", s, what)
	}
	return v + 0, nil // not -0
}

// ParseBearing reads a bearing in degrees clockwise from north, from -360 to
// 360: 30, 30deg, 30°.
func ParseBearing(s string) (float64, error) {
	t := strings.TrimSpace(s)
	for _, unit := range []string{"degrees", "deg", "°"} {
		if cut, ok := strings.CutSuffix(t, unit); ok {
			t = strings.TrimSpace(cut)
			break
		}
	}
	v, err := strconv.ParseFloat(t, 64)
	if err != nil || !(v >= -360 && v <= 360) {
		return 0, fmt.Errorf("%q is not a bearing; write degrees clockwise from north, as in 30", s)
	}
	return v + 0, nil // not -0
}
