package raster

import (
	"errors"
	"fmt"
	"math"
)

// MaxPixels is the largest number of pixels that this package makes, writes
// or reads, counted once for each band: one gibibyte of values.
const MaxPixels = 1 << 28

// maxBands is the largest number of bands that a TIFF can count.
const maxBands = math.MaxUint16

// snap is the part of a pixel by which a bound may stick out of the raster that
// covers it. Without it, a bound that was meant to lie on a pixel edge would
// cost a further row or column when its division is not exact.
const snap = 1e-6

// Cover returns the smallest raster of the given pixel side in metres that
// covers bound, which is west, south, east, north in metres of the projected
// system epsg. The edges of its pixels lie on whole multiples of pixel, so that
// rasters of neighbouring fields with the same pixel line up. A bound may stick
// out by a millionth of a pixel. A bound without width or height still gets one
// column or row. A bound that is upside down or not finite, a pixel that is not
// above 0 and a raster of more than MaxPixels are errors.
func Cover(bound [4]float64, pixel float64, epsg int) (Geometry, error) {
	if !(pixel > 0) || math.IsInf(pixel, 0) {
		return Geometry{}, fmt.Errorf("pixel side %g m: give a side above 0, such as 5 m", pixel)
	}
	for i, v := range bound {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Geometry{}, fmt.Errorf("%s edge of the area is %g: it must be a number of metres", [4]string{"west", "south", "east", "north"}[i], v)
		}
	}
	west, south, east, north := bound[0], bound[1], bound[2], bound[3]
	if west > east || south > north {
		return Geometry{}, fmt.Errorf("area from (%g, %g) to (%g, %g) is upside down: give west, south, east, north", west, south, east, north)
	}
	left, width := span(west, east, pixel)
	bottom, height := span(south, north, pixel)
	if width*height > MaxPixels {
		return Geometry{}, fmt.Errorf("pixels of %g m make %.0f columns by %.0f rows, above the limit of %d pixels: use a pixel of %g m or more",
			pixel, width, height, MaxPixels, roomyPixel(bound, pixel))
	}
	// Beyond this the whole multiples are no longer exact, and rasters would
	// not line up.
	if max(math.Abs(left), math.Abs(left+width), math.Abs(bottom), math.Abs(bottom+height)) > 1<<51 {
		return Geometry{}, fmt.Errorf("area from (%g, %g) lies too far from the origin for a pixel of %g m: use a larger pixel", west, south, pixel)
	}
	g := Geometry{
		West: left * pixel, North: (bottom + height) * pixel, Pixel: pixel,
		Width: int(width), Height: int(height), EPSG: epsg,
	}
	return g, g.check()
}

// span returns the first whole multiple of pixel and how many pixels it takes
// from there to cover lo to hi.
func span(lo, hi, pixel float64) (first, count float64) {
	first = math.Floor(lo/pixel + snap)
	return first, max(1, math.Ceil(hi/pixel-snap)-first)
}

// roomyPixel returns the smallest side of the form 1, 2 or 5 times a power of
// ten with which bound is covered by no more than MaxPixels.
func roomyPixel(bound [4]float64, pixel float64) float64 {
	for exp := math.Floor(math.Log10(pixel)); ; exp++ {
		for _, m := range [3]float64{1, 2, 5} {
			p := m * math.Pow(10, exp)
			_, w := span(bound[0], bound[2], p)
			_, h := span(bound[1], bound[3], p)
			if p > pixel && w*h <= MaxPixels || math.IsInf(p, 0) {
				return p
			}
		}
	}
}

// Cell returns the pixel that holds the point x, y in metres. A pixel holds its
// west and its north edge, but not its east and south ones. ok is false, and
// the pixel 0, 0, for a point outside the raster or one that is not a number.
func (g Geometry) Cell(x, y float64) (col, row int, ok bool) {
	c := math.Floor((x - g.West) / g.Pixel)
	r := math.Floor((g.North - y) / g.Pixel)
	if !(c >= 0 && c < float64(g.Width) && r >= 0 && r < float64(g.Height)) {
		return 0, 0, false
	}
	return int(c), int(r), true
}

// check returns an error when no file can hold a raster of this geometry.
func (g Geometry) check() error {
	if g.Width <= 0 || g.Height <= 0 {
		return fmt.Errorf("raster of %d columns and %d rows: both must be above 0", g.Width, g.Height)
	}
	if g.Width > MaxPixels/g.Height {
		return fmt.Errorf("raster of %d columns and %d rows is above the limit of %d pixels: use larger pixels", g.Width, g.Height, MaxPixels)
	}
	if !(g.Pixel > 0) || math.IsInf(g.Pixel, 0) {
		return fmt.Errorf("raster with a pixel side of %g m: it must be above 0", g.Pixel)
	}
	if math.IsNaN(g.West) || math.IsInf(g.West, 0) || math.IsNaN(g.North) || math.IsInf(g.North, 0) {
		return fmt.Errorf("raster with its corner at %g, %g m: both must be numbers", g.West, g.North)
	}
	if g.EPSG < minEPSG || g.EPSG > maxEPSG {
		return fmt.Errorf("raster in the system EPSG:%d: a GeoTIFF can name the codes %d to %d only", g.EPSG, minEPSG, maxEPSG)
	}
	return nil
}

// The codes that a GeoTIFF key can hold for a system of the EPSG register; 32767
// means a system described in full. OGC GeoTIFF Standard 1.1 (19-008r4),
// requirements class ProjectedCRSGeoKey.
const (
	minEPSG = 1024
	maxEPSG = 32766
)

// check returns an error when the grid cannot be written: a geometry that no
// file can hold, too few or too many values, a value that is not finite, or a
// name or unit that is no plain text.
func (g *Grid) check() error {
	if g == nil {
		return errors.New("no raster given")
	}
	if err := g.Geometry.check(); err != nil {
		return err
	}
	pixels, bands := g.Width*g.Height, g.bandCount()
	if bands > maxBands || pixels > MaxPixels/bands {
		return fmt.Errorf("raster of %d columns, %d rows and %d bands is above the limit of %d bands or %d values: use larger pixels", g.Width, g.Height, bands, maxBands, MaxPixels)
	}
	for i := range bands {
		if err := g.band(i).check(i, g.Width, g.Height); err != nil {
			return err
		}
	}
	return nil
}

func (b Band) check(i, width, height int) error {
	where := "the raster"
	if i > 0 {
		where = fmt.Sprintf("band %d of the raster", i+1)
	}
	if len(b.Data) != width*height {
		return fmt.Errorf("%s, of %d columns and %d rows, holds %d values: it needs %d", where, width, height, len(b.Data), width*height)
	}
	for i, v := range b.Data {
		if v-v != 0 { // NaN for NaN and for both infinities
			return fmt.Errorf("value %g at column %d, row %d of %s: write %g where there is no value", v, i%width, i/width, where, NoData)
		}
	}
	return b.checkTexts(i)
}
