package kit

import (
	"fmt"
	"io"
	"math"
	"strings"
)

// Limits of labels in millimetres and pieces.
const (
	leastLabelWidth  = 40.0
	leastLabelHeight = 20.0
	mostColumns      = 4
	mostRows         = 15
	smallLabel       = 30.0 // lower ones have fewer lines
	labelMargin      = 2.0  // that text keeps from the edge of its label
)

// LabelSheet is how labels lie on a sheet; lengths in millimetres.
type LabelSheet struct {
	Paper                    Paper
	Columns, Rows            int
	Top, Right, Bottom, Left float64 // margins of the sheet
	Across, Down             float64 // gaps between labels
	Start                    int     // number of the first free label of the first sheet, from 1
	Outlines                 bool    // lines to cut along
}

// Validate checks that the labels lie on the sheet and are large enough.
func (l LabelSheet) Validate() error {
	if l.Columns < 1 || l.Columns > mostColumns || l.Rows < 1 || l.Rows > mostRows {
		return fmt.Errorf("labels %dx%d are out of range; take columns x rows from 1x1 to %dx%d", l.Columns, l.Rows, mostColumns, mostRows)
	}
	for _, v := range []float64{l.Top, l.Right, l.Bottom, l.Left, l.Across, l.Down} {
		if !finite(v) || v < 0 {
			return fmt.Errorf("margins and gaps of labels must be lengths from zero up")
		}
	}
	w, h := l.size()
	if w < leastLabelWidth-1e-6 || h < leastLabelHeight-1e-6 {
		return fmt.Errorf("labels %dx%d on %s paper with these margins and gaps would be %.1f x %.1f mm; they must be at least %g x %g mm: take fewer to a sheet, or narrower margins",
			l.Columns, l.Rows, l.Paper.Name, math.Max(w, 0), math.Max(h, 0), leastLabelWidth, leastLabelHeight)
	}
	if l.Start < 1 || l.Start > l.Columns*l.Rows {
		return fmt.Errorf("a sheet of labels %dx%d has labels 1 to %d; start-at %d is none of them", l.Columns, l.Rows, l.Columns*l.Rows, l.Start)
	}
	return nil
}

func (l LabelSheet) size() (width, height float64) {
	return (l.Paper.Width - l.Left - l.Right - float64(l.Columns-1)*l.Across) / float64(l.Columns),
		(l.Paper.Height - l.Top - l.Bottom - float64(l.Rows-1)*l.Down) / float64(l.Rows)
}

// At returns the page, from 0, and the rectangle of the nth label, from 0.
// Labels run along the rows.
func (l LabelSheet) At(n int) (page int, r Rect) {
	n += l.Start - 1
	each := l.Columns * l.Rows
	w, h := l.size()
	column, row := n%l.Columns, n%each/l.Columns
	return n / each, Rect{l.Left + float64(column)*(w+l.Across), l.Top + float64(row)*(h+l.Down), w, h}
}

// Pages returns the number of sheets that n labels take.
func (l LabelSheet) Pages(n int) int {
	last, _ := l.At(max(n, 1) - 1)
	return last + 1
}

// Labels writes a label to every bag as PDF. All text keeps 2 mm from the edges
// of its label, and is cut with an ellipsis where it is too long; the QR code,
// which holds LabelCode, has its quiet zone inside the label.
func (p *Packet) Labels(w io.Writer, o Paperwork) error {
	if err := o.Labels.Validate(); err != nil {
		return err
	}
	s := newSheet("Labels of samples, plan "+p.Hash, o.Labels.Paper, o.Fonts)
	n, pages := 0, 0
	for i := range p.Fields {
		f := &p.Fields[i]
		for k := range f.Units {
			u := &f.Units[k]
			for _, x := range u.Samples {
				if len(x.ID) > longestID {
					return fmt.Errorf("sample id %.20q has %d characters; labels take up to %d", x.ID, len(x.ID), longestID)
				}
				page, r := o.Labels.At(n)
				for n++; pages <= page; pages++ {
					s.page()
				}
				code, err := newSymbol(LabelCode(x.ID, p.Hash))
				if err != nil {
					return fmt.Errorf("label of sample %.20q: %w", x.ID, err)
				}
				if o.Labels.Outlines {
					s.ink(150)
					s.frame(r, 0.1)
					s.ink(0)
				}
				s.label(r, code, o.labelText(f, u, x), p.Hash)
			}
		}
	}
	if pages == 0 {
		s.page()
	}
	return s.write(w)
}

// labelText is what stands on a label.
type labelText struct {
	id, field, farm, unit, depth, cores, crop, date string
}

func (o *Paperwork) labelText(f *PacketField, u *PacketUnit, x PacketSample) labelText {
	t := labelText{
		id: x.ID, field: f.Field.Name, farm: o.Farm, unit: fmt.Sprintf("Unit %d", u.Number),
		depth: x.Depth, cores: countOf(x.Cores, "core"), crop: o.crop(u), date: o.Date,
	}
	if u.manyComposites {
		t.unit += fmt.Sprintf(", composite %d", x.Composite)
	}
	if u.Short != "" {
		t.unit += ", " + u.Short
	}
	return t
}

