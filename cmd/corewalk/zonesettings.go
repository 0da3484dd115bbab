package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"corewalk/geo"
	"corewalk/interp/rate"
	"corewalk/interp/zone"
	"corewalk/sampling"
)

// zoneParameters say what zones and patches are drawn.
type zoneParameters struct {
	Patch      []string `json:"patch,omitempty"`   // limits, as pH < 6.0
	Classes    []string `json:"classes,omitempty"` // as pH: 5.5, 6.0
	Tables     []string `json:"-"`                 // files of tables
	Smallest   float64  `json:"smallest_m2"`
	LeastWidth float64  `json:"least_width_m"`
	Smooth     bool     `json:"smooth"`
	Within     string   `json:"within"` // ground or sampleable
	Insist     bool     `json:"insist"` // use surfaces that are not supported, too
	Shapefiles bool     `json:"shapefiles"`
	Pictures   []string `json:"pictures,omitempty"` // png and svg

	limits  []zone.Limit
	classes []classSpec
	keep    bool // the shapes, for the page
	us      bool // feet on pictures
}

// classSpec is how one analyte is put into classes.
type classSpec struct {
	analyte   string
	limits    []float64
	quantiles int    // number of classes of about equal ground
	table     bool   // by a table of classes
	name      string // of the table; "" for the only one
	crop      string // where the table goes by it
}

// smoothChords round the corners of the pixels where zones are smooth.
const smoothChords = 4

func defaultZone() *zoneParameters { return &zoneParameters{Within: "ground"} }

// zoneSettings lists the choices of zones in the order of the help.
func zoneSettings() []setting[zoneParameters] {
	type P = zoneParameters
	return []setting[P]{
		{"classes", "classes", "zones of an analyte: \"pH: 5.5, 6, 6.5\" (limits), \"P: quantiles 4\", or \"P: table\" (a table of classes, see corewalk rate --tables; \"P: table NAME\" or \"P: table NAME for CROP\" for one of several); may be repeated", "", each, setClasses},
		{"patch", "limit", "patches beyond a critical limit, as \"pH < 6.0\"; may be repeated", "", each, setPatch},
		{"tables", "file", "tables of your own (YAML)", "", each, func(p *P, s string) error { p.Tables = append(p.Tables, s); return nil }},
		{"smallest", "area", "smaller zones join the neighbour with the longest shared edge; smaller patches are dropped", "", single, to(geo.ParseArea, func(p *P) *float64 { return &p.Smallest })},
		{"least-width", "length", "of a zone, that of the machine", "", single, to(geo.ParseLength, func(p *P) *float64 { return &p.LeastWidth })},
		{"smooth", "bool", "round the edges of zones", "no", single, to(parseYes, func(p *P) *bool { return &p.Smooth })},
		{"within", "ground", "what zones cover: ground (all inside the boundary but the exclusions) or sampleable (less all setbacks, too)", "ground", single, to(parseWithin, func(p *P) *string { return &p.Within })},
		{"insist", "bool", "use surfaces that are not supported, too", "no", single, to(parseYes, func(p *P) *bool { return &p.Insist })},
		{"shapefiles", "bool", "write a shapefile of the zones of each field, too", "no", single, to(parseYes, func(p *P) *bool { return &p.Shapefiles })},
		{"pictures", "names", "draw the zones of each field and analyte as png, svg, or both with a comma between", "", commas, to(parsePictures, func(p *P) *[]string { return &p.Pictures })},
	}
}

func parsePictures(s string) ([]string, error) {
	var out []string
	for _, f := range strings.Split(s, ",") {
		f = strings.ToLower(strings.TrimSpace(f))
		if f != "png" && f != "svg" {
			return nil, fmt.Errorf("pictures as %q are not known; take png and svg", f)
		}
		if !slices.Contains(out, f) {
			out = append(out, f)
		}
	}
	return out, nil
}

func parseWithin(s string) (string, error) {
	if s == "ground" || s == "sampleable" {
		return s, nil
	}
	return "", fmt.Errorf("within %q is not known; take ground or sampleable", s)
}

func setPatch(p *zoneParameters, s string) error {
	l, err := zone.ParseLimit(s)
	if err == nil {
		p.Patch, p.limits = append(p.Patch, l.String()), append(p.limits, l)
	}
	return err
}

func setClasses(p *zoneParameters, s string) error {
	c, err := parseClasses(s)
	if err == nil {
		p.Classes, p.classes = append(p.Classes, s), append(p.classes, c)
	}
	return err
}

// mostClasses is the number of classes that a map can still tell apart.
const mostClasses = 9

