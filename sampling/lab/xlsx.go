package lab

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// Bounds of a workbook, besides those of a table.
const (
	maxZip      = 64 << 20  // bytes as packed
	maxUnzipped = 512 << 20 // bytes in all
	maxPart     = 128 << 20 // bytes of a part that is kept in memory; a larger one goes to a temporary file
)

// readWorkbook reads one sheet: what its cells hold, and not what they show.
func readWorkbook(raw []byte, name string, o Options, lim limits) (t *Table, err error) {
	if err := isWorkbook(raw); err != nil {
		return nil, err
	}
	// The library is not made for files that are out to harm it.
	defer func() {
		if p := recover(); p != nil {
			t, err = nil, fmt.Errorf("is a damaged workbook (%v)", p)
		}
	}()
	f, err := excelize.OpenReader(bytes.NewReader(raw), excelize.Options{RawCellValue: true, UnzipSizeLimit: maxUnzipped, UnzipXMLSizeLimit: maxPart})
	if err != nil {
		return nil, fmt.Errorf("is a damaged workbook: %w", err)
	}
	defer f.Close()
	w := &sheetReader{f: f, lim: lim, styles: map[int]numberStyle{}}
	if w.sheet, err = chooseSheet(f, o.Sheet); err != nil {
		return nil, err
	}
	if p, err := f.GetWorkbookProps(); err == nil && p.Date1904 != nil {
		w.from1904 = *p.Date1904
	}
	all := sheetNames(f)
	t = &Table{Name: name, Format: FormatWorkbook}
	if len(f.GetSheetList()) > 1 {
		t.Notes = append(t.Notes, fmt.Sprintf("sheet %s is read; the workbook has %s", show(w.sheet), all))
	}
	if err := w.read(); err != nil {
		return nil, fmt.Errorf("sheet %s: %w", show(w.sheet), err)
	}
	if len(w.rows) == 0 {
		return nil, fmt.Errorf("sheet %s is empty; the workbook has %s", show(w.sheet), all)
	}
	g := &grid{rows: w.rows, kinds: w.kinds, spans: w.merged(), commas: true, sheet: w.sheet}
	head, err := g.header(o)
	if err != nil {
		return nil, fmt.Errorf("sheet %s: %w; the workbook has %s", show(w.sheet), err, all)
	}
	if len(w.hidden) > 0 {
		verb := " is"
		if len(w.hidden) > 1 {
			verb = " are"
		}
		t.Notes = append(t.Notes, w.hiddenText()+verb+" hidden in the sheet and read all the same")
	}
	if err := t.take(g, head, o, lim); err != nil {
		return nil, fmt.Errorf("sheet %s: %w", show(w.sheet), err)
	}
	return t, nil
}

