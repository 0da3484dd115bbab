package report

import (
	"slices"
	"strconv"
	"strings"
)

// analytePage is the part of the page on one analyte of one field.
type analytePage struct {
	ID, Name, Field string
	Unit, Method    string
	Doubtful        bool // there is a surface, or was to be one, and it is not supported
	Map             *surfaceMap
	Verdict         string
	Check           []string // the cross-validation in words
	More            []string // and how the surface was made, folded
	Drawings        []inlined
	Basis           string
	Sets            []setTable
	Values          []valueRow
	Predicted       bool // some row has a prediction
	Zoning          *zoningPage
}

// setTable lists the patches beyond one limit.
type setTable struct {
	Limit, Field string
	Patches      []patchRow
	Rest         patchRow
	Dropped      string
	Chances      bool // some patch has one
}

type patchRow struct {
	ID, Where, Meets, Area, Share, Mean, Range, Chance, Without, Inside, Samples string
}

type valueRow struct {
	ID, Division, Value, Predicted, Note string
	Problem, None                        bool
}

func (p *page) analyte(id string, s *site, f *Field, a *Analyte, units map[string]*Unit) (*analytePage, error) {
	out := &analytePage{
		ID: id, Name: a.Name, Field: f.Name, Unit: a.Unit, Method: a.Method,
		Doubtful: !a.Supported && !a.unmapped(), Verdict: verdict(a), Drawings: inline(a.Drawings), Basis: basis(a),
	}
	out.Check, out.More = checkInWords(a)
	out.More = append(out.More, madeInWords(a)...)
	ramp := p.ramp(a.Name)
	if s != nil {
		m, err := p.surfaceMap(id, s, f, a, ramp)
		if err != nil {
			return nil, err
		}
		out.Map = m
	}
	if out.Basis != "" && a.Basis == "surface" && a.Masked > 0 && !anyShape(f.Units) {
		out.Basis += " Whether the " + percent(a.Masked) + " of the ground that lie too far from the composites are beyond a limit is not known; they count with the rest."
	}
	out.Zoning = p.zoning(id, s, f, a, ramp)
	fig := figuresOf(a)
	meets := meetings(f.Meetings)
	for _, set := range a.Patches {
		t := setTable{Limit: set.Limit, Field: f.Name, Rest: p.figuresRow(fig, set.Rest, f.Area)}
		for _, patch := range set.Patches {
			row := p.figuresRow(fig, patch.Figures, f.Area)
			row.ID, row.Where = patch.ID, whereabouts(f.Boundary, patch.Shape)
			row.Samples = strings.Join(patch.Samples, ", ")
			row.Meets, row.Chance, row.Without = p.meets(meets[patch.ID]), chance(patch.Chance), fig.figure(patch.Without)
			t.Chances = t.Chances || finite(patch.Chance)
			t.Patches = append(t.Patches, row)
		}
		if set.Dropped > 0 {
			t.Dropped = plural(set.Dropped, "patch was", "patches were") + " smaller than the smallest size asked for and left out."
		}
		out.Sets = append(out.Sets, t)
	}
	out.addValues(f, a, fig, units)
	return out, nil
}

func anyShape(units []Unit) bool {
	return slices.ContainsFunc(units, func(u Unit) bool { return len(u.Shape) > 0 })
}

func (p *page) figuresRow(fig figures, x Figures, field float64) patchRow {
	row := patchRow{
		Area: p.area(x.Area), Mean: fig.figure(x.Mean), Range: dash,
		Inside: strconv.Itoa(x.Composites),
	}
	if finite(x.Least) && finite(x.Greatest) {
		row.Range = fig.figure(x.Least) + " to " + fig.figure(x.Greatest)
	}
	if field > 0 && finite(x.Area) {
		row.Share = percent(x.Area / field)
	}
	if x.Composites > 0 {
		row.Inside += ", mean " + fig.figure(x.CompositesMean)
	}
	return row
}

func basis(a *Analyte) string {
	n := 0
	for _, set := range a.Patches {
		n += len(set.Patches)
	}
	switch {
	case n == 0:
		return ""
	case a.Basis == "surface" && !a.Supported:
		return "The patches were drawn on the surface all the same, as asked for. Take a sample in each before acting on it."
	case a.Basis == "surface":
		return "The patches were drawn on the surface: their edges lie between composites and are estimates."
	default:
		return "The patches are whole sampling units, each judged by its own composite."
	}
}

func (out *analytePage) addValues(f *Field, a *Analyte, fig figures, units map[string]*Unit) {
	predicted := map[string]float64{}
	for _, r := range a.CrossValidation.Each {
		predicted[r.ID] = r.Predicted
		// Composites from one place are predicted as one.
		for _, id := range strings.Split(r.ID, "+") {
			if _, own := predicted[id]; !own {
				predicted[id] = r.Predicted
			}
		}
	}
	has := make(map[string]bool, len(a.Values))
	for _, v := range a.Values {
		has[v.ID] = true
		row := valueRow{ID: v.ID, Division: dash, Value: fig.value(v)}
		if u := units[v.ID]; u != nil {
			row.Division, row.Problem = division(*u), u.Problem
		}
		if x, ok := predicted[v.ID]; ok {
			row.Predicted, out.Predicted = fig.figure(x), true
		}
		switch v.Censored {
		case "<":
			row.Note = "below the lab’s limit; computed with half of it"
		case ">":
			row.Note = "above the lab’s limit; computed with the limit"
		}
		out.Values = append(out.Values, row)
	}
	for _, u := range f.Units {
		if has[u.ID] {
			continue
		}
		row := valueRow{ID: u.ID, Division: division(u), Value: dash, None: true, Problem: u.Problem, Note: "no figure from the lab"}
		if u.Missing {
			row.Note = "missing: no row in the lab’s file"
		}
		out.Values = append(out.Values, row)
	}
}
