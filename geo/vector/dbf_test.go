package vector

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"
	"testing"
)

// dbfColumnSpec is a column of a table made for a test.
type dbfColumnSpec struct {
	name          string
	kind          byte
	width, digits int
}

func makeDBF(driver byte, columns []dbfColumnSpec, rows ...string) []byte {
	width := 1
	for _, c := range columns {
		width += c.width
	}
	b := make([]byte, 32)
	b[0], b[29] = 3, driver
	binary.LittleEndian.PutUint32(b[4:], uint32(len(rows)))
	binary.LittleEndian.PutUint16(b[8:], uint16(33+32*len(columns)))
	binary.LittleEndian.PutUint16(b[10:], uint16(width))
	for _, c := range columns {
		d := make([]byte, 32)
		copy(d[:11], c.name)
		d[11], d[16], d[17] = c.kind, byte(c.width), byte(c.digits)
		if c.kind == 'C' {
			d[17] = byte(c.width >> 8)
		}
		b = append(b, d...)
	}
	b = append(b, '\r')
	for _, r := range rows {
		b = append(b, r...)
	}
	return append(b, 0x1a)
}

func readDBF(data []byte, given, page string) (*table, []string, error) {
	var notes []string
	count := 0
	if len(data) > 8 {
		count = int(binary.LittleEndian.Uint32(data[4:]))
	}
	t, err := readTable(data, count, given, page, func(place, what string) {
		notes = append(notes, strings.TrimPrefix(place+": "+what, ": "))
	})
	return t, notes, err
}

func TestTableValues(t *testing.T) {
	columns := []dbfColumnSpec{{"ID", 'C', 6, 0}, {"N", 'N', 6, 0}, {"X", 'N', 8, 3}, {"F", 'F', 8, 2}, {"L", 'L', 1, 0}, {"D", 'D', 8, 0}, {"I", 'I', 4, 0}}
	data := makeDBF(0, columns,
		" 0012  "+"    12"+"   1.500"+"1.25e+01"+"T"+"20240503"+"\x01\x00\x00\x00",
		" 7\x00\x00\x00\x00\x00"+"    -7"+"      2."+"     nan"+"f"+"        "+"\xff\xff\xff\xff",
		"*xxxxxx"+"??????"+"????????"+"????????"+"!"+"????????"+"\x00\x00\x00\x00",
		"       "+"******"+"        "+"********"+"?"+"00000000"+"\x00\x00\x00\x80",
		"  a b  "+"000005"+"       3"+"\x00\x00\x00\x00\x00\x00\x00\x00"+" "+"20241231"+"\x00\x00\x00\x00")
	got, notes, err := readDBF(data, "", "")
	if err != nil {
		t.Fatal(err)
	}
	if want := "[{ID text} {N whole number} {X number} {F number} {L yes or no} {D date} {I whole number}]"; fmt.Sprint(got.columns) != want {
		t.Errorf("columns %v", got.columns)
	}
	want := [][]any{
		{"0012", int64(12), 1.5, 12.5, true, "2024-05-03", int64(1)},
		{"7", int64(-7), 2.0, nil, false, nil, int64(-1)},
		{nil, nil, nil, nil, nil, nil, nil},
		{nil, nil, nil, nil, nil, nil, int64(-2147483648)},
		{" a b", int64(5), int64(3), nil, nil, "2024-12-31", int64(0)},
	}
	for i := range want {
		if fmt.Sprintf("%#v", got.rows[i]) != fmt.Sprintf("%#v", want[i]) {
			t.Errorf("row %d: %#v, want %#v", i+1, got.rows[i], want[i])
		}
	}
	if fmt.Sprint(got.deleted) != "[false false true false false]" {
		t.Errorf("deleted %v", got.deleted)
	}
	if fmt.Sprint(notes) != `[row 2, column "F": not a number (nan); taken as missing]` {
		t.Errorf("notes %q", notes)
	}
}

