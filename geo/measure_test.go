package geo

import (
	"math"
	"strings"
	"testing"
)

func TestParseMeasures(t *testing.T) {
	for in, want := range map[string]float64{
		"10m": 10, " 10 m ": 10, "30ft": 9.144, "30 FT": 9.144, "0": 0, "0.0": 0, "-0": 0, "0ft": 0, ".5km": 500, "1.km": 1000,
		"12in": 0.3048, "1yd": 0.9144, "1mi": 1609.344, "250cm": 2.5, "1500mm": 1.5, "3 metres": 3, "1foot": 0.3048, "+2m": 2,
	} {
		got, err := ParseLength(in)
		if err != nil || !near(got, want, 1e-12*want) || math.Signbit(got) {
			t.Errorf("%q: %v, %v", in, got, err)
		}
	}
	for in, want := range map[string]float64{
		"1ha": 1e4, "2.5ac": 10117.141056, "1 acre": 4046.8564224, "100m2": 100, "100 m²": 100, "1km2": 1e6, "43560ft2": 4046.8564224, "0": 0,
	} {
		if got, err := ParseArea(in); err != nil || !near(got, want, 1e-9*want) {
			t.Errorf("%q: %v, %v", in, got, err)
		}
	}
	for in, says := range map[string]string{
		"10": "has no unit", "2.5": "has no unit", "": "is not a length", "m": "is not a length", "ten m": "is not a length",
		"10ha": "not known for a length", "10 furlong": "not known", "-3m": "below zero", "-1e5m": "below zero", "1e3m": "not known",
		"1,5m": "not known", "1.2.3m": "is not a length", "NaN": "is not a length", "inf m": "is not a length", "0x10m": "not known",
		"--5m": "is not a length", "1_000m": "not known", strings.Repeat("9", 400) + "m": "is not a length",
		strings.Repeat("9", 308) + "km": "too large", "10m10m": "not known", "10 m m": "not known",
	} {
		if got, err := ParseLength(in); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, %v", in, got, err)
		}
	}
	for _, in := range []string{"1", "5m", "3ft", "2.5 a", "1hectare2"} {
		if got, err := ParseArea(in); err == nil {
			t.Errorf("%q is an area of %v", in, got)
		}
	}
}
