package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"corewalk/sampling"
)

// meanConfidence is that of the intervals of means.
const meanConfidence = 0.95

// meanRecord is a row of means.csv. The standard error and the interval are
// missing where a single composite has none.
type meanRecord struct {
	Field      string   `json:"field"`
	Management string   `json:"management,omitempty"`
	Problem    string   `json:"problem,omitempty"`
	Number     int      `json:"sampling_unit,omitempty"` // 0: of more than one
	Analyte    string   `json:"analyte"`
	Unit       string   `json:"unit,omitempty"`
	Units      int      `json:"sampling_units"`
	Composites int      `json:"composites"`
	Mean       float64  `json:"mean"`
	SE         *float64 `json:"standard_error,omitempty"`
	DF         *float64 `json:"degrees_of_freedom,omitempty"`
	Low        *float64 `json:"low,omitempty"`
	High       *float64 `json:"high,omitempty"`
	Confidence float64  `json:"confidence"`
	Covered    float64  `json:"share_of_area"`
	Method     string   `json:"method"`
	Notes      string   `json:"notes,omitempty"`
}

// comparisonRecord is a row of comparisons.csv.
type comparisonRecord struct {
	Field      string   `json:"field"`
	Problem    string   `json:"problem"`
	Analyte    string   `json:"analyte"`
	Unit       string   `json:"unit,omitempty"`
	Samples    []string `json:"samples"`
	With       []string `json:"compared_with"`
	Value      float64  `json:"value"`
	Healthy    float64  `json:"healthy"`
	Difference float64  `json:"difference"`
	Main       *float64 `json:"mean_without_problem_areas,omitempty"`
}

// found are the means and comparisons of a results file.
type found struct {
	means       []meanRecord
	comparisons []comparisonRecord
}

func findMeans(r *sampling.Results) (found, error) {
	f := found{means: []meanRecord{}, comparisons: []comparisonRecord{}}
	means, err := r.Means(meanConfidence)
	if err != nil {
		return f, err
	}
	known := func(v float64) *float64 {
		if math.IsNaN(v) {
			return nil
		}
		v = significant(v)
		return &v
	}
	for _, m := range means {
		x := meanRecord{
			Field: m.Field, Management: m.Management, Problem: m.Problem, Number: m.Unit, Analyte: m.Analyte.Name, Unit: m.Analyte.Unit, Units: m.Units, Composites: m.N,
			Mean: significant(m.Mean), SE: known(m.SE), Low: known(m.Low), High: known(m.High),
			Confidence: m.Confidence, Covered: decimals(m.Covered, 4), Method: string(m.Method), Notes: strings.Join(m.Notes, "; "),
		}
		if x.SE != nil {
			x.DF = known(m.DF)
		}
		f.means = append(f.means, x)
	}
	for _, c := range r.Comparisons(means) {
		f.comparisons = append(f.comparisons, comparisonRecord{
			Field: c.Field, Problem: c.Problem, Analyte: c.Analyte.Name, Unit: c.Analyte.Unit, Samples: c.Samples, With: c.With,
			Value: significant(c.Value), Healthy: significant(c.Healthy), Difference: significant(c.Difference()), Main: known(c.Main),
		})
	}
	return f, nil
}

// significant rounds to six significant digits, more than any lab gives.
func significant(v float64) float64 {
	if v == 0 || math.IsInf(v, 0) || math.IsNaN(v) {
		return v
	}
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	return r
}

// add writes means.csv and, where there are problem areas, comparisons.csv.
func (f found) add(out *outputs) error {
	opt := func(v *float64) string {
		if v == nil {
			return ""
		}
		return plain(*v)
	}
	write := func(name string, rows [][]string) error {
		return out.add(name, func(w io.Writer) error { return csv.NewWriter(w).WriteAll(rows) })
	}
	if len(f.means) > 0 {
		rows := [][]string{{
			"field", "management_unit", "problem_area", "sampling_unit", "analyte", "unit", "sampling_units", "composites", "mean", "standard_error", "degrees_of_freedom",
			"low", "high", "confidence", "share_of_area", "method", "notes",
		}}
		for _, m := range f.means {
			number := ""
			if m.Number > 0 {
				number = strconv.Itoa(m.Number)
			}
			rows = append(rows, []string{
				m.Field, m.Management, m.Problem, number, m.Analyte, m.Unit, strconv.Itoa(m.Units), strconv.Itoa(m.Composites), plain(m.Mean), opt(m.SE), opt(m.DF),
				opt(m.Low), opt(m.High), plain(m.Confidence), plain(m.Covered), m.Method, m.Notes,
			})
		}
		if err := write("means.csv", rows); err != nil {
			return err
		}
	}
	if len(f.comparisons) == 0 {
		return nil
	}
	rows := [][]string{{"field", "problem_area", "analyte", "unit", "samples", "compared_with", "problem_value", "healthy_value", "difference", "mean_without_problem_areas"}}
	for _, c := range f.comparisons {
		rows = append(rows, []string{
			c.Field, c.Problem, c.Analyte, c.Unit, strings.Join(c.Samples, " "), strings.Join(c.With, " "), plain(c.Value), plain(c.Healthy), plain(c.Difference), opt(c.Main),
		})
	}
	return write("comparisons.csv", rows)
}

// lines says the means of whole fields and the comparisons for a person;
// means.csv has those of management units and how each was reckoned.
func (f found) lines() []string {
	var out []string
	for _, m := range f.means {
		if m.Management != "" || m.Number > 0 {
			continue
		}
		text := fmt.Sprintf("%s, %s: mean %.4g%s", m.Field, m.Analyte, m.Mean, inUnit(m.Unit))
		if m.SE != nil {
			text += fmt.Sprintf(", %g %% interval %.4g to %.4g (%d composites)", 100*m.Confidence, *m.Low, *m.High, m.Composites)
		} else {
			text += " (" + m.Method + ")"
		}
		if m.Covered < 0.9995 {
			text += fmt.Sprintf("; %.0f %% of the area has no figure", 100*(1-m.Covered))
		}
		out = append(out, text)
	}
	for _, c := range f.comparisons {
		text := fmt.Sprintf("problem area %s, %s: %.4g%s, beside it %.4g, difference %+.3g", c.Problem, c.Analyte, c.Value, inUnit(c.Unit), c.Healthy, c.Difference)
		if c.Main != nil {
			text += fmt.Sprintf("; ground round it %.4g", *c.Main)
		}
		out = append(out, text)
	}
	return out
}

func inUnit(unit string) string {
	if unit == "" {
		return ""
	}
	return " " + unit
}
