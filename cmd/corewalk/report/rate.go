package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"corewalk/interp/rate"
)

// mostGrounds is how many zones or units the table of a product has.
const mostGrounds = 60

// ratePage is the part of the page on one product in one field.
type ratePage struct {
	ID, Field, Heading string
	Pure               string // where no product was chosen
	Map, Change        *zoneMap
	Unit, Mass         string // of the columns
	Grounds            []groundRow
	Classes, Crops     bool // some ground has one
	More               string
	Said               []string
	Tables             []rateTableRow
	Notes              []string
}

type groundRow struct{ ID, Part, Crop, Area, Needs, Class, Rate, Passes, Mass, Why string }

type rateTableRow struct {
	Name, Source, Verified, Note string
	Memory                       bool
}

// spreadRow is a product in a field, in the list of all.
type spreadRow struct{ Link, Field, What, Area, Mass, Cost, Uniform, UniformCost, Over, Under string }

// rate writes a rate in kg/ha.
func (measures) rate(kgPerHa float64) string {
	in := func(unit string) string {
		per, _ := rate.KgPerHa(unit)
		v := kgPerHa / per
		if v != 0 && math.Abs(v) < 10 {
			return fixed(v, 1)
		}
		return fixed(v, 0)
	}
	return Both(in("lb/ac"), in("kg/ha"))
}

func (measures) rateUnit() string { return Both("lb/ac", "kg/ha") }

// mass writes kg in tons, of 2000 lb or of 1000 kg, small ones in lb or kg.
func (measures) mass(kg float64) string {
	return Both(massIn(kg, rate.KgPerShortTon, "tons", rate.KgPerShortTon/2000, "lb"), massIn(kg, 1000, "t", 1, "kg"))
}

func massIn(kg, large float64, name string, small float64, smallName string) string {
	switch {
	case !finite(kg):
		return dash
	case kg == 0:
		return "0"
	case kg/large >= 100:
		return fixed(kg/large, 0) + " " + name
	case kg/large >= 0.995:
		return fixed(kg/large, 2) + " " + name
	}
	return fixed(kg/small, 0) + " " + smallName
}

func money(v float64, currency string) string {
	if !finite(v) {
		return dash
	}
	if currency != "" {
		currency = " " + currency
	}
	return fixed(v, 0) + currency
}

// rates adds what is to be spread in a field.
func (p *page) rates(id string, s *site, f *Field, out *fieldPage) {
	for i := range f.Rates {
		r := &f.Rates[i]
		x := p.ratePage(id+"-r"+strconv.Itoa(i+1), s, f, r)
		out.Rates = append(out.Rates, x)
		if !r.spreads() {
			continue
		}
		what := r.Product
		if what == "" {
			what = "pure " + r.Of + " (no product chosen)"
		}
		p.Spread = append(p.Spread, spreadRow{
			Link: x.ID, Field: out.Name, What: what, Area: p.area(r.Area), Mass: p.mass(r.Mass), Cost: money(r.Cost, r.Money),
			Uniform: p.mass(r.UniformMass), UniformCost: money(r.UniformCost, r.Money), Over: p.mass(r.Over), Under: p.mass(r.Under),
		})
	}
}

// spreads tells rates from classes without one.
func (r *Rate) spreads() bool {
	return slices.ContainsFunc(r.Grounds, func(g RatedGround) bool { return finite(g.Rate) })
}

