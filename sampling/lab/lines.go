package lab

import (
	"fmt"
	"slices"
	"strings"
)

// maxLines bounds each part of Lines; the rest is counted.
const maxLines = 100

// Lines sums the account up for a person, one statement a line: the sums, then
// whatever is not plain, by row. A run of empty rows takes one line.
func (r Reckoning) Lines() []string {
	c := r.Counts
	lines := []string{fmt.Sprintf("%s: %d data rows = %d joined + %d replicate + %d unmatched + %d refused",
		r.Table, c.Rows, c.Joined, c.Replicate, c.Unmatched, c.Refused)}
	if c.SetAside > 0 {
		lines[0] += fmt.Sprintf(" + %d set aside", c.SetAside)
	}
	if c.Samples > 0 {
		lines = append(lines, fmt.Sprintf("plan: %d samples = %d answered + %d missing", c.Samples, c.Answered, c.Missing))
	}
	lines = append(lines, shorten(r.Notes)...)
	lines = append(lines, shorten(r.findingLines())...)
	lines = append(lines, shorten(r.rowLines())...)
	lines = append(lines, shorten(r.sampleLines())...)
	lines = append(lines, shorten(r.conflictLines())...)
	lines = append(lines, shorten(r.spreadLines())...)
	cells := r.cellLines()
	if left := c.Cells - len(r.Cells); left > 0 {
		cells = append(cells, fmt.Sprintf("and %d more cells without a plain value", left))
	}
	return append(lines, shorten(cells)...)
}

func shorten(lines []string) []string {
	if len(lines) <= maxLines {
		return lines
	}
	return append(lines[:maxLines:maxLines], fmt.Sprintf("... and %d more of these", len(lines)-maxLines))
}

func (r Reckoning) rowLines() []string {
	var lines []string
	for i := 0; i < len(r.Rows); i++ {
		row := r.Rows[i]
		if row.Reason == "" {
			continue
		}
		first := row.Row
		for i+1 < len(r.Rows) && row.ID == "" && row.Fate == Refused && sameBlank(row, r.Rows[i+1]) {
			i++
			row = r.Rows[i]
		}
		where := fmt.Sprintf("row %d", first)
		if row.Row != first {
			where = fmt.Sprintf("rows %d to %d", first, row.Row)
		}
		lines = append(lines, row.line(where))
	}
	return lines
}

// line says what became of the row, or of the run of rows, that where names.
func (f RowFate) line(where string) string {
	line := where + ": " + f.Reason
	switch f.Fate {
	case Refused, SetAside:
		line = where + ": " + string(f.Fate) + ": " + f.Reason
		if f.ID != "" && !strings.Contains(f.Reason, show(f.ID)) {
			line += " (id " + show(f.ID) + ")"
		}
	case Unmatched:
		for i, id := range f.Nearest {
			switch {
			case i > 0:
				line += ", "
			case len(f.Nearest) == 1:
				line += "; nearest is "
			default:
				line += "; nearest are "
			}
			line += show(id)
		}
	}
	return line
}

// sameBlank tells whether b follows a as another row without content.
func sameBlank(a, b RowFate) bool {
	return b.Fate == a.Fate && b.Reason == a.Reason && b.ID == "" && b.Row == a.Row+1
}

func (r Reckoning) sampleLines() []string {
	var lines []string
	for _, s := range r.Samples {
		if s.Reason != "" {
			lines = append(lines, s.line())
		}
	}
	return lines
}

func (f SampleFate) line() string {
	return fmt.Sprintf("sample %s %s: %s", show(f.ID), f.Fate, f.Reason)
}

// conflictLines leaves out what is said of the rows and the sample already.
func (r Reckoning) conflictLines() []string {
	var lines []string
	for i, f := range r.Conflicts {
		switch {
		case f.Averaged:
			lines = append(lines, fmt.Sprintf("sample %s: %s; averaged all the same", show(f.SampleID), f.Note))
		case i > 0 && slices.Equal(f.Rows, r.Conflicts[i-1].Rows):
			lines = append(lines, fmt.Sprintf("sample %s: %s", show(f.SampleID), f.Note))
		}
	}
	return lines
}

func (r Reckoning) spreadLines() []string {
	var lines []string
	for _, res := range r.Results {
		for _, m := range res.Values {
			if m.Flagged {
				lines = append(lines, fmt.Sprintf("sample %s, %s: mean %.6g%s, range %.6g; %s", show(res.ID), show(m.Column), m.Value, after(m.Unit), m.Spread, m.Note))
			}
		}
	}
	return lines
}

func (r Reckoning) findingLines() []string {
	var lines []string
	for _, f := range r.Findings {
		where := "column " + show(f.Column)
		if f.Row > 0 {
			where = fmt.Sprintf("row %d, %s", f.Row, show(f.Column))
		}
		lines = append(lines, where+": "+f.Text)
	}
	return lines
}

func (r Reckoning) cellLines() []string {
	var lines []string
	for _, c := range r.Cells {
		lines = append(lines, c.line())
	}
	return lines
}

func (c CellNote) line() string {
	line := fmt.Sprintf("row %d, %s, sample %s: ", c.Row, show(c.Column), show(c.SampleID))
	if tidy(c.Text) == "" {
		return line + c.Note
	}
	return line + show(c.Text) + " " + c.Note
}

// after puts a unit behind a figure.
func after(unit string) string {
	if unit == "" {
		return ""
	}
	return " " + unit
}
