package picture

import (
	"bytes"
	"encoding/base64"
	"encoding/xml"
	"fmt"
	"image/color"
	"image/png"
	"io"
	"math"
	"strconv"

	"corewalk/geo/raster"
)

// svgWriter gathers a document and the first error.
type svgWriter struct {
	b     bytes.Buffer
	faces *faces
	clips int
	err   error
}

func (s *scene) writeSVG(out io.Writer) error {
	w := &svgWriter{faces: s.faces}
	w.f(`<?xml version="1.0" encoding="UTF-8"?>`+"\n"+
		`<svg xmlns="http://www.w3.org/2000/svg" width="%[1]s" height="%[2]s" viewBox="0 0 %[1]s %[2]s" role="img"`+
		` font-family="Go, Arial, Helvetica, sans-serif">`+"\n", num(s.width), num(s.height))
	w.f("<title>%s</title>\n<desc>%s</desc>\n", escape(s.title), escape(s.desc))
	w.f(`<rect width="100%%" height="100%%" fill="#fff"/>` + "\n")
	for _, it := range s.items {
		it.svg(w)
	}
	w.f("</svg>\n")
	if w.err != nil {
		return w.err
	}
	if _, err := out.Write(w.b.Bytes()); err != nil {
		return fmt.Errorf("write the picture: %w", err)
	}
	return nil
}

func (w *svgWriter) f(format string, args ...any) { fmt.Fprintf(&w.b, format, args...) }

// num writes a length: a hundredth of a unit is finer than one sees.
func num(v float64) string {
	s := strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
	if s == "-0" {
		return "0"
	}
	return s
}

func escape(text string) string {
	var b bytes.Buffer
	if err := xml.EscapeText(&b, []byte(text)); err != nil {
		return "" // a bytes.Buffer takes everything
	}
	return b.String()
}

// paint returns the attributes for a colour.
func paint(what string, c color.NRGBA) string {
	if c.A == 0 {
		return fmt.Sprintf(` %s="none"`, what)
	}
	s := fmt.Sprintf(` %s="#%02x%02x%02x"`, what, c.R, c.G, c.B)
	if c.A < 255 {
		s += fmt.Sprintf(` %s-opacity="%s"`, what, num(float64(c.A)/255))
	}
	return s
}

func (w *svgWriter) path(runs [][]spot, closed bool) {
	w.f(` d="`)
	for _, r := range runs {
		for i, p := range r {
			switch i {
			case 0:
				w.b.WriteByte('M')
			case 1:
				w.b.WriteByte('L')
			default:
				w.b.WriteByte(' ')
			}
			w.b.WriteString(num(p.x))
			w.b.WriteByte(' ')
			w.b.WriteString(num(p.y))
		}
		if closed && len(r) > 0 {
			w.b.WriteByte('Z')
		}
	}
	w.f(`"`)
}

func (a area) svg(w *svgWriter) {
	w.f("<path%s", paint("fill", a.fill))
	w.path(a.runs, true)
	w.f("/>\n")
}

func (l line) svg(w *svgWriter) {
	w.f(`<path fill="none"%s stroke-width="%s" stroke-linejoin="round"`, paint("stroke", l.colour), num(l.width))
	for i, d := range l.dash {
		if i == 0 {
			w.f(` stroke-dasharray="%s`, num(d))
		} else {
			w.f(` %s`, num(d))
		}
	}
	if len(l.dash) > 0 {
		w.f(`"`)
	}
	w.path(l.runs, l.closed)
	w.f("/>\n")
}

func (d disc) svg(w *svgWriter) {
	w.f(`<circle cx="%s" cy="%s" r="%s"%s%s stroke-width="%s"`, num(d.at.x), num(d.at.y), num(d.r),
		paint("fill", d.fill), paint("stroke", d.edge), num(d.width))
	if d.tip == "" {
		w.f("/>\n")
		return
	}
	w.f("><title>%s</title></circle>\n", escape(d.tip))
}

func (t words) svg(w *svgWriter) {
	if t.halo > 0 {
		// A text of its own: not every program can paint the rim first.
		w.text(t, fmt.Sprintf(` aria-hidden="true"%s%s stroke-width="%s" stroke-linejoin="round"`,
			paint("fill", casing), paint("stroke", casing), num(t.halo)))
	}
	w.text(t, paint("fill", t.fill))
}

func (w *svgWriter) text(t words, colours string) {
	_, width, known := w.faces.letters(t.text, t.bold)
	w.f(`<text x="%s" y="%s" font-size="%s"%s`, num(t.at.x), num(t.at.y), num(t.size), colours)
	if t.bold {
		w.f(` font-weight="bold"`)
	}
	switch t.anchor {
	case middle:
		w.f(` text-anchor="middle"`)
	case right:
		w.f(` text-anchor="end"`)
	}
	// Whatever font there is, the line keeps the length it was laid out for.
	if known && width > 0 {
		w.f(` textLength="%s" lengthAdjust="spacingAndGlyphs"`, num(width*t.size))
	}
	w.f(">%s</text>\n", escape(t.text))
}

func (p pixels) svg(w *svgWriter) {
	var b bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.BestCompression}
	if err := encoder.Encode(&b, raster.Paletted(p.img)); err != nil {
		w.err = fmt.Errorf("picture of a grid: %w", err)
		return
	}
	clip := ""
	if len(p.clip) > 0 {
		w.clips++
		clip = fmt.Sprintf(` clip-path="url(#ground%d)"`, w.clips)
		w.f(`<clipPath id="ground%d"><path`, w.clips)
		w.path(p.clip, true)
		w.f("/></clipPath>\n")
	}
	// The clip stands round the image, whose own attributes some viewers read
	// in pixels of the image.
	w.f(`<g%s><image x="%s" y="%s" width="%s" height="%s" preserveAspectRatio="none" image-rendering="pixelated"`+
		` style="image-rendering:crisp-edges;image-rendering:pixelated" href="data:image/png;base64,%s"/></g>`+"\n",
		clip, num(p.at.x0), num(p.at.y0), num(p.at.x1-p.at.x0), num(p.at.y1-p.at.y0),
		base64.StdEncoding.EncodeToString(b.Bytes()))
}
