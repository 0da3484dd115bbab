package report

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"corewalk/geo/raster"
)

// page is what the templates read.
type page struct {
	measures
	side  int                    // longest side of a picture, pixels
	ramps map[string]raster.Ramp // by analyte: the same in every field

	Style       template.CSS
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
}

// finding is a patch in words.
type finding struct {
	Link, ID, Limit, Field, Where string
	Size, Difference, Inside      string
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
	p := &page{
		measures: measures{d.US}, ramps: map[string]raster.Ramp{},
		Style: template.CSS(css), Farm: d.Farm, Parameters: d.Parameters, Notices: d.Notices, Cautions: d.Cautions,
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
	if d.Reckoning != nil {
		p.Reckoning = newReckoning(d.Reckoning)
	}
	return p, nil
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
	return s + ". Take each of them as a problem area, with a sample of its own, before the rest of its field is treated alike."
}
