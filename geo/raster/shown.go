package raster

import (
	"image"
	"image/color"
	"math"
)

// shown reports whether a pixel has a value that can be drawn.
func shown(f float32) bool { return f != NoData && f-f == 0 }

// Range returns the least and greatest value of the grid, and NaN for both where
// it has none. Values that are not finite do not count.
func (g *Grid) Range() (lo, hi float64) {
	lo, hi = math.NaN(), math.NaN()
	for _, f := range g.Data {
		if v := float64(f); shown(f) {
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

// Coarser returns the grid itself, or one of at most side pixels a side whose
// pixels are means over whole blocks of it. A block of which less than half has
// values has none.
func (g *Grid) Coarser(side int) *Grid {
	k := (max(g.Width, g.Height) + side - 1) / side
	if k <= 1 {
		return g
	}
	out := New(Geometry{
		West: g.West, North: g.North, Pixel: g.Pixel * float64(k),
		Width: (g.Width + k - 1) / k, Height: (g.Height + k - 1) / k, EPSG: g.EPSG,
	})
	for row := range out.Height {
		for col := range out.Width {
			sum, n, all := 0.0, 0, 0
			for r := row * k; r < min((row+1)*k, g.Height); r++ {
				for _, f := range g.Data[r*g.Width+col*k : r*g.Width+min((col+1)*k, g.Width)] {
					all++
					if shown(f) {
						sum += float64(f)
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

// Paletted returns img with its colours in a table, and img itself where they
// are too many for one.
func Paletted(img *image.NRGBA) image.Image {
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
