package lab

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Result holds the lab's values of one sample, or of one point.
type Result struct {
	ID     string    `json:"id"`
	Depth  string    `json:"depth,omitempty"`
	Rows   []int     `json:"rows"`   // the rows the values come from
	Values []Measure `json:"values"` // in the order of the columns; only columns that have a value
}

// Measure is one value of a result: of one row, or the mean of replicates.
type Measure struct {
	Column  string  `json:"column"`            // Column.Name
	Analyte string  `json:"analyte,omitempty"` // Column.Analyte
	Unit    string  `json:"unit,omitempty"`
	Method  string  `json:"method,omitempty"`
	Value   float64 `json:"value"` // to compute with; see Value.Computed
	// Censored is "<" or ">" where every row that has a value is so censored.
	// Where only some are, Note says so.
	Censored string `json:"censored,omitempty"`
	N        int    `json:"n"` // rows that have a value
	// Spread is the range of the replicates, in the unit of the value.
	Spread float64 `json:"spread,omitempty"`
	// Flagged: the replicates' range is above a tenth of their mean.
	Flagged bool   `json:"flagged,omitempty"`
	Note    string `json:"note,omitempty"`
}

// wideSpread is the share of the mean above which the range of replicates is
// flagged. A choice of this program, no source.
const wideSpread = 0.10

// Value returns the value of a column by its name, or of an analyte if only one
// column has it, without regard to case.
func (r Result) Value(name string) (Measure, bool) {
	var found Measure
	hits := 0
	for _, m := range r.Values {
		if strings.EqualFold(m.Column, name) {
			return m, true
		}
		if m.Analyte != "" && strings.EqualFold(m.Analyte, name) {
			found = m
			hits++
		}
	}
	return found, hits == 1
}

func (c Column) hasNumbers() bool { return c.Role == RoleAnalyte || c.Role == RoleNumber }

// result makes the result of the rows with the given indexes. pH values are
// averaged as they stand, like all others.
func (t *Table) result(id, depth string, rows []int) Result {
	res := Result{ID: id, Depth: depth, Values: []Measure{}}
	for _, row := range rows {
		res.Rows = append(res.Rows, t.Rows[row].Number)
	}
	for col, c := range t.Columns {
		if !c.hasNumbers() {
			continue
		}
		var values []Value
		for _, row := range rows {
			if v := t.Value(row, col); v.OK() {
				values = append(values, v)
			}
		}
		if len(values) > 0 {
			m := mean(values)
			m.Column, m.Analyte, m.Unit, m.Method = c.Name, c.Analyte, c.Unit, c.Method
			res.Values = append(res.Values, m)
		}
	}
	return res
}

// trim rounds to 12 digits, so that the mean of 1.1 and 1.3 is 1.2 and a range
// of just a tenth isn't above it.
func trim(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 12, 64), 64)
	if err != nil {
		return x
	}
	return y
}

// mean averages replicates; values is not empty.
func mean(values []Value) Measure {
	m := Measure{N: len(values), Censored: values[0].Censored}
	low, high, sum, below, above := math.Inf(1), math.Inf(-1), 0.0, 0, 0
	for _, v := range values {
		x := v.Computed()
		low, high, sum = math.Min(low, x), math.Max(high, x), sum+x
		switch v.Censored {
		case "<":
			below++
		case ">":
			above++
		}
	}
	m.Value, m.Spread = sum, high-low
	if m.N > 1 {
		m.Value, m.Spread = trim(sum/float64(m.N)), trim(high-low)
	}
	m.Flagged = m.Spread > trim(wideSpread*math.Abs(m.Value))
	if below != m.N && above != m.N {
		m.Censored = ""
	}
	var notes []string
	if below > 0 {
		notes = append(notes, fmt.Sprintf("%d of %d below a limit, computed with half of it", below, m.N))
	}
	if above > 0 {
		notes = append(notes, fmt.Sprintf("%d of %d above a limit, computed with the limit", above, m.N))
	}
	if m.Flagged {
		notes = append(notes, fmt.Sprintf("the %d replicates range over more than %.0f %% of their mean", m.N, 100*wideSpread))
	}
	m.Note = strings.Join(notes, "; ")
	return m
}
