package main

import (
	"fmt"
	"slices"
	"strings"

	"corewalk/geo"
	"corewalk/interp/rate"
	"corewalk/interp/task"
	"corewalk/sampling"
)

// What rates are worked out for.
const (
	byZone    = "zone"
	bySurface = "surface"
	byUnit    = "unit"
)

// rateParameters say by which tables rates are worked out, for what ground, and
// what is spread.
type rateParameters struct {
	Use        []string        `json:"use"`
	Products   []string        `json:"products,omitempty"`
	By         string          `json:"by,omitempty"`
	ZonesOf    string          `json:"zones_of,omitempty"`
	Crops      []string        `json:"crops,omitempty"`
	TargetPH   float64         `json:"target_ph,omitempty"`
	Depth      *sampling.Depth `json:"depth,omitempty"` // of samples that do not say theirs
	LimeDepth  float64         `json:"lime_depth_m,omitempty"`
	NoTill     bool            `json:"no_till,omitempty"`
	Organic    bool            `json:"organic,omitempty"`
	RateUnit   string          `json:"rate_unit,omitempty"`
	Classes    int             `json:"classes"`
	Smallest   float64         `json:"smallest_m2"`
	LeastWidth float64         `json:"least_width_m"`
	Smooth     bool            `json:"smooth"`
	Insist     bool            `json:"insist"`
	Task       string          `json:"task"`
	Farm       string          `json:"farm,omitempty"`

	own       []string // files of tables
	products  []product
	crops     []cropSpec
	elsewhere bool // crops of ground that is not here are those of other fields of the farm
	keep      bool // the shapes, for the page
	us        bool
}

// cropSpec is a crop with its yield goal and target pH, and where it stands.
type cropSpec struct {
	field, part string // either may be empty; where only one name was given, name
	name        string
	crop        string
	yield       float64
	yieldUnit   string
	targetPH    float64
}

func defaultRate() *rateParameters { return &rateParameters{Classes: 5, Task: "zones"} }

// rateSettings lists the choices of rates in the order of the help.
func rateSettings() []setting[rateParameters] {
	type P = rateParameters
	return []setting[P]{
		{"use", "table", "recommendation `TABLE` (see --tables); may be repeated, once for lime and each nutrient", "", each, func(p *P, s string) error { p.Use = append(p.Use, s); return nil }},
		{"table", "file", "tables of your own (YAML)", "", each, func(p *P, s string) error { p.own = append(p.own, s); return nil }},
		{"product", "text", "what is spread: \"TSP: 0-46-0, 620 USD/ton\", or \"quarry lime: CCE 92, mesh 4/8/60 100/90/55, moisture 2, rule iowa, 24 USD/ton\", or ENV 63 (effective value in %, or lb/ton); with the machine's limits, as \"largest 2 ton/ac, least 300 lb/ac, step 100 lb/ac\"; may be repeated", "", each, setProduct},
		{"by", "ground", "rates for: zone (from its mean), surface (pixel by pixel, then in classes) or unit (each sampling unit from its own figures)", "zone where there are zones, else unit; surface for points without units", single, to(parseBy, func(p *P) *string { return &p.By })},
		{"zones-of", "analyte", "whose zones are taken", "those of an analyte that the table needs", single, func(p *P, s string) error { p.ZonesOf = s; return nil }},
		{"crop", "text", "crop as the table names it, with yield goal and target pH: \"corn, 180 bu/ac, pH 6.5\"; for one field or management unit \"North: ...\" or \"North / terrace: ...\"; may be repeated", "", each, setCrop},
		{"target-ph", "number", "pH to lime to where the crop has none of its own", "", single, to(parseNumber, func(p *P) *float64 { return &p.TargetPH })},
		{"depth", "depth", "of samples that do not say theirs, as 0-8in", "", single, func(p *P, s string) error {
			d, err := sampling.ParseDepth(s)
			p.Depth = &d
			return err
		}},
		{"lime-depth", "length", "that the lime is worked in to", "that of the sample", single, to(geo.ParseLength, func(p *P) *float64 { return &p.LimeDepth })},
		{"no-till", "bool", "lime stays on the surface", "no", single, to(parseYes, func(p *P) *bool { return &p.NoTill })},
		{"organic", "bool", "the soil is organic: peat or muck", "no", single, to(parseYes, func(p *P) *bool { return &p.Organic })},
		{"rate-unit", "unit", "of rates in files: lb/ac, ton/ac (2000 lb), kg/ha or t/ha", "lb/ac or kg/ha, as the units are", single, to(parseRateUnit, func(p *P) *string { return &p.RateUnit })},
		{"classes", "number", "of rates, with rates by surface", "5", single, to(parseRateClasses, func(p *P) *int { return &p.Classes })},
		{"smallest", "area", "with rates by surface, smaller zones join the neighbour with the longest shared edge", "", single, to(geo.ParseArea, func(p *P) *float64 { return &p.Smallest })},
		{"least-width", "length", "of a zone with rates by surface, that of the machine", "", single, to(geo.ParseLength, func(p *P) *float64 { return &p.LeastWidth })},
		{"smooth", "bool", "round the edges of zones, with rates by surface", "no", single, to(parseYes, func(p *P) *bool { return &p.Smooth })},
		{"insist", "bool", "use surfaces that are not supported, too", "no", single, to(parseYes, func(p *P) *bool { return &p.Insist })},
		{"task", "kind", "ISO 11783-10 task file with rates as zones or as a grid, or no", "zones", single, to(parseTask, func(p *P) *string { return &p.Task })},
	}
}

