package report

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"corewalk/geo/raster"
	"corewalk/sampling/lab"
)

// page is what the templates read.
type page struct {
	measures
	us    bool                   // what the page begins with
	side  int                    // longest side of a picture, pixels
	ramps map[string]raster.Ramp // by analyte: the same in every field

	gridRoom int // bytes that surfaces may still take

	Style       template.CSS
	Script      template.JS
	Units       string // that the page begins with: us or me
	Many        bool   // fields: more than a browser should lay out at once
	Unread      bool   // some surfaces cannot be read off: they had no room
	Title, Farm string
	Done        string
	HasResults  bool
	Summary     string // of the findings
	Findings    []finding
	Quiet       []string // limits beyond which nothing lies
	Unsupported []doubt
	Supported   []string
	NoLimits    bool
	Ramps       []gradient
	Fields      []fieldPage
	Reckoning   *reckoning
	Parameters  []Fact
	Notices     []string
	Cautions    []string
	Spread      []spreadRow
	Sources     []rateTableRow
	Doubts      string // how many surfaces are not supported
	Account     string // of the lab's file, in a sentence
	Since       *sincePage
}

// manyFields is up to how many fields a page is laid out and made ready at once.
const manyFields = 12

// finding is a patch in words.
type finding struct {
	Link, ID, Limit, Field, Where string
	Size, Difference, Inside      string
	Next                          string // what to do about it
}

// doubt says of one field which of its surfaces are not to be trusted.
type doubt struct {
	Link, Field string
	Analytes    []string
}

type gradient struct {
	ID    int
	Stops []stop
}

type stop struct{ At, Colour string }

func newPage(d Data) (*page, error) {
	css, err := files.ReadFile("style.css")
	if err != nil {
		return nil, err
	}
	script, err := readScript()
	if err != nil {
		return nil, err
	}
	p := &page{
		us: d.US, ramps: map[string]raster.Ramp{}, gridRoom: gridRoom, Units: "me",
		Style: template.CSS(css), Script: script, Farm: d.Farm, Parameters: d.Parameters, Notices: d.Notices, Cautions: d.Cautions,
	}
	if d.US {
		p.Units = "us"
	}
	surfaces := 0
	for _, f := range d.Fields {
		for i := range f.Analytes {
			p.HasResults = true
			if showsSurface(&f.Analytes[i]) {
				surfaces++
			}
		}
	}
	p.HasResults = p.HasResults || d.Reckoning != nil
	p.side = pictureSide(surfaces)
	p.addRamps()
	p.Many = len(d.Fields) > manyFields
	p.Title = "Soil sampling plan"
	if p.HasResults {
		p.Title = "Soil sampling report"
	}
	if d.Farm == "" {
		p.Farm = p.Title
	} else {
		p.Title = d.Farm + ": " + p.Title
	}
	p.Done = p.done(d)
	for i := range d.Fields {
		if err := p.addField("f"+strconv.Itoa(i+1), &d.Fields[i]); err != nil {
			return nil, err
		}
	}
	p.Summary = p.summary()
	p.NoLimits = p.HasResults && len(p.Findings) == 0 && len(p.Quiet) == 0
	p.Since = newSince(d.Seasons)
	doubts := 0
	for _, u := range p.Unsupported {
		doubts += len(u.Analytes)
	}
	p.Doubts = plural(doubts, "surface is", "surfaces are")
	if d.Reckoning != nil {
		p.Reckoning = newReckoning(d.Reckoning)
		p.Account = accountOf(d.Reckoning)
	}
	return p, nil
}

// readScript puts the parts of the page's script together; later ones use what
// earlier ones declare, and nothing of it is seen from outside.
func readScript() (template.JS, error) {
	script := "\"use strict\";\n(() => {\n"
	for _, name := range []string{"units.js", "reading.js", "viewer.js"} {
		part, err := files.ReadFile(name)
		if err != nil {
			return "", err
		}
		script += string(part)
	}
	return template.JS(script + "})();\n"), nil
}

func (p *page) addRamps() {
	const steps = 12
	for _, r := range raster.Ramps() {
		g := gradient{ID: int(r)}
		for i := range steps + 1 {
			t := float64(i) / steps
			g.Stops = append(g.Stops, stop{coord(100*t) + "%", hex(r.At(t))})
		}
		p.Ramps = append(p.Ramps, g)
	}
}

// ramp returns the colours of an analyte, the next free ones at its first use.
func (p *page) ramp(analyte string) raster.Ramp {
	r, known := p.ramps[analyte]
	if !known {
		all := raster.Ramps()
		r = all[len(p.ramps)%len(all)]
		p.ramps[analyte] = r
	}
	return r
}

// done says in one sentence what was done.
func (p *page) done(d Data) string {
	area, ground := 0.0, 0.0
	composites, cores, missing := 0, 0, 0
	for _, f := range d.Fields {
		area += f.Area
		ground += f.SampleableArea
		composites += len(f.Units)
		for _, u := range f.Units {
			cores += len(u.Cores)
			if u.Missing {
				missing++
			}
		}
	}
	fields := plural(len(d.Fields), "field", "fields") + " of " + p.areaInWords(area)
	of := plural(composites, "composite", "composites")
	if cores > 0 {
		of += " of " + plural(cores, "core", "cores") + " in all"
	}
	if !p.HasResults {
		return fmt.Sprintf("The plan for %s, %s of it open to sampling: %s. There are no results yet.", fields, p.area(ground), of)
	}
	s := fmt.Sprintf("Sampled: %s, with %s.", fields, of)
	if missing > 0 {
		s += fmt.Sprintf(" The lab’s file has no row for %d of them.", missing)
	}
	return s
}

// accountOf says in a sentence how the lab's file and the plan met.
func accountOf(r *lab.Reckoning) string {
	c := r.Counts
	s := fmt.Sprintf("Of %s in the lab’s file, %d went to a composite as they are or as a replicate", plural(c.Rows, "row", "rows"), c.Joined+c.Replicate)
	if lost := c.Unmatched + c.Refused + c.SetAside; lost > 0 {
		s += fmt.Sprintf(", and %d did not", lost)
	}
	if c.Missing > 0 {
		s += fmt.Sprintf("; %s of the plan have no row", plural(c.Missing, "sample", "samples"))
	}
	if n := len(r.Findings); n > 0 {
		s += "; " + plural(n, "thing does", "things do") + " not look right"
	}
	return s + "."
}

// summary counts the findings.
func (p *page) summary() string {
	fields := map[string]bool{}
	for _, f := range p.Findings {
		field, _, _ := strings.Cut(f.Link, "-")
		fields[field] = true
	}
	s := plural(len(p.Findings), "patch lies", "patches lie") + " beyond a limit"
	if len(p.Fields) > 1 {
		s += fmt.Sprintf(", in %d of %d fields", len(fields), len(p.Fields))
	}
	return s + ". Treat each apart from the rest of its field: patches.geojson can go into the next plan as its problem areas."
}
