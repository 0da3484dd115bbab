package lab

import (
	"fmt"
	"math"
	"slices"
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
	Column  string `json:"column"`            // Column.Name
	Analyte string `json:"analyte,omitempty"` // Column.Analyte
	// Unit is the canonical one of the analyte where the lab's could be turned
	// into it (see Convert), else the lab's with the form it is given as ("lb/ac
	// P2O5"), "" where there is none.
	Unit   string  `json:"unit,omitempty"`
	Method string  `json:"method,omitempty"`
	Value  float64 `json:"value"` // in Unit, to compute with; see Value.Computed
	// Original is Value in the lab's own unit, OriginalUnit; OriginalText is
	// what the cells say, those of replicates joined by "; ".
	Original     float64 `json:"original"`
	OriginalUnit string  `json:"original_unit,omitempty"`
	OriginalText string  `json:"original_text,omitempty"`
	// Limit is the lab's limit in Unit, where Censored is set; of replicates,
	// the mean of theirs. Where Censored is "<", Value is half of it.
	Limit float64 `json:"limit,omitempty"`
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
	res := Result{ID: id, Depth: depth, Values: make([]Measure, 0, len(t.Columns)), Rows: make([]int, 0, len(rows))}
	values, used := make([]Value, 0, len(rows)), make([]int, 0, len(rows))
	for _, row := range rows {
		res.Rows = append(res.Rows, t.Rows[row].Number)
	}
	for col, c := range t.Columns {
		if !c.hasNumbers() {
			continue
		}
		values, used = values[:0], used[:0]
		for _, row := range rows {
			if v := t.Value(row, col); v.OK() {
				values, used = append(values, v), append(used, row)
			}
		}
		if len(values) > 0 {
			res.Values = append(res.Values, t.measure(c, depth, values, used))
		}
	}
	return res
}

// measure makes the measure of the values of one column, which are those of the
// rows with the given indexes. They are converted before they are averaged, all
// of them or none.
func (t *Table) measure(c Column, depth string, values []Value, rows []int) Measure {
	original := mean(values)
	m, why := original, ""
	m.Unit = c.labUnit()
	if conv, err := conversionOf(c.Analyte, c.Unit, c.Form); err == nil {
		converted := values
		if conv.area || conv.factor != 1 {
			converted = make([]Value, len(values))
			for i, v := range values {
				var thickness, factor float64
				if conv.area {
					thickness = t.thickness(rows[i], depth)
				}
				if factor, err = conv.over(thickness); err != nil {
					why = err.Error() + "; kept in " + m.Unit
					break
				}
				converted[i] = v.scaled(factor)
			}
			if err == nil {
				m = mean(converted)
			}
		}
		if err == nil {
			m.Unit = conv.to
		}
	}
	m.Column, m.Analyte = c.Name, c.Analyte
	m.Original, m.OriginalUnit, m.OriginalText = original.Value, c.labUnit(), texts(values)
	var other string
	if m.Method, other = t.methodOf(c, rows); other != "" {
		m.note(other)
	}
	m.note(why)
	return m
}

// thickness is that of the layer of a row in inches: of its own depth if it has
// one, else of the sample's depth as given; 0 where neither is known.
func (t *Table) thickness(row int, depth string) float64 {
	planned, ok := parseDepth(depth, "")
	own, has := t.depthOf(t.Rows[row].cell(t.depth))
	if !has {
		own, has = planned, ok
	}
	if has && own.unit == "" && ok && own.same(planned) {
		own = planned // the same figures, with their unit
	}
	if !has {
		return 0
	}
	return own.thickness()
}

// methodOf is the method of a column, or what its rows say of it.
func (t *Table) methodOf(c Column, rows []int) (method, note string) {
	if c.Method != "" || c.MethodColumn == "" {
		return c.Method, ""
	}
	from := slices.IndexFunc(t.Columns, func(o Column) bool { return o.Name == c.MethodColumn })
	var methods []string
	for _, row := range rows {
		if m := readMethod(t.Rows[row].cell(from)); !slices.Contains(methods, m) {
			methods = append(methods, m)
		}
	}
	if len(methods) > 1 {
		methods = named(methods)
		note = "replicates by different methods"
	}
	return strings.Join(methods, " and "), note
}

func (m *Measure) note(text string) {
	switch {
	case text == "":
	case m.Note == "":
		m.Note = text
	default:
		m.Note += "; " + text
	}
}

// texts are the cells as they stand in the file.
func texts(values []Value) string {
	if len(values) == 1 {
		return tidy(values[0].Text)
	}
	all := make([]string, len(values))
	for i, v := range values {
		all[i] = tidy(v.Text)
	}
	return strings.Join(all, "; ")
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
	m.Flagged = m.N > 1 && m.Spread > trim(wideSpread*math.Abs(m.Value))
	switch {
	case below == m.N:
		m.Limit = 2 * m.Value
	case above == m.N:
		m.Limit = m.Value
	default:
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
