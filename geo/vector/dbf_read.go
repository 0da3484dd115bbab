package vector

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// table is a .dbf file, read. Rows marked as deleted keep their place.
type table struct {
	columns []Column
	rows    [][]any
	deleted []bool
}

// dbfField is a field descriptor.
type dbfField struct {
	name   []byte
	kind   byte
	start  int // in the row, after the deletion mark
	length int
	digits int // after the point
	column int // in table.columns, or -1 where it is not read
}

// readTable reads a .dbf file (dBASE III and what grew from it) of count rows.
// given and page name its code page: what the user says, and the .cpg file's
// text; both may be "". note is told what was left out or guessed.
func readTable(data []byte, count int, given, page string, note func(place, what string)) (*table, error) {
	fields, rows, err := dbfFrame(data, count)
	if err != nil {
		return nil, err
	}
	dec, what, err := codePage(given, page, data[29], dbfText(fields, rows))
	if err != nil {
		return nil, err
	}
	if what != "" {
		note("", what)
	}
	t := &table{}
	for i := range fields {
		f := &fields[i]
		name := dec(f.name)
		f.column = -1
		kind, ok := dbfType(f)
		if !ok {
			note("", fmt.Sprintf("column %q is of type %q, which is not read; left out", name, string(rune(f.kind))))
			continue
		}
		f.column = len(t.columns)
		t.columns = append(t.columns, Column{Name: name, Type: kind})
	}
	if len(rows)*len(t.columns) > maxCells {
		return nil, fmt.Errorf("%d rows of %d columns are too large a table", len(rows), len(t.columns))
	}
	whole := make([]bool, len(t.columns)) // columns of numbers that hold none broken
	for i := range whole {
		whole[i] = true
	}
	for n, row := range rows {
		values := make([]any, len(t.columns))
		gone := row[0] == '*'
		for _, f := range fields {
			if f.column < 0 || gone {
				continue
			}
			v, what, err := dbfValue(f.kind, row[f.start:f.start+f.length], dec)
			if err != nil {
				return nil, fmt.Errorf("row %d, column %q: %w", n+1, t.columns[f.column].Name, err)
			}
			if what != "" {
				note(fmt.Sprintf("row %d, column %q", n+1, t.columns[f.column].Name), what)
			}
			if _, ok := v.(float64); ok {
				whole[f.column] = false
			}
			values[f.column] = v
		}
		t.rows = append(t.rows, values)
		t.deleted = append(t.deleted, gone)
	}
	for i := range t.columns {
		if t.columns[i].Type == Int && !whole[i] {
			t.columns[i].Type = Float
		}
	}
	return t, nil
}

// dbfFrame proves the header and lengths, and cuts the file into rows.
func dbfFrame(data []byte, want int) ([]dbfField, [][]byte, error) {
	if len(data) < 33 {
		return nil, nil, errors.New("the header is cut short")
	}
	count := int64(binary.LittleEndian.Uint32(data[4:]))
	head := int(binary.LittleEndian.Uint16(data[8:]))
	width := int(binary.LittleEndian.Uint16(data[10:]))
	if head > len(data) || head < 33 {
		return nil, nil, fmt.Errorf("the header states a length of %d bytes in a file of %d", head, len(data))
	}
	var fields []dbfField
	plain, wide := 1, 1
	for at := 32; at < head && data[at] != '\r'; at += 32 {
		if at+32 > head {
			return nil, nil, errors.New("the list of columns is cut short")
		}
		b := data[at : at+32]
		name, _, _ := bytes.Cut(b[:11], []byte{0})
		f := dbfField{name: bytes.TrimSpace(name), kind: b[11], length: int(b[16]), digits: int(b[17])}
		plain += f.length
		wide += f.length
		if f.kind == 'C' {
			wide += f.digits << 8
		}
		fields = append(fields, f)
	}
	// Texts of more than 255 bytes have the rest of their length where
	// numbers have their decimals. Only the sum tells who does so.
	long := plain != width && wide == width
	if plain != width && !long {
		return nil, nil, fmt.Errorf("a row is %d bytes long but its columns take %d", width, plain)
	}
	at := 1
	for i := range fields {
		f := &fields[i]
		if long && f.kind == 'C' {
			f.length += f.digits << 8
		}
		f.start = at
		at += f.length
	}
	body := data[head:]
	if have := int64(len(body) / width); count > have {
		return nil, nil, fmt.Errorf("row %d of %d is cut short", have+1, count)
	}
	if count != int64(want) {
		return nil, nil, fmt.Errorf("%d rows for %d records; they are not of one export", count, want)
	}
	rows := make([][]byte, count)
	for i := range rows {
		rows[i] = body[i*width : (i+1)*width]
	}
	return fields, rows, nil
}