func setProduct(p *rateParameters, s string) error {
	x, err := parseProduct(s)
	if err != nil {
		return err
	}
	for _, o := range p.products {
		if o.PricePerKg > 0 && x.PricePerKg > 0 && o.currency != x.currency {
			return fmt.Errorf("product %q: its price is in %q, that of %s in %q; take one currency", s, x.currency, o.Name, o.currency)
		}
	}
	p.Products, p.products = append(p.Products, s), append(p.products, x)
	return nil
}

func parseBy(s string) (string, error) {
	if slices.Contains([]string{byZone, bySurface, byUnit}, s) {
		return s, nil
	}
	return "", fmt.Errorf("rates by %q are not known; take zone, surface or unit", s)
}

func parseTask(s string) (string, error) {
	if slices.Contains([]string{"zones", "grid", "no"}, s) {
		return s, nil
	}
	return "", fmt.Errorf("a task file as %q is not known; take zones, grid or no", s)
}

// taskUnits are the units that rates can be written in.
var taskUnits = map[string]task.Unit{"kg/ha": task.KgHa, "t/ha": task.TonneHa, "lb/ac": task.LbAc, "ton/ac": task.TonAc}

func parseRateUnit(s string) (string, error) {
	if _, ok := taskUnits[s]; ok {
		return s, nil
	}
	return "", fmt.Errorf("rates in %q are not known; take lb/ac, ton/ac, kg/ha or t/ha", s)
}

func parseRateClasses(s string) (int, error) {
	n, err := parseCount(s)
	if err != nil || n > mostClasses {
		return 0, fmt.Errorf("%q is not a number of classes from 1 to %d", s, mostClasses)
	}
	return n, nil
}

func setCrop(p *rateParameters, s string) error {
	c, err := parseCrop(s)
	if err == nil {
		p.Crops, p.crops = append(p.Crops, s), append(p.crops, c)
	}
	return err
}

