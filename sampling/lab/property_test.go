package lab

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"golang.org/x/text/encoding/charmap"
)

// written is a random table and what must be read of it.
type written struct {
	columns []writtenColumn
	ids     []string
	cells   [][]writtenCell
}

type writtenColumn struct{ analyte, header, unit string }

type writtenCell struct {
	text     string // with a decimal point
	value    float64
	censored string
	missing  bool
}

var writtenHeaders = []writtenColumn{
	{"pH", "pH", ""}, {"pH", "Soil pH", ""}, {"P", "P Mehlich-3", "ppm"}, {"P", "Phosphorus (Bray P1)", "ppm"}, {"K", "Potassium", "mg/kg"}, {"K", "K", "ppm"},
	{"Ca", "Calcium", "ppm"}, {"Mg", "Mg", "mg/kg"}, {"OM", "Organic matter", "%"}, {"OM", "O.M.", "%"}, {"CEC", "CEC", "meq/100 g"}, {"Zn", "Zinc", "ppm"}, {"S", "Sulfur", "ppm"},
}

func randomTable(r *rand.Rand) written {
	var w written
	used := map[string]bool{}
	for range 1 + r.IntN(6) {
		if c := writtenHeaders[r.IntN(len(writtenHeaders))]; !used[c.analyte] {
			used[c.analyte] = true
			w.columns = append(w.columns, c)
		}
	}
	for i := range 1 + r.IntN(12) {
		w.ids = append(w.ids, fmt.Sprintf("BC%02d%c", i+1, "KPQRT"[r.IntN(5)]))
		row := make([]writtenCell, len(w.columns))
		for k, c := range w.columns {
			// Never three decimals, which with a comma could be thousands, and
			// no figure that is a conflict or a replicate.
			v := float64(r.IntN(4000)) / 10
			if c.analyte == "pH" {
				v = 4 + float64(r.IntN(40))/10
			}
			x := writtenCell{text: strconv.FormatFloat(v, 'f', 1+r.IntN(2), 64), value: v}
			switch r.IntN(12) {
			case 0:
				x = writtenCell{missing: true, text: []string{"", "-", "n/a", "ND"}[r.IntN(4)]}
			case 1:
				x.censored, x.text, x.value = "<", "<"+x.text, v/2
			case 2:
				x.censored, x.text = ">", "> "+x.text
			}
			row[k] = x
		}
		w.cells = append(w.cells, row)
	}
	return w
}

