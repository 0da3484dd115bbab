package kit

import (
	"fmt"
	"io"
	"math"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"github.com/paulmach/orb"
)

// sheet is a document in the making. Places are in millimetres from the upper
// left corner of the page, sizes of letters in points. What is drawn must be
// finite; the first that is not makes write fail.
type sheet struct {
	pdf   *fpdf.Fpdf
	paper Paper
	fonts *Fonts
	added map[*face]bool
	face  *face
	size  float64
	err   error
}

// born is the date in every document, so that the same plan gives the same
// bytes.
func born() time.Time { return time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC) }

func newSheet(title string, p Paper, fonts *Fonts) *sheet {
	pdf := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: p.Width, Ht: p.Height}})
	pdf.SetCreationDate(born())
	pdf.SetModificationDate(born())
	pdf.SetCatalogSort(true)
	pdf.SetTitle(title, true)
	pdf.SetCreator("corewalk", true)
	pdf.SetLang("en")
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	return &sheet{pdf: pdf, paper: p, fonts: fonts, added: map[*face]bool{}}
}

func (s *sheet) page() {
	s.pdf.AddPage()
	s.face = nil
	s.pdf.SetLineCapStyle("butt")
	s.pdf.SetLineJoinStyle("round")
	s.ink(0)
}

// write ends the document. The writer of PDFs fails late, and panics on fonts
// that are broken inside.
func (s *sheet) write(w io.Writer) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the pages could not be made: %v", r)
		}
	}()
	if s.err != nil {
		return s.err
	}
	return s.pdf.Output(w)
}

func (s *sheet) finite(values ...float64) bool {
	if finite(values...) {
		return true
	}
	if s.err == nil {
		s.err = fmt.Errorf("page %d would have something at a place that is no number", s.pdf.PageNo())
	}
	return false
}

// ink sets the grey of lines, areas and letters; 0 is black, 255 white.
func (s *sheet) ink(grey int) {
	s.pdf.SetDrawColor(grey, grey, grey)
	s.pdf.SetFillColor(grey, grey, grey)
	s.pdf.SetTextColor(grey, grey, grey)
}

// style is how letters look.
type style struct {
	size float64 // points
	bold bool
}

// width is that of a text in millimetres.
func (s *sheet) width(text string, st style) float64 {
	return s.fonts.width(clean(text), st.bold) * st.size * pt
}

// text writes on one line from x with the baseline at y, cut with an ellipsis to
// be no wider than width, and returns the width that it has.
func (s *sheet) text(x, y, width float64, st style, text string) float64 {
	if !s.finite(x, y, width, st.size) || st.size <= 0 {
		return 0
	}
	text = s.fonts.fit(clean(text), st.bold, width/(st.size*pt))
	at := x
	for _, p := range s.fonts.pieces(text, st.bold) {
		w := p.width * st.size * pt
		if p.face == nil {
			s.hollow(at, y, st.size*pt)
		} else {
			s.use(p.face, st.size)
			s.pdf.Text(at, y, p.text)
		}
		at += w
	}
	return at - x
}

// hollow draws the box for a character that no font has.
func (s *sheet) hollow(x, y, em float64) {
	s.pdf.SetLineWidth(0.05 * em)
	s.pdf.Rect(x+0.08*em, y-0.68*em, (boxWidth-0.16)*em, 0.68*em, "D")
}

// middle writes centred on x, right ending at x.
func (s *sheet) middle(x, y, width float64, st style, text string) {
	w := math.Min(s.width(text, st), width)
	s.text(x-w/2, y, width, st, text)
}

func (s *sheet) right(x, y, width float64, st style, text string) {
	text = s.fonts.fit(clean(text), st.bold, width/(st.size*pt))
	s.text(x-s.width(text, st), y, width+1e-6, st, text)
}

// use selects a font, which the document takes up when it is first needed.
func (s *sheet) use(f *face, size float64) {
	if f == s.face && size == s.size {
		return
	}
	if !s.added[f] {
		s.added[f] = true
		s.pdf.AddUTF8FontFromBytes(f.family, "", f.data)
	}
	s.pdf.SetFont(f.family, "", size)
	s.face, s.size = f, size
}