// isWorkbook tells other zip files apart, and what to do about them.
func isWorkbook(raw []byte) error {
	if len(raw) > maxZip {
		return fmt.Errorf("is a zip file of more than %d bytes: this is no lab file, or it should be split", maxZip)
	}
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		return fmt.Errorf("is a damaged zip file or spreadsheet: %w", err)
	}
	has := map[string]bool{}
	for _, f := range z.File {
		has[strings.ToLower(strings.TrimPrefix(strings.ReplaceAll(f.Name, `\`, "/"), "/"))] = true
	}
	switch {
	case has["xl/workbook.xml"]:
		return nil
	case has["xl/workbook.bin"]:
		return errors.New("is a binary workbook (xlsb): save it as .xlsx or CSV")
	case has["content.xml"] && has["mimetype"]:
		return errors.New("is an OpenDocument file (ods): save it as .xlsx or CSV")
	}
	return errors.New("is a zip file without a workbook: unpack it, or save the spreadsheet as .xlsx or CSV")
}

// chooseSheet finds the sheet of a name or number, or the first that is not
// hidden.
func chooseSheet(f *excelize.File, name string) (string, error) {
	sheets := f.GetSheetList()
	if len(sheets) == 0 {
		return "", errors.New("the workbook has no sheet")
	}
	if name == "" {
		for _, s := range sheets {
			if visible, err := f.GetSheetVisible(s); err == nil && visible {
				return s, nil
			}
		}
		return sheets[0], nil
	}
	for _, s := range sheets {
		if strings.EqualFold(s, name) {
			return s, nil
		}
	}
	if n, err := strconv.Atoi(name); err == nil && n >= 1 && n <= len(sheets) {
		return sheets[n-1], nil
	}
	return "", fmt.Errorf("there is no sheet %s; the workbook has %s", show(name), sheetNames(f))
}

// sheetNames lists the sheets for a message.
func sheetNames(f *excelize.File) string {
	var list []string
	sheets := f.GetSheetList()
	for i, s := range sheets {
		if i == 20 {
			list = append(list, fmt.Sprintf("and %d more", len(sheets)-i))
			break
		}
		list = append(list, show(s))
	}
	if len(list) == 1 {
		return "the one sheet " + list[0]
	}
	return "the sheets " + strings.Join(list, ", ")
}

// sheetReader gathers the cells of a sheet.
type sheetReader struct {
	f        *excelize.File
	sheet    string
	lim      limits
	from1904 bool
	styles   map[int]numberStyle
	rows     [][]string
	kinds    [][]cellKind
	cells    int
	hidden   []string // "row 7", "column G"
}

// hiddenText lists what is hidden, up to a length.
func (s *sheetReader) hiddenText() string {
	const most = 20
	if n := len(s.hidden); n > most {
		return strings.Join(s.hidden[:most], ", ") + fmt.Sprintf(" and %d more", n-most)
	}
	if n := len(s.hidden); n > 1 {
		return strings.Join(s.hidden[:n-1], ", ") + " and " + s.hidden[n-1]
	}
	return s.hidden[0]
}

func (s *sheetReader) read() error {
	rows, err := s.f.Rows(s.sheet)
	if err != nil {
		return err
	}
	defer rows.Close()
	width := 0
	for n := 1; rows.Next(); n++ {
		cells, err := rows.Columns(excelize.Options{RawCellValue: true})
		if err != nil {
			return fmt.Errorf("row %d: %w", n, err)
		}
		s.cells += len(cells) + 1
		switch {
		case n > s.lim.rows:
			return fmt.Errorf("has more than %d rows", s.lim.rows)
		case len(cells) > s.lim.columns:
			return fmt.Errorf("row %d: has more than %d columns", n, s.lim.columns)
		case s.cells > s.lim.cells:
			return fmt.Errorf("row %d: more than %d cells up to here", n, s.lim.cells)
		}
		if rows.GetRowOpts().Hidden && len(cells) > 0 {
			s.hidden = append(s.hidden, fmt.Sprintf("row %d", n))
		}
		kinds := make([]cellKind, len(cells))
		for col := range cells {
			if cells[col], kinds[col], err = s.cell(n, col, cells[col]); err != nil {
				return fmt.Errorf("row %d, column %s: %w", n, letters(col), err)
			}
		}
		width = max(width, len(cells))
		s.rows, s.kinds = append(s.rows, cells), append(s.kinds, kinds)
	}
	for len(s.rows) > 0 && len(s.rows[len(s.rows)-1]) == 0 {
		s.rows, s.kinds = s.rows[:len(s.rows)-1], s.kinds[:len(s.kinds)-1]
	}
	for col := range width {
		if visible, err := s.f.GetColVisible(s.sheet, letters(col)); err == nil && !visible {
			s.hidden = append(s.hidden, "column "+letters(col))
		}
	}
	return rows.Error()
}

// cell tells what a cell holds, by its type and style. Text that looks like no
// number, date or error is text; only the others are looked up, and of blank
// cells whether they are formulas whose value is not in the file.
func (s *sheetReader) cell(row, col int, text string) (string, cellKind, error) {
	if text == "" {
		at, err := excelize.CoordinatesToCellName(col+1, row)
		if err != nil {
			return "", kindText, err
		}
		if formula, err := s.f.GetCellFormula(s.sheet, at); err == nil && formula != "" {
			return "", kindNoValue, nil
		}
		return "", kindText, nil
	}
	x, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	number := err == nil && !math.IsNaN(x) && !math.IsInf(x, 0)
	if !number && !strings.HasPrefix(text, "#") && text != "TRUE" && text != "FALSE" {
		return text, kindText, nil
	}
	at, err := excelize.CoordinatesToCellName(col+1, row)
	if err != nil {
		return "", kindText, err
	}
	kind, err := s.f.GetCellType(s.sheet, at)
	if err != nil {
		return "", kindText, err
	}
	switch kind {
	case excelize.CellTypeSharedString, excelize.CellTypeInlineString:
		return text, kindText, nil
	case excelize.CellTypeBool:
		if text == "1" {
			text = "TRUE"
		} else if text == "0" {
			text = "FALSE"
		}
		return text, kindBool, nil
	case excelize.CellTypeError:
		return text, kindError, nil
	case excelize.CellTypeDate:
		return text, kindDate, nil
	case excelize.CellTypeFormula:
		return text, kindText, nil // the text that a formula has come to
	}
	if !number {
		return text, kindText, nil
	}
	look, err := s.style(at)
	if err != nil {
		return "", kindText, err
	}
	switch look {
	case styleDate:
		if date, ok := dateText(x, s.from1904); ok {
			return date, kindDate, nil
		}
	case stylePercent:
		if y := x * 100; !math.IsInf(y, 0) {
			return numberText(y), kindPercent, nil
		}
	}
	return numberText(x), kindNumber, nil
}

// style tells what the style of a cell makes of its number.
func (s *sheetReader) style(at string) (numberStyle, error) {
	i, err := s.f.GetCellStyle(s.sheet, at)
	if err != nil {
		return styleNone, err
	}
	look, known := s.styles[i]
	if !known {
		style, err := s.f.GetStyle(i)
		switch {
		case err != nil || style == nil:
		case style.CustomNumFmt != nil:
			look = formatStyle(*style.CustomNumFmt)
		default:
			look = builtInStyle(style.NumFmt)
		}
		s.styles[i] = look
	}
	return look, nil
}

// merged lists cells merged over several rows of one column. Over several
// columns they are headings, and stay where they are.
func (s *sheetReader) merged() []mergedCell {
	cells, err := s.f.GetMergeCells(s.sheet)
	if err != nil {
		return nil
	}
	var out []mergedCell
	for _, m := range cells {
		c1, r1, err1 := excelize.CellNameToCoordinates(m.GetStartAxis())
		c2, r2, err2 := excelize.CellNameToCoordinates(m.GetEndAxis())
		if err1 == nil && err2 == nil && c1 == c2 && r1 < r2 && r1 <= len(s.rows) {
			out = append(out, mergedCell{col: c1 - 1, first: r1 - 1, last: min(r2, len(s.rows)) - 1})
		}
	}
	return out
}
