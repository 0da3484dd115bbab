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
	Format    Format  `json:"format,omitempty"` // "" for a table made by NewTable
	Encoding  string  `json:"encoding,omitempty"`
	Delimiter string  `json:"delimiter,omitempty"`
	Sheet     string  `json:"sheet,omitempty"`     // of a workbook
	HeaderRow int     `json:"header_row"`          // 0 for a table made by NewTable or of a Modus file
	UnitsRow  int     `json:"units_row,omitempty"` // 0 where there is none
	Long      bool    `json:"long,omitempty"`      // the file has one row for each value; see Row.Sources
	Columns   Columns `json:"columns"`
	Rows      []Row   `json:"-"` // the data rows, in file order
	// Marks are cells that a spreadsheet program holds as something else than
	// what was typed, by row; Notes is what else a person should know of how the
	// file was read. Notices sums both up.
	Marks []Mark   `json:"marks,omitempty"`
	Notes []string `json:"notes,omitempty"`

	id, depth int // columns, -1 where there is none
	decimals  decimals
}

// Row is one data row.
type Row struct {
	// Number is the row's number as a spreadsheet shows it; of a long table that
	// of the first of the Sources, of a Modus file the count of samples and
	// depths so far.
	Number int
	// Cells are the cells as they stand in the file; there may be fewer or more
	// than the table has columns.
	Cells []string
	// Sources are the numbers of the rows of a long table that this row was made
	// of, ascending. It is nil for a table of any other kind.
	Sources []int
	// Place is the longitude and latitude in degrees that the file gives for the
	// sample, nil where it gives none.
	Place *[2]float64
	// Fault says why the row can be no sample's, "" if nothing is known against
	// it.
	Fault string

	byPlace string     // says that the id comes from the place
	kinds   []cellKind // of the cells; missing ones are text
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

// kind returns what a spreadsheet holds in the cell of a column.
func (r Row) kind(col int) cellKind {
	if col < 0 || col >= len(r.kinds) {
		return kindText
	}
	return r.kinds[col]
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
// analyte, or, of a long table, sample ids, names of analytes and values; failing
// that, the first with two analytes; failing that, the widest row without a
// number that has numbers below. A long table, which has one row for each value,
// becomes a wide one: see Row.Sources. Name stands for the file in messages. An
// error says what makes the file unreadable as a whole; faults of single rows and
// cells come out at the join.
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
	return textTable(text, encoding, name, Options{}, lim)
}

func textTable(text, encoding, name string, o Options, lim limits) (*Table, error) {
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
	t := &Table{Name: name, Format: FormatText, Encoding: encoding, Delimiter: string(rune(delim))}
	g := &grid{rows: rows, commas: delim != ','}
	head, err := g.header(o)
	if err != nil {
		return nil, err
	}
	if err := swallowed(rows, len(rows[head]), delim); err != nil {
		return nil, err
	}
	return t, t.take(g, head, o, lim)
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
	v := t.number(t.Rows[row], col)
	if c.Role == RoleAnalyte && v.Number < 0 {
		v.Number, v.Problem = 0, "is below zero, which no "+c.Analyte+" can be; a code for no value?"
	}
	return v
}

// number reads a cell as a number. A number of a spreadsheet has a point for
// decimal mark, whatever the text cells about it use.
func (t *Table) number(r Row, col int) Value {
	cell := r.rawCell(col)
	switch r.kind(col) {
	case kindNumber, kindPercent:
		return parseValue(cell, decimals{})
	case kindError:
		return Value{Text: cell, Missing: true, Problem: "an error of the spreadsheet, no value"}
	case kindNoValue:
		return Value{Text: cell, Missing: true, Problem: "a formula whose value is not in the file"}
	}
	return parseValue(cell, t.decimals)
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
			if i < len(t.Columns) && r.kind(i) == kindText && (t.Columns[i].Role == RoleAnalyte || t.Columns[i].Role == RoleOther) {
				t.decimals.learn(cell)
			}
		}
	}
	// A column of numbers is told from one of text by most of its filled cells.
	more := make([]int, len(t.Columns)) // numbers less others
	for i, r := range t.Rows {
		for col := range min(len(r.Cells), len(t.Columns)) {
			c := &t.Columns[col]
			if r.cell(col) == "" {
				continue
			}
			c.Filled++
			if c.Role != RoleOther {
				continue
			}
			switch v := t.Value(i, col); {
			case v.OK():
				more[col]++
			case !v.Missing:
				more[col]--
			}
		}
	}
	for i := range t.Columns {
		switch c := &t.Columns[i]; {
		case c.Role != RoleOther:
		case more[i] > 0:
			c.Role = RoleNumber
		default:
			c.Role = RoleText
		}
	}
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
	names, values int // columns of a long table: of analytes' names, of values
}

func (k known) isHeader() bool {
	return k.ids > 0 && (k.analytes > 0 || k.names > 0 && k.values > 0)
}

func (k known) score() int {
	if k.isHeader() {
		return 2 + max(k.analytes, 1)
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
		} else {
			switch role, _ := longRole(flat); role {
			case RoleName:
				k.names++
			case RoleValue:
				k.values++
			}
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
		if k.isHeader() {
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
