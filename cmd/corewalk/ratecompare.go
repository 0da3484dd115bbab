package main

import (
	"math"
	"slices"

	"corewalk/geo"
	"corewalk/geo/raster"
	"corewalk/interp/rate"
)

// compare works out one rate for the whole field, from its mean, and sums up.
func (m *rateMaker) compare(out *rated) error {
	n := 0
	for _, g := range out.grounds {
		n = max(n, len(g.advice.Doses))
	}
	out.balances = make([]rate.Balance, n)
	out.uniform = make([]float64, n)
	means, err := m.means(out)
	if err != nil {
		return err
	}
	one := map[rate.Conditions][]rate.Dose{}
	for i := range out.grounds {
		g := &out.grounds[i]
		doses, known := one[g.Conditions]
		if !known {
			advice, err := m.scheme.Advise(means, g.Conditions)
			if err != nil {
				return err
			}
			for _, a := range advice.Answers {
				if a.Refused != nil && out.refused == "" {
					out.refused = a.Refused.Error()
				}
			}
			doses = advice.Doses
			one[g.Conditions] = doses
		}
		g.uniform = doses
		for k := range n {
			var dose, uniform *rate.Dose
			if len(g.advice.Doses) == n {
				dose = &g.advice.Doses[k]
			}
			if len(doses) == n {
				uniform = &doses[k]
			}
			out.balances[k].Add(g.area, dose, uniform)
			switch {
			case uniform == nil:
				out.uniform[k] = math.NaN()
			case i == 0:
				out.uniform[k] = uniform.Total
			case out.uniform[k] != uniform.Total:
				out.uniform[k] = math.NaN()
			}
		}
	}
	return nil
}

// means are the figures of the field as a whole, without its problem areas, which
// are sampled apart so that they do not spoil them.
func (m *rateMaker) means(out *rated) (rate.Figures, error) {
	f := rate.Figures{}
	if len(m.bases) == 0 {
		healthy := func(g ratedGround) bool { return g.division.Kind != geo.Problem }
		all := !slices.ContainsFunc(out.grounds, healthy)
		for name, a := range m.inputs {
			var sum, area float64
			for _, g := range out.grounds {
				if x, ok := g.figures[name]; ok && (all || healthy(g)) {
					sum, area = sum+x.Value*g.area, area+g.area
				}
			}
			if area > 0 {
				f[name] = rate.Figure{Value: sum / area, Unit: a.Unit, Method: a.Method}
			}
		}
		return f, nil
	}
	for _, name := range m.names() {
		b, err := m.base(name)
		if err != nil {
			return nil, err
		}
		healthy := func(i int) bool {
			d := b.on.division[i]
			return d >= 0 && b.on.field.Divisions[d].Kind != geo.Problem
		}
		all := true
		for i := range b.grid.Data {
			all = all && !healthy(i)
		}
		var sum, n float64
		for i, v := range b.grid.Data {
			if v != raster.NoData && b.on.division[i] >= 0 && (all || healthy(i)) {
				sum, n = sum+float64(v), n+1
			}
		}
		if n > 0 {
			f[name] = rate.Figure{Value: sum / n, Unit: m.inputs[name].Unit, Method: m.inputs[name].Method}
		}
	}
	return f, nil
}
