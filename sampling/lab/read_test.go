package lab

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

func TestReadTableErrors(t *testing.T) {
	long := strings.Repeat("A1,6.5,1,2\n", 20)
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "f: is empty"},
		{"blank", "\ufeff \r\n\n", "f: is empty"},
		{"xlsx", "PK\x03\x04rest", "f: is a zip file or a spreadsheet (xlsx): save it as CSV"},
		{"xls", "\xd0\xcf\x11\xe0rest", "f: is an old spreadsheet (xls): save it as CSV"},
		{"pdf", "%PDF-1.4", "f: is a PDF: save it as CSV"},
		{"nul", "I\x00D\x00,\x00p\x00H\x00", "f: holds NUL bytes: it is no text file, or UTF-16 without its byte order mark; save it as CSV in UTF-8"},
		{"odd utf-16", "\xff\xfeI\x00D", "f: ends in the middle of a character (utf-16le): it was cut short"},
		{"sep", "sep=x\nID,pH\n", `f: row 1: "sep=x" names no delimiter known here: use comma, semicolon, tab or bar`},
		{"no header", "hello\nworld\n", "f: no header in the first 2 rows: none names a column of sample ids (such as Sample ID) and an analyte (such as pH or P)"},
		{"open quote", "Sample ID,pH\nA1,\"6.5\nA2,6\n", `f: row 2: a quote opened before "6.5\nA2,6\n" is never closed`},
		{"text after quote", "Sample ID,pH\nA1,\"6.5\"x\n", `f: row 2: after the quoted cell 6.5 comes more text: a quote is missing or should be doubled`},
		{"swallowed rows", "Sample ID,pH,P,K\n" + "A0,\"6.5,1,2\n" + long + "A9,\"6.5\",1,2\n", `f: row 2: after the quoted cell "6.5,1,2\nA1,6.5,1,2\nA1,6.5,1,2\nA1,6.5,1,2"... comes more text: a quote is missing or should be doubled`},
		{"swallowed whole rows", "Sample ID,pH,P,K\n" + "A0,6.5,1,\"2\n" + long + "A9,6.5,1,\"\n", ``},
		{"swallowed and closed", "Sample ID,pH,P,K,Note\n" + "A0,6.5,1,2,\"wet\n" + strings.Repeat("A1,6.5,1,2,\n", 3) + "A9,6.5,1,2,dry\"\n", `f: row 2: the quoted cell that begins "wet\nA1,6.5,1,2,\nA1,6.5,1,2,\nA1,6.5,1,2,\n"... holds whole rows: a quote is missing`},
	} {
		_, err := ReadTable(strings.NewReader(c.text), "f")
		switch {
		case err == nil:
			t.Errorf("%s: no error", c.name)
		case c.want != "" && err.Error() != c.want:
			t.Errorf("%s: got\n%v\nwant\n%s", c.name, err, c.want)
		}
	}
}

func TestLimits(t *testing.T) {
	text := "Sample ID,pH,P\nA1,6,1\nA2,6,1\nA3,6,1\n"
	for _, c := range []struct {
		lim  limits
		want string
	}{
		{limits{bytes: len(text), rows: 4, columns: 3, cells: 12}, ""},
		{limits{bytes: len(text) - 1, rows: 4, columns: 3, cells: 12}, "is larger than 35 bytes: this is no lab file, or it should be split"},
		{limits{bytes: 999, rows: 3, columns: 3, cells: 12}, "has more than 3 rows"},
		{limits{bytes: 999, rows: 4, columns: 2, cells: 12}, "row 1: has more than 2 columns"},
		{limits{bytes: 999, rows: 4, columns: 3, cells: 11}, "row 4: more than 11 cells up to here"},
	} {
		_, err := readTable(strings.NewReader(text), "f", c.lim)
		if got := fmt.Sprint(err); got != c.want && (c.want != "" || err != nil) {
			t.Errorf("%+v: got %v, want %s", c.lim, err, c.want)
		}
	}
}

