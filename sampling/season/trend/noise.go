package trend

import (
	"fmt"
	"math"
)

// Fewest degrees of freedom that an estimate of noise is taken with: of a field
// alone, and of all fields together.
const (
	fewestInField = 10
	fewestInAll   = 4
)

// usual are standard deviations of a composite's figure from memory, no source;
// a lab's own figures for its duplicates are better.
var usual = map[string]Noise{
	"pH":        {SD: 0.15},
	"buffer pH": {SD: 0.08},
	"P":         {SD: 0.15, Relative: true},
	"K":         {SD: 0.12, Relative: true},
	"Mg":        {SD: 0.12, Relative: true},
	"Ca":        {SD: 0.12, Relative: true},
	"OM":        {SD: 0.08, Relative: true},
	"CEC":       {SD: 0.1, Relative: true},
}

// pool sums squares with their degrees of freedom.
type pool struct{ squares, df float64 }

func (p *pool) add(o pool) { p.squares += o.squares; p.df += o.df }

// noise gives every stream its noise: that which is known; else that between
// composites of the same unit and season; else what is left of the figures when
// each ground has its own level (and, from four seasons on, its own slope) and
// each season its own; else what is usual.
func (c *comparer) noise(streams []*stream) {
	type of struct{ analyte, unit, method, depth string }
	within, left := map[of]*pool{}, map[of]*pool{}
	own := map[*stream][2]pool{}
	for _, s := range streams {
		k := of{s.Analyte, s.Unit, s.Method, s.Depth}
		if within[k] == nil {
			within[k], left[k] = &pool{}, &pool{}
		}
		a, b := s.within(), c.residual(s)
		own[s] = [2]pool{a, b}
		within[k].add(a)
		left[k].add(b)
	}
	for _, s := range streams {
		k := of{s.Analyte, s.Unit, s.Method, s.Depth}
		if given, ok := c.Noise[s.Analyte]; ok {
			given.DF = math.Inf(1)
			if given.How == "" {
				given.How = "as given"
			}
			s.noise = given
			continue
		}
		for i, how := range []string{"between composites of the same unit and season", "from what grounds and seasons leave unexplained"} {
			p, where := own[s][i], "in this field"
			if p.df < fewestInField {
				p, where = *[]map[of]*pool{within, left}[i][k], "in all fields"
				if p.df < fewestInAll {
					continue
				}
			}
			if p.squares > 0 {
				s.noise = Noise{SD: math.Sqrt(p.squares / p.df), DF: p.df, How: fmt.Sprintf("%s %s (%.0f degrees of freedom)", how, where, p.df)}
				break
			}
		}
		if s.noise.SD == 0 {
			if u, ok := usual[s.Analyte]; ok {
				u.DF, u.How = math.Inf(1), "too few figures to estimate it; what is usual, from memory"
				s.noise = u
			}
		}
	}
}

// within is the variation between composites of the same unit and season.
func (s *stream) within() pool {
	var p pool
	for _, i := range s.order() {
		for _, g := range s.bySeason[i] {
			if len(g.values) < 2 || g.limits {
				continue
			}
			m := g.mean()
			for _, v := range g.values {
				p.squares += (v - m) * (v - m)
			}
			p.df += float64(len(g.values) - 1)
		}
	}
	return p
}

// residual is what is left when grounds that have a figure of their own in every
// season have their level, and their slope where there are four seasons, and the
// seasons theirs. Real changes that differ from ground to ground count as noise:
// it errs to the safe side.
func (c *comparer) residual(s *stream) pool {
	order := s.order()
	k := len(order)
	if k < 2 {
		return pool{}
	}
	var rows [][]float64
	for _, x := range s.series {
		if len(x.Points) != k {
			continue
		}
		row := make([]float64, k)
		ok := true
		for i, p := range x.Points {
			ok = ok && !p.Censored && len(p.sources) == 1 && p.variance == 0
			ok = ok && len(p.sources[0].values) == 1
			row[i] = p.Value
		}
		if ok {
			rows = append(rows, row)
		}
	}
	n := len(rows)
	if n < 2 {
		return pool{}
	}
	seasons := make([]float64, k)
	for _, row := range rows {
		m := 0.0
		for _, v := range row {
			m += v / float64(k)
		}
		for i := range row {
			row[i] -= m
			seasons[i] += row[i] / float64(n)
		}
	}
	x, ss := make([]float64, k), 0.0
	if k >= 4 {
		m := 0.0
		for i, at := range order {
			x[i] = c.years[at]
			if math.IsNaN(x[i]) {
				x[i] = float64(i)
			}
			m += x[i] / float64(k)
		}
		for i := range x {
			x[i] -= m
			ss += x[i] * x[i]
		}
	}
	var p pool
	for _, row := range rows {
		slope := 0.0
		for i := range row {
			row[i] -= seasons[i]
			if ss > 0 {
				slope += x[i] * row[i] / ss
			}
		}
		for i, v := range row {
			r := v - slope*x[i]
			p.squares += r * r
		}
	}
	free := k - 1
	if ss > 0 {
		free--
	}
	p.df = float64((n - 1) * free)
	return p
}

// weigh gives every point of a stream its variance.
func (c *comparer) weigh(s *stream) {
	for _, i := range s.order() {
		grounds := s.bySeason[i]
		mean, squares, noise := 0.0, 0.0, 0.0
		for n, g := range grounds {
			v := g.mean()
			d := v - mean
			mean += d / float64(n+1)
			squares += d * (v - mean)
			noise += g.variance(s.noise) / float64(len(grounds))
		}
		if len(grounds) > 1 {
			s.between[i] = math.Max(0, squares/float64(len(grounds)-1)-noise)
		}
	}
	for k := range s.series {
		x := &s.series[k]
		x.Noise = s.noise
		for i := range x.Points {
			p := &x.Points[i]
			p.variance *= s.between[c.order[p.Season]]
			for _, from := range p.sources {
				p.variance += from.weight * from.weight * from.variance(s.noise)
			}
		}
	}
}
