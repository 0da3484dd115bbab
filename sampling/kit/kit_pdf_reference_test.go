//go:build reference

package kit

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// tool runs a program and returns what it printed; it must print no warning.
func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	c := exec.Command(name, args...)
	var out, warnings bytes.Buffer
	c.Stdout, c.Stderr = &out, &warnings
	if err := c.Run(); err != nil {
		t.Fatalf("%s %v: %v: %s", name, args, err, warnings.String())
	}
	if warnings.Len() > 0 {
		t.Errorf("%s %v: %s", name, args, warnings.String())
	}
	return out.String()
}

// onDisk writes one of the PDFs to a file of its own.
func onDisk(t *testing.T, name string, p *Packet, o Paperwork) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, made(t, makers()[name], p, o), 0o666); err != nil {
		t.Fatal(err)
	}
	return path
}

// labelSheets are those that are held against other programs: common ones, and
// the smallest labels that are allowed.
func labelSheets() map[string]LabelSheet {
	smallest := LabelSheet{Paper: A4(), Columns: 4, Rows: 13, Top: 18.5, Right: 25, Bottom: 18.5, Left: 25, Start: 1}
	used := sheetOf(Letter(), 3, 10)
	used.Start = 7
	return map[string]LabelSheet{
		"3x10 letter": sheetOf(Letter(), 3, 10), "3x10 A4": sheetOf(A4(), 3, 10), "2x5 letter": sheetOf(Letter(), 2, 5), "2x5 A4": sheetOf(A4(), 2, 5),
		"1x1 A4": sheetOf(A4(), 1, 1), "smallest": smallest, "from 7": used,
	}
}

func labelWork(t *testing.T, l LabelSheet) Paperwork {
	o := work(t, l.Paper, 1, 1)
	o.Labels, o.Farm = l, "Farm of "+long
	return o
}

// Every label's code is read from the printed page by a program that is not
// ours, and none besides.
func TestReferenceLabelCodes(t *testing.T) {
	p := packet(t, foreignPlan(t))
	var want []string
	for _, f := range p.Fields {
		for _, u := range f.Units {
			for _, s := range u.Samples {
				want = append(want, s.ID+" "+p.Hash)
			}
		}
	}
	slices.Sort(want)
	for name, l := range labelSheets() {
		if name == "1x1 A4" {
			continue // a page to each label takes long, and shows no more
		}
		t.Run(name, func(t *testing.T) {
			path := onDisk(t, "labels.pdf", p, labelWork(t, l))
			tool(t, "pdftoppm", "-r", "150", "-gray", "-png", path, strings.TrimSuffix(path, ".pdf"))
			images, err := filepath.Glob(filepath.Join(filepath.Dir(path), "*.png"))
			if err != nil || len(images) != l.Pages(len(want)) {
				t.Fatalf("%d pages, want %d (%v)", len(images), l.Pages(len(want)), err)
			}
			var got []string
			for _, image := range images {
				got = append(got, strings.Split(strings.TrimSpace(tool(t, "zbarimg", "--nodbus", "-Sdisable", "-Sqrcode.enable", "--raw", "-q", image)), "\n")...)
			}
			slices.Sort(got)
			if !slices.Equal(got, want) {
				t.Errorf("read %d codes, want %d: %q, want %q", len(got), len(want), got, want)
			}
		})
	}
}

