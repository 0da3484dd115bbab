package estimate

import (
	"errors"
	"fmt"
	"math"
)

// Proportional shares n samples among strata by their sizes: n N_h/N. Shares
// are exact, not rounded, and add up to n.
func Proportional(n int, sizes []float64) ([]float64, error) {
	if err := checkSizes(n, sizes); err != nil {
		return nil, err
	}
	return shares(n, sizes)
}

// Neyman shares n samples so that the variance of the estimated mean is least:
// by size times standard deviation, over the square root of the cost of one
// sample in that stratum (Neyman 1934; with costs Cochran 1977; formulas as in
// Brus 2022, Spatial Sampling with R, chapter 4). Costs nil: all the same.
// Shares are exact, not rounded, and add up to n; one may be below 2, with which
// no standard error can be reckoned, or above the number of places there are.
func Neyman(n int, sizes, sds, costs []float64) ([]float64, error) {
	if len(sds) != len(sizes) || costs != nil && len(costs) != len(sizes) {
		return nil, fmt.Errorf("%d sizes, %d standard deviations and %d costs do not belong together; give one of each for a stratum", len(sizes), len(sds), len(costs))
	}
	if err := checkSizes(n, sizes); err != nil {
		return nil, err
	}
	by := make([]float64, len(sizes))
	spread := false
	for i, sd := range sds {
		if !(sd >= 0 && finite(sd)) {
			return nil, fmt.Errorf("stratum %d: a standard deviation of %g is out of range; give 0 or more", i+1, sd)
		}
		spread = spread || sd > 0
		by[i] = sizes[i] * sd
		if costs == nil {
			continue
		}
		if !(costs[i] > 0 && finite(costs[i])) {
			return nil, fmt.Errorf("stratum %d: a cost of %g is not above 0", i+1, costs[i])
		}
		by[i] /= math.Sqrt(costs[i])
	}
	if !spread {
		return nil, errors.New("no stratum has a standard deviation above 0; share by size instead")
	}
	return shares(n, by)
}

func checkSizes(n int, sizes []float64) error {
	if n < 1 {
		return fmt.Errorf("%d samples cannot be shared; take at least one", n)
	}
	if len(sizes) == 0 {
		return errors.New("there are no strata to share samples among")
	}
	for i, s := range sizes {
		if !(s > 0 && finite(s)) {
			return fmt.Errorf("stratum %d: a size of %g is not above 0; give its area or count", i+1, s)
		}
	}
	return nil
}

// shares splits n by weights that are not negative.
func shares(n int, by []float64) ([]float64, error) {
	var whole float64
	for _, b := range by {
		whole += b
	}
	if !(whole > 0 && finite(whole)) {
		return nil, errors.New("the sizes are too large or too small to reckon with; check their units")
	}
	out := make([]float64, len(by))
	for i, b := range by {
		out[i] = float64(n) * (b / whole)
	}
	return out, nil
}

// Allotment is a stratum of which the spread is known, or taken for known, and
// the number of samples it is to get.
type Allotment struct {
	Size       float64 // area or count, above 0
	SD         float64 // standard deviation of the values of all its places, with N-1
	N          float64 // samples, above 0; may be a share
	Population float64 // places there are, when drawn without replacement; 0: no end of them
}

// PlannedVariance returns the variance that the estimated mean of a stratified
// sample will have: sum w² (1-n/N) S²/n, where w are shares by size. Designs can
// be compared by it before a core is taken; one stratum is a simple random
// sample. Times the square of the size of the whole it is the variance of the
// estimated total.
func PlannedVariance(strata []Allotment) (float64, error) {
	if len(strata) == 0 {
		return 0, errors.New("there are no strata")
	}
	var whole, v float64
	for i, s := range strata {
		if !(s.Size > 0 && s.N > 0 && s.SD >= 0 && s.Population >= 0) || !finite(s.Size+s.N+s.SD+s.Population) {
			return 0, fmt.Errorf("stratum %d: size %g and samples %g must be above 0, standard deviation %g and population %g not below", i+1, s.Size, s.N, s.SD, s.Population)
		}
		if s.Population > 0 && s.N > s.Population {
			return 0, fmt.Errorf("stratum %d: %g samples cannot come from a population of %g", i+1, s.N, s.Population)
		}
		whole += s.Size
	}
	for _, s := range strata {
		rest := 1.0
		if s.Population > 0 {
			rest -= s.N / s.Population
		}
		d := s.Size / whole * s.SD
		v += d * d * rest / s.N
	}
	if !finite(whole) || !finite(v) {
		return 0, errors.New("the figures are too large to reckon with; check their units")
	}
	return v, nil
}
