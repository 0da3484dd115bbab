package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/cmd/corewalk/report"
	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/geo/vector"
	"corewalk/sampling"
	"corewalk/sampling/lab"
)

const reportFile = "report.html"

// reportStep writes the page of a run from the files of its steps.
func reportStep(j *job, s *runSummary, out *outputs) error {
	d := report.Data{Farm: j.farm, US: j.units == "us", Notices: s.notices}
	b := pageBuilder{data: &d}
	if j.plan != nil {
		if err := b.plan(filepath.Join(j.out, planFile)); err != nil {
			return err
		}
		p := j.plan
		d.Parameters = append(d.Parameters,
			report.Fact{Label: "Design", Text: both(func(us bool) string { return designText(p, measure{us}) })},
			report.Fact{Label: "Cores", Text: fmt.Sprintf("%d to each of %s, %s, at least %s apart", p.Cores, compositesToUnit(p.Composites), sampling.DepthsText(p.Depths), bothLengths(p.Spacing))},
			report.Fact{Label: "Setback", Text: bothLengths(p.Setback) + " from the boundary"},
			report.Fact{Label: "Placement", Text: placement(*p)},
			report.Fact{Label: "Seed", Text: fmt.Sprint(p.Seed)},
		)
	}
	if s.Plan != nil {
		for i := range d.Fields {
			for _, f := range s.Plan.Fields {
				if f.Name == d.Fields[i].Name {
					d.Fields[i].Walk, d.Fields[i].Time = f.WalkM, f.seconds
				}
			}
		}
	}
	if s.Join != nil {
		b.means(s.Join)
		if err := b.results(j, s); err != nil {
			return err
		}
	}
	if s.Rate != nil {
		if err := b.rates(s.Rate); err != nil {
			return err
		}
	}
	if j.season != nil {
		var err error
		if d.Seasons, err = pageSeasons(j.season, j.out); err != nil {
			return err
		}
	}
	if err := out.add(reportFile, func(w io.Writer) error { return report.Write(w, d) }); err != nil {
		return err
	}
	return out.commit()
}

func designText(p *sampling.Params, m measure) string {
	switch {
	case p.Design == sampling.Units:
		return "one composite for each management unit"
	case p.Design == sampling.Grid && p.Cell > 0:
		text := "grid of " + m.area(p.Cell) + " cells"
		if p.LongSide {
			text += " along the longest side of each field"
		}
		if p.Even {
			text += ", made equal in area"
		}
		return text
	case p.Design == sampling.Strata && p.Samples == 0:
		return "compact strata of equal area, about " + m.area(p.Cell) + " each"
	case p.Design == sampling.Strata:
		return fmt.Sprintf("%d compact strata of equal area to a field", p.Samples)
	}
	return fmt.Sprintf("grid of about %d cells to a field", p.Samples)
}

func compositesToUnit(n int) string {
	if n < 2 {
		return "one composite to a unit"
	}
	return fmt.Sprintf("%d composites to a unit", n)
}

func lengthText(m float64, us bool) string {
	if us {
		return fmt.Sprintf("%.0f ft", m/geo.Foot)
	}
	return fmt.Sprintf("%g m", decimals(m, 2))
}

// both is a text in the units that the reader of the page chooses.
func both(in func(us bool) string) string { return report.Both(in(true), in(false)) }

func bothLengths(m float64) string { return both(func(us bool) string { return lengthText(m, us) }) }

// pageBuilder gathers what the page shows.
type pageBuilder struct {
	data   *report.Data
	fields []*geo.Field
}

// field starts the page's entry of a field, or finds the one that is there.
func (b *pageBuilder) field(f *geo.Field) *report.Field {
	i := slices.IndexFunc(b.data.Fields, func(x report.Field) bool { return x.Name == f.Name })
	if i < 0 {
		i = len(b.data.Fields)
		b.fields = append(b.fields, f)
		b.data.Fields = append(b.data.Fields, report.Field{
			Name: f.Name, System: fmt.Sprintf("%s (EPSG:%d)", f.Frame.Name(), f.Frame.EPSG()),
			LonLat: f.Frame.LonLat, Boundary: f.Boundary, Exclusions: exclusionsNear(f), Divisions: f.Divisions,
			Area: f.Frame.Area(f.Boundary), SampleableArea: f.Frame.Area(f.Sampleable),
		})
	}
	return &b.data.Fields[i]
}

// exclusionsNear are those that a map of the field is to show: the file of
// exclusions is that of the farm.
func exclusionsNear(f *geo.Field) []geo.Exclusion {
	var out []geo.Exclusion
	for _, x := range f.Exclusions {
		ground := f.Boundary.Bound().Pad(x.Setback)
		near := !x.Shape.Empty() && ground.Intersects(x.Shape.Bound()) && reaches(f, x)
		for _, l := range x.Lines {
			near = near || len(l) > 0 && ground.Intersects(orb.LineString(l).Bound())
		}
		for _, p := range x.Points {
			near = near || ground.Contains(orb.Point(p))
		}
		if near {
			out = append(out, x)
		}
	}
	return out
}

// reaches tells whether the setback of an exclusion comes to the field.
func reaches(f *geo.Field, x geo.Exclusion) bool {
	wide, err := plane.Buffer(f.Boundary, x.Setback)
	if err != nil {
		return true
	}
	shared, err := plane.Intersect(wide, x.Shape)
	return err != nil || !shared.Empty()
}

