// Package estimate turns the values of a probability sample into an estimate of
// the mean with a confidence interval, and says how many samples an aim of
// precision takes and how to share them among strata.
//
// It knows no geometry: a stratum is a size and the values found in it.
package estimate

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Stratum is a part of the whole that was sampled by itself, its places drawn
// at random and with equal chance.
type Stratum struct {
	Name       string    // for messages; empty: its place in the list, from 1
	Size       float64   // area or count in any unit, above 0; its share is the weight
	Values     []float64 // one for each place drawn; none: the stratum is left out, and said
	Population int       // places there are, when drawn without replacement; 0: no end of them
}

// Method says where the standard error of an Estimate comes from.
type Method string

const (
	SimpleRandom Method = "simple random sample"
	Stratified   Method = "stratified random sample"
	Collapsed    Method = "stratified random sample, strata of one value joined"
)

// Estimate is that of a mean, in the unit of the values.
type Estimate struct {
	Mean       float64
	SE         float64 // standard error
	DF         float64 // degrees of freedom, seldom whole; 0 when everything was measured
	Low, High  float64 // ends of the confidence interval
	Confidence float64
	N          int     // values
	Strata     int     // that have values
	Covered    float64 // share of the whole, by size, that the strata with values make
	Method     Method
	Notes      []string // what a reader of the figures must know
}

// Mean estimates the mean of the whole from strata, in which the order of
// neighbours counts only where some have one value.
//
// The estimate is sum w m, where w is the share of a stratum by size and m the
// mean of its values; its variance is sum w² (1-n/N) s²/n, and the interval
// goes by Student's t with Satterthwaite's degrees of freedom (Brus 2022,
// Spatial Sampling with R, chapter 4). One stratum is a simple random sample.
//
// A stratum of one value has no s². Such strata are joined in pairs of
// neighbours, in the order given, with a triple at the end when they are odd in
// number, and s² is that of the values joined; if there is only one it joins the
// stratum before it, or the first the one after, and that s² serves for both. With equal weights this is the method
// of collapsed strata (Hansen, Hurwitz and Madow 1953; Cochran 1977, Sampling
// Techniques, section 5A.12; both from memory). The variance then holds the
// differences between the strata joined as well, so it is too large, unless
// larger strata vary more in themselves by more than that. Where weights differ
// the form those authors give, for a pair 4(w1 w2/(w1+w2))² (m1-m2)², falls
// short even if the strata are all alike (by 29 % for weights of 2 to 1), so
// here it is (w1²+w2²)/2 (m1-m2)², the formula above with the s² of the pair.
// Pairs must not be chosen by their values. The degrees of freedom of the
// joined strata come from their weights alone, because one difference tells too
// little of its own variance: with equal weights, one for each pair.
//
// Strata without values are left out: the estimate is of the rest, whose share
// is Covered, and a note says so. Without sampling error, as when every place
// was measured or all values are the same, the interval is the mean.
//
// Errors are no values at all, one value alone, sizes that are not above 0,
// values that are no finite numbers, more values than places, and a confidence
// outside 0.5 to 0.9999.
func Mean(strata []Stratum, confidence float64) (Estimate, error) {
	if err := checkConfidence(confidence); err != nil {
		return Estimate{}, err
	}
	parts, e, err := prepare(strata)
	if err != nil {
		return Estimate{}, err
	}
	e.Confidence = confidence
	singles, alone := 0, -1
	for i, p := range parts {
		if p.single() {
			singles++
			alone = i
		}
	}
	switch {
	case singles > 0 && len(parts) == 1:
		return Estimate{}, errors.New("one value has no standard error; take at least two")
	case singles > 0:
		e.Method = Collapsed
		e.Notes = append(e.Notes, joinedNote(singles))
	case len(parts) == 1:
		e.Method = SimpleRandom
	default:
		e.Method = Stratified
	}
	if singles == 1 {
		parts = joinNeighbour(parts, alone)
	}
	v := sum(variances(parts))
	e.SE, e.DF = math.Sqrt(v.variance), v.df
	e.Low, e.High = e.Mean, e.Mean
	if e.SE > 0 {
		half := tQuantile(confidence, e.DF) * e.SE
		e.Low, e.High = e.Mean-half, e.Mean+half
	}
	if !finite(e.Low) || !finite(e.High) {
		return Estimate{}, errors.New("the values are too large to reckon with; check their unit")
	}
	return e, nil
}

// prepare checks strata and returns those with values, weights adding up to 1,
// and the estimate without its error.
func prepare(strata []Stratum) ([]part, Estimate, error) {
	var parts []part
	var e Estimate
	var all, with float64
	var empty []string
	for i, s := range strata {
		label := s.Name
		if label == "" {
			label = fmt.Sprintf("stratum %d", i+1)
		}
		if !(s.Size > 0 && finite(s.Size)) {
			return nil, e, fmt.Errorf("%s: a size of %g is not above 0; give its area or count", label, s.Size)
		}
		if s.Population < 0 || s.Population > 0 && s.Population < len(s.Values) {
			return nil, e, fmt.Errorf("%s: %d values cannot come from a population of %d; give the number of places there are, or 0 for no end of them", label, len(s.Values), s.Population)
		}
		all += s.Size
		if len(s.Values) == 0 {
			empty = append(empty, label)
			continue
		}
		with += s.Size
		p := part{weight: s.Size}
		for k, v := range s.Values {
			if !finite(v) {
				return nil, e, fmt.Errorf("%s: value %d is %g, not a finite number; leave it out", label, k+1, v)
			}
			p.add(v)
		}
		p.factor = 1 / float64(p.n)
		if s.Population > 0 {
			p.factor -= 1 / float64(s.Population)
		}
		parts = append(parts, p)
		e.N += p.n
	}
	if len(parts) == 0 {
		return nil, e, errors.New("there are no values to estimate from")
	}
	if !finite(all) {
		return nil, e, errors.New("the sizes of the strata add up to more than can be reckoned with; check their unit")
	}
	// From the first mean, so that values all the same give just that.
	e.Mean = parts[0].mean
	for i := range parts {
		p := &parts[i]
		p.weight /= with
		p.factor *= p.weight * p.weight
		e.Mean += p.weight * (p.mean - parts[0].mean)
	}
	e.Strata, e.Covered = len(parts), with/all
	if len(empty) > 0 {
		e.Notes = append(e.Notes, fmt.Sprintf("%d of %d strata have no value (%s): the estimate is of the others, %.1f %% of the whole", len(empty), len(strata), list(empty), 100*e.Covered))
	}
	return parts, e, nil
}

// list names a few.
func list(names []string) string {
	const few = 5
	if len(names) > few {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:few], ", "), len(names)-few)
	}
	return strings.Join(names, ", ")
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
