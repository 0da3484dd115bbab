package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"corewalk/geo"
	"corewalk/geo/vector"
	"corewalk/interp/rate"
	"corewalk/sampling"
)

const ratesFile = "rates.geojson"

// rateParameters say which table is used, and for what ground.
type rateParameters struct {
	Use        string         `json:"use"`
	Conditions rateConditions `json:"conditions"`

	own   []string // files of tables
	table rate.Table
}

type rateConditions struct {
	TargetPH float64         `json:"target_ph,omitempty"`
	Crop     string          `json:"crop,omitempty"`
	Yield    float64         `json:"yield,omitempty"`
	Unit     string          `json:"yield_unit,omitempty"`
	Depth    *sampling.Depth `json:"depth,omitempty"` // of samples that do not say theirs
	LimeTo   float64         `json:"lime_depth_in,omitempty"`
	NoTill   bool            `json:"no_till,omitempty"`
	Organic  bool            `json:"organic,omitempty"`
}

// unitRate is the rate of one composite.
type unitRate struct {
	Sample    string  `json:"sample"`
	Field     string  `json:"field"`
	Rate      float64 `json:"rate"`
	Unit      string  `json:"unit"`
	Of        string  `json:"of"`
	KgPerHa   float64 `json:"kg_per_ha"`
	Class     string  `json:"class,omitempty"`
	Reason    string  `json:"reason,omitempty"`  // why it is 0
	Refused   string  `json:"refused,omitempty"` // why there is none
	AreaHa    float64 `json:"area_ha"`
	Kilograms float64 `json:"kg"` // on its ground

	features vector.OutFeature
}

type rateSummary struct {
	Table    string      `json:"table"`
	Source   string      `json:"source"`
	Verified string      `json:"verified"`
	Rates    []unitRate  `json:"rates"`
	Fields   []fieldRate `json:"fields"`
	Cautions []string    `json:"cautions"`
	Files    []string    `json:"files"`
}

// fieldRate holds the rates of a field against one rate for all of it, that of
// the plain mean of its composites.
type fieldRate struct {
	Field     string  `json:"field"`
	Kilograms float64 `json:"kg"`
	AreaHa    float64 `json:"area_ha"` // that has a rate
	Uniform   float64 `json:"uniform_kg"`
	Over      float64 `json:"over_kg"`  // that the one rate puts where less is asked for
	Under     float64 `json:"under_kg"` // and leaves out where more is
	Refused   string  `json:"uniform_refused,omitempty"`
}

// tables returns the tables of the program and of the user's files.
func (p *rateParameters) tables() ([]rate.Table, error) {
	out := rate.Tables()
	for _, path := range p.own {
		data, err := os.ReadFile(path)
		if err != nil {
			return nil, readError(err)
		}
		own, err := rate.Read(data)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		for _, t := range own {
			if slices.ContainsFunc(out, func(o rate.Table) bool { return o.Name == t.Name }) {
				return nil, fmt.Errorf("%s: there is a table %q already; give yours another name", path, t.Name)
			}
			out = append(out, t)
		}
	}
	return out, nil
}

// conditions are those of one composite.
func (c rateConditions) of(depth string) (rate.Conditions, error) {
	out := rate.Conditions{
		LimeDepth: c.LimeTo, NoTill: c.NoTill, Organic: c.Organic, Crop: c.Crop, Yield: c.Yield, YieldUnit: c.Unit, TargetPH: c.TargetPH,
	}
	d := c.Depth
	if depth != "" {
		own, err := sampling.ParseDepth(depth)
		if err != nil {
			return out, err
		}
		d = &own
	}
	if d != nil {
		inches := 1.0
		if d.Unit == "cm" {
			inches = 0.01 / geo.Foot * 12
		}
		out.Sample = rate.Layer{From: d.From * inches, To: d.To * inches}
	}
	return out, nil
}

// figuresForRate are the figures of composites by analyte; of several, their
// mean. Of an analyte by two methods, that which the table takes.
func (p *rateParameters) figures(analytes []sampling.Analyte, of []sampling.Composite) rate.Figures {
	out := rate.Figures{}
	for _, a := range analytes {
		name := a.Of
		if name == "" {
			name = a.Name
		}
		var sum, n float64
		censored := ""
		for _, c := range of {
			if f, ok := c.Figure(a.Name); ok {
				sum, n = sum+f.Value, n+1
				censored += f.Censored
			}
		}
		if n == 0 || a.Mixed != "" {
			continue
		}
		if _, twice := out[name]; twice && !p.takes(name, a.Method) {
			continue
		}
		if len(of) > 1 {
			censored = ""
		}
		out[name] = rate.Figure{Value: sum / n, Unit: a.Unit, Method: a.Method, Censored: censored}
	}
	return out
}

