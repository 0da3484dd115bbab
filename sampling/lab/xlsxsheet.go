package lab

import (
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// sheetReader gathers the cells of a sheet.
type sheetReader struct {
	w      *workbook
	lim    limits
	rows   [][]string
	kinds  [][]cellKind
	spans  []mergedCell
	cells  int
	row    int // number of the row that is read, from 1
	hidden string
	hides  struct{ rows, columns []string }
}

// read takes one start tag of the sheet.
func (s *sheetReader) read(e xml.StartElement, in *xmlScanner) error {
	switch e.Name.Local {
	case "col":
		if isTrue(attr(e, "hidden")) {
			s.hides.columns = append(s.hides.columns, columnsText(attr(e, "min"), attr(e, "max")))
		}
	case "row":
		n := s.row + 1
		if r := attr(e, "r"); r != "" {
			var err error
			if n, err = strconv.Atoi(r); err != nil || n <= s.row {
				return fmt.Errorf("row %s comes after row %d: the file is damaged", show(r), s.row)
			}
		}
		if n > s.lim.rows {
			return fmt.Errorf("has more than %d rows", s.lim.rows)
		}
		s.row = n
		if isTrue(attr(e, "hidden")) {
			s.hides.rows = append(s.hides.rows, strconv.Itoa(n))
		}
	case "c":
		return s.cell(e, in)
	case "mergeCell":
		return s.merge(attr(e, "ref"))
	}
	return nil
}

// cell reads a cell and keeps it unless it is blank.
func (s *sheetReader) cell(e xml.StartElement, in *xmlScanner) error {
	if s.row == 0 {
		return fmt.Errorf("has a cell outside of the rows: the file is damaged")
	}
	col := 0
	if len(s.rows) == s.row {
		col = len(s.rows[s.row-1])
	}
	if ref := attr(e, "r"); ref != "" {
		var ok bool
		if col, _, ok = cellRef(ref); !ok {
			return fmt.Errorf("row %d: %s is no cell: the file is damaged", s.row, show(ref))
		}
	}
	if col >= s.lim.columns {
		return fmt.Errorf("row %d: has more than %d columns", s.row, s.lim.columns)
	}
	var value, inline string
	formula := false
	for depth := 1; depth > 0; {
		token, err := in.next()
		if err != nil {
			return noEOF(err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "v":
				value, err = plainText(in)
			case "is":
				inline, err = richText(in)
			default:
				formula = formula || e.Name.Local == "f"
				depth++
			}
			if err != nil {
				return err
			}
		case xml.EndElement:
			depth--
		}
	}
	text, kind, err := s.w.cellText(attr(e, "t"), attr(e, "s"), value, inline)
	if err != nil {
		return fmt.Errorf("row %d, column %s: %w", s.row, letters(col), err)
	}
	if formula && kind == kindNumber && text == "" {
		kind = kindNoValue
	}
	if text == "" && kind != kindNoValue {
		return nil
	}
	return s.put(col, text, kind)
}

// cellText makes text of a cell of type t with the style of number style.
func (w *workbook) cellText(t, style, value, inline string) (text string, kind cellKind, err error) {
	switch t {
	case "s":
		if value == "" {
			return "", kindText, nil
		}
		n, err := strconv.Atoi(strings.TrimSpace(value))
		if err != nil || n < 0 || n >= len(w.texts) {
			return "", kindText, fmt.Errorf("names text %s of %d: the file is damaged", show(value), len(w.texts))
		}
		return w.texts[n], kindText, nil
	case "str":
		return unescape(value), kindText, nil
	case "inlineStr":
		return inline, kindText, nil
	case "b":
		if strings.TrimSpace(value) == "" {
			return "", kindBool, nil
		}
		if isTrue(strings.TrimSpace(value)) {
			return "TRUE", kindBool, nil
		}
		return "FALSE", kindBool, nil
	case "e":
		return value, kindError, nil
	case "d":
		return value, kindDate, nil
	}
	value = strings.TrimSpace(value)
	if value == "" {
		return "", kindNumber, nil
	}
	x, err := strconv.ParseFloat(value, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return value, kindText, nil // it comes out as no number
	}
	look := styleNone
	if n, err := strconv.Atoi(style); err == nil && n >= 0 && n < len(w.styles) {
		look = w.styles[n]
	}
	switch look {
	case styleDate:
		if text, ok := dateText(x, w.from1904); ok {
			return text, kindDate, nil
		}
	case stylePercent:
		if y := x * 100; !math.IsInf(y, 0) {
			return numberText(y), kindPercent, nil
		}
	}
	return numberText(x), kindNumber, nil
}

// put keeps a cell.
func (s *sheetReader) put(col int, text string, kind cellKind) error {
	for len(s.rows) < s.row {
		s.rows, s.kinds = append(s.rows, nil), append(s.kinds, nil)
		s.cells++
	}
	row, kinds := &s.rows[s.row-1], &s.kinds[s.row-1]
	if more := col + 1 - len(*row); more > 0 {
		s.cells += more
		if s.cells > s.lim.cells {
			return fmt.Errorf("row %d: more than %d cells up to here", s.row, s.lim.cells)
		}
		*row, *kinds = append(*row, make([]string, more)...), append(*kinds, make([]cellKind, more)...)
	}
	(*row)[col], (*kinds)[col] = text, kind
	return nil
}

// merge keeps what a merged cell says of rows. Over several columns it is a
// heading, and stays where it is.
func (s *sheetReader) merge(ref string) error {
	from, to, ok := strings.Cut(ref, ":")
	c1, r1, ok1 := cellRef(from)
	c2, r2, ok2 := cellRef(to)
	if !ok || !ok1 || !ok2 || r1 < 1 || r2 < r1 || c2 < c1 {
		return fmt.Errorf("merges %s, which are no cells: the file is damaged", show(ref))
	}
	if r1 == r2 || c1 >= s.lim.columns || c1 != c2 {
		return nil
	}
	if len(s.spans) == 100_000 {
		return fmt.Errorf("has more than 100000 merged cells")
	}
	s.spans = append(s.spans, mergedCell{col: c1, first: r1 - 1, last: r2 - 1})
	return nil
}

// grid returns the cells once all are read.
func (s *sheetReader) grid() *grid {
	var parts []string
	for _, p := range []struct {
		what string
		list []string
	}{{"row", s.hides.rows}, {"column", s.hides.columns}} {
		if len(p.list) > 0 {
			parts = append(parts, countOf(p.what, p.list))
		}
	}
	if len(parts) > 0 {
		s.hidden = strings.Join(parts, " and ")
		if len(s.hides.rows)+len(s.hides.columns) == 1 && !strings.Contains(s.hidden, " to ") {
			s.hidden += " is"
		} else {
			s.hidden += " are"
		}
	}
	spans := s.spans[:0:0]
	for _, m := range s.spans {
		if m.first < len(s.rows) {
			m.last = min(m.last, len(s.rows)-1)
			spans = append(spans, m)
		}
	}
	return &grid{rows: s.rows, kinds: s.kinds, spans: spans, commas: true}
}

// countOf writes a list of rows or columns for a message.
func countOf(what string, list []string) string {
	n := len(list)
	if n > 1 || strings.Contains(list[0], " ") {
		what += "s"
	}
	const most = 20
	if n > most {
		return fmt.Sprintf("%s %s and %d more", what, strings.Join(list[:most], ", "), n-most)
	}
	return what + " " + strings.Join(list, ", ")
}

// columnsText names a range of columns, given by number from 1.
func columnsText(first, last string) string {
	a, err1 := strconv.Atoi(first)
	b, err2 := strconv.Atoi(last)
	switch {
	case err1 != nil || a < 1 || a > 1<<20:
		return "?"
	case err2 != nil || b <= a || b > 1<<20:
		return letters(a - 1)
	}
	return letters(a-1) + " to " + letters(b-1)
}

// cellRef reads "B7" as column 1, from 0, and row 7.
func cellRef(ref string) (col, row int, ok bool) {
	ref = strings.ReplaceAll(ref, "$", "")
	i := 0
	for i < len(ref) && i < 4 && (ref[i] >= 'A' && ref[i] <= 'Z' || ref[i] >= 'a' && ref[i] <= 'z') {
		col = col*26 + int(ref[i]&^0x20-'A') + 1
		i++
	}
	row, err := strconv.Atoi(ref[i:])
	return col - 1, row, i > 0 && err == nil && row >= 1
}
