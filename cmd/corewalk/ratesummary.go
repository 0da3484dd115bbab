package main

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"corewalk/geo"
	"corewalk/interp/rate"
)

// rateSummary is what rates.json holds and --json prints.
type rateSummary struct {
	Format   int            `json:"format"`
	Program  string         `json:"program"`
	Tables   []tableRecord  `json:"tables"`
	Products []string       `json:"products"`
	Rates    []rateRecord   `json:"rates"`
	Cautions []string       `json:"cautions"`
	Notices  []string       `json:"notices"`
	Inputs   []inputHash    `json:"inputs"`
	Params   rateParameters `json:"parameters"`
	Files    []string       `json:"files,omitempty"`

	rated []*rated
}

// tableRecord says which recommendation rates come from.
type tableRecord struct {
	Name     string `json:"name"`
	Of       string `json:"of,omitempty"`
	Region   string `json:"region"`
	Source   string `json:"source"`
	Verified string `json:"verified"`
	Note     string `json:"note,omitempty"`
}

// rateRecord sums up what is spread of one product on one field, or of what the
// table counts where there is no product. Money is in Currency.
type rateRecord struct {
	Field       string         `json:"field"`
	Product     string         `json:"product,omitempty"`
	Of          string         `json:"of,omitempty"`
	Tables      []string       `json:"tables"`
	Basis       string         `json:"basis"`
	Grounds     int            `json:"grounds"`
	AreaHa      float64        `json:"area_ha"`    // that has a rate
	NoRateHa    float64        `json:"no_rate_ha"` // that has none
	Kilograms   float64        `json:"kg"`
	Cost        *float64       `json:"cost,omitempty"`
	Currency    string         `json:"currency,omitempty"`
	Uniform     *float64       `json:"uniform_kg_per_ha,omitempty"` // the one rate from the mean of the field; none where it differs by crop
	UniformKg   *float64       `json:"uniform_kg,omitempty"`
	UniformCost *float64       `json:"uniform_cost,omitempty"`
	OverKg      *float64       `json:"over_kg,omitempty"` // that the one rate puts where less is asked for
	UnderKg     *float64       `json:"under_kg,omitempty"`
	OverHa      *float64       `json:"over_ha,omitempty"` // where it is more than a twentieth too much
	UnderHa     *float64       `json:"under_ha,omitempty"`
	TaskKg      *float64       `json:"task_grid_kg,omitempty"` // of a task file with a grid, whose cells are not quite the zones
	Classes     map[string]int `json:"classes,omitempty"`      // grounds by class, of tables without rates
}

// cautionsOf are those of all tables, whatever they answer.
func cautionsOf(schemes []rate.Scheme) []string {
	out := []string{}
	for _, x := range schemes {
		for i := range x.Tables {
			for _, c := range x.Tables[i].Cautions() {
				if !slices.Contains(out, c) {
					out = append(out, c)
				}
			}
		}
	}
	return out
}

// refusals tell what has no rate, and why, once for each reason.
func (x *rated) refusals() []string {
	var out []string
	for t, table := range x.scheme.Tables {
		var reasons []string
		n := map[string]int{}
		first := map[string]string{}
		for _, g := range x.grounds {
			if r := g.advice.Answers[t].Refused; r != nil {
				if n[r.What] == 0 {
					reasons, first[r.What] = append(reasons, r.What), g.id
				}
				n[r.What]++
			}
		}
		for _, r := range reasons {
			out = append(out, fmt.Sprintf("field %s: table %s gives no rate for %d of %d (%s%s): %s", x.field.Name, table.Name, n[r], len(x.grounds), first[r], more(n[r]), r))
		}
	}
	if x.refused != "" && len(x.balances) > 0 {
		out = append(out, fmt.Sprintf("field %s: there is no one rate to compare with: %s", x.field.Name, x.refused))
	}
	return out
}

func more(n int) string {
	if n > 1 {
		return " and others"
	}
	return ""
}

// name is what a dose is of: a product, or what the tables count.
func (x *rated) name(k int) (product, of string) {
	var all []string
	for _, t := range x.scheme.Tables {
		all = append(all, t.Out.Of)
	}
	if k < len(x.scheme.Materials) {
		product = x.scheme.Materials[k].Name
	}
	return product, strings.Join(all, " and ")
}

