package kit

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	mplus "github.com/hajimehoshi/ebiten/v2/examples/resources/fonts"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/goregular"
)

func nan() float64 { return math.NaN() }

func TestFitCutsWithAnEllipsis(t *testing.T) {
	f := fonts(t)
	for _, text := range []string{"", "a", "Home Ground", "Łąka", "畑の名前", "e\u0301e\u0301e\u0301e\u0301", "🌱🌱🌱", long} {
		whole := f.width(text, true)
		for ems := -1.0; ems < whole+2; ems += 0.21 {
			got := f.fit(text, true, ems)
			switch {
			case !utf8.ValidString(got):
				t.Errorf("%q in %.2f ems: %q is cut within a character", text, ems, got)
			case ems >= whole && got != text:
				t.Errorf("%q in %.2f ems: %q", text, ems, got)
			case ems < whole && got != "" && (!strings.HasSuffix(got, "…") || !strings.HasPrefix(text, strings.TrimSuffix(got, "…"))):
				t.Errorf("%q in %.2f ems: %q", text, ems, got)
			case f.width(got, true) > math.Max(ems, 0)+1e-9:
				t.Errorf("%q in %.2f ems: %q is %.2f wide", text, ems, got, f.width(got, true))
			}
			if strings.HasSuffix(got, "e…") && strings.HasPrefix(text, "e\u0301") {
				t.Errorf("%q in %.2f ems: an accent is lost in %q", text, ems, got)
			}
		}
	}
	if got := f.fit("Home", false, nan()); got != "" {
		t.Errorf("no width: %q", got)
	}
}

func TestWrap(t *testing.T) {
	f := fonts(t)
	for _, ems := range []float64{3, 8, 30} {
		lines := f.wrap(long, false, ems)
		for _, l := range lines {
			if f.width(l, false) > ems {
				t.Errorf("%q is wider than %g ems", l, ems)
			}
		}
		if ems == 30 && strings.Join(lines, " ") != long {
			t.Errorf("%q", lines)
		}
	}
}

func TestClean(t *testing.T) {
	for in, want := range map[string]string{
		"plain": "plain", " two\n lines\t": "two lines", "a\x00b": "ab", "\u202eabc": "abc", "\xff": "\uFFFD", "L\u0328": "L\u0328", "a\u0308": "ä", "": "",
	} {
		if got := clean(in); got != want {
			t.Errorf("%q gives %q, want %q", in, got, want)
		}
	}
}

// Every character comes from the first font of the chain that has it.
func TestChainOfFonts(t *testing.T) {
	f := fonts(t)
	var got []string
	for _, p := range f.pieces("Łąka 畑 \u0e01!", true) {
		name := "box"
		if p.face != nil {
			name = p.face.family
		}
		got = append(got, name)
	}
	if want := "gobold mplus gobold box gobold"; strings.Join(got, " ") != want {
		t.Errorf("fonts %v, want %s", got, want)
	}
	f.Check("\u0e01\u0e01", "field A")
	f.Check("\u0e01 ok", "field B")
	f.Check("🌱", "field C")
	// What was drawn before it was looked at is not told again.
	if n := f.Notices(); len(n) != 1 || n[0] != `no font at hand has the character '🌱' (U+1F331) of field C; give --font FILE` {
		t.Errorf("notices %q", n)
	}
}

