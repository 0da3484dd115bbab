package lab

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// book makes a workbook of sheets of cells.
func book(t testing.TB, sheets map[string][][]any, edit func(f *excelize.File)) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	for name, rows := range sheets {
		if _, err := f.NewSheet(name); err != nil {
			t.Fatal(err)
		}
		for i, row := range rows {
			at, err := excelize.CoordinatesToCellName(1, i+1)
			if err != nil {
				t.Fatal(err)
			}
			if err := f.SetSheetRow(name, at, &row); err != nil {
				t.Fatal(err)
			}
		}
	}
	if _, ok := sheets["Sheet1"]; !ok {
		if err := f.DeleteSheet("Sheet1"); err != nil {
			t.Fatal(err)
		}
	}
	if edit != nil {
		edit(f)
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func mustRead(t *testing.T, raw []byte, o Options) *Table {
	t.Helper()
	table, err := Read(bytes.NewReader(raw), "lab.xlsx", o)
	if err != nil {
		t.Fatal(err)
	}
	return table
}

// results are the figures that a join gives, one text to a sample.
func results(r Reckoning) (out []string) {
	for _, x := range r.Results {
		text := x.ID
		for _, m := range x.Values {
			text += fmt.Sprintf(" %s=%s%v", m.Analyte, m.Censored, m.Value)
		}
		out = append(out, text)
	}
	return out
}

func TestWorkbook(t *testing.T) {
	raw := book(t, map[string][][]any{
		"Soil": {
			{"Invented laboratory"},
			{"Report", 4471},
			{},
			{"Sample ID", "pH", "P Mehlich-3", "K", "Base Sat K"},
			{nil, nil, "ppm", "ppm", "%"},
			{"BC01P", 6.4, 18, 155.5, 0.035},
			{"BC02Q", 6.6000000000000005, "<5", "1.250,5", 0.041},
			{"BC03R", 6.1, nil, "see note", nil},
			{"Average", 6.4, 18, 150, nil},
		},
	}, func(f *excelize.File) {
		style, err := f.NewStyle(&excelize.Style{NumFmt: 10}) // 0.00%
		if err != nil {
			t.Fatal(err)
		}
		if err := f.SetCellStyle("Soil", "E6", "E7", style); err != nil {
			t.Fatal(err)
		}
	})
	table := mustRead(t, raw, Options{})
	if table.Format != FormatWorkbook || table.HeaderRow != 4 || table.UnitsRow != 5 {
		t.Errorf("%s, header in row %d, units in row %d", table.Format, table.HeaderRow, table.UnitsRow)
	}
	r := Join(refs("BC01P BC02Q BC03R"), table)
	if err := r.Check(); err != nil {
		t.Error(err)
	}
	want := []string{"BC01P pH=6.4 P=18 K=155.5 K saturation=3.5", "BC02Q pH=6.6 P=<2.5 K=1250.5 K saturation=4.1", "BC03R pH=6.1"}
	if got := results(r); !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if c := r.Counts; c.Rows != 4 || c.Joined != 3 || c.Refused != 1 {
		t.Errorf("%+v", c)
	}
}

// Ids that the spreadsheet has made numbers or dates of are told; a whole number
// joins as it stands, a date is no id any more.
func TestWorkbookMangledIDs(t *testing.T) {
	raw := book(t, map[string][][]any{"Sheet1": {
		{"Sample ID", "pH"},
		{12, 6.1},
		{"0013", 6.2},
		{46085, 6.3}, // shown as a date: it was an id such as 3-4
		{1e5, 6.4},   // it was 1E5, or 100000
		{0.5, 6.5},
	}}, func(f *excelize.File) {
		style, err := f.NewStyle(&excelize.Style{NumFmt: 14})
		if err != nil {
			t.Fatal(err)
		}
		if err := f.SetCellStyle("Sheet1", "A4", "A4", style); err != nil {
			t.Fatal(err)
		}
	})
	table := mustRead(t, raw, Options{})
	r := Join(refs("12 0013 3-4 100000"), table)
	if got, want := results(r), []string{"12 pH=6.1", "0013 pH=6.2", "100000 pH=6.4"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	notices := strings.Join(table.Notices(), "\n")
	for _, want := range []string{"numbers in the sheet", "row 4", "date"} {
		if !strings.Contains(notices, want) {
			t.Errorf("%q is not in: %s", want, notices)
		}
	}
}

func TestWorkbookSheets(t *testing.T) {
	sheets := map[string][][]any{
		"Cover": {{"Invented laboratory"}, {"Nothing to see"}},
		"Soil":  {{"Sample ID", "pH"}, {"BC01P", 6.4}},
		"Empty": {},
	}
	raw := book(t, sheets, nil)
	for _, sheet := range []string{"Soil", "soil"} {
		if r := Join(refs("BC01P"), mustRead(t, raw, Options{Sheet: sheet})); r.Counts.Joined != 1 {
			t.Errorf("sheet %s: %+v", sheet, r.Counts)
		}
	}
	for sheet, want := range map[string]string{"Nowhere": "no sheet Nowhere", "Empty": "is empty", "Cover": "no header"} {
		if _, err := Read(bytes.NewReader(raw), "lab.xlsx", Options{Sheet: sheet}); err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "Soil") {
			t.Errorf("sheet %s: %v", sheet, err)
		}
	}
	// The first that is not hidden.
	hidden := book(t, map[string][][]any{"Sheet1": {{"Sample ID", "pH"}, {"BC09Z", 1}}, "Soil": sheets["Soil"]}, func(f *excelize.File) {
		i, err := f.GetSheetIndex("Soil")
		if err != nil {
			t.Fatal(err)
		}
		f.SetActiveSheet(i)
		if err := f.SetSheetVisible("Sheet1", false); err != nil {
			t.Fatal(err)
		}
	})
	if r := Join(refs("BC01P"), mustRead(t, hidden, Options{})); r.Counts.Joined != 1 {
		t.Errorf("hidden sheet: %+v", r.Counts)
	}
}

// An id merged over the rows of its depths belongs to all of them.
func TestWorkbookMergedCells(t *testing.T) {
	raw := book(t, map[string][][]any{"Sheet1": {
		{"Sample ID", "Depth", "pH"}, {"BC01P", "0-8in", 6.4}, {nil, "8-24in", 6.9}, {"BC02Q", "0-8in", 6.1},
	}}, func(f *excelize.File) {
		if err := f.MergeCell("Sheet1", "A2", "A3"); err != nil {
			t.Fatal(err)
		}
		if err := f.SetRowVisible("Sheet1", 3, false); err != nil {
			t.Fatal(err)
		}
	})
	table := mustRead(t, raw, Options{})
	r := Join(refs("BC01P@0-8in BC01P@8-24in BC02Q"), table)
	if got, want := results(r), []string{"BC01P pH=6.4", "BC01P pH=6.9", "BC02Q pH=6.1"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if notices := strings.Join(table.Notices(), "\n"); !strings.Contains(notices, "row 3 is hidden") {
		t.Errorf("notices %q", notices)
	}
}

func TestNotAWorkbook(t *testing.T) {
	good := book(t, map[string][][]any{"Sheet1": {{"Sample ID", "pH"}, {"BC01P", 6.4}}}, nil)
	for name, c := range map[string]struct {
		raw  []byte
		want string
	}{
		"cut short": {good[:len(good)/2], "damaged"},
		"old":       {[]byte("\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1 and so on"), "save it as .xlsx or CSV"},
		"zip":       {[]byte("PK\x03\x04 and nothing else"), "damaged"},
		"page":      {[]byte("<html><body><table><tr><td>pH</td></tr></table></body></html>"), "web page"},
		"order":     {[]byte("<ModusSubmit/>"), "order to a lab"},
	} {
		if _, err := Read(bytes.NewReader(c.raw), "lab.xlsx", Options{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

// FuzzRead holds any bytes against the readers of all kinds: there is an error,
// or a table that the join accounts for.
func FuzzRead(f *testing.F) {
	f.Add(book(f, map[string][][]any{"Sheet1": {{"Sample ID", "pH"}, {"BC01P", 6.4}, {12, "<5"}}}, nil))
	f.Add([]byte(`<ModusResult><Event><EventSamples><Soil><SoilSample><SampleMetaData><SampleNumber>1</SampleNumber></SampleMetaData><Depths><Depth DepthID="1"><NutrientResults><NutrientResult><Element>P</Element><Value>5</Value></NutrientResult></NutrientResults></Depth></Depths></SoilSample></Soil></EventSamples></Event></ModusResult>`))
	f.Add([]byte("Sample ID;Analyte;Result;Unit\nA1;pH;6,5;\nA1;P;<5;ppm\n"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		table, err := Read(bytes.NewReader(raw), "lab", Options{})
		if err != nil {
			return
		}
		r := Join(refs("BC01P A1 1"), table)
		r.Examine(table)
		if err := r.Check(); err != nil {
			t.Error(err)
		}
	})
}

// TestWorkbookFiles reads the files in testdata: one written by GDAL, one with
// all that a spreadsheet program does to ids and numbers. The expected tables
// were read against the files, cell by cell.
func TestWorkbookFiles(t *testing.T) {
	testTables(t, []tableCase{
		{file: "plain_gdal.xlsx", why: `nothing out of the ordinary, by another writer`, samples: "AB01C AB02D AB03E", last: 4, want: `
A Sample ID: sample id
B pH: analyte pH
C P: analyte P
D K: analyte K
2: | AB01C | B 6.5 | C 12 | D 140
3: | AB02D | B 6.1 | C 8 | D 122
4: | AB03E | B 5.8 | C 30 | D 201
`},
		{file: "mangled.xlsx", why: `dates and numbers for ids, noise, percent, errors, formulas, merged cells, a hidden row, a cover sheet`,
			options: Options{Sheet: "results"}, samples: "AB01C 12 AB09X", last: 13, want: `
A Sample ID: sample id
B Depth: depth
C pH: analyte pH
D P (ppm): analyte P (ppm)
E K base sat: analyte K saturation (%)
F Received: text
G Flag: text
4: | AB01C | 0-8 | C 6.5 | D 12 | E 3.1 | 2025-12-09
5: | 12 | 2026-06-12 | C 6.3 | D <5 | E 4 | 2025-12-09
6: | 2026-03-01 | 0-8 | C 6.1 | D "" a formula whose value is not in the file | E 5 | 2025-12-09
7: | 1000000000000000 | 0-8 | C 6.2 | D 7 | E 6 | 2025-12-09
8: | 007 | C "TRUE" is not a number | D 1.25 | 2025-12-09 | x
9: | AB09X | 0-8 | C 6 | D 5
10: | AB09X | 0-8 | C 6.4 | D 7.001
11: | 1.5 | 0-8 | C "2026-01-01" is not a number | D 8
12:
13: | Average | C 6.2 | D 7
note sheet Results is read; the workbook has the sheets Cover, Results
note row 7 and column G are hidden in the sheet and read all the same
note the merged cell AB09X in column "Sample ID", rows 9 to 10, is taken for each of the rows
note column "K base sat": cells that the sheet shows as percent are taken as shown (3.2 for 3.2 %, which is 0.032 in the sheet)
note the sample id in row 5 is a number in the sheet: zeros in front of an id, or an id such as 1E5, would have been lost
note row 5, Depth: 2026-06-12 is a date in the sheet, made perhaps of a depth such as 6-12, which can't be told back
note row 6, "Sample ID": 2026-03-01 is a date in the sheet, made perhaps of an id such as 3-1 or MAR1, which can't be told back
note row 6, "P (ppm)": "" is a formula whose value is not in the file: open it in a spreadsheet program and save it
note row 7, "Sample ID": 1000000000000000 is a number in the sheet: the id may have been written otherwise, as 007, 1E15 or 1.50 would be
note row 11, "Sample ID": 1.5 is a number in the sheet: the id may have been written otherwise, as 007, 1E15 or 1.50 would be
note row 11, pH: 2026-01-01 is a date in the sheet, made perhaps of a number such as 6.5, which can't be told back
`},
		{file: "long.xlsx", why: `a long table with ids merged over their rows, and numbers beside decimal commas`, samples: "AB01C AB02D", last: 8, want: `
A Sample ID: sample id
B pH: analyte pH
C P mg/kg: analyte P (mg/kg)
D K cmol/kg: analyte K (cmol/kg)
2 of [2 3 4]: | AB01C | B 6.5 | C 12.25 | D 1.234
5 of [5 6 8]: | AB02D | B 6.1 | C 8.001 | D 1.234
7 of [7]: | AB02D | C 9.001
note 2 merged cells are taken for each of their rows; the first is AB01C in column "Sample ID", rows 2 to 4
`},
	}, FormatWorkbook)
}
