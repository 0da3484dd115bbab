package kit

import (
	"fmt"
	"image"
	"strings"

	"github.com/boombuler/barcode/qr"
)

// quiet is the blank margin of a QR code in modules (ISO/IEC 18004 asks for 4).
const quiet = 4

// longestID keeps QR codes coarse enough to print; ids of a plan have some six
// characters.
const longestID = 40

// symbol is a QR code: its modules on a side, quiet zone included, and the dark
// ground as rectangles of modules.
type symbol struct {
	side int
	dark []image.Rectangle
}

// LabelCode is what the QR code of a sample holds: its id and the hash of the
// plan, upper case, which the code's alphanumeric mode takes.
func LabelCode(id, hash string) string { return strings.ToUpper(id + " " + hash) }

// newSymbol encodes a text with error correction level M.
func newSymbol(text string) (symbol, error) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		// Its own message holds the whole text.
		return symbol{}, fmt.Errorf("%.20q cannot be written as a QR code", text)
	}
	n := code.Bounds().Dx()
	isDark := func(x, y int) bool {
		r, _, _, _ := code.At(x, y).RGBA()
		return r < 0x8000
	}
	s := symbol{side: n + 2*quiet}
	// A run of dark modules is drawn as one rectangle, together with the same run
	// in the rows below.
	open := map[[2]int]int{} // run -> index of its rectangle
	for y := range n {
		next := map[[2]int]int{}
		for x := 0; x < n; x++ {
			if !isDark(x, y) {
				continue
			}
			from := x
			for x < n && isDark(x, y) {
				x++
			}
			run := [2]int{from, x}
			i, goesOn := open[run]
			if goesOn {
				s.dark[i].Max.Y++
			} else {
				i = len(s.dark)
				s.dark = append(s.dark, image.Rect(from+quiet, y+quiet, x+quiet, y+quiet+1))
			}
			next[run] = i
		}
		open = next
	}
	return s, nil
}

// symbol draws a QR code; x and y are the corner of its quiet zone.
func (s *sheet) symbol(q symbol, x, y, module float64) {
	// Rectangles that meet overlap by a hair, so that no light shows between.
	const hair = 0.01
	for _, d := range q.dark {
		s.fill(Rect{x + float64(d.Min.X)*module, y + float64(d.Min.Y)*module, float64(d.Dx())*module + hair, float64(d.Dy())*module + hair})
	}
}