func (p *rateParameters) takes(analyte, method string) bool {
	return slices.ContainsFunc(p.table.Inputs, func(i rate.Input) bool {
		return i.Analyte == analyte && (len(i.Methods) == 0 || slices.Contains(i.Methods, method))
	})
}

// rateStep works out the rate of every composite by one table.
func rateStep(resultsPath string, p rateParameters, explain string, out *outputs) (rateSummary, []string, error) {
	var s rateSummary
	all, err := p.tables()
	if err != nil {
		return s, nil, err
	}
	if p.table, err = rate.Find(all, p.Use); err != nil {
		return s, nil, err
	}
	r, err := readResults(resultsPath)
	if err != nil {
		return s, nil, err
	}
	s = rateSummary{Table: p.table.Name, Source: p.table.Source.String(), Verified: p.table.Verified, Rates: []unitRate{}, Fields: []fieldRate{}}
	var explained []string
	for _, f := range r.Fields {
		var of []sampling.Composite
		shares := map[int]float64{}
		for _, c := range r.Composites {
			if c.Field == f.Name {
				of = append(of, c)
				shares[c.Unit]++
			}
		}
		sum := fieldRate{Field: f.Name}
		var rated []unitRate
		for _, c := range of {
			u := unitRate{Sample: c.ID, Field: f.Name}
			conditions, err := p.Conditions.of(c.Depth)
			if err != nil {
				return s, nil, fmt.Errorf("sample %s: %w", c.ID, err)
			}
			if len(c.Shape) > 0 {
				shape, _, err := f.Frame.Shape(c.Shape)
				if err != nil {
					return s, nil, fmt.Errorf("sample %s: %w", c.ID, err)
				}
				u.AreaHa = f.Frame.Area(shape) / geo.Hectare / shares[c.Unit]
			}
			rec, err := p.table.Recommend(p.figures(r.Analytes, []sampling.Composite{c}), conditions)
			var refusal *rate.Refusal
			switch {
			case errors.As(err, &refusal):
				u.Refused = refusal.What
			case err != nil:
				return s, nil, err
			default:
				u.Rate, u.Unit, u.Of, u.KgPerHa, u.Class, u.Reason = rec.Rate, rec.Unit, rec.Of, rec.KgPerHa, rec.Class, rec.Reason
				u.Kilograms = u.KgPerHa * u.AreaHa
				s.Cautions = rec.Cautions
				rated = append(rated, u)
			}
			if strings.EqualFold(c.ID, explain) {
				if err != nil {
					return s, nil, fmt.Errorf("sample %s: %w", c.ID, err)
				}
				explained = append([]string{"sample " + c.ID + " in " + f.Name}, rate.Explain(rec)...)
			}
			u.features = u.feature(c, p.table)
			s.Rates = append(s.Rates, u)
		}
		if len(rated) > 0 {
			conditions, err := p.Conditions.of(of[0].Depth)
			if err != nil {
				return s, nil, err
			}
			mean, err := p.table.Recommend(p.figures(r.Analytes, of), conditions)
			if err != nil {
				sum.Refused = err.Error()
			}
			for _, u := range rated {
				sum.Kilograms, sum.AreaHa = sum.Kilograms+u.Kilograms, sum.AreaHa+u.AreaHa
				sum.Uniform += mean.KgPerHa * u.AreaHa
				sum.Over += max(mean.KgPerHa-u.KgPerHa, 0) * u.AreaHa
				sum.Under += max(u.KgPerHa-mean.KgPerHa, 0) * u.AreaHa
			}
		}
		s.Fields = append(s.Fields, sum)
	}
	if explain != "" {
		if explained == nil {
			return s, nil, fmt.Errorf("%s has no sample %q", resultsPath, explain)
		}
		return s, explained, nil
	}
	head, err := newHeader(p, append([]string{resultsPath}, p.own...))
	if err != nil {
		return s, nil, err
	}
	c := vector.Collection{Members: []vector.Member{{Name: "corewalk", Value: head}, {Name: "cautions", Value: s.Cautions}}}
	for _, u := range s.Rates {
		c.Features = append(c.Features, u.features)
	}
	out.inputs = append(append(out.inputs, resultsPath), p.own...)
	if err := out.addGeoJSON(ratesFile, c); err != nil {
		return s, nil, err
	}
	if err := out.add("rates.csv", s.table); err != nil {
		return s, nil, err
	}
	s.Files = out.names()
	return s, nil, out.commit()
}