// word is a word on a page, as pdftotext -bbox finds it.
type word struct {
	XMin float64 `xml:"xMin,attr"`
	YMin float64 `xml:"yMin,attr"`
	XMax float64 `xml:"xMax,attr"`
	YMax float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

func words(t *testing.T, path string) [][]word {
	t.Helper()
	var doc struct {
		Pages []struct {
			Words []word `xml:"word"`
		} `xml:"body>doc>page"`
	}
	d := xml.NewDecoder(strings.NewReader(tool(t, "pdftotext", "-bbox", path, "-")))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	if err := d.Decode(&doc); err != nil {
		t.Fatal(err)
	}
	var out [][]word
	for _, p := range doc.Pages {
		out = append(out, p.Words)
	}
	return out
}

// Every word lies inside its label, the inner margin kept, and every id stands
// on its own label.
func TestReferenceLabelTextStaysInside(t *testing.T) {
	p := packet(t, foreignPlan(t))
	for name, l := range labelSheets() {
		for _, dated := range []bool{false, true} {
			o := labelWork(t, l)
			if dated {
				o.Date, o.Crop = "2026-11-25", long
			}
			pages := words(t, onDisk(t, "labels.pdf", p, o))
			n := 0
			for _, f := range p.Fields {
				for _, u := range f.Units {
					for _, s := range u.Samples {
						page, r := l.At(n)
						n++
						inner, found := r.Inset(labelMargin), false
						for _, w := range pages[page] {
							at := Rect{w.XMin * pt, w.YMin * pt, (w.XMax - w.XMin) * pt, (w.YMax - w.YMin) * pt}
							if !r.Overlaps(at) {
								continue
							}
							if !inner.Holds(at) {
								t.Errorf("%s: %q at %+v leaves the label %+v", name, w.Text, at, inner)
							}
							found = found || w.Text == s.ID
						}
						if !found {
							t.Errorf("%s: the id %s is not on its label", name, s.ID)
						}
					}
				}
			}
			all := 0
			for _, words := range pages {
				for _, w := range words {
					all++
					if strings.Contains(w.Text, "Ærø") || strings.Contains(w.Text, "畑") {
						found := w.YMax - w.YMin
						if found <= 0 {
							t.Errorf("%s: %q has no height", name, w.Text)
						}
					}
				}
			}
			if all < 5*n {
				t.Errorf("%s: %d words on %d labels", name, all, n)
			}
		}
	}
}

// All fonts are embedded, no program warns of anything, pages are as many and as
// large as they should be.
func TestReferencePages(t *testing.T) {
	p := packet(t, foreignPlan(t))
	for _, paper := range []Paper{Letter(), A4()} {
		o := work(t, paper, 3, 10)
		want := map[string]int{"fieldsheet.pdf": len(p.Fields), "labels.pdf": o.Labels.Pages(p.Samples()), "labsheet.pdf": labPages(paper.across(), p.Samples())}
		for name := range makers() {
			path := onDisk(t, name, p, o)
			fonts := strings.Split(strings.TrimSpace(tool(t, "pdffonts", path)), "\n")[2:]
			if len(fonts) < 3 {
				t.Errorf("%s has %d fonts", name, len(fonts))
			}
			for _, f := range fonts {
				// name, type of two words, encoding, emb
				if columns := strings.Fields(f); len(columns) < 5 || columns[4] != "yes" || columns[1]+columns[2] != "CIDTrueType" {
					t.Errorf("%s: font %s", name, f)
				}
			}
			info := map[string]string{}
			for _, line := range strings.Split(tool(t, "pdfinfo", path), "\n") {
				key, value, _ := strings.Cut(line, ":")
				info[key] = strings.TrimSpace(value)
			}
			on := paper
			if name == "labsheet.pdf" {
				on = paper.across()
			}
			var w, h float64
			if _, err := fmt.Sscanf(info["Page size"], "%g x %g pts", &w, &h); err != nil || w-on.Width/pt > 0.01 || on.Width/pt-w > 0.01 || h-on.Height/pt > 0.01 || on.Height/pt-h > 0.01 {
				t.Errorf("%s: page size %s, want that of %+v", name, info["Page size"], on)
			}
			if info["Pages"] != fmt.Sprint(want[name]) {
				t.Errorf("%s: %s pages, want %d", name, info["Pages"], want[name])
			}
			if !strings.Contains(info["Title"], p.Hash) {
				t.Errorf("%s: title %q", name, info["Title"])
			}
			if tool(t, "pdftotext", path, "-") == "" {
				t.Errorf("%s has no text", name)
			}
		}
	}
}

// Each page of the field sheet has the name of one field, and all of its ids.
func TestReferenceFieldSheetText(t *testing.T) {
	p := packet(t, foreignPlan(t))
	path := onDisk(t, "fieldsheet.pdf", p, work(t, A4(), 2, 5))
	titles := []string{"Ærø", "Łąka", "畑", "Long Meadow beside"}
	for i, f := range p.Fields {
		page := fmt.Sprint(i + 1)
		text := tool(t, "pdftotext", "-f", page, "-l", page, path, "-")
		first, _, _ := strings.Cut(text, "\n")
		for k, title := range titles {
			if strings.Contains(text, title) != (i == k) {
				t.Errorf("page %s, of %q: %q is there: %v", page, f.Field.Name, title, i != k)
			}
		}
		if !strings.HasPrefix(first, titles[i]) || i == 3 && !strings.HasSuffix(first, "…") {
			t.Errorf("page %s begins with %q", page, first)
		}
		for _, u := range f.Units {
			if !strings.Contains(text, u.Samples[0].ID) || !strings.Contains(text, u.Cores[0].Name+" to "+u.Cores[len(u.Cores)-1].Name) {
				t.Errorf("page %s lacks unit %d", page, u.Number)
			}
		}
		if !strings.Contains(text, "call 811") {
			t.Errorf("page %s lacks the caution", page)
		}
	}
}

// Nothing on sheets leaves the paper's margin.
func TestReferenceSheetsKeepTheMargin(t *testing.T) {
	for _, p := range []*Packet{packet(t, foreignPlan(t)), packet(t, oddPlan(t))} {
		for _, paper := range []Paper{Letter(), A4()} {
			o := work(t, paper, 2, 5)
			o.Farm, o.Crop, o.Tests = long, long, strings.Fields(long)
			for name, on := range map[string]Paper{"fieldsheet.pdf": paper, "labsheet.pdf": paper.across()} {
				inside := Rect{0, 0, on.Width, on.Height}.Inset(fieldMargin - 1)
				for i, page := range words(t, onDisk(t, name, p, o)) {
					for _, w := range page {
						if at := (Rect{w.XMin * pt, w.YMin * pt, (w.XMax - w.XMin) * pt, (w.YMax - w.YMin) * pt}); !inside.Holds(at) {
							t.Errorf("%s, page %d: %q at %+v", name, i+1, w.Text, at)
						}
					}
				}
			}
		}
	}
}

// LibreOffice reads the workbook as the CSV has it, ids unharmed.
func TestReferenceWorkbook(t *testing.T) {
	for name, p := range map[string]*Packet{"foreign": packet(t, foreignPlan(t)), "odd": packet(t, oddPlan(t))} {
		// Ids that a spreadsheet would take for a number, a date or a formula.
		for i, id := range []string{"0012", "1E5", "MAR01", "=1+1"} {
			p.Fields[i].Units[0].Samples[0].ID = id
		}
		o := work(t, A4(), 2, 5)
		o.Date = "2026-11-25"
		dir := t.TempDir()
		path := filepath.Join(dir, "labsheet.xlsx")
		var b bytes.Buffer
		if err := p.LabXLSX(&b, o); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
		c := exec.Command("soffice", "-env:UserInstallation=file://"+filepath.ToSlash(dir)+"/profile", "--headless", "--convert-to", "csv:Text - txt - csv (StarCalc):44,34,76,1", "--outdir", dir, path)
		if out, err := c.CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		data, err := os.ReadFile(filepath.Join(dir, "labsheet.csv"))
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		want := p.LabRows(o)
		if len(rows) != len(want) {
			t.Fatalf("%s: %d rows, want %d", name, len(rows), len(want))
		}
		for i := range want {
			if !slices.Equal(rows[i], want[i]) {
				t.Errorf("%s, row %d: %q, want %q", name, i+1, rows[i], want[i])
			}
		}
	}
}