func parseClasses(s string) (classSpec, error) {
	analyte, rest, ok := strings.Cut(s, ":")
	c := classSpec{analyte: strings.TrimSpace(analyte)}
	fail := func(format string, args ...any) (classSpec, error) {
		return c, fmt.Errorf("classes %q: %s; write \"pH: 5.5, 6, 6.5\", \"P: quantiles 4\" or \"P: table\"", s, fmt.Sprintf(format, args...))
	}
	if !ok || c.analyte == "" {
		return fail("the analyte comes first, with a colon behind it")
	}
	word, more, _ := strings.Cut(strings.TrimSpace(rest), " ")
	switch more = strings.TrimSpace(more); word {
	case "":
		return fail("there are none")
	case "table":
		c.table = true
		c.name, c.crop, _ = strings.Cut(more, " for ")
		c.name, c.crop = strings.TrimSpace(c.name), strings.TrimSpace(c.crop)
		return c, nil
	case "quantiles":
		n, err := strconv.Atoi(more)
		if err != nil || n < 2 || n > mostClasses {
			return fail("quantiles take a number of classes from 2 to %d", mostClasses)
		}
		c.quantiles = n
		return c, nil
	}
	for _, text := range strings.Split(rest, ",") {
		v, err := parseNumber(strings.TrimSpace(text))
		if err != nil {
			return fail("%q is not a plain number without a unit", strings.TrimSpace(text))
		}
		if n := len(c.limits); n > 0 && v <= c.limits[n-1] {
			return fail("%g does not come after %g; limits ascend", v, c.limits[n-1])
		}
		c.limits = append(c.limits, v)
	}
	if len(c.limits) >= mostClasses {
		return fail("%d limits make more than %d classes", len(c.limits), mostClasses)
	}
	return c, nil
}

func (p *zoneParameters) check() error {
	if len(p.limits)+len(p.classes) == 0 {
		return fmt.Errorf("there is nothing to draw; give classes, as in \"pH: 5.5, 6, 6.5\", or a limit of patches, as in \"pH < 6.0\"")
	}
	return nil
}

// classing is how one analyte of the results is put into classes.
type classing struct {
	classSpec
	analyte sampling.Analyte
	names   []string // of the classes, from low to high; none where they have none
	source  string   // of the limits
}

// classings finds the analytes of classes, and the limits that tables give.
func (p *zoneParameters) classings(all []sampling.Analyte) ([]classing, error) {
	tables, err := readTables(p.Tables)
	if err != nil {
		return nil, err
	}
	var out []classing
	for i, spec := range p.classes {
		found, err := findAnalytes(all, spec.analyte)
		if err != nil {
			return nil, fmt.Errorf("classes %s: %w", p.Classes[i], err)
		}
		for _, a := range found {
			c := classing{classSpec: spec, analyte: a}
			if spec.table {
				name := a.Of
				if name == "" {
					name = a.Name
				}
				t, err := rate.FindClasses(tables, name, a.Method, spec.name)
				if err == nil {
					c.names, c.limits, err = t.Classes(spec.crop)
				}
				if err != nil {
					return nil, fmt.Errorf("classes %s: %w", p.Classes[i], err)
				}
				if unit := t.Unit(); a.Unit != unit && unit != "pH" {
					return nil, fmt.Errorf("classes %s: the results of %s are in %q, the table in %s; give the unit of the column with the results", p.Classes[i], a.Name, a.Unit, unit)
				}
				c.source = fmt.Sprintf("%s: %s (%s, verified: %s)", t.Name, t.Source, t.Region, t.Verified)
			}
			if slices.ContainsFunc(out, func(o classing) bool { return o.analyte.Name == a.Name }) {
				return nil, fmt.Errorf("classes %s: %s has classes already", p.Classes[i], a.Name)
			}
			out = append(out, c)
		}
	}
	return out, nil
}

// className writes a class, counted from 0, for a person.
func className(limits []float64, names []string, class int) string {
	var text string
	switch {
	case class < 0:
		return "no value"
	case len(limits) == 0:
		text = "all"
	case class == 0:
		text = "below " + plain(limits[0])
	case class == len(limits):
		text = plain(limits[class-1]) + " and above"
	default:
		text = plain(limits[class-1]) + " to " + plain(limits[class])
	}
	if class < len(names) {
		text = names[class] + " (" + text + ")"
	}
	return text
}

// layerLimits finds the analytes of limits; one that names several depth layers
// becomes a limit for each.
func layerLimits(limits []zone.Limit, all []sampling.Analyte) ([]zone.Limit, []sampling.Analyte, error) {
	var out []zone.Limit
	var analytes []sampling.Analyte
	for _, l := range limits {
		found, err := findAnalytes(all, l.Analyte)
		if err != nil {
			return nil, nil, fmt.Errorf("limit %s: %w", l, err)
		}
		for _, a := range found {
			if len(found) > 1 {
				l.Analyte = a.Name
			}
			out, analytes = append(out, l), append(analytes, a)
		}
	}
	return out, analytes, nil
}