func TestTableRefused(t *testing.T) {
	one := func(kind byte, cell string) []byte {
		return makeDBF(0, []dbfColumnSpec{{"P", kind, len(cell), 0}}, " "+cell)
	}
	plain := one('C', "abc")
	set := func(at int, v byte) []byte {
		b := bytes.Clone(plain)
		b[at] = v
		return b
	}
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"empty", nil, "the header is cut short"},
		{"header", plain[:32], "the header is cut short"},
		{"columns cut", plain[:50], "the header states a length of 65 bytes in a file of 50"},
		{"row cut", plain[:len(plain)-2], "row 1 of 1 is cut short"},
		{"many rows", set(7, 0xff), "row 2 of 4278190081 is cut short"},
		{"no width", set(10, 0), "a row is 0 bytes long but its columns take 4"},
		{"narrow", set(10, 3), "a row is 3 bytes long but its columns take 4"},
		{"header too short", set(8, 40), "the list of columns is cut short"},
		{"number", one('N', "1,5"), `row 1, column "P": "1,5" is not a number`},
		{"number and text", one('N', "1x"), `"1x" is not a number`},
		{"infinite", one('N', "1e999"), `"1e999" is not a number`},
		{"infinity", one('F', "Inf"), `"Inf" is not a number`},
		{"hexadecimal", one('N', "0x1p2"), "is not a number"},
		{"yes or no", one('L', "x"), `"x" is neither yes nor no`},
		{"date", one('D', "2024-5-3"), `"2024-5-3" is not a date`},
	} {
		if _, _, err := readDBF(c.data, "", ""); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func TestTableOddColumns(t *testing.T) {
	data := makeDBF(0, []dbfColumnSpec{{"A", 'C', 2, 0}, {"MEMO", 'M', 10, 0}, {"LONG", 'C', 300, 0}}, " ab"+strings.Repeat("0", 10)+strings.Repeat("x", 300))
	got, notes, err := readDBF(data, "", "")
	if err != nil {
		t.Fatal(err)
	}
	if len(got.columns) != 2 || got.rows[0][0] != "ab" || got.rows[0][1] != strings.Repeat("x", 300) {
		t.Errorf("%v %v", got.columns, got.rows)
	}
	if fmt.Sprint(notes) != `[column "MEMO" is of type "M", which is not read; left out]` {
		t.Errorf("%q", notes)
	}
	// No columns and no rows is a table too.
	if got, _, err := readDBF(makeDBF(0, nil), "", ""); err != nil || len(got.rows) != 0 {
		t.Errorf("%v %v", got, err)
	}
}

func TestTableCodePage(t *testing.T) {
	const latin, utf, dos, cyrillic = "Gr\xfcn  ", "Grün ", "Gr\x81n  ", "\xcf\xee\xeb\xe5  "
	for _, c := range []struct {
		name        string
		driver      byte
		given, page string
		cell, want  string
		note        string
	}{
		{"nothing said, utf-8", 0, "", "", utf, "Grün", ""},
		{"nothing said, latin", 0, "", "", latin, "Grün", "the code page is not stated; read as Windows-1252"},
		{"nothing said, ascii", 0, "", "", "Grun  ", "Grun", ""},
		{"cpg", 0, "", "ISO-8859-1", latin, "Grün", ""},
		{"cpg with line end", 0, "", "ISO 88591\r\n", latin, "Grün", ""},
		{"cpg number", 0, "", "1252", latin, "Grün", ""},
		{"cpg ansi number", 0, "", "ANSI 1252", latin, "Grün", ""},
		{"cpg oem", 0, "", "OEM 850", dos, "Grün", ""},
		{"cpg cyrillic", 0, "", "cp1251", cyrillic, "Поле", ""},
		{"cpg utf-8", 0x57, "", "UTF-8", utf, "Grün", ""},
		{"cpg 65001", 0x57, "", "65001", utf, "Grün", ""},
		{"cpg before driver", 0x01, "", "1252", latin, "Grün", ""},
		{"lying cpg", 0, "", "UTF-8", latin, "Grün", "the .cpg file says UTF-8 but the texts are not; read as Windows-1252"},
		{"unknown cpg", 0, "", "KLINGON", latin, "Grün", `the .cpg file names a code page "KLINGON" that is not known; read as Windows-1252`},
		{"unknown cpg, utf-8", 0, "", "KLINGON", utf, "Grün", `the .cpg file names a code page "KLINGON" that is not known; read as UTF-8`},
		{"unknown cpg, driver", 2, "", "KLINGON", dos, "Grün", `the .cpg file names a code page "KLINGON" that is not known; used the one of the table's header`},
		{"unknown cpg, ascii", 0, "", "KLINGON", "Grun  ", "Grun", ""},
		{"driver 1252", 0x57, "", "", latin, "Grün", ""},
		{"driver 850", 0x02, "", "", dos, "Grün", ""},
		{"driver 1251", 0xc9, "", "", cyrillic, "Поле", ""},
		{"given", 0x57, "850", "UTF-8", dos, "Grün", ""},
		{"given utf-8", 0x57, "utf8", "", utf, "Grün", ""},
		{"cut character", 0, "", "UTF-8", "Grunü"[:5] + " ", "Grun", ""},
	} {
		width := len(c.cell)
		if c.name == "cut character" {
			width--
		}
		data := makeDBF(c.driver, []dbfColumnSpec{{"P", 'C', width, 0}}, " "+c.cell[:width])
		got, notes, err := readDBF(data, c.given, c.page)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if got.rows[0][0] != c.want || strings.Join(notes, "|") != c.note {
			t.Errorf("%s: %q, %q, want %q, %q", c.name, got.rows[0][0], notes, c.want, c.note)
		}
	}
	data := makeDBF(0, []dbfColumnSpec{{"P", 'C', 6, 0}}, " "+latin)
	for _, given := range []string{"utf-8", "klingon", "cp99999"} {
		if _, _, err := readDBF(data, given, ""); err == nil {
			t.Errorf("encoding %q was taken", given)
		}
	}
}