func (p *page) ratePage(id string, s *site, f *Field, r *Rate) *ratePage {
	x := &ratePage{ID: id, Field: f.Name, Heading: r.Product, Unit: p.rateUnit(), Notes: r.Notes}
	if r.Product == "" {
		x.Heading = "Rates of " + r.Of
		if !r.spreads() {
			x.Heading = "No rates of " + r.Of
			if slices.ContainsFunc(r.Grounds, func(g RatedGround) bool { return g.Class != "" }) {
				x.Heading = "Classes"
			}
			if len(r.Tables) > 0 {
				x.Heading += " by " + r.Tables[0].Name
			}
		} else {
			what := "of " + r.Of
			if r.Of == "CaCO3" {
				what = "of pure calcium carbonate"
			}
			x.Pure = "No product was chosen: these are rates " + what + ", not of anything that can be bought. Do not spread by them."
		}
	}
	for _, t := range r.Tables {
		row := rateTableRow{Name: t.Name, Source: t.Source, Note: t.Note, Memory: t.Verified == "memory"}
		switch t.Verified {
		case "seen":
			row.Verified = "figures seen in print"
		case "reprint":
			row.Verified = "figures seen in another’s print of them"
		case "memory":
			row.Verified = "figures from memory, NOT checked against print"
		default:
			row.Verified = "verified: " + t.Verified
		}
		x.Tables = append(x.Tables, row)
		if !slices.ContainsFunc(p.Sources, func(known rateTableRow) bool { return known.Name == row.Name }) {
			p.Sources = append(p.Sources, row)
		}
	}
	for i, g := range r.Grounds {
		x.Classes = x.Classes || g.Class != ""
		x.Crops = x.Crops || g.Crop != ""
		if i >= mostGrounds {
			continue
		}
		row := groundRow{ID: g.ID, Part: g.Division, Crop: g.Crop, Area: p.area(g.Area), Needs: g.Needs, Class: g.Class, Rate: p.rate(g.Rate), Passes: dash, Mass: p.mass(g.Rate * g.Area / 1e4), Why: g.Reason}
		if g.Passes > 0 {
			row.Passes = strconv.Itoa(g.Passes)
		}
		if g.Refused != "" {
			row.Why = g.Refused
		}
		x.Grounds = append(x.Grounds, row)
	}
	if n := len(r.Grounds); n > mostGrounds {
		x.More = fmt.Sprintf("%d more are in rates.csv.", n-mostGrounds)
	}
	x.Said = p.rateInWords(r)
	if s != nil && r.spreads() {
		x.Map = p.rateMap(id, s, f, r)
		x.Change = p.changeMap(id, s, f, r)
	}
	return x
}

// rateInWords sets rates by ground beside the one rate.
func (p *page) rateInWords(r *Rate) []string {
	var out []string
	if !r.spreads() {
		return nil
	}
	said := fmt.Sprintf("By %s: %s on %s", r.Basis, p.mass(r.Mass), p.areaInWords(r.Area))
	if finite(r.Cost) && r.Cost > 0 {
		said += ", " + money(r.Cost, r.Money)
	}
	out = append(out, said+".")
	if finite(r.UniformMass) {
		said = "One rate from the mean of the field"
		if finite(r.Uniform) {
			said += fmt.Sprintf(", %s %s,", p.rate(r.Uniform), p.rateUnit())
		} else {
			said = "One rate to each crop, from the mean of the field,"
		}
		said += " would take " + p.mass(r.UniformMass)
		if finite(r.UniformCost) && r.UniformCost > 0 {
			said += ", " + money(r.UniformCost, r.Money)
		}
		out = append(out, said+".")
		if r.Over > 0 || r.Under > 0 {
			out = append(out, fmt.Sprintf("It would put %s where less is asked for (over a twentieth too much on %s), and be %s short where more is (over a twentieth too little on %s).",
				p.mass(r.Over), p.area(r.OverArea), p.mass(r.Under), p.area(r.UnderArea)))
		} else {
			out = append(out, "It would put the same everywhere: varying the rate gains nothing here.")
		}
	}
	if r.NoRate > 0 {
		out = append(out, p.areaInWords(r.NoRate)+" have no rate; the table says why.")
	}
	return out
}

// nothingColour is that of ground where nothing is spread.
const nothingColour = "#f3efe6"

