package main

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"corewalk/geo"
	"corewalk/interp/rate"
)

// product is what a spreader is filled with, as a person writes it.
type product struct {
	rate.Material
	currency string // of its price; may be empty
}

const productHelp = `write "TSP: 0-46-0, 620 USD/ton" or "quarry lime: CCE 92, mesh 4/8/60 100/90/55, moisture 2, rule iowa, 24 USD/ton"`

var (
	analysisText = regexp.MustCompile(`^[0-9.]+-[0-9.]+-[0-9.]+(-[0-9.]+[A-Za-z0-9]+)*$`)
	priceText    = regexp.MustCompile(`^([0-9.]+) ?([A-Z]{3}|[$€£])?/ ?(ton|t|kg|lb)$`)
	bareNumber   = regexp.MustCompile(`^[0-9.]+$`)
)

// parseProduct reads a product: its name, a colon, and what is known of it with
// commas between. An analysis is name enough.
func parseProduct(text string) (product, error) {
	name, rest, named := strings.Cut(text, ":")
	if !named {
		name, rest = strings.TrimSpace(strings.SplitN(text, ",", 2)[0]), text
	}
	p := product{Material: rate.Material{Name: strings.TrimSpace(name)}}
	fail := func(format string, args ...any) (product, error) {
		return p, fmt.Errorf("product %q: %s; %s", text, fmt.Sprintf(format, args...), productHelp)
	}
	if p.Name == "" || !named && !analysisText.MatchString(p.Name) {
		return fail("the name comes first, with a colon behind it")
	}
	var lime rate.Lime
	isLime := false
	seen := map[string]bool{}
	for _, item := range strings.Split(rest, ",") {
		item = strings.Join(strings.Fields(item), " ")
		word, value, _ := strings.Cut(item, " ")
		key := strings.ToLower(word)
		var err error
		switch {
		case item == "":
			return fail("there is nothing between two commas or at the end")
		case analysisText.MatchString(item):
			key = "analysis"
			p.Analysis, err = rate.ParseAnalysis(item)
			if err == nil && len(p.Analysis) == 0 {
				err = errors.New("there is nothing in it")
			}
		case priceText.MatchString(item):
			key = "price"
			m := priceText.FindStringSubmatch(item)
			kg := map[string]float64{"ton": rate.KgPerShortTon, "t": 1000, "kg": 1, "lb": rate.KgPerShortTon / 2000}[m[3]]
			var v float64
			if v, err = parseNumber(m[1]); err == nil && v == 0 {
				err = errors.New("a price is above 0; leave it away where it is not known")
			}
			p.PricePerKg, p.currency = v/kg, m[2]
		case key == "cce":
			isLime = true
			lime.CCE, err = percent(value)
			if err == nil && lime.CCE == 0 {
				err = errors.New("a neutralising value (CCE) of 0 % neutralises nothing; give the one of the label or the lab")
			}
		case key == "env":
			isLime = true
			lime.ENV, err = effectiveValue(value)
		case key == "moisture":
			isLime = true
			lime.Moisture, err = percent(value)
		case key == "rule":
			isLime = true
			lime.Rule = value
			if _, err = rate.FindLimeRule(value); err != nil {
				return p, fmt.Errorf("product %q: %w", text, err)
			}
		case key == "mesh":
			isLime = true
			lime.Passing, err = parseSieves(value)
		case key == "bulk":
			p.Density, err = parseDensity(value)
		case key == "largest":
			p.Spreader.Largest, err = parseRate(value)
		case key == "least":
			p.Spreader.Least, err = parseRate(value)
		case key == "step":
			p.Spreader.Step, err = parseRate(value)
		case key == "lift" && value == "":
			p.Spreader.LiftBelowLeast = true
		default:
			return fail("%q is not understood", item)
		}
		if err != nil {
			return p, fmt.Errorf("product %q: %w", text, err)
		}
		if seen[key] {
			return fail("%s is there twice", key)
		}
		seen[key] = true
	}
	switch {
	case isLime && p.Analysis != nil:
		return fail("it has an analysis and a neutralising value; a product is one or the other")
	case !isLime && p.Analysis == nil:
		return fail("neither an analysis as 0-46-0 nor a neutralising value (CCE or ENV) is there")
	case isLime:
		lime.Name = p.Name
		if lime.ENV == 0 && lime.Rule == "" {
			lime.Rule = "cce"
			if len(lime.Passing) > 0 {
				return fail("the sieves need the rule of a state: rule ohio, rule iowa ...")
			}
		}
		if _, err := lime.Effective(); err != nil {
			return p, err
		}
		p.Lime = &lime
	}
	return p, nil
}

// percent reads a number with or without its sign.
func percent(s string) (float64, error) {
	s = strings.TrimSpace(strings.TrimSuffix(s, "%"))
	if !bareNumber.MatchString(s) {
		return 0, fmt.Errorf("%q is not a number of per cent", s)
	}
	return parseNumber(s)
}

// effectiveValue reads 63, 63 % or 1262 lb/ton.
func effectiveValue(s string) (float64, error) {
	if pounds, ok := strings.CutSuffix(s, "lb/ton"); ok {
		v, err := percent(pounds)
		return v / 20, err
	}
	v, err := percent(s)
	if err == nil && v == 0 {
		err = errors.New("an effective neutralising value of 0 neutralises nothing")
	}
	return v, err
}

// parseSieves reads "4/8/60 100/90/55": mesh numbers and what passes each in %.
func parseSieves(s string) ([]rate.Sieve, error) {
	meshes, passing, _ := strings.Cut(s, " ")
	m, p := strings.Split(meshes, "/"), strings.Split(strings.TrimSpace(passing), "/")
	if len(m) != len(p) {
		return nil, fmt.Errorf("sieves %q: write as many mesh numbers as shares that pass, as in mesh 4/8/60 100/90/55", s)
	}
	var out []rate.Sieve
	for i := range m {
		mesh, err := parseCount(m[i])
		if err != nil {
			return nil, fmt.Errorf("mesh number %w", err)
		}
		share, err := percent(p[i])
		if err != nil {
			return nil, err
		}
		out = append(out, rate.Sieve{Mesh: mesh, Percent: share})
	}
	return out, nil
}

// parseRate reads a rate with its unit and returns kg/ha.
func parseRate(s string) (float64, error) {
	number, unit, _ := strings.Cut(strings.TrimSpace(s), " ")
	factor, ok := rate.KgPerHa(strings.TrimSpace(unit))
	if !ok || !bareNumber.MatchString(number) {
		return 0, fmt.Errorf("%q is not a rate; write it with its unit, as in 300 lb/ac, 2 ton/ac or 400 kg/ha", s)
	}
	v, err := parseNumber(number)
	return v * factor, err
}

// parseDensity reads a bulk density and returns kg/m³.
func parseDensity(s string) (float64, error) {
	number, unit, _ := strings.Cut(strings.TrimSpace(s), " ")
	factor := map[string]float64{"kg/m3": 1, "lb/ft3": 0.45359237 / (geo.Foot * geo.Foot * geo.Foot)}[strings.TrimSpace(unit)]
	if factor == 0 || !bareNumber.MatchString(number) {
		return 0, fmt.Errorf("%q is not a bulk density; write 1050 kg/m3 or 65 lb/ft3", s)
	}
	v, err := parseNumber(number)
	return v * factor, err
}
