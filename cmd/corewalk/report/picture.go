package report

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html/template"
	"image/color"
	"image/png"
	"math"

	"corewalk/geo/raster"
)

// The longest side of an inlined picture, in pixels: so many for a page of few
// surfaces, and less for one of many, so that the page stays small enough for a
// browser.
const (
	longestSide  = 600
	shortestSide = 160
	fullSized    = 40 // surfaces up to which pictures are of full size
)

func pictureSide(surfaces int) int {
	if surfaces <= fullSized {
		return longestSide
	}
	return max(int(longestSide*math.Sqrt(float64(fullSized)/float64(surfaces))), shortestSide)
}

// shades is the number of colours in a picture. A picture of few colours is
// several times smaller as a file.
const shades = 128

// hasPicture tells whether a grid can be shown.
func hasPicture(g *raster.Grid) bool {
	return g != nil && g.Width > 0 && g.Height > 0 && g.Width <= raster.MaxPixels/g.Height &&
		len(g.Data) == g.Width*g.Height && g.Pixel > 0 && finite(g.Pixel) && finite(g.West) && finite(g.North)
}

// dataURI returns the grid as a picture that needs no file of its own.
func dataURI(g *raster.Grid, ramp raster.Ramp, lo, hi float64) (template.URL, error) {
	stepped := raster.New(g.Geometry)
	for i, f := range g.Data {
		v := float64(f)
		if f == raster.NoData || !finite(v) {
			continue
		}
		if hi > lo {
			v = lo + math.Round((v-lo)/(hi-lo)*(shades-1))/(shades-1)*(hi-lo)
		}
		stepped.Data[i] = float32(v)
	}
	var b bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.BestCompression}
	if err := encoder.Encode(&b, raster.Paletted(raster.Picture(stepped, ramp, lo, hi))); err != nil {
		return "", fmt.Errorf("picture of a surface: %w", err)
	}
	return template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(b.Bytes())), nil
}

// hex writes a colour for an attribute.
func hex(c color.NRGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
