package kit

import (
	"bytes"
	"encoding/csv"
	"errors"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// Every bag has a row, and the files for the lab agree to the letter.
func TestLabFilesAgree(t *testing.T) {
	plan := oddPlan(t)
	p := packet(t, plan)
	o := work(t, Letter(), 2, 5)
	o.Date = "2026-11-25"
	want := p.LabRows(o)

	var b bytes.Buffer
	if err := p.LabCSV(&b, o); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.EqualFunc(rows, want, slices.Equal) {
		t.Errorf("the CSV differs from the list")
	}

	b.Reset()
	if err := p.LabXLSX(&b, o); err != nil {
		t.Fatal(err)
	}
	book, err := excelize.OpenReader(&b)
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range want {
		for k, value := range row {
			at, _ := excelize.CoordinatesToCellName(k+1, i+1)
			got, err := book.GetCellValue("Samples", at)
			kind, _ := book.GetCellType("Samples", at)
			formula, _ := book.GetCellFormula("Samples", at)
			if err != nil || got != value || formula != "" || kind != excelize.CellTypeSharedString {
				t.Errorf("%s: %q of type %d, formula %q, want %q (%v)", at, got, kind, formula, value, err)
			}
		}
	}

	n := 1
	for _, fp := range plan.Fields {
		for _, u := range fp.Units {
			row := want[n]
			n++
			if row[0] != "" || row[1] != u.ID() || row[2] != fp.Field.Name || row[3] != strconv.Itoa(u.Number) || row[5] != "0-20cm" || row[7] != "2026-11-25" || row[8] != "pH, buffer pH, P, K" {
				t.Errorf("row %q", row)
			}
			if d := fp.Field.Divisions[u.Division]; !strings.Contains(row[4], d.Name) {
				t.Errorf("row %q does not name %q", row, d.Name)
			}
		}
	}
	if n != len(want) {
		t.Errorf("%d rows, want %d", len(want), n)
	}
}

// The crop is what was said, else the management unit, and never the rest of a
// field or a problem area.
func TestLabCrop(t *testing.T) {
	p := packet(t, foreignPlan(t))
	o := work(t, A4(), 2, 5)
	crops := map[string]bool{}
	for _, row := range p.LabRows(o)[1:] {
		crops[row[6]] = true
	}
	if len(crops) != 2 || !crops["corn"] || !crops[""] {
		t.Errorf("crops %v", crops)
	}
	o.Crop = "soybean"
	for _, row := range p.LabRows(o)[1:] {
		if row[6] != "soybean" {
			t.Errorf("row %q", row)
		}
	}
}

func TestLabWorkbookIsTheSameEveryTime(t *testing.T) {
	p := packet(t, oddPlan(t))
	var first []byte
	for range 5 {
		var b bytes.Buffer
		if err := p.LabXLSX(&b, work(t, A4(), 2, 5)); err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = b.Bytes()
		}
		if !bytes.Equal(first, b.Bytes()) {
			t.Fatal("the workbook differs from one time to the next")
		}
	}
}

func TestLabSheetPages(t *testing.T) {
	for _, paper := range []Paper{Letter(), A4()} {
		on := paper.across()
		first, each := labRowsOn(on, true), labRowsOn(on, false)
		for samples, want := range map[int]int{0: 1, 1: 1, first: 1, first + 1: 2, first + each: 2, first + each + 1: 3} {
			if got := labPages(on, samples); got != want {
				t.Errorf("%s: %d samples take %d pages, want %d", paper.Name, samples, got, want)
			}
		}
		p := packet(t, oddPlan(t))
		if got, want := pages(made(t, makers()["labsheet.pdf"], p, work(t, paper, 2, 5))), labPages(on, p.Samples()); got != want {
			t.Errorf("%s: %d pages, want %d", paper.Name, got, want)
		}
	}
}

func TestLabFilesTellOfTrouble(t *testing.T) {
	p := packet(t, oddPlan(t))
	o := work(t, A4(), 2, 5)
	for name, write := range map[string]func() error{
		"csv": func() error { return p.LabCSV(fullDisk{}, o) }, "xlsx": func() error { return p.LabXLSX(fullDisk{}, o) },
		"lab sheet": func() error { return p.LabSheet(fullDisk{}, o) }, "field sheet": func() error { return p.FieldSheet(fullDisk{}, o) },
	} {
		if err := write(); !errors.Is(err, errFull) {
			t.Errorf("%s: error %v, want %v", name, err, errFull)
		}
	}
	o.Crop = strings.Repeat("x", 40000)
	if err := p.LabXLSX(&bytes.Buffer{}, o); err == nil || !strings.Contains(err.Error(), "crop has more") {
		t.Errorf("long crop: %v", err)
	}
}

// Long lists of tests, names and none at all have a sheet.
func TestLabSheetOfManyTests(t *testing.T) {
	p := packet(t, oddPlan(t))
	for _, n := range []int{0, 1, 12, 40, 400} {
		o := work(t, Letter(), 2, 5)
		o.Tests = nil
		for i := range n {
			o.Tests = append(o.Tests, "analyte "+strconv.Itoa(i))
		}
		if got, want := pages(made(t, makers()["labsheet.pdf"], p, o)), labPages(Letter().across(), p.Samples()); got != want {
			t.Errorf("%d tests: %d pages, want %d", n, got, want)
		}
	}
}