// paragraph writes lines of at most the width, the first with its baseline at
// y, and returns the baseline after the last.
func (s *sheet) paragraph(x, y, width, leading float64, st style, text string) float64 {
	for _, line := range s.fonts.wrap(clean(text), st.bold, width/(st.size*pt)) {
		s.text(x, y, width, st, line)
		y += leading
	}
	return y
}

// lines counts those of a paragraph.
func (s *sheet) lines(width float64, st style, text string) int {
	return len(s.fonts.wrap(clean(text), st.bold, width/(st.size*pt)))
}

// rule draws a line.
func (s *sheet) rule(x1, y1, x2, y2, thick float64) {
	if s.finite(x1, y1, x2, y2) {
		s.pdf.SetLineWidth(thick)
		s.pdf.Line(x1, y1, x2, y2)
	}
}

// frame draws the sides of a rectangle, fill its ground.
func (s *sheet) frame(r Rect, thick float64) {
	if s.finite(r.X, r.Y, r.Width, r.Height) {
		s.pdf.SetLineWidth(thick)
		s.pdf.Rect(r.X, r.Y, r.Width, r.Height, "D")
	}
}

func (s *sheet) fill(r Rect) {
	if s.finite(r.X, r.Y, r.Width, r.Height) {
		s.pdf.Rect(r.X, r.Y, r.Width, r.Height, "F")
	}
}

// disc draws a filled circle, ring its outline.
func (s *sheet) disc(x, y, r float64) {
	if s.finite(x, y, r) {
		s.pdf.Circle(x, y, r, "F")
	}
}

func (s *sheet) ring(x, y, r, thick float64) {
	if s.finite(x, y, r) {
		s.pdf.SetLineWidth(thick)
		s.pdf.Circle(x, y, r, "D")
	}
}

// path draws lines or rings: how is "D" for their lines or "f*" for the ground
// between them by the even-odd rule. Places nearer than a hair to the one before
// are left out.
func (s *sheet) path(lines []orb.LineString, closed bool, thick float64, how string) {
	const hair = 0.04
	drawn := false
	for _, l := range lines {
		if len(l) < 2 {
			continue
		}
		last := l[0]
		if !s.finite(last[0], last[1]) {
			return
		}
		if !drawn {
			s.pdf.SetLineWidth(thick)
			drawn = true
		}
		s.pdf.MoveTo(last[0], last[1])
		for i, p := range l[1:] {
			if !s.finite(p[0], p[1]) {
				return
			}
			if i < len(l)-2 && math.Hypot(p[0]-last[0], p[1]-last[1]) < hair {
				continue
			}
			s.pdf.LineTo(p[0], p[1])
			last = p
		}
		if closed {
			s.pdf.ClosePath()
		}
	}
	if drawn {
		s.pdf.DrawPath(how)
	}
}

// blank writes a word with a line after it to fill in, from x to the end.
func (s *sheet) blank(x, y, end float64, st style, word string) {
	w := s.text(x, y, end-x, st, word)
	if from := x + w + 1; from < end {
		s.rule(from, y+0.4, end, y+0.4, 0.2)
	}
}

// given writes a word with what is known, or with a line to fill in.
func (s *sheet) given(x, y, end float64, st style, word, value string) {
	if value == "" {
		s.blank(x, y, end, st, word)
		return
	}
	w := s.text(x, y, end-x, st, word) + 0.3*st.size*pt
	s.text(x+w, y, end-x-w, style{st.size, true}, value)
}

// tick draws a box to tick with its lower left corner at x, y.
func (s *sheet) tick(x, y, side float64) { s.frame(Rect{x, y - side, side, side}, 0.3) }

// foot writes the line at the bottom of a page.
func (s *sheet) foot(margin float64, hash string, page, of int) {
	st := style{7, false}
	y := s.paper.Height - margin
	s.text(margin, y, s.paper.Width/2, st, "corewalk, plan "+hash)
	s.right(s.paper.Width-margin, y, s.paper.Width/2, st, fmt.Sprintf("page %d of %d", page, of))
}