// parseCrop reads "corn, 180 bu/ac, pH 6.5", with "field:", "part:" or "field /
// part:" before it.
func parseCrop(s string) (cropSpec, error) {
	var c cropSpec
	fail := func(format string, args ...any) (cropSpec, error) {
		return c, fmt.Errorf("crop %q: %s; write \"corn, 180 bu/ac\", or \"North: corn, 180 bu/ac, pH 6.5\" for one field or management unit", s, fmt.Sprintf(format, args...))
	}
	rest := s
	if where, after, ok := strings.Cut(s, ":"); ok {
		rest = after
		field, part, both := strings.Cut(where, " / ")
		field, part = strings.TrimSpace(field), strings.TrimSpace(part)
		if field == "" || both && part == "" {
			return fail("the name before the colon is missing")
		}
		if both {
			c.field, c.part = field, part
		} else {
			c.name = field
		}
	}
	for i, item := range strings.Split(rest, ",") {
		item = strings.Join(strings.Fields(item), " ")
		number, unit, _ := strings.Cut(item, " ")
		switch {
		case item == "":
			return fail("there is nothing between two commas or at the end")
		case i == 0:
			c.crop = item
		case strings.EqualFold(number, "pH"):
			v, err := parseNumber(unit)
			if err != nil || !(v > 0) || c.targetPH != 0 {
				return fail("%q is not one target pH", item)
			}
			c.targetPH = v
		default:
			v, err := parseNumber(number)
			if err != nil || !(v > 0) || unit == "" || c.yield != 0 {
				return fail("%q is not a yield with its unit", item)
			}
			c.yield, c.yieldUnit = v, unit
		}
	}
	return c, nil
}

func (c cropSpec) where() string {
	if c.part != "" {
		return c.field + " / " + c.part
	}
	return c.name
}

// fits tells how closely a crop is that of a part of a field: 0 not at all, 1 as
// that of the farm, more the closer.
func (c cropSpec) fits(field string, d geo.Division) int {
	switch {
	case c.part != "":
		if strings.EqualFold(c.field, field) && strings.EqualFold(c.part, d.Name) {
			return 4
		}
	case c.name == "":
		return 1
	case strings.EqualFold(c.name, d.Name):
		return 3
	case strings.EqualFold(c.name, field):
		return 2
	}
	return 0
}

// conditions are those of a part of a field; used marks the crop that they come
// from.
func (p *rateParameters) conditions(field string, d geo.Division, used []bool) rate.Conditions {
	out := rate.Conditions{LimeDepth: p.LimeDepth / geo.Foot * 12, NoTill: p.NoTill, Organic: p.Organic, TargetPH: p.TargetPH}
	best := -1
	for i, c := range p.crops {
		f := c.fits(field, d)
		if f > 0 && used != nil {
			used[i] = true
		}
		if f > 0 && (best < 0 || f > p.crops[best].fits(field, d)) {
			best = i
		}
	}
	if best >= 0 {
		c := p.crops[best]
		out.Crop, out.Yield, out.YieldUnit = c.crop, c.yield, c.yieldUnit
		if c.targetPH > 0 {
			out.TargetPH = c.targetPH
		}
	}
	return out
}

func cropText(c rate.Conditions) string {
	text := c.Crop
	if c.Yield > 0 {
		text += fmt.Sprintf(", %s %s", plain(c.Yield), c.YieldUnit)
	}
	return text
}

// check refuses what makes no sense together.
func (p *rateParameters) check() error {
	if len(p.Use) == 0 {
		return fmt.Errorf("no table is named; name one with use (corewalk rate --tables lists them)")
	}
	for i, c := range p.crops {
		for _, o := range p.crops[:i] {
			if strings.EqualFold(o.where(), c.where()) {
				return fmt.Errorf("crop %q: there is another crop for the same ground", p.Crops[i])
			}
		}
	}
	return nil
}

// unit is that of rates in files.
func (p *rateParameters) unit() string {
	switch {
	case p.RateUnit != "":
		return p.RateUnit
	case p.us:
		return "lb/ac"
	}
	return "kg/ha"
}

// layerInches is a depth as tables have it.
func layerInches(d sampling.Depth) rate.Layer {
	inches := 1.0
	if d.Unit == "cm" {
		inches = 0.01 / geo.Foot * 12
	}
	return rate.Layer{From: d.From * inches, To: d.To * inches}
}
