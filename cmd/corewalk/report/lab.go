package report

import (
	"fmt"
	"strconv"
	"strings"

	"corewalk/sampling/lab"
)

// reckoning is the account of the lab's file.
type reckoning struct {
	Table   string
	Sums    []string
	Rows    []labRow
	Missing []lab.SampleFate
	Cells   []cellGroup
	Left    string // of cells beyond the list
	Columns lab.Columns
	Means   []meanRow
	Notes   []string

	Findings []lab.Finding
}

// labRow is a row, or a run of rows with one fate, that was not simply joined.
type labRow struct{ Rows, ID, Fate, Reason, Nearest string }

// cellGroup is one note and the cells that it holds for.
type cellGroup struct{ Column, Kind, Text, Note, Cells string }

// meanRow is a value that is the mean of replicates which differ, or one with
// a note.
type meanRow struct{ ID, Column, Value, N, Spread, Note string }

func newReckoning(r *lab.Reckoning) *reckoning {
	c := r.Counts
	out := &reckoning{Table: r.Table, Columns: r.Columns, Notes: r.Notes, Findings: r.Findings}
	out.Sums = []string{
		fmt.Sprintf("%s = %d joined + %s + %d unmatched + %d refused.",
			plural(c.Rows, "data row", "data rows"), c.Joined, plural(c.Replicate, "replicate", "replicates"), c.Unmatched, c.Refused),
		fmt.Sprintf("%s of the plan = %d answered + %d missing.", plural(c.Samples, "sample", "samples"), c.Answered, c.Missing),
		fmt.Sprintf("%s without a plain value, listed below.", plural(c.Cells, "cell of the joined rows is", "cells of the joined rows are")),
	}
	if c.SetAside > 0 {
		out.Sums[0] = strings.TrimSuffix(out.Sums[0], ".") + fmt.Sprintf(" + %d set aside.", c.SetAside)
	}
	if c.Samples == 0 {
		out.Sums[1] = "The rows bring their own coordinates; there is no plan to answer."
	}
	if c.Cells == 0 {
		out.Sums[2] = "Every cell of the joined rows gave a plain value."
	}
	for _, s := range r.Samples {
		if s.Fate == lab.Missing {
			out.Missing = append(out.Missing, s)
		}
	}
	out.addRows(r.Rows)
	out.addCells(r.Cells)
	if n := c.Cells - len(r.Cells); n > 0 {
		out.Left = fmt.Sprintf("%d more cells are counted and not listed.", n)
	}
	for _, res := range r.Results {
		for _, m := range res.Values {
			if m.Note == "" && !m.Flagged {
				continue
			}
			row := meanRow{ID: res.ID, Column: m.Column, Value: significant(m.Value, 4), N: strconv.Itoa(m.N), Spread: dash, Note: m.Note}
			if m.N > 1 {
				row.Spread = significant(m.Spread, 3)
			}
			if m.Flagged {
				row.Note = strings.TrimPrefix(row.Note+"; the replicates differ by more than a tenth of their mean", "; ")
			}
			out.Means = append(out.Means, row)
		}
	}
	return out
}

// addRows lists what was not simply joined. A run of rows that differ in
// nothing but their number, as the empty ones below a table, takes one line.
func (out *reckoning) addRows(rows []lab.RowFate) {
	for i := 0; i < len(rows); {
		r := rows[i]
		if r.Fate == lab.Joined && r.Reason == "" {
			i++
			continue
		}
		end := i + 1
		for end < len(rows) && rows[end].Row == rows[end-1].Row+1 && sameFate(rows[end], r) {
			end++
		}
		row := labRow{Rows: strconv.Itoa(r.Row), ID: r.ID, Fate: string(r.Fate), Reason: r.Reason, Nearest: strings.Join(r.Nearest, ", ")}
		if end-i > 2 {
			row.Rows += " to " + strconv.Itoa(rows[end-1].Row)
		} else {
			end = i + 1
		}
		if r.SampleID != "" && r.SampleID != r.ID {
			row.Fate += " to " + r.SampleID
		}
		if row.Reason == "" && r.Fate == lab.Replicate {
			row.Reason = "a further row of the sample"
		}
		out.Rows = append(out.Rows, row)
		i = end
	}
}

func sameFate(a, b lab.RowFate) bool {
	return a.ID == b.ID && a.Fate == b.Fate && a.SampleID == b.SampleID && a.Reason == b.Reason && len(a.Nearest) == 0 && len(b.Nearest) == 0
}

// addCells puts cells with one note together.
func (out *reckoning) addCells(cells []lab.CellNote) {
	type key struct {
		column, text, note string
		kind               lab.CellKind
	}
	index := map[key]int{}
	var lists [][]string
	for _, c := range cells {
		k := key{c.Column, c.Text, c.Note, c.Kind}
		i, known := index[k]
		if !known {
			i = len(lists)
			index[k] = i
			lists = append(lists, nil)
			out.Cells = append(out.Cells, cellGroup{Column: c.Column, Kind: string(c.Kind), Text: c.Text, Note: c.Note})
		}
		where := strconv.Itoa(c.Row)
		if c.SampleID != "" {
			where += " (" + c.SampleID + ")"
		}
		lists[i] = append(lists[i], where)
	}
	for i, l := range lists {
		out.Cells[i].Cells = strings.Join(l, ", ")
	}
}
