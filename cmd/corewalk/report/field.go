package report

import (
	"fmt"
	"strconv"
	"strings"
)

// fieldPage is the part of the page on one field.
type fieldPage struct {
	ID, Name  string
	Facts     []Fact
	Site      *site // nil where no place is known
	Units     []unitRow
	AnyCores  bool
	Notes     []string
	UnitNotes []Fact
	Analytes  []*analytePage
	Means     []designRow
	MeansHow  string
	Compared  []comparedRow
	Rates     []*ratePage
}

type designRow struct {
	Analyte, Part, Mean, Error, Interval, Composites, Covered string
}

type comparedRow struct {
	Problem, Analyte, Value, Healthy, Difference, Main, Samples, With string
}

type unitRow struct {
	ID, Division, Area, Cores, State string
	Problem                          bool
}

func (p *page) addField(id string, f *Field) error {
	out := fieldPage{ID: id, Name: f.Name, Notes: f.Notes, Site: newSite(id, f)}
	if out.Name == "" {
		out.Name = "Field " + strings.TrimPrefix(id, "f")
	}
	cores, missing := 0, 0
	for _, u := range f.Units {
		row := unitRow{ID: u.ID, Division: division(u), Area: dash, Cores: dash, Problem: u.Problem}
		if u.Beside != "" {
			row.Division += ", healthy ground beside problem area " + u.Beside
		}
		if u.Depth != "" {
			row.Division += ", " + u.Depth
		}
		if len(u.Shape) > 0 {
			row.Area = p.area(u.Area)
		}
		if n := len(u.Cores); n > 0 {
			row.Cores, out.AnyCores = strconv.Itoa(n), true
			cores += n
		}
		if u.Missing {
			row.State = "no row in the lab’s file"
			missing++
		}
		out.Units = append(out.Units, row)
		if len(u.Notes) > 0 {
			out.UnitNotes = append(out.UnitNotes, Fact{u.ID, strings.Join(u.Notes, "; ")})
		}
	}
	out.Facts = p.fieldFacts(f, cores, missing)
	out.Compared = comparedRows(f.Comparisons)
	out.Means, out.MeansHow = meanRows(f.Means)
	known := map[string]*Unit{}
	for i := range f.Units {
		known[f.Units[i].ID] = &f.Units[i]
	}
	d := doubt{Link: id, Field: out.Name}
	var sound []string
	for i := range f.Analytes {
		a := &f.Analytes[i]
		ap, err := p.analyte(id+"-a"+strconv.Itoa(i+1), out.Site, f, a, known)
		if err != nil {
			return err
		}
		out.Analytes = append(out.Analytes, ap)
		p.find(ap, out.Name, out.Site, f, a)
		switch {
		case a.unmapped():
		case a.Supported:
			sound = append(sound, a.label())
		default:
			d.Analytes = append(d.Analytes, a.label()+" ("+doubtOf(a)+")")
		}
	}
	p.rates(id, out.Site, f, &out)
	if len(d.Analytes) > 0 {
		p.Unsupported = append(p.Unsupported, d)
	}
	if len(sound) > 0 {
		p.Supported = append(p.Supported, out.Name+": "+list(sound))
	}
	p.Fields = append(p.Fields, out)
	return nil
}

func division(u Unit) string {
	switch {
	case u.Division != "":
		return u.Division
	case u.Problem:
		return "problem area"
	default:
		return "the field"
	}
}

func (p *page) fieldFacts(f *Field, cores, missing int) []Fact {
	facts := []Fact{
		{"Area", p.areaInWords(f.Area)},
		{"Open to sampling", p.areaInWords(f.SampleableArea)},
	}
	units := plural(len(f.Units), "composite", "composites")
	if cores > 0 {
		units += ", " + plural(cores, "core", "cores")
	}
	if missing > 0 {
		units += fmt.Sprintf("; %d without a row in the lab’s file", missing)
	}
	facts = append(facts, Fact{"Composites", units})
	if f.Walk > 0 {
		facts = append(facts, Fact{"Walk", fmt.Sprintf("%s, about %s with the cores", p.length(f.Walk), duration(f.Time))})
	}
	if f.System != "" {
		facts = append(facts, Fact{"Mapped in", f.System})
	}
	return facts
}