// dbfText returns every text of the table, by which codePage tells UTF-8.
func dbfText(fields []dbfField, rows [][]byte) func(yield func([]byte) bool) {
	return func(yield func([]byte) bool) {
		for _, f := range fields {
			if !yield(f.name) {
				return
			}
		}
		for _, row := range rows {
			for _, f := range fields {
				if f.kind == 'C' && row[0] != '*' && !yield(trimText(row[f.start:f.start+f.length])) {
					return
				}
			}
		}
	}
}

// trimText drops the padding: blanks, and the NUL bytes of careless writers.
func trimText(b []byte) []byte {
	if i := bytes.IndexByte(b, 0); i >= 0 {
		b = b[:i]
	}
	return bytes.TrimRight(b, " ")
}

func dbfType(f *dbfField) (Type, bool) {
	switch {
	case f.kind == 'C':
		return Text, true
	case (f.kind == 'N' || f.kind == 'F') && f.digits > 0:
		return Float, true
	case f.kind == 'N' || f.kind == 'F':
		return Int, true // until a broken number is met
	case f.kind == 'I' && f.length == 4:
		return Int, true
	case f.kind == 'L' && f.length == 1:
		return Bool, true
	case f.kind == 'D':
		return Date, true
	}
	return Text, false
}

// dbfValue reads one cell; nil is an empty one. what tells of a value that was
// taken as missing.
func dbfValue(kind byte, cell []byte, dec func([]byte) string) (v any, what string, err error) {
	if kind == 'I' {
		return int64(int32(binary.LittleEndian.Uint32(cell))), "", nil
	}
	s := string(bytes.Trim(trimText(cell), " "))
	switch kind {
	case 'C':
		// Blanks before a text are kept: they may be meant.
		if b := trimText(cell); len(b) > 0 {
			return dec(b), "", nil
		}
		return nil, "", nil
	case 'L':
		switch s {
		case "T", "t", "Y", "y":
			return true, "", nil
		case "F", "f", "N", "n":
			return false, "", nil
		case "", "?":
			return nil, "", nil
		}
		return nil, "", fmt.Errorf("%q is neither yes nor no", s)
	case 'D':
		if s == "" || s == "00000000" || s == "0" {
			return nil, "", nil
		}
		if len(s) != 8 || strings.Trim(s, "0123456789") != "" {
			return nil, "", fmt.Errorf("%q is not a date", dec([]byte(s)))
		}
		return s[:4] + "-" + s[4:6] + "-" + s[6:], "", nil
	}
	switch {
	case s == "":
		return nil, "", nil
	case strings.Trim(s, "*") == "": // so some tools, GDAL among them, write null
		return nil, "", nil
	case strings.EqualFold(strings.TrimLeft(s, "+-"), "nan"):
		return nil, "not a number (nan); taken as missing", nil
	case strings.Trim(s, "+-.0123456789eE") != "":
		return nil, "", fmt.Errorf("%q is not a number", dec([]byte(s)))
	}
	if i, err := strconv.ParseInt(s, 10, 64); err == nil {
		return i, "", nil
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(f, 0) {
		return nil, "", fmt.Errorf("%q is not a number", s)
	}
	return f, "", nil
}