func countOf(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// Heights of lines in ems: from the top of a line to its baseline and on to its
// bottom, as far as the letters of any font reach.
const (
	above = 1.0
	below = 0.3
)

// label draws one label: the QR code to the right, the id as large as fits to
// the left, the rest below it.
func (s *sheet) label(r Rect, code symbol, t labelText, hash string) {
	// A hair more, as places in a PDF are rounded to 0.01 point.
	inner := r.Inset(labelMargin + 0.01)
	x, y, module := codePlace(r, code.side)
	side := module * float64(code.side)
	dark := side - 2*quiet*module
	s.symbol(code, x, y, module)

	width := x - inner.X
	if r.Height >= smallLabel {
		s.labelLarge(inner, width, t)
		small := style{6.5, false}
		s.middle(x+side/2, math.Min(y+side+1.2, inner.Bottom()-below*small.size*pt), dark, small, "plan "+hash)
		return
	}
	s.labelSmall(inner, width, t, hash)
}

// codePlace returns where the QR code of a label goes with its quiet zone, and
// the size of its modules. The quiet zone may reach into the margin of the label;
// the dark ground keeps out of it. Modules are whole steps of 1/150 inch and stand
// on them, so that they fall on the dots of printers of 150, 300 and 600 dpi.
func codePlace(r Rect, side int) (x, y, module float64) {
	const step = 25.4 / 150
	n := float64(side)
	// There is a step to spare for standing on the steps.
	room := math.Min(math.Min(r.Height-step, 0.42*r.Width), 70)
	module = math.Min(room/n, (r.Height-2*labelMargin-step)/(n-2*quiet))
	if whole := math.Floor(module/step+1e-9) * step; whole > 0 {
		module = whole
	}
	dark := (n - 2*quiet) * module
	edge := math.Max(labelMargin, quiet*module)
	x = math.Floor((r.Right()-edge-dark)/step) * step
	y = math.Ceil((r.Y+edge)/step) * step
	if r.Height < smallLabel {
		y = math.Round((r.Y+(r.Height-dark)/2)/step) * step
	}
	return x - quiet*module, y - quiet*module, module
}

// idStyle is the largest that an id has room in.
func (s *sheet) idStyle(id string, width, height float64) style {
	size := height / pt
	if w := s.fonts.width(clean(id), true); w > 0 {
		size = math.Min(size, width/(w*pt)-0.01)
	}
	return style{math.Max(size, 4), true}
}

// labelLarge has a line to each thing, and lines to write on.
func (s *sheet) labelLarge(in Rect, width float64, t labelText) {
	id := s.idStyle(t.id, width, math.Min(0.24*in.Height, 40))
	y := in.Y + 0.96*id.size*pt
	s.text(in.X, y, width, id, t.id)
	y += 0.25 * id.size * pt
	line := (in.Bottom() - y) / 6.1
	size := math.Min(line/pt/(above+below), 26)
	line = math.Min(line, 1.8*size*pt)
	st, heavy := style{size, false}, style{size * 1.1, true}
	y += 1.05 * above * size * pt
	for _, l := range []struct {
		style
		text string
	}{{heavy, t.field}, {st, t.farm}, {st, t.unit}, {st, joined(t.depth, t.cores)}} {
		if l.text == "" {
			continue
		}
		s.text(in.X, y, width, l.style, l.text)
		y += line
	}
	s.given(in.X, y, in.X+width-1, st, "Crop", t.crop)
	y += line
	s.given(in.X, y, in.X+width-1, st, "Date", t.date)
}

// labelSmall puts things together on fewer lines.
func (s *sheet) labelSmall(in Rect, width float64, t labelText, hash string) {
	id := s.idStyle(t.id, width, math.Min(0.3*in.Height, 9))
	y := in.Y + 0.96*id.size*pt
	s.text(in.X, y, width, id, t.id)
	y += 0.15 * id.size * pt
	line := (in.Bottom() - y) / 5.1
	size := math.Min(line/pt/(above+0.12), 9)
	st, heavy := style{size, false}, style{size, true}
	y += above * size * pt
	s.text(in.X, y, width, heavy, t.field)
	s.text(in.X, y+line, width, st, t.farm)
	s.text(in.X, y+2*line, width, st, t.unit)
	s.text(in.X, y+3*line, width, st, joined(t.depth, t.cores, t.crop))
	y += 4 * line
	tiny := style{math.Min(5, size), false}
	w := s.width(hash, tiny)
	s.text(in.X+width-w-0.2, y, w+0.1, tiny, hash)
	s.given(in.X, y, in.X+width-w-1, st, "Date", t.date)
}

// joined puts a comma between what there is.
func joined(parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, ", ")
}
