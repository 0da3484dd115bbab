package main

import (
	"fmt"
	"math"

	"corewalk/cmd/corewalk/report"
	"corewalk/interp/rate"
)

// rates adds what is to be spread.
func (b *pageBuilder) rates(s *rateSummary) error {
	b.data.Cautions = s.Cautions
	for _, x := range s.rated {
		f, page := b.find(x.field.Name)
		if f == nil {
			return fmt.Errorf("field %q has rates and is not in the results", x.field.Name)
		}
		n := max(len(x.balances), 1)
		for k := range n {
			r, err := x.page(k, s.Params)
			if err != nil {
				return fmt.Errorf("field %s: %w", x.field.Name, err)
			}
			page.Rates = append(page.Rates, r)
		}
	}
	return nil
}

// page is what the page shows of one dose.
func (x *rated) page(k int, p rateParameters) (report.Rate, error) {
	out := report.Rate{Basis: x.basis, Money: p.currency(), Uniform: math.NaN()}
	out.Product, out.Of = x.name(k)
	for _, t := range x.scheme.Tables {
		out.Tables = append(out.Tables, report.RateTable{Name: t.Name, Source: t.Source.String(), Verified: t.Verified, Note: t.Note})
	}
	classesOnly := x.scheme.Tables[0].Kind == rate.KindSufficiency
	if k < len(x.balances) {
		c := x.balances[k]
		out.Uniform = x.uniform[k]
		out.Balance = report.Balance{
			Area: c.Area, NoRate: c.NoRate, Mass: c.Mass, UniformMass: c.Uniform, Over: c.Over, Under: c.Under,
			OverArea: c.OverArea, UnderArea: c.UnderArea, Cost: math.NaN(), UniformCost: math.NaN(),
		}
		if k < len(x.scheme.Materials) && x.scheme.Materials[k].PricePerKg > 0 {
			price := x.scheme.Materials[k].PricePerKg
			out.Cost, out.UniformCost = c.Mass*price, c.Uniform*price
		}
		if !c.Compared {
			out.UniformMass, out.UniformCost, out.Over, out.Under = math.NaN(), math.NaN(), math.NaN(), math.NaN()
		}
	}
	if x.refused != "" {
		out.Notes = append(out.Notes, "There is no one rate to compare with: "+x.refused)
	}
	for i := range x.grounds {
		g := &x.grounds[i]
		shape, _, err := x.field.Frame.Shape(g.shape)
		if err != nil {
			return out, err
		}
		r := report.RatedGround{
			ID: g.id, Division: g.division.Label(), Crop: cropText(g.Conditions), Shape: shape, Area: g.area, Rate: math.NaN(), Uniform: math.NaN(),
			Needs: g.needs(), Class: g.class(), Reason: g.reason(), Refused: g.refusal(),
		}
		if g.division.Name == "" {
			r.Division = ""
		}
		if k < len(g.advice.Doses) {
			r.Rate, r.Passes = g.advice.Doses[k].Total, g.advice.Doses[k].Times
		}
		if k < len(g.uniform) {
			r.Uniform = g.uniform[k].Total
		}
		if classesOnly && r.Refused == "" {
			out.Area += g.area
		}
		out.Grounds = append(out.Grounds, r)
	}
	return out, nil
}
