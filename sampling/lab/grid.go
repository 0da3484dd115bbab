package lab

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// cellKind is what a spreadsheet holds in a cell. All cells of a text file are
// kindText.
type cellKind byte

const (
	kindText cellKind = iota
	kindNumber
	kindPercent // a number shown as percent, and written here as shown
	kindDate
	kindBool
	kindError
	kindNoValue // a formula without its value
)

// grid is the cells of a file before it is known what they mean.
type grid struct {
	rows   [][]string
	kinds  [][]cellKind // of the rows; nil where all is text
	spans  []mergedCell
	commas bool // a comma may be a decimal mark
	sheet  string
}

// mergedCell is a cell merged over several rows of one column; all from 0, the last
// row included.
type mergedCell struct{ col, first, last int }

// Mark is a cell that a spreadsheet program has made into something else than
// what was typed, which can't be told back.
type Mark struct {
	Row    int    `json:"row"`
	Column string `json:"column"` // Column.Name, in a long table of the file's own column
	Text   string `json:"text"`   // what the cell looks like now
	Reason string `json:"reason"`

	whole bool // a sample id that is a whole number
}

// header returns the index of the header row.
func (g *grid) header(o Options) (int, error) {
	top := g.rows[:min(len(g.rows), headRows)]
	if len(g.spans) > 0 {
		top = slices.Clone(top)
		for i := range top {
			top[i] = g.spanned(i)
		}
	}
	if head, ok := namedHeader(top, o.Map); ok {
		return head, nil
	}
	if head, ok := findHeader(top); ok {
		return head, nil
	}
	return 0, fmt.Errorf("no header in the first %d rows: none names a column of sample ids (such as Sample ID) and an analyte (such as pH or P)", len(top))
}

// namedHeader finds the first row that has all the headers that a caller named.
func namedHeader(rows [][]string, named map[string]Mapping) (int, bool) {
	if len(named) == 0 {
		return 0, false
	}
	for i, row := range rows {
		all := true
		for name := range named {
			all = all && slices.ContainsFunc(row, func(cell string) bool { return strings.EqualFold(squeeze(tidy(cell)), squeeze(tidy(name))) })
		}
		if all {
			return i, true
		}
	}
	return 0, false
}

// spanned returns a row with the cells that are merged into it from above.
func (g *grid) spanned(row int) []string {
	cells := g.rows[row]
	copied := false
	for _, s := range g.spans {
		if row <= s.first || row > s.last || s.col >= len(g.rows[s.first]) || s.col < len(cells) && cells[s.col] != "" {
			continue
		}
		if !copied {
			cells, copied = slices.Clone(cells), true
		}
		for len(cells) <= s.col {
			cells = append(cells, "")
		}
		cells[s.col] = g.rows[s.first][s.col]
	}
	return cells
}

// take fills the table from the cells, of which the header is in row head, from 0.
func (t *Table) take(g *grid, head int, o Options, lim limits) error {
	t.Sheet, t.HeaderRow = g.sheet, head+1
	header := g.spanned(head)
	header = header[:Row{Cells: header}.width()]
	t.Columns = understand(header)
	longRoles(t.Columns)
	if err := t.Columns.apply(o.Map); err != nil {
		return err
	}
	first := head + 1
	if first < len(g.rows) && t.takeUnits(g.rows[first]) {
		first++
		t.UnitsRow = first
	}
	if err := t.Columns.apply(o.Map); err != nil { // the row of units doesn't go before it
		return err
	}
	t.Rows = make([]Row, 0, len(g.rows)-first)
	for i := first; i < len(g.rows); i++ {
		r := Row{Number: i + 1, Cells: g.rows[i]}
		if g.kinds != nil {
			r.kinds = g.kinds[i]
		}
		t.Rows = append(t.Rows, r)
	}
	if err := t.fillSpans(g.spans, first, lim); err != nil {
		return err
	}
	t.percents()
	if long, ok := t.longColumns(); ok {
		t.mark(long.id, long.depth, func(c Column) bool { return c.Role == RoleValue })
		if err := t.pivot(long, lim); err != nil {
			return err
		}
		t.settle(g.commas)
		return nil
	}
	for i := range t.Columns {
		t.Columns[i].dropLong()
	}
	t.settle(g.commas)
	t.mark(t.id, t.depth, Column.hasNumbers)
	return nil
}

