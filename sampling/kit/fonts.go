package kit

import (
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	// Only for its font M+ 1p (mplus-1p-regular.ttf: Latin, Greek, Cyrillic,
	// Japanese), whose licence lets anybody use, copy and embed it.
	mplus "github.com/hajimehoshi/ebiten/v2/examples/resources/fonts"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

// Limits of the search for fonts of the system.
const (
	mostFontFiles = 4000
	mostFontBytes = 64 << 20
)

// FontOptions say where characters may come from that the fonts of the program
// lack: a TrueType font by its content, and folders that are searched for more
// when neither has a character.
type FontOptions struct {
	Name    string // of the font, for messages
	Data    []byte // nil: none
	Folders []string
}

// Fonts finds a font for every character: the Go fonts, M+ 1p, the font that
// was given, then TrueType fonts in folders. What none of them has is drawn as
// a hollow box. Characters beyond U+FFFF count as such. It is not safe for
// several goroutines.
type Fonts struct {
	regular, bold *face
	more          []*face // in the order that they are asked in
	folders       []string
	searched      bool
	files         []string // of the folders, not yet looked into
	missing       map[rune]bool
	notices       []string
}

// face is one font file.
type face struct {
	family   string // its name in a document
	data     []byte
	font     *sfnt.Font
	buffer   sfnt.Buffer
	advances map[rune]float64 // in ems; below zero: it has no such character
}

// NewFonts prepares fonts. It fails where the font that is given cannot be used.
func NewFonts(o FontOptions) (*Fonts, error) {
	f := &Fonts{folders: o.Folders, missing: map[rune]bool{}}
	var err error
	if f.regular, err = newFace("go", goregular.TTF); err != nil {
		return nil, err
	}
	if f.bold, err = newFace("gobold", gobold.TTF); err != nil {
		return nil, err
	}
	japanese, err := newFace("mplus", mplus.MPlus1pRegular_ttf)
	if err != nil {
		return nil, err
	}
	f.more = []*face{japanese}
	if o.Data != nil {
		own, err := newFace("own", o.Data)
		if err == nil {
			err = own.tried()
		}
		if err != nil {
			return nil, fmt.Errorf("%s cannot be used as a font: %w; give a TrueType font, a .ttf file with outlines (glyf)", o.Name, err)
		}
		f.more = append(f.more, own)
	}
	return f, nil
}

func newFace(family string, data []byte) (*face, error) {
	if err := checkTrueType(data); err != nil {
		return nil, err
	}
	parsed, err := sfnt.Parse(data)
	if err != nil {
		return nil, err
	}
	if upem := parsed.UnitsPerEm(); upem < 16 || upem > 16384 {
		return nil, fmt.Errorf("its em has %d units", upem)
	}
	return &face{family: family, data: data, font: parsed, advances: map[rune]float64{}}, nil
}

// advance is the width of a character in ems, and false where the font lacks
// it.
func (f *face) advance(r rune) (float64, bool) {
	if a, known := f.advances[r]; known {
		return a, a >= 0
	}
	a := -1.0
	if r < 0x10000 {
		if i, err := f.font.GlyphIndex(&f.buffer, r); err == nil && i != 0 {
			upem := f.font.UnitsPerEm()
			if w, err := f.font.GlyphAdvance(&f.buffer, i, fixed.I(int(upem)), font.HintingNone); err == nil && w >= 0 {
				a = float64(w) / 64 / float64(upem)
			}
		}
	}
	f.advances[r] = a
	return a, a >= 0
}

// of returns the font of a character; nil where none has it.
func (f *Fonts) of(r rune, bold bool) *face {
	first := f.regular
	if bold {
		first = f.bold
	}
	if _, ok := first.advance(r); ok {
		return first
	}
	if f.missing[r] {
		return nil
	}
	for _, x := range f.more {
		if _, ok := x.advance(r); ok {
			return x
		}
	}
	if r < 0x10000 && r != unicode.ReplacementChar {
		if x := f.search(r); x != nil {
			f.more = append(f.more, x)
			return x
		}
	}
	f.missing[r] = true
	return nil
}

// search looks for a character in the fonts of the folders, plain ones first.
func (f *Fonts) search(r rune) *face {
	if !f.searched {
		f.searched = true
		f.files = fontFiles(f.folders)
	}
	for _, path := range f.files {
		if !fileHas(path, r) {
			continue
		}
		data, err := os.ReadFile(path)
		if err != nil {
			continue
		}
		x, err := newFace(fmt.Sprintf("more%d", len(f.more)), data)
		if err != nil {
			continue
		}
		if _, ok := x.advance(r); ok && x.tried() == nil {
			return x
		}
	}
	return nil
}

// fontFiles lists the TrueType files of folders in an order that is always the
// same: by folder, upright and regular ones first, then by path.
func fontFiles(folders []string) []string {
	var out []string
	for _, folder := range folders {
		var own []string
		// What cannot be read is passed over: this is a search for help.
		_ = filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
			if err != nil {
				return fs.SkipDir
			}
			if d.Type().IsRegular() && strings.EqualFold(filepath.Ext(path), ".ttf") {
				own = append(own, path)
			}
			if len(out)+len(own) >= mostFontFiles {
				return fs.SkipAll
			}
			return nil
		})
		slices.SortStableFunc(own, func(a, b string) int {
			if d := styled(a) - styled(b); d != 0 {
				return d
			}
			return strings.Compare(a, b)
		})
		out = append(out, own...)
	}
	return out
}