func TestHeaderRow(t *testing.T) {
	for _, c := range []struct {
		text          string
		header, units int
	}{
		{"Sample ID,pH\nA1,6\n", 1, 0},
		{"Sample ID,pH\n", 1, 0},
		{"Samples: 12,pH meter 4\n\nSample ID,pH\nA1,6\n", 3, 0},
		{"Sample,pH,P,Moisture\n,,ppm,n/k\nA1,6,5,3\n", 1, 2},
		{"Sample,pH,P\nUnits,s.u.,mg/kg\nA1,6,5\n", 1, 2},
		{"Sample,pH,P\n,ND,ND\nA1,6,5\n", 1, 0},
		{"Sample,pH,P\n,ppm,7\nA1,6,5\n", 1, 0},
		{"Sample,pH,P\nA1,ppm,ppm\nA1,6,5\n", 1, 0},
		{"Farm:,Smith\nplace,pH,P\nA1,6,5\n", 2, 0},
		{"x,y,lead\n1,2,3\n", 1, 0},
		{"x,y,lead\nm,m,mg/kg\n1,2,3\n", 1, 2},
		{"Report,,,\nDate,yesterday,,\nx,y,lead,gold\n1,2,3,4\n", 3, 0},
	} {
		table, err := ReadTable(strings.NewReader(c.text), "f")
		if err != nil {
			t.Errorf("%q: %v", c.text, err)
		} else if table.HeaderRow != c.header || table.UnitsRow != c.units {
			t.Errorf("%q: got header row %d, units row %d, want %d, %d", c.text, table.HeaderRow, table.UnitsRow, c.header, c.units)
		}
	}
}

func TestUnitsConflict(t *testing.T) {
	table, err := ReadTable(strings.NewReader("Sample,P (ppm),K (ppm),Ca\n,mg/kg,lb/ac,%\nA1,6,5,70\n"), "f")
	if err != nil {
		t.Fatal(err)
	}
	p, k, ca := table.Columns[1], table.Columns[2], table.Columns[3]
	if p.Note != "" || p.Unit != "ppm" {
		t.Errorf("ppm and mg/kg are at odds: %+v", p)
	}
	if k.Unit != "ppm" || k.Note != "the header says ppm, the row of units lb/ac; the header is taken" {
		t.Errorf("got %+v", k)
	}
	if ca.Analyte != "Ca saturation" {
		t.Errorf("percent of Ca is taken for %q", ca.Analyte)
	}
}

// dialect is one way of writing a table.
type dialect struct {
	delim, newline string
	bom            bool
	encoding       string
	sep            bool
	quoteAll       bool
}

func (d dialect) write(rng *rand.Rand, rows [][]string) []byte {
	var b strings.Builder
	if d.sep {
		b.WriteString("sep=" + d.delim + d.newline)
	}
	for _, row := range rows {
		for i, cell := range row {
			if i > 0 {
				b.WriteString(d.delim)
			}
			must := strings.ContainsAny(cell, d.delim+"\"\r\n") || strings.HasPrefix(cell, " ")
			if must || d.quoteAll || rng.IntN(8) == 0 {
				cell = `"` + strings.ReplaceAll(strings.ReplaceAll(cell, `"`, `""`), "\n", d.newline) + `"`
			}
			b.WriteString(cell)
		}
		b.WriteString(d.newline)
	}
	var enc encoding.Encoding = encoding.Nop
	var mark []byte
	switch d.encoding {
	case "utf-16le":
		enc = unicode.UTF16(unicode.LittleEndian, unicode.UseBOM)
	case "utf-16be":
		enc = unicode.UTF16(unicode.BigEndian, unicode.UseBOM)
	case "windows-1252":
		enc = charmap.Windows1252
	default:
		if d.bom {
			mark = []byte{0xEF, 0xBB, 0xBF}
		}
	}
	out, err := enc.NewEncoder().Bytes([]byte(b.String()))
	if err != nil {
		panic(err)
	}
	return append(mark, out...)
}

