package lab

import (
	"fmt"
	"strings"
)

// headRows is how many rows at the top are looked at for the delimiter and for
// the header.
const headRows = 200

// sepLine takes a leading "sep=;" line off the text. The delimiter is 0 when
// there is none.
func sepLine(text string) (rest string, delim byte, err error) {
	line := text
	if i := strings.IndexAny(text, "\r\n"); i >= 0 {
		line = text[:i]
	}
	s := strings.Trim(line, `" `)
	if len(s) < 4 || !strings.EqualFold(s[:4], "sep=") {
		return text, 0, nil
	}
	// A comma file may carry the line through a save, with delimiters added.
	mark := s[4:]
	if mark == "" || !strings.Contains(",;\t|", mark[:1]) {
		return "", 0, fmt.Errorf("row 1: %q names no delimiter known here: use comma, semicolon, tab or bar", line)
	}
	rest = text[len(line):]
	if strings.HasPrefix(rest, "\r\n") {
		rest = rest[2:]
	} else if rest != "" {
		rest = rest[1:]
	}
	return rest, mark[0], nil
}

// splitRows cuts text into rows of cells. Quotes follow RFC 4180, with spaces
// allowed around a quoted cell; a quote inside a bare cell is an ordinary
// character. CR, LF and CRLF end a row; in a quoted cell they become LF. At most
// lim.rows rows are read when stop is set; otherwise more rows are an error.
// Empty lines at the end of the file are no rows. The rows above an error come
// with it.
func splitRows(text string, delim byte, lim limits, stop bool) ([][]string, error) {
	var rows [][]string
	// Rows are cut from large blocks: one allocation for each takes longer than
	// the splitting.
	var scratch, block []string
	cells, last, size := 0, 0, 32
	for i := 0; i < len(text); {
		if len(rows) == lim.rows {
			if stop {
				break
			}
			return rows, fmt.Errorf("has more than %d rows", lim.rows)
		}
		row, next, err := splitRow(scratch[:0], text, i, delim, lim.columns)
		if err != nil {
			return rows, fmt.Errorf("row %d: %w", len(rows)+1, err)
		}
		i = next
		if cells += len(row); cells > lim.cells {
			return rows, fmt.Errorf("row %d: more than %d cells up to here", len(rows)+1, lim.cells)
		}
		scratch = row
		if len(block) < len(row) {
			size = min(2*size, 4096)
			block = make([]string, max(size, len(row)))
		}
		n := copy(block, row)
		row, block = block[:n:n], block[n:]
		rows = append(rows, row)
		if len(row) > 1 || row[0] != "" {
			last = len(rows)
		}
	}
	return rows[:last], nil
}

// splitRow appends the cells of the row that begins at text[i] to row and
// returns where the next one begins.
func splitRow(row []string, text string, i int, delim byte, maxColumns int) (_ []string, next int, err error) {
	for {
		if len(row) == maxColumns {
			return nil, 0, fmt.Errorf("has more than %d columns", maxColumns)
		}
		var cell string
		if q := skipSpaces(text, i); q < len(text) && text[q] == '"' {
			if cell, i, err = quoted(text, q); err != nil {
				return nil, 0, err
			}
			i = skipSpaces(text, i)
			if i < len(text) && text[i] != delim && text[i] != '\r' && text[i] != '\n' {
				return nil, 0, fmt.Errorf("after the quoted cell %s comes more text: a quote is missing or should be doubled", show(cell))
			}
		} else {
			end := i
			for end < len(text) && text[end] != delim && text[end] != '\r' && text[end] != '\n' {
				end++
			}
			cell, i = text[i:end], end
		}
		row = append(row, cell)
		switch {
		case i >= len(text):
			return row, i, nil
		case text[i] == delim:
			i++
		case strings.HasPrefix(text[i:], "\r\n"):
			return row, i + 2, nil
		default:
			return row, i + 1, nil
		}
	}
}

// quoted reads the cell whose opening quote is text[i].
func quoted(text string, i int) (cell string, next int, err error) {
	var parts strings.Builder
	rest := text[i+1:]
	for {
		end := strings.IndexByte(rest, '"')
		if end < 0 {
			return "", 0, fmt.Errorf("a quote opened before %s is never closed", show(text[i+1:]))
		}
		cell, rest = rest[:end], rest[end+1:]
		if !strings.HasPrefix(rest, `"`) {
			break
		}
		parts.WriteString(cell)
		parts.WriteByte('"')
		rest = rest[1:]
	}
	if parts.Len() > 0 {
		parts.WriteString(cell)
		cell = parts.String()
	}
	if strings.IndexByte(cell, '\r') >= 0 {
		cell = strings.ReplaceAll(strings.ReplaceAll(cell, "\r\n", "\n"), "\r", "\n")
	}
	return cell, len(text) - len(rest), nil
}

func skipSpaces(text string, i int) int {
	for i < len(text) && text[i] == ' ' {
		i++
	}
	return i
}

// swallowed finds a quoted cell that has taken in rows of the table, as happens
// when one quote is missing and a later one closes the cell.
func swallowed(rows [][]string, width int, delim byte) error {
	if width < 4 {
		return nil // too narrow to tell from a remark of two lines
	}
	for n, row := range rows {
		for _, cell := range row {
			if !strings.Contains(cell, "\n") {
				continue
			}
			for line := range strings.SplitSeq(cell, "\n") {
				if strings.Count(line, string(rune(delim))) >= width-1 {
					return fmt.Errorf("row %d: the quoted cell that begins %s holds whole rows: a quote is missing", n+1, show(cell))
				}
			}
		}
	}
	return nil
}

// show quotes text of the file for a message: short, on one line, and without
// control characters. Plain words go unquoted.
func show(s string) string {
	const most = 40
	cut := false
	if len(s) > 4*most {
		s, cut = s[:4*most], true
	}
	if r := []rune(s); len(r) > most {
		s, cut = string(r[:most]), true
	}
	plain := s != "" && !cut
	for _, c := range s {
		if !(c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || strings.ContainsRune("-_./", c)) {
			plain = false
		}
	}
	switch {
	case plain:
		return s
	case cut:
		return fmt.Sprintf("%q...", s)
	}
	return fmt.Sprintf("%q", s)
}
