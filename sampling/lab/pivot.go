package lab

import (
	"fmt"
	"slices"
	"strings"
)

// part is what a file says of a value: the analyte, the unit, the method.
type part struct{ name, unit, method string }

// pivot gathers single values into the rows of a wide table.
type pivot struct {
	lim   limits
	fixed Columns // what is said of a row as a whole
	parts Columns
	rows  []Row
	cells int

	byText map[part]int   // columns of parts, by the words of the file
	byWhat map[part]int   // and by their meaning
	counts map[[2]int]int // values so far, by group and column
	rowOf  map[[2]int]int // row, by group and how many of a column came before
}

func newPivot(lim limits) *pivot {
	return &pivot{lim: lim, byText: map[part]int{}, byWhat: map[part]int{}, counts: map[[2]int]int{}, rowOf: map[[2]int]int{}}
}

// pivotLine is what comes with a value.
type pivotLine struct {
	group  int // values of one group share rows
	number int // of the row of the file, 0 for the count of rows made
	cells  []string
	kinds  []cellKind
	fault  string
}

// column returns the column of a part. Two spellings of one analyte share one.
func (p *pivot) column(x part) (int, error) {
	if col, ok := p.byText[x]; ok {
		return col, nil
	}
	c := x.column()
	what := part{c.Analyte, c.Unit, c.Method}
	if c.Analyte == "" {
		what = part{strings.ToLower(squeeze(x.name)) + "\x00", strings.ToLower(c.Unit), strings.ToLower(c.Method)}
	}
	col, ok := p.byWhat[what]
	if !ok {
		col = len(p.parts)
		if len(p.fixed)+col == p.lim.columns {
			return 0, fmt.Errorf("names more than %d analytes", col)
		}
		p.parts = append(p.parts, c)
		p.byWhat[what] = col
	}
	if len(p.byText) < p.lim.columns { // a memory of spellings, no more
		p.byText[x] = col
	}
	return col, nil
}

// put adds a value in a column of parts, or, where that is -1, sees to it that
// the group has a row.
func (p *pivot) put(l pivotLine, col int, cell string, kind cellKind) error {
	n := 0
	if col >= 0 {
		n = p.counts[[2]int{l.group, col}]
		p.counts[[2]int{l.group, col}]++
	}
	at, ok := p.rowOf[[2]int{l.group, n}]
	if !ok {
		if len(p.rows) == p.lim.rows {
			return fmt.Errorf("has more than %d rows", p.lim.rows)
		}
		at = len(p.rows)
		p.rowOf[[2]int{l.group, n}] = at
		number := l.number
		if number == 0 {
			number = at + 1
		}
		p.rows = append(p.rows, Row{Number: number, Cells: l.cells, kinds: l.kinds, Fault: l.fault})
		p.cells += len(l.cells)
	}
	r := &p.rows[at]
	if l.number > 0 {
		r.Sources = append(r.Sources, l.number)
	}
	if col < 0 {
		return nil
	}
	col += len(p.fixed)
	if more := col + 1 - len(r.Cells); more > 0 {
		if p.cells += more; p.cells > p.lim.cells {
			return fmt.Errorf("more than %d cells up to here", p.lim.cells)
		}
		r.Cells = append(r.Cells, make([]string, more)...)
	}
	r.Cells[col] = cell
	if kind != kindText {
		r.kinds = append(r.kinds, make([]cellKind, max(0, col+1-len(r.kinds)))...)
		r.kinds[col] = kind
	}
	return nil
}

// columns returns all columns, with names of their own and letters.
func (p *pivot) columns() Columns {
	cs := slices.Concat(p.fixed, p.parts)
	count := map[string]int{}
	for i := range cs {
		cs[i].Name, cs[i].Letter = squeeze(tidy(cs[i].Header)), letters(i)
		count[strings.ToLower(cs[i].Name)]++
	}
	for i := range cs {
		c := &cs[i]
		switch {
		case c.Name == "":
			c.Name = "column " + c.Letter
		case count[strings.ToLower(c.Name)] > 1:
			c.Name += " (column " + c.Letter + ")"
		}
	}
	return cs
}

// column makes the column of a part.
func (x part) column() Column {
	unit, method := plainUnit(x.unit), plainMethod(x.method)
	c := Column{Unit: unit, Method: method}
	words := []string{squeeze(x.name)}
	for _, w := range []string{method, unit} {
		if w != "" && !strings.Contains(strings.ToLower(" "+words[0]+" "), strings.ToLower(" "+w+" ")) {
			words = append(words, w)
		}
	}
	c.Header = strings.Join(words, " ")
	if unit == "pH" {
		unit = "" // the analyte says as much, and it would be read as that
	}
	// The method may tell what the name doesn't, as SMP does of pH; one that is
	// not known here only stands in the way.
	for _, text := range []string{x.name + " " + bareMethod(method) + " " + unit, x.name + " " + unit} {
		u, ok := readAnalyte(flatten(text))
		if !ok {
			continue
		}
		c.Role, c.Analyte = RoleAnalyte, u.key
		if u.saturation {
			c.saturate()
		}
		if c.Unit == "" {
			c.Unit = u.unit
		}
		if c.Method == "" {
			c.Method = u.method
		}
		break
	}
	c.checkUnit()
	return c
}

// plainUnit returns the usual spelling of a unit, the text itself if it is not
// known, "" if it says that there is none.
func plainUnit(text string) string {
	text = squeeze(tidy(text))
	switch strings.ToLower(text) {
	case "", "none", "n/a", "na", "-", "--", "unitless", "no unit":
		return ""
	}
	if unit, ok := isUnit(text); ok {
		return unit
	}
	return text
}

// plainMethod is readMethod that knows codes of Modus as well.
func plainMethod(text string) string {
	if m, ok := modusMethod(squeeze(tidy(text))); ok {
		return m
	}
	return readMethod(text)
}

func bareMethod(method string) string {
	return strings.TrimSuffix(strings.TrimSuffix(method, " "+byICP), " "+byColour)
}
