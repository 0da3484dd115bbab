package estimate

import (
	"fmt"

	"gonum.org/v1/gonum/stat/distuv"
)

// checkConfidence refuses, beside what is no confidence at all, what looks like
// a mistake (0.05 for 0.95) or is beyond the digits of the quantiles.
func checkConfidence(c float64) error {
	if !(c >= 0.5 && c <= 0.9999) {
		return fmt.Errorf("a confidence of %g is out of range; take 0.5 to 0.9999 (0.95 is common practice)", c)
	}
	return nil
}

// uQuantile returns the u that a standard normal deviate lies within, on both
// sides, with the confidence.
func uQuantile(confidence float64) float64 {
	return -distuv.UnitNormal.Quantile((1 - confidence) / 2)
}

// tQuantile returns the same of Student's t.
//
// Distuv's loses digits as the degrees of freedom grow (ten are right at a
// million, six at a thousand million, against R), so beyond some thousands it is
// taken from the normal one by the expansion of Fisher and Cornish (Abramowitz
// and Stegun 1964, 26.7.5, from memory).
func tQuantile(confidence, df float64) float64 {
	const many = 5000
	if df <= many {
		return -distuv.StudentsT{Sigma: 1, Nu: df}.Quantile((1 - confidence) / 2)
	}
	u := uQuantile(confidence)
	s := u * u
	return u * (1 + (s+1)/(4*df) + ((5*s+16)*s+3)/(96*df*df) + (((3*s+19)*s+17)*s-15)/(384*df*df*df))
}
