package lab

import (
	"fmt"
	"slices"
	"strings"
)

// Join matches the rows of a table to the samples of a plan. See the package
// comment for when two ids are the same. A further row of a sample is a
// replicate: values are averaged by column and their range reported, unless the
// rows are in conflict (see Conflict): then all of them are refused. Where the
// rows of one sample are of different depths, only those of the sample's own
// depth are taken. Two samples of one id are told apart by depth. Blanks and
// check samples of the lab, known by their ids, are set aside. Join changes
// neither argument; an empty table or plan gives an account all the same.
func Join(samples []SampleRef, t *Table) Reckoning {
	return JoinWith(samples, t, JoinOptions{})
}

// JoinWith is Join with options.
func JoinWith(samples []SampleRef, t *Table, o JoinOptions) Reckoning {
	r := newReckoning(t)
	if t.id < 0 {
		r.Notes = append(r.Notes, "no column of sample ids found; name it, one of: "+t.Columns.names())
	}
	p := newPlan(samples, o)
	rowsOf := make([][]int, len(samples)) // candidate rows by sample, as indexes
	refused := map[string]int{}           // row number of the first refused row, by key of its id
	r.Rows = make([]RowFate, len(t.Rows))
	for i := range t.Rows {
		fate, sample := p.match(t, t.Rows[i])
		r.Rows[i] = fate
		if fate.Fate == Joined {
			rowsOf[sample] = append(rowsOf[sample], i)
		} else if fate.Fate == Refused && fate.ID != "" {
			if key := idKey(fate.ID); refused[key] == 0 {
				refused[key] = fate.Row
			}
		}
	}
	r.Samples, r.Results = make([]SampleFate, 0, len(samples)), make([]Result, 0, len(samples))
	for s, ref := range samples {
		fate := SampleFate{ID: tidy(ref.ID), Depth: ref.Depth, Fate: Missing}
		rows := keepDepth(t, ref, rowsOf[s], &r)
		if len(rows) == 0 {
			fate.Reason = p.whyMissing(fate.ID, rowsOf[s], refused)
			r.Samples = append(r.Samples, fate)
			continue
		}
		if found := t.conflicts(fate.ID, rows); !r.settle(found, rows, o.AverageConflicts) {
			fate.Reason = found[0].Note + "; strike the wrong row, or allow their mean"
			r.Samples = append(r.Samples, fate)
			continue
		}
		for n, row := range rows {
			if n > 0 {
				f := &r.Rows[row]
				f.Fate = Replicate
				if f.Reason != "" {
					f.Reason += "; "
				}
				f.Reason += fmt.Sprintf("sample %s is in row %d already; averaged", show(fate.ID), t.Rows[rows[0]].Number)
			}
		}
		res := t.result(fate.ID, ref.Depth, rows)
		fate.Fate, fate.Rows = Answered, res.Rows
		if len(res.Values) == 0 {
			fate.Reason = "its rows hold no value"
		}
		r.Results = append(r.Results, res)
		r.Samples = append(r.Samples, fate)
	}
	for i, row := range r.Rows {
		if row.Fate == Joined || row.Fate == Replicate {
			r.noteCells(t, i, row.SampleID)
		}
	}
	var near *finder
	for i := range r.Rows {
		if r.Rows[i].Fate == Unmatched {
			if near == nil {
				near = newFinder(samples)
			}
			r.Rows[i].Nearest = near.nearest(r.Rows[i].ID)
		}
	}
	r.account()
	return r
}

// plan finds the samples that an id may mean.
type plan struct {
	samples []SampleRef
	first   map[string]int32 // the first sample, by key
	next    []int32          // the next sample of the same key, -1 if there is none
	options JoinOptions
	valid   func(id string) bool // nil where check characters say nothing
}

func newPlan(samples []SampleRef, o JoinOptions) plan {
	p := plan{samples: samples, options: o, valid: o.checked(samples), first: make(map[string]int32, len(samples)), next: make([]int32, len(samples))}
	for i := len(samples) - 1; i >= 0; i-- {
		p.next[i] = -1
		if id := tidy(samples[i].ID); id != "" {
			key := idKey(id)
			if n, ok := p.first[key]; ok {
				p.next[i] = n
			}
			p.first[key] = int32(i)
		}
	}
	return p
}

// find returns the samples that have the id; failing that, those whose key it
// has.
func (p plan) find(id string) (hits []int, exact bool) {
	i, ok := p.first[idKey(id)]
	if !ok || id == "" {
		return nil, false
	}
	var alike []int
	for ; i >= 0; i = p.next[i] {
		if tidy(p.samples[i].ID) == id {
			hits = append(hits, int(i))
		} else {
			alike = append(alike, int(i))
		}
	}
	if len(hits) > 0 {
		return hits, true
	}
	return alike, false
}

// match gives a row its fate as far as it can be told from the row alone. A row
// that fits a sample is Joined for now.
func (p plan) match(t *Table, row Row) (RowFate, int) {
	id := row.cell(t.id)
	f := RowFate{Row: row.Number, Sources: row.Sources, ID: id, Fate: Refused}
	if f.Reason = t.unfit(row); f.Reason != "" {
		f.NoSample = row.width() == 0 || slices.Contains(noSample, row.Fault)
		return f, -1
	}
	if t.id < 0 {
		f.Reason = "the table has no column of sample ids"
		return f, -1
	}
	hits, exact := p.find(id)
	switch {
	case len(hits) == 1:
	case len(hits) > 1:
		n := len(hits)
		if hits = p.byDepth(hits, row.cell(t.depth), t); len(hits) != 1 {
			f.Reason = fmt.Sprintf("sample id %s fits %d samples of the plan, and its depth doesn't tell which", show(id), n)
			return f, -1
		}
	default:
		return p.stray(f, t, row), -1
	}
	f.Fate, f.SampleID = Joined, tidy(p.samples[hits[0]].ID)
	switch {
	case row.byPlace != "":
		f.Reason = row.byPlace
	case !exact:
		f.Reason = show(id) + " read as " + show(f.SampleID)
	}
	return f, hits[0]
}