// fillSpans writes a cell merged over several data rows into each of them, where
// it says whose the row is and not what was found: an id, a depth, an analyte.
func (t *Table) fillSpans(spans []mergedCell, first int, lim limits) error {
	work, filled, at := 0, 0, ""
	for _, s := range spans {
		if s.first < first || s.col >= len(t.Columns) {
			continue
		}
		switch t.Columns[s.col].Role {
		case RoleID, RoleLabID, RoleDepth, RoleName, RoleUnit, RoleMethod:
		default:
			continue
		}
		from := t.Rows[s.first-first]
		if from.cell(s.col) == "" {
			continue
		}
		last := min(s.last-first, len(t.Rows)-1)
		if work += (last - s.first + first) * (s.col + 1); work > lim.cells {
			return fmt.Errorf("merges more than %d cells", lim.cells)
		}
		for i := s.first - first + 1; i <= last; i++ {
			r := &t.Rows[i]
			if r.cell(s.col) != "" {
				continue
			}
			for len(r.Cells) <= s.col {
				r.Cells = append(r.Cells, "")
			}
			for len(r.kinds) <= s.col {
				r.kinds = append(r.kinds, kindText)
			}
			r.Cells[s.col], r.kinds[s.col] = from.Cells[s.col], from.kind(s.col)
		}
		if filled++; filled == 1 {
			at = fmt.Sprintf("%s in column %s, rows %d to %d", show(from.cell(s.col)), show(t.Columns[s.col].Name), s.first+1, s.last+1)
		}
	}
	switch {
	case filled == 1:
		t.Notes = append(t.Notes, "the merged cell "+at+", is taken for each of the rows")
	case filled > 1:
		t.Notes = append(t.Notes, fmt.Sprintf("%d merged cells are taken for each of their rows; the first is %s", filled, at))
	}
	return nil
}

// percents gives columns with numbers that the sheet shows as percent that unit.
func (t *Table) percents() {
	seen := make([]bool, len(t.Columns))
	for _, r := range t.Rows {
		for i := range min(len(r.kinds), len(seen)) {
			seen[i] = seen[i] || r.kinds[i] == kindPercent
		}
	}
	for i := range t.Columns {
		c := &t.Columns[i]
		if !seen[i] || !c.hasNumbers() && c.Role != RoleOther && c.Role != RoleValue {
			continue
		}
		t.Notes = append(t.Notes, "column "+show(c.Name)+": cells that the sheet shows as percent are taken as shown (3.2 for 3.2 %, which is 0.032 in the sheet)")
		if c.Unit == "" && c.Role != RoleValue {
			c.Unit = "%"
			c.checkUnit()
		}
	}
}

// mark lists the cells of the columns in use that a spreadsheet program may have
// changed.
func (t *Table) mark(id, depth int, numbers func(Column) bool) {
	for _, r := range t.Rows {
		for col := range r.kinds {
			if len(t.Marks) == maxCells {
				return
			}
			if col >= len(t.Columns) {
				break
			}
			m := Mark{Row: r.Number, Column: t.Columns[col].Name, Text: r.cell(col)}
			kind := r.kind(col)
			switch {
			case kind == kindText:
			case kind == kindNoValue && (col == id || col == depth || numbers(t.Columns[col])):
				m.Reason = "is a formula whose value is not in the file: open it in a spreadsheet program and save it"
			case col == id && (kind == kindNumber || kind == kindPercent):
				m.Reason = "is a number in the sheet: the id may have been written otherwise, as 007, 1E15 or 1.50 would be"
				m.whole = kind == kindNumber && allDigits(m.Text) && len(m.Text) < 12
			case col == id && kind == kindDate:
				m.Reason = "is a date in the sheet, made perhaps of an id such as " + likelyID(m.Text) + ", which can't be told back"
			case col == id && kind == kindBool:
				m.Reason = "is a truth value in the sheet, not text"
			case col == id && kind == kindError:
				m.Reason = "is an error of the spreadsheet"
			case col == depth && kind == kindDate:
				m.Reason = "is a date in the sheet, made perhaps of a depth such as 6-12, which can't be told back"
			case kind == kindDate && numbers(t.Columns[col]):
				m.Reason = "is a date in the sheet, made perhaps of a number such as 6.5, which can't be told back"
			}
			if m.Reason != "" {
				t.Marks = append(t.Marks, m)
			}
		}
	}
}

// likelyID gives what may have been typed for a date.
func likelyID(date string) string {
	d, err := time.Parse(time.DateOnly, date[:min(len(date), 10)])
	if err != nil {
		return "3-1 or MAR1"
	}
	return fmt.Sprintf("%d-%d or %s%d", int(d.Month()), d.Day(), strings.ToUpper(d.Format("Jan")), d.Day())
}