// Random tables in random dialects come back cell for cell.
func TestDialectsReadBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	letters := []string{"A", "b", "7", "0", ".", "-", " ", "é", "ü", "µ", ",", ";", "'", "\"", "\n", "<", "%"}
	for n := range 1500 {
		d := dialect{
			delim: []string{",", ";", "\t"}[rng.IntN(3)], newline: []string{"\n", "\r\n", "\r"}[rng.IntN(3)],
			bom: rng.IntN(2) == 0, encoding: []string{"utf-8", "utf-16le", "utf-16be", "windows-1252"}[rng.IntN(4)],
			sep: rng.IntN(4) == 0, quoteAll: rng.IntN(4) == 0,
		}
		header := []string{"Sample ID", "pH", "P (ppm)", "Remark", "Größe"}[:3+rng.IntN(3)]
		rows := [][]string{header}
		for range 1 + rng.IntN(12) {
			row := make([]string, len(header))
			row[0] = fmt.Sprintf("AB%02d", rng.IntN(100))
			row[1] = fmt.Sprintf("%d.%d", rng.IntN(9), rng.IntN(10))
			for i := 2; i < len(row); i++ {
				for range rng.IntN(6) {
					row[i] += letters[rng.IntN(len(letters))]
				}
			}
			rows = append(rows, row)
		}
		raw := d.write(rng, rows)
		table, err := ReadTable(bytes.NewReader(raw), "f")
		if err != nil {
			t.Fatalf("table %d, %+v: %v\n%q", n, d, err, raw)
		}
		if table.Delimiter != d.delim {
			t.Fatalf("table %d, %+v: delimiter %q\n%q", n, d, table.Delimiter, raw)
		}
		for i, c := range table.Columns {
			if c.Header != header[i] {
				t.Fatalf("table %d, %+v: header %q is %q", n, d, header[i], c.Header)
			}
		}
		if len(table.Rows) != len(rows)-1 {
			t.Fatalf("table %d, %+v: %d rows of %d\n%q", n, d, len(table.Rows), len(rows)-1, raw)
		}
		for i, row := range table.Rows {
			if row.Number != i+2 || !slices.Equal(row.Cells, rows[i+1]) {
				t.Fatalf("table %d, %+v: row %d is %q, want %q", n, d, row.Number, row.Cells, rows[i+1])
			}
		}
	}
}

func FuzzReadTableJoin(f *testing.F) {
	for _, text := range []string{
		"Sample ID,pH,P\nAB01C,6.5,<0.5\nAB02D,,\n,,\nTotal,1,2\nAB01C,7,1\nAB09,1,2,3\n",
		"sep=;\r\nID;pH;Depth (in)\r\nab-01 c;6,5;0-8\r\n\"AB02D\";\"1,234\";8-24\r\n",
		"\xff\xfeI\x00D\x00\t\x00p\x00H\x00\n\x00A\x001\x00\t\x006\x00",
		"x,y,lead\n1,2,3\n4,,5\n", "Lab,x\n\n,Sample,pH,K\n,,,ppm\n,A-1-11,1,ND\n",
	} {
		f.Add([]byte(text), "AB01C AB02D@0-8in A-1-11")
	}
	f.Fuzz(func(t *testing.T, raw []byte, ids string) {
		table, err := ReadTable(bytes.NewReader(raw), "f")
		if err != nil {
			return
		}
		samples := refs(ids)
		r := Join(samples, table)
		if err := r.Check(); err != nil {
			t.Fatal(err)
		}
		if r.Counts.Rows != len(table.Rows) || r.Counts.Samples != len(samples) {
			t.Fatalf("%d rows and %d samples became %+v", len(table.Rows), len(samples), r.Counts)
		}
		for _, line := range r.Lines() {
			if strings.ContainsAny(line, "\n\r\x1b") {
				t.Fatalf("line %q", line)
			}
		}
		if len(table.Columns) < 2 {
			return
		}
		points, r, err := ReadPoints(table, table.Columns[0].Name, table.Columns[1].Name)
		if err != nil {
			return
		}
		if err := r.Check(); err != nil {
			t.Fatal(err)
		}
		if r.Counts.Rows != len(table.Rows) || len(points) != r.Counts.Joined {
			t.Fatalf("%d points of %d rows, %+v", len(points), len(table.Rows), r.Counts)
		}
	})
}
