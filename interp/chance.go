package interp

import (
	"math"
	"slices"
)

// Errors is the distribution of what leaving out composites showed: observed
// less predicted figures.
type Errors []float64

// NewErrors sorts residuals.
func NewErrors(residuals []Residual) Errors {
	out := make(Errors, len(residuals))
	for i, r := range residuals {
		out[i] = r.Observed - r.Predicted
	}
	slices.Sort(out)
	return out
}

// Empty reports whether nothing was compared.
func (e Errors) Empty() bool { return len(e) == 0 }

// Chance is the share of errors with which a predicted figure is truly beyond a
// limit: below it where low, else above it. It is NaN without errors.
func (e Errors) Chance(predicted, limit float64, low bool) float64 {
	below, found := slices.BinarySearch(e, limit-predicted)
	if !low {
		for found && below < len(e) && e[below] == limit-predicted {
			below++
		}
		below = len(e) - below
	}
	return float64(below) / float64(len(e))
}

// NormalChance is the chance that a figure is beyond a limit, below it where low,
// else above it, where its errors are normal with the given standard error. With
// no error it is 0 or 1.
func NormalChance(predicted, standardError, limit float64, low bool) float64 {
	off := limit - predicted
	if !low {
		off = -off
	}
	if !(standardError > 0) {
		if off > 0 {
			return 1
		}
		return 0
	}
	return math.Erfc(-off/standardError/math.Sqrt2) / 2
}
