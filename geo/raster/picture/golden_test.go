package picture

import (
	"bytes"
	"flag"
	"image"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"testing"
)

var renew = flag.Bool("renew", false, "write the pictures in testdata anew")

// drawing is a map or a scatter.
type drawing interface {
	SVG(w io.Writer) error
	PNG(w io.Writer, width int) error
}

func drawings() map[string]drawing {
	return map[string]drawing{
		"surface": surfaceFixture(), "zones": zoneFixture(), "residuals": residualFixture(), "scatter": scatterFixture(),
	}
}

// The pictures must look as they did when somebody last looked at them, not be
// the same byte for byte: another Go may round a curve otherwise.
func TestPicturesLookTheSame(t *testing.T) {
	const width = 560
	for name, d := range drawings() {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			if err := d.PNG(&b, width); err != nil {
				t.Fatal(err)
			}
			file := filepath.Join("testdata", name+".png")
			if *renew {
				if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			stored, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			got, want := decode(t, b.Bytes()), decode(t, stored)
			if got.Bounds() != want.Bounds() {
				t.Fatalf("the picture is %v, was %v", got.Bounds(), want.Bounds())
			}
			mean, most := unlike(got, want)
			if mean > 0.05 || most > 64 {
				t.Errorf("channels differ by %.3f in the mean and by %d at most: look at it, and run with -renew if it is right", mean, most)
			}
			if blank, _ := unlike(got, image.NewUniform(image.White.C)); blank < 5 {
				t.Errorf("the picture is next to blank: %.2f from white", blank)
			}
		})
	}
}

func decode(t *testing.T, b []byte) image.Image {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// unlike returns the mean and the greatest difference of two pictures in a
// channel of 8 bits.
func unlike(a, b image.Image) (mean float64, most int) {
	r := a.Bounds()
	sum := 0
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			ar, ag, ab, _ := a.At(x, y).RGBA()
			br, bg, bb, _ := b.At(x, y).RGBA()
			for _, d := range [3]int{int(ar>>8) - int(br>>8), int(ag>>8) - int(bg>>8), int(ab>>8) - int(bb>>8)} {
				d = max(d, -d)
				sum += d
				most = max(most, d)
			}
		}
	}
	return float64(sum) / float64(3*r.Dx()*r.Dy()), most
}

func TestSameBytesEachTime(t *testing.T) {
	again := drawings()
	for name, d := range drawings() {
		write := func(d drawing) (svg, png []byte) {
			var s, p bytes.Buffer
			if err := d.SVG(&s); err != nil {
				t.Error(err)
			}
			if err := d.PNG(&p, 300); err != nil {
				t.Error(err)
			}
			return s.Bytes(), p.Bytes()
		}
		type both struct{ svg, png []byte }
		results := make(chan both)
		for range 4 {
			go func() { s, p := write(d); results <- both{s, p} }()
		}
		s, p := write(again[name])
		for range 4 {
			if r := <-results; !bytes.Equal(r.svg, s) || !bytes.Equal(r.png, p) {
				t.Errorf("%s: the same description gives other bytes", name)
			}
		}
	}
}

func TestWidth(t *testing.T) {
	m := zoneFixture()
	for width, want := range map[int]int{0: 1680, 200: 200, 333: 333, 199: -1, 6001: -1, -5: -1} {
		var b bytes.Buffer
		err := m.PNG(&b, width)
		if (err != nil) != (want < 0) {
			t.Errorf("width %d: error %v", width, err)
		}
		if err == nil {
			if got := decode(t, b.Bytes()).Bounds().Dx(); got != want {
				t.Errorf("width %d gives %d pixels, want %d", width, got, want)
			}
		} else if b.Len() > 0 {
			t.Errorf("width %d: %d bytes written beside the error", width, b.Len())
		}
	}
}

// broken takes no bytes.
type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

func TestWriterFails(t *testing.T) {
	for name, d := range drawings() {
		if d.SVG(broken{}) == nil || d.PNG(broken{}, 200) == nil {
			t.Errorf("%s: no error from a writer that takes nothing", name)
		}
	}
}