// stray gives a row its fate that has no id or one of no sample.
func (p plan) stray(f RowFate, t *Table, row Row) RowFate {
	switch {
	case f.ID == "" && slices.ContainsFunc(row.Cells, isSummary), isSummary(f.ID):
		f.Reason, f.NoSample = "a total or average, not a sample", true
	case t.repeatsUnits(row):
		f.Reason, f.NoSample = "the row of units again", true
	case f.ID == "":
		f.Reason, f.NoSample = "no sample id", !t.hasFigure(row)
	case t.repeatsHeader(row):
		f.Reason, f.NoSample = "the header again", true
	case p.options.isCheck(f.ID):
		f.Fate, f.Reason = SetAside, "lab check sample"
	case filledCells(row.Cells) == 1 && len(strings.Fields(f.ID)) >= 3:
		f.Reason, f.NoSample = "a remark, not a sample", true
	default:
		f.Fate, f.Reason = Unmatched, "sample id "+show(f.ID)+" is in no plan"
		switch {
		case p.valid == nil:
		case p.options.valid(f.ID):
			f.Reason += "; its check character is right, so it is of another plan or season"
		default:
			f.Reason += "; its check character is wrong, so it is mistyped, or no id of a plan at all"
		}
	}
	return f
}

// hasFigure tells whether a row gives a value in a column of numbers.
func (t *Table) hasFigure(row Row) bool {
	for i, c := range t.Columns {
		if c.hasNumbers() && parseValue(row.rawCell(i), t.decimals).OK() {
			return true
		}
	}
	return false
}

// repeatsUnits tells whether a data row is the row of units again: units and
// nothing else, but for the word in the column of ids.
func (t *Table) repeatsUnits(row Row) bool {
	if t.UnitsRow == 0 {
		return false
	}
	units := 0
	for i := range t.Columns {
		cell := row.cell(i)
		if cell == "" || i == t.id && slices.Contains([]string{"UNIT", "UNITS", "UNITS:"}, strings.ToUpper(cell)) {
			continue
		}
		if cell[0] >= '0' && cell[0] <= '9' {
			return false
		}
		if _, ok := isUnit(cell); !ok {
			return false
		}
		units++
	}
	return units > 0
}

// noSample are faults of rows with which nothing is lost.
var noSample = []string{"empty row", "the header again", "a total or average, not a sample"}

// unfit says why a row can't be a row of the table, whatever its id.
func (t *Table) unfit(row Row) string {
	switch n := row.width(); {
	case row.Fault != "":
		return row.Fault
	case n == 0:
		return "empty row"
	case n > len(t.Columns):
		return fmt.Sprintf("has %d cells, the header %d", n, len(t.Columns))
	}
	return ""
}

// byDepth keeps the samples that are of the row's depth.
func (p plan) byDepth(hits []int, cell string, t *Table) []int {
	depth, ok := t.depthOf(cell)
	if !ok {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(hits), func(i int) bool {
		d, ok := parseDepth(p.samples[i].Depth, "")
		return !ok || !d.same(depth)
	})
}

func (t *Table) depthOf(cell string) (depthRange, bool) {
	if t.depth < 0 {
		return depthRange{}, false
	}
	return parseDepth(cell, t.Columns[t.depth].Unit)
}

// keepDepth refuses rows of another depth than the sample's where the rows of
// the sample differ in depth. If they all agree on a depth that isn't the
// plan's, that is noted: many labs put down a depth of their own.
func keepDepth(t *Table, ref SampleRef, rows []int, r *Reckoning) []int {
	if t.depth < 0 || len(rows) == 0 {
		return rows
	}
	planned, known := parseDepth(ref.Depth, "")
	var first depthRange
	seen, several := false, false
	for _, row := range rows {
		if d, ok := t.depthOf(t.Rows[row].cell(t.depth)); ok {
			several = several || seen && !d.same(first)
			if !seen {
				first, seen = d, true
			}
		}
	}
	if !seen {
		return rows
	}
	want, whose := planned, "the plan"
	if !known {
		want, whose = first, "the sample's first row"
	}
	var kept []int
	for _, row := range rows {
		cell := t.Rows[row].cell(t.depth)
		d, ok := t.depthOf(cell)
		f := &r.Rows[row]
		switch {
		case !ok || d.same(want):
			kept = append(kept, row)
		case several:
			f.Fate, f.SampleID = Refused, ""
			f.Reason = fmt.Sprintf("depth %s is not the depth in %s of sample %s", show(cell), whose, show(tidy(ref.ID)))
		default:
			kept = append(kept, row)
			r.Notes = append(r.Notes, fmt.Sprintf("row %d: depth %s, in the plan %s; joined all the same", f.Row, show(cell), show(ref.Depth)))
		}
	}
	return kept
}

func (p plan) whyMissing(id string, candidates []int, refused map[string]int) string {
	switch {
	case id == "":
		return "has no id in the plan"
	case len(candidates) > 0:
		return "its rows are of another depth"
	case p.twice(id):
		return "its id is in the plan more than once"
	case refused[idKey(id)] > 0:
		return fmt.Sprintf("row %d may be its own, but was refused", refused[idKey(id)])
	}
	return "no row has its id"
}

func (p plan) twice(id string) bool {
	hits, exact := p.find(id)
	return exact && len(hits) > 1
}
