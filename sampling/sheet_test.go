package sampling

import (
	"path/filepath"
	"testing"

	"github.com/xuri/excelize/v2"
)

// sheetIDs are ids of a farm of 500 fields, of plans with one sample to a unit
// and with several.
func sheetIDs(t *testing.T) (out []string) {
	t.Helper()
	everyID(t, func(id string) { out = append(out, id) })
	return out
}

// readSheet returns the first column of a workbook, and how many of its cells
// are no text.
func readSheet(t *testing.T, path string) (out []string, turned int) {
	t.Helper()
	f, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	sheet := f.GetSheetList()[0]
	rows, err := f.GetRows(sheet, excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range rows {
		cell, err := excelize.CoordinatesToCellName(1, i+1)
		if err != nil {
			t.Fatal(err)
		}
		kind, err := f.GetCellType(sheet, cell)
		if err != nil {
			t.Fatal(err)
		}
		if kind != excelize.CellTypeSharedString && kind != excelize.CellTypeInlineString {
			turned++
		}
		out = append(out, row[0])
	}
	return out, turned
}

// sameIDs holds a workbook against the ids that went into it.
func sameIDs(t *testing.T, path string, want []string) {
	t.Helper()
	got, turned := readSheet(t, path)
	if turned > 0 {
		t.Errorf("%d ids are no text any more", turned)
	}
	if len(got) != len(want) {
		t.Fatalf("%d ids came back of %d", len(got), len(want))
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("%s came back as %s", want[i], got[i])
		}
	}
}

func TestIDsThroughAWorkbook(t *testing.T) {
	ids := sheetIDs(t)
	path := filepath.Join(t.TempDir(), "ids.xlsx")
	f := excelize.NewFile()
	w, err := f.NewStreamWriter("Sheet1")
	if err != nil {
		t.Fatal(err)
	}
	for i, id := range ids {
		cell, err := excelize.CoordinatesToCellName(1, i+1)
		if err != nil {
			t.Fatal(err)
		}
		if err := w.SetRow(cell, []any{id}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	if err := f.SaveAs(path); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	sameIDs(t, path, ids)
}
