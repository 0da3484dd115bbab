package estimate

import (
	"fmt"
	"slices"
)

// moments are the number, the mean and the sum of squared deviations of values,
// updated without loss of digits (Welford 1962, doi:10.1080/00401706.1962.10490022,
// from memory).
type moments struct {
	n             int
	mean, squares float64
}

func (m *moments) add(v float64) {
	m.n++
	d := v - m.mean
	m.mean += d / float64(m.n)
	m.squares += d * (v - m.mean)
}

// with returns the moments of the values of both (Chan, Golub and LeVeque 1983,
// from memory).
func (m moments) with(o moments) moments {
	n := float64(m.n + o.n)
	d := o.mean - m.mean
	return moments{m.n + o.n, m.mean + d*float64(o.n)/n, m.squares + o.squares + d*d*float64(m.n)*float64(o.n)/n}
}

// variance is s², with n-1.
func (m moments) variance() float64 { return m.squares / float64(m.n-1) }

// component is an estimated variance with its degrees of freedom.
type component struct{ variance, df float64 }

// sum adds independent variances, with the degrees of freedom of Satterthwaite
// (1946). Those of variances that are all 0 just add up.
func sum(cs []component) (total component) {
	for _, c := range cs {
		total.variance += c.variance
	}
	if total.variance == 0 {
		for _, c := range cs {
			total.df += c.df
		}
		return total
	}
	var d float64
	for _, c := range cs {
		share := c.variance / total.variance
		d += share * share / c.df
	}
	total.df = 1 / d
	return total
}

// part is a stratum that has values, or two that share their s².
type part struct {
	moments
	weight float64 // share of the whole
	factor float64 // of s² in the variance: w² (1-n/N)/n
}

// single reports whether a part needs the values of others for its s². One that
// was measured throughout does not.
func (p part) single() bool { return p.n == 1 && p.factor > 0 }

// joinNeighbour returns the parts with part i, which is single, and the one
// before it, or after the first, made one. Its mean is not that of the two.
func joinNeighbour(parts []part, i int) []part {
	i = max(i, 1)
	both := part{parts[i-1].with(parts[i].moments), parts[i-1].weight + parts[i].weight, parts[i-1].factor + parts[i].factor}
	return slices.Concat(parts[:i-1], []part{both}, parts[i+1:])
}

// variances returns what makes up the variance of the mean. All single parts, of
// which there are none or at least two, are joined, and make one component.
func variances(parts []part) []component {
	var out []component
	var singles []part
	for _, p := range parts {
		switch {
		case p.single():
			singles = append(singles, p)
		case p.factor > 0:
			out = append(out, component{p.factor * p.variance(), float64(p.n - 1)})
		}
	}
	if len(singles) == 0 {
		return out
	}
	var v, factors, d float64
	for len(singles) > 0 {
		take := 2
		if len(singles) == 3 {
			take = 3
		}
		var joined moments
		var factor float64
		for _, p := range singles[:take] {
			joined = joined.with(p.moments)
			factor += p.factor
		}
		v += factor * joined.variance()
		factors += factor
		d += factor * factor / float64(joined.n-1)
		singles = singles[take:]
	}
	// Satterthwaite's formula for variances that are alike.
	return append(out, component{v, factors * factors / d})
}

func joinedNote(singles int) string {
	how := "strata have one value each and were joined in pairs of neighbours"
	switch {
	case singles == 1:
		how = "stratum has one value and was joined with its neighbour"
	case singles == 3:
		how = "strata have one value each and were joined"
	case singles%2 == 1:
		how += ", the last three together,"
	}
	return fmt.Sprintf("%d %s for the standard error, which as a rule is too large by the differences between strata joined", singles, how)
}
