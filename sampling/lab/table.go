package lab

import (
	"fmt"
	"io"
	"strings"
	"unicode"
)

// Table is a lab's results as they stand in the file, with what each column was
// understood to be.
type Table struct {
	Name      string  `json:"name"`
	Encoding  string  `json:"encoding,omitempty"`
	Delimiter string  `json:"delimiter,omitempty"`
	HeaderRow int     `json:"header_row"`          // 0 for a table made by NewTable
	UnitsRow  int     `json:"units_row,omitempty"` // 0 where there is none
	Columns   Columns `json:"columns"`
	Rows      []Row   `json:"-"` // the data rows, in file order

	id, depth int // columns, -1 where there is none
	decimals  decimals
}

// Row is one data row.
type Row struct {
	// Number is the row's number as a spreadsheet shows it.
	Number int
	// Cells are the cells as they stand in the file; there may be fewer or more
	// than the table has columns.
	Cells []string
}

// cell returns the tidied cell of a column, "" where the row is too short.
func (r Row) cell(col int) string {
	return tidy(r.rawCell(col))
}

// rawCell returns the cell of a column as it stands in the file.
func (r Row) rawCell(col int) string {
	if col < 0 || col >= len(r.Cells) {
		return ""
	}
	return r.Cells[col]
}

// width counts the cells up to the last that isn't blank.
func (r Row) width() int {
	n := len(r.Cells)
	for n > 0 && tidy(r.Cells[n-1]) == "" {
		n--
	}
	return n
}

// ReadTable reads a delimited text file. It recognises comma, semicolon and tab
// (and a bar, if a leading "sep=|" says so), UTF-8, UTF-16 with a byte order
// mark and Windows-1252, letterhead rows above the header and a row of units
// below it. The header is the first row that names a column of sample ids and an
// analyte; failing that, the first with two analytes; failing that, the widest
// row without a number that has numbers below. Name stands for the file in
// messages. An error says what makes the file unreadable as a whole; faults of
// single rows and cells come out at the join.
func ReadTable(r io.Reader, name string) (*Table, error) {
	t, err := readTable(r, name, defaultLimits)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return t, nil
}

func readTable(r io.Reader, name string, lim limits) (*Table, error) {
	text, encoding, err := readText(r, lim.bytes)
	if err != nil {
		return nil, err
	}
	text, delim, err := sepLine(text)
	if err != nil {
		return nil, err
	}
	if delim == 0 {
		delim = sniff(text, lim)
	}
	rows, err := splitRows(text, delim, lim, false)
	if err != nil {
		return nil, err
	}
	head, ok := findHeader(rows)
	if !ok {
		return nil, fmt.Errorf("no header in the first %d rows: none names a column of sample ids (such as Sample ID) and an analyte (such as pH or P)", min(headRows, len(rows)))
	}
	if err := swallowed(rows, len(rows[head]), delim); err != nil {
		return nil, err
	}
	t := &Table{Name: name, Encoding: encoding, Delimiter: string(rune(delim)), HeaderRow: head + 1}
	header := rows[head]
	header = header[:Row{Cells: header}.width()]
	t.Columns = understand(header)
	first := head + 1
	if first < len(rows) && t.takeUnits(rows[first]) {
		first++
		t.UnitsRow = first
	}
	t.Rows = make([]Row, 0, len(rows)-first)
	for i := first; i < len(rows); i++ {
		t.Rows = append(t.Rows, Row{Number: i + 1, Cells: rows[i]})
	}
	t.settle(delim != ',')
	return t, nil
}

// NewTable makes a table of columns that another reader has already parsed, such
// as the attributes of a point file. Rows are numbered from 1, without the
// header. The slices are kept, not copied.
func NewTable(name string, header []string, rows [][]string) *Table {
	t := &Table{Name: name, Columns: understand(header)}
	t.Rows = make([]Row, len(rows))
	for i, cells := range rows {
		t.Rows[i] = Row{Number: i + 1, Cells: cells}
	}
	t.settle(true)
	return t
}

// Value reads the cell of a data row, both counted from 0, as a number.
func (t *Table) Value(row, col int) Value {
	c := t.Columns[col]
	v := parseValue(t.Rows[row].rawCell(col), t.decimals)
	if c.Role == RoleAnalyte && v.Number < 0 {
		v.Number, v.Problem = 0, "is below zero, which no "+c.Analyte+" can be; a code for no value?"
	}
	return v
}

// UseID makes the named column the one that holds the sample ids, whatever the
// header suggests.
func (t *Table) UseID(name string) error {
	i, err := t.Columns.Find(name)
	if err != nil {
		return fmt.Errorf("%s: %w", t.Name, err)
	}
	if t.id >= 0 {
		t.Columns[t.id].Role = RoleText
	}
	t.id, t.Columns[i].Role = i, RoleID
	return nil
}

