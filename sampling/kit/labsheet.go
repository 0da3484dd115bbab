package kit

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/xuri/excelize/v2"
)

// labColumns are those of the list of samples for the lab.
func labColumns() []string {
	return []string{"lab_number", "sample_id", "field", "unit", "part", "depth", "crop", "date_taken", "tests"}
}

// LabRows returns the list of samples for the lab, one row to a bag in walking
// order, its columns first. lab_number is empty for the lab to fill in, and
// date_taken where no date is given.
func (p *Packet) LabRows(o Paperwork) [][]string {
	rows := [][]string{labColumns()}
	tests := strings.Join(o.Tests, ", ")
	for i := range p.Fields {
		f := &p.Fields[i]
		for k := range f.Units {
			u := &f.Units[k]
			for _, x := range u.Samples {
				rows = append(rows, []string{"", x.ID, f.Field.Name, fmt.Sprint(u.Number), u.partOf(x), x.Depth, o.crop(u), o.Date, tests})
			}
		}
	}
	return rows
}

// partOf names the part of the field and the composite.
func (u *PacketUnit) partOf(x PacketSample) string {
	if u.manyComposites {
		return joined(u.Short, fmt.Sprintf("composite %d", x.Composite))
	}
	return u.Short
}

// LabCSV writes LabRows as CSV.
func (p *Packet) LabCSV(w io.Writer, o Paperwork) error {
	c := csv.NewWriter(w)
	if err := c.WriteAll(p.LabRows(o)); err != nil {
		return fmt.Errorf("lab sheet: %w", err)
	}
	return nil
}