// styled is 0 for a font that is called neither bold nor slanted nor narrow.
func styled(path string) int {
	name := strings.ToLower(filepath.Base(path))
	for _, word := range []string{"bold", "italic", "oblique", "light", "thin", "black", "mono", "cond"} {
		if strings.Contains(name, word) {
			return 1
		}
	}
	return 0
}

// fileHas tells whether a font file has a character, reading little of it.
func fileHas(path string, r rune) bool {
	file, err := os.Open(path)
	if err != nil {
		return false
	}
	defer file.Close()
	if info, err := file.Stat(); err != nil || info.Size() > mostFontBytes {
		return false
	}
	parsed, err := sfnt.ParseReaderAt(file)
	if err != nil {
		return false
	}
	i, err := parsed.GlyphIndex(nil, r)
	return err == nil && i != 0
}

// Check notes the characters of a text that no font has. what says where the
// text stands, as in "field Home".
func (f *Fonts) Check(text, what string) {
	for _, r := range clean(text) {
		if f.missing[r] || f.of(r, false) != nil {
			continue
		}
		f.notices = append(f.notices, fmt.Sprintf("no font at hand has the character %q (%U) of %s; give --font FILE", r, r, what))
	}
}

// Notices are what Check found, each character once.
func (f *Fonts) Notices() []string { return f.notices }

// clean puts a text on one line: composed, without control characters and marks
// of direction, single spaces.
func clean(s string) string {
	plain := true
	for i := 0; i < len(s) && plain; i++ {
		plain = s[i] > ' ' && s[i] < 0x7f
	}
	if plain {
		return s
	}
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case unicode.Is(unicode.Cf, r) || unicode.IsControl(r):
			return -1
		}
		return r
	}, norm.NFC.String(strings.ToValidUTF8(s, "\uFFFD")))
	return strings.Join(strings.Fields(s), " ")
}

// piece is a part of a text in one font; face is nil for a hollow box.
type piece struct {
	face  *face
	text  string
	width float64 // ems
}

// boxWidth is that of the hollow box in ems.
const boxWidth = 0.6

func (f *Fonts) pieces(text string, bold bool) []piece {
	var out []piece
	for _, r := range text {
		x := f.of(r, bold)
		w := boxWidth
		if x != nil {
			w, _ = x.advance(r)
		}
		if n := len(out); n > 0 && out[n-1].face == x && x != nil {
			out[n-1].text += string(r)
			out[n-1].width += w
			continue
		}
		out = append(out, piece{x, string(r), w})
	}
	return out
}

func (f *Fonts) runeWidth(r rune, bold bool) float64 {
	if x := f.of(r, bold); x != nil {
		w, _ := x.advance(r)
		return w
	}
	return boxWidth
}

// width is that of a clean text in ems.
func (f *Fonts) width(text string, bold bool) float64 {
	w := 0.0
	for _, r := range text {
		w += f.runeWidth(r, bold)
	}
	return w
}

const ellipsis = "…"

// fit returns the text, or as much of its beginning with an ellipsis as is at
// most so many ems wide; nothing where not even that has room.
func (f *Fonts) fit(text string, bold bool, ems float64) string {
	if math.IsNaN(ems) {
		return ""
	}
	room := ems - f.width(ellipsis, bold)
	w, keep := 0.0, 0 // bytes that leave room for the ellipsis
	for i, r := range text {
		if w <= room && !unicode.Is(unicode.M, r) {
			keep = i
		}
		if w += f.runeWidth(r, bold); w > ems {
			if room < 0 {
				return ""
			}
			return strings.TrimRight(text[:keep], " ") + ellipsis
		}
	}
	return text
}

// wrap breaks a text into lines of at most so many ems; a word that is longer is
// cut.
func (f *Fonts) wrap(text string, bold bool, ems float64) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(text) {
		word = f.fit(word, bold, ems)
		if longer := strings.TrimSpace(line + " " + word); line == "" || f.width(longer, bold) <= ems {
			line = longer
			continue
		}
		out = append(out, line)
		line = word
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}
