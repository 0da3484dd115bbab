package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"corewalk/interp/rate"
	"corewalk/sampling/season"
	"corewalk/sampling/season/trend"
)

// trendParameters are the choices of a comparison of seasons.
type trendParameters struct {
	trend.Options
	fields, analytes []string
	harvests         []cropSpec // one to each year
	tables           []string   // that drifts come from
}

// trendChange is a change as --json shows it.
type trendChange struct {
	From     string   `json:"from"`
	To       string   `json:"to"`
	Estimate float64  `json:"estimate"`
	Low      float64  `json:"low"`
	High     float64  `json:"high"`
	Told     bool     `json:"told_from_noise"`
	Expected *float64 `json:"expected,omitempty"` // from what crops take off
	Words    string   `json:"words"`
}

type trendPoint struct {
	Season   string   `json:"season"`
	Value    float64  `json:"value"`
	Share    float64  `json:"share"`
	Samples  []string `json:"samples,omitempty"`
	Censored bool     `json:"censored,omitempty"`
	Lab      string   `json:"lab,omitempty"`
}

type trendSeries struct {
	Field   string       `json:"field"`
	Sample  string       `json:"sample,omitempty"` // of the latest season; none: the field
	Unit    int          `json:"unit,omitempty"`
	Part    string       `json:"part,omitempty"`
	Analyte string       `json:"analyte"`
	Measure string       `json:"unit_of_measure"`
	Method  string       `json:"method"`
	Depth   string       `json:"depth"`
	Points  []trendPoint `json:"points"`
	NoiseSD float64      `json:"noise_sd"` // or, of relative noise, its share
	Share   bool         `json:"noise_is_share,omitempty"`
	Noise   string       `json:"noise"`
	Since   *trendChange `json:"since_last,omitempty"`
	Overall *trendChange `json:"since_first,omitempty"`
	Slope   *trendChange `json:"per_year,omitempty"`
	Notes   []string     `json:"notes,omitempty"`

	label string // the analyte, with its depth where there are several
}

// trendSummary is what --json prints.
type trendSummary struct {
	Seasons []string      `json:"seasons"`
	Fields  []trendSeries `json:"fields"`
	Units   []trendSeries `json:"units"`
	Apart   []string      `json:"apart"`
	Notes   []string      `json:"notes"`
	Files   []string      `json:"files,omitempty"`

	confidence float64
}

const sharedError = "an error that a lab makes alike in all samples of a season is in no interval"

// trendOf compares the seasons of a record.
func trendOf(seasons []season.Season, observations []season.Observation, p trendParameters) (trendSummary, error) {
	s := trendSummary{Seasons: []string{}, Fields: []trendSeries{}, Units: []trendSeries{}, Apart: []string{}, Notes: []string{sharedError}, confidence: p.Confidence}
	if len(seasons) < 2 {
		return s, errors.New("there is one season or none in the record; a change needs two")
	}
	for _, x := range seasons {
		s.Seasons = append(s.Seasons, x.Name)
	}
	if err := p.known(observations); err != nil {
		return s, err
	}
	var chosen []season.Observation
	for _, x := range observations {
		if (len(p.fields) == 0 || slices.Contains(p.fields, x.Field)) && (len(p.analytes) == 0 || slices.Contains(p.analytes, x.Analyte)) {
			chosen = append(chosen, x)
		}
	}
	c, err := trend.Compare(seasons, chosen, p.Options)
	if err != nil {
		return s, err
	}
	drifts, notes, err := p.drifts(observations)
	if err != nil {
		return s, err
	}
	s.Notes = append(s.Notes, notes...)
	s.Apart = append(s.Apart, c.Apart...)
	layered := severalDepths(c.Fields)
	for _, x := range c.Fields {
		s.Fields = append(s.Fields, shown(x, drifts, layered[x.Analyte]))
	}
	for _, x := range c.Units {
		s.Units = append(s.Units, shown(x, drifts, layered[x.Analyte]))
	}
	return s, nil
}