// LabXLSX writes LabRows as a workbook in which every cell is text, so that no
// id becomes a number or a date and no name a formula.
func (p *Packet) LabXLSX(w io.Writer, o Paperwork) (err error) {
	f := excelize.NewFile()
	defer func() { err = errors.Join(err, f.Close()) }()
	const name = "Samples"
	if err := f.SetSheetName("Sheet1", name); err != nil {
		return err
	}
	date := born().Format("2006-01-02T15:04:05Z")
	if err := f.SetDocProps(&excelize.DocProperties{Creator: "corewalk", LastModifiedBy: "corewalk", Created: date, Modified: date, Title: "Samples of plan " + p.Hash}); err != nil {
		return err
	}
	text, err := f.NewStyle(&excelize.Style{NumFmt: 49})
	if err != nil {
		return err
	}
	head, err := f.NewStyle(&excelize.Style{NumFmt: 49, Font: &excelize.Font{Bold: true}})
	if err != nil {
		return err
	}
	for i, width := range []float64{12, 12, 24, 6, 26, 10, 16, 12, 30} {
		column, err := excelize.ColumnNumberToName(i + 1)
		if err != nil {
			return err
		}
		if err := f.SetColWidth(name, column, column, width); err != nil {
			return err
		}
		if err := f.SetColStyle(name, column, text); err != nil {
			return err
		}
	}
	for i, row := range p.LabRows(o) {
		for k, value := range row {
			at, err := excelize.CoordinatesToCellName(k+1, i+1)
			if err != nil {
				return err
			}
			if len(value) > excelize.TotalCellChars {
				return fmt.Errorf("sample %s: a cell of a workbook holds %d characters, and %s has more; shorten it", row[1], excelize.TotalCellChars, labColumns()[k])
			}
			if err := f.SetCellStr(name, at, value); err != nil {
				return err
			}
			st := text
			if i == 0 {
				st = head
			}
			if err := f.SetCellStyle(name, at, at, st); err != nil {
				return err
			}
		}
	}
	if err := f.SetPanes(name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	return f.Write(w)
}

// Sizes on lab sheets, in millimetres.
const (
	labHead = 49.0 // of the first page
	labRow  = 7.0
)

// labRowsOn is how many rows a page of the lab sheet has.
func labRowsOn(paper Paper, first bool) int {
	room := paper.Height - 2*fieldMargin - footHeight - tableHead
	if first {
		return int((room - labHead) / labRow)
	}
	return int((room - 9) / labRow)
}

// labPages is the number of pages for so many samples.
func labPages(paper Paper, samples int) int {
	n := 1
	for samples -= labRowsOn(paper, true); samples > 0; samples -= labRowsOn(paper, false) {
		n++
	}
	return n
}

// LabSheet writes the list of samples that goes with the parcel as PDF, on paper
// on its side: lines for who sends it above, one row to a bag below.
func (p *Packet) LabSheet(w io.Writer, o Paperwork) error {
	paper := o.Paper.across()
	s := newSheet("Samples for the laboratory, plan "+p.Hash, paper, o.Fonts)
	width := paper.Width - 2*fieldMargin
	rows := p.LabRows(o)[1:]
	samples, of := len(rows), labPages(paper, len(rows))
	for page := 1; page <= of; page++ {
		s.page()
		y := fieldMargin
		if page == 1 {
			s.labHead(width, samples, o)
			y += labHead
		} else {
			s.text(fieldMargin, y+5, width, style{11, true}, "Samples for the laboratory (continued)")
			y += 9
		}
		n := min(labRowsOn(paper, page == 1), len(rows))
		s.labTable(y, width, rows[:n])
		rows = rows[n:]
		s.foot(fieldMargin, p.Hash, page, of)
	}
	return s.write(w)
}

// labHead writes the title and the lines to fill in.
func (s *sheet) labHead(width float64, samples int, o Paperwork) {
	left, right, y := fieldMargin, fieldMargin+width, fieldMargin
	s.text(left, y+6, 0.7*width, style{18, true}, "Soil samples for the laboratory")
	s.right(right, y+6, 0.3*width, style{14, true}, countOf(samples, "sample"))
	st := style{9, false}
	middle := left + width/2
	y += 15
	for _, line := range [][2][2]string{
		{{"Laboratory", ""}, {"Farm", o.Farm}},
		{{"Address of the laboratory", ""}, {"Grower", ""}},
		{{"Date sent", ""}, {"Address", ""}},
		{{"Sampled by", ""}, {"Phone, e-mail", ""}},
	} {
		s.given(left, y, middle-4, st, line[0][0], line[0][1])
		s.given(middle+2, y, right, st, line[1][0], line[1][1])
		y += 7
	}
	tests := strings.Join(o.Tests, ", ")
	if word := "Tests asked for"; tests == "" || s.width(word+" ", st)+s.width(tests, style{st.size, true}) < width {
		s.given(left, y, right, st, word, tests)
		return
	}
	// A long list has two lines.
	small := style{7.5, false}
	lines := s.fonts.wrap(clean("Tests asked for "+tests), false, width/(small.size*pt))
	s.text(left, y-1, width, small, lines[0])
	s.text(left, y+2.4, width, small, strings.Join(lines[1:], " "))
}

func (s *sheet) labTable(y, width float64, rows [][]string) {
	columns := []column{{"Lab no.", 23}, {"Sample id", 24}, {"Field", 44}, {"Unit", 10}, {"Part of the field", 38}, {"Depth", 18}, {"Crop", 26}, {"Date taken", 21}, {"Tests", 0}}
	rest := width
	for _, c := range columns {
		rest -= c.width
	}
	columns[len(columns)-1].width = rest
	s.header(fieldMargin, y, tableHead, columns)
	y += tableHead
	st := style{8.5, false}
	for _, row := range rows {
		// No test is to be lost in an ellipsis: the head of the sheet has them all.
		if tests := &row[len(row)-1]; s.width(*tests, st) > rest-1.4 {
			*tests = "as on page 1"
		}
		x := fieldMargin
		base := y + labRow/2 + 0.36*st.size*pt
		for i, text := range row {
			st := st
			if i == 1 {
				st = style{10, true}
			}
			s.text(x+1, base, columns[i].width-1.4, st, text)
			if i > 0 {
				s.rule(x, y, x, y+labRow, 0.1)
			}
			x += columns[i].width
		}
		y += labRow
		s.rule(fieldMargin, y, fieldMargin+width, y, 0.15)
	}
}
