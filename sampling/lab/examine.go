package lab

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Finding is a figure, or a column of them, that doesn't look right, or that
// doesn't go with others. Nothing is changed on account of one.
type Finding struct {
	Column string `json:"column"`
	Row    int    `json:"row,omitempty"` // 0 for the column as a whole
	Text   string `json:"text"`
}

// maxFindings bounds the rows listed by one check of one column; the rest are
// counted.
const maxFindings = 20

// Examine looks the joined figures over and lists what looks wrong in Findings:
// values outside of plausible limits or far from the rest of their column, with
// the slip of the unit that would explain them, and results whose bases,
// saturations or texture don't add up. It completes the columns as well: the
// unit that the values of each ended in, the methods that its rows name, and
// notes on what was converted, what could not be, and what the file doesn't
// say. t is the table that the reckoning was made of. Examine may be called
// again, as after Unplace.
func (r *Reckoning) Examine(t *Table) {
	e := newExamination(r, t)
	for i := range r.Columns {
		e.complete(i)
	}
	for i, c := range r.Columns {
		if c.hasNumbers() {
			e.column(i)
		}
	}
	e.acidity()
	e.twins()
	for _, res := range r.Results {
		e.bases(res)
		e.texture(res)
	}
	e.baseColumns()
	r.Findings = e.finish()
}

// reading is one value of a column, of one row.
type reading struct {
	row int // as a spreadsheet numbers it
	Measure
}

// examination is the work of one Examine.
type examination struct {
	r        *Reckoning
	columns  Columns
	readings [][]reading // by column
	byRow    []map[int]Measure
	found    []located
	counts   map[check]int
	order    []check
	ratios   map[string][]float64 // see baseColumns
}

type located struct {
	column, row int
	text        string
}

// check is one kind of finding in one column.
type check struct {
	column int
	kind   string
}

func newExamination(r *Reckoning, t *Table) *examination {
	e := &examination{r: r, columns: r.Columns, counts: map[check]int{}, ratios: map[string][]float64{}}
	e.readings, e.byRow = make([][]reading, len(r.Columns)), make([]map[int]Measure, len(r.Columns))
	index := make(map[int]int, len(t.Rows))
	for i, row := range t.Rows {
		index[row.Number] = i
	}
	at := make(map[string]int, len(r.Columns))
	for i, c := range r.Columns {
		at[c.Name] = i
		e.byRow[i] = map[int]Measure{}
	}
	for _, res := range r.Results {
		if len(res.Rows) == 1 {
			for _, m := range res.Values {
				e.read(at[m.Column], res.Rows[0], m)
			}
			continue
		}
		for _, number := range res.Rows {
			row, ok := index[number]
			for col, c := range r.Columns {
				if !ok || !c.hasNumbers() || col >= len(t.Columns) {
					continue
				}
				if v := t.Value(row, col); v.OK() {
					e.read(col, number, t.measure(c, res.Depth, []Value{v}, []int{row}))
				}
			}
		}
	}
	return e
}

func (e *examination) read(col, row int, m Measure) {
	e.readings[col] = append(e.readings[col], reading{row, m})
	e.byRow[col][row] = m
}

// flag adds a finding on a cell, row 0 for the column.
func (e *examination) flag(col int, kind string, row int, format string, args ...any) {
	k := check{col, kind}
	if e.counts[k]++; e.counts[k] == 1 {
		e.order = append(e.order, k)
	}
	if row == 0 || e.counts[k] <= maxFindings {
		e.found = append(e.found, located{col, row, fmt.Sprintf(format, args...)})
	}
}

// finish gives the findings: those on columns first, then by row.
func (e *examination) finish() []Finding {
	for _, k := range e.order {
		if more := e.counts[k] - maxFindings; more > 0 {
			e.found = append(e.found, located{k.column, 0, fmt.Sprintf("%d more rows: %s", more, k.kind)})
		}
	}
	slices.SortStableFunc(e.found, func(a, b located) int {
		return cmp.Or(cmp.Compare(a.row, b.row), cmp.Compare(a.column, b.column))
	})
	var all []Finding
	for _, f := range e.found {
		all = append(all, Finding{Column: e.columns[f.column].Name, Row: f.row, Text: f.text})
	}
	return all
}

// complete makes the column say what its values ended as.
func (e *examination) complete(col int) {
	c := &e.columns[col]
	if !c.hasNumbers() {
		return
	}
	var units, methods []string
	for _, v := range e.readings[col] {
		if !slices.Contains(units, v.Unit) {
			units = append(units, v.Unit)
		}
		if !slices.Contains(methods, v.Method) {
			methods = append(methods, v.Method)
		}
	}
	slices.Sort(units)
	slices.Sort(methods)
	c.Units, c.Methods = nil, nil
	switch {
	case len(units) > 1:
		c.Units, c.Canonical = units, ""
		c.remark("some values could not be converted, so that the column holds different units")
	case len(units) == 1:
		c.Canonical = units[0]
	}
	if c.MethodColumn != "" {
		if len(methods) > 1 {
			c.Methods = methods
		} else if len(methods) == 1 {
			c.Method = methods[0]
		}
	}
	if c.Role == RoleAnalyte {
		c.explain()
	}
}

// explain notes what was converted, what could not be and what isn't given.
func (c *Column) explain() {
	conv, err := conversionOf(c.Analyte, c.Unit, c.Form)
	switch {
	case err == errNoUnit:
		c.remark("no unit is given; it must be before a rate")
	case err != nil:
		c.remark("not converted: " + err.Error())
	case conv.area && c.Canonical == conv.to:
		c.remark(c.Unit + " as " + conv.to + " by the depth of each sample, at 0.3 million lb per acre and inch; some labs print twice the ppm whatever the depth")
	case conv.area:
		c.remark(c.Unit + " needs the depth of the sample")
	case conv.factor != 1:
		c.remark(conv.how(0))
	}
	if c.Form != "" && err == nil && conv.area {
		c.remark(c.Form + " as " + forms[c.Form].element)
	}
	if forms[c.Form].takenFor {
		c.remark(c.Form + " is taken for what the soil holds, not for a rate")
	}
	if c.Method == "" && len(c.Methods) == 0 && methodMatters(c.Analyte) {
		c.remark(noMethod)
	}
}

// remark adds to the note what isn't in it yet.
func (c *Column) remark(text string) {
	switch {
	case c.Note == "":
		c.Note = text
	case !strings.Contains("; "+c.Note+"; ", "; "+text+"; "):
		c.Note += "; " + text
	}
}

// median of values, which it sorts; NaN of none.
func median(values []float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	slices.Sort(values)
	n := len(values)
	return (values[(n-1)/2] + values[n/2]) / 2
}
