package estimate

import (
	"fmt"
	"math"
	"sort"
)

// MaxSize bounds the sample sizes reckoned with.
const MaxSize = 1_000_000_000

// HalfWidth returns half the width of the confidence interval that n values
// give of a mean: t cv/√n with n-1 degrees of freedom, in the terms of cv. A
// coefficient of variation gives it relative to the mean, a standard deviation
// in the unit of the values. Fewer than two values tell nothing of their error:
// +Inf.
func HalfWidth(n int, cv, confidence float64) (float64, error) {
	if err := checkAim(cv, 1, confidence); err != nil {
		return 0, err
	}
	return halfWidth(n, cv, confidence), nil
}

func halfWidth(n int, cv, confidence float64) float64 {
	if n < 2 {
		return math.Inf(1)
	}
	return tQuantile(confidence, float64(n-1)) * cv / math.Sqrt(float64(n))
}

// Size returns the least n, from 2, whose HalfWidth is at most e, that is with
// n >= (t cv/e)². Cv and e stand in the same terms: both relative to the mean,
// or both in the unit of the values.
//
// Because t falls and √n grows with n the sizes that do are all those from some
// n on, so bisection finds it; to put n into the formula again and again need
// not settle.
func Size(cv, e, confidence float64) (int, error) {
	if err := checkAim(cv, e, confidence); err != nil {
		return 0, err
	}
	n := 2 + sort.Search(MaxSize-1, func(i int) bool { return halfWidth(i+2, cv, confidence) <= e })
	if n > MaxSize {
		return 0, tooMany(cv, e)
	}
	return n, nil
}

// SizeNormal returns (u cv/e)² rounded up, where u is the normal quantile: the
// size when the variation is known beforehand (Brus 2022, Spatial Sampling with
// R, chapter 12). Terms as for Size, which is never less.
func SizeNormal(cv, e, confidence float64) (int, error) {
	if err := checkAim(cv, e, confidence); err != nil {
		return 0, err
	}
	r := uQuantile(confidence) * (cv / e)
	n := max(1, math.Ceil(r*r))
	if n > MaxSize {
		return 0, tooMany(cv, e)
	}
	return int(n), nil
}

// Finite returns the size that does among a population of so many places what n
// does among no end of them: n/(1+n/N) rounded up (Brus 2022, chapter 12). A
// population that is not above 0 is no end of them; n below 1 is 0.
func Finite(n int, population float64) int {
	if n < 1 {
		return 0
	}
	if !(population > 0) {
		return n
	}
	return int(math.Ceil(float64(n) / (1 + float64(n)/population)))
}

func checkAim(cv, e, confidence float64) error {
	if !(cv > 0 && finite(cv)) {
		return fmt.Errorf("a coefficient of variation of %g is not above 0; 0.3 means that values spread by 30 %% of their mean", cv)
	}
	if !(e > 0 && finite(e)) {
		return fmt.Errorf("an error of %g is not above 0; 0.1 asks for the mean to within 10 %%", e)
	}
	return checkConfidence(confidence)
}

func tooMany(cv, e float64) error {
	return fmt.Errorf("an error of %g at a variation of %g takes more than %d samples; check their units or allow a larger error", e, cv, MaxSize)
}