// feature is the ground of a composite with its rate.
func (u unitRate) feature(c sampling.Composite, t rate.Table) vector.OutFeature {
	known := func(v any) any {
		if u.Refused != "" {
			return nil
		}
		return v
	}
	f := vector.OutFeature{Shape: c.Shape, Properties: []vector.Property{
		{Name: "kind", Value: sampling.KindUnit}, {Name: "id", Value: u.Sample}, {Name: "field", Value: u.Field},
		{Name: "management", Value: c.Management}, {Name: "problem", Value: c.Problem},
		{Name: "rate", Value: known(u.Rate)}, {Name: "rate_unit", Value: u.Unit}, {Name: "of", Value: u.Of},
		{Name: "kg_per_ha", Value: known(u.KgPerHa)}, {Name: "kg", Value: known(u.Kilograms)}, {Name: "area_ha", Value: decimals(u.AreaHa, 4)},
		{Name: "class", Value: u.Class}, {Name: "reason", Value: u.Reason}, {Name: "refused", Value: u.Refused},
		{Name: "table", Value: t.Name}, {Name: "source", Value: t.Source.String()}, {Name: "verified", Value: t.Verified},
	}}
	if len(c.Shape) == 0 {
		f.Point = &c.At
	}
	return f
}

// table writes rates.csv.
func (s *rateSummary) table(w io.Writer) error {
	out := csv.NewWriter(w)
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	rows := [][]string{{"field", "sample", "rate", "unit", "of", "kg_per_ha", "area_ha", "kg", "class", "reason", "refused", "table", "verified"}}
	for _, u := range s.Rates {
		row := []string{u.Field, u.Sample, number(u.Rate), u.Unit, u.Of, number(decimals(u.KgPerHa, 3)), number(decimals(u.AreaHa, 4)), number(decimals(u.Kilograms, 1)), u.Class, u.Reason, u.Refused, s.Table, s.Verified}
		if u.Refused != "" {
			row[2], row[5], row[7] = "", "", ""
		}
		rows = append(rows, row)
	}
	return out.WriteAll(rows)
}

func (s *rateSummary) lines(m measure) []string {
	out := []string{
		fmt.Sprintf("table %s (verified: %s): %s", s.Table, s.Verified, s.Source),
	}
	mass := func(kg float64) string {
		if m.us {
			return fmt.Sprintf("%.1f tons", kg/rate.KgPerShortTon)
		}
		return fmt.Sprintf("%.1f t", kg/1000)
	}
	for _, f := range s.Fields {
		n, refused := 0, ""
		for _, u := range s.Rates {
			if u.Field == f.Field && u.Refused != "" {
				n, refused = n+1, u.Sample+": "+u.Refused
			}
		}
		line := fmt.Sprintf("  %s: %s on %s", f.Field, mass(f.Kilograms), m.area(f.AreaHa*geo.Hectare))
		if f.Refused == "" && f.AreaHa > 0 {
			line += fmt.Sprintf("; one rate from the mean of the field would take %s, %s of it where less is asked for, and leave %s out where more is", mass(f.Uniform), mass(f.Over), mass(f.Under))
		}
		if n > 0 {
			line += fmt.Sprintf("; %d samples have no rate (%s)", n, refused)
		}
		out = append(out, line)
	}
	for _, c := range s.Cautions {
		out = append(out, "caution: "+c)
	}
	return out
}

// listTables lists tables for a person.
func listTables(tables []rate.Table) []string {
	rows := [][]string{{"TABLE", "KIND", "REGION", "NEEDS", "DEPTH", "VERIFIED", "SOURCE"}}
	for _, t := range tables {
		var needs []string
		for _, i := range t.Inputs {
			text := i.Analyte
			if len(i.Methods) > 0 {
				text += " (" + strings.Join(i.Methods, " or ") + ")"
			}
			needs = append(needs, text)
		}
		depth := "not stated"
		if t.Depth.Inches > 0 {
			depth = plain(t.Depth.Inches) + " in"
		}
		rows = append(rows, []string{t.Name, t.Kind, t.Region, strings.Join(needs, ", "), depth, t.Verified, t.Source.String()})
	}
	return columns(rows, false)
}