// Fonts of folders are looked for in the same order each time, and what is
// broken there is passed over.
func TestFontsOfFolders(t *testing.T) {
	dir := t.TempDir()
	put := func(name string, data []byte) {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	put("z/plain.ttf", mplus.MPlus1pRegular_ttf)
	put("a/bold.TTF", mplus.MPlus1pRegular_ttf)
	put("a/broken.ttf", mplus.MPlus1pRegular_ttf[:9000])
	put("a/text.ttf", []byte("no font"))
	put("b.otf", mplus.MPlus1pRegular_ttf)
	files := fontFiles([]string{filepath.Join(dir, "none"), dir})
	var names []string
	for _, p := range files {
		names = append(names, filepath.Base(p))
	}
	if want := "broken.ttf text.ttf plain.ttf bold.TTF"; strings.Join(names, " ") != want {
		t.Errorf("files %v, want %s", names, want)
	}
	f, err := NewFonts(FontOptions{Folders: []string{dir}})
	if err != nil {
		t.Fatal(err)
	}
	f.more = nil // as if no font of the program had it
	f.Check("畑", "field A")
	if len(f.more) != 1 || len(f.Notices()) != 0 {
		t.Errorf("%d fonts, notices %q", len(f.more), f.Notices())
	}
	f.Check("\u0e01", "field A")
	if len(f.more) != 1 || len(f.Notices()) != 1 {
		t.Errorf("%d fonts, notices %q", len(f.more), f.Notices())
	}
}

// A font that is none, or is broken, is refused in one line.
func TestFontsRefuse(t *testing.T) {
	good := goitalic.TTF
	cases := map[string][]byte{
		"empty": {}, "text": []byte("this is not a font at all"), "collection": []byte("ttcf\x00\x01\x00\x00\x00\x00\x00\x00"),
		"postscript": []byte("OTTO\x00\x01\x00\x00\x00\x00\x00\x00"), "half": good[:len(good)/2], "head alone": good[:300],
	}
	for name, data := range cases {
		_, err := NewFonts(FontOptions{Name: "f.ttf", Data: data})
		if err == nil || !strings.HasPrefix(err.Error(), "f.ttf cannot be used as a font") || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", name, err)
		}
	}
	// Whatever the bytes, no panic: each table overwritten in turn.
	for i := range int(good[5]) {
		for _, with := range []byte{0, 0x7f, 0xff} {
			data := bytes.Clone(good)
			from := int(be32(data[12+16*i+8:]))
			for k := from; k < min(from+64, len(data)); k++ {
				data[k] = with
			}
			f, err := NewFonts(FontOptions{Name: "f.ttf", Data: data})
			if err != nil {
				continue
			}
			f.regular, f.bold, f.more = f.more[1], f.more[1], nil
			_ = packet(t, plan(t, oneUnit(), home())).Labels(&bytes.Buffer{}, Paperwork{Labels: sheetOf(A4(), 2, 5), Fonts: f})
		}
	}
}

// A font that leads the writer of PDFs in circles is refused.
func TestFontsInCircles(t *testing.T) {
	table := func(data []byte, name string) []byte {
		for i := range int(data[5]) {
			if e := data[12+16*i:]; string(e[:4]) == name {
				return data[be32(e[8:]) : be32(e[8:])+be32(e[12:])]
			}
		}
		t.Fatal("no table", name)
		return nil
	}
	data := bytes.Clone(goitalic.TTF)
	loca, glyf := table(data, "loca"), table(data, "glyf")
	long := table(data, "head")[51] == 1
	at := func(i int) int {
		if long {
			return int(be32(loca[4*i:]))
		}
		return 2 * (int(loca[2*i])<<8 | int(loca[2*i+1]))
	}
	// The first outline with room enough becomes one that is made of itself.
	for i := range 100 {
		if o := glyf[at(i):at(i+1)]; len(o) >= 18 {
			copy(o, []byte{0xff, 0xff, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0x01, 0, byte(i), 0, 0, 0, 0})
			break
		}
	}
	_, err := NewFonts(FontOptions{Name: "f.ttf", Data: data})
	if err == nil || !strings.Contains(err.Error(), "put together from itself") {
		t.Errorf("error %v", err)
	}
	for name, c := range map[string]struct {
		outline []byte
		parts   int
		ok      bool
	}{
		"none": {nil, 0, true}, "short": {make([]byte, 9), 0, false}, "plain": {make([]byte, 12), 0, true},
		"cut":  {[]byte{0xff, 0xff, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0x20, 0, 1, 0, 0}, 0, false},
		"two":  {[]byte{0xff, 0xff, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0x21, 0, 1, 0, 0, 0, 0, 0, 0x08, 0, 2, 0, 0, 0, 0}, 2, true},
		"edge": {[]byte{0xff, 0xff, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0x80, 0, 1, 0, 0}, 0, false},
	} {
		parts, ok := components(c.outline)
		if ok != c.ok || ok && len(parts) != c.parts {
			t.Errorf("%s: %v, %v", name, parts, ok)
		}
	}
	// Segments over each other would give the same characters again and again.
	segments := []byte{0, 4, 0, 32, 0, 0, 0, 4, 0, 0, 0, 0, 0, 0, 0, 90, 0, 99, 0, 0, 0, 65, 0, 70, 0, 0, 0, 0, 0, 0, 0, 0}
	if checkSegments(segments) == nil {
		t.Error("segments that overlap are taken")
	}
	segments[23] = 91
	if err := checkSegments(segments); err != nil {
		t.Error(err)
	}
}

func be32(b []byte) uint32 {
	return uint32(b[0])<<24 | uint32(b[1])<<16 | uint32(b[2])<<8 | uint32(b[3])
}

// The fonts of the program are shared and stay as they are.
func TestFontsAreNotWrittenTo(t *testing.T) {
	before := bytes.Clone(goregular.TTF)
	made(t, makers()["labels.pdf"], packet(t, foreignPlan(t)), work(t, A4(), 2, 5))
	if !bytes.Equal(before, goregular.TTF) {
		t.Error("the font was written to")
	}
}