// known checks that the fields and analytes that were asked for are there.
func (p *trendParameters) known(observations []season.Observation) error {
	for _, w := range []struct {
		what   string
		wanted []string
		of     func(*season.Observation) string
	}{{"field", p.fields, func(o *season.Observation) string { return o.Field }}, {"analyte", p.analytes, func(o *season.Observation) string { return o.Analyte }}} {
		for _, name := range w.wanted {
			if !slices.ContainsFunc(observations, func(o season.Observation) bool { return w.of(&o) == name }) {
				return fmt.Errorf("no season has the %s %q", w.what, name)
			}
		}
	}
	return nil
}

// drifts returns by how much an analyte falls in a year, by what the harvests
// take off.
func (p *trendParameters) drifts(observations []season.Observation) (map[string]float64, []string, error) {
	out := map[string]float64{}
	var notes []string
	if len(p.harvests) == 0 {
		return out, nil, nil
	}
	cec, n := 0.0, 0
	for i := range observations {
		if observations[i].Analyte == "CEC" {
			cec += observations[i].Value
			n++
		}
	}
	cec /= float64(n) // not a number where there is none
	for _, name := range p.tables {
		t, err := rate.Find(rate.Tables(), name)
		if err != nil {
			return nil, nil, err
		}
		sum := 0.0
		for _, h := range p.harvests {
			d, err := t.Drift(h.crop, h.yield, h.yieldUnit, cec)
			if err != nil {
				return nil, nil, err
			}
			sum += d / float64(len(p.harvests))
		}
		out[t.By] = -sum
		note := fmt.Sprintf("%s is expected to fall by %s a year where nothing is given: what the crops take off by table %s (%s)", t.By, significantText(sum), t.Name, t.Source.String())
		if t.Verified == "memory" {
			note += ", whose figures are from memory"
		}
		notes = append(notes, note)
	}
	return out, notes, nil
}

// severalDepths are the analytes that are compared in more than one depth.
func severalDepths(fields []trend.Series) map[string]bool {
	first, out := map[string]string{}, map[string]bool{}
	for _, x := range fields {
		if d, known := first[x.Analyte]; known && d != x.Depth {
			out[x.Analyte] = true
		}
		first[x.Analyte] = x.Depth
	}
	return out
}

func shown(x trend.Series, drifts map[string]float64, layered bool) trendSeries {
	out := trendSeries{
		Field: x.Field, Sample: x.Sample, Unit: x.UnitNumber, Part: x.Part, Analyte: x.Analyte, Measure: x.Unit, Method: x.Method, Depth: x.Depth,
		NoiseSD: decimals(x.Noise.SD, 4), Share: x.Noise.Relative, Noise: x.Noise.How, Notes: x.Notes, Points: []trendPoint{},
	}
	out.label = x.Analyte
	if layered && x.Depth != "" {
		out.label += " " + x.Depth
	}
	years := map[string]float64{}
	for _, p := range x.Points {
		out.Points = append(out.Points, trendPoint{p.Season, decimals(p.Value, 4), decimals(p.Share, 3), p.Samples, p.Censored, p.Lab})
		years[p.Season] = p.Years
	}
	change := func(c *trend.Change, yearly bool) *trendChange {
		if c == nil {
			return nil
		}
		y := &trendChange{
			From: c.From, To: c.To, Estimate: decimals(c.Estimate, 4), Low: decimals(c.Low, 4), High: decimals(c.High, 4), Told: c.Told(), Words: c.Words(significantText),
		}
		// What crops take off is not that of one layer of several.
		if d, ok := drifts[x.Analyte]; ok && !layered {
			span := years[c.To] - years[c.From]
			if yearly {
				span = 1
			}
			if v := decimals(d*span, 4); !math.IsNaN(v) {
				y.Expected = &v
			}
		}
		return y
	}
	out.Since, out.Overall, out.Slope = change(x.Since, false), change(x.Overall, false), change(x.Slope, true)
	return out
}