// rateMap draws the grounds in shades of their rate, with the rate written in.
func (p *page) rateMap(id string, s *site, f *Field, r *Rate) *zoneMap {
	m := &zoneMap{chart: s.view.chart(id+"-rates", s.Field)}
	var rates []float64
	most := 0.0
	for _, g := range r.Grounds {
		if finite(g.Rate) && g.Rate > 0 {
			rates, most = append(rates, g.Rate), max(most, g.Rate)
		}
	}
	slices.Sort(rates)
	rates = slices.Compact(rates)
	const classes = 6
	few := len(rates) <= classes+2
	class := func(v float64) int {
		if few {
			i, _ := slices.BinarySearch(rates, v)
			return i
		}
		return min(int(v/most*classes), classes-1)
	}
	n := classes
	if few {
		n = len(rates)
	}
	areas := make([]float64, n+2) // then nothing, then no rate
	ramp := p.ramp("rates of " + r.Product + r.Of)
	shade := func(k int) string { return hex(ramp.At(1 - float64(k+1)/float64(n+1))) } // more is darker
	for _, g := range r.Grounds {
		text, colour, k := p.rate(g.Rate), nothingColour, n
		switch {
		case !finite(g.Rate):
			text, colour, k = dash, "", n+1
		case g.Rate > 0:
			k = class(g.Rate)
			colour = shade(k)
		}
		areas[k] += g.Area
		said := text + " " + p.rateUnit()
		if !finite(g.Rate) {
			said = "no rate"
		}
		m.place(s, g, colour, text, spoken(said, g.ID, g.Crop))
	}
	for k, area := range areas {
		if area == 0 {
			continue
		}
		row := classRow{Limits: "nothing, on " + p.area(area), Colour: nothingColour}
		switch {
		case k == n+1:
			row.Limits, row.Colour = "no rate, on "+p.area(area), ""
		case k < n && few:
			row.Limits, row.Colour = fmt.Sprintf("%s %s on %s", p.rate(rates[k]), p.rateUnit(), p.area(area)), shade(k)
		case k < n:
			lo, hi := most*float64(k)/classes, most*float64(k+1)/classes
			row.Limits, row.Colour = fmt.Sprintf("%s to %s %s on %s", p.rate(lo), p.rate(hi), p.rateUnit(), p.area(area)), shade(k)
		}
		m.Classes = append(m.Classes, row)
	}
	s.addZones("To spread", "rates of "+cmp.Or(r.Product, r.Of), cmp.Or(r.Product, r.Of), m)
	m.Title = fmt.Sprintf("Rates of %s in %s", cmp.Or(r.Product, r.Of), f.Name)
	m.Desc = fmt.Sprintf("Map, north up: %s, each with its rate in %s. The table below lists them.", plural(len(r.Grounds), "piece of ground", "pieces of ground"), p.rateUnit())
	return m
}

// place draws a ground with a text in it, where there is room.
func (m *zoneMap) place(s *site, g RatedGround, colour, text, said string) {
	o := s.view.outline(g.Shape)
	if len(o) == 0 {
		return
	}
	m.Areas = append(m.Areas, zoneArea{o.path(), colour, said})
	at, ok := o.middle()
	if x0, x1, inside := o.inside(at.y); ok && inside && x1-x0 >= 9*float64(longer(text)) {
		m.Labels = append(m.Labels, label{X: coord(at.x), Y: coord(at.y), Text: text, Class: "class"})
	}
}

// changes are the classes of the one rate against that by ground, as shares of
// the larger. The marks tell them apart without colour.
var changes = []struct {
	below               float64
	mark, words, colour string
}{
	{-0.25, "−−", "over a quarter too little", "#2a6299"},
	{-0.05, "−", "too little", "#a9cbe3"},
	{0.05, "=", "within a twentieth", nothingColour},
	{0.25, "+", "too much", "#f2c08c"},
	{math.Inf(1), "++", "over a quarter too much", "#b5581c"},
}

// changeMap draws where the one rate would put too much and too little; nil where
// there is none, or it is right everywhere.
func (p *page) changeMap(id string, s *site, f *Field, r *Rate) *zoneMap {
	if !finite(r.UniformMass) || r.Over == 0 && r.Under == 0 {
		return nil
	}
	m := &zoneMap{chart: s.view.chart(id+"-change", s.Field)}
	areas := make([]float64, len(changes)+1)
	for _, g := range r.Grounds {
		k := len(changes)
		if finite(g.Rate) && finite(g.Uniform) {
			share := 0.0
			if most := max(g.Rate, g.Uniform); most > 0 {
				share = (g.Uniform - g.Rate) / most
			}
			k = 0
			for share > changes[k].below {
				k++
			}
		}
		areas[k] += g.Area
		if k == len(changes) {
			m.place(s, g, "", dash, "no rate")
		} else {
			m.place(s, g, changes[k].colour, changes[k].mark, spoken(changes[k].words, g.ID))
		}
	}
	for k, c := range changes {
		if areas[k] > 0 {
			m.Classes = append(m.Classes, classRow{Mark: c.mark, Limits: c.words + ", on " + p.area(areas[k]), Colour: c.colour})
		}
	}
	if a := areas[len(changes)]; a > 0 {
		m.Classes = append(m.Classes, classRow{Mark: dash, Limits: "no rate, on " + p.area(a)})
	}
	s.addZones("One rate instead", "what one rate of "+cmp.Or(r.Product, r.Of)+" would do", "one rate of "+cmp.Or(r.Product, r.Of), m)
	m.Title = fmt.Sprintf("What one rate of %s would do in %s", cmp.Or(r.Product, r.Of), f.Name)
	m.Desc = "Map, north up: where one rate from the mean of the field would put too much (+) and too little (−)."
	return m
}