// records sum up the field.
func (x *rated) records(p rateParameters) []rateRecord {
	var tables []string
	for _, t := range x.scheme.Tables {
		tables = append(tables, t.Name)
	}
	base := rateRecord{Field: x.field.Name, Tables: tables, Basis: x.basis, Grounds: len(x.grounds)}
	if x.scheme.Tables[0].Kind == rate.KindSufficiency {
		base.Classes = map[string]int{}
		for _, g := range x.grounds {
			if a := g.advice.Answers[0]; a.Refused == nil {
				base.Classes[a.Class]++
				base.AreaHa += g.area / geo.Hectare
			} else {
				base.NoRateHa += g.area / geo.Hectare
			}
		}
		return []rateRecord{base}
	}
	if len(x.balances) == 0 { // every table refuses everywhere
		_, base.Of = x.name(0)
		for _, g := range x.grounds {
			base.NoRateHa += g.area / geo.Hectare
		}
		return []rateRecord{base}
	}
	var out []rateRecord
	for k, b := range x.balances {
		r := base
		r.Product, r.Of = x.name(k)
		r.AreaHa, r.NoRateHa, r.Kilograms = b.Area/geo.Hectare, b.NoRate/geo.Hectare, b.Mass
		price := 0.0
		if r.Product != "" {
			price = x.scheme.Materials[k].PricePerKg
		}
		if price > 0 {
			cost := b.Mass * price
			r.Cost, r.Currency = &cost, p.currency()
		}
		if b.Compared {
			over, under := b.OverArea/geo.Hectare, b.UnderArea/geo.Hectare
			r.UniformKg, r.OverKg, r.UnderKg, r.OverHa, r.UnderHa = &b.Uniform, &b.Over, &b.Under, &over, &under
			if !math.IsNaN(x.uniform[k]) {
				r.Uniform = &x.uniform[k]
			}
			if price > 0 {
				cost := b.Uniform * price
				r.UniformCost = &cost
			}
		}
		out = append(out, r)
	}
	return out
}

func (p *rateParameters) currency() string {
	for _, x := range p.products {
		if x.PricePerKg > 0 {
			return x.currency
		}
	}
	return ""
}

func (s *rateSummary) lines(m measure) []string {
	var out []string
	for _, t := range s.Tables {
		out = append(out, fmt.Sprintf("table %s (verified: %s): %s", t.Name, t.Verified, t.Source))
	}
	for _, r := range s.Rates {
		if len(out) > mostLines {
			out = append(out, "  ... and more; all are in "+rateTotalsFile)
			break
		}
		out = append(out, "  "+r.line(m))
	}
	for _, c := range s.Cautions {
		out = append(out, "caution: "+c)
	}
	return out
}

func (r rateRecord) line(m measure) string {
	if r.Classes != nil {
		var parts []string
		for _, c := range slices.Sorted(maps.Keys(r.Classes)) {
			parts = append(parts, fmt.Sprintf("%s %d", c, r.Classes[c]))
		}
		return fmt.Sprintf("%s, %s, by %s: %s", r.Field, strings.Join(r.Tables, " and "), r.Basis, strings.Join(parts, ", "))
	}
	if r.AreaHa == 0 {
		return fmt.Sprintf("%s, by %s: no rate of %s", r.Field, r.Basis, r.Of)
	}
	what := r.Product
	if what == "" {
		what = "pure " + r.Of
	}
	line := fmt.Sprintf("%s, by %s: %s of %s on %s", r.Field, r.Basis, m.mass(r.Kilograms), what, m.area(r.AreaHa*geo.Hectare))
	if r.Cost != nil {
		line += ", " + money(*r.Cost, r.Currency)
	}
	if r.UniformKg != nil {
		one := "one rate"
		if r.Uniform == nil {
			one = "one rate to each crop"
		}
		line += fmt.Sprintf("; %s from the mean of the field would take %s", one, m.mass(*r.UniformKg))
		if r.UniformCost != nil {
			line += ", " + money(*r.UniformCost, r.Currency)
		}
		line += fmt.Sprintf(": %s of it where less is asked for, and %s too little where more is", m.mass(*r.OverKg), m.mass(*r.UnderKg))
	}
	if r.NoRateHa > 0 {
		line += fmt.Sprintf("; %s have no rate", m.area(r.NoRateHa*geo.Hectare))
	}
	return line
}

func money(v float64, currency string) string {
	return strings.TrimSpace(fmt.Sprintf("%.0f %s", v, currency))
}

func (m measure) mass(kg float64) string {
	if m.us {
		return fmt.Sprintf("%.2f tons", kg/rate.KgPerShortTon)
	}
	return fmt.Sprintf("%.2f t", kg/1000)
}