// settle finishes the columns once all rows are known.
func (t *Table) settle(commas bool) {
	t.id, t.depth = t.Columns.first(RoleID), t.Columns.first(RoleDepth)
	t.decimals = decimals{commas: commas}
	for _, r := range t.Rows {
		for i, cell := range r.Cells {
			if i < len(t.Columns) && (t.Columns[i].Role == RoleAnalyte || t.Columns[i].Role == RoleOther) {
				t.decimals.learn(cell)
			}
		}
	}
	for i := range t.Columns {
		if c := &t.Columns[i]; c.Role == RoleOther {
			c.Role = t.contents(i)
		}
		t.Columns[i].Filled = t.filled(i)
	}
}

// contents tells a column of numbers from one of text: most of the filled cells
// decide.
func (t *Table) contents(col int) Role {
	numbers, others := 0, 0
	for i := range t.Rows {
		switch v := t.Value(i, col); {
		case v.OK():
			numbers++
		case !v.Missing:
			others++
		}
	}
	if numbers > others {
		return RoleNumber
	}
	return RoleText
}

func (t *Table) filled(col int) int {
	n := 0
	for _, r := range t.Rows {
		if r.cell(col) != "" {
			n++
		}
	}
	return n
}

// sniff picks the delimiter under which the top of the file makes the best
// table.
func sniff(text string, lim limits) byte {
	lim.rows = headRows
	best, bestScore := byte(','), -1
	for _, delim := range []byte{'\t', ';', ','} {
		rows, _ := splitRows(text, delim, lim, true) // an error comes out again when all is read
		score := widthScore(rows)
		if head, ok := findHeader(rows); ok {
			score += 1_000_000 * min(recognised(rows[head]).score(), 100)
		}
		if score >= bestScore {
			best, bestScore = delim, score
		}
	}
	return best
}

// widthScore is the number of cells in rows that have the commonest width, one
// wide rows apart.
func widthScore(rows [][]string) int {
	counts := map[int]int{}
	best := 0
	for _, r := range rows {
		n := Row{Cells: r}.width()
		if n < 2 {
			continue
		}
		counts[n]++
		best = max(best, min(n, 100)*counts[n])
	}
	return best
}

// known counts what a row names if it is taken as a header.
type known struct {
	ids, analytes int
}

func (k known) score() int {
	if k.ids > 0 && k.analytes > 0 {
		return 2 + k.analytes
	}
	return min(k.analytes, 2)
}

func recognised(row []string) known {
	var k known
	for _, cell := range row[:min(len(row), 100)] { // an id and an analyte stand among the first, or the file is hopeless
		if len(cell) > 80 || strings.IndexFunc(cell, unicode.IsLetter) < 0 {
			continue
		}
		flat := flatten(cell)
		if flat == "" {
			continue
		}
		if idRank(flat) != notAnID {
			k.ids++
		} else if _, ok := readAnalyte(flat); ok {
			k.analytes++
		}
	}
	return k
}

// findHeader returns the index of the header row.
func findHeader(rows [][]string) (int, bool) {
	top := rows[:min(len(rows), headRows)]
	twoAnalytes := -1
	for i, row := range top {
		k := recognised(row)
		if k.ids > 0 && k.analytes > 0 {
			return i, true
		}
		if k.analytes >= 2 && twoAnalytes < 0 {
			twoAnalytes = i
		}
	}
	if twoAnalytes >= 0 {
		return twoAnalytes, true
	}
	// From below: does one of the next two rows that aren't blank, the first of
	// which may hold the units, have a number?
	best, widest, next, second := 0, 1, false, false
	for i := len(top) - 1; i >= 0; i-- {
		n := filledCells(top[i])
		if n == 0 {
			continue
		}
		number := hasNumber(top[i])
		if n >= widest && n > 1 && !number && (next || second) {
			best, widest = i, n
		}
		next, second = number, next
	}
	return best, widest > 1
}

func filledCells(row []string) int {
	n := 0
	for _, cell := range row {
		if tidy(cell) != "" {
			n++
		}
	}
	return n
}

func hasNumber(row []string) bool {
	for _, cell := range row {
		if parseValue(cell, decimals{commas: true}).OK() {
			return true
		}
	}
	return false
}

// repeatsHeader tells whether a data row is the header again, as at the top of a
// printed page.
func (t *Table) repeatsHeader(r Row) bool {
	same := 0
	for i, c := range t.Columns {
		cell := r.cell(i)
		if !strings.EqualFold(cell, tidy(c.Header)) {
			return false
		}
		if cell != "" {
			same++
		}
	}
	return same >= 2
}