// significantText writes a figure with two digits, and no more than it needs.
func significantText(v float64) string {
	s := strconv.FormatFloat(v, 'g', 2, 64)
	if r, err := strconv.ParseFloat(s, 64); err == nil {
		s = strconv.FormatFloat(r, 'f', -1, 64)
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// significantFigure writes a figure with three digits, and no more than it needs.
func significantFigure(v float64) string {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	if err != nil {
		return ""
	}
	return strconv.FormatFloat(r, 'f', -1, 64)
}

func (x *trendSeries) name() string {
	where := x.Field
	if x.Sample != "" {
		where += ", " + x.Sample
		if x.Part != "" {
			where += " (" + x.Part + ")"
		}
	}
	return where
}

// said is the change of a series in a sentence.
func (x *trendSeries) said() string {
	text := fmt.Sprintf("%s, %s", x.name(), x.label)
	if x.Measure != "" {
		text += " in " + x.Measure
	}
	if x.Since == nil {
		return text + ": nothing to compare with"
	}
	text += fmt.Sprintf(", since %s: %s", x.Since.From, x.Since.Words)
	if x.Since.Expected != nil {
		text += fmt.Sprintf("; %s expected", significantText(*x.Since.Expected))
	}
	if x.Slope != nil {
		text += fmt.Sprintf("; each year since %s: %s", x.Slope.From, x.Slope.Words)
	}
	if len(x.Notes) > 0 {
		text += " [" + strings.Join(x.Notes, "; ") + "]"
	}
	return text
}

// mostTold is how many units the command prints.
const mostTold = 40

func (s *trendSummary) lines() []string {
	var out []string
	for i := range s.Fields {
		out = append(out, s.Fields[i].said())
	}
	told, quiet := 0, 0
	for i := range s.Units {
		x := &s.Units[i]
		if x.Since == nil || !x.Since.Told {
			quiet++
			continue
		}
		if told++; told <= mostTold {
			out = append(out, "  "+x.said())
		}
	}
	if told > mostTold {
		out = append(out, fmt.Sprintf("  %d more changes that can be told from noise; --json and --out list all", told-mostTold))
	}
	if quiet > 0 {
		out = append(out, fmt.Sprintf("  no change that can be told from noise, or nothing to compare with: %d figures of single grounds; of %d, about one in %.0f seems a change by chance", quiet, quiet+told, 1/(1-s.confidence)))
	}
	for _, a := range s.Apart {
		out = append(out, "kept apart: "+a)
	}
	return out
}

var trendColumns = []string{
	"field", "sample_id", "unit", "part", "analyte", "unit_of_measure", "method", "depth", "first_season", "last_season", "value", "share_of_ground_before",
	"since_season", "change", "low", "high", "told_from_noise", "expected", "per_year", "per_year_low", "per_year_high", "noise_sd", "noise", "notes",
}

func (s *trendSummary) table(w io.Writer) error {
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	rows := [][]string{trendColumns}
	for _, list := range [][]trendSeries{s.Fields, s.Units} {
		for i := range list {
			x := &list[i]
			row := make([]string, len(trendColumns))
			copy(row, []string{x.Field, x.Sample, "", x.Part, x.Analyte, x.Measure, x.Method, x.Depth})
			if x.Unit > 0 {
				row[2] = strconv.Itoa(x.Unit)
			}
			if n := len(x.Points); n > 0 {
				row[8], row[9], row[10] = x.Points[0].Season, x.Points[n-1].Season, number(x.Points[n-1].Value)
				if n > 1 {
					row[11] = number(x.Points[n-2].Share)
				}
			}
			if c := x.Since; c != nil {
				row[12], row[13], row[14], row[15], row[16] = c.From, number(c.Estimate), number(c.Low), number(c.High), strconv.FormatBool(c.Told)
				if c.Expected != nil {
					row[17] = number(*c.Expected)
				}
			}
			if c := x.Slope; c != nil {
				row[18], row[19], row[20] = number(c.Estimate), number(c.Low), number(c.High)
			}
			row[21], row[22], row[23] = number(x.NoiseSD), x.Noise, strings.Join(x.Notes, "; ")
			if x.Share {
				row[21] = number(100*x.NoiseSD) + "%"
			}
			rows = append(rows, row)
		}
	}
	c := csv.NewWriter(w)
	return c.WriteAll(rows)
}

// parseNoise reads "pH 0.1" or "P 12%".
func parseNoise(s string) (string, trend.Noise, error) {
	analyte, text, ok := cutLast(strings.TrimSpace(s), " ")
	n := trend.Noise{How: "as given"}
	text, n.Relative = strings.CutSuffix(text, "%")
	v, err := parseNumber(text)
	if !ok || err != nil || !(v > 0) {
		return "", n, fmt.Errorf("noise %q is not understood; write the standard deviation of one composite, as in \"pH 0.1\" or \"P 12%%\"", s)
	}
	if n.SD = v; n.Relative {
		n.SD = v / 100
	}
	return strings.TrimSpace(analyte), n, nil
}

func (a *app) trendCommand(load func(path string) ([]season.Season, []season.Observation, error)) *cobra.Command {
	p := trendParameters{Options: trend.Options{Noise: map[string]trend.Noise{}}}
	var noises, harvests []string
	var confidence float64
	var out outFlags
	c := &cobra.Command{
		Use:   "trend RECORD.gpkg [flags]",
		Short: "Say what changed between seasons, and what cannot be told from noise",
		Long: `Compares the seasons of a record, each ground of the latest season with the ground
that earlier ones share with it. Only figures of one method and depth are held
together; a change of lab is said. Every change has an interval, from the noise of
one composite: given, or estimated from composites of the same unit, or from what
grounds and seasons leave unexplained. An error that a lab makes alike in all samples
of a season is in no interval.

With --harvest (one to each year, in turn) and --table, the fall that the crops
explain stands beside the change. Lime takes one to three years to work in full.`,
		Example: "  corewalk season trend farm.gpkg\n  corewalk season trend farm.gpkg --analyte P --harvest \"corn, 180 bu/ac\" --harvest \"soybean, 55 bu/ac\" --table tri-state-2020-p --out trend",
		Args:    exactly(1, "one record"),
		RunE: func(cmd *cobra.Command, args []string) error {
			for _, text := range noises {
				analyte, n, err := parseNoise(text)
				if err != nil {
					return usageError{err}
				}
				p.Noise[analyte] = n
			}
			for _, text := range harvests {
				h, err := parseCrop(text)
				if err == nil && (h.yield == 0 || h.where() != "") {
					err = fmt.Errorf("harvest %q needs a yield and no place: \"corn, 180 bu/ac\"", text)
				}
				if err != nil {
					return usageError{err}
				}
				p.harvests = append(p.harvests, h)
			}
			if len(p.harvests) > 0 != (len(p.tables) > 0) {
				return usageError{errors.New("--harvest and --table go together")}
			}
			if !(confidence > 0 && confidence < 100) {
				return usageError{fmt.Errorf("--confidence %g is not a share of 100", confidence)}
			}
			p.Confidence = confidence / 100
			seasons, observations, err := load(args[0])
			if err != nil {
				return err
			}
			s, err := trendOf(seasons, observations, p)
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			if cmd.Flags().Changed("out") {
				o := out.outputs(args[0])
				if err := o.add("trend.csv", s.table); err != nil {
					return err
				}
				if err := o.addJSON("trend.json", s); err != nil {
					return err
				}
				if err := o.commit(); err != nil {
					return err
				}
				s.Files = o.names()
			}
			return a.report(s, s.lines(), s.Notes, s.Files)
		},
	}
	c.Flags().StringArrayVar(&p.fields, "field", nil, "`NAME` of a field to look at; may be repeated (default all)")
	c.Flags().StringArrayVar(&p.analytes, "analyte", nil, "`NAME` of an analyte to look at; may be repeated (default all)")
	c.Flags().Float64Var(&confidence, "confidence", 95, "of the intervals, in `PER CENT`")
	c.Flags().StringArrayVar(&noises, "noise", nil, "standard deviation of one composite that is known, as `TEXT` \"pH 0.1\" or \"P 12%\"; may be repeated (default estimated)")
	c.Flags().StringArrayVar(&harvests, "harvest", nil, "`CROP` of a year with its yield, as \"corn, 180 bu/ac\"; may be repeated")
	c.Flags().StringArrayVar(&p.tables, "table", nil, "`NAME` of a table of 'corewalk rate --tables' that says what crops take off; may be repeated")
	out.add(c)
	c.Flags().Lookup("out").DefValue = "none written"
	return c
}
