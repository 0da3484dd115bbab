package picture

import (
	"fmt"
	"math"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

// faces are the two fonts of a page.
type faces struct{ regular, bold *sfnt.Font }

var loadFaces = sync.OnceValues(func() (*faces, error) {
	regular, err := sfnt.Parse(goregular.TTF)
	if err != nil {
		return nil, fmt.Errorf("font of the picture: %w", err)
	}
	bold, err := sfnt.Parse(gobold.TTF)
	if err != nil {
		return nil, fmt.Errorf("font of the picture: %w", err)
	}
	return &faces{regular, bold}, nil
})

func (f *faces) font(bold bool) *sfnt.Font {
	if bold {
		return f.bold
	}
	return f.regular
}

// glyph is one letter to draw: its index and its place along the line, in units
// of the size.
type glyph struct {
	index sfnt.GlyphIndex
	x     float64
}

// letters sets a line of text and returns its glyphs and its width, in units of
// the size. Letters that the font lacks become a question mark in the room of
// the letter; known is false then.
func (f *faces) letters(text string, bold bool) (out []glyph, width float64, known bool) {
	var buf sfnt.Buffer
	face := f.font(bold)
	em := fixed.I(int(face.UnitsPerEm()))
	advance := func(g sfnt.GlyphIndex) float64 {
		a, err := face.GlyphAdvance(&buf, g, em, font.HintingNone)
		if err != nil {
			return 0
		}
		return float64(a) / float64(em)
	}
	known = true
	for _, r := range text {
		g, err := face.GlyphIndex(&buf, r)
		if err == nil && g != 0 {
			out = append(out, glyph{g, width})
			width += advance(g)
			continue
		}
		known = false
		if unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf) {
			continue // drawn on the letter before, or not at all
		}
		g, err = face.GlyphIndex(&buf, '?')
		if err != nil {
			continue
		}
		room := advance(g)
		// The scripts of east Asia, and pictographs, fill a square.
		if r >= 0x2e80 {
			out = append(out, glyph{g, width + (1-room)/2})
			width++
			continue
		}
		out = append(out, glyph{g, width})
		width += room
	}
	return out, width, known
}

// width returns the length of a line of text.
func (f *faces) width(text string, size float64, bold bool) float64 {
	_, w, _ := f.letters(text, bold)
	return w * size
}

// longestText is the number of letters beyond which a text is cut off.
const longestText = 2000

// clean makes any text fit to be drawn: one line, composed letters, no control
// characters, nothing that XML forbids.
func clean(text string) string {
	if len(text) > 8*longestText {
		text = text[:8*longestText]
	}
	text = strings.ToValidUTF8(text, "\ufffd")
	text = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r) || unicode.IsControl(r):
			return ' '
		case r&0xfffe == 0xfffe:
			return utf8.RuneError
		}
		return r
	}, norm.NFC.String(text))
	text = strings.Join(strings.Fields(text), " ")
	return cut(text, longestText)
}

// cut shortens text to n letters.
func cut(text string, n int) string {
	if utf8.RuneCountInString(text) <= n {
		return text
	}
	return strings.TrimRight(string([]rune(text)[:n-1]), " ") + "…"
}

// wrap breaks clean text into at most the given number of lines. What does not
// fit is cut off with dots.
func (f *faces) wrap(text string, size float64, bold bool, width float64, lines int) []string {
	var out []string
	current := ""
	fits := func(s string) bool { return f.width(s, size, bold) <= width }
	for _, word := range strings.Fields(text) {
		if current != "" && fits(current+" "+word) {
			current += " " + word
			continue
		}
		if current != "" {
			out = append(out, current)
		}
		current = word
		for !fits(current) && len(out) <= lines {
			head := f.head(current, size, bold, width)
			if head == current {
				break // a single letter wider than the line
			}
			out = append(out, head)
			current = current[len(head):]
		}
		if len(out) > lines {
			break
		}
	}
	if current != "" {
		out = append(out, current)
	}
	if len(out) > lines {
		out = out[:lines]
		last := out[lines-1]
		for last != "" && !fits(last+"…") {
			_, n := utf8.DecodeLastRuneInString(last)
			last = last[:len(last)-n]
		}
		out[lines-1] = strings.TrimRight(last, " ") + "…"
	}
	return out
}

// head returns as much of the word as fits, at least one letter.
func (f *faces) head(word string, size float64, bold bool, width float64) string {
	end := 0
	for i, r := range word {
		next := i + utf8.RuneLen(r)
		if end > 0 && f.width(word[:next], size, bold) > width {
			break
		}
		end = next
		if end > 4*longestText {
			break
		}
	}
	return word[:end]
}

// turn returns sine and cosine of a part of a full turn.
func turn(part float64) (sin, cos float64) { return math.Sincos(2 * math.Pi * part) }