// dialect writes a table as some lab would.
func (w written) dialect(r *rand.Rand) (file []byte, how string) {
	delim := []string{",", ";", "\t"}[r.IntN(3)]
	comma := delim != "," && r.IntN(2) == 0
	end := []string{"\n", "\r\n", "\r"}[r.IntN(3)]
	unitsRow := r.IntN(2) == 0
	quote := func(s string) string {
		if strings.ContainsAny(s, "\"\n"+delim) || r.IntN(10) == 0 {
			return `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
		}
		return s
	}
	var rows [][]string
	if r.IntN(2) == 0 {
		rows = append(rows, []string{"Invented laboratory"}, []string{"Report " + strconv.Itoa(r.IntN(9000))}, nil)
	}
	// The id is first or last, and beside it there may be what is no figure.
	idHeader := []string{"Sample ID", "Sample", "Sample No.", "SampleID"}[r.IntN(4)]
	last, remarks := r.IntN(3) == 0, r.IntN(2) == 0
	line := func(id string, cells []string, remark string) []string {
		var out []string
		if !last {
			out = append(out, id)
		}
		out = append(out, cells...)
		if remarks {
			out = append(out, remark)
		}
		if last {
			out = append(out, id)
		}
		return out
	}
	var heads, units []string
	for _, c := range w.columns {
		h := c.header
		if !unitsRow && c.unit != "" {
			h += " " + c.unit
		}
		heads, units = append(heads, h), append(units, c.unit)
	}
	rows = append(rows, line(idHeader, heads, "Remarks"))
	someUnit := strings.Join(units, "") != ""
	if unitsRow && someUnit {
		rows = append(rows, line("", units, ""))
	}
	for i, id := range w.ids {
		var cells []string
		for _, c := range w.cells[i] {
			text := c.text
			if comma {
				text = strings.Replace(text, ".", ",", 1)
			}
			cells = append(cells, text)
		}
		rows = append(rows, line(id, cells, []string{"", "wet", "naß; late"}[r.IntN(3)]))
		if r.IntN(15) == 0 {
			rows = append(rows, nil)
		}
	}
	if r.IntN(3) == 0 {
		rows = append(rows, line("Average", make([]string, len(w.columns)), ""))
	}
	var b strings.Builder
	for _, row := range rows {
		for i, cell := range row {
			if i > 0 {
				b.WriteString(delim)
			}
			b.WriteString(quote(cell))
		}
		b.WriteString(end)
	}
	text := b.String()
	switch r.IntN(5) {
	case 0:
		return append([]byte("\xef\xbb\xbf"), text...), "UTF-8 with a byte order mark"
	case 1:
		raw, err := charmap.Windows1252.NewEncoder().String(text)
		if err == nil {
			return []byte(raw), "Windows-1252"
		}
	case 2:
		out := []byte{0xff, 0xfe}
		for _, u := range utf16.Encode([]rune(text)) {
			out = append(out, byte(u), byte(u>>8))
		}
		return out, "UTF-16"
	}
	return []byte(text), "UTF-8"
}

// What was written is what is read, in every dialect.
func TestWhatWasWrittenIsRead(t *testing.T) {
	for seed := range uint64(2000) {
		r := rand.New(rand.NewPCG(seed, 2025))
		w := randomTable(r)
		file, how := w.dialect(r)
		if fault := w.faultIn(file); fault != "" {
			t.Fatalf("seed %d, %s: %s\n%s", seed, how, fault, file)
		}
	}
}

// faultIn reads a file and says how it differs from what was written.
func (w written) faultIn(file []byte) string {
	table, err := Read(bytes.NewReader(file), "lab.csv", Options{})
	if err != nil {
		return err.Error()
	}
	samples := make([]SampleRef, len(w.ids))
	for i, id := range w.ids {
		samples[i].ID = id
	}
	rec := Join(samples, table)
	if err := rec.Check(); err != nil {
		return err.Error()
	}
	if c := rec.Counts; c.Joined != len(w.ids) || c.Missing > 0 || c.Unmatched > 0 || c.Problems > 0 || c.Rows != c.Joined+c.Refused {
		return fmt.Sprintf("counts %+v", c)
	}
	for i, x := range rec.Results {
		n := 0
		for k, c := range w.columns {
			want := w.cells[i][k]
			got, ok := x.Value(c.analyte)
			switch {
			case want.missing && ok:
				return fmt.Sprintf("sample %s has %s %v, and none was written", x.ID, c.analyte, got.Value)
			case want.missing:
			case !ok || got.Value != want.value || got.Censored != want.censored:
				return fmt.Sprintf("sample %s: %s is %s%v (%v), want %s%v", x.ID, c.analyte, got.Censored, got.Value, ok, want.censored, want.value)
			default:
				n++
			}
		}
		if n != len(x.Values) {
			return fmt.Sprintf("sample %s has %d figures, want %d", x.ID, len(x.Values), n)
		}
	}
	return ""
}

func TestUnitsRowWithTrailingDelimiters(t *testing.T) {
	table, err := ReadTable(strings.NewReader("ID;pH;P;;\n;;ppm;;;;\nA1;6,5;12;;\n"), "f")
	if err != nil || table.UnitsRow != 2 || table.Columns[2].Unit != "ppm" {
		t.Errorf("%+v, %v", table, err)
	}
}