func (a *app) rateCommand() *cobra.Command {
	var p rateParameters
	var results, explain, yield, depth string
	var list bool
	var lime lengthValue
	units := unitsValue("metric")
	var to outFlags
	c := &cobra.Command{
		Use:   "rate --results results.geojson --use TABLE [flags]",
		Short: "Work out lime and nutrient rates by a published table",
		Long: `Works out the rate of every sampling unit by one recommendation table. --tables
lists them: what each is for, the method and depth that it belongs to, where it
comes from, and whether its figures were seen in print. A table refuses results by
another method, outside of its range, or from another depth without a rule for it.
--explain prints one calculation, to be followed with a pocket calculator. Writes
rates.geojson and rates.csv; rates count pure calcium carbonate, P2O5 or K2O, not
product.

Rates are advice: check them with your local recommendations and a certified
adviser; nutrient rules and setbacks of the place come first.`,
		Example: `  corewalk rate --tables
  corewalk rate --results out/results.geojson --use iowa-2002-lime --target-ph 6.5 --explain BB03N
  corewalk rate --results out/results.geojson --use tri-state-2020-p --crop corn --yield "180 bu/ac" --out out`,
		Args: exactly(0, ""),
		RunE: func(*cobra.Command, []string) error {
			if list {
				tables, err := p.tables()
				if err != nil {
					return err
				}
				if a.json {
					return a.report(tables, nil, nil, nil)
				}
				return a.report(nil, listTables(tables), nil, nil)
			}
			if results == "" || p.Use == "" {
				return usageError{errors.New("--results and --use are needed; --tables lists what can be used")}
			}
			if err := p.Conditions.read(yield, depth, float64(lime)); err != nil {
				return usageError{err}
			}
			s, explained, err := rateStep(results, p, explain, to.outputs())
			if err != nil {
				return err
			}
			if explain != "" {
				return a.report(s, explained, nil, nil)
			}
			return a.report(s, s.lines(measure{units == "us"}), nil, s.Files)
		},
	}
	c.Flags().StringVar(&results, "results", "", "`FILE` results.geojson")
	c.Flags().BoolVar(&list, "tables", false, "list the tables")
	c.Flags().StringArrayVar(&p.own, "table", nil, "`FILE` of tables of your own (YAML)")
	c.Flags().StringVar(&p.Use, "use", "", "`NAME` of the table")
	c.Flags().StringVar(&explain, "explain", "", "print the calculation for one `SAMPLE`")
	c.Flags().Float64Var(&p.Conditions.TargetPH, "target-ph", 0, "pH to lime to")
	c.Flags().StringVar(&p.Conditions.Crop, "crop", "", "`CROP`, as the table names it")
	c.Flags().StringVar(&yield, "yield", "", "`YIELD` goal with its unit, as \"180 bu/ac\"")
	c.Flags().StringVar(&depth, "depth", "", "`DEPTH` of samples that do not say theirs, as 0-8in")
	c.Flags().Var(&lime, "lime-depth", "depth that the lime is worked in to (default: that of the sample)")
	c.Flags().BoolVar(&p.Conditions.NoTill, "no-till", false, "lime stays on the surface")
	c.Flags().BoolVar(&p.Conditions.Organic, "organic", false, "the soil is organic: peat or muck")
	c.Flags().Var(&units, "units", "units of the summary")
	to.add(c)
	return c
}

// read reads what is written with its unit.
func (c *rateConditions) read(yield, depth string, lime float64) error {
	if yield != "" {
		number, unit, _ := strings.Cut(strings.TrimSpace(yield), " ")
		v, err := parseNumber(number)
		if err != nil || !(v > 0) || strings.TrimSpace(unit) == "" {
			return fmt.Errorf("yield %q: write it with its unit, as in \"180 bu/ac\"", yield)
		}
		c.Yield, c.Unit = v, strings.TrimSpace(unit)
	}
	if depth != "" {
		d, err := sampling.ParseDepth(depth)
		if err != nil {
			return err
		}
		c.Depth = &d
	}
	if c.LimeTo = lime / geo.Foot * 12; lime < 0 {
		return errors.New("the depth that lime is worked in to is not below 0")
	}
	return nil
}
