package report

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html/template"
	"image"
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

// gridRange returns the least and greatest value of a grid, and NaN for both
// where it has none.
func gridRange(g *raster.Grid) (lo, hi float64) {
	lo, hi = math.NaN(), math.NaN()
	for _, f := range g.Data {
		if v := float64(f); f != raster.NoData && finite(v) {
			if !(v >= lo) {
				lo = v
			}
			if !(v <= hi) {
				hi = v
			}
		}
	}
	return lo, hi
}

// coarser returns the grid itself, or one of at most side pixels a side whose
// pixels are means over whole blocks of it. A block of which less than half has
// values has none.
func coarser(g *raster.Grid, side int) *raster.Grid {
	k := (max(g.Width, g.Height) + side - 1) / side
	if k <= 1 {
		return g
	}
	out := raster.New(raster.Geometry{
		West: g.West, North: g.North, Pixel: g.Pixel * float64(k),
		Width: (g.Width + k - 1) / k, Height: (g.Height + k - 1) / k, EPSG: g.EPSG,
	})
	for row := range out.Height {
		for col := range out.Width {
			sum, n, all := 0.0, 0, 0
			for r := row * k; r < min((row+1)*k, g.Height); r++ {
				for _, f := range g.Data[r*g.Width+col*k : r*g.Width+min((col+1)*k, g.Width)] {
					all++
					if v := float64(f); f != raster.NoData && finite(v) {
						sum += v
						n++
					}
				}
			}
			if 2*n >= all && n > 0 {
				out.Data[row*out.Width+col] = float32(sum / float64(n))
			}
		}
	}
	return out
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
	if err := encoder.Encode(&b, paletted(raster.Picture(stepped, ramp, lo, hi))); err != nil {
		return "", fmt.Errorf("picture of a surface: %w", err)
	}
	return template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(b.Bytes())), nil
}

// paletted returns img with its colours in a table, and img itself where they
// are too many for one.
func paletted(img *image.NRGBA) image.Image {
	out := image.NewPaletted(img.Rect, color.Palette{color.NRGBA{}})
	index := map[color.NRGBA]uint8{{}: 0}
	for i := range out.Pix {
		c := color.NRGBA{R: img.Pix[4*i], G: img.Pix[4*i+1], B: img.Pix[4*i+2], A: img.Pix[4*i+3]}
		n, ok := index[c]
		if !ok {
			if len(out.Palette) == 256 {
				return img
			}
			n = uint8(len(out.Palette))
			index[c] = n
			out.Palette = append(out.Palette, c)
		}
		out.Pix[i] = n
	}
	return out
}

// hex writes a colour for an attribute.
func hex(c color.NRGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
