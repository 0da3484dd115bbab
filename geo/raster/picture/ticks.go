package picture

import (
	"math"
	"strconv"
	"strings"
)

// ticks returns five or six round values from lo to hi where there are so many,
// and the decimals that they need. A range too narrow for its values has none.
func ticks(lo, hi float64) (values []float64, places int) {
	span := hi - lo
	if !(span > 0) || !finite(span) || span < 1e-9*max(math.Abs(lo), math.Abs(hi)) || span < 1e-300 {
		return nil, 0
	}
	best := math.Inf(1)
	power := int(math.Floor(math.Log10(span))) - 1
	for p := power; p <= power+1; p++ {
		for _, m := range [4]float64{1, 2, 5, 2.5} {
			step := m * math.Pow(10, float64(p))
			first, last := math.Ceil(lo/step-1e-9), math.Floor(hi/step+1e-9)
			if off := math.Abs(last - first + 1 - 5.5); off < best {
				best = off
				values = values[:0]
				for i := first; i <= last && len(values) < 20; i++ {
					values = append(values, i*step)
				}
				places = max(0, -p)
				if m == 2.5 && p <= 0 {
					places++
				}
			}
		}
	}
	return values, places
}

// number writes v with that many decimals and a true minus sign.
func number(v float64, places int) string {
	format := byte('f')
	if a := math.Abs(v); a >= 1e7 || places > 6 {
		format, places = 'g', 4
	}
	s := strconv.FormatFloat(v, format, places, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.ReplaceAll(s, "-", "−")
}

// short writes v with about three figures.
func short(v float64) string {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 2, 64), 64)
	if err != nil {
		return plain(v) // the greatest numbers there are
	}
	return plain(r)
}

// plain writes v with no more digits than it has.
func plain(v float64) string {
	return strings.ReplaceAll(strconv.FormatFloat(v, 'g', 7, 64), "-", "−")
}

// roundBelow returns the greatest 1, 2 or 5 times a power of ten that is not
// above v, and which of the three.
func roundBelow(v float64) (length, lead float64) {
	power := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range [3]float64{5, 2, 1} {
		if m*power <= v {
			return m * power, m
		}
	}
	return power, 1
}