func (b *pageBuilder) find(name string) (*geo.Field, *report.Field) {
	for i := range b.data.Fields {
		if b.data.Fields[i].Name == name {
			return b.fields[i], &b.data.Fields[i]
		}
	}
	return nil, nil
}

// plan adds fields, units and cores from a plan file.
func (b *pageBuilder) plan(path string) error {
	layer, err := vector.Read(path, vector.Options{})
	if err != nil {
		return readError(err)
	}
	fields, err := sampling.ReadFields(layer)
	if err != nil {
		return err
	}
	for _, f := range fields {
		b.field(f)
	}
	units, err := sampling.ReadUnits(layer)
	if err != nil {
		return err
	}
	layered := len(layersOf(units)) > 1
	for _, u := range units {
		f, page := b.find(u.Field)
		if f == nil {
			return fmt.Errorf("%s: sample %s is of a field %q that is not in the file", path, u.ID, u.Field)
		}
		shape, _, err := f.Frame.Shape(u.Shape)
		if err != nil {
			return fmt.Errorf("%s: sample %s: %w", path, u.ID, err)
		}
		x := report.Unit{
			ID: u.ID, Division: divisionText(u.Management, u.Problem), Problem: u.Problem != "",
			Shape: shape, Area: f.Frame.Area(shape), Notes: u.Notes, Beside: u.ComparisonOf,
		}
		if layered {
			x.Depth = u.Depth
		}
		for _, c := range u.Cores {
			at, err := f.Frame.XY(c.At)
			if err != nil {
				return fmt.Errorf("%s: sample %s: %w", path, u.ID, err)
			}
			x.Cores = append(x.Cores, at)
		}
		if x.At, err = f.Frame.XY(u.At()); err != nil {
			return fmt.Errorf("%s: sample %s: %w", path, u.ID, err)
		}
		page.Units = append(page.Units, x)
	}
	return nil
}

func divisionText(management, problem string) string {
	switch {
	case problem != "":
		return geo.Division{Kind: geo.Problem, Name: problem}.Label()
	case management != "":
		return geo.Division{Kind: geo.Management, Name: management}.Label()
	}
	return ""
}

// results adds figures, surfaces and patches.
func (b *pageBuilder) results(j *job, s *runSummary) error {
	r, err := readResults(filepath.Join(j.out, resultsFile))
	if err != nil {
		return err
	}
	for _, f := range r.Fields {
		b.field(f)
	}
	if b.data.Reckoning, err = readReckoning(filepath.Join(j.out, "join.json")); err != nil {
		return err
	}
	for _, c := range r.Composites {
		f, page := b.find(c.Field)
		if f == nil {
			return fmt.Errorf("sample %s is of a field %q that is not in the results", c.ID, c.Field)
		}
		if k := slices.IndexFunc(page.Units, func(u report.Unit) bool { return u.ID == c.ID }); len(c.Shape) > 0 && k >= 0 {
			page.Units[k].Missing = len(c.Figures) == 0
			page.Units[k].Notes = append(page.Units[k].Notes, c.Notes...)
			continue
		}
		at, err := c.Place(f.Frame)
		if err != nil {
			return fmt.Errorf("sample %s: %w", c.ID, err)
		}
		page.Units = append(page.Units, report.Unit{
			ID: c.ID, Division: divisionText(c.Management, c.Problem), Problem: c.Problem != "", At: at,
			Notes: c.Notes, Missing: len(c.Figures) == 0,
		})
	}
	if j.surface != nil {
		b.data.Parameters = append(b.data.Parameters, report.Fact{Label: "Surfaces", Text: both(j.surface.text)})
	}
	if j.zone != nil {
		b.data.Parameters = append(b.data.Parameters, zoneFacts(j.zone)...)
	}
	return b.analytes(j, s, r)
}

// means adds the means and the comparisons of problem areas.
func (b *pageBuilder) means(s *joinSummary) {
	known := func(v *float64) float64 {
		if v == nil {
			return math.NaN()
		}
		return *v
	}
	for i := range b.data.Fields {
		page := &b.data.Fields[i]
		for _, m := range s.Means {
			if m.Field == page.Name && m.Number == 0 {
				page.Means = append(page.Means, report.Mean{
					Analyte: m.Analyte, Unit: m.Unit, Part: m.Management, Mean: m.Mean, SE: known(m.SE), Low: known(m.Low), High: known(m.High),
					Confidence: m.Confidence, Covered: m.Covered, Units: m.Units, Composites: m.Composites, Method: m.Method,
				})
			}
		}
		for _, c := range s.Comparisons {
			if c.Field == page.Name {
				page.Comparisons = append(page.Comparisons, report.Comparison{
					Problem: c.Problem, Analyte: c.Analyte, Unit: c.Unit, Samples: c.Samples, With: c.With,
					Value: c.Value, Healthy: c.Healthy, Difference: c.Difference, Main: known(c.Main),
				})
			}
		}
	}
}

func readReckoning(path string) (*lab.Reckoning, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, readError(err)
	}
	var r lab.Reckoning
	if err := json.Unmarshal(data, &r); err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", path, err)
	}
	return &r, nil
}
